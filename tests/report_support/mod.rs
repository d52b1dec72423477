//! An invented result: plausible seasons drawn from named streams, so that reports can be tested without a study.
//! Intervals are plain normal ones: the tests look at how figures are shown, not at how they were estimated.

use dooryard::ledger::blame::{Blamed, ByCause};
use dooryard::ledger::metric::{KEYS, Key, Kind};
use dooryard::ledger::record::{Day, EventRow, Histogram, SeasonRecord};
use dooryard::math::random::{Source, Stream};
use dooryard::math::time::{Instant, Span};
use dooryard::report::context::Context;
use dooryard::scenario::Scenario;
use dooryard::scenario::door::*;
use dooryard::scenario::limits::{Bound, Limit};
use dooryard::scenario::mower::*;
use dooryard::scenario::objective::Risk;
use dooryard::scenario::season::{Calendar, Site};
use dooryard::scenario::weather::{Gaps, Observed, Weather};
use dooryard::study::interval::{Interval, Method};
use dooryard::study::objective::judge_risk;
use dooryard::study::result::{
    DetectorResult, Estimate, LimitVerdict, NoiseOpenings, RunResult, StrategyResult, Verdict,
};
use jiff::civil::date;

/// Causes; one of a false opening of them with characters that HTML, XML and CSV must escape.
fn names(blamed: Blamed) -> &'static [&'static str] {
    match blamed {
        Blamed::FalseOpenings => &["noise", "rain", "cat \"Tom\" & <friends>, all", "drift"],
        Blamed::MissedArrivals => &["not noticed", "sensor dead", "no power"],
        Blamed::MissedDepartures => &["no power", "never asked for"],
        Blamed::Contacts => &["the mower pushes the door", "the door comes down on the mower"],
    }
}

/// A result of `seasons` seasons for each of the named strategies.
pub fn result(strategies: &[&str], seasons: u64) -> RunResult {
    let scenario = scenario();
    let days = (scenario.calendar.last_day - scenario.calendar.first_day).get_days() as usize + 1;
    let results = strategies.iter().enumerate().map(|(index, name)| strategy(name, index, seasons, days)).collect();
    RunResult {
        scenario,
        scenario_hash: "3f2a9c51d0b74e8896a1f0c2d4e6b8a07f1e3d5c7b9a2846e0f1d3c5b7a92864".to_string(),
        seed: 1,
        first_season: 0,
        seasons_asked: seasons,
        seasons_played: seasons,
        confidence: 0.95,
        warnings: Vec::new(),
        strategies: results,
    }
}

/// What goes with a result, with moments written as seconds after an invented midnight.
pub fn context(settings: &[(String, toml::Value)]) -> Context<'_> {
    Context {
        version: "0.0.0",
        settings,
        resolved_scenario: "name = \"hedge\"\n# '''quotes''' and \"\"\" and <tags>\n[site]\nlatitude = \"47.3 deg\"\n",
        file: "hedge.toml",
        assumptions: &[],
        mechanism: &[],
        cautions: &["The sensors' noise figures are assumed, not measured.", "Nobody steps on the platform."],
        time: &|at: Instant| format!("2025-04-01T00:00:{:02}+02:00", at.seconds() as u32 % 60),
    }
}

/// Settings as `run` records them.
pub fn settings() -> Vec<(String, toml::Value)> {
    vec![("sampling".to_string(), "exact".into()), ("strategies".to_string(), vec!["radar"].into())]
}

fn strategy(name: &str, index: usize, seasons: u64, days: usize) -> StrategyResult {
    let records: Vec<SeasonRecord> = (0..seasons).map(|season| record(season, index, days)).collect();
    let estimates: Vec<Estimate> = KEYS
        .iter()
        .map(|&key| {
            let values: Vec<f64> = records.iter().map(|record| record.value(key)).collect();
            estimate(key, &values)
        })
        .collect();
    let causes = |blamed: Blamed| {
        let cause = |(cause, name): (usize, &&str)| {
            let values: Vec<f64> = records.iter().map(|record| record.by_cause[blamed][cause] as f64).collect();
            (name.to_string(), estimate(blamed.key(), &values))
        };
        names(blamed).iter().enumerate().map(cause).collect()
    };
    let merged = |of: fn(&SeasonRecord) -> &Histogram, bin_ms: u32| {
        let mut all = Histogram::new(bin_ms);
        records.iter().for_each(|record| all.merge(of(record)));
        all
    };
    let mut worst = dooryard::study::worst::WorstSoFar::default();
    records.iter().for_each(|record| worst.add(record));
    StrategyResult {
        name: name.to_string(),
        about: format!("invented strategy number {index}"),
        limits: limits(&estimates, index),
        risks: vec![judge_risk(&risk(), &records)],
        causes: ByCause::of(causes),
        hours: worst.hours(),
        worst: worst.worst(),
        waits: merged(|record| &record.waits, 100),
        opening_strokes: merged(|record| &record.opening_strokes, 50),
        closing_strokes: merged(|record| &record.closing_strokes, 50),
        detectors: vec![detector(index)],
        noise_openings: NoiseOpenings {
            per_day: [Some((0.02, Some((0.01, 0.04)))), Some((0.0, None)), None],
            expected_per_day: [Some((0.019, Some((0.018, 0.0202)))), Some((3.5e-7, None)), None],
            not_worked_out: (index == 1).then(|| "the open rule waits or lasts for a time".to_string()),
        },
        estimates,
        seasons: records,
        store: None,
    }
}

