//! What a missed arrival is put down to.

use super::plan::MISSED_CAUSES;
use super::season::Season;
use super::tallies::looks;
use crate::scenario::sensor::SensorKind;
use crate::scenario::strategy::{Detector, Statistic};
use crate::sensing::law::Target;
use crate::sensing::reading::{Sky, Surroundings};
use crate::sensing::statistic::Levels;
use crate::shelter::controller::State as Control;

/// Weather and light that take so much of the mower's chance to be made out in a reading are to blame (common practice).
const TAKES_AWAY: f64 = 0.1;

/// From this chance in a reading on the mower counts as within reach (common practice).
const WITHIN_REACH: f64 = 0.5;

impl Season<'_> {
    /// The likeliest cause of an arrival that nobody has noticed, by what is out of the ordinary while the nose is at its waiting
    /// point: whatever keeps the controller from opening, then faults, then weather and light without which a sensor of the open
    /// rule would make the mower out more often, then a message that is not there; and last whether the mower is within reach of
    /// such a sensor at all, or a clock's hours where none looks.
    pub fn missed_cause(&mut self) -> usize {
        let open = self.strategy.open_detectors;
        let listens = |place: &usize| self.senses[*place].detectors.iter().any(|d| open >> d & 1 == 1);
        let listening: Vec<usize> = (0..self.senses.len()).filter(listens).collect();
        let cause = if !self.powered {
            "power"
        } else if self.controller.state() == Control::Fault {
            "controller in fault"
        } else if self.controller.state() == Control::Manual {
            "worked by hand"
        } else if self.controller.state() == Control::Startup {
            "starting up"
        } else if self.controller.state() == Control::Stopped {
            // It waits to try again: whatever it hears, it could not open.
            if self.door.has_tripped() { "thermal cut-out" } else { "failed stroke" }
        } else if listening.iter().any(|place| self.senses[*place].has_fault() || self.episode_on(*place)) {
            "sensor fault"
        } else if self.network_faults > 0 {
            "network"
        } else {
            self.unseen_cause(&listening)
        };
        MISSED_CAUSES.iter().position(|name| *name == cause).unwrap_or(MISSED_CAUSES.len() - 1)
    }

    /// Why these sensors, none of which is at fault, have not noticed the mower.
    fn unseen_cause(&mut self, listening: &[usize]) -> &'static str {
        let kind = |place: usize| &self.plan.scenario.sensors[self.senses[place].sensor].kind;
        let (looking, hearing): (Vec<usize>, Vec<usize>) = listening.iter().partition(|place| looks(kind(**place)));
        let ears = self.strategy.open_ears;
        let unheard = |place: usize| self.senses[place].status() != Some(self.announced as u8);
        let unheard = (0..self.senses.len()).any(|place| ears >> place & 1 == 1 && unheard(place));
        let clock = |place: usize| matches!(kind(place), SensorKind::Clock { .. });
        let off_hours = hearing.iter().any(|place| clock(*place) && !self.around(*place, self.now, &[]).clock);

        // One after the other is taken away, until a dry night with clean windows is left.
        let dry = Sky { rain_mm_h: 0.0, ..self.sky };
        let clean = Sky { dew: false, days: 0.0, ..dry };
        let dark = Sky { light_klux: 0.0, direct_klux: 0.0, sun: None, ..clean };
        let at_present = self.made_out(&looking, self.sky);
        let (mut before, mut most, mut blamed) = (at_present, 0.0, "");
        for (sky, name) in [(dry, "rain"), (clean, "dew or dirt"), (dark, "sun or daylight")] {
            let chance = self.made_out(&looking, sky);
            if chance - before > most {
                (most, blamed) = (chance - before, name);
            }
            before = chance;
        }
        if before - at_present >= TAKES_AWAY {
            blamed
        } else if unheard {
            "message not heard"
        } else if looking.is_empty() {
            if off_hours { "outside the hours" } else { "no particular condition" }
        } else if at_present >= WITHIN_REACH {
            "noticed too late"
        } else {
            "out of reach"
        }
    }

    /// The chance that a reading under this sky shows the mower where it is now, by the sensor that shows it best: to a detector of
    /// the open rule that goes on by what is read, on its on side.
    fn made_out(&mut self, places: &[usize], sky: Sky) -> f64 {
        let present = std::mem::replace(&mut self.sky, sky);
        let chance = places.iter().map(|place| self.shows_mower(*place)).fold(0.0, f64::max);
        self.sky = present;
        chance
    }

    fn shows_mower(&self, place: usize) -> f64 {
        let sense = &self.senses[place];
        let eye = &self.plan.eyes[sense.sensor];
        let mower = self.mower_body(self.now);
        let (seeing, _) = self.spoilt(place, eye.seeing(&self.sky));
        let around = Surroundings { seeing, ..self.around(place, self.now, mower.as_slice()) };
        let (law, rest) = (eye.law(&around), eye.law(&Surroundings { bodies: &[], ..around }));
        let open = self.strategy.open_detectors;
        let asked =
            || sense.detectors.iter().filter(|d| open >> **d & 1 == 1).map(|d| &self.plan.scenario.detectors[*d]);
        let weight = |targets: &[Target; 2], mean: f64| -> f64 {
            targets.iter().filter(|target| target.mean == mean).map(|target| target.weight).sum()
        };
        let new = law.targets.iter().filter(|target| target.weight > 0.0 && asked().any(|d| minds(d, target.mean)));
        new.map(|target| (target.weight - weight(&rest.targets, target.mean)).max(0.0)).sum()
    }
}

/// Whether a detector that goes on by what is read may go on by readings about this one; one that goes on by how they change may.
fn minds(detector: &Detector, mean: f64) -> bool {
    match detector.statistic {
        Statistic::ApproachRate(_) | Statistic::LikelihoodRatio(_) => true,
        _ => Levels { sense: detector.sense, on: detector.on, off: detector.off }.speaks(mean, false),
    }
}
