//! A series of rain depths with its calendar, and the statistics of its blocks and spells.

use jiff::Timestamp;
use jiff::civil::Date;

use crate::math::time::Span;
use crate::world::weather::ObservedRecord;

/// Depths on a regular grid of whole local days; not-a-number where nothing was observed.
#[derive(Clone, Debug)]
pub struct Depths {
    step: Span,
    per_day: usize,
    values: Vec<f64>,
    /// Calendar of each day: year and month (January = 0).
    days: Vec<(i16, u8)>,
}

/// Statistics of the depths in blocks of one length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blocks {
    /// Length of a block, h.
    pub hours: f64,
    /// Complete blocks.
    pub count: usize,
    /// Mean depth, mm.
    pub mean: f64,
    /// Variance, mm^2.
    pub variance: f64,
    /// Correlation of neighbouring blocks.
    pub lag1: f64,
    /// Share of blocks with rain.
    pub wet: f64,
}

/// Mean lengths of runs of wet and of dry hours, h; runs are cut where the period or the record breaks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spells {
    /// Mean wet run.
    pub wet_h: f64,
    /// Mean dry run.
    pub dry_h: f64,
    /// Longest dry run.
    pub longest_dry_h: f64,
}

/// Lengths of wet and of dry runs, h.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Runs {
    /// Wet runs in order of time.
    pub wet: Vec<f64>,
    /// Dry runs.
    pub dry: Vec<f64>,
}

impl Depths {
    /// The rain of a record, days counted in its own offset.
    pub fn of_record(record: &ObservedRecord) -> Depths {
        let (step, offset) = (record.step(), record.offset());
        let per_day = (Span::DAY.0 / step.0) as usize;
        let shift_us = i64::from(offset.seconds()) * 1_000_000;
        let rows = record.rows();
        let first_day = (rows[0].unix_us + shift_us).div_euclid(Span::DAY.0);
        let last_day = (rows[rows.len() - 1].unix_us + shift_us).div_euclid(Span::DAY.0);
        let count = (last_day - first_day + 1) as usize;
        let mut values = vec![f64::NAN; count * per_day];
        for row in rows {
            let index = (row.unix_us + shift_us - first_day * Span::DAY.0) / step.0;
            values[index as usize] = row.rain_mm.unwrap_or(f64::NAN);
        }
        let date = |day: i64| {
            let midday = Timestamp::from_microsecond((first_day + day) * Span::DAY.0 + Span::DAY.0 / 2);
            midday.map_or(Date::ZERO, |time| jiff::tz::Offset::UTC.to_datetime(time).date())
        };
        let days = (0..count as i64).map(|day| (date(day).year(), (date(day).month() - 1) as u8)).collect();
        Depths { step, per_day, values, days }
    }

    /// A generated series without a calendar; every `stretch` days are a year of their own, so that runs end there as
    /// they do at the end of a month or season.
    pub fn of_series(values: Vec<f64>, step: Span, stretch: usize) -> Depths {
        let per_day = (Span::DAY.0 / step.0) as usize;
        let days = (0..values.len() / per_day).map(|day| ((day / stretch) as i16, 0)).collect();
        Depths { step, per_day, values, days }
    }

    /// The step.
    pub fn step(&self) -> Span {
        self.step
    }

    /// Calendar of each day.
    pub fn days(&self) -> &[(i16, u8)] {
        &self.days
    }

    /// The least depth of which all others are multiples, mm: the bucket of the gauge. None if depths are on no such
    /// lattice (95 % of them within 3 % of the bucket, or 0.006 mm of rounding).
    pub fn bucket_mm(&self) -> Option<f64> {
        let wet: Vec<f64> = self.values.iter().copied().filter(|depth| *depth > 0.0).collect();
        let least = wet.iter().copied().fold(f64::INFINITY, f64::min);
        if wet.len() < 20 || least < 0.02 {
            return None;
        }
        let on_lattice = |depth: &&f64| {
            let tips = libm::round(**depth / least);
            (tips * least - **depth).abs() < (0.03 * least).max(0.006)
        };
        (wet.iter().filter(on_lattice).count() as f64 > 0.95 * wet.len() as f64).then_some(least)
    }

    /// The same series read through a tipping bucket: what is not enough for a tip waits for the next rain, over steps that
    /// were not observed too.
    pub fn through(&self, bucket_mm: f64) -> Depths {
        let mut held = 0.0;
        let values = self.values.iter().map(|depth| {
            if depth.is_nan() {
                return *depth;
            }
            held += depth;
            // A hair of tolerance, so that a depth of exactly one tip is one tip.
            let tips = libm::floor(held / bucket_mm + 1e-9);
            held = (held - tips * bucket_mm).max(0.0);
            tips * bucket_mm
        });
        Depths { values: values.collect(), ..self.clone() }
    }

    /// The same by the hour, with every hour below `least_mm` dry; steps longer than an hour stay.
    pub fn at_least(&self, least_mm: f64) -> Depths {
        let size = self.size(1.0).unwrap_or(1);
        let values = (0..self.days.len()).flat_map(|day| self.blocks_of_day(day, size));
        let values = values.map(|depth| if depth < least_mm - 1e-9 { 0.0 } else { depth }).collect();
        Depths { step: Span(self.step.0 * size as i64), per_day: self.per_day / size, values, days: self.days.clone() }
    }

    /// All steps that were observed, in order of time.
    pub fn hours(&self) -> Vec<f64> {
        self.values.iter().copied().filter(|depth| !depth.is_nan()).collect()
    }