/// Hardly a season with more than three strandings.
fn risk() -> Risk {
    Risk { metric: "strandings".to_string(), above: 3.0, at_most: 0.1, confidence: 0.9 }
}

/// An invented detector.
fn detector(index: usize) -> DetectorResult {
    let (mut after, mut left) = (Histogram::new(100), Histogram::new(10));
    for place in 0..40 + 7 * index {
        after.add(7.0 + 0.02 * place as f64);
        left.add(2.0 - 0.01 * place as f64);
    }
    DetectorResult {
        name: "near".to_string(),
        false_per_day: [Some((0.12, Some((0.08, 0.17)))), Some((0.004, None)), None],
        expected_false_per_day: [Some((0.117, Some((0.112, 0.122)))), Some((0.0041, None)), None],
        noticed: after.total(),
        unnoticed: 1,
        after,
        left,
        uptime: 0.9971,
    }
}

fn record(season: u64, index: usize, days: usize) -> SeasonRecord {
    let mut random = Source::new(7, season, "invented").stream(index as u64);
    let worse = 1.0 + index as f64;
    let mut record = SeasonRecord::empty(season, days);
    record.by_cause = ByCause::of(|blamed| vec![0; names(blamed).len()]);
    record.by_cause[Blamed::MissedDepartures] = vec![season % 3, 0];
    for day in 0..days {
        record.days[day] = self::day(&mut random, worse, &mut record);
    }
    let sum = |of: fn(&Day) -> f64| record.days.iter().map(of).sum::<f64>();
    let arrivals = sum(|day| f64::from(day.arrivals));
    let set = [
        (Key::Departures, sum(|day| f64::from(day.sorties))),
        (Key::Arrivals, arrivals),
        (Key::MissedArrivals, sum(|day| f64::from(day.missed))),
        (Key::MissedShare, sum(|day| f64::from(day.missed)) / arrivals.max(1.0)),
        (Key::LateOpenings, sum(|day| f64::from(day.late))),
        (Key::WaitTotal, sum(|day| day.wait_s) / 60.0),
        (Key::WaitLongest, record.days.iter().map(|day| day.wait_s).fold(0.0, f64::max)),
        (Key::FalseOpenings, sum(|day| f64::from(day.false_openings))),
        (Key::Openings, sum(|day| f64::from(day.cycles))),
        (Key::DoorCycles, sum(|day| f64::from(day.cycles))),
        (Key::OpenTime, sum(|day| day.open_min) / 60.0),
        (Key::ShutTime, days as f64 * 24.0 - sum(|day| day.open_min) / 60.0),
        (Key::RainTime, sum(|day| day.rain_min) / 60.0),
        (Key::RainDepth, sum(|day| day.rain_mm)),
        (Key::WetFloorTime, sum(|day| day.wet_floor_min)),
        (Key::WetFloorDepth, sum(|day| day.wet_floor_min) * 0.02),
        (Key::Contacts, sum(|day| f64::from(day.contacts))),
        (Key::Strokes, sum(|day| f64::from(day.cycles)) * 2.0),
        (Key::Travel, sum(|day| f64::from(day.cycles)) * 0.7),
        (Key::DutyWorst, 40.0 * worse + 12.0 * random.uniform()),
        (Key::WindingPeak, 61.0 + 4.0 * random.normal()),
        (Key::TotalEnergy, 6_300.0 + 40.0 * random.normal()),
        (Key::SupplyPeak, 48.0),
        (Key::Damage, 0.00031 * worse + 0.00002 * random.normal()),
        (Key::DetectorUptime, 99.2 + 0.3 * random.uniform()),
    ];
    for (key, value) in set {
        record.values[key as usize] = value;
    }
    if season == 0 {
        let row = |micros, what: &str| EventRow {
            at: Instant(micros),
            who: "door".to_string(),
            what: what.to_string(),
            detail: "asked for by \"radar\", twice".to_string(),
        };
        record.events = vec![row(0, "opening"), row(12 * Span::SECOND.0, "open")];
    }
    record
}

