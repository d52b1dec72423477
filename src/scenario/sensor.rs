//! `[[sensor]]`: what it sees, how it errs.

use crate::math::time::Span;

/// One sensor.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensor {
    /// Name.
    pub name: String,
    /// What it senses, with the figures only that kind has.
    pub kind: SensorKind,
    /// Time between samples; a whole number of microseconds.
    pub period: Span,
    /// Delay from sampling to the reading being available.
    pub latency: Span,
    /// How a reading errs.
    pub errors: Errors,
}

impl Sensor {
    /// Samples per day.
    pub fn samples_per_day(&self) -> f64 {
        86_400.0 / self.period.seconds()
    }

    /// Whether its readings change with the days.
    pub fn changes_with_days(&self) -> bool {
        let dirt = matches!(self.kind, SensorKind::PhotonRange { dirt_per_day, .. } if dirt_per_day > 0.0);
        dirt || self.errors.drift_per_day != 0.0 || self.errors.output_loss_per_year > 0.0
    }
}

/// Correlation time of a slow random drift whose scenario does not say it, s: frames, cables and amplifiers follow the weather of a day (common
/// practice).
pub const RANDOM_DRIFT_S: f64 = 6.0 * 3_600.0;

/// The shortest correlation time of such a drift, s.
pub const RANDOM_DRIFT_LEAST_S: f64 = 20.0;

/// How a reading errs; lengths in m for rangers, kg for load, degrees for tilt, mm/h for a rain gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Errors {
    /// Constant offset, in the reading's unit.
    pub bias: f64,
    /// Standard deviation of the noise at zero distance, in the reading's unit; positive for analogue kinds.
    pub noise: f64,
    /// Correlation of the noise of neighbouring samples, 0 to below 1; 0 if it is independent from sample to sample.
    pub noise_correlation: f64,
    /// Growth of that standard deviation with the reading, per unit of reading.
    pub noise_growth: f64,
    /// Drift with temperature, reading units per kelvin away from 20 degC.
    pub drift_per_k: f64,
    /// Drift with dirt, reading units per day since the season's start or the last cleaning.
    pub drift_per_day: f64,
    /// Standard deviation of a slow random drift, in the reading's unit; 0 if there is none.
    pub random_drift: f64,
    /// Correlation time of that drift, s.
    pub random_drift_s: f64,
    /// Days between cleanings; infinite if never.
    pub cleaned_every_days: f64,
    /// Step between readings; 0 for a continuous reading.
    pub resolution: f64,
    /// Probability that a sample gives no reading, 0 to 1.
    pub dropout: f64,
    /// The same in rain, at 10 mm/h and above; in between it grows in proportion to the intensity.
    pub dropout_rain: f64,
    /// Probability of a spurious reading in dry weather, 0 to 1.
    pub spurious: f64,
    /// Rain coefficient n_r: spurious probability rises by 1 - exp(-n_r R^1.2), R in mm/h.
    pub spurious_rain: f64,
    /// Probability of a spurious reading when the sun shines straight into the sensor at 100 klux.
    pub spurious_sun: f64,
    /// Share of its light's output that an optical ranger loses in a year, 0 to below 1.
    pub output_loss_per_year: f64,
    /// Its age when the season begins, days.
    pub age_days: f64,
}

impl Errors {
    /// A sensor that never errs.
    pub const NONE: Errors = Errors {
        bias: 0.0,
        noise: 0.0,
        noise_growth: 0.0,
        noise_correlation: 0.0,
        drift_per_k: 0.0,
        drift_per_day: 0.0,
        random_drift: 0.0,
        random_drift_s: RANDOM_DRIFT_S,
        cleaned_every_days: f64::INFINITY,
        resolution: 0.0,
        dropout: 0.0,
        dropout_rain: 0.0,
        spurious: 0.0,
        spurious_rain: 0.0,
        spurious_sun: 0.0,
        output_loss_per_year: 0.0,
        age_days: 0.0,
    };
}

/// Noise of the angle of an accelerometer, degrees: noise density in ug per root hertz, bandwidth in Hz (one pole, so that the
/// noise bandwidth is pi/2 times as much), number of readings averaged, and the angle from level (one axis by arc sine; 0
/// where two axes give the angle).
pub fn tilt_noise_deg(density_ug: f64, bandwidth_hz: f64, averages: f64, angle_deg: f64) -> f64 {
    let noise_g = 1e-6 * density_ug * libm::sqrt(std::f64::consts::FRAC_PI_2 * bandwidth_hz) / libm::sqrt(averages);
    noise_g.to_degrees() / libm::cos(angle_deg.to_radians())
}

