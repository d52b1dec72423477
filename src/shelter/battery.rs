//! Battery and solar panel: the charge over a day, and the charge that a season follows.
//!
//! The sun shines as a half sine over the daylight hours and brings `sun_h` hours of full sun in all; panel and charger pass on
//! their share of the peak power. The load is steady: standby and the motor's energy of the day. (Energy balance; the half
//! sine is common practice for a clear or evenly clouded day.)

use crate::scenario::door::Solar;

/// Length of daylight, h: a winter day of middle latitudes, so that the night to be bridged is a long one (common practice).
const DAYLIGHT_H: f64 = 8.0;

/// Hours of the day of which the charge is kept.
pub const HOURS: usize = 24;

/// One day.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// Energy that the shelter takes, Wh.
    pub load_wh: f64,
    /// Energy that the panel brings, Wh.
    pub sun_wh: f64,
    /// Charge above the usable minimum at each full hour from midnight, Wh, beginning full; capped at full, floored at empty.
    pub charge_wh: Vec<f64>,
    /// Days without any sun that a full battery bridges.
    pub autonomy_days: f64,
}

impl Day {
    /// A day with a load of `load_wh`.
    pub fn new(solar: &Solar, load_wh: f64) -> Day {
        let usable = solar.battery_wh * solar.usable;
        let sun_wh = solar.panel_w * solar.performance * solar.sun_h;
        let mut charge = Charge::new(solar);
        let mut charge_wh = vec![usable];
        for hour in 1..=HOURS {
            let gained_wh = sun_wh * (risen(hour as f64) - risen(hour as f64 - 1.0));
            charge.pass(1.0, gained_wh, load_wh / HOURS as f64);
            charge_wh.push(charge.wh);
        }
        let autonomy_days = if load_wh > 0.0 { usable * solar.efficiency / load_wh } else { f64::INFINITY };
        Day { load_wh, sun_wh, charge_wh, autonomy_days }
    }

    /// Share of the load that the sun brings back.
    pub fn cover(&self) -> f64 {
        if self.load_wh > 0.0 { self.sun_wh / self.load_wh } else { f64::INFINITY }
    }

    /// Least charge of the day, Wh.
    pub fn lowest_wh(&self) -> f64 {
        self.charge_wh.iter().copied().fold(f64::INFINITY, f64::min)
    }
}

/// Irradiance at which a panel gives its peak power, W/m2 (standard test conditions, IEC 61215).
const FULL_SUN_W_M2: f64 = 1_000.0;

/// Power that arrives in the battery under an irradiance, W. The panel is taken to lie level: one that is tilted towards
/// the sun gets more in spring and autumn.
pub fn panel_w(solar: &Solar, irradiance_w_m2: f64) -> f64 {
    solar.panel_w * solar.performance * irradiance_w_m2 / FULL_SUN_W_M2
}

/// Charge above the usable minimum, through a season.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Charge {
    /// Now, Wh.
    pub wh: f64,
    /// Least so far, Wh.
    pub lowest_wh: f64,
    full_wh: f64,
    efficiency: f64,
}

impl Charge {
    /// Full.
    pub fn new(solar: &Solar) -> Charge {
        let full_wh = solar.battery_wh * solar.usable;
        Charge { wh: full_wh, lowest_wh: full_wh, full_wh, efficiency: solar.efficiency }
    }

    /// Takes in `gain_w` and gives `load_w` for `hours`; what the battery cannot hold is lost. What the load takes while the
    /// sun shines need not pass the battery; what comes out of it costs its losses. (Energy balance; losses of the charger
    /// belong to the panel's performance, cold and age to the usable share.)
    pub fn pass(&mut self, hours: f64, gain_w: f64, load_w: f64) {
        self.add((gain_w - load_w) * hours);
    }

    /// Gives `wh` at once.
    pub fn give(&mut self, wh: f64) {
        self.add(-wh);
    }

    fn add(&mut self, wh: f64) {
        let wh = if wh < 0.0 { wh / self.efficiency } else { wh };
        self.wh = (self.wh + wh).clamp(0.0, self.full_wh);
        self.lowest_wh = self.lowest_wh.min(self.wh);
    }

    /// Share of the usable charge that was drawn when it was lowest.
    pub fn deepest(&self) -> f64 {
        1.0 - self.lowest_wh / self.full_wh
    }

    /// Share of the usable charge that is left.
    pub fn share(&self) -> f64 {
        self.wh / self.full_wh
    }
}

/// Share of the day's sun that has come by an hour of the day.
fn risen(hour: f64) -> f64 {
    let share = ((hour - 12.0) / DAYLIGHT_H + 0.5).clamp(0.0, 1.0);
    0.5 * (1.0 - libm::cos(std::f64::consts::PI * share))
}

/// Peak power of a panel, W, and capacity of a battery, Wh, that carry a load through `days` dark days; `efficiency` is the
/// battery's own from charge to discharge.
pub fn sizes(load_wh: f64, sun_h: f64, performance: f64, days: f64, usable: f64, efficiency: f64) -> (f64, f64) {
    (load_wh / (sun_h * performance), load_wh * days / (usable * efficiency))
}
