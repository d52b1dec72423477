//! The physics of the sensors against tables computed outside this crate (each names its sources).

mod common;

use common::{Record, Tally};
use dooryard::math::normal;
use dooryard::scenario::sensor::{NARROW, Photon, WIDE};
use dooryard::scenario::strategy::{Detector, Dropped, RunRule, Sense, Statistic};
use dooryard::sensing::approach::{Evidence, Mass, Odds, QuietChain};
use dooryard::sensing::physics::photon::Window;
use dooryard::sensing::physics::{age, air, drops, load, obstruction, tilt};

fn number(row: &Record, key: &str) -> f64 {
    row[key].parse().unwrap_or_else(|_| panic!("{key} of {row:?}"))
}

/// Preset, half cone in degrees, blind zone, step between readings, clear-weather spurious rate, coefficient in rain.
fn preset(name: &str) -> (Photon, f64, f64, f64, f64) {
    match name {
        "wide" => (WIDE, 13.5, 0.04, 0.001, 3.74e-7),
        "narrow" => (NARROW, 1.8, 0.10, 0.01, 1.44e-5),
        other => panic!("{other}"),
    }
}

fn window(row: &Record) -> Window {
    let or_zero = |key: &str| row.get(key).map_or(0.0, |_| number(row, key));
    Window { light_klux: or_zero("klux"), rain_mm_h: or_zero("rain_mm_h"), dew: or_zero("dew"), dirt: or_zero("dirt") }
}

/// Share of a square cone of view that a front 0.4 m wide and 0.25 m high fills.
fn fill(distance: f64, half_deg: f64, lateral: f64) -> f64 {
    let half = distance * half_deg.to_radians().tan();
    let overlap = (half.min(lateral + 0.2) - (-half).max(lateral - 0.2)).max(0.0);
    overlap / (2.0 * half) * (0.25 / (2.0 * half)).min(1.0)
}

/// Hit probability of one sample in the table's form: no reading in 1e-4 of the samples, spurious ones in 1e-6 and in
/// rain, rounding to a grid.
fn hit(row: &Record, name: &str, distance: f64, fill: f64, threshold: f64) -> [f64; 3] {
    let (photon, _, blind, step, rain) = preset(name);
    let window = window(row);
    let seen = photon.look(distance, number(row, "reflectance"), fill, &window);
    let short = 1.0 - (1.0 - 1e-6) * (-rain * window.rain_mm_h.powf(1.2)).exp();
    let edge = step * ((threshold / step + 1e-9).floor() + 0.5);
    let lowest = step * (((blind - step) / step + 1e-9).floor() + 0.5);
    let at = |x: f64| normal::cdf((x - distance - seen.bias_m) / seen.sigma_m);
    let before = |end: f64| {
        if threshold >= end {
            1.0
        } else {
            (1.0 - (-(threshold - blind) / 0.25).exp()) / (1.0 - (-(end - blind) / 0.25).exp())
        }
    };
    let target = short * before(distance.min(4.0)) + (1.0 - short) * seen.valid * (at(edge) - at(lowest));
    [0.9999 * target, short, 0.9999 * short * before(4.0)]
}

#[test]
fn readings_of_an_optical_ranger() {
    let mut tally = Tally::default();
    for row in common::records("sensing/exceedance_tof.csv") {
        let name = row["preset"].as_str();
        let (photon, half, ..) = preset(name);
        let n = |key: &str| number(&row, key);
        let got_fill = fill(n("d_m"), half, 0.0);
        let seen = photon.look(n("d_m"), n("reflectance"), got_fill, &window(&row));
        let hits = hit(&row, name, n("d_m"), got_fill, n("thr_m"));
        for (key, got) in [
            ("fov_fill", got_fill),
            ("signal_counts", seen.signal),
            ("ambient_counts", seen.ambient),
            ("sigma_m", seen.sigma_m),
            ("bias_m", seen.bias_m),
            ("snr", seen.ratio),
            ("p_valid", seen.valid),
            ("p_short", hits[1]),
            ("p_hit_target", hits[0]),
        ] {
            tally.check_within(key, &format!("{row:?}"), got, n(key), 1e-9 * n(key).abs());
        }
        // The table cuts spurious readings of an empty scene at a range that it does not state.
        tally.check_within("empty", &format!("{row:?}"), hits[2], n("p_hit_empty_scene"), 1e-6 * hits[2]);
    }
    tally.finish(3200);
}

