//! `[weather]` as it is resolved.

use std::path::{Path, PathBuf};

use super::Fields;
use crate::scenario::error::Source;
use crate::scenario::weather::{Gaps, Generated, Observed, Weather};

pub(super) fn weather(fields: &Fields, sources: &[Source]) -> Option<Weather> {
    if fields.text("source")? == "observed" {
        let gaps = match fields.text("gaps")? {
            "dry" => Gaps::Dry,
            "repeat" => Gaps::Repeat,
            _ => Gaps::Refuse,
        };
        return Some(Weather::Observed(Observed { file: file(fields, sources)?, gaps }));
    }
    Some(Weather::Generated(Generated {
        wet_spell_h: fields.monthly("wet_spell")?,
        dry_spell_h: fields.monthly("dry_spell")?,
        intensity_mm_h: fields.monthly("intensity")?,
        intensity_shape: fields.number("intensity_shape")?,
        intensity_step_h: fields.number("intensity_step")?,
        temperature_c: fields.monthly("temperature")?,
        temperature_swing_k: fields.monthly("temperature_swing")?,
        temperature_spread_k: fields.number("temperature_spread")?,
        temperature_memory_h: fields.number("temperature_memory")?,
        wind_m_s: fields.monthly("wind")?,
        wind_shape: fields.number("wind_shape")?,
        wind_memory_h: fields.number("wind_memory")?,
        gust_factor: fields.number("gust_factor")?,
        clearness: fields.monthly("clearness")?,
        clearness_spread: fields.number("clearness_spread")?,
    }))
}

/// The observed record, found from the file that names it; absolute, so that the printed scenario loads from anywhere.
pub(crate) fn file(fields: &Fields, sources: &[Source]) -> Option<PathBuf> {
    let name = fields.text("file")?;
    let namer = &sources.get(fields.place("file").file)?.path;
    let path = namer.parent().unwrap_or(Path::new("")).join(name);
    Some(std::path::absolute(&path).unwrap_or(path))
}