/// Correlation of neighbouring samples of noise behind one pole of `bandwidth_hz`, taken every `period_s`: exp(-2 pi f T), the
/// autocorrelation of white noise after a first-order filter. Below a tenth, where run rules hardly mind, 0.
pub fn one_pole_correlation(bandwidth_hz: f64, period_s: f64) -> f64 {
    let correlation = libm::exp(-std::f64::consts::TAU * bandwidth_hz * period_s);
    if correlation < 0.1 { 0.0 } else { correlation }
}

/// Mounting of a sensor that looks somewhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aim {
    /// Position of the window: x, y, z in m.
    pub position_m: [f64; 3],
    /// Direction in the ground plane, degrees from +x (outward) towards +y.
    pub yaw_deg: f64,
    /// Elevation of the axis, degrees above the horizontal.
    pub pitch_deg: f64,
    /// Half of the full cone angle, degrees.
    pub half_cone_deg: f64,
    /// Shortest valid reading, m.
    pub nearest_m: f64,
    /// Longest valid reading of a well reflecting target in the dark, m.
    pub farthest_m: f64,
}

/// Depth of the shelter's front, from the door line inwards, m.
pub const FRONT_M: f64 = 0.01;

impl Aim {
    /// Whether it stands behind the door line and no higher than the door.
    pub fn is_inside(&self, door_height_m: f64) -> bool {
        self.position_m[0] < -FRONT_M && self.position_m[2] < door_height_m
    }

    /// Whether it looks out from inside.
    pub fn looks_through_door(&self, door_height_m: f64) -> bool {
        // Cosine of the angle to the door's axis from which on a view goes along the front rather than through it.
        const LEVEL: f64 = 1e-6;
        let outwards = libm::cos(self.yaw_deg.to_radians()) * libm::cos(self.pitch_deg.to_radians());
        self.is_inside(door_height_m) && outwards > LEVEL
    }
}

/// Kinds of sensor.
#[derive(Clone, Debug, PartialEq)]
pub enum SensorKind {
    /// Optical time-of-flight range, m.
    OpticalRange {
        /// Mounting.
        aim: Aim,
        /// Longest valid reading with the sun at 100 klux on the scene, m.
        farthest_sun_m: f64,
        /// Reading when nothing is in view: a wall or the ground, m; none gives "no reading".
        background_m: Option<f64>,
    },
    /// Optical time-of-flight range by the counts of photons, m. `noise` is its noise floor.
    PhotonRange {
        /// Mounting.
        aim: Aim,
        /// Figures of the module.
        photon: Photon,
        /// Wall or ground behind everything: distance, m, and reflectance.
        background: Option<(f64, f64)>,
        /// Dew on the window in dry nights, 0 to 1.
        dew: f64,
        /// Growth of the dirt on the window, 0 to 1, per day since the season's start or the last cleaning.
        dirt_per_day: f64,
    },
    /// Ultrasonic range, m.
    UltrasonicRange {
        /// Mounting.
        aim: Aim,
        /// Reading when nothing is in view, m; none gives "no reading".
        background_m: Option<f64>,
        /// Whether the reading is corrected for air temperature.
        compensated: bool,
    },
    /// Break beam between two points at one x and height; reading 1 when broken, 0 when clear.
    BreakBeam {
        /// Position along x, m.
        x_m: f64,
        /// Height, m.
        z_m: f64,
        /// From y, to y, m.
        span_m: (f64, f64),
        /// False breaks (insects, leaves) per hour, each of `false_break_s`.
        false_per_hour: f64,
        /// Mean length of a false break, s.
        false_break_s: f64,
    },
    /// Load on a platform inside, kg.
    PlatformLoad {
        /// From x, to x, m (both negative or zero).
        span_m: (f64, f64),
        /// Area that collects rain while the door is open, m2.
        area_m2: f64,
        /// Share of the collected water that has run off after an hour, 0 to 1.
        drained_per_hour: f64,
        /// How the reading creeps under a standing load.
        creep: Creep,
        /// How the platform swings when a wheel rolls onto it.
        spring: Platform,
    },
    /// Tilt angle, degrees.
    Tilt {
        /// What it is fixed to.
        on: TiltOn,
    },
    /// End switch of the door; reading 1 when made.
    EndSwitch {
        /// Which end.
        end: End,
    },
    /// Rain intensity, mm/h.
    RainGauge,
    /// The mower's own status over the network; reading: [`StatusCode`] as a number.
    Status {
        /// Time between polls, s; 0 for pushed messages.
        poll_s: f64,
        /// Probability that one message or poll is lost, 0 to 1.
        loss: f64,
        /// Median of the log-normal delay, s.
        delay_s: f64,
        /// Sigma of the logarithm of the delay.
        delay_spread: f64,
        /// Age beyond which the last message is no longer believed, s.
        stale_after_s: f64,
    },
    /// Local clock: reading 1 inside a mowing window (widened by `lead_s` before and `lag_s` after), 0 outside.
    Clock {
        /// Lead before the window, s.
        lead_s: f64,
        /// Lag after the window, s.
        lag_s: f64,
    },
}

