//! `[bus]`: the two-wire bus that sensors share.

/// Speed grade of the bus (UM10204).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// 100 kHz.
    Standard,
    /// 400 kHz.
    Fast,
    /// 1 MHz.
    FastPlus,
}

/// The bus.
#[derive(Clone, Debug, PartialEq)]
pub struct Bus {
    /// Speed grade.
    pub mode: Mode,
    /// Supply voltage, V.
    pub voltage_v: f64,
    /// Pull-up resistor, ohm.
    pub pull_up_ohm: f64,
    /// Length of the cable, m.
    pub cable_m: f64,
    /// Capacitance of the cable, pF/m.
    pub cable_pf_m: f64,
    /// Capacitance of one device, pF.
    pub device_pf: f64,
    /// Whether a multiplexer gives each device a branch of its own.
    pub multiplexer: bool,
    /// Time between two transactions, s.
    pub gap_s: f64,
    /// The devices.
    pub devices: Vec<Device>,
}

/// A sensor on the bus.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Device {
    /// Index of the sensor.
    pub sensor: usize,
    /// Address, 0 to 127.
    pub address: u8,
    /// Bytes of the register's number.
    pub register_bytes: u32,
    /// Bytes of a reading.
    pub data_bytes: u32,
    /// Clock stretching in a read, s.
    pub stretch_s: f64,
    /// Time of one measurement before it can be read, s.
    pub conversion_s: f64,
}
