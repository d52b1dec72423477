//! The few ways in which failures act.

use crate::scenario::sensor::{SensorKind, TiltOn};

/// When the readings of a sensor that a failure has hit really err.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// All the time.
    Always,
    /// While the sun shines.
    Sun,
    /// While dew or fog lies on a window that a clear sky cools.
    Dew,
    /// While it rains, or while it blows harder than the failure's `gust`.
    RainOrGust,
    /// While the door moves.
    DoorMoves,
}

/// What a failure changes of the scenario itself, for the whole season.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// Rain drops make short returns.
    RainDrops,
    /// The mower's shell is dark.
    DarkShell,
    /// Ultrasonic rangers don't correct for temperature.
    Uncompensated,
    /// The platform's zero drifts with temperature.
    LoadDrift,
    /// Ice binds the seal harder.
    Ice,
    /// Power cuts, as further faults.
    Power,
    /// Network outages, as further faults.
    Network,
    /// Sensors that fall silent or freeze, as further faults.
    DeadSensors,
    /// Status polls come late.
    SlowPolls,
    /// The mower returns from rain.
    RainReturn,
    /// Docking fails more often.
    Docking,
    /// Further visitors: a pet that likes it inside.
    Pet,
    /// Further visitors: wild animals.
    WildAnimals,
    /// Further visitors: people at work, children at play.
    People,
}

/// How a failure acts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// The readings of the sensors it hits err by its figures.
    Reading(When),
    /// The window grows dirty.
    Dirt,
    /// A share of arrivals gives a weak echo.
    Slanted,
    /// Zero tracking while the mower is parked.
    AutoZero,
    /// The load reading shakes after each docking.
    Chatter,
    /// A beam is blocked.
    Blocked,
    /// A web: short returns of rangers, beams blocked.
    Web,
    /// End switches bounce when a stroke leaves or reaches an end, and rattle in gusts.
    Bounce,
    /// The sensors it hits say nothing, all at once.
    Silent,
    /// The platform feels a mower that is not there.
    PhantomIn,
    /// The platform does not feel the mower that is there.
    PhantomOut,
    /// The end of a stroke is not seen.
    EndUnseen,
    /// The end switch moves with temperature.
    EndShift,
    /// Friction that the obstruction threshold does not expect, in the cold.
    ColdDrag,
    /// Wind that the obstruction threshold does not expect.
    WindTrip,
    /// The drive notices an obstacle late.
    SlowReaction,
    /// Inrush current counts as an obstacle.
    StartTrip,
    /// The next stroke runs into its end stop.
    Overrun,
    /// The controller starts anew at a motor start.
    ResetOnStroke,
    /// The controller starts anew while the mower passes.
    ResetInDoorway,
    /// The mower starts at odd times besides.
    OddStarts,
    /// Messages come late, out of order and twice, overtaken ones are believed, and clocks miss a change of time.
    Stale,
    /// The clock's windows are off.
    Prior,
    /// The mower arrives beside the middle.
    Sideways,
    /// The mower stops half on the platform.
    HalfOn,
    /// The mower leaves again at once.
    Redeparture,
    /// The mower stops in the doorway.
    StuckInDoorway,
    /// The mower leaves without saying so.
    SilentDeparture,
    /// Something lies in the doorway.
    Object,
    /// Something lies in the doorway that only the drive notices, and nothing limits the retries.
    Hunting,
    /// The controller is in manual.
    Manual,
    /// The scenario itself is different.
    Change(Change),
}

/// Which sensors a failure can hit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hits {
    /// It is not about sensors.
    Nothing,
    /// Optical rangers.
    Optical,
    /// Optical rangers and beams.
    OpticalOrBeam,
    /// Ultrasonic rangers.
    Ultrasonic,
    /// All rangers.
    Ranger,
    /// Platforms.
    Platform,
    /// Platforms of load cells.
    LoadCell,
    /// Tilt sensors on the panel.
    Panel,
    /// Beams.
    Beam,
    /// End switches.
    Switch,
    /// The mower's status.
    Status,
    /// The mower's status and clocks.
    Dated,
    /// Clocks.
    Clock,
    /// Rangers and platforms.
    Analogue,
    /// Platforms and the mower's status.
    Occupancy,
    /// Everything that has a wire: all but status and clock.
    Wired,
}

/// Sensors as failures tell them apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    /// An optical ranger of either kind.
    Optical,
    /// An ultrasonic ranger.
    Ultrasonic,
    /// A break beam.
    Beam,
    /// A platform of load cells.
    LoadCell,
    /// A tilt sensor under the platform.
    PlatformTilt,
    /// A tilt sensor on the panel.
    PanelTilt,
    /// An end switch.
    Switch,
    /// The mower's status.
    Status,
    /// A clock.
    Clock,
    /// Any other with a wire.
    Other,
}

