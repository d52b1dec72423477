//! What sensors and detectors did, by condition.

use maud::{Markup, html};

use super::super::document;
use super::super::table::{Cell, Table};
use super::estimates::group;
use super::{count, field};
use crate::ledger::record::CONDITIONS;
use crate::report::csv::condition_name;
use crate::report::{number, words};
use crate::study::result::{DetectorResult, NoiseOpenings, Rate, RunResult};

/// Places of daylight and night among the conditions.
const DAYLIGHT: usize = 1;
const NIGHT: usize = 2;

/// The section.
pub fn section(result: &RunResult) -> Markup {
    html! { (false_runs(result)) (openings(result)) (noticing(result)) (group(result, "Sensors")) }
}

fn rows(result: &RunResult) -> impl Iterator<Item = (&str, &DetectorResult)> {
    result.strategies.iter().flat_map(|strategy| strategy.detectors.iter().map(|it| (strategy.name.as_str(), it)))
}

/// A rate in each condition.
type Rates = [Option<Rate>; CONDITIONS.len()];

/// The conditions that are shown.
struct Conditions {
    /// Whether daylight is followed. Where no sensor minds light it is not, and all dry time is booked as night: then it is just dry.
    daylight: bool,
}

impl Conditions {
    fn of<'a>(mut rates: impl Iterator<Item = &'a Rates>) -> Conditions {
        Conditions { daylight: rates.any(|it| it[DAYLIGHT].is_some()) }
    }

    fn shown(&self) -> impl Iterator<Item = usize> {
        let daylight = self.daylight;
        (0..CONDITIONS.len()).filter(move |condition| daylight || *condition != DAYLIGHT)
    }

    fn heading(&self, condition: usize) -> &'static str {
        if !self.daylight && condition == NIGHT { "dry" } else { CONDITIONS[condition] }
    }

    /// A table of rates whose columns of `file` begin with `prefix`. A row says whose rates they are from the narrowest (a detector) to
    /// the widest (its strategy), as `whose` does; the file has these the other way round.
    fn table<'a, const N: usize>(
        &self,
        title: &str,
        (file, prefix): (&str, &str),
        whose: [&str; N],
        rows: impl Iterator<Item = ([&'a str; N], &'a Rates)>,
    ) -> Table {
        let widest_first = |names: [&'a str; N]| names.into_iter().rev().collect::<Vec<_>>();
        let keys: Vec<&str> = whose.into_iter().rev().collect();
        let headings: Vec<&str> = whose.into_iter().chain(self.shown().map(|it| self.heading(it))).collect();
        let mut table = Table::new(title, &headings).of(file, &keys).left(&(1..N).collect::<Vec<_>>());
        for (names, rates) in rows {
            let rate = |place| rate(&format!("{prefix}_{}", condition_name(CONDITIONS[place])), rates[place]);
            table
                .keyed(&widest_first(names), names.into_iter().map(Cell::text).chain(self.shown().map(rate)).collect());
        }
        table
    }
}

/// How often noise alone opened the door: counted, and as the laws of the readings have it.
fn openings(result: &RunResult) -> Markup {
    let all = || result.strategies.iter().map(|strategy| (&strategy.name, &strategy.noise_openings));
    let conditions = Conditions::of(all().map(|(_, it)| &it.per_day));
    let table = |title: &str, prefix: &str, of: fn(&NoiseOpenings) -> &Rates| {
        let rows = all().map(|(name, openings)| ([name.as_str()], of(openings)));
        conditions.table(title, ("noise_openings.csv", prefix), ["strategy"], rows)
    };
    let counted = table("Openings by noise alone a day, by condition (mean and interval)", "per_day", |it| &it.per_day);
    let expected =
        table("Expected openings by noise alone a day, by condition (mean and interval)", "expected_per_day", |it| {
            &it.expected_per_day
        });
    html! {
        (counted.render())
        (document::note("Openings from shut by noise, rain, sun, drift or an insect in a beam, with nobody there and nothing out of \
                         order."))
        (expected.render())
        (document::note("The same from the laws of the readings and the opening rule, looked at now and then in each season: also \
                         where such an opening is too rare to be counted. - : the condition was never met, or it is not known."))
        @for (name, openings) in all() {
            @if let Some(why) = &openings.not_worked_out {
                (document::note(&format!("{name}: not worked out, as {why}.")))
            }
        }
    }
}

