//! The two-wire bus: how long a reading takes, and how often all sensors on it can be read.
//!
//! ```text
//! register read  t = 9 N/f + tHD;STA + tSU;STA + tHD;STA + tSU;STO + tBUF + stretch,   N = 1 + register + 1 + data bytes
//! write          t = 9 N/f + tHD;STA + tSU;STO + tBUF
//! rise time      tr = 0.8473 R C            clock f <= 1/(tLOW + tHIGH + tr + tf)
//! ```
//!
//! Limits of UM10204 (I2C-bus specification) as device timing tables quote them. The headline clock exists only if the edges
//! are no slower than allowed; a bus with slower edges is taken to be clocked slower, which works but is outside the
//! specification. The controller adds 30 pF (common practice). With a multiplexer each device sits on a branch with its
//! share of the cable, and each read costs a one-byte write that selects the branch.
//!
//! A sensor can be read again once everybody else has been read, and no sooner than its measurement takes. A bus that hangs
//! blinds all its sensors at once, so a safety input should not depend on it alone.

use crate::scenario::Scenario;
use crate::scenario::bus::{Bus, Device, Mode};

/// Rise time from 30 to 70 % of a resistor and a capacitor, over R C: ln(0.7/0.3).
const RISE: f64 = 0.847_297_860_387_203_6;
/// Capacitance of the controller's own pin and board, pF (common practice).
const CONTROLLER_PF: f64 = 30.0;
/// Low level that a driver must reach, V, and the current with which it does, A (UM10204: 3 mA, fast plus 20 mA).
const LOW_V: f64 = 0.4;

/// Limits of a speed grade: seconds, hertz, farads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timing {
    /// Highest clock.
    pub clock_hz: f64,
    /// Low period of the clock.
    pub low_s: f64,
    /// High period of the clock.
    pub high_s: f64,
    /// Hold time of a start.
    pub start_hold_s: f64,
    /// Set-up time of a repeated start.
    pub start_setup_s: f64,
    /// Set-up time of a stop.
    pub stop_setup_s: f64,
    /// Free time between stop and start.
    pub free_s: f64,
    /// Slowest rise.
    pub rise_s: f64,
    /// Slowest fall.
    pub fall_s: f64,
    /// Largest capacitance.
    pub capacitance_pf: f64,
    /// Current of the drivers, A.
    pub sink_a: f64,
}

/// The limits of a speed grade (UM10204 as quoted in device timing tables).
pub fn timing(mode: Mode) -> Timing {
    let us = |clock_hz, low, high, hold, setup, stop, free, rise, fall, capacitance_pf, sink_a| Timing {
        clock_hz,
        low_s: low * 1e-6,
        high_s: high * 1e-6,
        start_hold_s: hold * 1e-6,
        start_setup_s: setup * 1e-6,
        stop_setup_s: stop * 1e-6,
        free_s: free * 1e-6,
        rise_s: rise * 1e-6,
        fall_s: fall * 1e-6,
        capacitance_pf,
        sink_a,
    };
    match mode {
        Mode::Standard => us(100e3, 4.7, 4.0, 4.0, 4.7, 4.0, 4.7, 1.0, 0.3, 400.0, 3e-3),
        Mode::Fast => us(400e3, 1.3, 0.6, 0.6, 0.6, 0.6, 1.3, 0.3, 0.3, 400.0, 3e-3),
        Mode::FastPlus => us(1e6, 0.5, 0.26, 0.26, 0.26, 0.26, 0.5, 0.12, 0.12, 550.0, 20e-3),
    }
}

/// Time of a register read at a clock, s; no stretching.
pub fn read_s(timing: &Timing, clock_hz: f64, register_bytes: u32, data_bytes: u32) -> f64 {
    let bytes = f64::from(register_bytes) + f64::from(data_bytes) + 2.0;
    9.0 * bytes / clock_hz + 2.0 * timing.start_hold_s + timing.start_setup_s + timing.stop_setup_s + timing.free_s
}