fn day(random: &mut Stream, worse: f64, record: &mut SeasonRecord) -> Day {
    let mut day = Day::default();
    if random.chance(0.35) {
        day.rain_mm = random.gamma(0.6, 7.0);
        day.rain_min = 20.0 + 30.0 * day.rain_mm.sqrt();
        day.wet_floor_min = random.exponential(0.8 * worse);
    }
    day.sorties = (random.uniform() * 4.0) as u32;
    day.arrivals = day.sorties;
    for _ in 0..day.arrivals {
        let mut wait = 0.0;
        if random.chance(0.01 * worse) {
            day.missed += 1;
            record.hours[(7 + day.sorties as usize) % 24].missed += 1;
            record.by_cause[Blamed::MissedArrivals][(random.uniform() * 2.2) as usize] += 1;
            wait = 60.0 + random.exponential(90.0);
        } else if random.chance(0.3) {
            day.late += 1;
            wait = random.gamma(2.0, 2.5 * worse);
        }
        day.wait_s += wait;
        record.waits.add(wait);
        record.opening_strokes.add(11.8 + 0.2 * worse + 0.25 * random.normal());
        record.closing_strokes.add(13.1 + 0.4 * random.normal().abs());
    }
    while random.chance((0.12 * worse).min(0.6)) {
        day.false_openings += 1;
        record.by_cause[Blamed::FalseOpenings][(random.uniform() * 3.3) as usize] += 1;
    }
    day.cycles = 2 * day.sorties + day.false_openings;
    day.contacts = u32::from(random.chance(0.004));
    record.by_cause[Blamed::Contacts][day.sorties as usize % 2] += u64::from(day.contacts);
    let hours = &mut record.hours[9];
    hours.openings += day.cycles;
    hours.arrivals += day.arrivals;
    hours.false_openings += day.false_openings;
    day.open_min = f64::from(day.cycles) * (1.1 + 0.2 * random.uniform());
    day
}

fn estimate(key: Key, values: &[f64]) -> Estimate {
    let count = values.len() as f64;
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let mean = values.iter().sum::<f64>() / count.max(1.0);
    let spread = (values.len() > 1)
        .then(|| (values.iter().map(|value| (value - mean) * (value - mean)).sum::<f64>() / (count - 1.0)).sqrt());
    let method = match key.metric().kind {
        Kind::Count => Method::Poisson,
        Kind::Amount => Method::StudentT,
        Kind::Peak | Kind::PeakIfAny => Method::Bootstrap,
        Kind::Share => Method::Wilson,
    };
    let interval = spread.map(|spread| {
        let half = 1.96 * spread / count.sqrt();
        Interval { low: (mean - half).max(0.0), high: mean + half, confidence: 0.95, method }
    });
    let at = |q: f64| sorted.get((q * count) as usize).copied();
    let outer = |q: f64| if values.len() >= 20 { at(q) } else { None };
    let range = (sorted.first().copied().unwrap_or(0.0), sorted.last().copied().unwrap_or(0.0));
    Estimate {
        key,
        seasons: values.len() as u64,
        mean,
        interval,
        spread,
        quantiles: [outer(0.05), at(0.5), outer(0.95)],
        range,
    }
}

/// Three limits: the first is met, the second isn't for later strategies, the third is open.
fn limits(estimates: &[Estimate], index: usize) -> Vec<LimitVerdict> {
    let limit = |key: Key, bound, value, verdict| {
        let estimate = &estimates[key as usize];
        let upper = (bound == Bound::AtMost) != (verdict == Verdict::NotMet);
        let bound_of = estimate.interval.map(|it| if upper { it.high } else { it.low });
        LimitVerdict {
            limit: Limit { metric: key.metric().key.to_string(), bound, value, confidence: 0.95 },
            mean: estimate.mean,
            confidence_bound: bound_of,
            verdict,
            untried: None,
        }
    };
    let second = if index == 0 { Verdict::Met } else { Verdict::NotMet };
    let third = if index == 0 { Verdict::Met } else { Verdict::Undecided { more_seasons: Some(337) } };
    vec![
        limit(Key::DetectorUptime, Bound::AtLeast, 98.0, Verdict::Met),
        limit(Key::WetFloorTime, Bound::AtMost, 90.0, second),
        limit(Key::MissedShare, Bound::AtMost, 0.02, third),
    ]
}

