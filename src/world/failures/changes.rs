//! Failures that the scenario's own features already model: they switch these on or make them worse.

use crate::scenario::Scenario;
use crate::scenario::failure::{Act, Change, Failure, Figure};
use crate::scenario::mower::{RainHabit, Spread};
use crate::scenario::sensor::{Sensor, SensorKind};
use crate::scenario::visitor::{Fault, FaultKind, Only, Visitor};

/// The scenario as its failures leave it. Without any, an equal scenario.
pub fn applied(scenario: &Scenario) -> Scenario {
    let mut changed = scenario.clone();
    for failure in &scenario.failures {
        match failure.mode.act {
            Act::Change(change) => apply(change, failure, &mut changed),
            Act::Silent => {
                for sensor in &failure.sensors {
                    // Without a rate of its own: its outages are those of the common cause.
                    changed.faults.push(Fault {
                        name: joint_name(failure),
                        kind: FaultKind::SensorSilent(*sensor),
                        per_year: 0.0,
                        lasts: failure.lasts,
                        noise_factor: 1.0,
                    });
                }
            }
            _ => {}
        }
    }
    changed
}

/// Name of the faults by which a common cause silences its sensors.
pub(super) fn joint_name(failure: &Failure) -> String {
    format!("failure {}", failure.name)
}

fn apply(change: Change, failure: &Failure, scenario: &mut Scenario) {
    let figure = |wanted| failure.figure(wanted);
    match change {
        Change::RainDrops => {
            each(failure, scenario, |sensor| {
                sensor.errors.spurious_rain = sensor.errors.spurious_rain.max(figure(Figure::SpuriousRain));
                if let SensorKind::PhotonRange { photon, .. } = &mut sensor.kind {
                    photon.sheltered_m = 0.0;
                }
            });
        }
        Change::DarkShell => {
            scenario.mower.reflectance = scenario.mower.reflectance.min(figure(Figure::Reflectance));
        }
        Change::Uncompensated => each(failure, scenario, |sensor| {
            if let SensorKind::UltrasonicRange { compensated, .. } = &mut sensor.kind {
                *compensated = false;
            }
        }),
        Change::LoadDrift => {
            each(failure, scenario, |sensor| sensor.errors.drift_per_k += figure(Figure::LoadDrift));
        }
        Change::Ice => scenario.door.ice_n = scenario.door.ice_n.max(figure(Figure::Force)),
        Change::Power => fault(failure, FaultKind::Power, "", 1.0, scenario),
        Change::Network => fault(failure, FaultKind::Network, "", 1.0, scenario),
        Change::DeadSensors => {
            let frozen = figure(Figure::Share);
            for sensor in &failure.sensors {
                let name = scenario.sensors[*sensor].name.clone();
                fault(failure, FaultKind::SensorStuck(*sensor), &format!(" {name} frozen"), frozen, scenario);
                fault(failure, FaultKind::SensorSilent(*sensor), &format!(" {name} dead"), 1.0 - frozen, scenario);
            }
        }
        Change::SlowPolls => each(failure, scenario, |sensor| {
            if let SensorKind::Status { poll_s, .. } = &mut sensor.kind {
                *poll_s = poll_s.max(figure(Figure::Delay));
            }
        }),
        Change::RainReturn => {
            let rain = &mut scenario.mower.rain;
            rain.habit = RainHabit::GoHome;
            rain.reacts_after_s = figure(Figure::Delay);
        }
        Change::Docking => {
            let dock = &mut scenario.mower.dock;
            dock.failure = 1.0 - (1.0 - dock.failure) * (1.0 - figure(Figure::Share));
        }
        Change::Pet => scenario.visitors.push(pet(failure)),
        Change::WildAnimals => scenario.visitors.push(wild_animal(failure)),
        Change::People => scenario.visitors.push(person(failure)),
    }
}

fn each(failure: &Failure, scenario: &mut Scenario, mut change: impl FnMut(&mut Sensor)) {
    for sensor in &failure.sensors {
        change(&mut scenario.sensors[*sensor]);
    }
}

fn fault(failure: &Failure, kind: FaultKind, of: &str, share: f64, scenario: &mut Scenario) {
    scenario.faults.push(Fault {
        name: format!("failure {}{of}", failure.name),
        kind,
        per_year: share * failure.per_year,
        lasts: failure.lasts,
        noise_factor: 1.0,
    });
}

/// A cat that likes the dry platform (figures: common practice).
fn pet(failure: &Failure) -> Visitor {
    Visitor {
        name: failure.name.clone(),
        per_day: failure.figure(Figure::PerDay),
        hours: [1.0; 24],
        only: Only::DoorOpen,
        length_m: 0.45,
        width_m: 0.18,
        height_m: 0.28,
        mass_kg: 4.5,
        reflectance: 0.4,
        soft: true,
        speed_m_s: 0.6,
        nearest_m: (0.5, 0.2),
        sideways_m: 0.1,
        dwell: Spread { mean_s: 5.0, sd_s: 2.0 },
        enters: 1.0,
        inside: failure.lasts,
    }
}

/// Something between a hedgehog and a fox, by night (figures: common practice).
fn wild_animal(failure: &Failure) -> Visitor {
    let mut hours = [0.1; 24];
    for hour in [20, 21, 22, 23, 0, 1, 2, 3, 4, 5] {
        hours[hour] = 1.0;
    }
    Visitor {
        name: failure.name.clone(),
        per_day: failure.figure(Figure::PerDay),
        hours,
        only: Only::Always,
        length_m: 0.35,
        width_m: 0.18,
        height_m: 0.22,
        mass_kg: 2.0,
        reflectance: 0.3,
        soft: true,
        speed_m_s: 0.5,
        nearest_m: (0.9, 0.5),
        sideways_m: 0.3,
        dwell: Spread { mean_s: 20.0, sd_s: 15.0 },
        // It sets off the sensor outside; who goes in is the pet's mode.
        enters: 0.0,
        inside: Spread { mean_s: 600.0, sd_s: 300.0 },
    }
}

/// Somebody at work or at play before the door by day (figures: common practice).
fn person(failure: &Failure) -> Visitor {
    let mut hours = [0.0; 24];
    for (hour, rate) in hours.iter_mut().enumerate().take(20).skip(8) {
        *rate = if hour < 15 { 1.0 } else { 2.0 };
    }
    Visitor {
        name: failure.name.clone(),
        per_day: failure.figure(Figure::PerDay),
        hours,
        only: Only::Always,
        length_m: 0.3,
        width_m: 0.45,
        height_m: 1.3,
        mass_kg: 40.0,
        reflectance: 0.4,
        soft: true,
        speed_m_s: 0.8,
        nearest_m: (0.8, 0.4),
        sideways_m: 0.4,
        dwell: Spread { mean_s: 60.0, sd_s: 60.0 },
        enters: 0.0,
        inside: Spread { mean_s: 60.0, sd_s: 30.0 },
    }
}
