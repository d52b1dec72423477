//! What happened on a day and why, read from its events and its film.

use crate::engine::{Plan, state_name, stops};
use crate::ledger::film::{About, Film};
use crate::ledger::record::EventRow;
use crate::math::time::Instant;
use crate::scenario::failure::Often;
use crate::scenario::strategy::{Sense, Statistic};
use crate::shelter::controller::State;

/// Something worth telling.
#[derive(Clone, Debug, PartialEq)]
pub struct Incident {
    /// When.
    pub at: Instant,
    /// What.
    pub what: Happened,
}

/// What happened.
#[derive(Clone, Debug, PartialEq)]
pub enum Happened {
    /// Nobody had asked for the door when the nose reached its waiting point.
    Missed {
        /// What was out of the ordinary.
        cause: String,
        /// How near each detector that could ask came to asking.
        detectors: Vec<Closest>,
    },
    /// The door opened for nobody.
    FalseOpening {
        /// Likeliest cause.
        cause: String,
        /// Detectors that were on.
        by: String,
    },
    /// The door touched somebody, or the mower the door.
    Contact {
        /// Who moved.
        who: String,
        /// Force and place.
        detail: String,
    },
    /// A person had to help.
    Stranded {
        /// Whether it had come in.
        inside: bool,
        /// What kept it.
        why: String,
    },
    /// The mower stood outside.
    Waited {
        /// For how long, s.
        seconds: f64,
    },
    /// A departure was given up because the door stayed shut.
    GivenUp,
    /// A stroke failed or was refused.
    StrokeFailed {
        /// Why, if it was said.
        why: String,
    },
    /// The motor's cut-out opened.
    Tripped,
    /// Somebody was shut in.
    ShutIn {
        /// Who.
        who: String,
    },
    /// A fault of a sensor, of the power or of the network began.
    Fault {
        /// Its name.
        name: String,
    },
    /// A failure began.
    Failure {
        /// Its name.
        name: String,
    },
    /// The controller gave up and waits for a person, or was waiting when the day began.
    WaitsForPerson {
        /// For how long, that day, s.
        seconds: f64,
    },
    /// The door is worked by hand, or was when the day began.
    ByHand {
        /// For how long, that day, s.
        seconds: f64,
    },
}

impl Happened {
    /// Whether it is bad in itself: a failure that begins may come to nothing.
    pub fn is_mishap(&self) -> bool {
        !matches!(self, Happened::Failure { .. })
    }
}

/// How near a detector came to asking while the mower drove up.
#[derive(Clone, Debug, PartialEq)]
pub struct Closest {
    /// Its name.
    pub detector: String,
    /// Readings (or statistics) that lay on the on side of its level; every such reading is drawn.
    pub speaking: usize,
    /// The one nearest to asking, if there were any.
    pub best: Option<f64>,
    /// Its on level.
    pub level: f64,
    /// Unit of both.
    pub unit: &'static str,
    /// Whether it was on at last, by its sensor.
    pub on: bool,
    /// Whether its sensor most likely said nothing at last: no power, a fault, or out of its range.
    pub silent: bool,
}

/// Waits outside: when each began and how long the mower stood, s, all its tries together. Backing off between two tries is
/// part of the wait but no standing, as in the season's books.
pub fn waits(events: &[EventRow]) -> Vec<(Instant, f64)> {
    let (mut began, mut standing, mut stood) = (None, None::<Instant>, 0.0);
    let mut waits = Vec::new();
    for event in events.iter().filter(|event| event.who == "mower") {
        match event.what.as_str() {
            "waits outside" => {
                began = began.or(Some(event.at));
                standing = standing.or(Some(event.at));
            }
            "backs off" => stood += standing.take().map_or(0.0, |since| event.at.since(since).seconds()),
            "enters" | "stranded outside" => {
                stood += standing.take().map_or(0.0, |since| event.at.since(since).seconds());
                waits.extend(began.take().map(|began| (began, stood)));
                stood = 0.0;
            }
            _ => {}
        }
    }
    waits
}

/// The incidents of a day, in their order.
pub fn story(plan: &Plan, strategy: usize, events: &[EventRow], film: &Film) -> Vec<Incident> {
    let mut story: Vec<Incident> = Vec::new();
    let mut asked = String::new();
    // What stopped the mower in the open doorway last, unless it has found the door shut since.
    let mut stopped = None;
    for event in events {
        let what = match (event.who.as_str(), event.what.as_str()) {
            ("controller", _) => {
                asked.clone_from(&event.detail);
                continue;
            }
            ("mower", "missed arrival") => {
                Happened::Missed { cause: event.detail.clone(), detectors: closest(plan, strategy, film, event.at) }
            }
            ("door", "false opening") => Happened::FalseOpening { cause: event.detail.clone(), by: asked.clone() },
            (who @ ("mower" | "door"), "contact") => {
                Happened::Contact { who: who.to_string(), detail: event.detail.clone() }
            }
            ("mower", "stranded outside") => {
                let why = stopped
                    .take()
                    .map_or("the door stayed shut".to_string(), |how| format!("at its last try it {how}"));
                Happened::Stranded { inside: false, why }
            }
            ("mower", "stranded inside") => {
                Happened::Stranded { inside: true, why: "docking failed too often".to_string() }
            }
            ("mower", how @ (stops::TOO_LARGE | stops::BLOCKED | stops::TOUCHES)) => {
                stopped = Some(how);
                continue;
            }
            ("mower", "waits outside") => {
                stopped = None;
                continue;
            }
            ("mower", "departure given up") => Happened::GivenUp,
            ("door", "stroke failed") => Happened::StrokeFailed { why: String::new() },
            ("door", "stroke refused") => Happened::StrokeFailed { why: event.detail.clone() },
            ("door", "thermal cut-out opens") => Happened::Tripped,
            (who, "shut in") => Happened::ShutIn { who: who.to_string() },
            (who, "fault begins") => Happened::Fault { name: who.to_string() },
            (who, "failure begins") if comes_in_episodes(plan, who) => Happened::Failure { name: who.to_string() },
            _ => continue,
        };
        // A refused stroke fails at once: once is enough.
        let again = matches!(what, Happened::StrokeFailed { .. })
            && story
                .last()
                .is_some_and(|last| last.at == event.at && matches!(last.what, Happened::StrokeFailed { .. }));
        if !again {
            story.push(Incident { at: event.at, what });
        }
    }
    for (began, seconds) in waits(events) {
        story.push(Incident { at: began, what: Happened::Waited { seconds } });
    }
    story.extend(out_of_service(film));
    story.sort_by_key(|incident| incident.at);
    story
}