    /// Calendar and depth of every complete day.
    pub fn complete_days(&self) -> impl Iterator<Item = ((i16, u8), f64)> + '_ {
        let whole = |day: usize| self.values[day * self.per_day..(day + 1) * self.per_day].iter().sum::<f64>();
        (0..self.days.len()).map(move |day| (self.days[day], whole(day))).filter(|(_, depth)| !depth.is_nan())
    }

    /// Calendar month, depth and observed days (the observed steps put together) of every month of the record, in order.
    pub fn months(&self) -> Vec<((i16, u8), f64, f64)> {
        let mut months: Vec<((i16, u8), f64, f64)> = Vec::new();
        for (day, calendar) in self.days.iter().enumerate() {
            let steps = &self.values[day * self.per_day..(day + 1) * self.per_day];
            let seen = steps.iter().filter(|depth| !depth.is_nan());
            let (sum, count) = seen.fold((0.0, 0), |(sum, count), depth| (sum + depth, count + 1));
            let share = f64::from(count) / self.per_day as f64;
            match months.last_mut() {
                Some(last) if last.0 == *calendar => *last = (last.0, last.1 + sum, last.2 + share),
                _ => months.push((*calendar, sum, share)),
            }
        }
        months
    }

    /// The depth of each block of a day: `size` steps each. Not-a-number for incomplete ones.
    fn blocks_of_day(&self, day: usize, size: usize) -> impl Iterator<Item = f64> + '_ {
        let from = day * self.per_day;
        self.values[from..from + self.per_day].chunks(size).map(|block| block.iter().sum())
    }

    /// Steps in a block of `hours`, if a whole number that divides a day.
    fn size(&self, hours: f64) -> Option<usize> {
        let size = libm::round(hours * Span::HOUR.0 as f64 / self.step.0 as f64) as usize;
        let fits = size >= 1 && self.per_day.is_multiple_of(size);
        (fits && (size as f64 * self.step.hours() - hours).abs() < 1e-6).then_some(size)
    }

    /// Mean over the steps with rain in the chosen months of what `of` makes of their place in the series and their depth;
    /// none without any.
    pub fn mean_of_wet(&self, chosen: &[bool; 12], of: impl Fn(usize, f64) -> f64) -> Option<f64> {
        let wet = self
            .values
            .iter()
            .enumerate()
            .filter(|(index, depth)| **depth > 0.0 && chosen[usize::from(self.days[index / self.per_day].1)]);
        let (sum, count) = wet.fold((0.0, 0.0), |(sum, count), (index, depth)| (sum + of(index, *depth), count + 1.0));
        (count > 0.0).then(|| sum / count)
    }

    /// Statistics of blocks of `hours` on the days whose month is chosen. None if blocks of that length don't exist or
    /// fewer than 20 are complete.
    pub fn blocks(&self, hours: f64, chosen: &[bool; 12]) -> Option<Blocks> {
        let size = self.size(hours)?;
        let mut series = Vec::new();
        for (day, (_, month)) in self.days.iter().enumerate() {
            if chosen[usize::from(*month)] {
                series.extend(self.blocks_of_day(day, size));
            } else if series.last().is_some_and(|last: &f64| !last.is_nan()) {
                // A break: blocks on its two sides are no neighbours.
                series.push(f64::NAN);
            }
        }
        let whole: Vec<f64> = series.iter().copied().filter(|depth| !depth.is_nan()).collect();
        if whole.len() < 20 {
            return None;
        }
        let n = whole.len() as f64;
        let mean = whole.iter().sum::<f64>() / n;
        let variance = whole.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n;
        let pairs = series.windows(2).map(|pair| (pair[0] - mean) * (pair[1] - mean)).filter(|x| !x.is_nan());
        let (sum, pairs) = pairs.fold((0.0, 0), |(sum, count), x| (sum + x, count + 1));
        let lag1 = if variance > 0.0 && pairs > 0 { sum / f64::from(pairs) / variance } else { 0.0 };
        let wet = whole.iter().filter(|depth| **depth > 0.0).count() as f64 / n;
        Some(Blocks { hours, count: whole.len(), mean, variance, lag1, wet })
    }

    /// Runs of wet and dry hours on the chosen days.
    pub fn runs(&self, chosen: &[bool; 12]) -> Runs {
        let mut runs = Runs::default();
        let Some(size) = self.size(1.0) else { return runs };
        let (mut state, mut length) = (None, 0.0);
        let mut close = |state: Option<bool>, length: f64| match state {
            Some(true) => runs.wet.push(length),
            Some(false) => runs.dry.push(length),
            None => {}
        };
        let mut year = None;
        for (day, (of, month)) in self.days.iter().enumerate() {
            let taken = chosen[usize::from(*month)];
            if !taken || year != Some(*of) {
                close(state.take(), length);
            }
            year = Some(*of);
            if !taken {
                continue;
            }
            for depth in self.blocks_of_day(day, size) {
                let next = if depth.is_nan() { None } else { Some(depth > 0.0) };
                if next == state {
                    length += 1.0;
                } else {
                    close(state, length);
                    (state, length) = (next, 1.0);
                }
            }
        }
        close(state, length);
        runs
    }

    /// Mean runs of wet and dry hours on the chosen days; none without any of either.
    pub fn spells(&self, chosen: &[bool; 12]) -> Option<Spells> {
        let runs = self.runs(chosen);
        if runs.wet.is_empty() || runs.dry.is_empty() {
            return None;
        }
        let mean = |lengths: &[f64]| lengths.iter().sum::<f64>() / lengths.len() as f64;
        let longest_dry_h = runs.dry.iter().copied().fold(0.0, f64::max);
        Some(Spells { wet_h: mean(&runs.wet), dry_h: mean(&runs.dry), longest_dry_h })
    }
}
