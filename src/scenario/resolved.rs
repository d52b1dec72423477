//! The resolved scenario: typed, complete, valid. Everything below the scenario's file reads this and nothing else.

use super::bus::Bus;
use super::common_cause::CommonCause;
use super::door::{Door, Drive, Supply};
use super::failure::Failure;
use super::limits::Limit;
use super::mower::Mower;
use super::objective::{Objective, Risk};
use super::season::{Calendar, Site};
use super::sensor::Sensor;
use super::strategy::{Detector, Strategy};
use super::visitor::{Fault, Visitor};
use super::weather::Weather;

/// A scenario with all defaults filled in and all references checked.
#[derive(Clone, Debug, PartialEq)]
pub struct Scenario {
    /// Name: the output folder's name.
    pub name: String,
    /// One line on what it is about.
    pub about: String,
    /// Site.
    pub site: Site,
    /// Calendar of a season.
    pub calendar: Calendar,
    /// Weather.
    pub weather: Weather,
    /// Mower.
    pub mower: Mower,
    /// Visitors.
    pub visitors: Vec<Visitor>,
    /// Faults.
    pub faults: Vec<Fault>,
    /// Failures, by mode.
    pub failures: Vec<Failure>,
    /// Sensors.
    pub sensors: Vec<Sensor>,
    /// Detectors.
    pub detectors: Vec<Detector>,
    /// Strategies, at least one; the first is the default of `day`.
    pub strategies: Vec<Strategy>,
    /// Door.
    pub door: Door,
    /// Drive.
    pub drive: Drive,
    /// Supply.
    pub supply: Supply,
    /// Two-wire bus, if sensors share one.
    pub bus: Option<Bus>,
    /// What sensors share.
    pub common_cause: CommonCause,
    /// Acceptance limits.
    pub limits: Vec<Limit>,
    /// Limits on the share of bad seasons.
    pub risks: Vec<Risk>,
    /// What counts as better; none if nothing is stated.
    pub objective: Option<Objective>,
}

impl Scenario {
    /// The detectors that are so, as bits.
    pub fn detectors_that(&self, are_so: impl Fn(&Detector) -> bool) -> u64 {
        let all = self.detectors.iter().enumerate();
        all.fold(0, |bits, (index, detector)| bits | u64::from(are_so(detector)) << index)
    }
}
