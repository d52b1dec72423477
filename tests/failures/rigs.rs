//! Small invented scenarios on which single modes show.

use super::support::{PERFECT, usual};
use dooryard::math::time::Span;
use dooryard::scenario::Scenario;
use dooryard::scenario::mower::RainHabit;
use dooryard::scenario::sensor::*;
use dooryard::scenario::strategy::*;
use dooryard::scenario::weather::Weather;

fn on(detector: usize) -> Condition {
    Condition::Detector(detector)
}

fn any(detectors: &[usize]) -> Condition {
    Condition::Any(detectors.iter().map(|d| on(*d)).collect())
}

fn detector(name: &str, sensor: usize, on: f64) -> Detector {
    Detector {
        name: name.into(),
        sensor,
        statistic: Statistic::Level,
        sense: Sense::Above,
        on,
        off: on,
        rule: RunRule { k: 1, n: 1 },
        release: RunRule { k: 1, n: 1 },
        dropped: Dropped::Quiet,
        says: Vec::new(),
    }
}

/// Good sensors; the mower does not push the door, so that a contact is one of the door's making.
pub fn plain() -> Scenario {
    let mut scenario = usual();
    scenario.mower.shut_door.bumps = false;
    // Detectors 0 to 3: near, doorway, leaving, on platform.
    scenario.detectors.push(Detector { says: vec![StatusCode::Returning], ..detector("coming", 2, 0.5) });
    let messages = &mut scenario.strategies[1];
    messages.open = any(&[2, 4]);
    messages.hold =
        Condition::Any(vec![any(&[2, 4]), Condition::Lasting(Span::from_seconds(8.0), Box::new(any(&[1])))]);
    // Two beams: whatever is thicker than 0.1 m and under the panel's edge breaks one of them.
    let beam_at = |scenario: &mut Scenario, sensor: usize, at: f64| {
        if let SensorKind::BreakBeam { x_m, .. } = &mut scenario.sensors[sensor].kind {
            *x_m = at;
        }
    };
    scenario.sensors.push(Sensor { name: "inner beam".into(), ..scenario.sensors[1].clone() });
    let inner = scenario.sensors.len() - 1;
    beam_at(&mut scenario, 1, 0.05);
    beam_at(&mut scenario, inner, -0.05);
    scenario.detectors.push(detector("inner broken", inner, 0.5));
    for strategy in &mut scenario.strategies {
        let doorway = Condition::Lasting(Span::from_seconds(8.0), Box::new(any(&[1, 5])));
        strategy.hold = Condition::Any(vec![strategy.hold.clone(), doorway]);
        strategy.doorway = Condition::Lasting(Span::from_seconds(2.0), Box::new(any(&[1, 5])));
    }
    // The platform is listened to, but decides nothing.
    for strategy in &mut scenario.strategies {
        let nothing = Condition::All(vec![on(3), Condition::BuiltIn(BuiltIn::Never)]);
        strategy.hold = Condition::Any(vec![strategy.hold.clone(), nothing]);
    }
    scenario
}

/// A wall in view of the ranger.
pub fn walled() -> Scenario {
    let mut scenario = plain();
    if let SensorKind::OpticalRange { background_m, .. } = &mut scenario.sensors[0].kind {
        *background_m = Some(3.6);
    }
    scenario
}

/// An ultrasonic ranger instead of the optical one.
pub fn sound() -> Scenario {
    let mut scenario = plain();
    if let SensorKind::OpticalRange { aim, .. } = scenario.sensors[0].kind {
        let aim = Aim { half_cone_deg: 10.0, farthest_m: 5.0, ..aim };
        scenario.sensors[0].kind = SensorKind::UltrasonicRange { aim, background_m: None, compensated: true };
    }
    scenario
}

/// A tilting panel with a sensor on it: `ajar` and `beyond` (angles that the panel never has) are listened to.
pub fn flap() -> Scenario {
    let mut scenario = plain();
    scenario.door.mechanism = super::support::flap();
    scenario.door.mass_kg = 3.0;
    scenario.sensors.push(Sensor {
        name: "tilt".into(),
        kind: SensorKind::Tilt { on: TiltOn::Panel },
        period: Span(100_000),
        latency: Span::ZERO,
        errors: Errors { noise: 0.02, ..PERFECT },
    });
    let sensor = scenario.sensors.len() - 1;
    scenario.detectors.push(Detector { rule: RunRule { k: 3, n: 3 }, ..detector("ajar", sensor, 0.8) });
    listen(&mut scenario);
    scenario.detectors.push(detector("beyond", sensor, 90.3));
    listen(&mut scenario);
    scenario
}

