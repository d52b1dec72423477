//! `[[failure]]`: what goes wrong on real sites, one mode at a time.
//!
//! A failure names a mode of the list ([`MODES`]) and says how often, how long and how badly. The modes come down to a few
//! ways of acting ([`Act`]), so that one piece of the engine serves many of them. All default figures are common practice:
//! engineering judgement, to be replaced by the records of the site.

mod act;
mod by_act;
mod door;
mod life;
mod mower;
mod readings;
mod signals;
mod weight;

pub use act::{Act, Change, Hits, Hours, Often, Target, When};
pub use by_act::ByAct;

use super::measure::{self, Measure};
use super::mower::Spread;
use super::sensor::Sensor;

/// A figure of a failure: how badly, in the unit of what it spoils.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Figure {
    /// Share of a ranger's range that is left, 0 to 1.
    Range,
    /// Probability that a reading is a short return from nothing (a beam: that it reads broken), 0 to 1.
    ShortReturns,
    /// Probability that a sample gives no reading, 0 to 1.
    Dropout,
    /// Offset of a ranger's reading, m; negative reads too near.
    Bias,
    /// Factor on the noise.
    NoiseFactor,
    /// Range lost per week since the last cleaning, as a share, 0 to 1.
    LossPerWeek,
    /// Rain coefficient of short returns, as a sensor's `spurious_rain`.
    SpuriousRain,
    /// Reflectance of the mower's shell, 0 to 1.
    Reflectance,
    /// Share of that which is left while the shell is wet, 0 to 1.
    WetFactor,
    /// Load on a platform, kg.
    Load,
    /// Share of the weight that a platform feels, 0 to 1.
    WeightSeen,
    /// Drift of a load reading, kg/K.
    LoadDrift,
    /// Speed of zero tracking, kg/d.
    Tare,
    /// Offset of a tilt reading, degrees.
    Angle,
    /// Probability per occasion, 0 to 1.
    Share,
    /// A length, m: offset, stretch or margin.
    Distance,
    /// Shift of a switching point, m/K.
    Shift,
    /// A force, N.
    Force,
    /// A delay, s.
    Delay,
    /// Visits or starts per day.
    PerDay,
    /// Gust speed at the site, m/s.
    Gust,
}

impl Figure {
    /// All figures.
    pub const ALL: [Figure; 21] = [
        Figure::Range,
        Figure::ShortReturns,
        Figure::Dropout,
        Figure::Bias,
        Figure::NoiseFactor,
        Figure::LossPerWeek,
        Figure::SpuriousRain,
        Figure::Reflectance,
        Figure::WetFactor,
        Figure::Load,
        Figure::WeightSeen,
        Figure::LoadDrift,
        Figure::Tare,
        Figure::Angle,
        Figure::Share,
        Figure::Distance,
        Figure::Shift,
        Figure::Force,
        Figure::Delay,
        Figure::PerDay,
        Figure::Gust,
    ];

    /// Its key in the scenario.
    pub const fn key(self) -> &'static str {
        match self {
            Figure::Range => "range",
            Figure::ShortReturns => "short_returns",
            Figure::Dropout => "dropout",
            Figure::Bias => "bias",
            Figure::NoiseFactor => "noise_factor",
            Figure::LossPerWeek => "loss_per_week",
            Figure::SpuriousRain => "spurious_rain",
            Figure::Reflectance => "reflectance",
            Figure::WetFactor => "wet_factor",
            Figure::Load => "load",
            Figure::WeightSeen => "weight_seen",
            Figure::LoadDrift => "load_drift",
            Figure::Tare => "tare",
            Figure::Angle => "angle",
            Figure::Share => "share",
            Figure::Distance => "distance",
            Figure::Shift => "shift",
            Figure::Force => "force",
            Figure::Delay => "delay",
            Figure::PerDay => "per_day",
            Figure::Gust => "gust",
        }
    }

    /// Its measure; none for a plain number.
    pub const fn measure(self) -> Option<&'static Measure> {
        Some(match self {
            Figure::Bias | Figure::Distance => &measure::LENGTH,
            Figure::Load => &measure::MASS,
            Figure::LoadDrift => &measure::MASS_PER_KELVIN,
            Figure::Tare => &measure::MASS_PER_DAY,
            Figure::Angle => &measure::ANGLE,
            Figure::Shift => &measure::LENGTH_PER_KELVIN,
            Figure::Force => &measure::FORCE,
            Figure::Delay => &measure::DURATION,
            Figure::PerDay => &measure::PER_DAY,
            Figure::Gust => &measure::SPEED,
            _ => return None,
        })
    }
}

/// One mode of the list.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mode {
    /// Its number in the list.
    pub number: usize,
    /// Its name in scenarios.
    pub name: &'static str,
    /// How it acts.
    pub act: Act,
    /// Which sensors it hits.
    pub hits: Hits,
    /// How often it comes, unless a failure says otherwise.
    pub often: Often,
    /// How long it lasts unless a failure says otherwise: mean and standard deviation, s.
    pub lasts: Option<(f64, f64)>,
    /// Its figures with their usual values.
    pub figures: &'static [(Figure, f64)],
    /// What happens, in a sentence.
    pub about: &'static str,
    /// What protects against it, in a sentence.
    pub protects: &'static str,
}

