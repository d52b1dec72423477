//! `[weather]`, printed.

use super::page::{Page, text};
use crate::scenario::weather::{
    Air, Gaps, Generated, Label, Layout, Observed, PulseMonth, PulseYear, Shift, Weather, WithinHour, Years,
};

pub(super) fn weather(page: &mut Page, weather: &Weather) {
    page.open("weather");
    match weather {
        Weather::Observed(observed) => {
            self::observed(page, observed);
            if let Some(rain) = &observed.rain {
                process(page, rain);
            }
            shift(page, &observed.shift);
        }
        Weather::Generated(generated) => {
            self::generated(page, generated);
            shift(page, &generated.shift);
        }
        Weather::Pulses(pulses) => {
            page.raw("source", text("pulses"));
            air(page, &pulses.air);
            process(page, &pulses.rain);
            shift(page, &pulses.shift);
        }
    }
}

fn observed(page: &mut Page, observed: &Observed) {
    page.raw("source", text("observed"));
    page.raw("file", text(&observed.named));
    let gaps = match observed.gaps {
        Gaps::Refuse => "refuse",
        Gaps::Dry => "dry",
        Gaps::Repeat => "repeat",
    };
    let layout = match observed.layout {
        Layout::Detect => "detect",
        Layout::Csv => "csv",
        Layout::Tmy3 => "tmy3",
        Layout::Epw => "epw",
    };
    let label = match observed.label {
        Label::Start => "start",
        Label::Middle => "middle",
        Label::End => "end",
    };
    let within_hour = match observed.within_hour {
        WithinHour::Spells => "spells",
        WithinHour::Process => "process",
        WithinHour::Even => "even",
    };
    let years = match observed.years {
        Years::Calendar => "calendar",
        Years::Whole => "whole",
        Years::Months => "months",
    };
    for (key, word) in [
        ("gaps", gaps),
        ("layout", layout),
        ("time_label", label),
        ("rain_unit", observed.units.rain.name),
        ("temperature_unit", observed.units.temperature.name),
        ("wind_unit", observed.units.wind.name),
        ("within_hour", within_hour),
        ("years", years),
    ] {
        page.raw(key, text(word));
    }
}

fn generated(page: &mut Page, weather: &Generated) {
    page.raw("source", text("generated"));
    page.monthly("wet_spell", &weather.wet_spell_h);
    page.monthly("dry_spell", &weather.dry_spell_h);
    page.monthly("intensity", &weather.intensity_mm_h);
    page.number("intensity_shape", weather.intensity_shape);
    page.number("intensity_step", weather.intensity_step_h);
    page.monthly("temperature", &weather.temperature_c);
    page.monthly("temperature_swing", &weather.temperature_swing_k);
    page.monthly("temperature_spread", &weather.temperature_spread_k);
    page.number("temperature_memory", weather.temperature_memory_h);
    page.monthly("wind", &weather.wind_m_s);
    page.number("wind_shape", weather.wind_shape);
    page.number("wind_memory", weather.wind_memory_h);
    page.number("gust_factor", weather.gust_factor);
    page.monthly("clearness", &weather.clearness);
    page.number("clearness_spread", weather.clearness_spread);
}

pub(super) fn air(page: &mut Page, air: &Air) {
    page.monthly("temperature", &air.temperature_c);
    page.monthly("temperature_swing", &air.temperature_swing_k);
    page.monthly("temperature_spread", &air.temperature_spread_k);
    page.number("temperature_memory", air.temperature_memory_h);
    page.number("rain_cooling", air.rain_cooling_k);
    page.number("dryness", air.dryness_k);
    page.number("dryness_spread", air.dryness_spread_k);
    page.monthly("wind", &air.wind_m_s);
    page.number("wind_shape", air.wind_shape);
    page.number("wind_memory", air.wind_memory_h);
    page.monthly("wind_swing", &air.wind_swing);
    page.number("wind_in_rain", air.wind_in_rain);
    page.number("roughness", air.roughness_m);
    page.monthly("clearness", &air.clearness);
    page.number("clearness_spread", air.clearness_spread);
    page.number("clearness_in_rain", air.clearness_in_rain);
}

fn process(page: &mut Page, year: &PulseYear) {
    page.open("weather.rain");
    let mut monthly = |key, value: fn(&PulseMonth) -> f64| page.monthly(key, &year.each_ref().map(value));
    monthly("storms", |month| month.storms_per_h);
    monthly("depth", |month| month.intensity_mm);
    monthly("shape", |month| month.rate_shape);
    monthly("scale", |month| month.rate_scale_h);
    monthly("cells", |month| month.cells);
    monthly("ending", |month| month.ending);
    monthly("intensity_shape", |month| month.intensity_shape);
}

fn shift(page: &mut Page, shift: &Shift) {
    page.open("weather.shift");
    page.number("rain", shift.rain);
    page.number("spells", shift.spells);
    page.number("wind", shift.wind);
    page.number("warming", shift.warming_k);
}

/// The part of a scenario that a fit writes: the whole of `[weather]` for the source "pulses", without changes.
pub(crate) fn part(air: &Air, rain: &PulseYear) -> String {
    let mut page = Page::default();
    page.open("weather");
    page.raw("source", text("pulses"));
    self::air(&mut page, air);
    process(&mut page, rain);
    page.finish()
}
