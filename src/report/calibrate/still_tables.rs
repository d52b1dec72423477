//! Readings of something that stands still: figures, Allan curve and outliers as tables and table files.

use std::io;

use super::figures::{Figure, seconds, shown};
use crate::report::csv::writer;
use crate::report::number::{exact, exact_or_empty, percent, significant, whole};
use crate::report::plots::calibrate as plots;
use crate::report::table::{Cell, Table};
use crate::scenario::measure::Measure;
use crate::study::calibrate::Measured;
use crate::study::calibrate::still::Still;

/// What the names of methods stand for.
pub const METHODS: &str = "Exact binomial: Clopper & Pearson. Student t and the chi-square interval of all noise: with the number of \
                       independent readings. Parametric bootstrap: from logs drawn from the fitted model. Normal: for independent \
                       readings. Figures from the mean reading on are without the outliers.";
const BY_EXACT: &str = "exact binomial";
const BY_T: &str = "Student t";
const BY_CHI: &str = "chi-square";
const BY_BOOTSTRAP: &str = "parametric bootstrap";

/// All figures, in the order of the table.
pub fn figures(still: &Still, measure: &Measure) -> Vec<Figure> {
    let unit = measure.unit;
    let (all, kept) = (still.readings, still.kept.readings.len() as u64);
    let hundred = |share: &Measured| share.map(|share| 100.0 * share);
    let of_white = if still.drift.is_some() { BY_BOOTSTRAP } else { BY_CHI };
    let mut rows = vec![
        Figure::new("sample time", "s", Measured::alone(still.sampling.period_s), all, ""),
        Figure::new("jitter of sample times", "s", Measured::alone(still.sampling.jitter_s), all, ""),
        Figure::new("missing readings", "%", hundred(&still.sampling.dropout), still.sampling.due, BY_EXACT),
        Figure::new("longest gap", "s", Measured::alone(still.sampling.longest_gap_s), all, ""),
        Figure::new("step between readings", unit, Measured::alone(still.step), all, ""),
        Figure::new("outliers", "%", hundred(&still.outliers.rate), all, BY_EXACT),
        Figure::new("outliers below the others", "%", hundred(&still.outliers.rate_below), all, BY_EXACT),
        Figure::new("mean reading", unit, still.mean, kept, BY_T),
    ];
    rows.extend(still.bias.map(|bias| Figure::new("bias", unit, bias, kept, BY_T)));
    rows.extend([
        Figure::new("white noise", unit, still.white, kept, of_white),
        Figure::new("noise of differences", unit, Measured::alone(still.sigma_of_differences), kept, ""),
        Figure::new("all noise about a straight line", unit, still.sigma, kept, BY_CHI),
        Figure::new("correlation of neighbours", "", still.lag_one, kept, "normal"),
        Figure::new("independent readings", "", Measured::alone(still.effective), kept, ""),
        Figure::new("von Neumann ratio", "", Measured::alone(still.von_neumann), kept, ""),
        Figure::new(
            "von Neumann ratio of white noise",
            "",
            Measured { value: 2.0, ends: Some(still.von_neumann_white) },
            kept,
            "normal",
        ),
        Figure::new(
            "drift in a straight line",
            format!("{unit}/h"),
            still.slope_per_s.map(|per_s| 3_600.0 * per_s),
            kept,
            BY_T,
        ),
        Figure::new("longest useful averaging", "s", Measured::alone(still.best.time_s), kept, ""),
    ]);
    let at = still.curve.iter().find(|place| place.readings == still.best.readings);
    rows.extend(at.map(|place| Figure::new("noise of means so long", unit, place.deviation, kept, BY_CHI)));
    if let Some(drift) = &still.drift {
        rows.push(Figure::new("slow drift", unit, drift.slow, kept, BY_BOOTSTRAP));
        rows.push(Figure::new("correlation time of the drift", "s", drift.time_s, kept, BY_BOOTSTRAP));
    }
    rows
}

/// The Allan curve.
pub fn curve_table(still: &Still, measure: &Measure) -> Table {
    let interval = format!("{} interval", percent(still.confidence));
    let mut table =
        Table::new(&["averaged over", "readings", "Allan dev.", &interval, "freedom"]).of("allan.csv", &["readings"]);
    for place in &still.curve {
        let (value, ends) = shown(&place.deviation, measure.unit);
        let cells = vec![
            Cell::new(seconds(place.time_s)).figure("time_s", place.time_s),
            Cell::new(whole(place.readings as u64)),
            Cell::new(value).figure("deviation", place.deviation.value),
            Cell::new(ends)
                .perhaps("low", place.deviation.ends.map(|ends| ends.0))
                .perhaps("high", place.deviation.ends.map(|ends| ends.1)),
            Cell::new(significant(place.freedom, 3)).figure("degrees_of_freedom", place.freedom),
        ];
        table.keyed(vec![place.readings.to_string()], cells);
    }
    table
}

/// `allan.csv`: the curve, and what white noise and the fitted model would give.
///
/// # Errors
/// If it can't be written: a defect of the program.
pub fn curve_csv(still: &Still) -> io::Result<Vec<u8>> {
    let mut out = writer(Vec::new());
    out.write_record(["readings", "time_s", "deviation", "low", "high", "degrees_of_freedom", "white", "fitted"])?;
    for place in &still.curve {
        let (white, fitted) = plots::laws(still, place.readings);
        let ends = place.deviation.ends;
        out.write_record([
            place.readings.to_string(),
            exact(place.time_s),
            exact(place.deviation.value),
            exact_or_empty(ends.map(|ends| ends.0)),
            exact_or_empty(ends.map(|ends| ends.1)),
            exact(place.freedom),
            exact(white),
            exact_or_empty(fitted),
        ])?;
    }
    out.into_inner().map_err(|error| io::Error::other(error.to_string()))
}

/// `outliers.csv`: each of them.
///
/// # Errors
/// If it can't be written: a defect of the program.
pub fn outliers_csv(still: &Still) -> io::Result<Vec<u8>> {
    let mut out = writer(Vec::new());
    out.write_record(["time_s", "reading"])?;
    for flagged in &still.flagged {
        out.write_record([exact(flagged.time_s), exact(flagged.reading)])?;
    }
    out.into_inner().map_err(|error| io::Error::other(error.to_string()))
}
