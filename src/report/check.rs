//! The answers of `check` as text and as JSON.

use std::io;

use serde::Serialize;

use super::csv::{Sink, writer};
use super::number::{self, exact_or_empty};
use super::table::{Cell, Table, hang};
use super::text::{Setting, heading, paragraph};
use super::words::capital;
use crate::shelter::cautions::CAUTIONS;
use crate::study::check::{Change, CheckResult, Choice, Row, Side, Verdict};

/// The word of a verdict.
pub fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fits => "fits",
        Verdict::Tight => "tight",
        Verdict::Fails => "fails",
    }
}

/// The whole report.
pub fn text(result: &CheckResult, setting: Setting) -> String {
    let width = setting.room();
    let mut out = String::new();
    paragraph(&mut out, &format!("{}: {}", result.name, answer(result)), width);
    paragraph(&mut out, &weather(result), width);
    for verdict in [Verdict::Fails, Verdict::Tight] {
        let rows: Vec<&Row> = result.rows.iter().filter(|row| row.verdict == verdict).collect();
        if !rows.is_empty() {
            heading(&mut out, if verdict == Verdict::Fails { "What fails" } else { "What is tight" }, setting);
            rows.iter().for_each(|row| explained(&mut out, row, result, width));
        }
    }
    mending(&mut out, result, width, setting);
    heading(&mut out, "All questions", setting);
    out.push_str(&questions(result).render(setting));
    if !result.choices.is_empty() {
        heading(&mut out, "Where to push the panel", setting);
        result.choices.iter().for_each(|choice| out.push_str(&hang("- ", &told(choice), width)));
    }
    heading(&mut out, "Keep in mind", setting);
    for caution in CAUTIONS {
        out.push_str(&hang("- ", caution, width));
    }
    out
}

pub(super) fn answer(result: &CheckResult) -> String {
    let count = |verdict| result.rows.iter().filter(|row| row.verdict == verdict).count();
    let past =
        past_limit(result.rows.iter().filter(|row| row.is_past_limit() && row.verdict == Verdict::Tight).count());
    match result.verdict() {
        Verdict::Fits => "everything fits".to_string(),
        Verdict::Tight => format!("it can be built; {} tight{past}", are(count(Verdict::Tight))),
        Verdict::Fails => {
            format!("not like this; {} and {} tight{past}", fail(count(Verdict::Fails)), are(count(Verdict::Tight)))
        }
    }
}

/// How many of the tight questions are past their limit all the same.
fn past_limit(count: usize) -> String {
    match count {
        0 => String::new(),
        1 => ", 1 of them past its limit".to_string(),
        count => format!(", {count} of them past their limits"),
    }
}

pub(super) fn weather(result: &CheckResult) -> String {
    let climate = &result.climate;
    let lasting = match result.lasting.as_slice() {
        [] => String::new(),
        names => format!(" All questions are asked with {} at work.", names.join(", ")),
    };
    let worst = format!(
        "Worst weather at the door in ten seasons: gusts of {:.1} m/s, {:.0} to {:.0} °C, {}.",
        climate.gust_m_s,
        climate.coldest_c,
        climate.warmest_c,
        if climate.frost { "frost on a wet seal" } else { "no frost on a wet seal" }
    );
    worst + &lasting
}

/// All questions with their answers. Their names alone don't tell them apart: a question may be asked of several parts.
pub(super) fn questions(result: &CheckResult) -> Table {
    let mut table = Table::new(&["question", "value", "limit", "margin", "verdict"]).left(4).of("check.csv", &["row"]);
    for (index, row) in result.rows.iter().enumerate() {
        table.keyed(
            vec![(index + 1).to_string()],
            vec![
                Cell::new(&row.question).field("question", &row.question),
                Cell::new(figure(row.value, row)).perhaps("value", row.value),
                Cell::new(bound(row)).perhaps("limit", row.limit),
                Cell::new(figure(row.margin(), row)).perhaps("margin", row.margin()),
                Cell::new(word(row.verdict)).field("verdict", word(row.verdict)),
            ],
        );
    }
    table
}

/// `check.csv`: one row per question; a figure that does not exist or is unlimited is empty.
pub fn csv(result: &CheckResult, sink: Sink) -> io::Result<()> {
    let mut out = writer(sink);
    out.write_record([
        "row",
        "id",
        "question",
        "value",
        "bound",
        "limit",
        "margin",
        "unit",
        "verdict",
        "key",
        "note",
        "no_failure",
    ])?;
    for (index, row) in result.rows.iter().enumerate() {
        out.write_record([
            (index + 1).to_string().as_str(),
            row.id,
            &row.question,
            &exact_or_empty(row.value),
            if row.side == Side::AtLeast { "at_least" } else { "at_most" },
            &exact_or_empty(row.limit),
            &exact_or_empty(row.margin()),
            row.unit,
            word(row.verdict),
            &row.key,
            &row.note,
            &row.advice,
        ])?;
    }
    out.flush()
}

