//! A sensor's figures as a part of a scenario: exactly the keys that its kind has, each with its interval beside it.

use super::figures::with_ends;
use crate::report::number::{percent, whole};
use crate::scenario::measure::Measure;
use crate::scenario::sensor::Errors;
use crate::study::calibrate::Measured;
use crate::study::calibrate::figures::{Corner, Figures, errors};
use crate::study::calibrate::still::Still;

/// What the part says besides the figures.
pub struct Told<'a> {
    /// The sensor's name.
    pub name: &'a str,
    /// The log's file.
    pub file: &'a str,
    /// Version of the program.
    pub version: &'a str,
    /// What the sensor reads, and that per day.
    pub measures: (&'static Measure, &'static Measure),
    /// The scenario's own figures of the sensor, if one was given, and the scenario's name and absolute path.
    pub own: Option<(&'a Errors, &'a str, &'a str)>,
}

/// Name of the part's file.
pub const PART: &str = "sensor.toml";
/// Name of the file that plays a scenario with it.
pub const WHOLE: &str = "calibrated.toml";

/// The part, and beside it a scenario that plays with it if one was given.
pub fn parts(still: &Still, figures: &Figures, told: &Told) -> Vec<(String, String)> {
    let mut all = vec![(PART.to_owned(), part(still, figures, told))];
    if let Some((_, name, path)) = told.own {
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        let text = format!(
            "# {name} with the figures of {}, by dooryard {}; later parts win over earlier ones\ninclude = [{}, \"{PART}\"]\nname = {}\n",
            told.file,
            told.version,
            quoted(path),
            quoted(&format!("{name}-calibrated"))
        );
        all.push((WHOLE.to_owned(), text));
    }
    all
}

/// A number with four digits beyond those that its interval makes uncertain: nobody is served by seventeen.
fn rounded(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value)
}

fn part(still: &Still, figures: &Figures, told: &Told) -> String {
    let (measure, per_day) = told.measures;
    let own = told.own.map_or(&Errors::NONE, |own| own.0);
    let now = errors(figures, own, Corner::MIDDLE);
    let n = whole(still.kept.readings.len() as u64).replace('\u{a0}', " ");
    let mut out = format!(
        "# Sensor figures from {} ({n} readings), by dooryard {}; behind each: its {} interval.\n\
         # To use it, copy the keys into the scenario's sensor, or include this file after the scenario:\n\
         # include = [\"scenario.toml\", \"{PART}\"]\n\n[[sensor]]\nname = {}\n",
        told.file,
        told.version,
        percent(still.confidence).replace('\u{a0}', " "),
        toml::Value::String(told.name.to_owned())
    );
    let quantity = |value: f64, measure: &Measure| format!("\"{}\"", measure.show(rounded(value)));
    let beside = |measured: &Measured, unit: &str| with_ends(measured, unit).replace('\u{a0}', " ");
    let mut line = |key: &str, value: String, comment: String| out.push_str(&format!("{key} = {value}  # {comment}\n"));
    match &figures.bias {
        Some(bias) => line("bias", quantity(now.bias, measure), beside(bias, measure.unit)),
        None => line("# bias", "?".to_owned(), "give the true value with --truth".to_owned()),
    }
    if let Some(noise) = &figures.noise {
        let at_zero = if now.noise_growth > 0.0 {
            format!("; less {} times the reading, which `noise_growth` adds", now.noise_growth)
        } else {
            String::new()
        };
        line("noise", quantity(now.noise, measure), format!("{}{at_zero}", beside(noise, measure.unit)));
        if own.noise_growth > 0.0 && now.noise_growth == 0.0 {
            line(
                "noise_growth",
                "0.0".to_owned(),
                "there is less noise than the scenario's growth alone makes".to_owned(),
            );
        }
    }
    if figures.step > 0.0 {
        line("resolution", quantity(figures.step, measure), "step between readings".to_owned());
    }
    line("dropout", format!("{:?}", rounded(now.dropout)), beside(&figures.dropout, ""));
    if told.own.is_some() && now.dropout_rain != own.dropout_rain {
        line("dropout_in_rain", format!("{:?}", rounded(now.dropout_rain)), "no less than in dry weather".to_owned());
    }
    if let Some(spurious) = &figures.spurious {
        line("spurious", format!("{:?}", rounded(now.spurious)), format!("{}, short ones", beside(spurious, "")));
    }
    match &figures.drift_per_day {
        Some(drift) => line("drift_per_day", quantity(drift.value, per_day), beside(drift, per_day.unit)),
        None => line(
            "# drift_per_day",
            "?".to_owned(),
            "takes a log of a day or more that rises or falls in a straight line".to_owned(),
        ),
    }
    line("# period", format!("\"{} s\"", rounded(figures.period_s)), "as logged".to_owned());
    if let Some(drift) = &figures.drift {
        let least = if drift.turns { "" } else { "; at least: the log is too short to see it turn round" };
        let spread = quantity(now.random_drift, measure);
        line("random_drift", spread, format!("{}{least}", beside(&drift.slow, measure.unit)));
        let played =
            if now.random_drift_s > drift.time_s.value { "; played as the shortest that a drift may have" } else { "" };
        let time = format!("\"{} s\"", rounded(now.random_drift_s));
        line("random_drift_time", time, format!("{}{least}{played}", beside(&drift.time_s, "s")));
    }
    out
}
