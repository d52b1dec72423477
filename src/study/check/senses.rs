//! The two-wire bus: can all its sensors be read as often as the scenario says?

use super::change::{ceil_to, floor_to, whole};
use super::climate::Climate;
use super::doorway;
use super::set::{Set, set_in};
use super::timing::late;
use super::{Change, Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::scenario::bus::{Bus, Mode};
use crate::shelter::bus;

/// Share of the largest capacitance that a proposed cable uses.
const OF_MOST: f64 = 0.9;
/// Room that a proposed time leaves, as a factor.
const ROOM: f64 = 1.05;
/// A multiplexer's own address as it comes, which all its branches hear, too; its pins give seven more (common practice).
const MULTIPLEXER: u8 = 0x70;

pub(super) fn rows(scenario: &Scenario, climate: &Climate, rows: &mut Vec<Row>) {
    let Some(shared) = &scenario.bus else { return };
    addresses(scenario, shared, rows);
    let timing = bus::timing(shared.mode);
    let capacitance = bus::capacitance_pf(shared);
    let mut row = Row::judged(
        "bus_capacitance",
        "capacitance of the bus",
        capacitance,
        Side::AtMost,
        timing.capacitance_pf,
        0.1 * timing.capacitance_pf,
        "pF",
    )
    .key("bus.cable")
    .note("beyond it a bus buffer, a multiplexer or a shorter cable is needed");
    if row.verdict == Verdict::Fails {
        row = row.changes(shorter(scenario, shared, "bus_capacitance"));
    }
    rows.push(row);
    pull_up(scenario, shared, rows);
    rates(scenario, climate, shared, rows);
}

fn addresses(scenario: &Scenario, shared: &Bus, rows: &mut Vec<Row>) {
    let name = |device: usize| scenario.sensors[shared.devices[device].sensor].name.as_str();
    let clashes = bus::clashes(shared);
    let mut row = Row::stated(
        "bus_addresses",
        "addresses on the bus",
        if clashes.is_empty() { Verdict::Fits } else { Verdict::Fails },
    )
    .key("bus.device.address");
    let reserved = shared.devices.iter().position(|device| bus::is_reserved(device.address));
    if let Some((first, second)) = clashes.first() {
        row = row.note(format!(
            "{} and {} share address {}: give one another address, or add a multiplexer",
            name(*first),
            name(*second),
            shared.devices[*first].address
        ));
        let taken = |address: u8| shared.devices.iter().any(|device| device.address == address);
        let after = shared.devices[*second].address;
        // The next free one upwards, then from the beginning.
        let free = (after..128).chain(0..after).find(|address| !bus::is_reserved(*address) && !taken(*address));
        row = row
            .changes(free.map(|free| Set::Address(*second, free).of("bus_addresses", scenario)).into_iter().collect());
    } else if let Some(device) = reserved {
        row = row.at_best(Verdict::Tight).key(format!("bus.device.{}.address", name(device))).note(format!(
            "address {} of {} is reserved",
            shared.devices[device].address,
            name(device)
        ));
    }
    let hidden = shared.devices.iter().position(|device| shared.multiplexer && device.address == MULTIPLEXER);
    if let Some(device) = hidden.filter(|_| row.verdict == Verdict::Fits) {
        row = row.at_best(Verdict::Tight).key(format!("bus.device.{}.address", name(device))).note(format!(
            "address 0x{MULTIPLEXER:02X} of {} is also the multiplexer's own as it comes: give one of the two another, the multiplexer by its pins",
            name(device)
        ));
    }
    rows.push(row);
}

/// Resistors that work on this bus: from what the drivers pull down to what is quick enough. Empty if the second is less.
fn range(shared: &Bus) -> (f64, f64) {
    bus::pull_up_range_ohm(shared.mode, shared.voltage_v, bus::capacitance_pf(shared))
}

/// A usual resistor within a range: its middle by ratio.
fn usual(range: (f64, f64)) -> f64 {
    let middle = (range.0 * range.1).sqrt();
    let rounded = floor_to(middle, 10.0);
    if rounded >= range.0 { rounded } else { floor_to(middle, 1.0) }
}

/// Without a resistor that meets both limits the speed grade cannot be had, and with one too small the drivers do not get the line
/// down: both fail. One too large only slows the clock, which seasons feel.
fn pull_up(scenario: &Scenario, shared: &Bus, rows: &mut Vec<Row>) {
    const ID: &str = "bus_pull_up";
    let (least, most) = range(shared);
    let ohm = shared.pull_up_ohm;
    let clock = format!("the clock comes to {:.0} kHz", bus::clock_hz(shared) / 1e3);
    let row = Row::judged(ID, "pull-up resistor", ohm, Side::AtMost, most, 0.0, "ohm").key("bus.pull_up");
    let row = if most < least {
        let row = Row { verdict: Verdict::Fails, ..row }.key("bus.mode").note(format!(
            "no resistor works: below {least:.0} ohm the drivers do not get the line down, and above {most:.0} ohm {:.0} pF rise too slowly for this speed grade",
            bus::capacitance_pf(shared)
        ));
        row.cures(vec![shorter(scenario, shared, ID), calmer(scenario, shared, ID)])
    } else if ohm < least {
        let row = Row { verdict: Verdict::Fails, limit: Some(least), side: Side::AtLeast, ..row };
        row.note(format!("from {least:.0} to {most:.0} ohm work; below that the drivers do not get the line down"))
            .changes(vec![Set::PullUp(usual((least, most))).of(ID, scenario)])
    } else {
        row.note(format!("from {least:.0} to {most:.0} ohm work; {clock}")).advised(format!(
            "slower edges only slow the clock, outside the specification: {clock}, and the rates below are reckoned with it"
        ))
    };
    rows.push(row);
}

/// The longest cable with which the capacitance is allowed and a resistor works, with that resistor where the present one does not.
fn shorter(scenario: &Scenario, shared: &Bus, row: &'static str) -> Vec<Change> {
    let most_pf = OF_MOST * bus::timing(shared.mode).capacitance_pf;
    let with = |cable_m: f64| Bus { cable_m, ..shared.clone() };
    let works = |cable_m: f64| {
        let (least, most) = range(&with(cable_m));
        bus::capacitance_pf(&with(cable_m)) <= most_pf && most > 1.1 * least
    };
    let steps = (10.0 * shared.cable_m).ceil() as u32;
    let Some(cable_m) = (0..=steps).rev().map(|step| floor_to(0.1 * f64::from(step), 0.1)).find(|m| works(*m)) else {
        return Vec::new();
    };
    let within = range(&with(cable_m));
    let mut sets = vec![Set::BusCable(cable_m)];
    if !(within.0..=within.1).contains(&shared.pull_up_ohm) {
        sets.push(Set::PullUp(usual(within)));
    }
    whole(&sets, row, scenario, "a shorter cable, with a resistor that suits it")
}

/// A slower speed grade with a resistor that works.
fn calmer(scenario: &Scenario, shared: &Bus, row: &'static str) -> Vec<Change> {
    let slower = match shared.mode {
        Mode::FastPlus => [Mode::Fast, Mode::Standard].as_slice(),
        Mode::Fast => &[Mode::Standard],
        Mode::Standard => &[],
    };
    let with = |mode: &Mode| Bus { mode: *mode, ..shared.clone() };
    let Some(mode) = slower.iter().find(|mode| range(&with(mode)).1 > 1.1 * range(&with(mode)).0) else {
        return Vec::new();
    };
    let within = range(&with(mode));
    let mut sets = vec![Set::BusMode(*mode)];
    if !(within.0..=within.1).contains(&shared.pull_up_ohm) {
        sets.push(Set::PullUp(usual(within)));
    }
    whole(&sets, row, scenario, "a slower speed grade, with a resistor that suits it")
}

/// What holds a sensor on the bus down below its own rate, and a value with which it does not; none for a sensor that has its rate.
pub(super) fn slows(scenario: &Scenario, sensor: usize) -> Option<Change> {
    let shared = scenario.bus.as_ref()?;
    let device = shared.devices.iter().position(|device| device.sensor == sensor)?;
    let wanted_s = scenario.sensors[sensor].period.seconds();
    if bus::shortest_period_s(shared, &shared.devices[device]) <= wanted_s {
        return None;
    }
    slowest(scenario, shared, device, wanted_s).2.pop()
}

/// Rates of the sensors. One too low is no failure by itself, for the season is played with what the bus gives; it is one if a strategy
/// comes too late by it, or hears of the doorway too late.
fn rates(scenario: &Scenario, climate: &Climate, shared: &Bus, rows: &mut Vec<Row>) {
    let wanted_s = |device: usize| scenario.sensors[shared.devices[device].sensor].period.seconds();
    let reached_s = |device: usize| bus::shortest_period_s(shared, &shared.devices[device]);
    let slow = (0..shared.devices.len()).any(|device| reached_s(device) > wanted_s(device));
    let costs = slow && {
        let unhindered = Scenario { bus: None, ..scenario.clone() };
        late(scenario, climate) > late(&unhindered, climate)
            || doorway::late(scenario, climate) > doorway::late(&unhindered, climate)
    };
    for device in 0..shared.devices.len() {
        let sensor = &scenario.sensors[shared.devices[device].sensor];
        let wanted = 1.0 / wanted_s(device);
        let (key, why, cure) = slowest(scenario, shared, device, wanted_s(device));
        let mut row = Row::judged(
            "bus_rate",
            format!("sample rate of {} that the bus allows", sensor.name),
            1.0 / reached_s(device),
            Side::AtLeast,
            wanted,
            0.1 * wanted,
            "Hz",
        )
        .key(key);
        if row.is_past_limit() {
            row = row.note(why);
            row = if costs {
                row.cures(vec![cure])
            } else {
                row.advised(
                    "no strategy is late by it, nor any word from the doorway: seasons and the other rows are reckoned with the lower rate",
                )
            };
        }
        rows.push(row);
    }
}

/// What holds a sensor's rate down most: its key, in words, and a value with which the rate is reached, where there is one.
fn slowest(scenario: &Scenario, shared: &Bus, device: usize, wanted_s: f64) -> (String, String, Vec<Change>) {
    let reached = |set: Set| {
        let other = set_in(scenario, &[set]);
        let shared = other.bus.as_ref().unwrap_or(shared);
        bus::shortest_period_s(shared, &shared.devices[device])
    };
    let name = |device: usize| scenario.sensors[shared.devices[device].sensor].name.as_str();
    let ms = |s: f64| 1_000.0 * s;
    let now_s = bus::shortest_period_s(shared, &shared.devices[device]);
    let over_s = (now_s - wanted_s / ROOM).max(0.0);
    let lower = |s: f64| floor_to(1_000.0 * (s - over_s), 0.1).max(0.0) / 1_000.0;
    let mut ways: Vec<(Set, Set, String)> = Vec::new();
    for (index, other) in shared.devices.iter().enumerate().filter(|(_, other)| other.stretch_s > 0.0) {
        let why = format!("{} stretches the clock for {:.1} ms in each of its turns", name(index), ms(other.stretch_s));
        ways.push((Set::Stretch(index, 0.0), Set::Stretch(index, lower(other.stretch_s)), why));
    }
    let own = &shared.devices[device];
    if own.conversion_s > 0.0 {
        let why = format!("a measurement of {} takes {:.1} ms", name(device), ms(own.conversion_s));
        ways.push((Set::Conversion(device, 0.0), Set::Conversion(device, lower(own.conversion_s)), why));
    }
    if shared.gap_s > 0.0 {
        let each = shared.devices.len() as f64 * if shared.multiplexer { 2.0 } else { 1.0 };
        let why = format!("the bus rests for {:.1} ms after each turn", ms(shared.gap_s));
        let less_s = floor_to(1_000.0 * (shared.gap_s - over_s / each), 0.1).max(0.0) / 1_000.0;
        ways.push((Set::BusGap(0.0), Set::BusGap(less_s), why));
    }
    for mode in [Mode::Standard, Mode::Fast, Mode::FastPlus] {
        if bus::timing(mode).clock_hz > bus::timing(shared.mode).clock_hz {
            ways.push((Set::BusMode(mode), Set::BusMode(mode), "the clock is too slow".to_string()));
        }
    }
    let (least, most) = range(shared);
    if shared.pull_up_ohm > most && most > least {
        let ohm = usual((least, most));
        ways.push((Set::PullUp(ohm), Set::PullUp(ohm), "slow edges hold the clock down".to_string()));
    }
    let best = ways
        .iter()
        .map(|(without, value, why)| (now_s - reached(*without), value, why))
        .max_by(|one, other| one.0.total_cmp(&other.0));
    let turns = format!("one round of all sensors takes {:.1} ms", ms(ceil_to(bus::scan_s(shared), 1e-6)));
    match best.filter(|best| best.0 > 0.0) {
        Some((_, value, why)) => {
            let change = value.of("bus_rate", scenario);
            let cure = if reached(*value) <= wanted_s { vec![change.clone()] } else { Vec::new() };
            (change.key, format!("{turns}; {why}"), cure)
        }
        None => (format!("sensor.{}.rate", name(device)), turns, Vec::new()),
    }
}
