//! Estimates as tables: a few metrics of all strategies side by side, or one strategy's with everything known.

use maud::{Markup, html};

use super::super::document;
use super::super::table::{Cell, Table};
use crate::ledger::metric::Key;
use crate::report::{groups, number, words};
use crate::study::result::{Estimate, RunResult};

/// Means with their intervals, one row per metric, one column per strategy.
pub fn side_by_side(result: &RunResult, caption: &str, keys: &[Key]) -> Markup {
    let all = result.strategies.iter().map(|strategy| (strategy.name.as_str(), strategy.estimates.as_slice()));
    Table::means(caption, "strategy", &all.collect::<Vec<_>>(), keys).render()
}

/// One of the groups of metrics, side by side.
pub fn group(result: &RunResult, title: &str) -> Markup {
    let keys = groups::GROUPS.iter().find(|(name, _)| *name == title).map_or(&[][..], |(_, keys)| keys);
    side_by_side(result, &format!("{title}: means per season"), keys)
}

/// Everything known about every metric, folded away by strategy.
pub fn all(result: &RunResult) -> Markup {
    html! {
        (document::note("Every metric of every strategy: mean with its interval and the method of that, standard \
                         deviation between seasons, quantiles between seasons, range."))
        @for strategy in &result.strategies {
            (document::folded(&format!("Strategy {}", strategy.name), &html! {
                @if !strategy.about.is_empty() { p { (strategy.about) } }
                @for (title, keys) in groups::GROUPS {
                    @let estimates = keys.iter().filter_map(|&key| groups::estimate(strategy, key));
                    @let rows = estimates.map(|it| {
                        (vec![strategy.name.as_str(), it.key.metric().key], words::heading_of(it, &strategy.estimates), it)
                    });
                    (full(&format!("{title}, {}", strategy.name), "metrics.csv", &["strategy", "metric"], rows))
                }
            }))
        }
    }
}

/// Estimates with everything known about them, one per row: key in the file, name, estimate.
pub fn full<'a>(
    caption: &str,
    file: &str,
    keys: &[&str],
    rows: impl Iterator<Item = (Vec<&'a str>, String, &'a Estimate)>,
) -> Markup {
    let headings = ["per season", "mean (low to high)", "method", "spread", "5 %", "median", "95 %", "least", "most"];
    let mut table = Table::new(caption, &headings).of(file, keys).left(&[2]);
    for (key, name, estimate) in rows {
        let three = |value| number::significant(value, 3);
        let [q05, q50, q95] = estimate.quantiles;
        let method = estimate.interval.map(|it| number::method_name(it.method));
        table.keyed(
            &key,
            vec![
                Cell::text(name),
                Cell::estimate(estimate, false),
                Cell::text(method.unwrap_or(number::WITHHELD)).field("method", method.unwrap_or_default()),
                Cell::optional("spread", estimate.spread, three),
                Cell::optional("q05", q05, three),
                Cell::optional("q50", q50, three),
                Cell::optional("q95", q95, three),
                Cell::number("min", estimate.range.0, three(estimate.range.0)),
                Cell::number("max", estimate.range.1, three(estimate.range.1)),
            ],
        );
    }
    table.render()
}
