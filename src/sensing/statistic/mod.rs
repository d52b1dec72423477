//! What a detector computes from the last readings, one file for each statistic.
//!
//! Each statistic answers two questions. What does a reading do to it: does it now speak for a change? And which
//! readings could be skipped: if it is *settled*, a reading within its *boring* interval can neither make it speak nor
//! bring it out of being settled. That is all the shortcut of [`super::channel`] needs, and it is exact: for a level,
//! a mean, a median or an EWMA because they lie between the smallest and the largest reading, for a CUSUM because a
//! reading that does not pass the reference leaves a sum of zero at zero, for a likelihood ratio because a reading
//! that decides at once leaves nothing behind, for a rate because readings within a narrow band cannot have a steep
//! slope. A statistic that is not settled sees every sample.
//!
//! A ranger that sees no target says "far". For a level, a mean and a median that is infinitely far. A CUSUM, an EWMA
//! and a likelihood ratio count it as the sensor's farthest reading, since one infinity would undo everything
//! remembered. For a rate it empties the window: a target that appears has no speed yet.

mod cusum;
mod ewma;
mod levels;
mod rate;
mod ratio;
mod window;

pub use levels::Levels;
pub use window::MEDIAN_MAX;

use super::law::{Boring, Reading};
use crate::math::time::Span;
use crate::scenario::sensor::{Sensor, SensorKind};
use crate::scenario::strategy::{Detector, RunRule, Statistic};
use cusum::Cusum;
use ewma::Ewma;
use rate::Rate;
use ratio::Ratio;
use window::Window;

/// What a statistic must know of its sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Step between readings, 0 for continuous ones.
    pub resolution: f64,
    /// Time between samples.
    pub period: Span,
    /// Farthest reading of a ranger, infinite for other sensors.
    pub farthest: f64,
}

impl Frame {
    /// The frame of a sensor.
    pub fn of(sensor: &Sensor) -> Frame {
        let farthest = match &sensor.kind {
            SensorKind::OpticalRange { aim, .. }
            | SensorKind::PhotonRange { aim, .. }
            | SensorKind::UltrasonicRange { aim, .. } => aim.farthest_m,
            _ => f64::INFINITY,
        };
        Frame { resolution: sensor.errors.resolution, period: sensor.period, farthest }
    }
}

/// Share of an EWMA below which what a reading left there counts as faded (common practice).
const FADED: f64 = 0.01;

/// Longest memory that is looked back on, in samples: a sum whose resting reading hardly takes anything away would remember
/// for ever.
const FADES_AT_MOST: f64 = 1_024.0;

/// Samples after which what a detector was shown has faded, with readings of `rest` since: the windows have passed, an average
/// has forgotten all but a hundredth, and a sum at its limit is back at nought.
pub fn fades_after(detector: &Detector, frame: &Frame, rest: f64) -> usize {
    let rest = rest.min(frame.farthest);
    let samples = match detector.statistic {
        Statistic::Level => 0.0,
        Statistic::MovingMean(n) | Statistic::MovingMedian(n) | Statistic::ApproachRate(n) => n as f64,
        Statistic::Ewma { weight } if weight >= 1.0 => 0.0,
        Statistic::Ewma { weight } => libm::log(FADED) / libm::log1p(-weight),
        Statistic::Cusum { limit } => limit / (rest - detector.on).abs(),
        Statistic::LikelihoodRatio(test) => {
            let middle = 0.5 * (test.absent + test.present);
            let each = (test.present - test.absent) * (rest - middle) / (test.spread * test.spread);
            let (high, low) = test.bounds();
            (high - low) / each.abs().min(test.at_most)
        }
    };
    // No number comes from a sum that nothing takes anything from.
    let samples = if samples.is_nan() { FADES_AT_MOST } else { samples.min(FADES_AT_MOST) };
    samples.ceil() as usize + detector.rule.n
}

/// No reading is boring.
const NONE: Boring = Boring { low: 0.0, low_included: false, high: 0.0, high_included: false, nothing: true };

