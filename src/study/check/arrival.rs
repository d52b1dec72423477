//! A way home played against a strategy's rules, with nothing else about: when is the door asked for?
//!
//! The readings are drawn from the sensors' own laws, go through the detectors as they are, and the rules are evaluated as the
//! controller evaluates them: combinations, durations and log-odds need no reading of their own. Weather, visitors, faults and
//! lost messages are left out; what is typical is the median of a few replays. The same play goes on past the waiting point where the
//! question is what closes on the mower while it drives in ([`closings`]).

use super::timing::{QUICK, nose_at, travel_s};
use crate::math::random::Source;
use crate::math::time::{Instant, Span};
use crate::scenario::Scenario;
use crate::scenario::sensor::{SensorKind, StatusCode, TiltOn};
use crate::scenario::strategy::{Condition, Strategy};
use crate::sensing::detector::DetectorState;
use crate::sensing::law::Law;
use crate::sensing::reading::{Eye, Seeing, Sky, Surroundings};
use crate::sensing::sight::Body;
use crate::sensing::statistic::Frame;
use crate::shelter::bus;
use crate::shelter::condition::{Evaluator, detectors_of};

/// Replays of a way home of which the median counts; odd.
const REPLAYS: u64 = 15;
/// The drive begins a day after the rules, so that what has held for long has done so.
const BEGIN: Instant = Instant(Span::DAY.0);
/// Longest wait before the shut door that is looked at, s.
const WAITS_S: f64 = 120.0;
/// Most samples of one sensor that are looked at.
const SAMPLES_MAX: usize = 20_000;
/// By how much earlier a detector must speak to see whether the door is then asked for earlier.
const EARLIER: Span = Span(500_000);

/// One kind of way home.
#[derive(Clone, Copy, Debug)]
pub(super) struct Way {
    /// Standard deviations by which the mower is quicker, and messages later, than the mean.
    pub quick: f64,
    /// How far it comes beside the middle, m.
    pub aside_m: f64,
    /// Light and air.
    pub sky: Sky,
    /// Whether it sets out for home as the mowing hours end, on a long way; else within them.
    pub after_hours: bool,
}

/// Times of the door, s.
#[derive(Clone, Copy, Debug)]
pub(super) struct Times {
    /// From the request to the open door, the warning included.
    pub opens_s: f64,
    /// Closing stroke.
    pub closes_s: f64,
}

/// A sample.
struct Sample {
    at: Instant,
    sensor: usize,
    /// None where it depends on the door.
    law: Option<Law>,
    /// Where the nose is, once the mower drives to the door, m.
    nose_m: Option<f64>,
}

/// A way home, laid out.
struct Home<'s> {
    scenario: &'s Scenario,
    strategy: &'s Strategy,
    times: Times,
    eyes: Vec<Option<Eye>>,
    samples: Vec<Sample>,
    sky: Sky,
    aside_m: f64,
    drives: Instant,
    arrives: Instant,
    ends: Instant,
    /// Whether it goes on from its waiting point into the dock.
    drives_in: bool,
}

/// What came of it.
#[derive(Clone, Debug)]
pub(super) struct Outcome {
    /// Time from the request to the mower's arrival at its waiting point, s: negative if it had to wait for it, infinite if the
    /// door stands open anyhow, none if the door is never asked for.
    pub left_s: Option<f64>,
    /// Detector of the open rule that decides when: the one that would have to speak earlier, or, if the door is never asked for,
    /// to speak at all.
    pub decides: Option<usize>,
    /// The door was asked for and opened, but shut again before the mower came, and nothing asked anew.
    pub shut_again: bool,
}

/// The door as far as it matters here.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Door {
    Shut,
    Opening(Instant),
    Open(Instant),
    /// Announced, and begins to move at this moment.
    Closing(Instant),
}

/// Stretches of time, each from its beginning to its end.
type Stretches = Vec<(Instant, Instant)>;

struct Replay {
    /// When the door that is open, or opens, on arrival was asked for; and whether it stood open from the start.
    asked: Option<(Instant, bool)>,
    shut_since: Instant,
    shut_again: bool,
    first: u64,
    turns: Vec<(Instant, usize, bool)>,
    /// Whether the door stood open when the mower came to its waiting point.
    found_open: bool,
    /// When the panel moved towards shut.
    closings: Stretches,
}

