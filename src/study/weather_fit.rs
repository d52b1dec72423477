//! Fits the pulse generator to an observed record: rain by the generalised method of moments, everything else by
//! regressions.
//!
//! * [`depths`]: statistics of blocks and spells
//! * [`search`]: the search for a rain process
//! * [`rain`]: a period's fit, with the correction for the gauge's bucket
//! * [`air`]: temperature, wind, dew point, sky

pub mod air;
pub mod depths;
pub mod rain;
pub mod search;

use crate::scenario::season::Site;
use crate::scenario::weather::{Air, PulseMonth, PulseYear};
use crate::world::weather::ObservedRecord;
use depths::Depths;

/// How well a fitted statistic must agree.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tolerance {
    /// Relative difference of at most this.
    Within(f64),
    /// Reported only.
    None,
}

/// One statistic, observed and fitted.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// What it is.
    pub name: String,
    /// Its unit.
    pub unit: &'static str,
    /// In the record.
    pub observed: f64,
    /// In the fitted process, read through the same gauge.
    pub fitted: f64,
    /// How well it must agree.
    pub tolerance: Tolerance,
}

impl Row {
    /// Fitted over observed, minus 1.
    pub fn difference(&self) -> f64 {
        self.fitted / self.observed - 1.0
    }

    /// Whether it agrees; none where no tolerance is stated.
    pub fn agrees(&self) -> Option<bool> {
        match self.tolerance {
            Tolerance::Within(most) => Some(self.difference().abs() <= most),
            Tolerance::None => None,
        }
    }
}

/// How the year is cut for the fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Periods {
    /// By the record's length: months from five years on, seasons from one, else all in one.
    Auto,
    /// Twelve months.
    Months,
    /// Four seasons: December to February and so on.
    Seasons,
    /// One set for all of the year.
    Year,
}

/// Part of the year.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Period {
    /// Its name.
    pub name: &'static str,
    /// Its months.
    pub months: [bool; 12],
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

impl Periods {
    /// The parts of the year; `auto` is decided by the number of years in which every month is observed.
    fn list(self, depths: &Depths) -> Vec<Period> {
        let years = years(depths);
        let resolved = match self {
            Periods::Auto if years >= 5.0 => Periods::Months,
            Periods::Auto if years >= 0.95 => Periods::Seasons,
            Periods::Auto => Periods::Year,
            other => other,
        };
        let within = |months: &[usize]| std::array::from_fn(|month| months.contains(&month));
        match resolved {
            Periods::Months => (0..12).map(|m| Period { name: MONTHS[m], months: within(&[m]) }).collect(),
            Periods::Seasons => [
                ("December to February", [11, 0, 1]),
                ("March to May", [2, 3, 4]),
                ("June to August", [5, 6, 7]),
                ("September to November", [8, 9, 10]),
            ]
            .map(|(name, months)| Period { name, months: within(&months) })
            .to_vec(),
            Periods::Year | Periods::Auto => vec![Period { name: "all of the record", months: [true; 12] }],
        }
    }
}

/// Observed length in years of 365.25 days.
pub fn years(depths: &Depths) -> f64 {
    depths.days().len() as f64 / 365.25
}

/// The fit of a period.
#[derive(Clone, Debug, PartialEq)]
pub struct PeriodFit {
    /// The period.
    pub period: Period,
    /// Its rain; none if too little of it was observed.
    pub rain: Option<rain::RainFit>,
}

/// The whole fit.
#[derive(Clone, Debug, PartialEq)]
pub struct WeatherFit {
    /// Rain by period.
    pub periods: Vec<PeriodFit>,
    /// Rain by month, as the generator wants it.
    pub rain: PulseYear,
    /// Everything else.
    pub air: Air,
    /// The gauge's bucket, mm, if depths are on its lattice.
    pub bucket_mm: Option<f64>,
    /// What could not be fitted and was taken from elsewhere.
    pub notes: Vec<String>,
}

/// Why nothing could be fitted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FitError {
    /// Steps too long.
    #[error(
        "the record's step is {hours} h; the rain process can be fitted to steps of up to an hour: an hourly record of the same \
         climate will do"
    )]
    Step {
        /// The step.
        hours: f64,
    },
    /// Not enough rain observed anywhere.
    #[error("no part of the year has enough complete days of rain data for a fit (20 are needed)")]
    TooLittle,
}

