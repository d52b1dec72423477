//! The list of what is measured: one row per metric, used by the ledger, the statistics, the limits and the reports.

/// How a metric is estimated from seasons.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A number of occurrences per season; exact Poisson interval while they are rare.
    Count,
    /// An amount per season (time, depth, energy, damage): Student t or bootstrap.
    Amount,
    /// The largest value reached in a season.
    Peak,
    /// The largest value reached in a season by what need not happen, and is above 0 where it does: estimated over the seasons in which
    /// it did, for a season without it says nothing of how hard it would be.
    PeakIfAny,
    /// A share of trials, each season giving successes and trials: Wilson interval on the pooled trials.
    Share,
}

/// One metric.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Metric {
    /// Key in files and in the scenario's limits.
    pub key: &'static str,
    /// Short heading.
    pub title: &'static str,
    /// Unit, "" for a bare number.
    pub unit: &'static str,
    /// How it is estimated.
    pub kind: Kind,
    /// What it is, in one sentence.
    pub about: &'static str,
}

macro_rules! metrics {
    ($($name:ident, $key:literal, $title:literal, $unit:literal, $kind:ident, $about:literal;)*) => {
        /// Index of a metric in [`METRICS`] and in a season's values.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Key { $(#[doc = $about] $name,)* }

        /// All metrics, in the order of reports and files.
        pub const METRICS: &[Metric] = &[$(Metric {
            key: $key, title: $title, unit: $unit, kind: Kind::$kind, about: $about,
        },)*];

        /// All keys, in the order of [`METRICS`].
        pub const KEYS: &[Key] = &[$(Key::$name,)*];
    };
}