/// The typical outcome of a way home.
pub(super) fn outcome(scenario: &Scenario, strategy: &Strategy, times: Times, way: &Way) -> Outcome {
    let home = Home::new(scenario, strategy, times, way, false);
    let mut all: Vec<(f64, Replay)> = (0..REPLAYS)
        .map(|number| {
            let replay = home.replay(number);
            (home.left_s(&replay).unwrap_or(f64::NEG_INFINITY), replay)
        })
        .collect();
    all.sort_by(|one, other| one.0.total_cmp(&other.0));
    let (left_s, replay) = &all[all.len() / 2];
    let left_s = (*left_s > f64::NEG_INFINITY).then_some(*left_s);
    Outcome { left_s, decides: home.decides(replay), shut_again: left_s.is_none() && replay.shut_again }
}

/// Where the panel moves towards shut while the mower drives home and on into its dock: from when to when, s after the drive towards
/// the door has begun, of each replay in which it finds the door open.
pub(super) fn closings(
    scenario: &Scenario,
    strategy: &Strategy,
    times: Times,
    way: &Way,
    replays: u64,
) -> Vec<Vec<(f64, f64)>> {
    let home = Home::new(scenario, strategy, times, way, true);
    let seconds = |at: Instant| at.since(home.drives).seconds();
    let found_open = (0..replays).map(|number| home.replay(number)).filter(|replay| replay.found_open);
    found_open.map(|replay| replay.closings.iter().map(|(from, to)| (seconds(*from), seconds(*to))).collect()).collect()
}

/// Place of the nose so long after the drive towards the door has begun, at the mean pace: up to the waiting point, and from there on
/// into the dock where it drives in.
pub(super) fn place_m(scenario: &Scenario, elapsed_s: f64, drives_in: bool) -> f64 {
    let (mower, approach) = (&scenario.mower, &scenario.mower.approach);
    let waits_m = mower.shut_door.waits_at_m;
    let after_s = elapsed_s - travel_s(approach, approach.from_m, waits_m);
    if drives_in && after_s > 0.0 {
        (waits_m - approach.slow_speed_m_s * after_s).max(-mower.dock.depth_m)
    } else {
        nose_at(mower, elapsed_s)
    }
}

/// The pace of a way as a multiple of the mean.
pub(super) fn pace(scenario: &Scenario, way: &Way) -> f64 {
    scenario.mower.approach.pace(way.quick)
}

