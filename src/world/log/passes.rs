//! A log of labelled passes: one row per pass, with the highest score that a detector gave it and what passed.
//!
//! Columns: `label` (mower or other) and `score`.

use std::path::Path;

use super::error::{LogError, ProblemKind};
use super::table::{Complaints, Wanted, nearest, read, shorten};

/// Scores of passes, as they stand in the log.
#[derive(Clone, Debug, PartialEq)]
pub struct PassLog {
    /// Passes of the mower.
    pub mower: Vec<f64>,
    /// Passes of anything else.
    pub other: Vec<f64>,
    /// What its owner should know.
    pub warnings: Vec<String>,
}

const COLUMNS: [Wanted; 2] =
    [Wanted { name: "label", is: |name| name == "label" }, Wanted { name: "score", is: |name| name == "score" }];
const LABELS: [&str; 2] = ["mower", "other"];

/// Reads labelled passes.
///
/// # Errors
/// If it can't be read, or anything in it is wrong: all that is, with lines.
pub fn read_passes(path: &Path) -> Result<PassLog, LogError> {
    let mut complaints = Complaints::default();
    let mut log = PassLog { mower: Vec::new(), other: Vec::new(), warnings: Vec::new() };
    if let Some(table) = read(path, &COLUMNS, "label,score", &mut complaints)? {
        log.warnings = table.warnings;
        for (line, [label, score]) in &table.rows {
            let into = match label.to_lowercase().as_str() {
                "mower" => &mut log.mower,
                "other" => &mut log.other,
                unknown => {
                    let nearest = nearest(unknown, LABELS.into_iter());
                    complaints.add(Some(*line), Some("label"), ProblemKind::Label { found: shorten(label), nearest });
                    continue;
                }
            };
            match score.parse::<f64>() {
                Ok(value) if value.is_finite() => into.push(value),
                Ok(_) => {
                    complaints.add(Some(*line), Some("score"), ProblemKind::NotFinite { found: shorten(score) });
                }
                Err(_) => complaints.add(Some(*line), Some("score"), ProblemKind::Number { found: shorten(score) }),
            }
        }
        if !complaints.any() {
            for (label, scores) in LABELS.into_iter().zip([&log.mower, &log.other]) {
                if scores.len() < 2 {
                    complaints.add(None, Some("label"), ProblemKind::NoPasses { label });
                }
            }
        }
    }
    complaints.finish(path)?;
    Ok(log)
}
