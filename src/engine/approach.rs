//! A single approach by itself: how likely it is to go unnoticed under given conditions, outside any season.
//!
//! What a season adds up as expected misses is worked out here for conditions of one's choosing, so that rare ones can
//! be looked at more often than they come ([`crate::study::rare`]). Sensors are sound, nobody else is near, the door is
//! shut, and the detectors of status and clock are off.

use super::motion::Motion;
use super::outside::Outside;
use super::plan::Plan;
use super::season::{Options, Season};
use super::watch::{Heard, Reduced, WatchPlan, reduce, silent_messages};
use crate::math::time::{Instant, Span};
use crate::sensing::approach::{Evidence, Mass};
use crate::sensing::channel::Sampling;
use crate::sensing::fusion::missed_together;
use crate::sensing::reading::{Sky, Surroundings};
use crate::sensing::remembered::RememberedMass;
use crate::sensing::sight::Body;

/// The mower's way home and the phase of the sampling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Path {
    /// Speed as a multiple of the usual one.
    pub pace: f64,
    /// Sideways offset, m.
    pub sideways_m: f64,
    /// Where in its sampling period each sensor is when the drive begins, 0 to 1 (shifted by a third of a turn from
    /// sensor to sensor, so that they do not all sample at once).
    pub phase: f64,
}

/// What holds at the beginning of an approach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outset {
    /// Weather and light.
    pub sky: Sky,
    /// Whether the strategy's `wet` rule shortens its run rules.
    pub short: bool,
}

/// A sensor whose readings are off by a constant for the length of an approach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// Sensor, by index into the scenario's.
    pub sensor: usize,
    /// By how much, in its reading unit.
    pub by: f64,
}

/// Probabilities that nobody asks for the door.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unnoticed {
    /// By the noise of each sensor alone.
    pub alone: f64,
    /// With the causes that the sensors share: the beta factor and the floor of the scenario.
    pub with_common: f64,
}

/// A strategy's approach.
#[derive(Clone, Debug)]
pub struct Approach<'p> {
    plan: &'p Plan,
    watch: &'p WatchPlan,
    detectors: Vec<usize>,
}

/// A chance of being unnoticed below this is not followed further.
const NEVER: f64 = 1e-40;

impl<'p> Approach<'p> {
    /// Makes ready; none if the open rule of the strategy can't be worked out with status and clock off.
    pub fn new(plan: &'p Plan, strategy: usize) -> Option<Approach<'p>> {
        let watch = plan.strategies.get(strategy)?.watch.as_ref()?;
        let silent = silent_messages(&plan.scenario);
        match reduce(&plan.scenario.strategies[strategy].open, Heard { known: watch.known(), on: 0, silent }) {
            Reduced::Any(mask) if watch.covers(&plan.scenario, mask) => {
                let detectors = (0..64).filter(|d| mask >> d & 1 == 1).collect();
                Some(Approach { plan, watch, detectors })
            }
            _ => None,
        }
    }

    /// Probability that nobody asks for the door before the nose is at the waiting point.
    pub fn unnoticed(&self, outset: &Outset, path: &Path) -> Unnoticed {
        self.unnoticed_shifted(outset, path, None)
    }

    /// The same while one sensor's readings are off.
    pub fn unnoticed_shifted(&self, outset: &Outset, path: &Path, shift: Option<Shift>) -> Unnoticed {
        let each = self.each_unnoticed(outset, path, shift);
        let common = &self.plan.scenario.common_cause;
        let alone = each.iter().product();
        // The beta-factor model is one of rare misses: of sensors that hardly see it would make a better pair than two that
        // share nothing.
        let with_common = missed_together(each.iter().copied(), common.beta).max(alone).max(common.floor);
        Unnoticed { alone, with_common }
    }

    /// The same of each detector of the open rule.
    fn each_unnoticed(&self, Outset { sky, short }: &Outset, path: &Path, shift: Option<Shift>) -> Vec<f64> {
        let scenario = &self.plan.scenario;
        let (mower, way) = (&scenario.mower, &scenario.mower.approach);
        let waits_at = mower.shut_door.waits_at_m;
        let start = Instant::START;
        let slow_from = (way.slow_from_m.max(waits_at), path.sideways_m);
        let fast = Motion::straight(start, (way.from_m, path.sideways_m), slow_from, way.speed_m_s * path.pace);
        let to = (waits_at, path.sideways_m);
        let slow = Motion::straight(fast.ends(), fast.end(), to, way.slow_speed_m_s * path.pace);
        let body = |at: Instant| {
            let (x, y) = if at < fast.ends() { fast.at(at) } else { slow.at(at) };
            Body::of_mower(mower, x, y)
        };
        let mut each = Vec::with_capacity(self.detectors.len());
        let mut mass = Mass::default();
        for (place, detector) in self.detectors.iter().enumerate() {
            let Some(chain) = self.watch.chain(*detector, *short) else { return vec![1.0] };
            let index = scenario.detectors[*detector].sensor;
            let (sensor, eye) = (&scenario.sensors[index], &self.plan.eyes[index]);
            let mut seeing = eye.seeing(sky);
            if let Some(shift) = shift.filter(|shift| shift.sensor == index) {
                seeing.offset += shift.by;
            }
            let turn = path.phase + place as f64 / 3.0;
            let mut at = start + Span(((turn - libm::floor(turn)) * sensor.period.0 as f64) as i64);
            let end = slow.ends() - sensor.latency;
            chain.start(Evidence { hits: 0, spoke: 0 }, &mut mass);
            let correlation = sensor.errors.noise_correlation;
            let mut remembered = (correlation > 0.0).then(|| RememberedMass::new(correlation));
            let mut total = 1.0;
            while at < end && total > NEVER {
                let bodies = [body(at)];
                let around = Surroundings::before_shut_door(&bodies, *sky, seeing);
                let law = eye.law(&around);
                total = match &mut remembered {
                    Some(remembered) => {
                        remembered.step(chain, &law);
                        remembered.total()
                    }
                    None => {
                        chain.step(chain.odds(&law), &mut mass, 0.0);
                        mass.total()
                    }
                };
                at += sensor.period;
            }
            each.push(total);
        }
        each
    }
}

/// What held at the beginning of each approach of a season, one for each arrival: also of those at which a
/// message came, somebody was near or a sensor was faulty, for an approach by itself leaves these out ([`Approach`]).
pub fn outsets(plan: &Plan, outside: &Outside, strategy: usize, seed: u64) -> Vec<Outset> {
    let options = Options { sampling: Sampling::Exact, events: false };
    Season::record_outsets(plan, outside, strategy, seed, options)
}