metrics! {
    Departures, "departures", "departures", "", Count, "Times the mower drove out through the doorway.";
    Arrivals, "arrivals", "arrivals", "", Count, "Times the mower's nose reached its waiting point on the way home, first attempts only.";
    MissedArrivals, "missed_arrivals", "missed arrivals", "", Count, "Arrivals at which nobody had asked for the door when the nose reached its waiting point.";
    MissedShare, "missed_share", "missed share of arrivals", "", Share, "Missed arrivals as a share of arrivals.";
    MissedArrivalsExpected, "missed_arrivals_expected", "missed arrivals, noise integrated out", "", Amount, "Sum over arrivals of the probability to be missed given weather, light, faults and path: the noise of the readings is integrated out where the open rule allows; other arrivals count as they turned out.";
    MissedArrivalsFloored, "missed_arrivals_floored", "missed arrivals, with common causes", "", Amount, "As missed_arrivals_expected, with what sensors share: detectors that watch together miss together by the scenario's beta factor, and no arrival is missed with less probability than its floor.";
    ArrivalsIntegrated, "arrivals_integrated", "arrivals with noise integrated out", "", Count, "Arrivals whose probability to be missed was worked out rather than counted.";
    LateOpenings, "late_openings", "late openings", "", Count, "Arrivals that were noticed in time but had to wait for the door to finish opening.";
    WaitTotal, "wait_total", "time waited at the door", "min", Amount, "Time the mower stood outside waiting for the door; backing off between two tries is not part of it.";
    WaitLongest, "wait_longest", "longest wait", "s", Peak, "Longest time stood outside at one arrival, all its tries together; backing off between them is not part of it.";
    MissedDepartures, "missed_departures", "missed departures", "", Count, "Sorties given up because the door stayed shut.";
    DockingFailures, "docking_failures", "failed docking attempts", "", Count, "Docking attempts that failed.";
    Strandings, "strandings", "strandings", "", Count, "Times a person had to help the mower.";
    Unfinished, "unfinished", "sorties unfinished at the end", "", Count, "Sorties still under way when the season ended.";
    Openings, "openings", "openings", "", Count, "Opening strokes begun from the shut door.";
    FalseOpenings, "false_openings", "false openings", "", Count, "Opening strokes begun while no mower was arriving, departing or waiting.";
    NoiseOpeningsExpected, "noise_openings_expected", "openings by noise alone, worked out", "", Amount, "Openings by noise, rain, sun, drift or an insect in a beam with nobody there, as often as the laws of the readings and the open rule give them; where these can't be worked out, as they turned out.";
    DoorCycles, "door_cycles", "door cycles", "", Count, "Times the door came back to fully shut.";
    Reversals, "reversals", "reversals", "", Count, "Closing strokes turned back to opening, for any reason.";
    ObstructionTrips, "obstruction_trips", "obstruction trips", "", Count, "Strokes stopped because the force rose above the expected one.";
    Contacts, "contacts", "contacts", "", Count, "Times the moving door touched the mower, a visitor or an object, or the mower pushed the door.";
    PanelContacts, "panel_contacts", "contacts by the moving door", "", Count, "Contacts but for the mower's pushes: times the moving door touched the mower, a visitor or an object.";
    FrameTouches, "frame_touches", "touches of the frame", "", Count, "Times the mower on its way in ran against a side of the open door, farther beside the middle than half of what the door is wider: it backs off and tries again.";
    ClosingsOnOccupied, "closings_on_occupied", "closings begun on an occupied doorway", "", Count, "Closing strokes begun while something truly stood in the doorway, and had for 0.1 s: what comes later comes under a moving door, as far as any controller can know; 0 for a sound strategy.";
    TrappedVisitors, "trapped_visitors", "visitors shut in", "", Count, "Times the door shut with a visitor inside.";
    PeakContactForce, "peak_contact_force", "peak contact force", "N", PeakIfAny, "Largest computed force of the door on what it touched; mean and limits go by the seasons with a contact.";
    PeakContactEnergy, "peak_contact_energy", "peak contact energy", "J", PeakIfAny, "Largest kinetic energy of the moving door at a contact; mean and limits go by the seasons with a contact.";
    OpenTime, "open_time", "time open or moving", "h", Amount, "Time the door was not fully shut.";
    OpenNobodyHome, "open_nobody_home", "time open with nobody home", "h", Amount, "Time the door was not fully shut while the mower was away.";
    MovingTime, "moving_time", "time moving", "h", Amount, "Time the door was moving.";
    ShutTime, "shut_time", "time shut", "h", Amount, "Time the door was fully shut.";
    RainTime, "rain_time", "rain", "h", Amount, "Time it rained.";
    RainDepth, "rain_depth", "rain depth", "mm", Amount, "Rain that fell.";
    WetWaitingTime, "wet_waiting_time", "mower waiting in the rain", "min", Amount, "Time the mower waited outside the door in the rain.";
    WetWaitingDepth, "wet_waiting_depth", "rain on the waiting mower", "mm", Amount, "Rain that fell while the mower waited outside the door.";
    WetInsideTime, "wet_inside_time", "mower inside, door open, rain", "min", Amount, "Time the mower was inside with the door not shut in the rain.";
    WetInsideDepth, "wet_inside_depth", "rain with the mower inside, door open", "mm", Amount, "Rain that fell while the mower was inside with the door not shut; how much reaches it depends on wind and roof.";
    WetFloorTime, "wet_floor_time", "floor exposed to rain", "min", Amount, "Time the door was not shut in the rain.";
    WetFloorDepth, "wet_floor_depth", "rain with the door open", "mm", Amount, "Rain that fell while the door was not shut.";
    Strokes, "strokes", "strokes", "", Count, "Strokes begun, openings, closings and reversals.";
    Travel, "travel", "travel", "m", Amount, "Distance the panel moved.";
    OnTime, "on_time", "motor on-time", "min", Amount, "Time the motor was powered.";
    DutyWorst, "duty_worst", "worst duty against rating", "%", Peak, "Largest on-time in any duty period, as a share of what the rating allows.";
    WindingPeak, "winding_peak", "peak winding temperature", "degC", Peak, "Highest computed winding temperature.";
    ThermalTrips, "thermal_trips", "thermal trips", "", Count, "Times the thermal cut-out opened.";
    Stalls, "stalls", "stalls", "", Count, "Strokes that the actuator could not finish.";
    MotorEnergy, "motor_energy", "motor energy", "Wh", Amount, "Electrical energy of the strokes at the supply.";
    TotalEnergy, "total_energy", "total energy", "Wh", Amount, "Energy taken from the supply, standby included.";
    SupplyPeak, "supply_peak", "supply peak", "W", Peak, "Highest power asked of the supply.";
    StrokesFailed, "strokes_failed", "failed strokes", "", Count, "Strokes that ended by stall, time-out or thermal cut-out, or that the supply refused.";
    BrownOuts, "brown_outs", "brown-outs", "", Count, "Strokes whose peak exceeded the supply's limit.";
    Damage, "damage", "life used", "%", Amount, "Share of the drive's B10 life used (linear damage rule), a stall as a stroke at full force: every stroke counted in full, or by its load if that is more.";
    DamageByLoad, "damage_by_load", "life used, by load alone", "%", Amount, "Share of the drive's B10 life used with the scenario's exponent of life over load; far below the rated load it promises lives that no drive has.";
    SensorBlind, "sensor_blind", "sensor time blind", "h", Amount, "Time that a sensor of the strategy was stuck, silent, without power or (where it hears messages) without a network, summed over sensors.";
    ReadingsDropped, "readings_dropped", "readings dropped while in view", "%", Amount, "Samples without a reading among those taken while something was in view.";
    DetectorUptime, "detector_uptime", "detector uptime", "%", Amount, "Time that the strategy's detectors had a working sensor, mean over detectors.";
    BeliefError, "belief_error", "occupancy believed wrongly", "h", Amount, "Time that a detector of a platform, or one that listens for the docked mower, said other than the truth while the mower was parked or away, summed over detectors.";
    DoorwayBlocked, "doorway_blocked", "doorway blocked", "h", Amount, "Time that something stood or lay still in the doorway: a mower that got stuck or stopped short, or an object.";
    FaultTime, "fault_time", "controller in fault", "h", Amount, "Time the controller waited for a person.";
    PowerOut, "power_out", "without power", "h", Amount, "Time without power.";
    BatteryEmpty, "battery_empty", "battery empty", "h", Amount, "Time that the shelter was cut off because its battery was empty; 0 without a battery.";
    BatteryDrawn, "battery_drawn", "deepest discharge", "%", Peak, "Largest share of the battery's usable charge that was drawn; 0 without a battery.";
    Resets, "resets", "controller resets", "", Count, "Times the controller restarted by itself.";
    ManualTime, "manual_time", "in manual", "h", Amount, "Time that the controller was left in manual.";
}

impl Key {
    /// The row of this key.
    pub fn metric(self) -> &'static Metric {
        &METRICS[self as usize]
    }
}

/// The metric called `key` in files, if there is one.
pub fn by_key(key: &str) -> Option<Key> {
    KEYS.iter().copied().find(|candidate| candidate.metric().key == key)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_unique_and_found() {
        for key in KEYS {
            assert_eq!(by_key(key.metric().key), Some(*key));
        }
    }
}
