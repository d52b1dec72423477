//! The report as plain text: `summary.txt` and what the terminal shows. The answer comes first, then the few figures
//! that matter for all strategies side by side, then everything.

use super::context::Context;
use super::table::{Cell, Table, hang, wrap};
use super::{groups, number, words};
use crate::ledger::blame::{BLAMED, Blamed};
use crate::study::interval::Method;
use crate::study::result::{Estimate, RunResult, StrategyResult, Verdict};

/// Columns beyond which no line is expected to go: a screen reader has no use for broken lines.
const UNBROKEN: usize = 1_000_000;

/// How the text is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Setting {
    /// Columns available; below 60 counts as 60.
    pub width: usize,
    /// For a screen reader: no columns, no rules, no lines broken.
    pub plain: bool,
}

impl Setting {
    /// The columns in which text is set.
    pub fn room(self) -> usize {
        if self.plain { UNBROKEN } else { self.width.max(60) }
    }
}

impl Default for Setting {
    fn default() -> Setting {
        Setting { width: 80, plain: false }
    }
}

/// The whole report.
pub fn report(result: &RunResult, context: &Context, setting: Setting) -> String {
    let mut page = Page { out: String::new(), width: setting.room(), setting };
    page.opening(result, context);
    page.limits(result);
    page.glance(result);
    page.legend(result);
    for strategy in &result.strategies {
        page.strategy(strategy);
    }
    page.closing(result, context);
    page.out
}

/// Adds a paragraph, wrapped to `width`.
pub(super) fn paragraph(out: &mut String, text: &str, width: usize) {
    for line in wrap(text, width) {
        out.push_str(&line);
        out.push('\n');
    }
}

/// Adds warnings, each wrapped to `width`.
pub(super) fn warnings(out: &mut String, warnings: &[String], width: usize) {
    warnings.iter().for_each(|warning| out.push_str(&hang("Warning: ", warning, width)));
}

/// Adds the answer under its heading, a paragraph per sentence: before anything else that a report says.
pub(super) fn answer(out: &mut String, sentences: &[String], setting: Setting) {
    heading(out, "Answer", setting);
    sentences.iter().for_each(|sentence| paragraph(out, sentence, setting.room()));
}

/// Adds a heading, underlined unless it is for a screen reader.
pub(super) fn heading(out: &mut String, text: &str, setting: Setting) {
    out.push_str(&format!("\n{text}\n"));
    if !setting.plain {
        out.push_str(&format!("{}\n", "=".repeat(text.chars().count())));
    }
}

/// The text so far.
struct Page {
    out: String,
    width: usize,
    setting: Setting,
}

impl Page {
    fn line(&mut self, text: &str) {
        self.out.push_str(text);
        self.out.push('\n');
    }

    fn paragraph(&mut self, text: &str) {
        paragraph(&mut self.out, text, self.width);
    }

    fn heading(&mut self, text: &str) {
        heading(&mut self.out, text, self.setting);
    }

    fn table(&mut self, table: &Table) {
        self.out.push_str(&table.render(self.setting));
    }

    /// What was played, and warnings.
    fn opening(&mut self, result: &RunResult, context: &Context) {
        let about = &result.scenario.about;
        let about = if about.is_empty() { String::new() } else { format!(": {about}") };
        self.paragraph(&format!("{}{about}", result.scenario.name));
        self.paragraph(&words::played(result));
        self.paragraph(&format!("dooryard {}, scenario {}", context.version, short(&result.scenario_hash)));
        if let Some(marker) = words::incomplete(result) {
            self.line("");
            self.paragraph(&format!("*** {marker} ***"));
        }
        for warning in &result.warnings {
            self.line("");
            self.out.push_str(&hang("Warning: ", warning, self.width));
        }
    }

    /// Verdict per strategy.
    fn limits(&mut self, result: &RunResult) {
        self.heading("Verdict");
        for (index, strategy) in result.strategies.iter().enumerate() {
            if index > 0 && strategy.decisions().next().is_some() {
                self.line("");
            }
            self.out.push_str(&hang(&format!("{}: ", strategy.name), &words::overall(strategy), self.width));
            for (verdict, what, mut why) in words::verdicts(&strategy.limits, &strategy.risks) {
                let word = match verdict {
                    Verdict::NotMet => "NOT MET".to_string(),
                    other => words::verdict(other).to_string(),
                };
                if let Some(more) = words::would_decide(verdict) {
                    why = format!("{why}; {more}");
                }
                if self.setting.plain {
                    self.line(&format!("{word}: {what}: {why}."));
                    continue;
                }
                self.out.push_str(&hang(&format!("  {word:<9}  "), &what, self.width));
                self.out.push_str(&hang(&" ".repeat(13), &why, self.width));
            }
        }
    }

    /// The few figures that matter, all strategies side by side; as many tables as the width asks for.
    fn glance(&mut self, result: &RunResult) {
        self.heading("At a glance");
        let mut rest = &result.strategies[..];
        let mut first = true;
        while !rest.is_empty() {
            let fits = (1..=rest.len())
                .rev()
                .find(|&count| count == 1 || glance_table(&rest[..count], true).width_of_figures() + 24 <= self.width);
            let (these, others) = rest.split_at(fits.unwrap_or(1));
            if !first {
                self.line("");
            }
            let wide = glance_table(these, false);
            let one_line = wide.width_of_figures() + 30 <= self.width;
            self.table(&if one_line { wide } else { glance_table(these, true) });
            first = false;
            rest = others;
        }
    }