fn are(count: usize) -> String {
    if count == 1 { "1 question is".to_string() } else { format!("{count} questions are") }
}

fn fail(count: usize) -> String {
    if count == 1 { "1 question fails".to_string() } else { format!("{count} questions fail") }
}

/// A way to drive the panel in a sentence.
pub(super) fn told(choice: &Choice) -> String {
    let summary = if choice.dead_deg > 0.0 {
        format!("dead over {:.1} deg", choice.dead_deg)
    } else {
        "no dead zone".to_string()
    };
    let (what, stroke_mm) = (capital(choice.what), 1000.0 * choice.stroke_m);
    format!("{what}: {summary}, stroke {stroke_mm:.0} mm. {}.", capital(&choice.note))
}

/// What to change for a row: keys with values where they are known, else its key.
pub(super) fn remedies(row: &Row, result: &CheckResult) -> Vec<String> {
    // The value that another row asked of the same key serves this row, too; what it asks for itself may only show once that is made.
    let changes = result.changes_for(row);
    let parts = |index: usize| changes.iter().filter(|other| other.is_one_with(changes[index])).count();
    // Of a whole of many parts the first one stands for all.
    let is_the_first = |index: usize| !changes[..index].iter().any(|before| before.is_one_with(changes[index]));
    let named = |index: usize| match &changes[index].together {
        Some(whole) if parts(index) > 2 => format!("{} and what else makes {whole}, below", set_to(changes[index])),
        _ => set_to(changes[index]),
    };
    let shown = (0..changes.len()).filter(|index| parts(*index) <= 2 || is_the_first(*index));
    let values: Vec<String> = shown.map(named).collect();
    match values.is_empty() {
        false => values,
        true if row.key.is_empty() => Vec::new(),
        true => vec![row.key.clone()],
    }
}

/// A row with its reasons and the key to change.
fn explained(out: &mut String, row: &Row, result: &CheckResult, width: usize) {
    out.push_str(&hang("- ", &headline(row), width));
    if !row.note.is_empty() {
        out.push_str(&hang("  ", &row.note, width));
    }
    if let Some(words) = advice(row) {
        out.push_str(&hang("  ", &words, width));
    }
    let remedies = remedies(row, result);
    if !remedies.is_empty() {
        out.push_str(&hang("  change: ", &remedies.join(", "), width));
    }
}

/// Why a row past its limit is no failure; none for others.
pub(super) fn advice(row: &Row) -> Option<String> {
    (!row.advice.is_empty()).then(|| format!("past its limit, but no failure: {}", row.advice))
}

/// A row's question with its figures.
pub(super) fn headline(row: &Row) -> String {
    let figures = match (row.value, row.limit) {
        (Some(_), Some(_)) => format!(": {}, {}", figure(row.value, row), bound(row)),
        (Some(_), None) => format!(": {}", figure(row.value, row)),
        _ => String::new(),
    };
    format!("{}{figures}", capital(&row.question))
}

/// `drive.current_limit = "2.5 A"`, or `leave out limit.strandings.at_least`.
fn set_to(change: &Change) -> String {
    if change.value.is_empty() {
        format!("leave out {}", change.key)
    } else {
        format!("{} = {}", change.key, change.value)
    }
}

/// What the changes do together, or that none can be named; none where nothing fails.
pub(super) fn promise(result: &CheckResult) -> Option<String> {
    let left: Vec<&str> = result.left.iter().map(|(_, question)| question.as_str()).collect();
    match (result.changes.is_empty(), result.mended) {
        (true, true) => None,
        (true, false) => Some(format!(
            "No value of a key that would mend this can be named: it asks for another design. What fails: {}.",
            left.join("; ")
        )),
        (false, true) => {
            Some("With these changes together nothing fails; other choices may suit you better.".to_string())
        }
        (false, false) => Some(format!(
            "These changes mend what they can. For what is left no value can be named, it asks for another design: {}.",
            left.join("; ")
        )),
    }
}

/// Each change with the question that it answers, and what it is a part of.
pub(super) fn answered_by(result: &CheckResult) -> Vec<String> {
    let question =
        |change: &Change| result.rows.iter().find(|row| row.id == change.row).map_or("", |row| row.question.as_str());
    let mut all = Vec::new();
    for (index, change) in result.changes.iter().enumerate() {
        if result.changes[..index].iter().any(|before| before.is_one_with(change)) {
            continue;
        }
        let parts: Vec<&Change> =
            result.changes.iter().filter(|other| *other == change || other.is_one_with(change)).collect();
        let mut wholes: Vec<&str> = parts.iter().filter_map(|part| part.together.as_deref()).collect();
        wholes.dedup();
        let values: Vec<String> = parts.iter().map(|part| set_to(part)).collect();
        all.push(match wholes.as_slice() {
            [] => format!("{} ({})", values.join(", "), question(change)),
            _ => format!("{} ({}): {}", capital(&wholes.join(", then ")), question(change), values.join(", ")),
        });
    }
    all
}