fn scenario() -> Scenario {
    let spread = Spread { mean_s: 3_600.0, sd_s: 300.0 };
    Scenario {
        name: "hedge".to_string(),
        about: "a small lawn behind a hedge".to_string(),
        site: Site {
            latitude_deg: 47.3,
            longitude_deg: 11.2,
            time_zone: "Europe/Vienna".to_string(),
            door_faces_deg: 180.0,
            wind_factor: 0.5,
        },
        calendar: Calendar { first_day: date(2025, 4, 1), last_day: date(2025, 10, 31) },
        weather: Weather::Observed(Observed::new("weather.csv".into(), Gaps::Refuse)),
        mower: mower(spread),
        visitors: Vec::new(),
        faults: Vec::new(),
        failures: vec![],
        sensors: Vec::new(),
        detectors: Vec::new(),
        strategies: Vec::new(),
        door: door(),
        drive: drive(),
        supply: Supply {
            voltage_v: 24.0,
            cable_ohm: 0.2,
            limit_w: 60.0,
            standby_w: 1.2,
            efficiency: 0.88,
            buffer_j: 0.0,
            source: dooryard::scenario::door::Source::Limit,
        },
        bus: None,
        limits: Vec::new(),
        common_cause: dooryard::scenario::common_cause::USUAL,
        risks: Vec::new(),
        objective: None,
    }
}

fn mower(spread: Spread) -> Mower {
    Mower {
        length_m: 0.6,
        width_m: 0.42,
        height_m: 0.26,
        mass_kg: 11.0,
        reflectance: 0.3,
        axles: None,
        windows: Vec::new(),
        run: spread,
        charge: spread,
        lawn_s: 10_800.0,
        start_delay_s: 300.0,
        unscheduled_per_day: 0.02,
        approach: Approach {
            way_home: Spread { mean_s: 60.0, sd_s: 0.0 },
            from_m: 6.0,
            speed_m_s: 0.4,
            slow_from_m: 3.5,
            slow_speed_m_s: 0.2,
            speed_spread: 0.08,
            sideways_m: 0.04,
        },
        departure: Departure { notice_s: 20.0, patience_s: 180.0, speed_m_s: 0.25 },
        shut_door: ShutDoor {
            waits_at_m: 0.5,
            patience_s: 180.0,
            retries: 2,
            back_off_m: 0.4,
            bumps: false,
            bump_force_n: 0.0,
            help_after_s: 7_200.0,
        },
        dock: Dock { depth_m: 0.9, failure: 0.01, back_off_m: 0.3, attempts: 3 },
        rain: RainManners { habit: RainHabit::GoHome, reacts_after_s: 60.0, resumes_after_s: 3_600.0 },
    }
}

fn door() -> Door {
    Door {
        width_m: 0.5,
        height_m: 0.35,
        mechanism: Mechanism::VerticalLift(VerticalLift {
            stroke_m: 0.35,
            counterweight_kg: 3.0,
            pulleys: 1,
            pulley_efficiency: 0.95,
            guide_friction: 0.2,
            guide_length_m: 0.3,
            drive_offset_m: 0.05,
        }),
        mass_kg: 3.5,
        seal_n: 4.0,
        seal_zone_m: 0.02,
        breakaway: 1.5,
        wind_coefficient: 1.2,
        ice_n: 30.0,
        ice_below_c: 0.0,
        edge_stiffness_n_m: 4_000.0,
        contact_force_limit_n: 150.0,
        contact_energy_limit_j: 1.0,
    }
}

fn drive() -> Drive {
    Drive {
        nominal_v: 24.0,
        no_load_speed_m_s: 0.04,
        stall_force_n: 300.0,
        rated_force_n: 80.0,
        no_load_current_a: 0.2,
        stall_current_a: 3.0,
        current_limit_a: 2.5,
        self_locking: true,
        pushes: false,
        reflected_mass_kg: 2.0,
        duty_factor: 0.2,
        duty_period_s: 600.0,
        soft_start_s: 0.0,
        gear: Gear::Figures,
        parts: Vec::new(),
        heat: Heat {
            winding_j_k: 20.0,
            housing_j_k: 150.0,
            winding_housing_k_w: 4.0,
            housing_air_k_w: 6.0,
            trips_at_c: 120.0,
            resets_at_c: 90.0,
        },
        wear: Wear { rated_strokes: 50_000.0, exponent: 3.0, weibull_shape: 1.5 },
    }
}
