//! What one season leaves behind.

use super::blame::ByCause;
use super::metric::{KEYS, Key};
use crate::math::time::Instant;

/// Counts of durations in bins of equal width; merging is exact and order-free.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Histogram {
    /// Width of a bin, milliseconds.
    pub bin_ms: u32,
    /// Count per bin, first bin from 0; only as long as needed.
    pub counts: Vec<u64>,
}

impl Histogram {
    /// An empty histogram; the last possible bin collects everything beyond `20_000` bins.
    pub fn new(bin_ms: u32) -> Histogram {
        Histogram { bin_ms, counts: Vec::new() }
    }

    /// Counts one duration of `seconds` (negative counts as 0).
    pub fn add(&mut self, seconds: f64) {
        let bin = ((seconds.max(0.0) * 1_000.0 / f64::from(self.bin_ms)) as usize).min(20_000);
        if self.counts.len() <= bin {
            self.counts.resize(bin + 1, 0);
        }
        self.counts[bin] += 1;
    }

    /// Adds another histogram of the same bin width.
    pub fn merge(&mut self, other: &Histogram) {
        assert_eq!(self.bin_ms, other.bin_ms, "histograms of different bin widths cannot be merged");
        if self.counts.len() < other.counts.len() {
            self.counts.resize(other.counts.len(), 0);
        }
        for (mine, theirs) in self.counts.iter_mut().zip(&other.counts) {
            *mine += theirs;
        }
    }

    /// Number counted.
    pub fn total(&self) -> u64 {
        self.counts.iter().sum()
    }

    /// The q-quantile in seconds (upper edge of its bin: the resolution is one bin); none when empty.
    pub fn quantile(&self, q: f64) -> Option<f64> {
        let total = self.total();
        if total == 0 {
            return None;
        }
        let rank = ((q * total as f64).ceil() as u64).clamp(1, total);
        let mut seen = 0;
        for (bin, count) in self.counts.iter().enumerate() {
            seen += count;
            if seen >= rank {
                return Some((bin + 1) as f64 * f64::from(self.bin_ms) / 1_000.0);
            }
        }
        None
    }
}

/// One day of one season.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Day {
    /// Rain that fell, mm.
    pub rain_mm: f64,
    /// Time it rained, min.
    pub rain_min: f64,
    /// Sorties begun.
    pub sorties: u32,
    /// Arrivals.
    pub arrivals: u32,
    /// Missed arrivals.
    pub missed: u32,
    /// Late openings.
    pub late: u32,
    /// False openings.
    pub false_openings: u32,
    /// Door cycles.
    pub cycles: u32,
    /// Contacts.
    pub contacts: u32,
    /// Strandings.
    pub strandings: u32,
    /// Time not fully shut, min.
    pub open_min: f64,
    /// Floor exposed to rain, min.
    pub wet_floor_min: f64,
    /// Time the mower waited outside, s.
    pub wait_s: f64,
}

impl Day {
    /// Its amounts (rain in mm and min, time open in min, floor wet in min, wait in s) and its counts, in the fields' order: how
    /// files hold it.
    pub fn parts(&self) -> ([f64; 5], [u32; 8]) {
        let amounts = [self.rain_mm, self.rain_min, self.open_min, self.wet_floor_min, self.wait_s];
        let counts = [
            self.sorties,
            self.arrivals,
            self.missed,
            self.late,
            self.false_openings,
            self.cycles,
            self.contacts,
            self.strandings,
        ];
        (amounts, counts)
    }

    /// The day of these [`Day::parts`].
    pub fn of_parts(amounts: [f64; 5], counts: [u32; 8]) -> Day {
        let [rain_mm, rain_min, open_min, wet_floor_min, wait_s] = amounts;
        let [sorties, arrivals, missed, late, false_openings, cycles, contacts, strandings] = counts;
        Day {
            rain_mm,
            rain_min,
            sorties,
            arrivals,
            missed,
            late,
            false_openings,
            cycles,
            contacts,
            strandings,
            open_min,
            wet_floor_min,
            wait_s,
        }
    }
}

/// What happened at the door within one hour of the local clock, over a season.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Hour {
    /// Opening strokes begun from the shut door, false ones included.
    pub openings: u32,
    /// False openings.
    pub false_openings: u32,
    /// Arrivals.
    pub arrivals: u32,
    /// Missed arrivals.
    pub missed: u32,
}

/// Hours of a local day.
pub const HOURS: usize = 24;

/// One row of the event log.
#[derive(Clone, Debug, PartialEq)]
pub struct EventRow {
    /// When.
    pub at: Instant,
    /// Who (mower, door, weather, visitor or sensor name).
    pub who: String,
    /// What happened.
    pub what: String,
    /// Why, or further figures; may be empty.
    pub detail: String,
}

/// Conditions by which false runs are told apart.
pub const CONDITIONS: [&str; 3] = ["rain", "dry daylight", "dry night"];
/// The first of them without rain.
pub const AFTER_RAIN: usize = 1;

/// How often something came by noise alone, by condition: counted, and by the law of the readings.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ByNoise {
    /// How often it came.
    pub counted: [u64; CONDITIONS.len()],
    /// The rates, per day, that the law gave at moments spread over the season, each times what it is worth, added up.
    pub expected: [f64; CONDITIONS.len()],
    /// The weights of these moments, by which that is to be divided; 0 where the law can't be worked out.
    pub weight: [f64; CONDITIONS.len()],
}

