//! Rangers whose light fades over the years: what is left of their range, and what a season makes of it.

mod support;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::scenario::sensor::{NARROW, SensorKind, WIDE};
use dooryard::sensing::channel::Sampling;
use dooryard::sensing::physics::photon::Window;
use dooryard::sensing::reading::{Eye, Sky};

fn sky(days: f64) -> Sky {
    Sky { light_klux: 30.0, days, ..Sky::dark(20.0) }
}

/// The same share every year, over and over: after a year and a half at 4 % the output is 0.96^1.5, and the range its root.
#[test]
fn the_range_falls_with_the_root_of_the_output() {
    let mut sensor = support::ranger(support::PERFECT);
    let new = Eye::new(&sensor).seeing(&sky(0.0)).range_m;
    assert_eq!(Eye::new(&sensor).seeing(&sky(500.0)).range_m, new, "without a loss nothing ages");
    sensor.errors.output_loss_per_year = 0.04;
    sensor.errors.age_days = 365.25;
    let eye = Eye::new(&sensor);
    for (days, years) in [(0.0, 1.0), (0.5 * 365.25, 1.5), (9.0 * 365.25, 10.0)] {
        let left = 0.96_f64.powf(years);
        let seeing = eye.seeing(&sky(days));
        assert!((seeing.output - left).abs() < 1e-12, "{days}: {}", seeing.output);
        assert!((seeing.range_m / new - left.sqrt()).abs() < 1e-12, "{days}");
    }
}

/// Where ambient light sets the noise, a photon counter's range follows the root, too (its own light adds no noise then); in
/// the dark, where it does, it follows a little less. The pull of the glass, which is its own light, stays.
#[test]
fn photons_of_an_old_emitter() {
    let sun = Window { light_klux: 100.0, rain_mm_h: 0.0, dew: 0.0, dirt: 0.0 };
    let dark = Window { light_klux: 0.0, ..sun };
    for photon in [WIDE, NARROW] {
        let old = photon.aged(0.5);
        let kept = |window| old.range_m(0.3, window) / photon.range_m(0.3, window);
        assert!((kept(&sun) - 0.5_f64.sqrt()).abs() < 0.02, "{}", kept(&sun));
        assert!((0.65..0.75).contains(&kept(&dark)), "{}", kept(&dark));
        let pull = |photon: dooryard::scenario::sensor::Photon| photon.look(1.0, 0.3, 1.0, &sun).bias_m;
        assert!((pull(old) - pull(photon)).abs() < 1e-12);
        assert_eq!(photon.aged(1.0), photon);
    }
}

/// An eye that reached 8 m when it was new: at nine tenths lost a year it reaches 2.5 m after one, and a quarter of a metre after
/// three. The mower first waits longer and longer, within one season, too, and in the end is not seen at all.
#[test]
fn an_old_eye_sees_late_and_then_nothing() {
    let mut scenario = support::usual();
    let mut seasons = |loss: f64, years: f64| {
        let SensorKind::OpticalRange { farthest_sun_m, .. } = &mut scenario.sensors[0].kind else {
            unreachable!("the first sensor is the eye")
        };
        *farthest_sun_m = 8.0;
        let errors = &mut scenario.sensors[0].errors;
        (errors.output_loss_per_year, errors.age_days) = (loss, years * 365.25);
        let plan = Plan::new(&scenario).expect("the scenario can be planned");
        let options = Options { sampling: Sampling::Exact, events: false };
        let record = |number| play(&plan, &Outside::draw(&plan, 3, number).expect("weather"), 0, 3, options);
        (0..3).map(record).collect::<Vec<SeasonRecord>>()
    };
    let per_arrival = |records: &[SeasonRecord], key: Key| {
        let total = |key: Key| records.iter().map(|record| record.value(key)).sum::<f64>();
        total(key) / total(Key::Arrivals)
    };
    let [new, year, three] = [seasons(0.0, 0.0), seasons(0.9, 1.0), seasons(0.9, 3.0)];
    let waits = [&new, &year].map(|records| per_arrival(records, Key::WaitTotal));
    assert!(waits[1] > 1.2 * waits[0], "{waits:?}");
    assert!(per_arrival(&new, Key::MissedArrivals) < 0.01 && per_arrival(&three, Key::MissedArrivals) > 0.9);
    // Waits grow from the first half of the season to the second.
    let half = |records: &[SeasonRecord], late: bool| {
        let days =
            records.iter().flat_map(|record| record.days.iter().enumerate().filter(|(day, _)| (*day >= 30) == late));
        let (wait, arrivals) =
            days.fold((0.0, 0.0), |(wait, arrivals), (_, day)| (wait + day.wait_s, arrivals + f64::from(day.arrivals)));
        wait / arrivals
    };
    assert!(half(&year, true) > 1.05 * half(&year, false), "{} then {}", half(&year, false), half(&year, true));
}
