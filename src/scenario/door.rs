//! `[door]`, `[drive]`, `[supply]`: mechanism, actuator and power.

pub mod gear;
mod mechanism;
pub mod source;

pub use gear::{Drum, Gear, Motor, Screw};
pub use mechanism::{
    DoubleSlider, GasSpring, HorizontalSlide, Mechanism, PanelDrive, Rod, RollerCurtain, SideLeaf, Swing, TopFlap,
    VerticalLift,
};
pub use source::{Solar, Source};

/// Half the depth of the zone in which a body stands under the panel's edge, m (common practice: half of a thick panel with its
/// seal). Where the mower rests it must be out of it.
pub const EDGE_ZONE_M: f64 = 0.02;

/// The door: the opening, the panel's guide, and what loads it.
#[derive(Clone, Debug, PartialEq)]
pub struct Door {
    /// Clear width of the opening, m.
    pub width_m: f64,
    /// Clear height of the opening, m.
    pub height_m: f64,
    /// Guide and balance.
    pub mechanism: Mechanism,
    /// Moving mass of the panel, kg.
    pub mass_kg: f64,
    /// Seal drag while moving, N.
    pub seal_n: f64,
    /// Length over which the seal is squeezed at the shut end, m.
    pub seal_zone_m: f64,
    /// Ratio of break-away to sliding friction, 1 to 3.
    pub breakaway: f64,
    /// Net wind pressure coefficient on the shut panel.
    pub wind_coefficient: f64,
    /// Extra force to break the ice at the seal after frost, N.
    pub ice_n: f64,
    /// Air temperature below which a wet seal freezes, degC.
    pub ice_below_c: f64,
    /// Stiffness of the closing edge (for contact force), N/m.
    pub edge_stiffness_n_m: f64,
    /// Peak contact force that the user wants kept, N.
    pub contact_force_limit_n: f64,
    /// Peak kinetic energy that the user wants kept, J.
    pub contact_energy_limit_j: f64,
}

/// The actuator: permanent-magnet DC motor with a fixed gear, described at the panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Drive {
    /// Nominal voltage of the catalogue figures, V.
    pub nominal_v: f64,
    /// No-load speed at the panel, m/s.
    pub no_load_speed_m_s: f64,
    /// Stall force at the panel, N.
    pub stall_force_n: f64,
    /// Rated (continuous) force, N.
    pub rated_force_n: f64,
    /// No-load current, A.
    pub no_load_current_a: f64,
    /// Stall current, A.
    pub stall_current_a: f64,
    /// Current limit of the driver, A; infinite if none.
    pub current_limit_a: f64,
    /// Whether the gear holds the panel without power.
    pub self_locking: bool,
    /// Whether it can push as well as pull (a rod can, a cord cannot).
    pub pushes: bool,
    /// Inertia of rotor and gear as seen at the panel, kg.
    pub reflected_mass_kg: f64,
    /// Rated cyclic duration factor, 0 to 1.
    pub duty_factor: f64,
    /// Reference period of the duty rating, s.
    pub duty_period_s: f64,
    /// Time over which the driver raises the voltage at a start, s; 0 switches it on at once.
    pub soft_start_s: f64,
    /// Where speed and force come from: given, or worked out from motor and gear.
    pub gear: Gear,
    /// Thermal model.
    pub heat: Heat,
    /// Wear.
    pub wear: Wear,
    /// Other parts that wear, in series with the drive: belt, bearings, brushes, switches, driver.
    pub parts: Vec<Part>,
}

/// A part that wears.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Name.
    pub name: String,
    /// Where its life comes from.
    pub rating: Rating,
    /// Weibull shape of the life.
    pub weibull_shape: f64,
}

/// Where a part's life comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rating {
    /// A maker states it.
    Stated {
        /// Strokes, at the drive's rated force.
        strokes: f64,
        /// Whether that is a mean life rather than one that nine in ten survive.
        mean: bool,
        /// Load-life exponent; 0 where the load does not matter (a switch).
        exponent: f64,
    },
    /// The nut of a sliding screw: its thread wears away.
    Nut {
        /// Wear factor, mm3/(N m).
        wear_mm3_n_m: f64,
        /// Lead of the screw, m.
        lead_m: f64,
        /// Mean diameter of the thread, m.
        mean_diameter_m: f64,
        /// Height on which the flanks bear, m.
        thread_m: f64,
        /// Engaged turns.
        turns: f64,
    },
    /// The contacts of a relay that switches the motor, once a stroke.
    Relay {
        /// Current of its rating, A.
        rated_a: f64,
        /// Exponent of operations over current.
        exponent: f64,
    },
}

/// Two-mass thermal network: winding and housing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heat {
    /// Thermal capacity of the winding, J/K.
    pub winding_j_k: f64,
    /// Thermal capacity of the housing, J/K.
    pub housing_j_k: f64,
    /// Resistance winding to housing, K/W.
    pub winding_housing_k_w: f64,
    /// Resistance housing to air, K/W.
    pub housing_air_k_w: f64,
    /// Winding temperature at which the thermal cut-out opens, degC.
    pub trips_at_c: f64,
    /// Winding temperature at which it closes again, degC.
    pub resets_at_c: f64,
}

/// Load-life of the drive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wear {
    /// Strokes (full, at the rated force) that 90 % of drives survive (B10).
    pub rated_strokes: f64,
    /// Load-life exponent.
    pub exponent: f64,
    /// Weibull shape of the life.
    pub weibull_shape: f64,
}

/// `[supply]`: what feeds the shelter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Supply {
    /// Voltage at the motor driver, V.
    pub voltage_v: f64,
    /// Resistance of the cable to the motor, ohm.
    pub cable_ohm: f64,
    /// Power the supply can give, W.
    pub limit_w: f64,
    /// Standby power of controller and sensors, W.
    pub standby_w: f64,
    /// Efficiency from the supply to the motor driver, 0 to 1.
    pub efficiency: f64,
    /// Energy that a buffer (capacitor) gives before the voltage falls too far, J; 0 for none.
    pub buffer_j: f64,
    /// Where the power comes from.
    pub source: Source,
}
