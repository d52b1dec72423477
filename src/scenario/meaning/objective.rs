//! Objective and risks.

use super::error;
use super::various::known_metric;
use crate::scenario::error::Notes;
use crate::scenario::read::limits::value;
use crate::scenario::read::{Fields, objective};

pub(super) fn check(root: &Fields, metrics: &[(&str, &str)], notes: &mut Notes) {
    if let Some(fields) = root.child("objective") {
        goal(fields, metrics, notes);
    }
    for fields in root.entries("risk") {
        let Some(unit) = known_metric(fields, "metric", metrics, notes) else { continue };
        if let Some(Err(trouble)) = value(fields, "above", unit) {
            notes.error(fields.place("above"), fields.key("above"), trouble);
        }
    }
}

fn goal(fields: &Fields, metrics: &[(&str, &str)], notes: &mut Notes) {
    let costs = fields.entries("cost");
    if fields.given("minimise") && !costs.is_empty() {
        error(notes, fields, "minimise", "an objective has either `minimise` or costs", "remove one of the two");
    }
    if fields.given("minimise") && known_metric(fields, "minimise", metrics, notes).is_none() {
        return;
    }
    for cost in costs {
        let _ = known_metric(cost, "metric", metrics, notes);
    }
    if !fields.given("indifference") {
        return;
    }
    if !fields.given("minimise") && costs.is_empty() {
        let help = "give `minimise` or costs";
        error(notes, fields, "indifference", "an indifference zone belongs to an objective", help);
        return;
    }
    match value(fields, "indifference", objective::unit(fields, metrics)) {
        Some(Err(trouble)) => notes.error(fields.place("indifference"), fields.key("indifference"), trouble),
        Some(Ok(zone)) if zone <= 0.0 => {
            let help = "leave it out if every difference matters";
            error(notes, fields, "indifference", "an indifference zone is more than 0", help);
        }
        _ => {}
    }
}
