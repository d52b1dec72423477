//! Which metrics stand together, under which heading, and which few matter most.

use crate::ledger::metric::Key;
use crate::study::result::{Estimate, StrategyResult};

/// All metrics under the headings of the reports.
pub const GROUPS: &[(&str, &[Key])] = &[
    (
        "Arrivals",
        &[
            Key::Departures,
            Key::Arrivals,
            Key::MissedArrivals,
            Key::MissedShare,
            Key::MissedArrivalsExpected,
            Key::MissedArrivalsFloored,
            Key::ArrivalsIntegrated,
            Key::LateOpenings,
            Key::WaitTotal,
            Key::WaitLongest,
            Key::MissedDepartures,
            Key::DockingFailures,
            Key::Strandings,
            Key::Unfinished,
        ],
    ),
    (
        "Door",
        &[
            Key::Openings,
            Key::FalseOpenings,
            Key::NoiseOpeningsExpected,
            Key::DoorCycles,
            Key::Reversals,
            Key::OpenTime,
            Key::OpenNobodyHome,
            Key::MovingTime,
            Key::ShutTime,
        ],
    ),
    (
        "Rain",
        &[
            Key::RainTime,
            Key::RainDepth,
            Key::WetWaitingTime,
            Key::WetWaitingDepth,
            Key::WetInsideTime,
            Key::WetInsideDepth,
            Key::WetFloorTime,
            Key::WetFloorDepth,
        ],
    ),
    (
        "Contacts",
        &[
            Key::Contacts,
            Key::PanelContacts,
            Key::FrameTouches,
            Key::ClosingsOnOccupied,
            Key::ObstructionTrips,
            Key::TrappedVisitors,
            Key::PeakContactForce,
            Key::PeakContactEnergy,
        ],
    ),
    (
        "Drive",
        &[
            Key::Strokes,
            Key::Travel,
            Key::OnTime,
            Key::DutyWorst,
            Key::WindingPeak,
            Key::ThermalTrips,
            Key::Stalls,
            Key::StrokesFailed,
            Key::MotorEnergy,
            Key::TotalEnergy,
            Key::SupplyPeak,
            Key::BrownOuts,
            Key::BatteryEmpty,
            Key::BatteryDrawn,
            Key::Damage,
            Key::DamageByLoad,
        ],
    ),
    (
        "Sensors",
        &[
            Key::SensorBlind,
            Key::ReadingsDropped,
            Key::DetectorUptime,
            Key::BeliefError,
            Key::DoorwayBlocked,
            Key::FaultTime,
            Key::PowerOut,
            Key::Resets,
            Key::ManualTime,
        ],
    ),
];

/// The few that matter most, side by side for all strategies.
pub const GLANCE: &[Key] = &[
    Key::Arrivals,
    Key::MissedArrivals,
    Key::LateOpenings,
    Key::WaitTotal,
    Key::MissedDepartures,
    Key::Strandings,
    Key::FalseOpenings,
    Key::DoorCycles,
    Key::Stalls,
    Key::BrownOuts,
    Key::FaultTime,
    Key::WetFloorTime,
    Key::WetWaitingTime,
    Key::ClosingsOnOccupied,
    Key::Contacts,
    Key::DutyWorst,
    Key::TotalEnergy,
    Key::Damage,
];

/// Those whose distribution over seasons is drawn.
pub const DRAWN: &[Key] =
    &[Key::MissedArrivals, Key::FalseOpenings, Key::WaitTotal, Key::WetFloorTime, Key::DoorCycles, Key::DutyWorst];

/// The estimate of a metric, if the strategy has one.
pub fn estimate(strategy: &StrategyResult, key: Key) -> Option<&Estimate> {
    strategy.estimates.iter().find(|estimate| estimate.key == key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::metric::KEYS;

    #[test]
    fn every_metric_stands_in_exactly_one_group() {
        for key in KEYS {
            let places = GROUPS.iter().flat_map(|(_, keys)| keys.iter()).filter(|other| *other == key).count();
            assert_eq!(places, 1, "{} stands in {places} groups", key.metric().key);
        }
    }
}
