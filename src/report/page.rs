//! `report.html`: the report as one self-contained page, without script and without anything fetched from elsewhere.
//!
//! Every figure carries its exact value in `data-value` (`data-low`, `data-high` for the interval), so that what the
//! page rounds for reading can still be copied in full.

use std::fmt::Write as _;

use super::context::Context;
use super::number::{self, exact};
use super::plots::{Figure, escaped};
use super::{groups, words};
use crate::study::result::{Estimate, RunResult, StrategyResult, Verdict};

/// The whole page.
pub fn page(result: &RunResult, context: &Context, figures: &[Figure]) -> String {
    let mut page = Page { out: String::new() };
    page.head(result, context);
    page.verdict(result);
    page.glance(result);
    page.figures(figures);
    for strategy in &result.strategies {
        page.strategy(strategy);
    }
    page.foot(result, context);
    page.out
}

struct Page {
    out: String,
}

impl Page {
    fn line(&mut self, html: &str) {
        self.out.push_str(html);
        self.out.push('\n');
    }

    /// An element with text in it; `open` is the start tag's inside.
    fn element(&mut self, open: &str, text: &str) {
        let name = open.split(' ').next().unwrap_or(open);
        // Writing to a string can't fail.
        let _ = writeln!(self.out, "<{open}>{}</{name}>", escaped(text));
    }

    fn head(&mut self, result: &RunResult, context: &Context) {
        let name = &result.scenario.name;
        self.line("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">");
        self.line("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">");
        self.element("title", &format!("{name}: season report"));
        let _ = writeln!(self.out, "<style>\n{}</style>\n</head>\n<body>", include_str!("page.css"));
        self.element("h1", name);
        if !result.scenario.about.is_empty() {
            self.element("p", &result.scenario.about);
        }
        self.element("p class=\"quiet\"", &format!("{}. dooryard {}.", words::played(result), context.version));
        if let Some(marker) = words::incomplete(result) {
            self.element("p class=\"marker\"", &marker);
        }
        for warning in &result.warnings {
            self.element("p class=\"warning\"", &format!("Warning: {warning}"));
        }
    }

    fn verdict(&mut self, result: &RunResult) {
        self.element("h2", "Verdict");
        for strategy in &result.strategies {
            let (name, overall) = (escaped(&strategy.name), escaped(&words::overall(strategy)));
            self.line(&format!("<p><strong>{name}</strong>: {overall}</p>"));
            if strategy.limits.is_empty() {
                continue;
            }
            self.line("<ul class=\"limits\">");
            for judged in &strategy.limits {
                let class = match judged.verdict {
                    Verdict::Met => "met",
                    Verdict::NotMet => "not-met",
                    Verdict::Undecided { .. } => "undecided",
                };
                let more = words::would_decide(judged.verdict).map(|more| format!("; {more}")).unwrap_or_default();
                self.line(&format!(
                    "<li><span class=\"{class}\">{}</span> {}<br><span class=\"quiet\">{}{}</span></li>",
                    words::verdict(judged.verdict),
                    escaped(&words::limit(&judged.limit)),
                    escaped(&words::evidence(judged)),
                    escaped(&more)
                ));
            }
            self.line("</ul>");
        }
    }

    fn glance(&mut self, result: &RunResult) {
        self.element("h2", "At a glance");
        self.line("<div class=\"scroll\"><table>\n<thead><tr><th scope=\"col\">mean per season</th>");
        for strategy in &result.strategies {
            self.element("th scope=\"col\"", &strategy.name);
        }
        self.line("</tr></thead>\n<tbody>");
        for &key in groups::GLANCE {
            self.line("<tr>");
            self.element("th scope=\"row\"", &words::heading(key));
            for strategy in &result.strategies {
                let cell = groups::estimate(strategy, key).map_or(withheld(), |estimate| mean_cell(estimate, true));
                self.line(&cell);
            }
            self.line("</tr>");
        }
        self.line("</tbody></table></div>");
        self.element("p class=\"quiet\"", &words::legend(result.confidence));
    }

    fn figures(&mut self, figures: &[Figure]) {
        self.element("h2", "Pictures");
        for figure in figures {
            let alt = escaped(&figure.alt);
            let svg = figure.svg.replacen("<svg ", &format!("<svg role=\"img\" aria-label=\"{alt}\" "), 1);
            self.line("<figure>\n<div class=\"scroll\">");
            self.out.push_str(&svg);
            self.line(&format!("</div>\n<figcaption>{alt} Figures: <code>{}.csv</code>.</figcaption>", figure.name));
            self.line("</figure>");
        }
    }

    fn strategy(&mut self, strategy: &StrategyResult) {
        self.element("h2", &format!("Strategy {}", strategy.name));
        if !strategy.about.is_empty() {
            self.element("p", &strategy.about);
        }
        self.element("p", &format!("Waits at the door: {}.", words::waits(&strategy.waits)));
        for detector in &strategy.detectors {
            self.element("p", &format!("Detector {}: {}.", detector.name, words::detector(detector)));
        }
        self.causes("False openings by cause", &strategy.false_causes);
        self.causes("Missed arrivals by cause", &strategy.missed_causes);
        self.line("<details>\n<summary>All figures</summary>");
        for (title, keys) in groups::GROUPS {
            let estimates = keys.iter().filter_map(|&key| groups::estimate(strategy, key));
            self.table(title, estimates.map(|estimate| (words::heading(estimate.key), estimate)));
        }
        self.line("</details>");
    }

    fn causes(&mut self, title: &str, causes: &[(String, Estimate)]) {
        if !causes.is_empty() {
            self.table(title, causes.iter().map(|(cause, estimate)| (cause.clone(), estimate)));
        }
    }

    fn table<'a>(&mut self, title: &str, rows: impl Iterator<Item = (String, &'a Estimate)>) {
        self.line("<div class=\"scroll\"><table>\n<thead><tr>");
        self.element("th scope=\"col\"", title);
        for heading in ["mean (low to high)", "method", "spread", "5 %", "median", "95 %", "least", "most"] {
            self.element("th scope=\"col\"", heading);
        }
        self.line("</tr></thead>\n<tbody>");
        for (name, estimate) in rows {
            self.line("<tr>");
            self.element("th scope=\"row\"", &name);
            self.line(&mean_cell(estimate, false));
            self.element("td", estimate.interval.map_or(number::WITHHELD, |it| number::method_name(it.method)));
            let [q05, q50, q95] = estimate.quantiles;
            for value in [estimate.spread, q05, q50, q95, Some(estimate.range.0), Some(estimate.range.1)] {
                self.line(&cell(value));
            }
            self.line("</tr>");
        }
        self.line("</tbody></table></div>");
    }