impl Mode {
    /// How much more or less often than in the mean episodes begin in each month, January first (common practice).
    pub fn by_month(&self) -> [f64; 12] {
        match self.act {
            // From May to October.
            Act::Web => [0.0, 0.0, 0.0, 0.0, 2.0, 2.0, 2.0, 2.0, 2.0, 2.0, 0.0, 0.0],
            // Leaves and branches in autumn.
            Act::Object => [0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 1.4, 2.2, 2.2, 0.6],
            _ => [1.0; 12],
        }
    }
}

/// Number of modes.
pub const COUNT: usize = 56;

/// All modes, by number.
pub const MODES: [Mode; COUNT] = collect();

/// Names of all modes, by number.
pub const NAMES: [&str; COUNT] = names();

/// Puts the groups into the order of the numbers.
const fn collect() -> [Mode; COUNT] {
    let groups: [&[Mode]; 6] = [readings::MODES, weight::MODES, signals::MODES, door::MODES, mower::MODES, life::MODES];
    let mut all = [groups[0][0]; COUNT];
    let mut group = 0;
    while group < groups.len() {
        let mut index = 0;
        while index < groups[group].len() {
            let mode = groups[group][index];
            all[mode.number - 1] = mode;
            index += 1;
        }
        group += 1;
    }
    all
}

const fn names() -> [&'static str; COUNT] {
    let mut names = [""; COUNT];
    let mut index = 0;
    while index < COUNT {
        names[index] = MODES[index].name;
        index += 1;
    }
    names
}

/// The mode of this name.
pub fn mode(name: &str) -> Option<&'static Mode> {
    static ALL: [Mode; COUNT] = MODES;
    ALL.iter().find(|mode| mode.name == name)
}

/// A failure.
#[derive(Clone, Debug, PartialEq)]
pub struct Failure {
    /// Name: the random stream's name, and the report's.
    pub name: String,
    /// Its mode.
    pub mode: &'static Mode,
    /// Indices of the sensors it hits, ascending.
    pub sensors: Vec<usize>,
    /// The sensor it is held to; none for all that fit.
    pub only: Option<usize>,
    /// Mean number of episodes per year of 365.25 days; 0 for modes that don't come in episodes.
    pub per_year: f64,
    /// How long an episode lasts; zero for modes that don't last.
    pub lasts: Spread,
    /// Its figures, in the mode's order.
    pub figures: Vec<f64>,
}

impl Failure {
    /// The value of a figure; 0 where the mode has none of that kind.
    pub fn figure(&self, wanted: Figure) -> f64 {
        self.given(wanted).unwrap_or(0.0)
    }

    /// The value of a figure; none where the mode has none of that kind.
    pub fn given(&self, wanted: Figure) -> Option<f64> {
        let place = self.mode.figures.iter().position(|(figure, _)| *figure == wanted)?;
        self.figures.get(place).copied()
    }

    /// Whether it has something to act on in a scenario with these sensors: a mode of sensors needs one of them to hit, a dark
    /// shell one that sees by light.
    pub fn acts(&self, sensors: &[Sensor]) -> bool {
        match self.mode.hits {
            Hits::Nothing if self.mode.act == Act::Change(Change::DarkShell) => {
                sensors.iter().any(|sensor| Hits::Optical.fits(&sensor.kind))
            }
            Hits::Nothing => true,
            _ => !self.sensors.is_empty(),
        }
    }

    /// A failure of this mode as it usually is, hitting these sensors.
    pub fn usual(mode: &'static Mode, sensors: Vec<usize>) -> Failure {
        let per_year = match mode.often {
            Often::Episodes { per_year, .. } => per_year,
            Often::Constant | Often::Occasions => 0.0,
        };
        let (mean_s, sd_s) = mode.lasts.unwrap_or((0.0, 0.0));
        Failure {
            name: mode.name.to_owned(),
            mode,
            sensors,
            only: None,
            per_year,
            lasts: Spread { mean_s, sd_s },
            figures: mode.figures.iter().map(|(_, value)| *value).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn the_list_is_whole() {
        let mut names = BTreeSet::new();
        for (index, mode) in MODES.iter().enumerate() {
            assert_eq!(mode.number, index + 1, "{}", mode.name);
            assert!(names.insert(mode.name), "{}", mode.name);
            assert!(mode.name.chars().all(|c| c.is_ascii_lowercase() || c == '-'), "{}", mode.name);
            assert!(mode.about.ends_with('.') && mode.protects.ends_with('.'), "{}", mode.name);
            // Episodes last; occasions have a share.
            if matches!(mode.often, Often::Occasions) {
                assert!(mode.figures.iter().any(|(figure, _)| *figure == Figure::Share), "{}", mode.name);
            }
        }
    }
}