/// An end switch that is listened to.
pub fn switched() -> Scenario {
    let mut scenario = plain();
    scenario.sensors.push(Sensor {
        name: "switch".into(),
        kind: SensorKind::EndSwitch { end: End::Shut },
        period: Span(2_000),
        latency: Span::ZERO,
        errors: PERFECT,
    });
    let sensor = scenario.sensors.len() - 1;
    scenario.detectors.push(detector("shut", sensor, 0.5));
    listen(&mut scenario);
    scenario
}

/// Lets all strategies listen to the last detector.
fn listen(scenario: &mut Scenario) {
    let last = scenario.detectors.len() - 1;
    for strategy in &mut scenario.strategies {
        let nothing = Condition::All(vec![on(last), Condition::BuiltIn(BuiltIn::Never)]);
        strategy.hold = Condition::Any(vec![strategy.hold.clone(), nothing]);
    }
}

/// The ranger opens only in the hours of the timetable.
pub fn clocked() -> Scenario {
    let mut scenario = plain();
    scenario.sensors.push(Sensor {
        name: "hours".into(),
        kind: SensorKind::Clock { lead_s: 0.0, lag_s: 1_800.0 },
        period: Span::SECOND,
        latency: Span::ZERO,
        errors: PERFECT,
    });
    let sensor = scenario.sensors.len() - 1;
    scenario.detectors.push(detector("in hours", sensor, 0.5));
    let hours = scenario.detectors.len() - 1;
    scenario.strategies[0].open = Condition::Any(vec![on(2), Condition::All(vec![on(0), on(hours)])]);
    scenario
}

/// The mower takes no notice of rain.
pub fn careless() -> Scenario {
    let mut scenario = plain();
    scenario.mower.rain.habit = RainHabit::CarryOn;
    if let Weather::Generated(weather) = &mut scenario.weather {
        weather.dry_spell_h = [6.0; 12];
    }
    scenario
}

/// Frost after rain.
pub fn frosty() -> Scenario {
    let mut scenario = plain();
    if let Weather::Generated(weather) = &mut scenario.weather {
        weather.temperature_c = [-2.0; 12];
        weather.wet_spell_h = [6.0; 12];
    }
    scenario.mower.rain.habit = RainHabit::CarryOn;
    scenario
}

/// A windy site.
pub fn windy() -> Scenario {
    let mut scenario = plain();
    scenario.site.wind_factor = 1.0;
    if let Weather::Generated(weather) = &mut scenario.weather {
        weather.wind_m_s = [9.0; 12];
    }
    scenario
}

/// A mower that is out at dawn.
pub fn early() -> Scenario {
    let mut scenario = plain();
    for window in &mut scenario.mower.windows {
        (window.from_s, window.to_s) = (2 * 3_600, 9 * 3_600);
    }
    scenario
}

/// An end switch that is listened to, on a windy site.
pub fn switched_in_wind() -> Scenario {
    let mut scenario = switched();
    scenario.site.wind_factor = 1.0;
    if let Weather::Generated(weather) = &mut scenario.weather {
        weather.wind_m_s = [9.0; 12];
    }
    scenario
}

/// The days around a change of clocks.
pub fn clocks_change() -> Scenario {
    let mut scenario = plain();
    scenario.calendar.first_day = jiff::civil::date(2025, 10, 20);
    scenario.calendar.last_day = jiff::civil::date(2025, 10, 31);
    for window in &mut scenario.mower.windows {
        window.days = [true; 7];
    }
    scenario
}

/// No doorway rule: the door comes down on cats.
pub fn reckless() -> Scenario {
    let mut scenario = plain();
    scenario.visitors[0].per_day = 20.0;
    scenario.visitors[0].enters = 0.8;
    for strategy in &mut scenario.strategies {
        strategy.doorway = Condition::BuiltIn(BuiltIn::Never);
        strategy.hold = on(2);
    }
    scenario
}