/// When the controller did not work by itself: it waited for a person, or somebody worked the door by hand.
fn out_of_service(film: &Film) -> impl Iterator<Item = Incident> + '_ {
    film.controller.stretches(film.to).filter_map(|(at, state, seconds)| {
        let what = if state == state_name(State::Fault) {
            Happened::WaitsForPerson { seconds }
        } else if state == state_name(State::Manual) {
            Happened::ByHand { seconds }
        } else {
            return None;
        };
        Some(Incident { at, what })
    })
}

/// Whether a failure comes in episodes and has something to hit: what lasts a moment, or all season, is no event of a day.
fn comes_in_episodes(plan: &Plan, name: &str) -> bool {
    let failure = plan.scenario.failures.iter().find(|failure| failure.name == name);
    failure.is_some_and(|it| matches!(it.mode.often, Often::Episodes { .. }) && it.acts(&plan.scenario.sensors))
}

/// Names of the failures of which an episode, and of the faults of which an outage, was under way at some moment before `to` and not over
/// by `from`, in the order in which they began.
pub fn failures_between(plan: &Plan, events: &[EventRow], from: Instant, to: Instant) -> Vec<String> {
    let mut under_way: Vec<(&str, u32)> = Vec::new();
    let mut seen: Vec<String> = Vec::new();
    for event in events.iter().filter(|event| event.at < to) {
        let begins = match event.what.as_str() {
            "failure begins" if comes_in_episodes(plan, &event.who) => true,
            "failure ends" if comes_in_episodes(plan, &event.who) => false,
            "fault begins" => true,
            "fault ends" => false,
            _ => continue,
        };
        match under_way.iter().position(|(name, _)| *name == event.who) {
            Some(place) if begins => under_way[place].1 += 1,
            Some(place) => under_way[place].1 = under_way[place].1.saturating_sub(1),
            None => under_way.push((&event.who, u32::from(begins))),
        }
        under_way.retain(|(_, count)| *count > 0);
        // What ended that day was under way that day.
        if event.at >= from && !seen.contains(&event.who) {
            seen.push(event.who.clone());
        }
    }
    let through = under_way.iter().map(|(name, _)| (*name).to_string()).filter(|name| !seen.contains(name));
    let through: Vec<String> = through.collect();
    // A failure that is played as a fault has said so in its name.
    let plain = |name: String| name.strip_prefix("failure ").map_or(name.clone(), str::to_string);
    through.into_iter().chain(seen).map(plain).collect()
}

/// How near the detectors of the open rule came during the approach that ends at `arrival`.
fn closest(plan: &Plan, strategy: usize, film: &Film, arrival: Instant) -> Vec<Closest> {
    let began = film.mower.changes.iter().rev().find(|(at, state)| *at <= arrival && *state == "approaches");
    let began = began.map_or(film.from, |(at, _)| *at);
    let open = plan.strategies[strategy].open_detectors;
    let mut found = Vec::new();
    for (index, detector) in plan.scenario.detectors.iter().enumerate().filter(|(d, _)| open >> d & 1 == 1) {
        let sensor = &plan.scenario.sensors[detector.sensor];
        // Levels say nothing where messages are listened to, and sums have limits of their own.
        let own = detector.statistic.keeps_sum();
        if !detector.says.is_empty() || own {
            continue;
        }
        let rate = matches!(detector.statistic, Statistic::ApproachRate(_));
        let about = film.about(About::Statistic(index)).or(film.about(About::Reading(detector.sensor)));
        let unit = crate::engine::film::statistic_unit(&detector.statistic, sensor);
        let values = about.into_iter().flat_map(|series| &series.points);
        let below = detector.sense == Sense::Below && !rate;
        let (mut speaking, mut best) = (0, None::<f64>);
        for (_, value) in values.filter(|(at, value)| *at >= began && *at <= arrival && value.is_finite()) {
            let (speaks, better) = if below {
                (*value <= detector.on, best.is_none_or(|best| *value < best))
            } else {
                (*value >= detector.on, best.is_none_or(|best| *value > best))
            };
            speaking += usize::from(speaks);
            best = if better { Some(*value) } else { best };
        }
        let on = film.about(About::On(index)).and_then(|series| series.at(arrival)) == Some(1.0);
        let silent = film.about(About::Expected(detector.sensor)).and_then(|series| series.at(arrival));
        found.push(Closest {
            silent: silent.is_some_and(f64::is_nan),
            detector: detector.name.clone(),
            speaking,
            best,
            level: detector.on,
            unit,
            on,
        });
    }
    found
}
