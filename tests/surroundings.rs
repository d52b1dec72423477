//! What light, humidity, dew and rain do to sensors, by where they look.

mod support;

use dooryard::scenario::sensor::{Errors, SensorKind};
use dooryard::sensing::reading::{Eye, Sky, Surroundings};
use dooryard::sensing::sight::Body;

fn turned(yaw_deg: f64, pitch_deg: f64, spurious_sun: f64) -> Eye {
    let mut sensor = support::ranger(Errors { spurious_sun, ..Errors::NONE });
    if let SensorKind::OpticalRange { aim, .. } = &mut sensor.kind {
        (aim.yaw_deg, aim.pitch_deg) = (yaw_deg, pitch_deg);
    }
    Eye::new(&sensor)
}

/// 60 klux on a surface that faces the sun, 30 degrees up and straight ahead of yaw 0; 40 klux on the level, 10 of them from the sky.
fn morning() -> Sky {
    Sky { light_klux: 40.0, direct_klux: 60.0, sun: Some((0.0, 30.0)), ..Sky::dark(20.0) }
}

/// Range in this light by the inverse fourth root: 8 m in the dark, 5 m at 100 klux.
fn range_m(klux: f64) -> f64 {
    let (dark, sun) = (8_f64.powi(-4), 5_f64.powi(-4));
    (dark + (sun - dark) * klux / 100.0).powf(-0.25)
}

/// By hand: what a ranger with the sun at its back looks at is lit by 60 cos 30 = 52.0 klux of sun, half the sky's 10 and half of the
/// ground's 0.2 x 40: 61.0 in all. With the sun ahead it looks at shaded faces: 9.0. Straight down it sees the 40 on the level.
#[test]
fn light_goes_by_the_aim() {
    for (yaw, pitch, klux) in [(180.0, 0.0, 60.0 * 0.75_f64.sqrt() + 9.0), (0.0, 0.0, 9.0), (0.0, -90.0, 40.0)] {
        let got = turned(yaw, pitch, 0.0).seeing(&morning()).range_m;
        assert!((got - range_m(klux)).abs() < 1e-9, "yaw {yaw} pitch {pitch}: {got} m at {klux} klux");
    }
    // Without a sun light comes from everywhere alike.
    let cloudy = Sky { sun: None, direct_klux: 0.0, ..morning() };
    assert!((turned(0.0, 0.0, 0.0).seeing(&cloudy).range_m - range_m(40.0)).abs() < 1e-9);
}

/// The sun that shines in does so with all its light, not with what falls on the level.
#[test]
fn glare_goes_by_the_suns_own_light() {
    let seeing = turned(0.0, 30.0, 0.5).seeing(&morning());
    assert!((seeing.short - 0.5 * 0.6).abs() < 1e-12, "{}", seeing.short);
    assert_eq!(turned(0.0, 0.0, 0.5).seeing(&morning()).short, 0.0);
}

/// Spurious readings, in the rain and out of it, break a beam.
#[test]
fn spurious_readings_break_a_beam() {
    let mut sensor = support::beam();
    (sensor.errors.spurious, sensor.errors.spurious_rain) = (0.1, 0.01);
    let beam = Eye::new(&sensor);
    assert!((beam.seeing(&Sky::dark(20.0)).blinded - 0.1).abs() < 1e-12);
    let wet = beam.seeing(&Sky { rain_mm_h: 10.0, ..Sky::dark(20.0) }).blinded;
    // 0.01 x 10^1.2 = 0.158 expected drops.
    assert!((wet - (1.0 - 0.9 * (-0.158_489_319_f64).exp())).abs() < 1e-8, "{wet}");
}

/// Sound is damped by the air's own humidity: at 40 kHz, 20 degC and 20, 50 and 90 % by 0.78, 1.32 and 1.17 dB/m (ISO 9613-1,
/// computed by another program).
#[test]
fn sound_is_damped_by_the_humidity() {
    let mut sensor = support::ranger(Errors::NONE);
    if let SensorKind::OpticalRange { aim, .. } = sensor.kind {
        sensor.kind = SensorKind::UltrasonicRange { aim, compensated: true, background_m: None };
    }
    let eye = Eye::new(&sensor);
    for (humidity, damping) in [(0.2, 0.78), (0.5, 1.32), (0.9, 1.17)] {
        let got = eye.seeing(&Sky { humidity, ..Sky::dark(20.0) }).absorption_db_m;
        assert!((got - damping).abs() < 0.006, "{humidity}: {got}");
    }
}

/// A ranger that stands 20 cm behind the door line and looks out: a shut door ends its view at the front's near face, 19 cm away;
/// once it is not shut any more, the mower's nose is seen at 1.2 m. One before the door line sees it in either case.
#[test]
fn a_shut_door_hides_what_is_behind_it() {
    let mower = support::usual().mower;
    for (x_m, shut_m, open_m) in [(-0.2, 0.19, 1.2), (0.05, 0.95, 0.95)] {
        let mut sensor = support::ranger(Errors::NONE);
        if let SensorKind::OpticalRange { aim, .. } = &mut sensor.kind {
            aim.position_m[0] = x_m;
        }
        let eye = Eye::new(&sensor).at_door(0.4);
        assert_eq!((eye.is_indoors(), eye.looks_through_door()), (x_m < 0.0, x_m < 0.0));
        let sky = Sky::dark(20.0);
        let bodies = [Body::of_mower(&mower, 1.0, 0.0)];
        for (door_shut, wanted_m) in [(true, shut_m), (false, open_m)] {
            let around = Surroundings { door_shut, ..Surroundings::before_shut_door(&bodies, sky, eye.seeing(&sky)) };
            let seen = eye.law(&around).targets[0];
            assert!((seen.mean - wanted_m).abs() < 1e-9 && seen.weight > 0.99, "{x_m} {door_shut}: {seen:?}");
        }
    }
    // One that looks inwards from inside never sees the front.
    let mut inwards = support::ranger(Errors::NONE);
    if let SensorKind::OpticalRange { aim, .. } = &mut inwards.kind {
        (aim.position_m[0], aim.yaw_deg) = (-0.2, 180.0);
    }
    assert!(!Eye::new(&inwards).at_door(0.4).looks_through_door());
    // Nor does one over the door, set back on the roof.
    let mut over = support::ranger(Errors::NONE);
    if let SensorKind::OpticalRange { aim, .. } = &mut over.kind {
        aim.position_m = [-0.2, 0.0, 0.5];
    }
    assert!(!Eye::new(&over).at_door(0.4).is_indoors());
}
