//! The failures of a scenario by how they act: whoever asks for one kind need not look through all of them.

use super::{Act, Failure};

/// Places of failures in a scenario, by how they act.
#[derive(Clone, Debug, Default)]
pub struct ByAct {
    acts: Vec<Act>,
    /// In the order of `acts`; places ascending.
    places: Vec<Vec<usize>>,
}

impl ByAct {
    /// Sorts these failures.
    pub fn new(failures: &[Failure]) -> ByAct {
        let mut sorted = ByAct::default();
        for (place, failure) in failures.iter().enumerate() {
            match sorted.acts.iter().position(|act| *act == failure.mode.act) {
                Some(known) => sorted.places[known].push(place),
                None => {
                    sorted.acts.push(failure.mode.act);
                    sorted.places.push(vec![place]);
                }
            }
        }
        sorted
    }

    /// The places of the failures that act like this.
    pub fn of(&self, act: Act) -> &[usize] {
        self.acts.iter().position(|other| *other == act).map_or(&[], |known| &self.places[known])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::failure::{MODES, Mode, mode};

    /// Each mode twice: every place is found once, and by its own act.
    #[test]
    fn every_failure_is_found_by_its_act() {
        let usual = |row: &Mode| Failure::usual(mode(row.name).expect("a mode"), Vec::new());
        let failures: Vec<Failure> = MODES.iter().chain(&MODES).map(usual).collect();
        let sorted = ByAct::new(&failures);
        for act in MODES.iter().map(|row| row.act) {
            let plain: Vec<usize> = (0..failures.len()).filter(|place| failures[*place].mode.act == act).collect();
            assert_eq!(sorted.of(act), plain);
        }
        assert!(ByAct::new(&[]).of(Act::Dirt).is_empty());
    }
}
