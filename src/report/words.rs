//! Sentences that the text report, the page and the terminal share.

use super::number;
use super::study_file::Study;
use crate::ledger::metric::{self, Kind};
use crate::ledger::record::{CONDITIONS, Histogram};
use crate::scenario::common_cause::{CommonCause, USUAL};
use crate::scenario::limits::{Bound, Limit};
use crate::scenario::objective::Risk;
use crate::study::objective::RiskVerdict;
use crate::study::result::{
    DetectorResult, Estimate, LimitVerdict, NoiseOpenings, Rate, RunResult, StrategyResult, Verdict,
};

/// Index of the bin in which a histogram collects everything beyond it.
const OVERFLOW_BIN: usize = 20_000;

/// What was played, in one line: `200 seasons (numbers 0 to 199), 2025-04-01 to 2025-10-31 each, seed 1`.
pub fn played(result: &RunResult) -> String {
    let last = result.first_season + result.seasons_played.saturating_sub(1);
    let numbers = match result.seasons_played {
        0 => String::new(),
        1 => format!(" (number {})", result.first_season),
        _ => format!(" (numbers {} to {last})", result.first_season),
    };
    let calendar = &result.scenario.calendar;
    format!(
        "{}{numbers}, {} to {}{}, seed {}",
        number::counted(result.seasons_played, "season"),
        calendar.first_day,
        calendar.last_day,
        if result.seasons_played == 1 { "" } else { " each" },
        result.seed
    )
}

/// The marker of an interrupted run; none for a complete one.
pub fn incomplete(result: &RunResult) -> Option<String> {
    (result.seasons_played < result.seasons_asked).then(|| {
        format!(
            "incomplete: {} of {} seasons",
            number::whole(result.seasons_played),
            number::whole(result.seasons_asked)
        )
    })
}

/// Heading of a metric with its unit: `time waited at the door, min`.
pub fn heading(key: metric::Key) -> String {
    let row = key.metric();
    if row.unit.is_empty() { row.title.to_string() } else { format!("{}, {}", row.title, number::unit_text(row.unit)) }
}

/// Heading of an estimate among all of a strategy: with its seasons where fewer than those of the others bear on it.
pub fn heading_of(estimate: &Estimate, all: &[Estimate]) -> String {
    let most = all.iter().map(|other| other.seasons).max().unwrap_or(0);
    let heading = heading(estimate.key);
    if estimate.seasons < most {
        format!("{heading} (in {})", number::counted(estimate.seasons, "season"))
    } else {
        heading
    }
}

/// Name of an axis that shows a metric: `time waited at the door per season, min`.
pub fn axis(key: metric::Key) -> String {
    let row = key.metric();
    let per_season = match row.kind {
        Kind::Count | Kind::Amount => " per season",
        Kind::Peak | Kind::PeakIfAny | Kind::Share => "",
    };
    let unit = if row.unit.is_empty() { String::new() } else { format!(", {}", number::unit_text(row.unit)) };
    format!("{}{per_season}{unit}", row.title)
}

/// What stands under expected misses, in a sentence: the floor and the beta factor, named.
pub fn common_causes(common: &CommonCause) -> String {
    let usual = if *common == USUAL { " (common practice; the scenario may set [common_cause])" } else { "" };
    format!(
        "Floor of common causes: power, dirt or dew on every window and fog are taken to hide {} of arrivals whatever the \
         sensors can do, and {} of a sensor's misses to be those of the others beside it{usual}. \"{}\" counts them; \
         \"{}\" is the noise of the readings alone.",
        number::share(common.floor),
        number::share(common.beta),
        metric::Key::MissedArrivalsFloored.metric().title,
        metric::Key::MissedArrivalsExpected.metric().title,
    )
}

/// The same for all scenarios of a study, each setting once; by name where they differ.
pub fn common_causes_of(study: &Study) -> String {
    let mut settings: Vec<(Vec<&str>, &CommonCause)> = Vec::new();
    for played in &study.scenarios {
        match settings.iter_mut().find(|(_, common)| **common == played.common_cause) {
            Some((names, _)) => names.push(&played.name),
            None => settings.push((vec![&played.name], &played.common_cause)),
        }
    }
    let named = settings.len() > 1;
    let sentence = |(names, common): (Vec<&str>, &CommonCause)| {
        if named { format!("{}: {}", names.join(", "), common_causes(common)) } else { common_causes(common) }
    };
    settings.into_iter().map(sentence).collect::<Vec<_>>().join(" ")
}