#[test]
fn range_of_an_optical_ranger() {
    let mut tally = Tally::default();
    for row in common::records("sensing/tof_range_check.csv") {
        let range = preset(&row["preset"]).0.range_m(number(&row, "reflectance"), &window(&row));
        let expected = number(&row, "range_m_at_p_valid_0.5_target_fills_fov");
        tally.check_within("range", &format!("{row:?}"), range, expected, 1e-8 * expected);
    }
    tally.finish(40);
}

/// The table counts drops on a grid of sizes and distances; its own error is 0.2 % (larger than that where only the very
/// largest drops count, hence the absolute part).
#[test]
fn short_returns_from_rain() {
    let mut tally = Tally::default();
    for row in common::records("sensing/rain_short_returns.csv") {
        let (photon, half, blind, ..) = preset(&row["preset"]);
        let n = |key: &str| number(&row, key);
        for (key, light_klux) in [("p_short_1klux", 1.0), ("p_short_50klux", 50.0)] {
            let window = Window { light_klux, rain_mm_h: n("rain_mm_h"), dew: 0.0, dirt: 0.0 };
            let sheltered = Photon { sheltered_m: n("sheltered_path_m"), ..photon };
            let got = sheltered.rain_return(half, blind, &window);
            tally.check_within(key, &format!("{row:?}"), got, n(key), 1e-2 * n(key) + 2e-8);
        }
    }
    tally.finish(128);
}

/// Miss probabilities along whole approaches, from the ranger's figures to the run rule, down to 1e-153.
#[test]
fn misses_along_an_approach() {
    let mut tally = Tally::default();
    for row in common::records("sensing/miss_trajectory.csv") {
        let n = |key: &str| number(&row, key);
        let (k, of) = row["rule"].split_once("of").expect("a rule");
        let rule = RunRule { k: k.parse().expect("k"), n: of.parse().expect("n") };
        let chain = QuietChain::new(&detector(rule), 0.0).expect("small");
        let mut mass = Mass::default();
        assert!(chain.start(Evidence { hits: 0, spoke: 0 }, &mut mass));
        let (mut least, mut most) = (1.0_f64, 0.0_f64);
        for sample in 0..n("n_samples") as usize {
            let distance = n("d_start_m") - n("v_m_s") * n("t_s_s") * (sample as f64 + 0.5);
            let [hit, ..] = hit(&row, "narrow", distance, fill(distance, 1.8, n("lateral_m")), n("thr_m"));
            (least, most) = (least.min(hit), most.max(hit));
            chain.step(Odds { hit, miss: 1.0 - hit, nothing: 0.0 }, &mut mass, 0.0);
        }
        tally.check_within("p_min", &format!("{row:?}"), least, n("p_min"), 1e-9 * least);
        tally.check_within("p_max", &format!("{row:?}"), most, n("p_max"), 1e-9);
        let missed = mass.total();
        // Where most readings hit, 1 - p has lost digits, and the product of dozens of them loses as many.
        tally.check_within("p_miss", &format!("{row:?}"), missed, n("p_miss_exact"), 1e-8 * missed);
    }
    tally.finish(3 * common::records("sensing/miss_trajectory.csv").len());
}

fn detector(rule: RunRule) -> Detector {
    Detector {
        name: "d".into(),
        sensor: 0,
        statistic: Statistic::Level,
        sense: Sense::Below,
        on: 2.2,
        off: 2.2,
        rule,
        release: rule,
        dropped: Dropped::Quiet,
        says: Vec::new(),
    }
}

#[test]
fn absorption_of_sound() {
    let mut tally = Tally::default();
    for row in common::records("sensing/air_absorption.csv") {
        let n = |key: &str| number(&row, key);
        let got = air::absorption_db_m(n("frequency_hz"), n("air_c"), n("rel_humidity_pct"));
        let expected = n("absorption_db_per_m");
        tally.check_within("alpha", &format!("{row:?}"), got, expected, 1e-9 * expected);
    }
    tally.finish(common::records("sensing/air_absorption.csv").len());
}

