//! What a missed arrival or departure is put down to.

use super::season::Season;
use super::tallies::looks;
use crate::ledger::blame::Blamed;
use crate::scenario::sensor::{SensorKind, StatusCode};
use crate::scenario::strategy::{Detector, Statistic};
use crate::sensing::law::Target;
use crate::sensing::reading::{Sky, Surroundings};
use crate::sensing::sight::Body;
use crate::sensing::statistic::Levels;
use crate::shelter::controller::State as Control;

/// Weather and light that take so large a share of the readings that would show the mower are to blame (common practice).
const TAKES_AWAY: f64 = 0.25;

/// From this chance in a reading on the mower counts as within reach (common practice).
const WITHIN_REACH: f64 = 0.5;

/// Places along the mower's way to the door at which its chance to be made out is looked at.
const PLACES: usize = 24;

/// How well the mower is made out on its way to the door.
#[derive(Clone, Copy)]
struct MadeOut {
    /// The mean over the way of its chance in a reading.
    mean: f64,
    /// The chance where it is best.
    best: f64,
}

impl Season<'_> {
    /// The likeliest cause of an arrival that nobody has noticed: whatever keeps the controller from opening, then faults; then, if the
    /// sensors that look could have opened by themselves, weather and light without which more of their readings on its way
    /// would have shown the mower; then a message without which the door stays shut; and last what the design leaves undone.
    pub fn missed_cause(&mut self) -> usize {
        let listening = self.listening();
        let cause = if let Some(kept) = self.kept_from_opening() {
            kept
        } else if listening.iter().any(|place| self.is_at_fault(*place)) {
            "sensor fault"
        } else {
            self.unseen_cause(&listening)
        };
        self.plan.cause(Blamed::MissedArrivals, cause)
    }

    /// The likeliest cause of a departure that was given up: whatever keeps the controller from opening; a door that is asked for and comes
    /// too late; a mower that says nothing; a message, a sensor without its fault, or an hour with which it would have been asked for; and
    /// last what the design leaves undone.
    pub fn missed_departure_cause(&self, silent: bool) -> usize {
        let open = self.strategy.open_detectors;
        let listening = self.listening();
        let votes = self.votes() & open;
        let [rule, ..] = &self.rules;
        let of = |wanted: fn(&SensorKind) -> bool| self.asked_of(&listening, |place, _| wanted(self.kind_of(place)));
        let untold = self.untold(&listening, votes);
        // What a mower that leaves would have them hear.
        let told = self.plan.scenario.detectors_that(|it| it.says.contains(&StatusCode::Leaving)) & open;
        let messages = of(|kind| matches!(kind, SensorKind::Status { .. }));
        let had_it_spoken = votes & !messages | told;
        let at_fault = self.asked_of(&listening, |place, _| self.is_at_fault(place));
        let faulty = at_fault & !votes;
        let clocks = of(|kind| matches!(kind, SensorKind::Clock { .. })) & !votes;
        let cause = if let Some(kept) = self.kept_from_opening() {
            kept
        } else if self.controller.wants_open() {
            "door too late"
        } else if silent && rule.rests_on(had_it_spoken) {
            "mower silent"
        } else if untold != 0 && rule.rests_on(votes ^ untold) {
            if self.network_faults > 0 {
                "network"
            } else if at_fault & untold != 0 {
                "sensor fault"
            } else {
                "message not heard"
            }
        } else if [votes | faulty, votes & !at_fault]
            .iter()
            .any(|sound| *sound != votes && (rule.rests_on(*sound) || rule.rests_on(sound ^ untold)))
        {
            "sensor fault"
        } else if clocks != 0 && (rule.rests_on(votes | clocks) || rule.rests_on((votes | clocks) ^ untold)) {
            "outside the hours"
        } else if told == 0 {
            "nothing listens for it"
        } else {
            "another condition of the rule"
        };
        self.plan.cause(Blamed::MissedDepartures, cause)
    }

    /// The sensors that the open rule asks.
    fn listening(&self) -> Vec<usize> {
        let open = self.strategy.open_detectors;
        let listens = |place: &usize| self.senses[*place].detectors.iter().any(|d| open >> d & 1 == 1);
        (0..self.senses.len()).filter(listens).collect()
    }

    fn kind_of(&self, place: usize) -> &SensorKind {
        &self.plan.scenario.sensors[self.senses[place].sensor].kind
    }

    fn is_at_fault(&self, place: usize) -> bool {
        self.senses[place].has_fault() || self.episode_on(place)
    }

    /// What keeps the controller from opening, whatever it hears.
    fn kept_from_opening(&self) -> Option<&'static str> {
        if !self.powered {
            return Some("power");
        }
        match self.controller.state() {
            Control::Fault => Some("controller in fault"),
            Control::Manual => Some("worked by hand"),
            Control::Startup => Some("starting up"),
            // It waits to try again.
            Control::Stopped => Some(if self.door.has_tripped() { "thermal cut-out" } else { "failed stroke" }),
            _ => None,
        }
    }

    /// The detectors of the open rule on these sensors of which a sensor's place and detector tell that they are wanted.
    fn asked_of(&self, places: &[usize], wanted: impl Fn(usize, usize) -> bool) -> u64 {
        let detectors = places.iter().flat_map(|place| self.senses[*place].detectors.iter().map(move |d| (*place, *d)));
        let wanted = detectors.filter(|(place, detector)| wanted(*place, *detector));
        wanted.fold(0, |bits, (_, detector)| bits | 1 << detector) & self.strategy.open_detectors
    }

    /// The detectors of the open rule that listen to messages on these sensors and are not as what the mower announced last would have them.
    fn untold(&self, listening: &[usize], votes: u64) -> u64 {
        self.asked_of(listening, |place, detector| {
            let said = self.plan.scenario.detectors[detector].says.contains(&self.announced);
            matches!(self.kind_of(place), SensorKind::Status { .. }) && said != (votes >> detector & 1 == 1)
        })
    }

    /// Why these sensors, none of which is at fault, have not opened the door. What would have is found by asking the rule again
    /// with other answers.
    fn unseen_cause(&mut self, listening: &[usize]) -> &'static str {
        let open = self.strategy.open_detectors;
        let of = |wanted: fn(&SensorKind) -> bool| self.asked_of(listening, |place, _| wanted(self.kind_of(place)));
        let looking: Vec<usize> = listening.iter().copied().filter(|place| looks(self.kind_of(*place))).collect();
        // Who has noticed it on its way did notice it, even if it is out of their sight by now.
        let votes = (self.votes() | self.noticed) & open;
        let eyes = of(looks);
        let clocks = of(|kind| matches!(kind, SensorKind::Clock { .. })) & !votes;
        let untold = self.untold(listening, votes);
        let [rule, ..] = &self.rules;
        let by_eyes = rule.rests_on(votes | eyes);
        let by_message = untold != 0 && (rule.rests_on(votes ^ untold) || rule.rests_on((votes | eyes) ^ untold));
        let by_clock = clocks != 0 && (rule.rests_on(votes | clocks) || rule.rests_on(votes | eyes | clocks));
        let asks_too_late = rule.rests_on(votes | self.seen);

        if by_message && self.network_faults > 0 {
            return "network";
        }
        let clear = self.asked || asks_too_late;
        let at_present = if by_eyes && !clear {
            let (at_present, blamed) = self.weather_to_blame(&looking);
            if let Some(blamed) = blamed {
                return blamed;
            }
            Some(at_present)
        } else {
            None
        };
        if by_message {
            "message not heard"
        } else if self.asked {
            "shut again too early"
        } else if asks_too_late || at_present.is_some_and(|it| it.best >= WITHIN_REACH) {
            "noticed too late"
        } else if at_present.is_some() {
            "out of reach"
        } else if by_clock {
            "outside the hours"
        } else if looking.is_empty() {
            "no particular condition"
        } else {
            "another condition of the rule"
        }
    }

    /// How well these sensors make the mower out at present, and what of weather, light and drift takes too much of that away. One after
    /// the other is taken away, until a dry night with clean windows and readings that have not drifted is left.
    fn weather_to_blame(&mut self, looking: &[usize]) -> (MadeOut, Option<&'static str>) {
        let dry = Sky { rain_mm_h: 0.0, ..self.sky };
        let clean = Sky { dew: false, days: 0.0, ..dry };
        let dark = Sky { light_klux: 0.0, direct_klux: 0.0, sun: None, ..clean };
        let at_present = self.made_out(looking, self.sky, true);
        let (mut before, mut most, mut blamed) = (at_present.mean, 0.0, None);
        let without = [
            (dry, true, "rain"),
            (clean, true, "dew or dirt"),
            (dark, true, "sun or daylight"),
            (dark, false, "drift"),
        ];
        for (sky, drifted, name) in without {
            let mean = self.made_out(looking, sky, drifted).mean;
            if mean - before > most {
                (most, blamed) = (mean - before, Some(name));
            }
            before = mean;
        }
        let takes = before - at_present.mean;
        (at_present, blamed.filter(|_| takes >= TAKES_AWAY * before))
    }

    /// The chance that a reading under this sky, `drifted` as it is or not, shows the mower on its way to the door, by the sensor that shows
    /// it best in each place: to a detector of the open rule that goes on by what is read, on its on side.
    fn made_out(&mut self, sensors: &[usize], sky: Sky, drifted: bool) -> MadeOut {
        let present = std::mem::replace(&mut self.sky, sky);
        let mower = &self.plan.scenario.mower;
        let (from, to) = (mower.approach.from_m, mower.shut_door.waits_at_m);
        let sideways_m = self.mower.motion.at(self.now).1;
        let mut made_out = MadeOut { mean: 0.0, best: 0.0 };
        for place in 0..PLACES {
            let x_m = from + (to - from) * place as f64 / (PLACES - 1) as f64;
            let body = Body::of_mower(mower, x_m, sideways_m);
            let chance = sensors.iter().map(|sensor| self.shows(*sensor, &body, drifted)).fold(0.0, f64::max);
            made_out.mean += chance / PLACES as f64;
            made_out.best = made_out.best.max(chance);
        }
        self.sky = present;
        made_out
    }

    fn shows(&self, place: usize, mower: &Body, drifted: bool) -> f64 {
        let sense = &self.senses[place];
        let eye = &self.plan.eyes[sense.sensor];
        let seeing = eye.seeing(&self.sky);
        let by = if drifted { sense.drifted() } else { -eye.drift(&self.sky) };
        let (seeing, _) = self.spoilt(place, seeing.shifted(by));
        let around = self.around(place, self.now, std::slice::from_ref(mower));
        // Without its drift, a zero that follows it would be as far off.
        let zero = if drifted { around.zero } else { 0.0 };
        let around = Surroundings { seeing, zero, ..around };
        let (law, rest) = (eye.law(&around), eye.law(&Surroundings { bodies: &[], ..around }));
        let open = self.strategy.open_detectors;
        let asked =
            || sense.detectors.iter().filter(|d| open >> **d & 1 == 1).map(|d| &self.plan.scenario.detectors[*d]);
        let weight = |targets: &[Target; 2], mean: f64| -> f64 {
            targets.iter().filter(|target| target.mean == mean).map(|target| target.weight).sum()
        };
        // Nearer than the blind zone nothing is read, beyond its range "far".
        let is_read = |mean: f64| law.lowest <= mean && mean <= law.highest;
        let counts =
            |target: &&Target| target.weight > 0.0 && is_read(target.mean) && asked().any(|d| minds(d, target.mean));
        let new = law.targets.iter().filter(counts);
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

impl Season<'_> {
    /// The controller wants the door open while the mower is on its way home: it has been asked to if one of its detectors has noticed
    /// the mower, or one that listens to its messages is on.
    pub fn asked_on_way(&mut self, votes: u64) {
        if self.asked || !self.mower.is_coming() {
            return;
        }
        let told = self.plan.scenario.detectors_that(|detector| detector.says.contains(&self.announced));
        self.asked = votes & self.strategy.open_detectors & (self.noticed | told) != 0;
    }
}
