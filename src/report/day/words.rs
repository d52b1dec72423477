//! What happened, in words: the answer first.

use super::{Told, chosen, shown};
use crate::engine::state_name;
use crate::report::number;
use crate::report::page::Tone;
use crate::report::words::lasting;
use crate::scenario::failure::{Failure, Often};
use crate::shelter::controller::State;
use crate::study::day::{Closest, Happened, Incident};

/// How good the day was.
pub fn tone(told: &Told) -> Tone {
    let counts = &told.replay.counts;
    let failed = times(told, |what| {
        matches!(
            what,
            Happened::StrokeFailed { .. }
                | Happened::Tripped
                | Happened::ShutIn { .. }
                | Happened::WaitsForPerson { .. }
        )
    });
    if counts.missed + counts.strandings + counts.contacts + failed > 0 {
        Tone::Bad
    } else if counts.false_openings + counts.late + given_up(told) + by_hand(told) > 0 {
        Tone::Open
    } else {
        Tone::Good
    }
}

/// How often something happened.
fn times(told: &Told, what: fn(&Happened) -> bool) -> u32 {
    told.replay.story.iter().filter(|incident| what(&incident.what)).count() as u32
}

fn given_up(told: &Told) -> u32 {
    times(told, |what| matches!(what, Happened::GivenUp))
}

fn by_hand(told: &Told) -> u32 {
    times(told, |what| matches!(what, Happened::ByHand { .. }))
}

/// The answer: what happened, in a sentence or two.
pub fn answer(told: &Told) -> String {
    let counts = &told.replay.counts;
    let mut parts: Vec<String> = [
        (counts.missed, "missed arrival"),
        (counts.strandings, "stranding"),
        (counts.contacts, "contact"),
        (given_up(told), "given-up departure"),
        (times(told, |what| matches!(what, Happened::StrokeFailed { .. })), "failed stroke"),
        (counts.false_openings, "false opening"),
        (counts.late, "late opening"),
    ]
    .iter()
    .filter(|(count, _)| *count > 0)
    .map(|(count, noun)| counted(*count, noun))
    .collect();
    let film = &told.replay.film;
    for (state, said) in [(State::Fault, "waiting for a person for"), (State::Manual, "worked by hand for")] {
        let seconds = film.controller.held_s(state_name(state), film.to);
        if seconds > 0.0 {
            parts.push(format!("{said} {}", lasting(seconds)));
        }
    }
    let arrivals = counts.arrivals;
    let missed = counts.missed + counts.late;
    let served = match arrivals {
        0 if counts.sorties == 0 => "the mower stayed in its dock".to_string(),
        0 => "the mower did not come home that day".to_string(),
        1 if missed == 0 => "1 arrival, let in without delay".to_string(),
        _ if missed == 0 => format!("{arrivals} arrivals, all let in without delay"),
        _ => format!("{} of {} let in without delay", arrivals - missed.min(arrivals), counted(arrivals, "arrival")),
    };
    let happened = match parts.join(", ") {
        none if none.is_empty() => format!("Nothing went wrong: {served}."),
        parts => format!("{}; {served}.", crate::report::words::capital(&parts)),
    };
    let failures = &told.scenario.failures;
    let stays = |failure: &&Failure| {
        !matches!(failure.mode.often, Often::Episodes { .. }) && failure.acts(&told.scenario.sensors)
    };
    let staying = failures.iter().filter(stays).count() as u64;
    let mut answer = happened;
    let names = &told.replay.failures;
    if !names.is_empty() {
        answer.push_str(&format!(" Under way: {}.", names.join(", ")));
    }
    if staying > 0 {
        let are = if staying == 1 { "is" } else { "are" };
        answer.push_str(&format!(" {} {are} at work all season.", number::counted(staying, "failure")));
    }
    answer
}

fn counted(count: u32, noun: &str) -> String {
    number::counted(u64::from(count), noun)
}