/// Boring readings of a statistic that takes what is farther away than `farthest` for that far: where they begin beyond it there
/// are none, not even "far".
fn within(boring: Boring, farthest: f64) -> Boring {
    if boring.low > farthest { NONE } else { boring }
}

/// A statistic with what it remembers.
#[derive(Clone, Debug)]
pub(super) enum Memory {
    Level(Levels),
    Window(Window),
    Rate(Rate),
    Cusum(Cusum),
    Ewma(Ewma),
    Ratio(Ratio),
}

impl Memory {
    pub(super) fn new(detector: &Detector, frame: &Frame) -> Memory {
        let levels = Levels::of(detector, frame.resolution);
        match detector.statistic {
            Statistic::MovingMean(n) if n > 1 => Memory::Window(Window::new(levels, n, false)),
            Statistic::MovingMedian(n) if n > 1 => Memory::Window(Window::new(levels, n, true)),
            Statistic::Level | Statistic::MovingMean(_) | Statistic::MovingMedian(_) => Memory::Level(levels),
            // Speeds have no grid.
            Statistic::ApproachRate(n) => Memory::Rate(Rate::new(detector.on, detector.off, n, frame.period)),
            Statistic::Cusum { limit } => Memory::Cusum(Cusum::new(levels, limit, frame.farthest)),
            Statistic::Ewma { weight } => Memory::Ewma(Ewma::new(levels, weight, frame.farthest)),
            Statistic::LikelihoodRatio(test) => Memory::Ratio(Ratio::new(&test, frame.farthest)),
        }
    }

    /// Becomes as another one of the same detector, in the room that it has.
    pub(super) fn copy_from(&mut self, other: &Memory) {
        match (self, other) {
            (Memory::Window(window), Memory::Window(other)) => window.copy_from(other),
            (Memory::Rate(rate), Memory::Rate(other)) => rate.copy_from(other),
            (statistic, other) => *statistic = other.clone(),
        }
    }

    /// Takes a reading; whether the statistic now speaks for a change of a detector that is `on`.
    pub(super) fn take(&mut self, value: f64, on: bool) -> bool {
        match self {
            Memory::Level(levels) => levels.speaks(value, on),
            Memory::Window(window) => window.take(value, on),
            Memory::Rate(rate) => rate.take(value, on),
            Memory::Cusum(cusum) => cusum.take(value, on),
            Memory::Ewma(ewma) => ewma.take(value, on),
            Memory::Ratio(ratio) => ratio.take(value, on),
        }
    }

    /// Its value; none where that is the reading itself, or where it says nothing yet.
    pub(super) fn value(&self) -> Option<f64> {
        match self {
            Memory::Level(_) => None,
            Memory::Window(window) => window.value(),
            Memory::Rate(rate) => rate.speed(),
            Memory::Cusum(cusum) => Some(cusum.sum()),
            Memory::Ewma(ewma) => ewma.average(),
            Memory::Ratio(ratio) => Some(ratio.sum()),
        }
    }

    /// The sum that it keeps, if it does.
    pub(super) fn sum(&self) -> Option<f64> {
        match self {
            Memory::Cusum(cusum) => Some(cusum.sum()),
            Memory::Ratio(ratio) => Some(ratio.sum()),
            Memory::Level(_) | Memory::Window(_) | Memory::Rate(_) | Memory::Ewma(_) => None,
        }
    }

    /// Puts another number into the sum that it keeps, if it does.
    pub(super) fn set_sum(&mut self, sum: f64) {
        match self {
            Memory::Cusum(cusum) => cusum.set_sum(sum),
            Memory::Ratio(ratio) => ratio.set_sum(sum),
            Memory::Level(_) | Memory::Window(_) | Memory::Rate(_) | Memory::Ewma(_) => {}
        }
    }

    /// The readings that a window still holds when the next one comes, to tell windows apart by; nothing for what keeps none.
    pub(super) fn mark(&self, into: &mut Vec<u64>) {
        if let Memory::Window(window) = self {
            window.mark(into);
        }
    }