impl<'s> Home<'s> {
    fn new(scenario: &'s Scenario, strategy: &'s Strategy, times: Times, way: &Way, drives_in: bool) -> Home<'s> {
        let (mower, approach) = (&scenario.mower, &scenario.mower.approach);
        let rules = [&strategy.open, &strategy.hold, &strategy.doorway, &strategy.close];
        let named = rules.iter().fold(0, |bits, rule| bits | detectors_of(rule));
        let used = |sensor: usize| {
            let of = |index: usize| scenario.detectors[index].sensor == sensor && named >> index & 1 == 1;
            (0..scenario.detectors.len()).any(of)
        };
        let pace = pace(scenario, way);
        let home = approach.way_home;
        let home_s =
            if way.after_hours { home.mean_s + QUICK * home.sd_s } else { home.mean_s - way.quick * home.sd_s }
                .max(0.1 * home.mean_s);
        let sets_out = BEGIN + Span::SECOND;
        let drives = sets_out + Span::from_seconds(home_s);
        let arrives =
            drives + Span::from_seconds(travel_s(approach, approach.from_m, mower.shut_door.waits_at_m) / pace);
        let ends = arrives
            + Span::from_seconds(if drives_in {
                (mower.shut_door.waits_at_m + mower.dock.depth_m) / (approach.slow_speed_m_s * pace)
            } else {
                mower.shut_door.patience_s.min(WAITS_S)
            });
        let (mut eyes, mut samples) = (Vec::new(), Vec::new());
        for (index, sensor) in scenario.sensors.iter().enumerate() {
            if !used(index) {
                eyes.push(None);
                continue;
            }
            let eye = Eye::new(sensor).at_door(scenario.door.height_m);
            let seeing = dry(&eye, &way.sky);
            let told = matches!(sensor.kind, SensorKind::Status { .. } | SensorKind::Clock { .. });
            let period = Span::from_seconds(bus::reachable_period_s(scenario, index)).max(Span(1));
            let mut taken = if told { BEGIN } else { drives };
            let mut last: Option<(f64, Law)> = None;
            for _ in 0..SAMPLES_MAX {
                taken += period;
                if taken > ends {
                    break;
                }
                let nose = place_m(scenario, taken.since(drives).seconds() * pace, drives_in);
                let law = match last {
                    Some((before, law)) if before == nose && !told => Some(law),
                    _ if needs_door(&sensor.kind) || eye.looks_through_door() => None,
                    _ => {
                        let body = Body::of_mower(mower, nose, way.aside_m);
                        let bodies = if taken > drives { &[body][..] } else { &[] };
                        let mut around = Surroundings::before_shut_door(bodies, way.sky, seeing);
                        around.status = said(scenario, &sensor.kind, way, taken.since(sets_out));
                        around.clock = on_time(&sensor.kind, way, taken.since(sets_out));
                        Some(eye.law(&around))
                    }
                };
                last = law.map(|law| (nose, law));
                let nose_m = (taken > drives).then_some(nose);
                samples.push(Sample { at: taken + sensor.latency, sensor: index, law, nose_m });
            }
            eyes.push(Some(eye));
        }
        samples.sort_by_key(|sample| sample.at);
        let (sky, aside_m) = (way.sky, way.aside_m);
        Home { scenario, strategy, times, eyes, samples, sky, aside_m, drives, arrives, ends, drives_in }
    }

    /// The law of a sensor with nobody about, some time before.
    fn before(&self, sensor: usize) -> Law {
        let Some(eye) = &self.eyes[sensor] else { return Law::SILENT };
        let mut around = Surroundings::before_shut_door(&[], self.sky, dry(eye, &self.sky));
        let kind = &self.scenario.sensors[sensor].kind;
        let within = Way { quick: 0.0, aside_m: 0.0, sky: self.sky, after_hours: false };
        around.status = said(self.scenario, kind, &within, Span(-1));
        around.clock = true;
        eye.law(&around)
    }

    fn replay(&self, number: u64) -> Replay {
        let mut stream = Source::new(0, 0, "ways home of a check").stream(number);
        let detectors = &self.scenario.detectors;
        let mut states: Vec<Option<DetectorState>> = Vec::new();
        let mut bits = 0_u64;
        for (index, detector) in detectors.iter().enumerate() {
            let sensor = &self.scenario.sensors[detector.sensor];
            let mut state =
                self.eyes[detector.sensor].as_ref().map(|_| DetectorState::new(detector, &Frame::of(sensor)));
            if let Some(state) = &mut state {
                // What stands in its windows before anything comes.
                let law = self.before(detector.sensor);
                for _ in 0..2 * (state.memory() + detector.rule.n.max(detector.release.n)) {
                    state.feed(law.draw(&mut stream));
                }
                bits |= u64::from(state.is_on()) << index;
            }
            states.push(state);
        }
        let mut watch = Watch::new(self, bits);
        for sample in &self.samples {
            watch.wait_until(sample.at, bits);
            let law = match (&sample.law, &self.eyes[sample.sensor]) {
                (Some(law), _) => *law,
                (None, Some(eye)) => {
                    let body = sample.nose_m.map(|nose| Body::of_mower(&self.scenario.mower, nose, self.aside_m));
                    let bodies = if needs_door(&eye.sensor().kind) { &[] } else { body.as_slice() };
                    let mut around = Surroundings::before_shut_door(bodies, self.sky, dry(eye, &self.sky));
                    around.door_shut = watch.door == Door::Shut;
                    around.door_open = matches!(watch.door, Door::Open(_));
                    eye.law(&around)
                }
                (None, None) => continue,
            };
            let reading = law.draw(&mut stream);
            for (index, state) in states.iter_mut().enumerate() {
                if detectors[index].sensor == sample.sensor
                    && let Some(state) = state
                    && state.feed(reading)
                {
                    bits ^= 1 << index;
                    watch.turns.push((sample.at, index, state.is_on()));
                }
            }
            watch.settle(sample.at, bits);
        }
        watch.wait_until(self.ends, bits);
        watch.stops_closing(self.ends);
        let Watch { asked, shut_since, shut_again, first, turns, found_open, closings, .. } = watch;
        Replay { asked, shut_since, shut_again, first, turns, found_open: found_open == Some(true), closings }
    }

    fn left_s(&self, replay: &Replay) -> Option<f64> {
        let (at, already) = replay.asked?;
        Some(if already { f64::INFINITY } else { self.arrives.since(at).seconds() })
    }

    /// The detector that would bring the request forward by speaking earlier; if there is no request, one that would bring it by
    /// speaking.
    fn decides(&self, replay: &Replay) -> Option<usize> {
        let named = detectors_of(&self.strategy.open);
        let of_rule = (0..self.scenario.detectors.len()).filter(|index| named >> index & 1 == 1);
        let Some((at, _)) = replay.asked else {
            return of_rule
                .filter(|index| {
                    let turns: Vec<_> = replay.turns.iter().copied().filter(|turn| turn.1 != *index).collect();
                    let asks = self.first_hold(replay.first | 1 << index, &turns, replay.shut_since).is_some();
                    asks && replay.first >> index & 1 == 0
                })
                // What can see it rather than what only ever speaks of something else.
                .max_by_key(|index| super::single::notices(self.scenario, *index));
        };
        of_rule
            .filter_map(|index| {
                let mut turns = replay.turns.clone();
                for turn in turns.iter_mut().filter(|turn| turn.1 == index && turn.2) {
                    turn.0 = turn.0 - EARLIER;
                }
                turns.sort_by_key(|turn| turn.0);
                let earlier = self.first_hold(replay.first, &turns, replay.shut_since)?;
                (earlier < at).then_some((at.since(earlier), index))
            })
            .max_by_key(|(gain, _)| *gain)
            .map(|(_, index)| index)
    }

    /// When the open rule first holds from a moment on.
    fn first_hold(&self, first: u64, turns: &[(Instant, usize, bool)], from: Instant) -> Option<Instant> {
        let mut open = Evaluator::new(&self.strategy.open);
        let mut bits = first;
        let held = |open: &mut Evaluator, now: Instant, bits: u64| open.evaluate(now, bits) && now >= from;
        if held(&mut open, Instant::START, bits) || held(&mut open, BEGIN, bits) {
            return Some(BEGIN);
        }
        let mut next = turns.iter().peekable();
        loop {
            let turn = next.peek().map_or(self.ends, |turn| turn.0);
            while open.wake() < turn {
                let now = open.wake();
                if held(&mut open, now, bits) {
                    return Some(now);
                }
            }
            let (at, index, on) = *next.next()?;
            bits = if on { bits | 1 << index } else { bits & !(1 << index) };
            if held(&mut open, at, bits) {
                return Some(at);
            }
        }
    }
}