/// An incident: what, and why.
pub fn incident(incident: &Incident) -> (String, String) {
    let (what, why) = match &incident.what {
        Happened::Missed { cause, detectors } => {
            let mut why = cause_words(cause);
            for detector in detectors {
                why.push_str("; ");
                why.push_str(&closest(detector));
            }
            ("missed arrival", why)
        }
        Happened::FalseOpening { cause, by } => ("opened for nobody", format!("{}; on: {by}", cause_words(cause))),
        Happened::Contact { who, detail } => ("contact", format!("{who}: {detail}")),
        Happened::Stranded { inside: true, why } => ("stranded inside", why.clone()),
        Happened::Stranded { inside: false, why } => ("stranded outside", why.clone()),
        Happened::Waited { seconds } => ("waits outside", format!("for {}", lasting(*seconds))),
        Happened::GivenUp => ("departure given up", "the door stayed shut".to_string()),
        Happened::StrokeFailed { why } => ("stroke failed", why.clone()),
        Happened::Tripped => ("thermal cut-out", "the winding was too hot".to_string()),
        Happened::ShutIn { who } => ("shut in", who.clone()),
        Happened::Fault { name } => ("fault begins", name.clone()),
        Happened::Failure { name } => ("failure begins", name.clone()),
        Happened::WaitsForPerson { seconds } => ("waits for a person", format!("for {}", lasting(*seconds))),
        Happened::ByHand { seconds } => ("worked by hand", format!("for {}", lasting(*seconds))),
    };
    (what.to_string(), why)
}

fn cause_words(cause: &str) -> String {
    match cause {
        "no particular condition" => "nothing was out of the ordinary: no cause stands out".to_string(),
        "message not heard" => {
            "likeliest cause: the mower's message was not there yet, or too old to be believed".to_string()
        }
        "outside the hours" => "likeliest cause: it came outside the hours of the clock".to_string(),
        "shut again too early" => "likeliest cause: the door had opened for it and was shut again".to_string(),
        "noticed too late" => "likeliest cause: it was made out on its way, but not for long enough".to_string(),
        "out of reach" => {
            "likeliest cause: not even in good conditions would readings show it on its way to the door".to_string()
        }
        "another condition of the rule" => {
            "likeliest cause: whatever its sensors had noticed, the rule asks for something else, too".to_string()
        }
        other => format!("likeliest cause: {other}"),
    }
}

/// How near a detector came to asking.
fn closest(detector: &Closest) -> String {
    let name = &detector.detector;
    let level = chosen(detector.level, detector.unit);
    let spoke = match (detector.speaking, detector.best) {
        (0, None) if detector.silent => "its sensor said nothing".to_string(),
        (0, None) => format!("no reading of it was out of the ordinary (on level {level})"),
        (0, Some(best)) => format!("none of its drawn values reached {level}, best {}", shown(best, detector.unit)),
        (count, best) => {
            let best = best.map(|best| format!(", best {}", shown(best, detector.unit))).unwrap_or_default();
            format!("{} beyond {level}{best}", number::counted(count as u64, "value"))
        }
    };
    format!("{name} was {}: {spoke}", if detector.on { "on" } else { "off" })
}

/// The day in figures: name, value with unit, column of the run's `days.csv`.
pub fn figures(told: &Told) -> Vec<(&'static str, String)> {
    let counts = &told.replay.counts;
    let count = |value: u32| number::whole(u64::from(value));
    let amount = |value: f64, unit: &str| shown(value, unit);
    vec![
        ("sorties", count(counts.sorties)),
        ("arrivals", count(counts.arrivals)),
        ("missed arrivals", count(counts.missed)),
        ("late openings", count(counts.late)),
        ("false openings", count(counts.false_openings)),
        ("contacts", count(counts.contacts)),
        ("strandings", count(counts.strandings)),
        ("door cycles", count(counts.cycles)),
        ("waited outside", lasting(counts.wait_s)),
        ("door not shut", amount(counts.open_min, "min")),
        ("rain", amount(counts.rain_mm, "mm")),
        ("floor exposed to rain", amount(counts.wet_floor_min, "min")),
    ]
}