/// The changes that together leave nothing failing.
fn mending(out: &mut String, result: &CheckResult, width: usize, setting: Setting) {
    let Some(words) = promise(result) else { return };
    heading(out, "What would mend it", setting);
    paragraph(out, &words, width);
    answered_by(result).iter().for_each(|change| out.push_str(&hang("- ", change, width)));
}

/// A figure with its unit; two digits beyond what is needed help nobody.
fn figure(value: Option<f64>, row: &Row) -> String {
    match value {
        None => number::WITHHELD.to_string(),
        Some(value) if value.is_infinite() && row.unit == "s" => "never".to_string(),
        Some(value) if value.is_infinite() => "no limit".to_string(),
        Some(value) => format!("{}{}{}", number::significant(value, 3), number::GLUE, number::unit_text(row.unit)),
    }
}

fn bound(row: &Row) -> String {
    let sign = if row.side == Side::AtLeast { "at least" } else { "at most" };
    match row.limit {
        None => number::WITHHELD.to_string(),
        Some(limit) if limit.is_infinite() => "no limit".to_string(),
        Some(_) => format!("{sign}{}{}", number::GLUE, figure(row.limit, row)),
    }
}

/// The answers as one JSON document of the layout `dooryard-check/1`; keys are only ever added under this name. A figure that
/// does not exist or is unlimited is `null`.
pub fn json(result: &CheckResult, version: &str, warnings: &[String]) -> serde_json::Result<String> {
    let finite = |value: Option<f64>| value.filter(|value| value.is_finite());
    let rows = result.rows.iter().map(|row| RowPart {
        id: row.id,
        question: &row.question,
        value: finite(row.value),
        limit: finite(row.limit),
        bound: if row.side == Side::AtLeast { "at_least" } else { "at_most" },
        margin: finite(row.margin()),
        unit: row.unit,
        verdict: word(row.verdict),
        key: &row.key,
        note: &row.note,
        past_limit: row.is_past_limit(),
        no_failure: (!row.advice.is_empty()).then_some(&row.advice),
    });
    let choices = result.choices.iter().map(|choice| ChoicePart {
        id: choice.id,
        what: choice.what,
        dead_deg: choice.dead_deg,
        stroke_m: choice.stroke_m,
        note: &choice.note,
    });
    let document = Document {
        layout: "dooryard-check/1",
        version,
        scenario: &result.name,
        verdict: word(result.verdict()),
        gust_m_s: result.climate.gust_m_s,
        coldest_c: result.climate.coldest_c,
        warmest_c: result.climate.warmest_c,
        frost: result.climate.frost,
        lasting: &result.lasting,
        warnings,
        cautions: CAUTIONS,
        rows: rows.collect(),
        changes: result
            .changes
            .iter()
            .map(|change| ChangePart {
                row: change.row,
                key: &change.key,
                value: (!change.value.is_empty()).then_some(&change.value),
                together: change.together.as_deref(),
            })
            .collect(),
        mended: result.mended,
        left: result.left.iter().map(|(id, _)| *id).collect(),
        choices: choices.collect(),
    };
    serde_json::to_string_pretty(&document).map(|text| text + "\n")
}

#[derive(Serialize)]
struct Document<'a> {
    layout: &'static str,
    version: &'a str,
    scenario: &'a str,
    verdict: &'static str,
    gust_m_s: f64,
    coldest_c: f64,
    warmest_c: f64,
    frost: bool,
    /// Failures that change the design for good.
    lasting: &'a [String],
    warnings: &'a [String],
    cautions: &'a [&'a str],
    rows: Vec<RowPart<'a>>,
    changes: Vec<ChangePart<'a>>,
    mended: bool,
    /// Rows that fail after the changes.
    left: Vec<&'static str>,
    choices: Vec<ChoicePart<'a>>,
}

#[derive(Serialize)]
struct RowPart<'a> {
    id: &'static str,
    question: &'a str,
    value: Option<f64>,
    limit: Option<f64>,
    bound: &'static str,
    margin: Option<f64>,
    unit: &'static str,
    verdict: &'static str,
    key: &'a str,
    note: &'a str,
    /// Whether the value lies past the limit: then the row fails, or the next says why it does not.
    past_limit: bool,
    no_failure: Option<&'a String>,
}

#[derive(Serialize)]
struct ChangePart<'a> {
    row: &'static str,
    key: &'a str,
    /// None where the entry has to go.
    value: Option<&'a str>,
    /// What it is a part of, where several changes are one.
    together: Option<&'a str>,
}

#[derive(Serialize)]
struct ChoicePart<'a> {
    id: &'static str,
    what: &'static str,
    dead_deg: f64,
    stroke_m: f64,
    note: &'a str,
}
