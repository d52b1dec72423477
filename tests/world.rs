//! The world as the engine asks for it: from a whole scenario.

mod common;

use common::data;
use dooryard::math::time::Instant;
use dooryard::scenario::Scenario;
use dooryard::scenario::door::*;
use dooryard::scenario::mower::{Approach, Departure, Dock, Mower, RainHabit, RainManners, ShutDoor, Spread};
use dooryard::scenario::season::{Calendar, Site};
use dooryard::scenario::visitor::{Fault, FaultKind, Only, Visitor};
use dooryard::scenario::weather::{Gaps, Generated, Observed, Shift, Weather, WithinHour};
use dooryard::world::weather::generated::generate;
use dooryard::world::{LocalClock, ObservedRecord, WeatherFileError, outages, season_weather, visits};
use jiff::civil::date;

fn spread(mean_s: f64) -> Spread {
    Spread { mean_s, sd_s: 0.2 * mean_s }
}

fn mower() -> Mower {
    Mower {
        length_m: 0.6,
        width_m: 0.4,
        height_m: 0.3,
        mass_kg: 11.0,
        reflectance: 0.3,
        axles: None,
        windows: Vec::new(),
        run: spread(4_000.0),
        charge: spread(4_000.0),
        lawn_s: 10_000.0,
        start_delay_s: 0.0,
        unscheduled_per_day: 0.0,
        approach: Approach {
            way_home: Spread { mean_s: 60.0, sd_s: 0.0 },
            from_m: 6.0,
            speed_m_s: 0.4,
            slow_from_m: 3.0,
            slow_speed_m_s: 0.2,
            speed_spread: 0.0,
            sideways_m: 0.0,
        },
        departure: Departure { notice_s: 20.0, patience_s: 180.0, speed_m_s: 0.2 },
        shut_door: ShutDoor {
            waits_at_m: 0.5,
            patience_s: 60.0,
            retries: 2,
            back_off_m: 1.0,
            bumps: false,
            bump_force_n: 0.0,
            help_after_s: 10_000.0,
        },
        dock: Dock { depth_m: 0.8, failure: 0.0, back_off_m: 0.4, attempts: 1 },
        rain: RainManners { habit: RainHabit::GoHome, reacts_after_s: 60.0, resumes_after_s: 7_200.0 },
    }
}

fn generated() -> Generated {
    Generated {
        wet_spell_h: [3.2; 12],
        dry_spell_h: [28.0; 12],
        intensity_mm_h: [1.4; 12],
        intensity_shape: 0.6,
        intensity_step_h: 0.25,
        temperature_c: [12.0; 12],
        temperature_swing_k: [4.0; 12],
        temperature_spread_k: [3.5; 12],
        temperature_memory_h: 40.0,
        wind_m_s: [2.8; 12],
        wind_shape: 2.0,
        wind_memory_h: 10.0,
        gust_factor: 1.7,
        clearness: [0.65; 12],
        clearness_spread: 0.25,
        shift: Shift::NONE,
    }
}

fn cat() -> Visitor {
    Visitor {
        name: "cat".to_owned(),
        per_day: 2.5,
        hours: [1.0; 24],
        only: Only::Always,
        length_m: 0.45,
        width_m: 0.18,
        height_m: 0.28,
        mass_kg: 4.5,
        reflectance: 0.4,
        soft: true,
        speed_m_s: 0.6,
        nearest_m: (0.9, 0.5),
        sideways_m: 0.4,
        dwell: spread(15.0),
        enters: 0.2,
        inside: spread(1_200.0),
    }
}