/// Heading of a metric's causes: `False openings by cause`.
pub fn by_cause(key: metric::Key) -> String {
    capital(&format!("{} by cause", key.metric().title))
}

/// `text` with a capital at its beginning.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// A limit in words: `missed arrivals: at most 2 per season`.
pub fn limit(limit: &Limit) -> String {
    let row = metric::by_key(&limit.metric).map(|key| key.metric());
    let title = row.map_or(limit.metric.as_str(), |row| row.title);
    let bound = match limit.bound {
        Bound::AtMost => "at most",
        Bound::AtLeast => "at least",
    };
    let value = number::with_unit(&number::chosen(limit.value), row.map_or("", |row| row.unit));
    let per_season = match row.map(|row| row.kind) {
        Some(Kind::Count | Kind::Amount) => " per season",
        Some(Kind::PeakIfAny) => " in seasons with a contact",
        Some(Kind::Peak | Kind::Share) | None => "",
    };
    format!("{title}: {bound} {value}{per_season}")
}

/// What the seasons say about a limit: `mean 0.42; with 95 % confidence at most 0.51`.
pub fn evidence(verdict: &LimitVerdict) -> String {
    let unit = metric::by_key(&verdict.limit.metric).map_or("", |key| key.metric().unit);
    let figure = |value: f64| number::with_unit(&number::significant(value, 3), unit);
    let mean = format!("mean {}", figure(verdict.mean));
    if let Some(why) = verdict.untried {
        return format!("{mean}, which shows nothing: {why}");
    }
    match verdict.confidence_bound {
        None => format!("{mean}; too few seasons for a confidence bound"),
        Some(bound) => {
            // A limit that is not met is refuted by the bound on its other side.
            let side = match (verdict.limit.bound, verdict.verdict) {
                (Bound::AtMost, Verdict::NotMet) | (Bound::AtLeast, Verdict::Met | Verdict::Undecided { .. }) => {
                    "at least"
                }
                (Bound::AtLeast, Verdict::NotMet) | (Bound::AtMost, Verdict::Met | Verdict::Undecided { .. }) => {
                    "at most"
                }
            };
            format!("{mean}; with {} confidence {side} {}", number::percent(verdict.limit.confidence), figure(bound))
        }
    }
}

/// A risk in words: `strandings above 3: in at most 10 % of seasons`.
pub fn risk(risk: &Risk) -> String {
    let row = metric::by_key(&risk.metric).map(|key| key.metric());
    let title = row.map_or(risk.metric.as_str(), |row| row.title);
    let above = number::with_unit(&number::chosen(risk.above), row.map_or("", |row| row.unit));
    format!("{title} above {above}: in at most {} of seasons", number::percent(risk.at_most))
}

/// What the seasons say about a risk: `2 of 60 seasons; with 95 % confidence at most 10 %`.
pub fn risk_evidence(verdict: &RiskVerdict) -> String {
    let side = if verdict.verdict == Verdict::NotMet { "at least" } else { "at most" };
    let bound = verdict.bound.map_or(String::new(), |bound| {
        format!("; with {} confidence {side} {}", number::percent(verdict.risk.confidence), number::percent(bound))
    });
    let bound = verdict.untried.map_or(bound, |why| format!(", which shows nothing: {why}"));
    format!("{} of {}{bound}", number::whole(verdict.bad), number::counted(verdict.seasons, "season"))
}

/// All verdicts of limits and risks: the verdict, what is limited, what the seasons say.
pub fn verdicts(limits: &[LimitVerdict], risks: &[RiskVerdict]) -> Vec<(Verdict, String, String)> {
    let limits = limits.iter().map(|one| (one.verdict, limit(&one.limit), evidence(one)));
    let risks = risks.iter().map(|one| (one.verdict, risk(&one.risk), risk_evidence(one)));
    limits.chain(risks).collect()
}

/// The worst of some verdicts in one word; `met` if there are none.
pub fn worst(verdicts: impl Iterator<Item = Verdict>) -> &'static str {
    worst_verdict(verdicts).map_or("met", self::verdict)
}