/// Echo level: 46 dB at 1 m, target strength -6 or -14 dB, spreading, absorption, 6 dB at the edge of the cone (15 degrees),
/// 6 log10(1 + R); valid against 12 dB with a spread of 3 dB; sigma 2 mm + 3 mm/m; no reading in 1e-3 or, in rain, more.
#[test]
fn readings_of_an_ultrasonic_ranger() {
    let mut tally = Tally::default();
    for row in common::records("sensing/exceedance_ultrasonic.csv") {
        let n = |key: &str| number(&row, key);
        let (d, t) = (n("d_m"), n("air_c"));
        let scale = air::sound_speed_m_s(20.0) / air::sound_speed_m_s(t);
        let strength = if row["target"] == "soft" { -14.0 } else { -6.0 };
        let angle = (n("lateral_m") / d).atan().to_degrees() / 15.0;
        // The table takes the absorption of 20 degC and 50 % at all temperatures, rounded.
        let alpha = 1.3;
        let level = 46.0 + strength
            - 40.0 * d.log10()
            - 2.0 * alpha * (d - 1.0)
            - 6.0 * angle * angle
            - 6.0 * (1.0 + n("rain_mm_h")).log10();
        let valid = normal::cdf((level - 12.0) / 3.0);
        for (key, got) in [
            ("sound_m_s", air::sound_speed_m_s(t)),
            ("mean_reading_m", d * scale),
            ("bias_m", d * (scale - 1.0)),
            ("sigma_m", 0.002 + 0.003 * d),
            ("snr_db", level),
            ("p_valid", valid),
        ] {
            tally.check_within(key, &format!("{row:?}"), got, n(key), 1e-9 * n(key).abs().max(1e-6));
        }
    }
    tally.finish(960);
}

#[test]
fn load_cells_and_platforms() {
    let mut tally = Tally::default();
    for row in common::records("sensing/r60_limits.csv") {
        let n = |key: &str| number(&row, key);
        let class = if row["class"] == "C" { load::CellClass::C } else { load::CellClass::D };
        let limits = load::cell_limits(class, n("n_LC") as u32, n("E_max_kg"), n("load_fraction") * n("E_max_kg"));
        for (key, got) in [
            ("v_kg", limits.interval_kg),
            ("mpe_kg_pLC0.7", limits.error_kg),
            ("creep_30min_kg", limits.creep_kg),
            ("creep_20_to_30min_kg", limits.late_creep_kg),
            ("dead_load_return_kg", limits.return_kg),
            ("zero_kg_per_K", limits.zero_kg_per_k),
        ] {
            tally.check_within(key, &format!("{row:?}"), got, n(key), 1e-12);
        }
    }
    for row in common::records("sensing/corner_loads.csv") {
        let n = |key: &str| number(&row, key);
        let forces = load::corner_loads(10.0, n("xi"), n("eta"));
        for (key, got) in ["F_pp_kg", "F_pm_kg", "F_mp_kg", "F_mm_kg"].into_iter().zip(forces) {
            tally.check_within(key, &format!("{row:?}"), got, n(key), 1e-12);
        }
        let error: f64 = forces.iter().zip([0.002, -0.002, 0.001, -0.001]).map(|(force, gain)| force * gain).sum();
        tally.check_within("error", &format!("{row:?}"), error, n("corner_error_kg"), 1e-12);
    }
    // 9.5 kg on four wheels, 70 % on the rear ones; 12 Hz, damping 0.08, first swing 0.3.
    let platform = load::Platform { frequency_hz: 12.0, damping: 0.08, swing: 0.3 };
    let wheels = [(0.0, 0.15), (0.15, 0.15), (1.4, 0.35), (1.55, 0.35)];
    for row in common::records("sensing/drive_on.csv") {
        let t = number(&row, "t_s");
        let got: f64 = wheels.iter().map(|(at, share)| 9.5 * share * platform.response(t - at + 1e-12)).sum();
        tally.check_within("drive on", &format!("{row:?}"), got, number(&row, "platform_kg"), 1e-8);
    }
    let noise = load::bridge_noise_kg(30e-9, 20.0, 2.0, 5.0, 20.0);
    for row in common::records("sensing/exceedance_load.csv") {
        let n = |key: &str| number(&row, key);
        let standing = n("mower_kg") * load::creep_factor(3e-4, 1.0, 3.0);
        let mean = standing + 20.0 * 8e-5 * n("dT_K") + 0.6 * n("water_mm") + n("leaves_kg");
        let sigma = (0.05_f64.powi(2) + noise * noise).sqrt();
        tally.check_within("mean", &format!("{row:?}"), mean, n("mean_kg"), 1e-9);
        tally.check_within("electronics", "", noise, n("electronic_sigma_kg"), 1e-9 * noise);
        tally.check_within("sigma", "", sigma, n("sigma_kg"), 1e-9);
    }
    let tau = load::longest_creep_tau_min();
    tally.check_within("tau", "", tau, 25.549_001_260_207_344, 1e-9);
    let rows = |name: &str| common::records(&format!("sensing/{name}.csv")).len();
    tally
        .finish(6 * rows("r60_limits") + 5 * rows("corner_loads") + rows("drive_on") + 3 * rows("exceedance_load") + 1);
}

