//! A what-if study as one JSON document of the layout `dooryard-what-if/1`; keys are only ever added under this name.
//!
//! ```text
//! layout, version, answer, study, warnings, cautions: as in the documents of other studies (`report::json_tables`)
//! seasons      of each row
//! confidence   of all intervals of harm together
//! harm         what harm is counted in, a text
//! comparisons  number of comparisons over which probabilities are adjusted
//! left_out     names of the failures that have nothing to hit and were not played
//! uncounted    [ { metric, unit, failures, most, strategy, difference, low, high, p } ]: what harm does not count and single
//!              failures raise beyond chance: how many, and which most, for which strategy
//! without      [ { strategy, cost } ]: mean per season without failures
//! rows         [ row ]: each failure alone in the scenario's order, all together last
//!   failure    its name; mode, number, about, protects: of its mode, null for all together
//!   suffers_least  the strategy that surely suffers least, null if that is not sure
//!   strategies [ { strategy, harm, moved } ]
//!     harm     { difference, low, high, p }: per season, with minus without; null where the seasons can't support it
//!     moved    [ { metric, unit, difference, low, high, p, p_adjusted } ]: those beyond chance, the surest first
//! ```

use serde_json::{Value, json};

use super::{Told, answers, harm_words};
use crate::report::json_tables;
use crate::shelter::cautions::CAUTIONS;
use crate::study::paired::PairedDifference;
use crate::study::what_if::{Row, Uncounted, WhatIf};

/// The document.
///
/// # Errors
/// If it can't be written.
pub fn document(result: &WhatIf, told: &Told) -> serde_json::Result<String> {
    let difference = |one: &PairedDifference| {
        json!({
            "difference": one.difference,
            "low": one.interval.map(|interval| interval.low),
            "high": one.interval.map(|interval| interval.high),
            "p": one.p_value,
        })
    };
    let row = |row: &Row| {
        let hurt: Vec<Value> = result
            .strategies
            .iter()
            .enumerate()
            .map(|(index, strategy)| {
                let moved: Vec<Value> = row
                    .moved(index, told.confidence)
                    .iter()
                    .map(|one| {
                        let mut value = difference(&one.paired);
                        value["metric"] = json!(one.paired.key.metric().key);
                        value["unit"] = json!(one.paired.key.metric().unit);
                        value["p_adjusted"] = json!(one.adjusted_p);
                        value
                    })
                    .collect();
                json!({ "strategy": strategy, "harm": difference(&row.hurt[index].harm), "moved": moved })
            })
            .collect();
        json!({
            "failure": row.name,
            "mode": row.mode.map(|mode| mode.name),
            "number": row.mode.map(|mode| mode.number),
            "about": row.mode.map(|mode| mode.about),
            "protects": row.mode.map(|mode| mode.protects),
            "suffers_least": row.least.map(|least| &result.strategies[least]),
            "strategies": hurt,
        })
    };
    let uncounted = |left: &Uncounted| {
        let mut value = difference(&left.paired);
        value["metric"] = json!(left.key.metric().key);
        value["unit"] = json!(left.key.metric().unit);
        value["failures"] = json!(left.failures);
        value["most"] = json!(result.rows[left.most.0].name);
        value["strategy"] = json!(result.strategies[left.most.1]);
        value
    };
    serde_json::to_string_pretty(&json!({
        "layout": "dooryard-what-if/1",
        "version": told.study.version,
        "answer": answers(result, told),
        "study": json_tables::told(told.study),
        "warnings": told.warnings,
        "cautions": CAUTIONS,
        "seasons": result.seasons,
        "confidence": told.confidence,
        "harm": harm_words(told),
        "comparisons": result.family,
        "left_out": told.left_out,
        "uncounted": result.uncounted.iter().map(uncounted).collect::<Vec<_>>(),
        "without": result.strategies.iter().zip(&result.base).map(|(name, cost)| json!({ "strategy": name, "cost": cost })).collect::<Vec<_>>(),
        "rows": result.rows.iter().map(row).collect::<Vec<_>>(),
    }))
    .map(|text| text + "\n")
}
