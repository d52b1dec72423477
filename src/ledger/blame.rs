//! What is counted by its cause.

use std::ops::{Index, IndexMut};

use serde::{Deserialize, Serialize};

use super::metric::Key;

/// What each time has a cause of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Blamed {
    /// Openings that nobody needed.
    FalseOpenings,
    /// Arrivals of which nobody has told the door.
    MissedArrivals,
    /// Departures that the mower gave up.
    MissedDepartures,
    /// Contacts of door and mower, visitor or object.
    Contacts,
}

/// All of them, in report order.
pub const BLAMED: [Blamed; 4] =
    [Blamed::FalseOpenings, Blamed::MissedArrivals, Blamed::MissedDepartures, Blamed::Contacts];

impl Blamed {
    /// The metric of which the causes are shares.
    pub fn key(self) -> Key {
        match self {
            Blamed::FalseOpenings => Key::FalseOpenings,
            Blamed::MissedArrivals => Key::MissedArrivals,
            Blamed::MissedDepartures => Key::MissedDepartures,
            Blamed::Contacts => Key::Contacts,
        }
    }
}

/// Something for each of [`BLAMED`]: the names of its causes, or what they come to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ByCause<T>([T; BLAMED.len()]);

impl<T> ByCause<T> {
    /// What a function makes of each.
    pub fn of(each: impl FnMut(Blamed) -> T) -> ByCause<T> {
        ByCause(BLAMED.map(each))
    }

    /// Each of them, in report order.
    pub fn iter(&self) -> std::slice::Iter<'_, T> {
        self.0.iter()
    }

    /// Each of them, to be changed.
    pub fn iter_mut(&mut self) -> std::slice::IterMut<'_, T> {
        self.0.iter_mut()
    }
}

impl<T> Index<Blamed> for ByCause<T> {
    type Output = T;

    fn index(&self, blamed: Blamed) -> &T {
        &self.0[blamed as usize]
    }
}

impl<T> IndexMut<Blamed> for ByCause<T> {
    fn index_mut(&mut self, blamed: Blamed) -> &mut T {
        &mut self.0[blamed as usize]
    }
}