#[test]
fn tilt_age_and_obstruction() {
    let mut tally = Tally::default();
    for row in common::records("sensing/tilt_sigma.csv") {
        let n = |key: &str| number(&row, key);
        let sigma = tilt::sigma_deg(n("noise_ug_rtHz"), n("bandwidth_hz"), n("averages"), n("angle_deg"));
        tally.check_within("sigma", &format!("{row:?}"), sigma, n("sigma_deg"), 1e-9 * sigma);
        let offset = tilt::offset_deg(0.5 * 25.0);
        tally.check_within("offset", "", offset, n("offset_deg_0.5mg_per_K_25K"), 1e-9);
    }
    for row in common::records("sensing/network_age.csv") {
        let n = |key: &str| number(&row, key);
        let polled = age::Polled {
            poll_s: n("poll_s"),
            delay_s: n("latency_median_s"),
            spread: n("latency_logsd"),
            loss: n("loss"),
        };
        tally.check_within("mean", &format!("{row:?}"), polled.mean_age_s(), n("mean_age_s"), 1e-9 * n("mean_age_s"));
        // The table integrates over the wait on a grid, which shows where the poll is long against the delay; by hand, for
        // 60 s, median 2 s, spread 1, loss 1 %: 0.99/60 (Phi(-0.6931) - 2 exp(1/2) Phi(-1.6931)) = 0.001568 within 1 s.
        let known = polled.known_within(n("t_s"));
        tally.check_within("known", &format!("{row:?}"), known, n("p_known_within_t"), 2e-5);
    }
    for row in common::records("sensing/obstruction.csv") {
        let n = |key: &str| number(&row, key);
        let rule = RunRule { k: n("k") as usize, n: n("n") as usize };
        let trip = obstruction::false_trip(n("margin_sigma"), rule, n("samples_per_stroke") as u64).expect("a rule");
        tally.check_within("trip", &format!("{row:?}"), trip, n("p_false_trip_per_stroke"), 1e-9 * trip);
        let reaction = obstruction::reaction_s(rule.n, 0.005, 0.02);
        tally.check_within("reaction", "", reaction, n("react_s"), 1e-12);
        let peak = |stall, stiffness, speed| obstruction::peak_force_n(stall, 40.0, stiffness, speed, 4.0, reaction);
        for (key, got) in [
            ("peak_N_stiff_5cm_s_stall120", peak(120.0, 500e3, 0.05)),
            ("peak_N_stiff_10cm_s_stall600", peak(600.0, 500e3, 0.1)),
            ("peak_N_soft20N_mm_10cm_s_stall600", peak(600.0, 20e3, 0.1)),
        ] {
            tally.check_within(key, &format!("{row:?}"), got, n(key), 1e-9 * got);
        }
    }
    let rows = |name: &str| common::records(&format!("sensing/{name}.csv")).len();
    tally.finish(2 * rows("tilt_sigma") + 2 * rows("network_age") + 5 * rows("obstruction"));
}

#[test]
fn drop_sizes() {
    let mut tally = Tally::default();
    for row in common::rows("catalogue/07_rain.csv").iter().filter(|row| row.quantity.starts_with("mp_")) {
        let rain = row.number("R");
        let extinction = std::f64::consts::FRAC_PI_2 * drops::moment(rain, 2.0) * 1e-6;
        let got = match row.quantity.as_str() {
            "mp_lambda" => drops::decay_per_mm(rain),
            "mp_drops_total" => drops::number_above(rain, 0.0),
            "mp_drops_above_1mm" => drops::number_above(rain, 1.0),
            "mp_drops_above_3mm" => drops::number_above(rain, 3.0),
            "mp_water_content" => std::f64::consts::PI / 6.0 * 1e-3 * drops::moment(rain, 3.0),
            "mp_extinction_geometric" => extinction,
            "mp_extinction_db_per_km" => 10.0 / std::f64::consts::LN_10 * 1000.0 * extinction,
            "mp_transmission_10m" => (-10.0 * extinction).exp(),
            "mp_reflectivity" => drops::moment(rain, 6.0),
            "mp_mean_diameter" => drops::moment(rain, 1.0) / drops::moment(rain, 0.0),
            "mp_drop_flux_above_1mm" => drops::flux_above(rain, 1.0),
            other => {
                tally.skip(row, &[("mp_median_volume_diameter", "not used"), ("mp_implied_rain_rate", "not used")]);
                assert!(!other.is_empty());
                continue;
            }
        };
        tally.check(row, got);
    }
    tally.finish(33);
}