fn scenario(weather: Weather) -> Scenario {
    let lift = VerticalLift {
        stroke_m: 0.4,
        counterweight_kg: 3.5,
        pulleys: 1,
        pulley_efficiency: 0.95,
        guide_friction: 0.15,
        guide_length_m: 0.4,
        drive_offset_m: 0.05,
    };
    Scenario {
        name: "world".to_owned(),
        about: String::new(),
        site: Site {
            latitude_deg: 40.777,
            longitude_deg: -73.873,
            time_zone: "America/New_York".to_owned(),
            door_faces_deg: 180.0,
            wind_factor: 0.5,
        },
        calendar: Calendar { first_day: date(2025, 5, 1), last_day: date(2025, 6, 30) },
        weather,
        mower: mower(),
        visitors: vec![cat()],
        failures: vec![],
        faults: vec![Fault {
            name: "mains cut".to_owned(),
            kind: FaultKind::Power,
            per_year: 50.0,
            lasts: spread(1_800.0),
            noise_factor: 1.0,
        }],
        sensors: Vec::new(),
        detectors: Vec::new(),
        strategies: Vec::new(),
        door: Door {
            width_m: 0.6,
            height_m: 0.4,
            mechanism: Mechanism::VerticalLift(lift),
            mass_kg: 5.0,
            seal_n: 15.0,
            seal_zone_m: 0.02,
            breakaway: 1.3,
            wind_coefficient: 1.3,
            ice_n: 60.0,
            ice_below_c: -1.0,
            edge_stiffness_n_m: 20_000.0,
            contact_force_limit_n: 150.0,
            contact_energy_limit_j: 1.7,
        },
        drive: Drive {
            nominal_v: 24.0,
            no_load_speed_m_s: 0.06,
            stall_force_n: 600.0,
            rated_force_n: 200.0,
            no_load_current_a: 0.4,
            stall_current_a: 5.0,
            current_limit_a: 4.0,
            self_locking: true,
            pushes: true,
            reflected_mass_kg: 400.0,
            duty_factor: 0.1,
            duty_period_s: 600.0,
            soft_start_s: 0.0,
            gear: Gear::Figures,
            parts: Vec::new(),
            heat: Heat {
                winding_j_k: 60.0,
                housing_j_k: 400.0,
                winding_housing_k_w: 2.5,
                housing_air_k_w: 6.0,
                trips_at_c: 120.0,
                resets_at_c: 95.0,
            },
            wear: Wear { rated_strokes: 20_000.0, exponent: 3.0, weibull_shape: 1.5 },
        },
        supply: Supply {
            voltage_v: 24.0,
            cable_ohm: 0.3,
            limit_w: 60.0,
            standby_w: 2.0,
            efficiency: 0.88,
            buffer_j: 0.0,
            source: Source::Limit,
        },
        bus: None,
        limits: Vec::new(),
        common_cause: dooryard::scenario::common_cause::USUAL,
        risks: Vec::new(),
        objective: None,
    }
}

fn clock(scenario: &Scenario) -> LocalClock {
    LocalClock::new(&scenario.calendar, &scenario.site.time_zone).unwrap()
}

#[test]
fn generated_weather_needs_no_record() {
    let scenario = scenario(Weather::Generated(generated()));
    let clock = clock(&scenario);
    let weather = season_weather(&scenario, None, &clock, 4, 9).unwrap();
    assert!(weather == generate(&generated(), &clock, 4, 9));
}

/// May and June of the airport record sum to 126.746 + 207.264 mm; the season's days begin an hour earlier than the
/// record's, in summer time, so the total may differ by what fell at midnight of 1 May and 1 July: nothing.
#[test]
fn observed_weather_is_the_same_every_season_with_or_without_a_read_record() {
    let file = data("weather/nyc2013_lga_hourly.csv");
    let even = Observed { within_hour: WithinHour::Even, ..Observed::new(file.clone(), Gaps::Dry) };
    let observed = scenario(Weather::Observed(even));
    let clock = clock(&observed);
    let record = ObservedRecord::read(&file).unwrap();
    let weather = season_weather(&observed, Some(&record), &clock, 1, 0).unwrap();
    assert!((weather.total_rain_mm(&clock) - 334.01).abs() < 1e-6, "{}", weather.total_rain_mm(&clock));
    assert!(weather == season_weather(&observed, None, &clock, 2, 5).unwrap());
    // Laid in spells within the hour, seasons differ in the minutes but not in the depth.
    let spells = scenario(Weather::Observed(Observed::new(file.clone(), Gaps::Dry)));
    let first = season_weather(&spells, Some(&record), &clock, 1, 0).unwrap();
    assert!(first == season_weather(&spells, None, &clock, 1, 0).unwrap());
    let second = season_weather(&spells, Some(&record), &clock, 1, 1).unwrap();
    assert!(first != second && (second.total_rain_mm(&clock) - 334.01).abs() < 1e-6);
    let absent = scenario(Weather::Observed(Observed::new(file.with_extension("absent"), Gaps::Dry)));
    let error = season_weather(&absent, None, &clock, 1, 0).unwrap_err();
    assert!(matches!(error, WeatherFileError::Unreadable { .. }));
}

#[test]
fn visits_and_outages_lie_in_the_season() {
    let scenario = scenario(Weather::Generated(generated()));
    let clock = clock(&scenario);
    let (visits, outages) = (visits(&scenario, &clock, 1, 0), outages(&scenario, &clock, 1, 0));
    // 61 days: 152.5 visits and 8.3 outages on average, Poisson.
    assert!((visits.len() as f64 - 152.5).abs() < 4.5 * 152.5_f64.sqrt(), "{}", visits.len());
    assert!((outages.len() as f64 - 8.35).abs() < 4.5 * 8.35_f64.sqrt(), "{}", outages.len());
    assert!(visits.iter().all(|visit| visit.at >= Instant::START && visit.at < clock.end()));
    assert!(outages.iter().all(|outage| outage.from >= Instant::START && outage.to <= clock.end()));
}
