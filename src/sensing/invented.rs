//! What the tests of this room are about: detectors of no particular shelter.

use crate::scenario::strategy::{Detector, Dropped, RunRule, Sense, Statistic};

/// A detector of small readings that goes on and off with a single sample.
pub fn detector(statistic: Statistic, (on, off): (f64, f64)) -> Detector {
    Detector {
        name: "invented".into(),
        sensor: 0,
        statistic,
        sense: Sense::Below,
        on,
        off,
        rule: RunRule { k: 1, n: 1 },
        release: RunRule { k: 1, n: 1 },
        dropped: Dropped::Quiet,
        says: Vec::new(),
    }
}