    fn foot(&mut self, result: &RunResult, context: &Context) {
        self.element("h2", "Assumptions");
        self.element("p", &format!("Seed {}. Scenario SHA-256: {}", result.seed, result.scenario_hash));
        self.line("<details>\n<summary>The scenario in full, defaults included</summary>");
        self.element("pre", context.resolved_scenario);
        self.line("</details>");
        if !context.cautions.is_empty() {
            self.element("h2", "Keep in mind");
            self.line("<ul>");
            for caution in context.cautions {
                self.element("li", caution);
            }
            self.line("</ul>");
        }
        self.line("</body>\n</html>");
    }
}

/// Mean and interval; the interval below the mean if `stacked`.
fn mean_cell(estimate: &Estimate, stacked: bool) -> String {
    let mut data = format!("data-metric=\"{}\" data-value=\"{}\"", estimate.key.metric().key, exact(estimate.mean));
    if let Some(interval) = estimate.interval {
        let _ = write!(data, " data-low=\"{}\" data-high=\"{}\"", exact(interval.low), exact(interval.high));
    }
    let text = match number::interval(estimate) {
        none if none == number::WITHHELD => number::mean(estimate),
        interval if stacked => format!("{} <small>{interval}</small>", number::mean(estimate)),
        interval => format!("{} ({interval})", number::mean(estimate)),
    };
    format!("<td {data}>{text}</td>")
}

fn cell(value: Option<f64>) -> String {
    value.map_or(withheld(), |value| {
        format!("<td data-value=\"{}\">{}</td>", exact(value), number::significant(value, 3))
    })
}

fn withheld() -> String {
    format!("<td>{}</td>", number::WITHHELD)
}