/// Fits the generator to a record. `site` gives the sun's place for the clearness of the sky.
///
/// # Errors
/// If the record is too coarse or too short.
pub fn fit(record: &ObservedRecord, site: Option<&Site>, periods: Periods) -> Result<WeatherFit, FitError> {
    let depths = Depths::of_record(record);
    if depths.step().hours() > 1.0 {
        return Err(FitError::Step { hours: depths.step().hours() });
    }
    let bucket_mm = depths.bucket_mm();
    let mut notes = Vec::new();
    let fits: Vec<PeriodFit> = periods
        .list(&depths)
        .into_iter()
        .map(|period| {
            let stretch = if period.months.iter().all(|one| *one) {
                365
            } else {
                30 * period.months.iter().filter(|one| **one).count()
            };
            let rain = rain::fit(&depths, &period.months, bucket_mm, stretch);
            PeriodFit { period, rain }
        })
        .collect();
    let mut by_month: [Option<PulseMonth>; 12] = [None; 12];
    for one in &fits {
        for month in (0..12).filter(|month| one.period.months[*month]) {
            by_month[month] = one.rain.as_ref().map(|rain| rain.process);
        }
    }
    let rain = filled(&by_month).ok_or(FitError::TooLittle)?;
    for month in (0..12).filter(|month| by_month[*month].is_none()) {
        notes.push(format!(
            "{}: too little was observed; its rain is that of the nearest month that was",
            MONTHS[month]
        ));
    }
    let days = depths.complete_days().fold([0; 12], |mut days, ((_, month), _)| {
        days[usize::from(month)] += 1;
        days
    });
    notes.extend(fits.iter().filter(|one| one.rain.is_some()).filter_map(|one| stretched(&one.period, &days)));
    for one in &fits {
        let Some(rain) = one.rain.as_ref().filter(|rain| rain.process.storms_per_h > 0.0) else { continue };
        let bounds = search::on_bounds(&rain.process);
        if !bounds.is_empty() {
            let names: Vec<String> = bounds.iter().map(|name| format!("`{name}`")).collect();
            notes.push(format!(
                "{}: what was observed does not tell {} (it came out at the edge of what is possible); use with care",
                one.period.name,
                names.join(", ")
            ));
        }
    }
    notes.extend(fits.iter().filter_map(out_of_reach));
    let air = air::fit(record, site, &mut notes);
    Ok(WeatherFit { periods: fits, rain, air, bucket_mm, notes })
}

/// What to say of rows that no process reaches together; none if all agree.
fn out_of_reach(fit: &PeriodFit) -> Option<String> {
    let rain = fit.rain.as_ref()?;
    let missed = rain.rows.iter().filter(|row| row.agrees() == Some(false));
    let missed: Vec<String> = missed.map(|row| format!("{} ({:+.0} %)", row.name, 100.0 * row.difference())).collect();
    (!missed.is_empty()).then(|| {
        format!(
            "{}: no rain process was found that has all of what was observed; the nearest, whose largest error is least in parts of \
             its tolerance, misses {}",
            fit.period.name,
            missed.join(", ")
        )
    })
}

/// Complete days of rain data from which on a month counts as observed.
const OBSERVED_DAYS: usize = 10;

/// A note if a period's rain also stands for months that were not observed, by days observed in each month.
fn stretched(period: &Period, days: &[usize; 12]) -> Option<String> {
    let named = |seen: bool| -> Vec<&str> {
        let months = (0..12).filter(|month| period.months[*month] && (days[*month] >= OBSERVED_DAYS) == seen);
        months.map(|month| MONTHS[month]).collect()
    };
    let (seen, unseen) = (named(true), named(false));
    (!unseen.is_empty()).then(|| {
        format!(
            "rain: {} have less than {OBSERVED_DAYS} days of data; what is written for them is the rain of {}, which need not be theirs",
            unseen.join(", "),
            if seen.is_empty() { "the few days observed".to_owned() } else { seen.join(", ") }
        )
    })
}

/// Twelve months, each missing one taken from the nearest in the round of the year (the earlier of two).
fn filled<T: Copy>(months: &[Option<T>; 12]) -> Option<[T; 12]> {
    let near = |month: usize| (0..=6).flat_map(|d| [month + 12 - d, month + d]).find_map(|other| months[other % 12]);
    let all: Option<Vec<T>> = (0..12).map(near).collect();
    all?.try_into().ok()
}
