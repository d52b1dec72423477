//! Time to draw one season's weather.

use criterion::{Criterion, criterion_group, criterion_main};
use dooryard::scenario::season::Calendar;
use dooryard::scenario::weather::{Air, Generated, PulseMonth, Pulses, Shift};
use dooryard::world::clock::LocalClock;
use dooryard::world::weather::generate_pulses;
use dooryard::world::weather::generated::generate;
use jiff::civil::date;

fn one_season(bench: &mut Criterion) {
    let calendar = Calendar { first_day: date(2025, 4, 1), last_day: date(2025, 10, 31) };
    let clock = LocalClock::new(&calendar, "Europe/Vienna").expect("a zone of the bundled database");
    let weather = Generated {
        wet_spell_h: [3.2; 12],
        dry_spell_h: [28.0; 12],
        intensity_mm_h: [1.4; 12],
        intensity_shape: 0.6,
        intensity_step_h: 1.0 / 3.0,
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
    };
    let mut season = 0;
    bench.bench_function("generated season of 214 days", |bencher| {
        bencher.iter(|| {
            season += 1;
            generate(&weather, &clock, 1, season)
        });
    });
}

/// Ten years of pulse weather with the parameters of an alpine July all year, the busiest fitted set known here.
fn ten_years_of_pulses(bench: &mut Criterion) {
    let month = PulseMonth {
        storms_per_h: 0.0298,
        intensity_mm: 0.801,
        rate_shape: 2.1,
        rate_scale_h: 0.457,
        cells: 0.2064,
        ending: 0.0425,
        intensity_shape: 1.0,
    };
    let weather = Pulses {
        rain: [month; 12],
        air: Air {
            temperature_c: [12.0; 12],
            temperature_swing_k: [4.0; 12],
            temperature_spread_k: [3.5; 12],
            temperature_memory_h: 40.0,
            rain_cooling_k: 4.5,
            dryness_k: 1.0,
            dryness_spread_k: 2.0,
            wind_m_s: [2.8; 12],
            wind_shape: 2.0,
            wind_memory_h: 10.0,
            wind_swing: [0.25; 12],
            wind_in_rain: 1.2,
            roughness_m: 0.1,
            clearness: [0.65; 12],
            clearness_spread: 0.25,
            clearness_in_rain: 0.25,
        },
        shift: Shift::NONE,
    };
    let calendar = Calendar { first_day: date(2025, 1, 1), last_day: date(2025, 12, 31) };
    let clock = LocalClock::new(&calendar, "Europe/Vienna").expect("a zone of the bundled database");
    bench.bench_function("ten generated years of pulse weather", |bencher| {
        bencher.iter(|| (0..10).map(|season| generate_pulses(&weather, &clock, 1, season).steps.len()).sum::<usize>());
    });
}

criterion_group!(benches, one_season, ten_years_of_pulses);
criterion_main!(benches);