    fn legend(&mut self, result: &RunResult) {
        self.line("");
        self.paragraph(&words::legend(result.confidence));
        self.paragraph(&words::common_causes(&result.scenario.common_cause));
    }

    /// Everything about one strategy.
    fn strategy(&mut self, strategy: &StrategyResult) {
        self.heading(&format!("Strategy {}", strategy.name));
        if !strategy.about.is_empty() {
            self.paragraph(&strategy.about);
        }
        for (title, keys) in groups::GROUPS {
            let estimates = keys.iter().filter_map(|&key| groups::estimate(strategy, key));
            let rows = estimates.map(|estimate| (words::heading_of(estimate, &strategy.estimates), estimate));
            self.line("");
            self.table(&figures(title, rows));
        }
        for blamed in BLAMED {
            let causes = &strategy.causes[blamed];
            // Where the door touches nobody, a list of whom it doesn't touch helps nobody, nor why the mower never gave up leaving.
            if matches!(blamed, Blamed::Contacts | Blamed::MissedDepartures)
                && causes.iter().all(|(_, estimate)| estimate.mean == 0.0)
            {
                continue;
            }
            self.causes(&words::by_cause(blamed.key()), causes);
        }
        self.line("");
        self.out.push_str(&hang("Waits at the door: ", &words::waits(&strategy.waits), self.width));
        if let Some(openings) = words::noise_openings(&strategy.noise_openings) {
            self.line("");
            self.out.push_str(&hang("Openings by noise alone: ", &openings, self.width));
        }
        for detector in &strategy.detectors {
            self.line("");
            self.out.push_str(&hang(&format!("Detector {}: ", detector.name), &words::detector(detector), self.width));
        }
    }

    fn causes(&mut self, title: &str, causes: &[(String, Estimate)]) {
        if !causes.is_empty() {
            self.line("");
            self.table(&figures(title, causes.iter().map(|(cause, estimate)| (cause.clone(), estimate))));
        }
    }

    /// How methods are abbreviated, the hash in full, cautions.
    fn closing(&mut self, result: &RunResult, context: &Context) {
        self.line("");
        // By ear, each figure names its method itself.
        if !self.setting.plain {
            self.methods();
        }
        self.paragraph(&format!("Scenario SHA-256: {}", result.scenario_hash));
        if !context.cautions.is_empty() {
            self.heading("Keep in mind");
            for caution in context.cautions {
                self.out.push_str(&hang("- ", caution, self.width));
            }
        }
    }

    /// Letters of the methods.
    fn methods(&mut self) {
        let methods = [Method::Poisson, Method::StudentT, Method::Bootstrap, Method::Wilson, Method::ClopperPearson];
        let letters: Vec<String> =
            methods.iter().map(|&method| format!("{} {}", letter(method), number::method_name(method))).collect();
        self.paragraph(&format!("By (method of the interval): {}.", letters.join(", ")));
    }
}

/// Key figures, one column per strategy; the interval below the mean if `stacked`, beside it if not.
fn glance_table(strategies: &[StrategyResult], stacked: bool) -> Table {
    let names = strategies.iter().map(|strategy| strategy.name.as_str());
    let headings: Vec<&str> = std::iter::once("mean per season").chain(names).collect();
    let mut table = Table::new(&headings);
    for &key in groups::GLANCE {
        let cell = |strategy| match groups::estimate(strategy, key) {
            None => number::WITHHELD.to_string(),
            Some(estimate) if stacked => match number::interval(estimate) {
                none if none == number::WITHHELD => number::mean(estimate),
                interval => format!("{}\n({interval})", number::mean(estimate)),
            },
            Some(estimate) => number::mean_and_interval(estimate),
        };
        table.row(std::iter::once(words::heading(key)).chain(strategies.iter().map(cell)).collect());
    }
    table
}

/// Estimates with everything known about them, one per row.
fn figures<'a>(title: &str, rows: impl Iterator<Item = (String, &'a Estimate)>) -> Table {
    let mut table = Table::new(&[title, "mean", "low to high", "by", "spread", "5 %", "median", "95 %"]);
    for (name, estimate) in rows {
        let [q05, q50, q95] = estimate.quantiles.map(|quantile| number::significant_or_dash(quantile, 3));
        let by = estimate
            .interval
            .map_or(number::WITHHELD.into(), |it| Cell::new(letter(it.method)).said(number::method_name(it.method)));
        table.row(vec![
            name.into(),
            number::mean(estimate).into(),
            number::interval(estimate).into(),
            by,
            number::significant_or_dash(estimate.spread, 3).into(),
            q05.into(),
            q50.into(),
            q95.into(),
        ]);
    }
    table
}

/// One letter per method, for the narrow column of the text report.
fn letter(method: Method) -> &'static str {
    match method {
        Method::Poisson => "P",
        Method::StudentT => "t",
        Method::Bootstrap => "B",
        Method::Wilson => "W",
        Method::ClopperPearson => "C",
        Method::Unmatched => "U",
    }
}

/// The first digits of a hash: enough to tell two scenarios apart at a glance.
fn short(hash: &str) -> &str {
    hash.get(..12).unwrap_or(hash)
}