impl Target {
    /// What a sensor is to a failure.
    pub fn of(kind: &SensorKind) -> Target {
        match kind {
            SensorKind::OpticalRange { .. } | SensorKind::PhotonRange { .. } => Target::Optical,
            SensorKind::UltrasonicRange { .. } => Target::Ultrasonic,
            SensorKind::BreakBeam { .. } => Target::Beam,
            SensorKind::PlatformLoad { .. } => Target::LoadCell,
            SensorKind::Tilt { on: TiltOn::Platform { .. } } => Target::PlatformTilt,
            SensorKind::Tilt { on: TiltOn::Panel } => Target::PanelTilt,
            SensorKind::EndSwitch { .. } => Target::Switch,
            SensorKind::Status { .. } => Target::Status,
            SensorKind::Clock { .. } => Target::Clock,
            SensorKind::RainGauge => Target::Other,
        }
    }

    /// The same of a sensor as it is written: its `kind`, and the `on` of a tilt sensor, which says what it is fixed to.
    pub fn written(kind: &str, on: Option<&str>) -> Target {
        match (kind, on) {
            ("optical range" | "photon range", _) => Target::Optical,
            ("ultrasonic range", _) => Target::Ultrasonic,
            ("break beam", _) => Target::Beam,
            ("platform load", _) => Target::LoadCell,
            ("tilt", Some("platform")) => Target::PlatformTilt,
            ("tilt", Some("panel")) => Target::PanelTilt,
            ("end switch", _) => Target::Switch,
            ("status", _) => Target::Status,
            ("clock", _) => Target::Clock,
            _ => Target::Other,
        }
    }
}

impl Hits {
    /// Whether a sensor of this kind can be hit.
    pub fn fits(self, kind: &SensorKind) -> bool {
        self.include(Target::of(kind))
    }

    /// Whether such a target is among them.
    pub fn include(self, target: Target) -> bool {
        let optical = target == Target::Optical;
        let ranger = optical || target == Target::Ultrasonic;
        let platform = matches!(target, Target::LoadCell | Target::PlatformTilt);
        match self {
            Hits::Nothing => false,
            Hits::Optical => optical,
            Hits::OpticalOrBeam => optical || target == Target::Beam,
            Hits::Ultrasonic => target == Target::Ultrasonic,
            Hits::Ranger => ranger,
            Hits::Platform => platform,
            Hits::LoadCell => target == Target::LoadCell,
            Hits::Panel => target == Target::PanelTilt,
            Hits::Beam => target == Target::Beam,
            Hits::Switch => target == Target::Switch,
            Hits::Status => target == Target::Status,
            Hits::Dated => matches!(target, Target::Status | Target::Clock),
            Hits::Clock => target == Target::Clock,
            Hits::Analogue => ranger || platform,
            Hits::Occupancy => platform || target == Target::Status,
            Hits::Wired => !matches!(target, Target::Status | Target::Clock),
        }
    }

    /// What it hits, in words.
    pub const fn words(self) -> &'static str {
        match self {
            Hits::Nothing => "no sensor",
            Hits::Optical => "optical rangers",
            Hits::OpticalOrBeam => "optical rangers and beams",
            Hits::Ultrasonic => "ultrasonic rangers",
            Hits::Ranger => "rangers",
            Hits::Platform => "platforms",
            Hits::LoadCell => "platforms of load cells",
            Hits::Panel => "tilt sensors on the panel",
            Hits::Beam => "beams",
            Hits::Switch => "end switches",
            Hits::Status => "status sensors",
            Hits::Dated => "status sensors and clocks",
            Hits::Clock => "clocks",
            Hits::Analogue => "rangers and platforms",
            Hits::Occupancy => "platforms and status sensors",
            Hits::Wired => "sensors with a wire",
        }
    }
}

/// Hours of the local day in which episodes begin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hours {
    /// Any.
    Any,
    /// From this hour on, up to that one, excluded; past midnight if the second is smaller.
    Between(usize, usize),
}

impl Hours {
    /// Relative rates by hour.
    pub fn rates(self) -> [f64; 24] {
        let Hours::Between(from, to) = self else { return [1.0; 24] };
        let mut rates = [0.0; 24];
        let mut hour = from;
        while hour != to {
            rates[hour] = 1.0;
            hour = (hour + 1) % 24;
        }
        rates
    }
}

/// How often a mode comes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Often {
    /// It is always there.
    Constant,
    /// It comes and goes.
    Episodes {
        /// Episodes per year of 365.25 days.
        per_year: f64,
        /// When they begin.
        hours: Hours,
    },
    /// On a share of occasions: arrivals, dockings, strokes.
    Occasions,
}
