//! When the books are written: only when something they ask about has changed, not at every event.

use super::mower::Doing;
use super::season::Season;
use crate::ledger::book::{Situation, Whereabouts};
use crate::math::time::Instant;
use crate::shelter::controller::State;

/// What holds since the books were last written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    situation: Situation,
    /// Which of the conditions by which false runs are told apart.
    condition: usize,
    /// The strategy's blind sensors, as bits.
    blind: u64,
}

impl Held {
    /// Before the season begins.
    pub const NOTHING: Held = Held {
        situation: Situation {
            rain_mm_h: 0.0,
            shut: true,
            moving: false,
            mower: Whereabouts::Inside,
            standing: false,
            fault: false,
            powered: true,
            blind_sensors: 0,
            blind_detectors: 0,
            belief_errors: 0,
            manual: false,
            doorway_blocked: false,
        },
        condition: 0,
        blind: 0,
    };
}

impl Season<'_> {
    /// What holds now.
    pub fn held_now(&self) -> Held {
        let blind = self.blind;
        let (mut blind_detectors, mut left) = (0, blind);
        while left != 0 {
            blind_detectors += self.senses[left.trailing_zeros() as usize].detectors.len() as u32;
            left &= left - 1;
        }
        Held {
            situation: Situation {
                rain_mm_h: self.sky.rain_mm_h,
                shut: self.door.is_shut(),
                moving: self.door.is_moving(),
                mower: self.mower.whereabouts(),
                standing: self.mower.doing == Doing::WaitingOutside,
                fault: self.controller.state() == State::Fault,
                powered: self.powered,
                blind_sensors: blind.count_ones(),
                blind_detectors,
                belief_errors: self.belief_errors(),
                manual: self.controller.state() == State::Manual,
                doorway_blocked: self.doorway_blocked(),
            },
            condition: self.condition(),
            blind,
        }
    }

    /// Writes the books up to now if something has changed; to be called after everything that could change something.
    pub fn account(&mut self) {
        let now = self.held_now();
        if self.held != now {
            self.settle(self.now);
            self.held = now;
        }
    }

    /// Writes the books up to `at`, for the state that has held since they were last written.
    pub fn settle(&mut self, at: Instant) {
        let Held { situation, condition, blind } = self.held;
        self.tally_time(at, condition, blind);
        self.book.settle(at, &situation);
    }
}
