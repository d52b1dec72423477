//! `[[sensor]]` as text.

use super::page::{Page, text};
use crate::scenario::keys::{ANALOGUE, section};
use crate::scenario::sensor::{Aim, End, Sensor, SensorKind, TiltOn};

/// The kind as the scenario writes it.
pub fn kind_name(kind: &SensorKind) -> &'static str {
    match kind {
        SensorKind::OpticalRange { .. } => "optical range",
        SensorKind::PhotonRange { .. } => "photon range",
        SensorKind::UltrasonicRange { .. } => "ultrasonic range",
        SensorKind::BreakBeam { .. } => "break beam",
        SensorKind::PlatformLoad { .. } => "platform load",
        SensorKind::Tilt { .. } => "tilt",
        SensorKind::EndSwitch { .. } => "end switch",
        SensorKind::RainGauge => "rain gauge",
        SensorKind::Status { .. } => "status",
        SensorKind::Clock { .. } => "clock",
    }
}

pub(super) fn sensor(page: &mut Page, sensor: &Sensor) {
    let kind = kind_name(&sensor.kind);
    page.open("sensor");
    page.sensor_kind = kind;
    page.raw("name", text(&sensor.name));
    page.raw("kind", text(kind));
    page.number("period", sensor.period.seconds());
    page.number("latency", sensor.latency.seconds());
    let applies =
        |key: &str| section("sensor").and_then(|section| section.key(key)).is_some_and(|key| key.applies(Some(kind)));
    if ANALOGUE.contains(&kind) {
        page.number("bias", sensor.errors.bias);
        page.number("noise", sensor.errors.noise);
        page.number("noise_correlation", sensor.errors.noise_correlation);
        if applies("noise_growth") {
            page.number("noise_growth", sensor.errors.noise_growth);
        }
        page.number("drift_per_kelvin", sensor.errors.drift_per_k);
        page.number("drift_per_day", sensor.errors.drift_per_day);
        page.number("random_drift", sensor.errors.random_drift);
        page.number("random_drift_time", sensor.errors.random_drift_s);
        page.number("cleaned_every", sensor.errors.cleaned_every_days);
        page.number("resolution", sensor.errors.resolution);
    }
    page.number("dropout", sensor.errors.dropout);
    page.number("dropout_in_rain", sensor.errors.dropout_rain);
    if applies("spurious") {
        page.number("spurious", sensor.errors.spurious);
        if applies("spurious_rain") {
            page.number("spurious_rain", sensor.errors.spurious_rain);
        }
        page.number("spurious_sun", sensor.errors.spurious_sun);
    }
    if applies("output_loss_per_year") {
        page.number("output_loss_per_year", sensor.errors.output_loss_per_year);
        page.number("age", sensor.errors.age_days);
    }
    own_keys(page, &sensor.kind);
}

fn aim(page: &mut Page, aim: &Aim) {
    page.list("position", &aim.position_m);
    page.number("yaw", aim.yaw_deg);
    page.number("pitch", aim.pitch_deg);
    page.number("cone", aim.half_cone_deg * 2.0);
    page.number("nearest", aim.nearest_m);
    page.number("farthest", aim.farthest_m);
}

fn own_keys(page: &mut Page, kind: &SensorKind) {
    match kind {
        SensorKind::OpticalRange { aim: mounting, farthest_sun_m, background_m } => {
            aim(page, mounting);
            page.number("farthest_sun", *farthest_sun_m);
            background_m.iter().for_each(|value| page.number("background", *value));
        }
        SensorKind::PhotonRange { aim: mounting, photon, background, dew, dirt_per_day } => {
            aim(page, mounting);
            if let Some((wall, reflectance)) = background {
                page.number("background", *wall);
                page.number("background_reflectance", *reflectance);
            }
            page.raw("preset", text("wide"));
            page.number("signal", photon.signal);
            page.number("dark", photon.dark);
            page.number("ambient", photon.ambient_per_klux);
            page.number("crosstalk", photon.crosstalk.0);
            page.number("crosstalk_dew", photon.crosstalk.1);
            page.number("pulse", photon.pulse_m);
            page.number("glass", photon.glass_m);
            page.number("ratio", photon.ratio);
            page.number("sheltered", photon.sheltered_m);
            page.number("dew", *dew);
            page.number("dirt_per_day", *dirt_per_day);
        }
        SensorKind::UltrasonicRange { aim: mounting, background_m, compensated } => {
            aim(page, mounting);
            background_m.iter().for_each(|value| page.number("background", *value));
            page.raw("compensated", compensated.to_string());
        }
        SensorKind::BreakBeam { x_m, z_m, span_m, false_per_hour, false_break_s } => {
            page.number("x", *x_m);
            page.number("z", *z_m);
            page.list("span", &[span_m.0, span_m.1]);
            page.number("false_breaks", *false_per_hour);
            page.number("false_break", *false_break_s);
        }
        SensorKind::PlatformLoad { span_m, area_m2, drained_per_hour, creep, spring } => {
            page.list("span", &[span_m.0, span_m.1]);
            page.number("area", *area_m2);
            page.number("drained_per_hour", *drained_per_hour);
            page.number("creep", creep.in_half_an_hour);
            page.number("creep_time", creep.time_s);
            page.number("swing", spring.swing);
            page.number("swing_rate", spring.frequency_hz);
            page.number("swing_damping", spring.damping);
        }
        SensorKind::Tilt { on: TiltOn::Panel } => page.raw("on", text("panel")),
        SensorKind::Tilt { on: TiltOn::Platform { deg_per_kg, span_m } } => {
            page.raw("on", text("platform"));
            page.number("tilt_per_load", *deg_per_kg);
            page.list("span", &[span_m.0, span_m.1]);
        }
        SensorKind::EndSwitch { end } => page.raw("end", text(if *end == End::Shut { "shut" } else { "open" })),
        SensorKind::RainGauge => {}
        SensorKind::Status { poll_s, loss, delay_s, delay_spread, stale_after_s } => {
            page.number("poll", *poll_s);
            page.number("loss", *loss);
            page.number("delay", *delay_s);
            page.number("delay_spread", *delay_spread);
            page.number("stale_after", *stale_after_s);
        }
        SensorKind::Clock { lead_s, lag_s } => {
            page.number("lead", *lead_s);
            page.number("lag", *lag_s);
        }
    }
}
