//! `[weather]`: an observed record, or a generator with monthly figures.

use std::path::PathBuf;

pub mod units;

use units::Units;

/// Twelve monthly values, January first. A single value in the scenario stands for all twelve.
pub type Monthly = [f64; 12];

/// Where a season's weather comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum Weather {
    /// Every season replays one observed record.
    Observed(Observed),
    /// Every season draws its own weather: rain in alternating spells.
    Generated(Generated),
    /// Every season draws its own weather: rain as clustered pulses, the other quantities tied to it.
    Pulses(Box<Pulses>),
}

/// An observed record: CSV with RFC 3339 times.
#[derive(Clone, Debug, PartialEq)]
pub struct Observed {
    /// The file, already resolved against the scenario's folder.
    pub file: PathBuf,
    /// The same as a scenario in the same folder would name it: what a printed scenario says, so that a result's
    /// bytes don't depend on where the scenario lies.
    pub named: String,
    /// What to do about hours without a record.
    pub gaps: Gaps,
    /// How the file is laid out.
    pub layout: Layout,
    /// Which moment of a step its time names.
    pub label: Label,
    /// Units of its columns.
    pub units: Units,
    /// What is done with the depth of a step longer than ten minutes.
    pub within_hour: WithinHour,
    /// The rain process by which depths are cut into showers, if one was fitted to the record.
    pub rain: Option<PulseYear>,
    /// Which years of the record a season plays.
    pub years: Years,
    /// Changes to the record.
    pub shift: Shift,
}

impl Observed {
    /// A file played as it is, with the defaults of the scenario.
    pub fn new(file: PathBuf, gaps: Gaps) -> Observed {
        Observed {
            named: file.to_string_lossy().into_owned(),
            file,
            gaps,
            layout: Layout::Detect,
            label: Label::Start,
            units: Units::default(),
            within_hour: WithinHour::Spells,
            rain: None,
            years: Years::Calendar,
            shift: Shift::NONE,
        }
    }
}

/// Layout of a weather file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Layout {
    /// Found from the file's first lines.
    #[default]
    Detect,
    /// CSV with the columns of this program.
    Csv,
    /// Typical meteorological year 3 (NREL).
    Tmy3,
    /// EnergyPlus weather.
    Epw,
}

/// Which moment of a step the file's time names. TMY3 and EPW files always name the end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Label {
    /// Its start.
    #[default]
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// What is done with the depth of an observed step longer than ten minutes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WithinHour {
    /// It falls in spells within the step that last as long as minute records say for its depth.
    #[default]
    Spells,
    /// It falls as in a like step of the rain process, however long that rains.
    Process,
    /// It falls evenly over the step.
    Even,
}

/// Which years of an observed record a season plays.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Years {
    /// The season's own year where the record has it, else its first year: every season the same weather.
    #[default]
    Calendar,
    /// A whole year of the record drawn for each season.
    Whole,
    /// A year of the record drawn for each calendar month of each season.
    Months,
}

/// Changes to the weather, for questions such as "a wetter site".
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// Factor on every rain intensity.
    pub rain: f64,
    /// Factor on the number of rain spells.
    pub spells: f64,
    /// Factor on wind and gusts.
    pub wind: f64,
    /// Added to temperature and dew point, K.
    pub warming_k: f64,
}

impl Shift {
    /// No change.
    pub const NONE: Shift = Shift { rain: 1.0, spells: 1.0, wind: 1.0, warming_k: 0.0 };
}

impl Default for Shift {
    fn default() -> Shift {
        Shift::NONE
    }
}

/// Handling of missing hours in an observed record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gaps {
    /// Refuse the file.
    Refuse,
    /// No rain; temperature and wind of the last hour before the gap.
    Dry,
    /// Repeat the same hour of the previous day.
    Repeat,
}