/// How often each detector spoke with nothing in view: counted, and as the law of its readings has it.
fn false_runs(result: &RunResult) -> Markup {
    let conditions = Conditions::of(rows(result).map(|(_, detector)| &detector.false_per_day));
    let table = |title: &str, prefix: &str, of: fn(&DetectorResult) -> &Rates| {
        let rows = rows(result).map(|(strategy, detector)| ([detector.name.as_str(), strategy], of(detector)));
        conditions.table(title, ("detectors.csv", prefix), ["detector", "strategy"], rows)
    };
    let counted = table("False runs a day, by condition (mean and interval)", "false_per_day", |it| &it.false_per_day);
    let expected =
        table("Expected false runs a day, by condition (mean and interval)", "expected_false_per_day", |it| {
            &it.expected_false_per_day
        });
    html! {
        @if counted.is_empty() { p { "No detector was listened to." } } @else {
            (counted.render())
            (document::note("A false run: the detector went on with nothing in view, nor a moment before, so that it can't remember \
                             anybody. The rate is per day of that condition; - : the condition never held, or the \
                             sensor sees nobody."))
            (expected.render())
            (document::note("The same from the law of the readings, looked at now and then in each season: also where a run is too rare to \
                             be counted. - : the condition was never met, the sensor sees nobody, its noise remembers, \
                             or the detector remembers too much for it."))
            @if !conditions.daylight {
                (document::note("No sensor minds light, so that daylight is not followed: detectors.csv has all dry time \
                                 as night."))
            }
        }
    }
}

/// A rate in its cell, with its interval beside it.
fn rate(column: &str, rate: Option<Rate>) -> Cell {
    let Some((mean, ends)) = rate else { return Cell::withheld().field(column, "") };
    let shown = html! {
        (words::rate(mean)) @if let Some((low, high)) = ends { small { (words::rate(low)) " to " (words::rate(high)) } }
    };
    let cell = Cell::markup(shown).sorted_by(mean).field(column, number::exact(mean));
    let cell = field(cell, &format!("{column}_low"), ends.map(|it| it.0));
    field(cell, &format!("{column}_high"), ends.map(|it| it.1))
}

/// How each detector noticed the mower.
fn noticing(result: &RunResult) -> Markup {
    let headings = [
        "detector",
        "strategy",
        "noticed in time",
        "not noticed",
        "half within, s",
        "95 % within, s",
        "nose off for half, m",
        "for 5 % at most, m",
        "working sensor",
    ];
    let mut table = Table::new("How soon, and how far off, the mower was noticed", &headings)
        .of("detectors.csv", &["strategy", "detector"])
        .left(&[1]);
    for (strategy, detector) in rows(result).filter(|(_, it)| it.noticed + it.unnoticed > 0) {
        table.keyed(
            &[strategy, &detector.name],
            vec![
                Cell::text(&detector.name),
                Cell::text(strategy),
                count("noticed", detector.noticed),
                count("unnoticed", detector.unnoticed),
                Cell::optional("after_q50_s", detector.after.quantile(0.5), number::chosen),
                Cell::optional("after_q95_s", detector.after.quantile(0.95), number::chosen),
                Cell::optional("left_q50_m", detector.left.quantile(0.5), number::chosen),
                Cell::optional("left_q05_m", detector.left.quantile(0.05), number::chosen),
                Cell::number("uptime", detector.uptime, number::percent(detector.uptime)),
            ],
        );
    }
    html! {
        @if !table.is_empty() {
            (table.render())
            (document::note("Seconds count from the beginning of the drive to the door; metres are from the nose to \
                             its waiting point at the moment of noticing. Detectors that don't look at the way to the \
                             door are left out."))
        }
    }
}
