//! Readings of something that stands still: the answer in words, and what deserves a second look.

use super::figures::{self, reading, seconds, shown, with_ends};
use super::still_tables::{METHODS, curve_csv, curve_table, figures, outliers_csv};
use super::{Report, TableFile, feedback, part};
use crate::report::number::{significant, whole};
use crate::report::page::Tone;
use crate::report::plots::{PlotError, calibrate as plots};
use crate::report::study_file::Played;
use crate::scenario::measure::Measure;
use crate::study::calibrate::Measured;
use crate::study::calibrate::feedback::Feedback;
use crate::study::calibrate::figures::Figures;
use crate::study::calibrate::still::{CORRELATED, Sign, Still, Verdict};
use crate::world::log::GOOD;

/// What the report says besides the result.
pub struct Told<'a> {
    /// Name of the log's file, without its folder.
    pub file: &'a str,
    /// Kind of sensor.
    pub kind: &'a str,
    /// What it reads.
    pub measure: &'static Measure,
    /// What the readings should have been.
    pub truth: Option<f64>,
    /// Doubts about the log.
    pub warnings: &'a [String],
    /// The part to include, as text, and what else is written beside it.
    pub part: part::Told<'a>,
    /// What it means for a scenario, if one was given: its name and that.
    pub feedback: Option<(&'a str, &'a Feedback)>,
    /// That scenario's values.
    pub rests_on: Option<&'a Played>,
}

/// The report and its table files.
///
/// # Errors
/// If a drawing or a table can't be made: a defect of the program.
pub fn report(still: &Still, words: &Figures, told: &Told) -> Result<(Report, Vec<TableFile>), PlotError> {
    let all = figures(still, told.measure);
    let table = figures::table(&all, "readings", still.confidence);
    let mut sections = vec![
        ("Figures".to_owned(), table, vec![METHODS.to_owned()]),
        ("How noise falls with averaging".to_owned(), curve_table(still, told.measure), vec![averaging(still, told)]),
    ];
    let mut files = vec![
        TableFile { name: "figures", texts: figures::TEXTS, csv: figures::csv(&all, "readings", still.confidence)? },
        TableFile { name: "allan", texts: &[], csv: curve_csv(still)? },
        TableFile { name: "outliers", texts: &[], csv: outliers_csv(still)? },
    ];
    let mut answer = answer(still, told);
    if let Some((scenario, found)) = told.feedback {
        answer.push(feedback::answer(scenario, found));
        let (table, notes) = feedback::table(found);
        sections.push((format!("What it means for {scenario}"), table, notes));
        files.push(TableFile { name: "feedback", texts: feedback::TEXTS, csv: feedback::csv(found)? });
    }
    let mut warnings = told.warnings.to_vec();
    warnings.extend(doubts(still, words, told));
    let tone = match still.verdict {
        Verdict::White => Tone::Good,
        Verdict::Drift => Tone::Open,
        Verdict::TooFew => Tone::Bad,
    };
    let report = Report {
        opening: opening(still, told),
        answer,
        tone,
        facts: facts(still, told.measure),
        sections,
        drawings: plots::still(still, told.measure)?,
        parts: part::parts(still, words, &told.part),
        warnings,
        scenario: told.rests_on.cloned(),
    };
    Ok((report, files))
}

fn opening(still: &Still, told: &Told) -> String {
    let span = still.sampling.period_s * (still.sampling.due.saturating_sub(1)) as f64;
    let truth = told.truth.map_or(String::new(), |truth| format!(" at {}", reading(truth, told.measure)));
    let (n, kind) = (whole(still.readings), told.kind);
    format!(
        "{}: {n} readings of a sensor ({kind}) over {} of something that stands still{truth}",
        told.file,
        seconds(span)
    )
}

fn answer(still: &Still, told: &Told) -> Vec<String> {
    let unit = told.measure.unit;
    let n = whole(still.kept.readings.len() as u64);
    let white = with_ends(&still.white, unit);
    let mut all = Vec::new();
    match still.verdict {
        Verdict::White => all.push(format!(
            "White noise: as far as {n} readings can tell, each errs for itself, with a standard deviation of {white}."
        )),
        Verdict::Drift => all.push(format!(
            "Slow drift present: beside white noise of {white}, part of the error lasts from reading to reading."
        )),
        Verdict::TooFew => all.push(format!(
            "Too few readings: {n} can't tell white noise from slow drift; log at least {} (better half an hour), and again at \
             dawn, at noon and in rain. So far it looks like {}, with white noise of {white}.",
            whole(GOOD as u64),
            if still.signs.is_empty() { "white noise" } else { "slow drift" }
        )),
    }
    all.extend(still.signs.iter().map(|sign| seen(*sign, still)));
    if let Some(drift) = &still.drift {
        let least = if drift.turns { "" } else { "at least " };
        all.push(format!(
            "The drift has a standard deviation of {least}{} and forgets itself within {least}{}.",
            with_ends(&drift.slow, unit),
            with_ends(&drift.time_s, "s")
        ));
    }
    if still.lag_one.value > CORRELATED || still.effective < 0.5 * still.kept.readings.len() as f64 {
        all.push(format!(
            "What follows: {n} readings are worth {} independent ones, so means are less sure than their number says; \
             averages and run rules gain less, and false runs come more often, than formulas for independent readings claim. Only \
             the white part belongs into a scenario's noise.",
            significant(still.effective, 3)
        ));
    }
    if let Some(bias) = &still.bias {
        all.push(format!("Bias: {}.", with_ends(bias, unit)));
    }
    all
}