/// The generator: wet and dry spells that alternate, with monthly figures.
#[derive(Clone, Debug, PartialEq)]
pub struct Generated {
    /// Mean length of a wet spell, hours.
    pub wet_spell_h: Monthly,
    /// Mean length of a dry spell, hours.
    pub dry_spell_h: Monthly,
    /// Mean rain intensity within a wet spell, mm/h.
    pub intensity_mm_h: Monthly,
    /// Shape of the gamma law of the intensity, drawn anew every `intensity_step_h` within a spell.
    pub intensity_shape: f64,
    /// Length of a stretch of constant intensity, hours.
    pub intensity_step_h: f64,
    /// Mean air temperature, degC.
    pub temperature_c: Monthly,
    /// Half the mean daily swing (amplitude of the daily wave), K.
    pub temperature_swing_k: Monthly,
    /// Standard deviation of the slow random part, K.
    pub temperature_spread_k: Monthly,
    /// Time after which the random part's correlation has fallen to 1/e, hours.
    pub temperature_memory_h: f64,
    /// Mean wind speed, m/s.
    pub wind_m_s: Monthly,
    /// Weibull shape of the wind speed.
    pub wind_shape: f64,
    /// Time after which the wind's correlation has fallen to 1/e, hours.
    pub wind_memory_h: f64,
    /// Ratio of the gust (3 s) to the hourly mean wind.
    pub gust_factor: f64,
    /// Mean share of the clear-sky sunlight that reaches the ground while it does not rain, 0 to 1.2.
    pub clearness: Monthly,
    /// Standard deviation of that share, 0 to 0.5.
    pub clearness_spread: f64,
    /// Changes to all of these.
    pub shift: Shift,
}

/// The generator: rain as clustered rectangular pulses (Bartlett-Lewis process with a cell rate drawn per storm and
/// intensities tied to it).
#[derive(Clone, Debug, PartialEq)]
pub struct Pulses {
    /// The rain process, by month.
    pub rain: PulseYear,
    /// Everything else.
    pub air: Air,
    /// Changes to all of these.
    pub shift: Shift,
}

/// A rain process per month, January first.
pub type PulseYear = [PulseMonth; 12];

/// The rain process of one month. Letters as in the literature: Rodriguez-Iturbe, Cox & Isham 1988 (Proc. R. Soc. A
/// 417, 283-298) for the cell rate drawn per storm, Kaczmarska, Isham & Onof 2014 (Hydrol. Sci. J. 59, 1972-1991) for
/// the intensity tied to it (both from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PulseMonth {
    /// Storms begin at this rate, 1/h (lambda); 0 for a month without rain.
    pub storms_per_h: f64,
    /// Mean intensity of a cell over its storm's rate, mm (iota): mean mm/h = iota x rate.
    pub intensity_mm: f64,
    /// Shape of the gamma law of a storm's rate (alpha), above 1.
    pub rate_shape: f64,
    /// Rate parameter of that law, h (nu): the mean rate is alpha / nu per hour.
    pub rate_scale_h: f64,
    /// Cells are born at kappa x rate while the storm's window is open (kappa).
    pub cells: f64,
    /// The window closes at phi x rate (phi), below 1.
    pub ending: f64,
    /// Shape of the gamma law of a cell's intensity about its mean; 1 is exponential, below 1 more uneven.
    pub intensity_shape: f64,
}

/// Temperature, dew point, wind and sky of the pulse generator, tied to its rain.
#[derive(Clone, Debug, PartialEq)]
pub struct Air {
    /// Mean air temperature, degC.
    pub temperature_c: Monthly,
    /// Half the mean daily swing (amplitude of the daily wave), K.
    pub temperature_swing_k: Monthly,
    /// Standard deviation of the slow random part, K.
    pub temperature_spread_k: Monthly,
    /// Time after which the random part's correlation has fallen to 1/e, hours.
    pub temperature_memory_h: f64,
    /// How much colder a long rain makes the middle of the afternoon, K.
    pub rain_cooling_k: f64,
    /// Mean of the coldest temperature of the day minus the dew point, K.
    pub dryness_k: f64,
    /// Standard deviation of that difference, K.
    pub dryness_spread_k: f64,
    /// Mean wind speed at 10 m in the open, m/s.
    pub wind_m_s: Monthly,
    /// Weibull shape of the wind speed.
    pub wind_shape: f64,
    /// Time after which the wind's correlation has fallen to 1/e, hours.
    pub wind_memory_h: f64,
    /// Amplitude of the wind's daily wave as a share of the mean, 0 to 0.9.
    pub wind_swing: Monthly,
    /// Wind while it rains over wind while it does not.
    pub wind_in_rain: f64,
    /// Roughness length of the ground for gusts, m.
    pub roughness_m: f64,
    /// Mean share of the clear-sky sunlight that reaches the ground while it does not rain, 0 to 1.2.
    pub clearness: Monthly,
    /// Standard deviation of that share, 0 to 0.5.
    pub clearness_spread: f64,
    /// That share while it rains.
    pub clearness_in_rain: f64,
}