/// Rules and door along a way home.
struct Watch<'h> {
    home: &'h Home<'h>,
    open: Evaluator,
    hold: Evaluator,
    doorway: Evaluator,
    close: Evaluator,
    door: Door,
    asked: Option<(Instant, bool)>,
    shut_since: Instant,
    shut_again: bool,
    first: u64,
    turns: Vec<(Instant, usize, bool)>,
    deadline: Instant,
    /// When the door last came to stand open: being announced does not begin its time anew.
    opened: Instant,
    /// Since when the doorway has been clear, and since when no rule has held or asked for the door.
    clear_since: Instant,
    still_since: Instant,
    found_open: Option<bool>,
    closings: Stretches,
}

impl<'h> Watch<'h> {
    fn new(home: &'h Home<'h>, first: u64) -> Watch<'h> {
        let rule = |condition: &Condition| Evaluator::new(condition);
        let strategy = home.strategy;
        let mut watch = Watch {
            home,
            open: rule(&strategy.open),
            hold: rule(&strategy.hold),
            doorway: rule(&strategy.doorway),
            close: rule(&strategy.close),
            door: Door::Shut,
            asked: None,
            shut_since: BEGIN,
            shut_again: false,
            first,
            turns: Vec::new(),
            deadline: Instant::NEVER,
            opened: Instant::START,
            clear_since: Instant::START,
            still_since: Instant::START,
            found_open: None,
            closings: Vec::new(),
        };
        for rule in [&mut watch.open, &mut watch.hold, &mut watch.doorway, &mut watch.close] {
            rule.evaluate(Instant::START, first);
        }
        if watch.open.evaluate(BEGIN, first) {
            (watch.door, watch.asked) = (Door::Open(Instant::START), Some((BEGIN, true)));
        }
        watch.settle(BEGIN, first);
        watch
    }

    /// Lets timers run out before `until`.
    fn wait_until(&mut self, until: Instant, bits: u64) {
        loop {
            let rules = [&self.open, &self.hold, &self.doorway, &self.close];
            let next = rules.iter().map(|rule| rule.wake()).fold(self.deadline, Instant::min);
            if next >= until {
                return;
            }
            self.settle(next, bits);
        }
    }

    /// The panel, if it moves towards shut, does so no longer.
    fn stops_closing(&mut self, now: Instant) {
        if let Door::Closing(from) = self.door
            && from < now
        {
            self.closings.push((from, now));
        }
    }

    fn settle(&mut self, now: Instant, bits: u64) {
        let controller = &self.home.strategy.controller;
        let open = self.open.evaluate(now, bits);
        let (hold, doorway) = (self.hold.evaluate(now, bits), self.doorway.evaluate(now, bits));
        let doorway = doorway && controller.care.interlock;
        let close = self.close.evaluate(now, bits);
        let opens = Span::from_seconds(self.home.times.opens_s);
        let closes = Span::from_seconds(self.home.times.closes_s);
        // Nothing closes once the mower has come to a door that opens; unless that is the question.
        let arrived = now >= self.home.arrives && !self.home.drives_in;
        if now >= self.home.arrives {
            let stands_open =
                matches!(self.door, Door::Open(_)) || matches!(self.door, Door::Closing(from) if now <= from);
            self.found_open.get_or_insert(stands_open);
        }
        if doorway {
            self.clear_since = now;
        }
        if doorway || open || hold {
            self.still_since = now;
        }
        loop {
            self.deadline = Instant::NEVER;
            match self.door {
                Door::Shut if open => {
                    (self.door, self.asked) = (Door::Opening(now + opens), Some((now, false)));
                }
                Door::Opening(ready) if now >= ready => (self.door, self.opened) = (Door::Open(ready), ready),
                Door::Open(_) if !arrived && !open && !doorway && close => {
                    let overruled = controller.open_at_most.is_some_and(|most| now >= self.opened + most);
                    let least = self.opened + controller.open_at_least;
                    let still = self.still_since + controller.care.close_after_gone;
                    let may = if overruled { least } else { least.max(still) };
                    if now < may {
                        self.deadline = may;
                        return;
                    }
                    if hold && !overruled {
                        self.deadline = controller.open_at_most.map_or(Instant::NEVER, |most| self.opened + most);
                        return;
                    }
                    let clear = self.clear_since + controller.care.doorway_clear_for;
                    self.door = Door::Closing((now + controller.warning).max(clear));
                }
                // Only announced when the mower came: it has found the door open and driven in.
                Door::Closing(from) if arrived && from > self.home.arrives => return,
                Door::Closing(from)
                    if now < from && (open || doorway || (hold && controller.open_at_most.is_none())) =>
                {
                    self.door = Door::Open(now);
                }
                Door::Closing(from) if now >= from + closes => {
                    self.stops_closing(from + closes);
                    (self.door, self.asked, self.shut_since) = (Door::Shut, None, now);
                    self.shut_again = true;
                }
                Door::Closing(from) if now >= from && (doorway || (open && controller.care.turns_back)) => {
                    // As far back as it has come, at most a whole stroke.
                    let back = opens.min(now.since(from));
                    self.stops_closing(now);
                    (self.door, self.asked) = (Door::Opening(now + back), Some((now, false)));
                    self.shut_since = from;
                }
                Door::Opening(ready) => {
                    self.deadline = ready;
                    return;
                }
                Door::Closing(from) => {
                    self.deadline = if now < from { from } else { from + closes };
                    return;
                }
                Door::Shut | Door::Open(_) => return,
            }
        }
    }
}

