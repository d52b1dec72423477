//! `[weather]` as it is resolved.

use std::path::{Path, PathBuf};

use super::Fields;
use crate::scenario::error::Source;
use crate::scenario::weather::units::{self, Units};
use crate::scenario::weather::{
    Air, Gaps, Generated, Label, Layout, Observed, PulseMonth, PulseYear, Pulses, Shift, Weather, WithinHour, Years,
};

pub(super) fn weather(fields: &Fields, sources: &[Source]) -> Option<Weather> {
    let shift = shift(fields.child("shift")?)?;
    match fields.text("source")? {
        "observed" => Some(Weather::Observed(observed(fields, sources, shift)?)),
        "pulses" => {
            let pulses = Pulses { rain: process(fields.child("rain")?)?, air: air(fields)?, shift };
            Some(Weather::Pulses(Box::new(pulses)))
        }
        _ => Some(Weather::Generated(generated(fields, shift)?)),
    }
}

fn observed(fields: &Fields, sources: &[Source], shift: Shift) -> Option<Observed> {
    Some(Observed {
        file: file(fields, sources)?,
        named: named(fields, sources)?,
        gaps: match fields.text("gaps")? {
            "dry" => Gaps::Dry,
            "repeat" => Gaps::Repeat,
            _ => Gaps::Refuse,
        },
        layout: match fields.text("layout")? {
            "csv" => Layout::Csv,
            "tmy3" => Layout::Tmy3,
            "epw" => Layout::Epw,
            _ => Layout::Detect,
        },
        label: match fields.text("time_label")? {
            "middle" => Label::Middle,
            "end" => Label::End,
            _ => Label::Start,
        },
        units: Units {
            rain: units::named(&units::RAIN, fields.text("rain_unit")?),
            temperature: units::named(&units::TEMPERATURE, fields.text("temperature_unit")?),
            wind: units::named(&units::WIND, fields.text("wind_unit")?),
        },
        within_hour: match fields.text("within_hour")? {
            "even" => WithinHour::Even,
            "process" => WithinHour::Process,
            _ => WithinHour::Spells,
        },
        rain: fields.child("rain").and_then(process),
        years: match fields.text("years")? {
            "whole" => Years::Whole,
            "months" => Years::Months,
            _ => Years::Calendar,
        },
        shift,
    })
}

/// The rain process if all of it is given.
fn process(fields: &Fields) -> Option<PulseYear> {
    let storms_per_h = fields.monthly("storms")?;
    let intensity_mm = fields.monthly("depth")?;
    let rate_shape = fields.monthly("shape")?;
    let rate_scale_h = fields.monthly("scale")?;
    let cells = fields.monthly("cells")?;
    let ending = fields.monthly("ending")?;
    let intensity_shape = fields.monthly("intensity_shape").unwrap_or([1.0; 12]);
    Some(std::array::from_fn(|month| PulseMonth {
        storms_per_h: storms_per_h[month],
        intensity_mm: intensity_mm[month],
        rate_shape: rate_shape[month],
        rate_scale_h: rate_scale_h[month],
        cells: cells[month],
        ending: ending[month],
        intensity_shape: intensity_shape[month],
    }))
}

fn shift(fields: &Fields) -> Option<Shift> {
    Some(Shift {
        rain: fields.number("rain")?,
        spells: fields.number("spells")?,
        wind: fields.number("wind")?,
        warming_k: fields.number("warming")?,
    })
}

fn air(fields: &Fields) -> Option<Air> {
    Some(Air {
        temperature_c: fields.monthly("temperature")?,
        temperature_swing_k: fields.monthly("temperature_swing")?,
        temperature_spread_k: fields.monthly("temperature_spread")?,
        temperature_memory_h: fields.number("temperature_memory")?,
        rain_cooling_k: fields.number("rain_cooling")?,
        dryness_k: fields.number("dryness")?,
        dryness_spread_k: fields.number("dryness_spread")?,
        wind_m_s: fields.monthly("wind")?,
        wind_shape: fields.number("wind_shape")?,
        wind_memory_h: fields.number("wind_memory")?,
        wind_swing: fields.monthly("wind_swing")?,
        wind_in_rain: fields.number("wind_in_rain")?,
        roughness_m: fields.number("roughness")?,
        clearness: fields.monthly("clearness")?,
        clearness_spread: fields.number("clearness_spread")?,
        clearness_in_rain: fields.number("clearness_in_rain")?,
    })
}

fn generated(fields: &Fields, shift: Shift) -> Option<Generated> {
    Some(Generated {
        wet_spell_h: fields.monthly("wet_spell")?,
        dry_spell_h: fields.monthly("dry_spell")?,
        intensity_mm_h: fields.monthly("intensity")?,
        intensity_shape: fields.number("intensity_shape")?,
        intensity_step_h: fields.number("intensity_step")?,
        temperature_c: fields.monthly("temperature")?,
        temperature_swing_k: fields.monthly("temperature_swing")?,
        temperature_spread_k: fields.monthly("temperature_spread")?,
        temperature_memory_h: fields.number("temperature_memory")?,
        wind_m_s: fields.monthly("wind")?,
        wind_shape: fields.number("wind_shape")?,
        wind_memory_h: fields.number("wind_memory")?,
        gust_factor: fields.number("gust_factor")?,
        clearness: fields.monthly("clearness")?,
        clearness_spread: fields.number("clearness_spread")?,
        shift,
    })
}

/// The observed record, found from the file that names it.
pub(crate) fn file(fields: &Fields, sources: &[Source]) -> Option<PathBuf> {
    let path = namer(fields, sources)?.join(fields.text("file")?);
    Some(std::path::absolute(&path).unwrap_or(path))
}

/// The observed record as the scenario itself would name it, whichever part does.
fn named(fields: &Fields, sources: &[Source]) -> Option<String> {
    let path = namer(fields, sources)?.join(fields.text("file")?);
    let folder = folder(sources.first()?);
    Some(path.strip_prefix(folder).unwrap_or(&path).to_string_lossy().into_owned())
}

/// The folder of the file that names the record.
fn namer<'s>(fields: &Fields, sources: &'s [Source]) -> Option<&'s Path> {
    sources.get(fields.place("file").file).map(folder)
}

fn folder(source: &Source) -> &Path {
    source.path.parent().unwrap_or(Path::new(""))
}
