//! A battery and its panel through a season, against a balance kept minute by minute with nothing of the engine in it.

mod support;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::ledger::metric::Key;
use dooryard::ledger::record::SeasonRecord;
use dooryard::math::time::{Instant, Span};
use dooryard::scenario::Scenario;
use dooryard::scenario::door::{Solar, Source};
use dooryard::sensing::channel::Sampling;
use dooryard::shelter::battery::{Charge, panel_w};
use dooryard::world::sun;

const SOLAR: Solar = Solar {
    battery_wh: 40.0,
    usable: 0.8,
    panel_w: 4.0,
    performance: 0.65,
    sun_h: 3.0,
    efficiency: 0.85,
    restarts_at: 0.25,
};

/// A shelter on a battery whose door stays shut: nobody goes anywhere.
fn resting(solar: Solar, standby_w: f64) -> Scenario {
    let mut scenario = support::base();
    scenario.mower.windows.clear();
    scenario.visitors.clear();
    scenario.supply.source = Source::Solar(solar);
    scenario.supply.standby_w = standby_w;
    scenario
}

fn season(scenario: &Scenario, number: u64) -> (Plan, Outside, SeasonRecord) {
    let plan = Plan::new(scenario).expect("the scenario can be planned");
    let outside = Outside::draw(&plan, 7, number).expect("weather");
    let record = play(&plan, &outside, 0, 7, Options { sampling: Sampling::Exact, events: true });
    (plan, outside, record)
}

/// Hours empty and the deepest discharge in %, the sun looked up each minute.
fn minute_by_minute(scenario: &Scenario, plan: &Plan, outside: &Outside) -> (f64, f64) {
    let Source::Solar(solar) = scenario.supply.source else { unreachable!("it is on a battery") };
    let full = solar.battery_wh * solar.usable;
    let load_w = scenario.supply.standby_w / scenario.supply.efficiency;
    let (mut charge, mut lowest, mut empty, mut empty_min) = (full, full, false, 0_u32);
    let mut weather = 0;
    for minute in 0..plan.clock.end().0 / 60_000_000 {
        let at = Instant(minute * 60_000_000) + Span::from_seconds(30.0);
        while outside.weather.steps.get(weather + 1).is_some_and(|next| next.from <= at) {
            weather += 1;
        }
        let up = sun::position_at(&plan.clock, &scenario.site, at).elevation_deg;
        let light = sun::clear_sky_w_m2(up) * outside.weather.steps[weather].clearness;
        // 1,000 W/m2 is full sun.
        let gain_w = solar.panel_w * solar.performance * light / 1_000.0;
        let net_w = gain_w - if empty { 0.0 } else { load_w };
        let kept_w = if net_w < 0.0 { net_w / solar.efficiency } else { net_w };
        charge = (charge + kept_w / 60.0).min(full);
        if charge <= 0.0 {
            (charge, empty) = (0.0, true);
        }
        empty &= charge < solar.restarts_at * full;
        empty_min += u32::from(empty);
        lowest = lowest.min(charge);
    }
    (f64::from(empty_min) / 60.0, 100.0 * (1.0 - lowest / full))
}

/// From a panel that is ample to one that can't carry the load: the engine's few looks find what the minutes find. The
/// half-hourly sun and the looks' minute allow half a percent of the empty time and half an hour, and half a percent of the charge.
#[test]
fn the_charge_follows_the_minutes() {
    let mut emptied = 0;
    for (panel_w, standby_w) in [(20.0, 0.5), (4.0, 0.5), (2.0, 0.5), (1.2, 0.5), (4.0, 2.5)] {
        for number in 0..3 {
            let scenario = resting(Solar { panel_w, ..SOLAR }, standby_w);
            let (plan, outside, record) = season(&scenario, number);
            let (empty_h, drawn) = minute_by_minute(&scenario, &plan, &outside);
            let found = record.value(Key::BatteryEmpty);
            assert!((found - empty_h).abs() <= 0.005 * empty_h + 0.5, "{panel_w} W: {found} h, {empty_h} h by minutes");
            let deepest = record.value(Key::BatteryDrawn);
            assert!((deepest - drawn).abs() < 0.5, "{panel_w} W: {deepest} %, {drawn} % by minutes");
            // Nothing else takes its power away, and nothing is drawn while it is off.
            assert!((record.value(Key::PowerOut) - found).abs() < 1e-6);
            let standby_wh = standby_w / scenario.supply.efficiency * (plan.clock.end().seconds() / 3_600.0 - found);
            assert!((record.value(Key::TotalEnergy) - standby_wh).abs() < 1e-6 * standby_wh);
            emptied += usize::from(empty_h > 0.0);
            let told = |what: &str| record.events.iter().filter(|row| row.who == "battery" && row.what == what).count();
            assert!(told("empty") - told("charged again") <= 1);
            assert_eq!(told("empty") > 0, found > 0.0);
        }
    }
    assert!((3..=12).contains(&emptied), "{emptied} of 15 ran empty");
}

/// Strokes come out of the battery too: two shelters alike but for the mower's outings.
#[test]
fn strokes_are_drawn_from_the_battery() {
    let dark = Solar { panel_w: 1e-6, battery_wh: 5_000.0, ..SOLAR };
    let mut busy = support::base();
    busy.supply.source = Source::Solar(dark);
    busy.supply.standby_w = 0.3;
    let (plan, _, record) = season(&busy, 0);
    assert!(record.value(Key::MotorEnergy) > 1.0);
    // Nothing comes in: what was drawn is what the books say was taken.
    let drawn_wh = record.value(Key::BatteryDrawn) / 100.0 * dark.battery_wh * dark.usable;
    assert!((drawn_wh * dark.efficiency - record.value(Key::TotalEnergy)).abs() < 1e-3, "{drawn_wh} Wh");
    assert!(plan.clock.end() > Instant::START);
}

/// By hand: 100 Wh of which 80 may be used, four fifths of which come out; 16 h of 3 W take 60 Wh, and 10 h of 13 W (20 W
/// by 0.65 in full sun) against 3 W fill it again.
#[test]
fn a_charge_by_hand() {
    let solar = Solar { battery_wh: 100.0, panel_w: 20.0, efficiency: 0.8, ..SOLAR };
    assert!((panel_w(&solar, 1_000.0) - 13.0).abs() < 1e-12);
    let mut charge = Charge::new(&solar);
    charge.pass(16.0, 0.0, 3.0);
    assert!((charge.wh - 20.0).abs() < 1e-9);
    charge.pass(10.0, 13.0, 3.0);
    assert_eq!(charge.wh, 80.0);
    charge.give(6.4);
    assert!((charge.share() - 0.9).abs() < 1e-12);
    assert!((charge.deepest() - 0.75).abs() < 1e-12);
}
