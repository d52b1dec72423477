//! `[[sensor]]` as it is resolved.

use super::Fields;
use crate::math::time::{MICROS_PER_SECOND, Span};
use crate::scenario::sensor::{
    Aim, Creep, End, Errors, NARROW, Photon, Platform, RANDOM_DRIFT_S, Sensor, SensorKind, TiltOn, WIDE,
    one_pole_correlation, tilt_noise_deg,
};

pub(super) fn sensor(fields: &Fields) -> Option<Sensor> {
    Some(Sensor {
        name: fields.text("name")?.to_owned(),
        kind: kind(fields)?,
        period: period(fields)?,
        latency: Span::from_seconds(fields.number("latency")?),
        errors: errors(fields)?,
    })
}

/// Time between samples; none if it is not a whole number of microseconds.
pub(crate) fn period(fields: &Fields) -> Option<Span> {
    let micros = match (fields.number("period"), fields.number("rate")) {
        (Some(seconds), _) => seconds * MICROS_PER_SECOND as f64,
        (None, Some(hertz)) => MICROS_PER_SECOND as f64 / hertz,
        (None, None) => MICROS_PER_SECOND as f64,
    };
    // The division and the unit leave an error of a few parts in 1e16; a real fraction is at least one part in 1e14
    // (a rate of six digits).
    let whole = micros.round();
    ((micros - whole).abs() <= 1e-12 * whole && whole >= 1.0).then_some(Span(whole as i64))
}

/// A key that another kind of sensor has counts as nothing here.
fn or_zero(fields: &Fields, key: &str) -> Option<f64> {
    if fields.section.key(key)?.applies(fields.switch.as_deref()) { fields.number(key) } else { Some(0.0) }
}

fn errors(fields: &Fields) -> Option<Errors> {
    let optional = |key: &str| if fields.given(key) { fields.number(key) } else { Some(0.0) };
    let analogue = super::super::keys::ANALOGUE.contains(&fields.switch.as_deref()?);
    let dropout = fields.number("dropout")?;
    Some(Errors {
        bias: optional("bias")?,
        noise: noise(fields)?,
        noise_correlation: noise_correlation(fields)?,
        noise_growth: or_zero(fields, "noise_growth")?,
        drift_per_k: optional("drift_per_kelvin")?,
        drift_per_day: optional("drift_per_day")?,
        random_drift: optional("random_drift")?,
        random_drift_s: if analogue { fields.number("random_drift_time")? } else { RANDOM_DRIFT_S },
        cleaned_every_days: if analogue { fields.number_or("cleaned_every", f64::INFINITY)? } else { f64::INFINITY },
        resolution: optional("resolution")?,
        dropout,
        dropout_rain: if fields.given("dropout_in_rain") { fields.number("dropout_in_rain")? } else { dropout },
        spurious: or_zero(fields, "spurious")?,
        spurious_rain: or_zero(fields, "spurious_rain")?,
        spurious_sun: or_zero(fields, "spurious_sun")?,
        output_loss_per_year: or_zero(fields, "output_loss_per_year")?,
        age_days: or_zero(fields, "age")?,
    })
}

/// Noise density and bandwidth of an accelerometer, if they stand for its noise.
fn accelerometer(fields: &Fields) -> Option<(f64, f64)> {
    let given = fields.given("noise_density") && fields.given("bandwidth");
    if given { Some((fields.number("noise_density")?, fields.number("bandwidth")?)) } else { None }
}

fn noise(fields: &Fields) -> Option<f64> {
    match accelerometer(fields) {
        Some((density_ug, bandwidth_hz)) => Some(tilt_noise_deg(density_ug, bandwidth_hz, 1.0, 0.0)),
        None => or_zero(fields, "noise"),
    }
}

fn noise_correlation(fields: &Fields) -> Option<f64> {
    match accelerometer(fields) {
        Some((_, bandwidth_hz)) if !fields.given("noise_correlation") => {
            Some(one_pole_correlation(bandwidth_hz, period(fields)?.seconds()))
        }
        _ => or_zero(fields, "noise_correlation"),
    }
}

