//! `[weather]`: an observed record, or a generator with monthly figures.

use std::path::PathBuf;

/// Twelve monthly values, January first. A single value in the scenario stands for all twelve.
pub type Monthly = [f64; 12];

/// Where a season's weather comes from.
#[derive(Clone, Debug, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "there is one per scenario")]
pub enum Weather {
    /// Every season replays one observed record.
    Observed(Observed),
    /// Every season draws its own weather.
    Generated(Generated),
}

/// An observed record: CSV with RFC 3339 times.
#[derive(Clone, Debug, PartialEq)]
pub struct Observed {
    /// The CSV file, already resolved against the scenario's folder.
    pub file: PathBuf,
    /// What to do about hours without a record.
    pub gaps: Gaps,
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
    pub temperature_spread_k: f64,
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
}
