//! Set-ups for the kinds of sensor that are no rangers. Each is listened to by a rule that readily answers, so near its level
//! that noise, dropped readings and what it senses all matter, and each in a rule of the strategy, so that seasons show it.

use super::support;
use dooryard::math::time::Span;
use dooryard::scenario::Scenario;
use dooryard::scenario::care::ZeroTracking;
use dooryard::scenario::mower::Axles;
use dooryard::scenario::sensor::{Creep, End, Errors, Platform, Sensor, SensorKind, StatusCode, TiltOn};
use dooryard::scenario::strategy::{Condition, Detector, Dropped, RunRule, Sense, Statistic};
use dooryard::scenario::weather::Weather;

/// Names of the set-ups' detectors.
pub const LISTENED: &str = "listened to";

const ONE: RunRule = RunRule { k: 1, n: 1 };

/// The day of the agreement test with a good eye, which takes few samples, and this sensor with its detector beside it.
fn listening(kind: SensorKind, period: Span, errors: Errors, change: impl Fn(&mut Detector)) -> Scenario {
    let mut scenario = super::base();
    scenario.faults.clear();
    let eye = &mut scenario.sensors[0];
    eye.period = Span(200_000);
    (eye.errors.noise, eye.errors.spurious) = (0.02, 1e-5);
    let name = LISTENED.to_owned();
    scenario.sensors.push(Sensor { name: name.clone(), kind, period, latency: Span(100_000), errors });
    let mut detector = Detector {
        name,
        sensor: scenario.sensors.len() - 1,
        sense: Sense::Above,
        on: 0.5,
        off: 0.5,
        rule: RunRule { k: 2, n: 3 },
        release: RunRule { k: 2, n: 2 },
        ..scenario.detectors[1].clone()
    };
    change(&mut detector);
    scenario.detectors.push(detector);
    scenario
}

/// The number of the detector in question.
fn listened(scenario: &Scenario) -> Condition {
    Condition::Detector(scenario.detectors.len() - 1)
}

/// Opens for it, too.
fn opening(mut scenario: Scenario) -> Scenario {
    let it = listened(&scenario);
    let strategy = &mut scenario.strategies[0];
    strategy.open = Condition::Any(vec![strategy.open.clone(), it]);
    scenario
}

/// Holds the door open for so long after it spoke.
fn holding(mut scenario: Scenario, seconds: f64) -> Scenario {
    let it = Condition::Lasting(Span::from_seconds(seconds), Box::new(listened(&scenario)));
    let strategy = &mut scenario.strategies[0];
    strategy.hold = Condition::Any(vec![strategy.hold.clone(), it]);
    scenario
}

fn noise(noise: f64, dropout: f64) -> Errors {
    Errors { noise, dropout, ..support::PERFECT }
}

const PLATFORM: (f64, f64) = (-0.9, -0.1);

/// The platform's load, near the mass of a cat, with rain that stands on it.
pub fn platform(change: impl Fn(&mut Detector)) -> Scenario {
    let (creep, spring) = (Creep::NONE, Platform::STIFF);
    let kind = SensorKind::PlatformLoad { span_m: PLATFORM, area_m2: 0.4, drained_per_hour: 0.9, creep, spring };
    let errors = Errors { noise_growth: 0.02, drift_per_k: 0.05, resolution: 0.05, ..noise(1.0, 0.05) };
    let mut scenario = listening(kind, Span(100_000), errors, |detector| {
        (detector.on, detector.off) = (12.5, 9.5);
        change(detector);
    });
    scenario.visitors[0].enters = 0.9;
    holding(scenario, 30.0)
}

/// A platform that creeps and swings under a mower with axles, its zero tracked; the level is where the mower's weight and what
/// it has crept by meet the noise.
pub fn laden(change: impl Fn(&mut Detector)) -> Scenario {
    let mut scenario = platform(change);
    scenario.mower.axles = Some(Axles { behind_nose_m: [0.1, 0.45], rear_share: 0.7 });
    for sensor in &mut scenario.sensors {
        if let SensorKind::PlatformLoad { creep, spring, .. } = &mut sensor.kind {
            *creep = Creep { in_half_an_hour: 0.08, time_s: 400.0 };
            *spring = Platform { frequency_hz: 3.0, damping: 0.04, swing: 0.5 };
        }
    }
    let care = &mut scenario.strategies[0].controller.care;
    (care.zero_tracking, care.zero_per_hour_kg) = (ZeroTracking::Gated, 1.0);
    scenario
}

/// The platform's tilt, between a cat and the mower.
pub fn tilting(change: impl Fn(&mut Detector)) -> Scenario {
    let kind = SensorKind::Tilt { on: TiltOn::Platform { deg_per_kg: 0.05, span_m: PLATFORM } };
    let mut scenario = listening(kind, Span(100_000), noise(0.1, 0.1), |detector| {
        (detector.sense, detector.on, detector.off) = (Sense::Below, 0.25, 0.35);
        change(detector);
    });
    scenario.visitors[0].enters = 0.9;
    holding(scenario, 30.0)
}

/// A flap's angle, near the noise of a shut one.
pub fn turning(change: impl Fn(&mut Detector)) -> Scenario {
    let mut scenario = listening(SensorKind::Tilt { on: TiltOn::Panel }, Span(100_000), noise(0.3, 0.1), |detector| {
        (detector.on, detector.off) = (0.75, 0.5);
        change(detector);
    });
    scenario.door.mechanism = support::flap();
    scenario.door.mass_kg = 3.0;
    opening(scenario)
}