impl SensorKind {
    /// Mounting of a ranger, which looks through a cone; none of other kinds.
    pub fn aim(&self) -> Option<&Aim> {
        match self {
            SensorKind::OpticalRange { aim, .. }
            | SensorKind::PhotonRange { aim, .. }
            | SensorKind::UltrasonicRange { aim, .. } => Some(aim),
            _ => None,
        }
    }

    /// Whether it is a ranger that looks out from inside a shelter with a door of this height, m, so that a shut door ends its view.
    pub fn looks_through_door(&self, door_height_m: f64) -> bool {
        self.aim().is_some_and(|aim| aim.looks_through_door(door_height_m))
    }
}

/// Creep of a load platform: how its reading goes on growing under a load that stands on it, and falls back after it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Creep {
    /// Growth within half an hour as a share of the load, 0 to 1; the time that OIML R 60 tests a load cell for.
    pub in_half_an_hour: f64,
    /// Time constant of its exponential course, s.
    pub time_s: f64,
}

impl Creep {
    /// A platform that does not creep.
    pub const NONE: Creep = Creep { in_half_an_hour: 0.0, time_s: 480.0 };
}

/// A platform as a damped spring, into which each wheel that drives on excites an oscillation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Platform {
    /// Natural frequency, Hz.
    pub frequency_hz: f64,
    /// Damping ratio, above 0 and below 1.
    pub damping: f64,
    /// First swing as a share of the wheel's load; 0 for none.
    pub swing: f64,
}

impl Platform {
    /// A platform that takes a wheel's load at once.
    pub const STIFF: Platform = Platform { frequency_hz: 12.0, damping: 0.08, swing: 0.0 };
}

/// What a tilt sensor is fixed to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TiltOn {
    /// The door panel.
    Panel,
    /// A platform that tips by this many degrees per kilogram.
    Platform {
        /// Tilt per load, degrees per kg.
        deg_per_kg: f64,
        /// From x, to x, m.
        span_m: (f64, f64),
    },
}

/// An end of the door's travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// Fully shut.
    Shut,
    /// Fully open.
    Open,
}

/// What the mower says of itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StatusCode {
    /// In the dock.
    Docked = 0,
    /// About to leave.
    Leaving = 1,
    /// Mowing.
    Mowing = 2,
    /// On its way home.
    Returning = 3,
    /// In trouble, needs a person.
    Error = 4,
}

/// The figures of a photon-counting ranger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Photon {
    /// Signal counts of a sample from a target of reflectance 0.5 at 1 m that fills the cone.
    pub signal: f64,
    /// Counts of a sample in the dark.
    pub dark: f64,
    /// Ambient counts of a sample per klux.
    pub ambient_per_klux: f64,
    /// Crosstalk counts of a clean, dry glass, and those added by full dew.
    pub crosstalk: (f64, f64),
    /// Effective half width of the pulse, m.
    pub pulse_m: f64,
    /// Noise floor, m.
    pub floor_m: f64,
    /// Signal-to-noise ratio at which half of the readings are valid.
    pub ratio: f64,
    /// Where the crosstalk seems to come from, m.
    pub glass_m: f64,
    /// Length of the beam that is sheltered from rain, m.
    pub sheltered_m: f64,
}

/// A chip with a wide cone (27 degrees): signal and ambient light fitted to a published range of a common module, the
/// rest common practice.
pub const WIDE: Photon = Photon {
    signal: 700.0,
    dark: 200.0,
    ambient_per_klux: 305.0,
    crosstalk: (2.0, 300.0),
    glass_m: 0.02,
    pulse_m: 0.128,
    floor_m: 0.002,
    ratio: 5.0,
    sheltered_m: 0.0,
};

/// A module with a narrow beam (3.6 degrees); the ambient light scales with the solid angle; the rest common practice.
pub const NARROW: Photon = Photon {
    signal: 1500.0,
    dark: 100.0,
    ambient_per_klux: 8.0,
    crosstalk: (1.0, 150.0),
    glass_m: 0.05,
    pulse_m: 0.25,
    floor_m: 0.010,
    ratio: 5.0,
    sheltered_m: 0.0,
};

/// Share of the time for which a polled status is not believed, where an answer is believed for so many `intervals` between polls
/// and each poll is lost with probability `loss` (below 1).
///
/// From one answer to the next lie l + 1 intervals with probability p^l (1 - p); of these max(l + 1 - s, 0) are without belief.
/// The mean of that over the mean of l + 1 (renewal-reward theorem) is p^m ((m + 1 - s) (1 - p) + p) with m = floor(s).
pub fn share_unheard(intervals: f64, loss: f64) -> f64 {
    let whole = libm::floor(intervals);
    libm::pow(loss, whole) * ((whole + 1.0 - intervals) * (1.0 - loss) + loss)
}
