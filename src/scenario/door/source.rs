//! Where the shelter's power comes from.

/// Kind of supply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Source {
    /// A supply with the limit given.
    Limit,
    /// A powered device on a network cable, of this class of IEEE 802.3 (0 to 8).
    Network(u8),
    /// A mains adapter with the limit given.
    Mains,
    /// A battery that a solar panel charges.
    Solar(Solar),
}

/// Battery and solar panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Solar {
    /// Capacity of the battery, Wh.
    pub battery_wh: f64,
    /// Share of the capacity that may be used, 0 to 1.
    pub usable: f64,
    /// Peak power of the panel, W.
    pub panel_w: f64,
    /// Share of the peak power that arrives in the battery (temperature, dirt, charger), 0 to 1.
    pub performance: f64,
    /// Hours of full sun a day in the darkest month of the season, h.
    pub sun_h: f64,
    /// Share of the charge that comes out of the battery again, 0 to 1.
    pub efficiency: f64,
    /// Share of the usable capacity at which a battery that had run empty is switched on again, 0 to 1.
    pub restarts_at: f64,
}

/// Power that a powered device of a class may draw, W: IEEE 802.3 (2018, with the amendments for types 1 to 4, as tables of
/// several makers quote it); none for an unknown class.
pub fn network_w(class: u8) -> Option<f64> {
    Some(match class {
        0 | 3 => 12.95,
        1 => 3.84,
        2 => 6.49,
        4 => 25.5,
        5 => 40.0,
        6 => 51.0,
        7 => 62.0,
        8 => 71.3,
        _ => return None,
    })
}