/// What light and air do to a sensor, without dew on its window.
pub(super) fn dry(eye: &Eye, sky: &Sky) -> Seeing {
    let mut seeing = eye.seeing(sky);
    seeing.window.dew = 0.0;
    seeing
}

fn needs_door(kind: &SensorKind) -> bool {
    matches!(kind, SensorKind::EndSwitch { .. } | SensorKind::Tilt { on: TiltOn::Panel })
}

/// What a status sensor holds true so long after the mower has set out for home.
fn said(scenario: &Scenario, kind: &SensorKind, way: &Way, since: Span) -> Option<u8> {
    let SensorKind::Status { poll_s, delay_s, delay_spread, loss, stale_after_s } = kind else { return None };
    // Half a round of polling, or a whole one for a late message, and one for each that is lost on the average.
    let rounds = if way.quick > 0.0 { 1.0 } else { 0.5 } + loss / (1.0 - loss.min(0.999));
    let late_s = poll_s * rounds + delay_s * libm::exp(way.quick * delay_spread);
    let (seconds, polled) = (since.seconds(), *poll_s > 0.0);
    // An answer that is given up before the next poll leaves a gap before it.
    let renewed = |since_s: f64| polled && since_s % poll_s <= *stale_after_s;
    if seconds >= late_s {
        let fresh = renewed(seconds - late_s) || seconds < late_s + stale_after_s;
        return fresh.then_some(StatusCode::Returning as u8);
    }
    let run = scenario.mower.run;
    let fresh = renewed(poll_s - (late_s - seconds) % poll_s) || *stale_after_s >= run.mean_s + QUICK * run.sd_s;
    fresh.then_some(StatusCode::Mowing as u8)
}

/// Whether a clock still has its hours so long after the mower has set out for home.
fn on_time(kind: &SensorKind, way: &Way, since: Span) -> bool {
    match kind {
        SensorKind::Clock { lag_s, .. } => !way.after_hours || since.seconds() <= *lag_s,
        _ => false,
    }
}