    /// A full median's readings are all such as don't speak.
    pub(super) fn hold_quiet(&mut self, on: bool) {
        if let Memory::Window(window) = self {
            window.hold_quiet(on);
        }
    }

    /// The readings a median remembers, but for the oldest, as hits of the on level; none where that is not all there is.
    pub(super) fn hits(&self) -> Option<u64> {
        match self {
            Memory::Level(_) => Some(0),
            Memory::Window(window) => window.hits(),
            _ => None,
        }
    }

    /// The run rule over readings that says when it speaks, if it is a full median.
    pub(super) fn majority(&self) -> Option<RunRule> {
        if let Memory::Window(window) = self { window.majority() } else { None }
    }

    /// For a level or a full median: the number of readings that it looks at, and which of them speak (newest lowest). It speaks
    /// exactly when most of them do.
    pub(super) fn majority_bits(&self, on: bool) -> Option<(usize, u64)> {
        match self {
            Memory::Level(_) => Some((1, 0)),
            Memory::Window(window) => {
                window.majority().filter(|rule| rule.n <= 64).map(|rule| (rule.n, window.bits(on)))
            }
            _ => None,
        }
    }

    /// Whether none of the readings that it will still remember with the next one speaks.
    pub(super) fn is_clear(&self, on: bool) -> bool {
        if let Memory::Window(window) = self { window.is_clear(on) } else { true }
    }

    /// Samples without a reading went by.
    pub(super) fn idle(&mut self, samples: u64) {
        if let Memory::Rate(rate) = self {
            rate.idle(samples);
        }
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        match self {
            Memory::Level(_) => {}
            Memory::Window(window) => window.clear(),
            Memory::Rate(rate) => rate.clear(),
            Memory::Cusum(cusum) => cusum.clear(),
            Memory::Ewma(ewma) => ewma.clear(),
            Memory::Ratio(ratio) => ratio.clear(),
        }
    }

    /// The detector has changed over: sums begin anew, windows go on.
    pub(super) fn changed_over(&mut self) {
        match self {
            Memory::Level(_) | Memory::Ewma(_) => {}
            Memory::Window(window) => window.changed_over(),
            Memory::Rate(rate) => rate.changed_over(),
            Memory::Cusum(cusum) => cusum.clear(),
            Memory::Ratio(ratio) => ratio.clear(),
        }
    }

    /// Remembers a reading that was skipped; it was boring.
    pub(super) fn refill(&mut self, reading: Reading) {
        let Reading::Value(value) = reading else { return self.idle(1) };
        match self {
            Memory::Window(window) => window.push(value),
            Memory::Rate(rate) => rate.push(value),
            Memory::Ewma(ewma) => ewma.push(value),
            // At zero, and a boring reading leaves them there.
            Memory::Level(_) | Memory::Cusum(_) | Memory::Ratio(_) => {}
        }
    }

    /// Number of skipped readings to remember.
    pub(super) fn remembers(&self) -> usize {
        match self {
            Memory::Level(_) | Memory::Cusum(_) | Memory::Ratio(_) => 0,
            Memory::Window(window) => window.remembers(),
            Memory::Rate(rate) => rate.remembers(),
            Memory::Ewma(ewma) => ewma.remembers(),
        }
    }

    /// The values to which it does not react once it is settled.
    pub(super) fn boring(&self, on: bool) -> Boring {
        match self {
            Memory::Level(levels) => levels.boring(on),
            Memory::Window(window) => window.levels.boring(on),
            Memory::Rate(rate) => rate.boring(),
            Memory::Cusum(cusum) => cusum.boring(on),
            Memory::Ewma(ewma) => ewma.boring(on),
            Memory::Ratio(ratio) => ratio.boring(on),
        }
    }

    /// Whether [`Memory::boring`] depends on more than on and off.
    pub(super) fn shifts(&self) -> bool {
        matches!(self, Memory::Rate(_))
    }