/// The worst of some verdicts; none if there are none.
pub fn worst_verdict(verdicts: impl Iterator<Item = Verdict>) -> Option<Verdict> {
    verdicts.max_by_key(|verdict| match verdict {
        Verdict::Met => 0,
        Verdict::Undecided { .. } => 1,
        Verdict::NotMet => 2,
    })
}

/// Short verdict: `met`, `not met` or `undecided`.
pub fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Met => "met",
        Verdict::NotMet => "not met",
        Verdict::Undecided { .. } => "undecided",
    }
}

/// What would decide an undecided limit; none for a decided one.
pub fn would_decide(verdict: Verdict) -> Option<String> {
    match verdict {
        Verdict::Met | Verdict::NotMet => None,
        Verdict::Undecided { more_seasons: Some(more) } => {
            let about = rounded(more);
            Some(format!(
                "about {} more season{} would decide",
                number::whole(about),
                if about == 1 { "" } else { "s" }
            ))
        }
        Verdict::Undecided { more_seasons: None } => Some("more seasons may never decide".to_string()),
    }
}

/// A strategy's limits in one phrase: `meets all 3 limits`.
pub fn overall(strategy: &StrategyResult) -> String {
    let all = strategy.decisions().count();
    let failed = strategy.decisions().filter(|verdict| *verdict == Verdict::NotMet).count();
    let open = strategy.decisions().filter(|verdict| matches!(verdict, Verdict::Undecided { .. })).count();
    let limits = |count: usize| if count == 1 { "1 limit".to_string() } else { format!("{count} limits") };
    match (all, failed, open) {
        (0, ..) => "the scenario states no acceptance limits".to_string(),
        (1, 0, 0) => "meets the limit".to_string(),
        (2, 0, 0) => "meets both limits".to_string(),
        (_, 0, 0) => format!("meets all {all} limits"),
        (_, 0, _) => format!("undecided: these seasons leave {} of {} open", open, limits(all)),
        (_, _, 0) => format!("falls short: {} of {} not met", failed, limits(all)),
        _ => format!("falls short: {} of {} not met, {} undecided", failed, limits(all), open),
    }
}

/// Whether every limit of every strategy is met; true where none is stated.
pub fn all_met(result: &RunResult) -> bool {
    result.strategies.iter().flat_map(StrategyResult::decisions).all(|verdict| verdict == Verdict::Met)
}

/// How long arrivals waited, in one sentence.
pub fn waits(waits: &Histogram) -> String {
    let figures = [0.5, 0.95, 1.0].map(|q| waits.quantile(q).map(|seconds| duration(waits, seconds)));
    let [Some(half), Some(most), Some(longest)] = figures else {
        return "no arrivals, so no waits".to_string();
    };
    format!(
        "half of the {} waited {half}, 95\u{a0}% of them {most}, the longest {longest} (counted in steps of {}\u{a0}s)",
        number::counted(waits.total(), "arrival"),
        number::chosen(f64::from(waits.bin_ms) / 1_000.0)
    )
}

/// Rates a day as counted and as expected, by condition; nothing if none ever held.
fn by_condition(counted: &[Option<Rate>; CONDITIONS.len()], expected: &[Option<Rate>; CONDITIONS.len()]) -> String {
    let shown = |(mean, interval): Rate| {
        let interval = interval.map_or(String::new(), |(low, high)| format!(" ({} to {})", rate(low), rate(high)));
        format!("{}{interval}", rate(mean))
    };
    // Where no sensor minds light, all dry time is booked as night.
    let followed = counted[1].is_some();
    let rates = CONDITIONS.iter().zip(counted.iter().zip(expected)).filter_map(|(condition, (counted, expected))| {
        let counted = shown((*counted)?);
        let expected = expected.map_or(String::new(), |rate| format!(", expected {}", shown(rate)));
        let condition = if !followed && *condition == CONDITIONS[2] { "dry weather" } else { condition };
        Some(format!("{counted}{expected} in {condition}"))
    });
    rates.collect::<Vec<_>>().join("; ")
}

/// How often noise alone opened the door, in one sentence; none if no weather was ever met.
pub fn noise_openings(openings: &NoiseOpenings) -> Option<String> {
    let rates = by_condition(&openings.per_day, &openings.expected_per_day);
    let why = openings.not_worked_out.as_ref().map_or(String::new(), |why| format!("; not worked out, as {why}"));
    (!rates.is_empty()).then(|| format!("a day {rates}{why}"))
}