fn seen(sign: Sign, still: &Still) -> String {
    match sign {
        Sign::Correlation(r) if r > 0.0 => {
            format!("Neighbouring readings are alike: their correlation is {}, beyond {CORRELATED}.", significant(r, 2))
        }
        Sign::Correlation(r) => format!(
            "Neighbouring readings pull apart: their correlation is {}, as after a filter that sharpens or two targets in turn; \
             averages then gain more than those of independent readings, and figures for independent ones are off.",
            significant(r, 2)
        ),
        Sign::Ratio(ratio) => format!(
            "All noise together is {} times that of differences of neighbours; white noise has 1.",
            significant(ratio, 3)
        ),
        Sign::Rise(time_s) => format!(
            "Means over {} differ more than white noise allows: the Allan curve is proven to lie above it there.",
            seconds(time_s)
        ),
        Sign::Line(errors) => format!(
            "The readings {} in a straight line, by {} standard errors (counted for the {} independent readings).",
            if errors > 0.0 { "rise" } else { "fall" },
            significant(errors.abs(), 2),
            significant(still.effective, 3)
        ),
    }
}

fn averaging(still: &Still, told: &Told) -> String {
    let best = &still.best;
    let at = still.curve.iter().find(|place| place.readings == best.readings);
    let noise = at.map_or(String::new(), |place| format!(", to {}", with_ends(&place.deviation, told.measure.unit)));
    if best.falling {
        format!("Averaging pays up to the longest time that this log can judge, {}{noise}.", seconds(best.time_s))
    } else {
        format!(
            "Longest useful averaging: {} readings, {}{noise}. Beyond it drift makes a mean no better.",
            whole(best.readings as u64),
            seconds(best.time_s)
        )
    }
}

fn facts(still: &Still, measure: &Measure) -> Vec<[String; 3]> {
    let fact = |name: &str, measured: &Measured, unit: &str| {
        let (value, ends) = shown(measured, unit);
        [name.to_owned(), value, ends]
    };
    let hundred = |share: &Measured| share.map(|share| 100.0 * share);
    let mut all = vec![fact("white noise", &still.white, measure.unit)];
    all.extend(still.bias.iter().map(|bias| fact("bias", bias, measure.unit)));
    all.extend(still.drift.iter().map(|drift| fact("slow drift", &drift.slow, measure.unit)));
    all.push(fact("missing readings", &hundred(&still.sampling.dropout), "%"));
    all.push(fact("outliers", &hundred(&still.outliers.rate), "%"));
    let worth = Measured::alone(still.effective);
    let of = format!("of {}", whole(still.kept.readings.len() as u64));
    all.push(["independent readings".to_owned(), significant(worth.value, 3), of]);
    all
}

/// Share of missing readings beyond which the straight lines that bridge them flatten the curve (common practice).
const MANY_MISSING: f64 = 0.1;

/// What deserves a second look.
fn doubts(still: &Still, words: &Figures, told: &Told) -> Vec<String> {
    let mut all = Vec::new();
    let sampling = &still.sampling;
    if sampling.crowded > 0 {
        all.push(format!(
            "{} rows are less than half a sample time after the one before: the logger's clock is uneven, and missing readings are \
             counted by it.",
            whole(sampling.crowded)
        ));
    }
    let gap = sampling.longest_gap_s / sampling.period_s;
    if gap > 20.0 {
        all.push(format!(
            "The longest gap is {}: if the logger stopped there, the sensor's share of missing readings is overstated.",
            seconds(sampling.longest_gap_s)
        ));
    }
    if sampling.dropout.value > MANY_MISSING {
        all.push(
            "More than a tenth of the readings are missing; straight lines in their place flatten the Allan curve."
                .to_owned(),
        );
    }
    if words.hidden {
        all.push(format!(
            "The noise hides below the step between readings ({}); the part takes a quarter of the step for it.",
            reading(still.step, told.measure)
        ));
    }
    let outliers = &still.outliers;
    let expected = (outliers.count * outliers.count) as f64 / still.readings as f64;
    if outliers.pairs >= 3 && outliers.pairs as f64 > 5.0 * expected {
        all.push(format!(
            "Outliers come in runs, up to {} in a row: run rules, which a scenario judges for single ones, stop fewer of them.",
            whole(outliers.longest_run)
        ));
    }
    let above = outliers.count - outliers.below;
    if words.spurious.is_some() && above > 0 {
        all.push(format!(
            "{} of {} outliers are too long rather than too short; a scenario knows short returns only, and they are left out \
             of the part.",
            whole(above),
            whole(outliers.count)
        ));
    }
    if words.spurious.is_none() && outliers.count > 0 {
        all.push(format!("A sensor of kind {} has no key for outliers; they are told here only.", told.kind));
    }
    if words.noise.is_none() {
        all.push(
            "The noise of a photon range follows from its signal; its floor can't be told from one distance."
                .to_owned(),
        );
    }
    if still.drift.is_some_and(|drift| !drift.turns) {
        all.push(
            "The log is shorter than five times the drift's correlation time: the drift is at least as strong as said."
                .to_owned(),
        );
    }
    all
}