/// Mounting of a ranger.
pub(crate) fn aim(fields: &Fields) -> Option<Aim> {
    Some(Aim {
        position_m: fields.numbers("position")?.try_into().ok()?,
        yaw_deg: fields.number("yaw")?,
        pitch_deg: fields.number("pitch")?,
        half_cone_deg: fields.number("cone")? / 2.0,
        nearest_m: fields.number("nearest")?,
        farthest_m: fields.number("farthest")?,
    })
}

/// Both ends of a beam or platform.
pub(crate) fn span(fields: &Fields) -> Option<(f64, f64)> {
    match fields.numbers("span")? {
        [from, to] => Some((*from, *to)),
        _ => None,
    }
}

fn kind(fields: &Fields) -> Option<SensorKind> {
    let background = || if fields.given("background") { fields.number("background").map(Some) } else { Some(None) };
    Some(match fields.text("kind")? {
        "optical range" => {
            let aim = aim(fields)?;
            let sun = if fields.given("farthest_sun") { fields.number("farthest_sun")? } else { aim.farthest_m };
            SensorKind::OpticalRange { aim, farthest_sun_m: sun, background_m: background()? }
        }
        "photon range" => {
            let preset = if fields.text("preset")? == "narrow" { NARROW } else { WIDE };
            let or = |key: &str, default: f64| if fields.given(key) { fields.number(key) } else { Some(default) };
            SensorKind::PhotonRange {
                aim: aim(fields)?,
                photon: Photon {
                    signal: or("signal", preset.signal)?,
                    dark: or("dark", preset.dark)?,
                    ambient_per_klux: or("ambient", preset.ambient_per_klux)?,
                    crosstalk: (or("crosstalk", preset.crosstalk.0)?, or("crosstalk_dew", preset.crosstalk.1)?),
                    pulse_m: or("pulse", preset.pulse_m)?,
                    floor_m: fields.number("noise")?,
                    ratio: or("ratio", preset.ratio)?,
                    glass_m: or("glass", preset.glass_m)?,
                    sheltered_m: fields.number("sheltered")?,
                },
                background: match background()? {
                    Some(wall) => Some((wall, fields.number("background_reflectance")?)),
                    None => None,
                },
                dew: fields.number("dew")?,
                dirt_per_day: fields.number("dirt_per_day")?,
            }
        }
        "ultrasonic range" => SensorKind::UltrasonicRange {
            aim: aim(fields)?,
            background_m: background()?,
            compensated: fields.flag("compensated")?,
        },
        "break beam" => SensorKind::BreakBeam {
            x_m: fields.number("x")?,
            z_m: fields.number("z")?,
            span_m: span(fields)?,
            false_per_hour: fields.number("false_breaks")?,
            false_break_s: fields.number("false_break")?,
        },
        "platform load" => SensorKind::PlatformLoad {
            span_m: span(fields)?,
            area_m2: fields.number("area")?,
            drained_per_hour: fields.number("drained_per_hour")?,
            creep: Creep { in_half_an_hour: fields.number("creep")?, time_s: fields.number("creep_time")? },
            spring: Platform {
                frequency_hz: fields.number("swing_rate")?,
                damping: fields.number("swing_damping")?,
                swing: fields.number("swing")?,
            },
        },
        "tilt" => SensorKind::Tilt {
            on: if fields.text("on")? == "panel" {
                TiltOn::Panel
            } else {
                TiltOn::Platform { deg_per_kg: fields.number("tilt_per_load")?, span_m: span(fields)? }
            },
        },
        "end switch" => {
            SensorKind::EndSwitch { end: if fields.text("end")? == "shut" { End::Shut } else { End::Open } }
        }
        "rain gauge" => SensorKind::RainGauge,
        "status" => SensorKind::Status {
            poll_s: fields.number("poll")?,
            loss: fields.number("loss")?,
            delay_s: fields.number("delay")?,
            delay_spread: fields.number("delay_spread")?,
            stale_after_s: fields.number("stale_after")?,
        },
        _ => SensorKind::Clock { lead_s: fields.number("lead")?, lag_s: fields.number("lag")? },
    })
}