/// What a detector did, in a few sentences.
pub fn detector(detector: &DetectorResult) -> String {
    let rates = by_condition(&detector.false_per_day, &detector.expected_false_per_day);
    let rates = if rates.is_empty() {
        "false runs are not counted, as its sensor sees nobody".to_string()
    } else {
        format!("false runs a day {rates}")
    };
    let all = detector.noticed + detector.unnoticed;
    let noticed = match [0.5, 0.95].map(|q| detector.after.quantile(q)) {
        [Some(half), Some(most)] => {
            let left = [0.05, 0.5].map(|q| detector.left.quantile(q).unwrap_or(0.0));
            format!(
                "noticed {} of {} in time, half of them within {}\u{a0}s of the beginning of the drive to the door and 95\u{a0}% \
                 within {}\u{a0}s; then the nose was {}\u{a0}m from the waiting point for half of them and at most {}\u{a0}m for 5\u{a0}%",
                number::whole(detector.noticed),
                number::counted(all, "approach").replace("approachs", "approaches"),
                number::chosen(half),
                number::chosen(most),
                number::chosen(left[1]),
                number::chosen(left[0]),
            )
        }
        _ if all > 0 => format!("noticed none of {} approaches in time", number::whole(all)),
        _ => "does not look at the way to the door".to_string(),
    };
    format!("{rates}; {noticed}; working sensor {} of the time", number::percent(detector.uptime))
}

/// A rate of false runs per day: what comes less than once in a thousand million years is no figure of this world.
pub fn rate(per_day: f64) -> String {
    const LEAST: f64 = 1e-12;
    match per_day {
        r if r > 0.0 && r < LEAST => "under 1e-12".to_string(),
        r if r > 0.0 && r < 1e-3 => format!("{r:.1e}"),
        r => number::significant(r, 2),
    }
}

/// A quantile of a histogram in words: it is the upper edge of a bin, hence `at most`.
fn duration(histogram: &Histogram, seconds: f64) -> String {
    let overflow = OVERFLOW_BIN as f64 * f64::from(histogram.bin_ms) / 1_000.0;
    if seconds > overflow {
        format!("more than {}\u{a0}s", number::chosen(overflow))
    } else {
        format!("at most {}\u{a0}s", number::chosen(seconds))
    }
}

/// A duration in words.
pub fn lasting(seconds: f64) -> String {
    match seconds {
        s if s < 120.0 => number::with_unit(&number::significant(s, 2), "s"),
        s if s < 7_200.0 => number::with_unit(&number::significant(s / 60.0, 2), "min"),
        s => number::with_unit(&number::significant(s / 3_600.0, 2), "h"),
    }
}

/// How to read the figures; `confidence` is that of the intervals.
pub fn legend(confidence: f64) -> String {
    format!(
        "Mean (low to high): the mean per season over the seasons played, and an interval that holds the long-run mean \
         with {} confidence. Spread: standard deviation from season to season; it says how seasons differ, not how \
         sure the mean is. 5\u{a0}%, median, 95\u{a0}%: that share of seasons stays at or below the figure. {}: these seasons \
         can't support the figure.",
        number::percent(confidence),
        number::WITHHELD
    )
}

/// `count` rounded to two significant digits.
pub(super) fn rounded(count: u64) -> u64 {
    let mut step = 1;
    while count / step >= 100 {
        step *= 10;
    }
    count.saturating_add(step / 2) / step * step
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn further_seasons_are_rounded_to_two_digits() {
        assert_eq!([0, 7, 99, 337, 345, 12_499].map(rounded), [0, 7, 99, 340, 350, 12_000]);
    }

    #[test]
    fn waits_beyond_the_last_bin_are_said_to_be_longer() {
        let mut histogram = Histogram::new(100);
        histogram.add(0.0);
        histogram.add(1e9);
        assert_eq!(
            waits(&histogram).replace(number::GLUE, " "),
            "half of the 2 arrivals waited at most 0.1 s, 95 % of them more than 2000 s, the longest more than 2000 s \
             (counted in steps of 0.1 s)"
        );
        assert_eq!(waits(&Histogram::new(100)), "no arrivals, so no waits");
    }
}