    /// Whether boring readings can't do anything to it.
    pub(super) fn settled(&self, on: bool) -> bool {
        match self {
            Memory::Level(_) => true,
            Memory::Window(window) => window.settled(on),
            Memory::Rate(rate) => rate.settled(on),
            Memory::Cusum(cusum) => cusum.settled(),
            Memory::Ewma(ewma) => ewma.settled(on),
            Memory::Ratio(ratio) => ratio.settled(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sensing::invented;
    use crate::sensing::law::Reading;

    /// What skipping rests on: a boring reading, "far" among them, neither makes a settled statistic speak nor unsettles it; with
    /// levels, means and sums within reach of the sensor and beyond.
    #[test]
    fn boring_readings_leave_a_settled_statistic_as_it_is() {
        let frame = Frame { resolution: 0.01, period: Span(50_000), farthest: 5.0 };
        let ratio = |spread: f64, false_alarm: f64, false_rest: f64, at_most: f64| {
            Statistic::LikelihoodRatio(RatioTest {
                absent: 2.8,
                present: 2.4,
                spread,
                false_alarm,
                false_rest,
                at_most,
            })
        };
        let statistics = [
            Statistic::Level,
            Statistic::MovingMean(3),
            Statistic::MovingMedian(3),
            Statistic::Cusum { limit: 0.5 },
            Statistic::Ewma { weight: 0.3 },
            ratio(0.1, 0.01, 0.01, f64::INFINITY),
            ratio(0.5, 0.3, 1e-4, f64::INFINITY),
            ratio(1.0, 0.3, 1e-4, f64::INFINITY),
            ratio(1.0, 0.3, 0.3, 1.0),
        ];
        let mut bored = 0;
        for statistic in statistics {
            for (sense, on_level, off_level) in
                [(Sense::Below, 1.2, 1.4), (Sense::Above, 3.0, 2.8), (Sense::Below, 5.5, 6.0), (Sense::Above, 7.0, 6.5)]
            {
                for (on, first) in
                    [(false, 0.0), (false, 4.0), (false, f64::INFINITY), (true, 0.0), (true, f64::INFINITY)]
                {
                    let detector = Detector { sense, ..invented::detector(statistic, (on_level, off_level)) };
                    for value in (0..=100).map(|i| 0.1 * f64::from(i)).chain([f64::INFINITY]) {
                        let mut memory = Memory::new(&detector, &frame);
                        (0..9).for_each(|_| {
                            memory.take(first, on);
                        });
                        if memory.settled(on) && memory.boring(on).contains(Reading::Value(value)) {
                            bored += 1;
                            let what = format!("{statistic:?} {sense:?} {on_level} {on} {first} {value}");
                            assert!(!memory.take(value, on), "speaks: {what}");
                            assert!(memory.settled(on), "not settled any more: {what}");
                        }
                    }
                }
            }
        }
        assert!(bored > 2_000, "{bored}");
    }
    use crate::scenario::strategy::{RatioTest, Sense};

    /// By hand, with a rule of 2 of 3 and readings that rest at 0: a window of 5 and the rule; ln 0.01 / ln 0.8 = 20.6; a sum of 4 that
    /// loses 1 a reading; 2 ln 99 / 0.5 = 18.4 for a ratio test of 1 against 0.
    #[test]
    fn what_was_shown_fades() {
        let frame = Frame { resolution: 0.0, period: Span::SECOND, farthest: f64::INFINITY };
        let samples = |statistic| {
            let detector = Detector {
                sense: Sense::Above,
                rule: RunRule { k: 2, n: 3 },
                ..invented::detector(statistic, (1.0, 1.0))
            };
            fades_after(&detector, &frame, 0.0)
        };
        let test = RatioTest {
            absent: 0.0,
            present: 1.0,
            spread: 1.0,
            false_alarm: 0.01,
            false_rest: 0.01,
            at_most: f64::INFINITY,
        };
        assert_eq!(samples(Statistic::Level), 3);
        assert_eq!(samples(Statistic::MovingMedian(5)), 8);
        assert_eq!(samples(Statistic::Ewma { weight: 0.2 }), 24);
        assert_eq!(samples(Statistic::Cusum { limit: 4.0 }), 7);
        assert_eq!(samples(Statistic::LikelihoodRatio(test)), 22);
    }
}