/// Time of a write of `bytes` after the address, s.
pub fn write_s(timing: &Timing, clock_hz: f64, bytes: u32) -> f64 {
    9.0 * (1.0 + f64::from(bytes)) / clock_hz + timing.start_hold_s + timing.stop_setup_s + timing.free_s
}

/// Rise time, s.
pub fn rise_s(pull_up_ohm: f64, capacitance_pf: f64) -> f64 {
    RISE * pull_up_ohm * capacitance_pf * 1e-12
}

/// Pull-up resistors that work, ohm: from what the drivers can pull down to what is quick enough; empty if the second is
/// less than the first.
pub fn pull_up_range_ohm(mode: Mode, voltage_v: f64, capacitance_pf: f64) -> (f64, f64) {
    let timing = timing(mode);
    ((voltage_v - LOW_V) / timing.sink_a, timing.rise_s / (RISE * capacitance_pf * 1e-12))
}

/// Clock that edges of this rise time allow, Hz.
pub fn clock_for_rise_hz(mode: Mode, rise_s: f64) -> f64 {
    let timing = timing(mode);
    timing.clock_hz.min(1.0 / (timing.low_s + timing.high_s + rise_s + timing.fall_s))
}

/// Capacitance that the controller sees, pF; of one branch behind a multiplexer.
pub fn capacitance_pf(bus: &Bus) -> f64 {
    let branches = if bus.multiplexer { bus.devices.len().max(1) as f64 } else { 1.0 };
    CONTROLLER_PF + (bus.cable_pf_m * bus.cable_m + bus.device_pf * bus.devices.len() as f64) / branches
}

/// Clock of the bus, Hz.
pub fn clock_hz(bus: &Bus) -> f64 {
    clock_for_rise_hz(bus.mode, rise_s(bus.pull_up_ohm, capacitance_pf(bus)))
}

/// Time of one device's turn, s: selecting its branch, reading, stretching, pausing.
pub fn turn_s(bus: &Bus, device: &Device) -> f64 {
    let (timing, clock) = (timing(bus.mode), clock_hz(bus));
    let select = if bus.multiplexer { write_s(&timing, clock, 1) + bus.gap_s } else { 0.0 };
    select + read_s(&timing, clock, device.register_bytes, device.data_bytes) + device.stretch_s + bus.gap_s
}

/// Time to read all devices once, s.
pub fn scan_s(bus: &Bus) -> f64 {
    bus.devices.iter().map(|device| turn_s(bus, device)).sum()
}

/// Shortest time between two readings of a device, s: everybody's turn, or its own measurement if that is longer (all
/// measure at the same time).
pub fn shortest_period_s(bus: &Bus, device: &Device) -> f64 {
    scan_s(bus).max(device.conversion_s + turn_s(bus, device))
}

/// Pairs of devices with one address; none behind a multiplexer.
pub fn clashes(bus: &Bus) -> Vec<(usize, usize)> {
    let mut pairs = Vec::new();
    if bus.multiplexer {
        return pairs;
    }
    for (later, device) in bus.devices.iter().enumerate() {
        if let Some(first) = bus.devices[..later].iter().position(|other| other.address == device.address) {
            pairs.push((first, later));
        }
    }
    pairs
}

/// Whether an address is reserved: 0 to 7 and 120 to 127 (UM10204, from memory).
pub fn is_reserved(address: u8) -> bool {
    !(8..120).contains(&address)
}

/// Sample period of a sensor of a scenario as the bus allows it, s: its own where it is not on the bus.
pub fn reachable_period_s(scenario: &Scenario, sensor: usize) -> f64 {
    let wanted = scenario.sensors[sensor].period.seconds();
    let on_bus = scenario.bus.iter().flat_map(|bus| bus.devices.iter().map(move |device| (bus, device)));
    on_bus
        .filter(|(_, device)| device.sensor == sensor)
        .map(|(bus, device)| shortest_period_s(bus, device))
        .fold(wanted, f64::max)
}
