//! `agreement.svg`: how far a fitted generator is off the record it was fitted to.

use super::{Figure, PlotError, forest};
use crate::report::csv;
use crate::report::number::exact;
use crate::study::weather_fit::{Tolerance, WeatherFit};

/// One panel per period with rain, one row per statistic that is judged.
pub fn agreement(fit: &WeatherFit) -> Result<Figure, PlotError> {
    let mut panels = Vec::new();
    for one in &fit.periods {
        let rows = one.rain.iter().flat_map(|rain| &rain.rows);
        let judged = rows.filter(|row| row.difference().is_finite()).filter_map(|row| match row.tolerance {
            Tolerance::Within(most) => Some((row, 100.0 * most)),
            Tolerance::None => None,
        });
        let rows: Vec<forest::Row> = judged
            .map(|(row, most)| forest::Row {
                name: row.name.clone(),
                value: 100.0 * row.difference(),
                interval: Some((-most, most)),
                series: usize::from(row.agrees() != Some(true)),
            })
            .collect();
        if !rows.is_empty() {
            let (title, axis) = (one.period.name.to_string(), "fitted minus observed, % of the observed".to_string());
            panels.push(forest::Panel { title, axis, log: false, rows });
        }
    }
    let title = "How far the fitted generator is off the record";
    let subtitle = "dot: fitted against observed; line: within this it agrees";
    let svg = forest::forest(title, subtitle, &panels)?;
    let mut out = csv::writer(Vec::new());
    out.write_record(["period", "statistic", "off_by_percent", "tolerance_percent"])?;
    for panel in &panels {
        for row in &panel.rows {
            let most = row.interval.map_or(0.0, |interval| interval.1);
            out.write_record([panel.title.as_str(), &row.name, &exact(row.value), &exact(most)])?;
        }
    }
    let alt = format!("{title}, one panel per period, one row per statistic, with what counts as agreement.");
    Ok(Figure { name: "agreement", svg, csv: super::finished(out)?, alt })
}
