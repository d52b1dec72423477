//! The two-wire bus: can all its sensors be read as often as the scenario says?

use super::change::Set;
use super::{Row, Side, Verdict};
use crate::scenario::Scenario;
use crate::shelter::bus;

pub(super) fn rows(scenario: &Scenario, rows: &mut Vec<Row>) {
    let Some(shared) = &scenario.bus else { return };
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
    rows.push(row);
    let timing = bus::timing(shared.mode);
    let capacitance = bus::capacitance_pf(shared);
    rows.push(
        Row::judged(
            "bus_capacitance",
            "capacitance of the bus",
            capacitance,
            Side::AtMost,
            timing.capacitance_pf,
            0.1 * timing.capacitance_pf,
            "pF",
        )
        .key("bus.cable")
        .note("beyond it a bus buffer or a slower mode is needed"),
    );
    let (least, most) = bus::pull_up_range_ohm(shared.mode, shared.voltage_v, capacitance);
    let ohm = shared.pull_up_ohm;
    let mut row =
        Row::judged("bus_pull_up", "pull-up resistor", ohm, Side::AtMost, most, 0.0, "ohm").key("bus.pull_up").note(
            format!("from {least:.0} to {most:.0} ohm work; the clock comes to {:.0} kHz", bus::clock_hz(shared) / 1e3),
        );
    if ohm < least {
        row.verdict = Verdict::Fails;
    } else if ohm > most {
        // Slower edges only slow the clock.
        row.verdict = Verdict::Tight;
    }
    rows.push(row);
    for device in &shared.devices {
        let sensor = &scenario.sensors[device.sensor];
        let reachable = 1.0 / bus::shortest_period_s(shared, device);
        let wanted = 1.0 / sensor.period.seconds();
        let mut row = Row::judged(
            "bus_rate",
            format!("sample rate of {} that the bus allows", sensor.name),
            reachable,
            Side::AtLeast,
            wanted,
            0.1 * wanted,
            "Hz",
        )
        .key("bus.mode");
        if row.verdict == Verdict::Fails {
            // The season is played with the rate that is really reachable.
            row.verdict = Verdict::Tight;
            row.note = "seasons are played with the lower rate".to_string();
        }
        rows.push(row);
    }
}
