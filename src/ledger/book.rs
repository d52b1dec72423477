//! Keeps a season's accounts: integrals over time from one change to the next, and counts.

use super::metric::Key;
use super::record::SeasonRecord;
use crate::math::time::Instant;

/// Where the mower is, as far as rain and the door are concerned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whereabouts {
    /// Behind the door line.
    Inside,
    /// Stopped or held up outside the door (stranded there included).
    Waiting,
    /// Anywhere else outside.
    Away,
}

/// What holds from the last settlement to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Situation {
    /// Rain intensity, mm/h.
    pub rain_mm_h: f64,
    /// Whether the door is fully shut.
    pub shut: bool,
    /// Whether it moves.
    pub moving: bool,
    /// Where the mower is.
    pub mower: Whereabouts,
    /// Whether it stands still outside because the door is not open (a wait in the narrow sense).
    pub standing: bool,
    /// Whether the controller waits for a person.
    pub fault: bool,
    /// Whether there is power.
    pub powered: bool,
    /// Sensors of the strategy that are blind.
    pub blind_sensors: u32,
    /// Detectors of the strategy without a working sensor.
    pub blind_detectors: u32,
    /// Detectors of occupancy that say other than the truth.
    pub belief_errors: u32,
    /// Whether the controller is in manual.
    pub manual: bool,
    /// Whether something stands or lies still in the doorway.
    pub doorway_blocked: bool,
}

/// The accounts of one season.
#[derive(Clone, Debug)]
pub struct Book {
    record: SeasonRecord,
    settled: Instant,
    day: usize,
    standby_w: f64,
    blind_detector_h: f64,
}

impl Book {
    /// Opens the books. `standby_w` is what the supply gives while the motor rests, its own losses included, W.
    pub fn new(record: SeasonRecord, standby_w: f64) -> Book {
        Book { record, settled: Instant::START, day: 0, standby_w, blind_detector_h: 0.0 }
    }

    /// Accounts for the time since the last settlement, during which `situation` held.
    pub fn settle(&mut self, now: Instant, situation: &Situation) {
        let span = now.since(self.settled);
        if span.0 <= 0 {
            return;
        }
        self.settled = now;
        let hours = span.hours();
        let minutes = hours * 60.0;
        let depth = situation.rain_mm_h * hours;
        let raining = situation.rain_mm_h > 0.0;
        let day = &mut self.record.days[self.day];
        if raining {
            day.rain_mm += depth;
            day.rain_min += minutes;
        }
        if !situation.shut {
            day.open_min += minutes;
            if raining {
                day.wet_floor_min += minutes;
            }
        }
        if situation.standing {
            day.wait_s += span.seconds();
        }
        let values = &mut self.record.values;
        let mut add = |key: Key, amount: f64| values[key as usize] += amount;
        if situation.shut {
            add(Key::ShutTime, hours);
        } else {
            add(Key::OpenTime, hours);
            if situation.mower == Whereabouts::Away {
                add(Key::OpenNobodyHome, hours);
            }
        }
        if situation.moving {
            add(Key::MovingTime, hours);
        }
        if raining {
            add(Key::RainTime, hours);
            add(Key::RainDepth, depth);
            if situation.mower == Whereabouts::Waiting {
                add(Key::WetWaitingTime, minutes);
                add(Key::WetWaitingDepth, depth);
            }
            if !situation.shut {
                add(Key::WetFloorTime, minutes);
                add(Key::WetFloorDepth, depth);
                if situation.mower == Whereabouts::Inside {
                    add(Key::WetInsideTime, minutes);
                    add(Key::WetInsideDepth, depth);
                }
            }
        }
        if situation.standing {
            add(Key::WaitTotal, minutes);
        }
        if situation.fault {
            add(Key::FaultTime, hours);
        }
        if situation.powered {
            add(Key::TotalEnergy, self.standby_w * hours);
        } else {
            add(Key::PowerOut, hours);
        }
        add(Key::BeliefError, hours * f64::from(situation.belief_errors));
        if situation.manual {
            add(Key::ManualTime, hours);
        }
        if situation.doorway_blocked {
            add(Key::DoorwayBlocked, hours);
        }
        add(Key::SensorBlind, hours * f64::from(situation.blind_sensors));
        self.blind_detector_h += hours * f64::from(situation.blind_detectors);
    }

    /// The next day begins; settle first.
    pub fn next_day(&mut self) {
        self.day = (self.day + 1).min(self.record.days.len() - 1);
    }

    /// Today's row.
    pub fn today(&mut self) -> &mut super::record::Day {
        &mut self.record.days[self.day]
    }

    /// The row of an hour of the local clock.
    pub fn hour(&mut self, hour: usize) -> &mut super::record::Hour {
        &mut self.record.hours[hour % super::record::HOURS]
    }

    /// Counts one.
    pub fn count(&mut self, key: Key) {
        self.record.values[key as usize] += 1.0;
    }

    /// Adds an amount in the metric's unit.
    pub fn add(&mut self, key: Key, amount: f64) {
        self.record.values[key as usize] += amount;
    }

    /// Keeps the largest value.
    pub fn peak(&mut self, key: Key, value: f64) {
        let slot = &mut self.record.values[key as usize];
        *slot = slot.max(value);
    }

    /// The record under construction, for histograms, causes and events.
    pub fn record(&mut self) -> &mut SeasonRecord {
        &mut self.record
    }

    /// Closes the books: `detectors` is the number of detectors of the strategy, `in_view` the samples taken with
    /// something moving in view and how many of them said nothing.
    pub fn close(mut self, end: Instant, detectors: usize, in_view: (u64, f64)) -> SeasonRecord {
        let season_h = end.seconds() / 3_600.0;
        let values = &mut self.record.values;
        let arrivals = values[Key::Arrivals as usize];
        values[Key::MissedShare as usize] =
            if arrivals > 0.0 { values[Key::MissedArrivals as usize] / arrivals } else { 0.0 };
        let detector_h = season_h * detectors as f64;
        values[Key::DetectorUptime as usize] =
            if detector_h > 0.0 { 100.0 * (1.0 - self.blind_detector_h / detector_h) } else { 100.0 };
        // The law by which more of the drive's life is used.
        values[Key::Damage as usize] = values[Key::Damage as usize].max(values[Key::DamageByLoad as usize]);
        values[Key::ReadingsDropped as usize] = if in_view.0 > 0 { 100.0 * in_view.1 / in_view.0 as f64 } else { 0.0 };
        self.record
    }
}
