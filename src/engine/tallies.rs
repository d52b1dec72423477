//! What each detector did: false runs by condition, how soon and how far away it noticed the mower, how long it was blind.

use super::mower::Doing;
use super::season::Season;
use crate::ledger::record::{AFTER_RAIN, DetectorTally, Hour};
use crate::math::time::{Instant, Span};
use crate::scenario::mower::Mower;
use crate::scenario::sensor::{SensorKind, TiltOn};
use crate::sensing::reading::Eye;
use crate::sensing::sight::Body;
use crate::sensing::statistic::{Frame, fades_after};

impl Season<'_> {
    /// Today's hours by the local clock: the one that it is now.
    pub fn this_hour(&mut self) -> &mut Hour {
        let hour = self.plan.clock.hour_of_day(self.now);
        self.book.hour(hour)
    }

    /// Opens the tallies.
    pub fn open_tallies(&mut self) {
        let count = self.plan.scenario.detectors.len();
        self.book.record().detectors = vec![DetectorTally::default(); count];
    }

    /// Which of the conditions by which false runs are told apart holds now: rain, daylight, night.
    pub fn condition(&self) -> usize {
        if self.sky.rain_mm_h > 0.0 {
            0
        } else if self.sky.light_klux > 0.0 {
            AFTER_RAIN
        } else {
            AFTER_RAIN + 1
        }
    }

    /// Accounts for the time up to `at`, in which this condition held and these sensors were blind (as bits).
    pub fn tally_time(&mut self, at: Instant, condition: usize, mut blind: u64) {
        let hours = at.since(self.tallied).hours();
        if hours <= 0.0 {
            return;
        }
        self.tallied = at;
        self.book.record().condition_h[condition] += hours;
        while blind != 0 {
            for detector in &self.senses[blind.trailing_zeros() as usize].detectors {
                self.book.record().detectors[*detector].blind_h += hours;
            }
            blind &= blind - 1;
        }
    }

    /// A detector of sensor `index` has gone on.
    pub fn tally_on(&mut self, index: usize, detector: usize) {
        let sensor = self.senses[index].sensor;
        if !looks(&self.plan.scenario.sensors[sensor].kind) {
            return;
        }
        let approaching = matches!(self.mower.doing, Doing::Approaching | Doing::Nearing) && self.approach.is_some();
        let seen = approaching && self.could_notice(index) && !self.nothing_in_view(index);
        if seen && self.noticed >> detector & 1 == 0 {
            self.seen |= 1 << detector;
        } else if !self.senses[index].is_faulty()
            && self.nothing_in_view(index)
            && !self.remembers_somebody(index, detector)
        {
            let condition = self.condition();
            self.book.record().detectors[detector].false_runs.counted[condition] += 1;
        }
    }

    /// Whether a detector of sensor `index` may still remember somebody who was in view a moment ago.
    fn remembers_somebody(&self, index: usize, detector: usize) -> bool {
        let spec = &self.plan.scenario.sensors[self.senses[index].sensor];
        let law = self.law_at_rest(index);
        let likeliest = law.targets.iter().max_by(|a, b| a.weight.total_cmp(&b.weight));
        let rest = likeliest.filter(|target| target.weight > law.far).map_or(f64::INFINITY, |target| target.mean);
        let samples = fades_after(&self.plan.scenario.detectors[detector], &Frame::of(spec), rest) as i64;
        let since = self.now - Span(spec.period.0.saturating_mul(samples));
        if self.vanished >= since {
            return true;
        }
        if self.mower.motion.is_still_since(since) && self.guests_here().all(|guest| guest.motion.is_still_since(since))
        {
            return false;
        }
        (1..=samples).any(|back| self.law_of(index, self.now - Span(spec.period.0 * back)) != law)
    }

    /// Somebody is no longer there: a mower far enough away, a guest who has gone, an object that was taken away.
    pub fn vanishes(&mut self) {
        self.vanished = self.now;
    }

    /// The controller hears that a detector is on: by then it has noticed the mower, if it saw it.
    pub fn tally_heard(&mut self, detector: usize) {
        if self.seen >> detector & 1 == 0 {
            return;
        }
        let Some(began) = self.approach else { return };
        self.seen &= !(1 << detector);
        self.noticed |= 1 << detector;
        let seconds = self.now.since(began).seconds();
        let left_m = self.mower.motion.at(self.now).0 - self.plan.scenario.mower.shut_door.waits_at_m;
        let tally = &mut self.book.record().detectors[detector];
        tally.after.add(seconds);
        tally.left.add(left_m.max(0.0));
    }

    /// The drive to the door begins; detectors that are on already have noticed it from the beginning.
    pub fn tally_approach(&mut self) {
        self.approach = Some(self.now);
        (self.noticed, self.seen) = (0, 0);
        for index in 0..self.senses.len() {
            for place in 0..self.senses[index].detectors.len() {
                let detector = self.senses[index].detectors[place];
                if self.channels[index].is_on(place) && self.could_notice(index) {
                    self.seen |= 1 << detector;
                }
                if self.heard >> detector & 1 == 1 {
                    self.tally_heard(detector);
                }
            }
        }
    }

    /// The nose is at the waiting point: who has not noticed it yet has not noticed it in time.
    pub fn tally_arrival(&mut self) {
        if self.approach.take().is_none() {
            return;
        }
        for index in 0..self.senses.len() {
            if !self.could_notice(index) {
                continue;
            }
            for place in 0..self.senses[index].detectors.len() {
                let detector = self.senses[index].detectors[place];
                if self.noticed >> detector & 1 == 0 {
                    self.book.record().detectors[detector].unnoticed += 1;
                }
            }
        }
    }

    /// Whether sensor `index` looks at the way to the door at all.
    fn could_notice(&self, index: usize) -> bool {
        self.plan.watches_way[self.senses[index].sensor]
    }
}

/// Whether a sensor looks at the mower's way to the door, between where it turns in and where it waits.
pub fn watches_way(eye: &Eye, mower: &Mower) -> bool {
    let half = 0.5 * mower.length_m;
    let (from, to) = (mower.approach.from_m, mower.shut_door.waits_at_m);
    looks(&eye.sensor().kind)
        && eye.could_notice((from + half, 0.0), (to + half, 0.0), half.hypot(0.5 * mower.width_m))
        && eye.could_meet([&Body::of_mower(mower, from, 0.0), &Body::of_mower(mower, to, 0.0)])
}

/// Whether a kind of sensor sees bodies.
pub fn looks(kind: &SensorKind) -> bool {
    match kind {
        SensorKind::OpticalRange { .. }
        | SensorKind::PhotonRange { .. }
        | SensorKind::UltrasonicRange { .. }
        | SensorKind::BreakBeam { .. }
        | SensorKind::PlatformLoad { .. }
        | SensorKind::Tilt { on: TiltOn::Platform { .. } } => true,
        SensorKind::Tilt { on: TiltOn::Panel }
        | SensorKind::EndSwitch { .. }
        | SensorKind::RainGauge
        | SensorKind::Status { .. }
        | SensorKind::Clock { .. } => false,
    }
}
