//! Ice bond, nut wear, buffer, relay and wind exposure against tables of an independent program, row by row.

mod common;

use common::{Tally, number, records};
use dooryard::shelter::{loads, power, wear};

/// Relative tolerance: the tables have seven digits.
const DIGITS: f64 = 1e-6;

#[test]
fn ice_bonds() {
    let mut tally = Tally::default();
    for row in records("door/ice_bond.csv") {
        // The table's bond: 5 mm x 2 m.
        let force = loads::ice_bond_n(number(&row, "tau_kPa"), 0.005, 2.0, number(&row, "progressive"));
        let expected = number(&row, "force_N");
        tally.check_within(&row["ice"], "force", force, expected, DIGITS * expected);
    }
    tally.finish(12);
}

#[test]
fn wear_of_a_nut() {
    let mut tally = Tally::default();
    for row in records("door/nut_wear.csv") {
        let of = |column: &str| number(&row, column);
        let thread = (of("lead_mm"), of("mean_dia_mm"), of("thread_h_mm"));
        // The table's stroke: 0.3 m.
        let (slide_m, wear_mm) = wear::nut_wear(of("k_mm3_per_Nm"), of("F_N"), 0.3, thread, of("turns"));
        let strokes = wear::nut_strokes(wear_mm, of("lead_mm"));
        for (column, got) in
            [("slide_m_per_stroke", slide_m), ("wear_mm_per_stroke", wear_mm), ("strokes_to_limit", strokes)]
        {
            tally.check_within(&row["k_mm3_per_Nm"], column, got, of(column), DIGITS * of(column));
        }
    }
    tally.finish(48);
}

#[test]
fn buffer_capacitors() {
    let mut tally = Tally::default();
    for row in records("door/power_cap.csv") {
        let of = |column: &str| number(&row, column);
        let farad = power::buffer_f(of("P_load_W"), of("P_source_W"), of("t_s"), of("V1"), of("V2"), of("esr_ohm"));
        tally.check_within(&row["P_source_W"], "C_mF", 1e3 * farad, of("C_mF"), DIGITS * of("C_mF"));
    }
    tally.finish(18);
}

#[test]
fn relay_contacts() {
    let mut tally = Tally::default();
    for row in records("door/relay_life.csv") {
        let of = |column: &str| number(&row, column);
        let got = wear::relay_operations(of("I_rated_A"), of("I_A"), of("exponent"));
        tally.check_within(&row["I_A"], "operations", got, of("operations"), DIGITS * of("operations"));
    }
    tally.finish(36);
}

#[test]
fn wind_exposure() {
    let mut tally = Tally::default();
    for row in records("door/wind_exposure.csv") {
        let of = |column: &str| number(&row, column);
        let got = loads::gust_over_basic(of("z_m"), of("z0_m"), of("zmin_m"));
        tally.check_within(&row["terrain"], "gust_over_basic", got, of("gust_over_basic"), DIGITS);
        tally.check_within(&row["terrain"], "ce", got * got, of("ce"), DIGITS * of("ce"));
    }
    tally.finish(50);
}
