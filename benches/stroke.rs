//! Start-up cost of the stroke table and the cost of one look-up.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use dooryard::scenario::door::*;
use dooryard::shelter::{Direction, Loads, StrokeTable};

fn parts() -> (Door, Drive, Supply) {
    let lift = VerticalLift {
        stroke_m: 0.4,
        counterweight_kg: 3.0,
        pulleys: 2,
        pulley_efficiency: 0.95,
        guide_friction: 0.15,
        guide_length_m: 0.4,
        drive_offset_m: 0.1,
    };
    let door = Door {
        width_m: 0.6,
        height_m: 0.4,
        mechanism: Mechanism::VerticalLift(lift),
        mass_kg: 7.0,
        seal_n: 8.0,
        seal_zone_m: 0.031,
        breakaway: 1.3,
        wind_coefficient: 1.3,
        ice_n: 150.0,
        ice_below_c: 0.0,
        edge_stiffness_n_m: 10_000.0,
        contact_force_limit_n: 150.0,
        contact_energy_limit_j: 1.69,
    };
    let drive = Drive {
        nominal_v: 24.0,
        no_load_speed_m_s: 0.05,
        stall_force_n: 300.0,
        rated_force_n: 100.0,
        no_load_current_a: 0.4,
        stall_current_a: 5.0,
        current_limit_a: f64::INFINITY,
        self_locking: true,
        pushes: true,
        reflected_mass_kg: 20.0,
        duty_factor: 0.25,
        duty_period_s: 600.0,
        soft_start_s: 0.0,
        gear: Gear::Figures,
        parts: Vec::new(),
        heat: Heat {
            winding_j_k: 20.0,
            housing_j_k: 250.0,
            winding_housing_k_w: 3.0,
            housing_air_k_w: 6.0,
            trips_at_c: 120.0,
            resets_at_c: 90.0,
        },
        wear: Wear { rated_strokes: 20_000.0, exponent: 3.0, weibull_shape: 1.5 },
    };
    let supply = Supply {
        voltage_v: 24.0,
        cable_ohm: 0.5,
        limit_w: 60.0,
        standby_w: 2.0,
        efficiency: 0.88,
        buffer_j: 0.0,
        source: Source::Limit,
    };
    (door, drive, supply)
}

fn stroke(c: &mut Criterion) {
    let (door, drive, supply) = parts();
    c.bench_function("stroke_table_new", |b| b.iter(|| StrokeTable::of(&door, &drive, &supply)));
    let table = StrokeTable::of(&door, &drive, &supply);
    let loads = Loads { gust_m_s: 7.3, temperature_c: 12.0, frozen: false };
    c.bench_function("stroke_table_get", |b| b.iter(|| table.get(Direction::Opening, black_box(&loads)).time_s));
}

criterion_group!(benches, stroke);
criterion_main!(benches);
