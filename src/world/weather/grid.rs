//! What the hourly series of generated weather are made of: Gaussian processes with memory, and yearly curves.

use crate::math::random::Stream;
use crate::math::time::Instant;
use crate::scenario::weather::Monthly;
use crate::world::clock::LocalClock;

/// Hour of the day at which the daily wave of temperature peaks. Common practice: two to three hours after noon;
/// hourly records of five stations gave 13 to 15.
pub(super) const WARMEST_HOUR: f64 = 15.0;

/// A standard Gaussian process with exponentially falling correlation on the hourly grid.
pub(super) struct Memory {
    keep: f64,
    renew: f64,
    value: Option<f64>,
    stream: Stream,
}

impl Memory {
    /// Correlation falls to 1/e in `memory_h`.
    pub fn new(memory_h: f64, stream: Stream) -> Memory {
        let keep = if memory_h > 0.0 { libm::exp(-1.0 / memory_h) } else { 0.0 };
        Memory { keep, renew: libm::sqrt(1.0 - keep * keep), value: None, stream }
    }

    /// The value of the next hour.
    pub fn next(&mut self) -> f64 {
        let fresh = self.stream.normal();
        let value = self.value.map_or(fresh, |last| self.keep * last + self.renew * fresh);
        self.value = Some(value);
        value
    }
}

/// Place in the year in months: 0.5 is the middle of January, 11.5 that of December.
pub(super) fn year_position(clock: &LocalClock, at: Instant) -> f64 {
    let date = clock.date(clock.day_of(at));
    let day = f64::from(date.day() - 1) + clock.second_of_day_local(at) / 86_400.0;
    f64::from(date.month() - 1) + day / f64::from(date.days_in_month())
}

/// A smooth yearly curve through the monthly values at mid-month: periodic Catmull-Rom cubic (Catmull & Rom 1974).
/// Its mean over a month differs from the month's value by the curve's bend: about 1 % of the yearly amplitude.
pub(super) fn through_the_year(monthly: &Monthly, position: f64) -> f64 {
    let place = (position - 0.5).rem_euclid(12.0);
    let left = (place as usize).min(11);
    let t = place - left as f64;
    let value = |offset: usize| monthly[(left + offset + 11) % 12];
    let (p0, p1, p2, p3) = (value(0), value(1), value(2), value(3));
    let slope_left = 0.5 * (p2 - p0);
    let slope_right = 0.5 * (p3 - p1);
    let rise = p2 - p1;
    p1 + t
        * (slope_left + t * (3.0 * rise - 2.0 * slope_left - slope_right + t * (slope_left + slope_right - 2.0 * rise)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The curve meets every monthly value at mid-month, is continuous over New Year, and follows a yearly cosine
    /// within a hundredth of its amplitude.
    #[test]
    fn yearly_curve() {
        let wave = |position: f64| (2.0 * std::f64::consts::PI * (position - 7.0) / 12.0).cos();
        let monthly: Monthly = std::array::from_fn(|month| wave(month as f64 + 0.5));
        for step in 0..240 {
            let position = 0.05 * f64::from(step);
            assert!((through_the_year(&monthly, position) - wave(position)).abs() < 0.01, "{position}");
        }
        let uneven: Monthly = std::array::from_fn(|month| (month * month % 7) as f64);
        for (month, value) in uneven.iter().enumerate() {
            assert!((through_the_year(&uneven, month as f64 + 0.5) - value).abs() < 1e-12);
        }
        assert!((through_the_year(&uneven, 1e-9) - through_the_year(&uneven, 12.0 - 1e-9)).abs() < 1e-6);
    }
}