/// An end switch that often says nothing: the door is held open for a while after it was last seen shut.
pub fn switched(change: impl Fn(&mut Detector)) -> Scenario {
    let kind = SensorKind::EndSwitch { end: End::Shut };
    let scenario = listening(kind, Span(100_000), noise(0.0, 0.4), |detector| {
        (detector.rule, detector.release) = (RunRule { k: 4, n: 4 }, RunRule { k: 5, n: 5 });
        change(detector);
    });
    holding(scenario, 25.0)
}

/// A rain gauge, near the noise of dry weather.
pub fn raining(change: impl Fn(&mut Detector)) -> Scenario {
    let errors = Errors { noise_growth: 0.05, resolution: 0.1, ..noise(0.3, 0.1) };
    let mut scenario = listening(SensorKind::RainGauge, Span::SECOND, errors, |detector| {
        (detector.on, detector.off) = (0.8, 0.4);
        change(detector);
    });
    let Weather::Generated(weather) = &mut scenario.weather else { unreachable!("the weather is generated") };
    (weather.dry_spell_h, weather.wet_spell_h) = ([4.0; 12], [1.0; 12]);
    opening(scenario)
}

/// Polled messages of which a third is lost, read with gaps.
pub fn told(change: impl Fn(&mut Detector)) -> Scenario {
    let kind = SensorKind::Status { poll_s: 40.0, loss: 0.3, delay_s: 5.0, delay_spread: 0.8, stale_after_s: 120.0 };
    let scenario = listening(kind, Span::SECOND, noise(0.0, 0.3), |detector| {
        detector.says = vec![StatusCode::Returning, StatusCode::Leaving];
        (detector.rule, detector.release) = (RunRule { k: 3, n: 4 }, RunRule { k: 4, n: 4 });
        change(detector);
    });
    let mut scenario = opening(scenario);
    // The eye alone would open for nearly every arrival.
    scenario.sensors[0].errors.dropout = 0.6;
    scenario
}

/// A local clock read with gaps: the door opens at the edges of its window.
pub fn timed(change: impl Fn(&mut Detector)) -> Scenario {
    let kind = SensorKind::Clock { lead_s: 600.0, lag_s: 900.0 };
    let mut scenario = listening(kind, Span::SECOND, noise(0.0, 0.5), |detector| {
        (detector.rule, detector.release) = (RunRule { k: 5, n: 5 }, RunRule { k: 6, n: 7 });
        change(detector);
    });
    let it = listened(&scenario);
    let strategy = &mut scenario.strategies[0];
    strategy.open = Condition::All(vec![it, strategy.open.clone()]);
    scenario
}

/// A beam with insects in it and gaps.
pub fn broken(change: impl Fn(&mut Detector)) -> Scenario {
    let mut beam = support::beam().kind;
    if let SensorKind::BreakBeam { x_m, false_per_hour, false_break_s, .. } = &mut beam {
        (*x_m, *false_per_hour, *false_break_s) = (0.4, 6.0, 0.4);
    }
    let errors = Errors { spurious_sun: 0.3, ..noise(0.0, 0.3) };
    opening(listening(beam, Span(100_000), errors, |detector| {
        detector.rule = RunRule { k: 3, n: 3 };
        change(detector);
    }))
}

/// All kinds, and between them all conventions for a dropped reading and the statistics over several readings.
pub fn setups() -> Vec<(&'static str, Scenario)> {
    let statistic = |statistic| {
        move |detector: &mut Detector| (detector.statistic, detector.rule, detector.release) = (statistic, ONE, ONE)
    };
    let dropped = |dropped| move |detector: &mut Detector| detector.dropped = dropped;
    vec![
        ("platform load", platform(dropped(Dropped::Hold))),
        ("platform load, mean", platform(statistic(Statistic::MovingMean(3)))),
        ("platform load, ewma", platform(statistic(Statistic::Ewma { weight: 0.5 }))),
        ("creep and wheels", laden(dropped(Dropped::Quiet))),
        ("creep and wheels, median", laden(statistic(Statistic::MovingMedian(3)))),
        ("platform tilt", tilting(dropped(Dropped::Reset))),
        ("platform tilt, median", tilting(statistic(Statistic::MovingMedian(3)))),
        ("panel tilt", turning(dropped(Dropped::Hold))),
        ("panel tilt, median", turning(statistic(Statistic::MovingMedian(3)))),
        (
            "panel tilt, cusum",
            turning(|detector| {
                statistic(Statistic::Cusum { limit: 0.8 })(detector);
                (detector.on, detector.off) = (0.45, 0.3);
            }),
        ),
        ("end switch", switched(dropped(Dropped::Hold))),
        ("end switch, reset", switched(dropped(Dropped::Reset))),
        ("rain gauge", raining(dropped(Dropped::Quiet))),
        ("rain gauge, median", raining(statistic(Statistic::MovingMedian(3)))),
        ("rain gauge, mean", raining(statistic(Statistic::MovingMean(3)))),
        ("status", told(dropped(Dropped::Quiet))),
        ("status, reset", told(dropped(Dropped::Reset))),
        ("clock", timed(dropped(Dropped::Quiet))),
        ("clock, reset", timed(dropped(Dropped::Reset))),
        ("break beam", broken(dropped(Dropped::Quiet))),
        ("break beam, reset", broken(dropped(Dropped::Reset))),
    ]
}