impl ByNoise {
    /// Adds another one.
    pub fn merge(&mut self, other: &ByNoise) {
        self.counted.iter_mut().zip(other.counted).for_each(|(mine, theirs)| *mine += theirs);
        self.expected.iter_mut().zip(other.expected).for_each(|(mine, theirs)| *mine += theirs);
        self.weight.iter_mut().zip(other.weight).for_each(|(mine, theirs)| *mine += theirs);
    }

    /// Adds the rate, per day, that the law gave at a moment of this condition.
    pub fn looked_at(&mut self, condition: usize, per_day: f64, worth: f64, weight: f64) {
        self.expected[condition] += worth * per_day;
        self.weight[condition] += weight;
    }

    /// How often it is to be expected in a season with so many hours of each condition; as often as it came in conditions of which the
    /// law is not known.
    pub fn in_season(&self, condition_h: &[f64; CONDITIONS.len()]) -> f64 {
        // All moments of dry weather may lie in its nights: day and night are taken as one. Their weights add up to the dry time on
        // average only, so that a short season whose noise comes with the sun alone is a per cent high.
        let of = |conditions: std::ops::Range<usize>| {
            let sum = |of: &[f64]| of[conditions.clone()].iter().sum::<f64>();
            let weight = sum(&self.weight);
            let counted = || self.counted[conditions.clone()].iter().sum::<u64>() as f64;
            if weight > 0.0 { sum(&self.expected) / weight * sum(condition_h) / 24.0 } else { counted() }
        };
        of(0..AFTER_RAIN) + of(AFTER_RAIN..CONDITIONS.len())
    }
}

/// What one detector did in a season.
#[derive(Clone, Debug, PartialEq)]
pub struct DetectorTally {
    /// Times it went on with nothing in view; no moments where the law of its runs can't be worked out.
    pub false_runs: ByNoise,
    /// Approaches that it had not noticed when the nose was at the waiting point.
    pub unnoticed: u64,
    /// Time from the beginning of the drive to the door until it noticed.
    pub after: Histogram,
    /// Distance of the nose from the waiting point when it noticed, m (a histogram in metres instead of seconds).
    pub left: Histogram,
    /// Time its sensor was stuck, silent or without power, h.
    pub blind_h: f64,
}

impl Default for DetectorTally {
    fn default() -> DetectorTally {
        DetectorTally {
            false_runs: ByNoise::default(),
            unnoticed: 0,
            after: Histogram::new(100),
            left: Histogram::new(10),
            blind_h: 0.0,
        }
    }
}

impl DetectorTally {
    /// Adds another tally.
    pub fn merge(&mut self, other: &DetectorTally) {
        self.false_runs.merge(&other.false_runs);
        self.unnoticed += other.unnoticed;
        self.after.merge(&other.after);
        self.left.merge(&other.left);
        self.blind_h += other.blind_h;
    }
}

/// What one season leaves behind.
#[derive(Clone, Debug, PartialEq)]
pub struct SeasonRecord {
    /// Season number, from 0.
    pub season: u64,
    /// One value per metric, in the order of [`KEYS`].
    pub values: Vec<f64>,
    /// How often each cause was to blame, in the order of the plan's names.
    pub by_cause: ByCause<Vec<u64>>,
    /// Door use by hour of the local day; none in a record of metrics alone.
    pub hours: Vec<Hour>,
    /// Waits of all arrivals, zero waits included.
    pub waits: Histogram,
    /// Durations of completed opening strokes.
    pub opening_strokes: Histogram,
    /// Durations of completed closing strokes.
    pub closing_strokes: Histogram,
    /// One row per local day.
    pub days: Vec<Day>,
    /// One tally per detector of the scenario.
    pub detectors: Vec<DetectorTally>,
    /// Openings from shut by noise, rain, sun, drift or an insect in a beam, with nobody there.
    pub noise_openings: ByNoise,
    /// Time of each of the [`CONDITIONS`], h.
    pub condition_h: [f64; CONDITIONS.len()],
    /// Event log; empty unless asked for.
    pub events: Vec<EventRow>,
    /// Simulation events handled (for speed figures only; not part of any result file).
    pub handled: u64,
}

impl SeasonRecord {
    /// Value of a metric.
    pub fn value(&self, key: Key) -> f64 {
        self.values[key as usize]
    }

    /// The record's metrics and causes, by which limits and warnings are judged; everything else left out.
    pub fn metrics(&self) -> SeasonRecord {
        let empty = SeasonRecord::empty(self.season, 0);
        let by_cause = self.by_cause.clone();
        SeasonRecord { values: self.values.clone(), by_cause, hours: Vec::new(), ..empty }
    }

    /// An empty record of `days` days, without causes.
    pub fn empty(season: u64, days: usize) -> SeasonRecord {
        SeasonRecord {
            season,
            values: vec![0.0; KEYS.len()],
            by_cause: ByCause::default(),
            hours: vec![Hour::default(); HOURS],
            waits: Histogram::new(100),
            opening_strokes: Histogram::new(50),
            closing_strokes: Histogram::new(50),
            days: vec![Day::default(); days],
            detectors: Vec::new(),
            noise_openings: ByNoise::default(),
            condition_h: [0.0; CONDITIONS.len()],
            events: Vec::new(),
            handled: 0,
        }
    }
}
