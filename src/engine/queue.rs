//! The event queue: events come out by (time, insertion number), first in first out among equal times.
//!
//! A season keeps a few dozen events pending, rarely more than a hundred. At that size a sorted array is about as quick as
//! a heap (`benches/queue.rs`) and simpler: the next event is the last element, an insertion is a binary search and a
//! short move of memory, and a cancellation removes the entry at once instead of leaving a corpse to be skipped later.
//! Nothing is allocated once the array has grown to the largest number ever pending.

use crate::math::time::Instant;

/// Names one scheduled event. Never used again for another one of the same queue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ticket(Key);

/// Time in the upper, insertion number in the lower half: one comparison orders both.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Key(u128);

impl Key {
    fn new(at: Instant, number: u64) -> Key {
        // Times are never negative here (see `schedule`), so the cast keeps their order.
        Key((u128::from(at.0 as u64) << 64) | u128::from(number))
    }

    fn at(self) -> Instant {
        Instant((self.0 >> 64) as i64)
    }
}

/// Pending events of type `E`, and the time reached.
#[derive(Clone, Debug)]
pub struct Queue<E: Copy> {
    /// In descending order of keys: the next event is the last.
    pending: Vec<(Key, E)>,
    now: Instant,
    inserted: u64,
}

impl<E: Copy> Default for Queue<E> {
    fn default() -> Queue<E> {
        Queue::new()
    }
}

impl<E: Copy> Queue<E> {
    /// An empty queue at the season's start.
    pub fn new() -> Queue<E> {
        const ROOM: usize = 64;
        Queue { pending: Vec::with_capacity(ROOM), now: Instant::START, inserted: 0 }
    }

    /// Puts `event` at time `at`, behind all events already scheduled for that time.
    ///
    /// # Panics
    /// If `at` lies before [`Queue::now`]: the caller has lost track of time, and every result after that would be
    /// wrong.
    pub fn schedule(&mut self, at: Instant, event: E) -> Ticket {
        assert!(
            at >= self.now,
            "event scheduled for {} us, before the present {} us: time cannot go backwards",
            at.0,
            self.now.0
        );
        let key = Key::new(at, self.inserted);
        self.inserted += 1;
        let place = self.place(key);
        self.pending.insert(place, (key, event));
        Ticket(key)
    }

    /// Takes back a scheduled event; false if it has already come out or been cancelled.
    pub fn cancel(&mut self, ticket: Ticket) -> bool {
        let place = self.place(ticket.0);
        let found = self.pending.get(place).is_some_and(|(key, _)| *key == ticket.0);
        if found {
            self.pending.remove(place);
        }
        found
    }

    /// Takes out the next event and moves the time to it.
    pub fn pop(&mut self) -> Option<(Instant, E)> {
        let (key, event) = self.pending.pop()?;
        self.now = key.at();
        Some((self.now, event))
    }

    /// Time of the next event.
    pub fn peek_time(&self) -> Option<Instant> {
        self.pending.last().map(|(key, _)| key.at())
    }

    /// Time of the event that came out last; the season's start before the first.
    pub fn now(&self) -> Instant {
        self.now
    }

    /// Number of events pending.
    pub fn len(&self) -> usize {
        self.pending.len()
    }

    /// Whether nothing is pending.
    pub fn is_empty(&self) -> bool {
        self.pending.is_empty()
    }

    /// Index of the first key not above `key`: its own place or where it belongs.
    fn place(&self, key: Key) -> usize {
        self.pending.partition_point(|(other, _)| *other > key)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn equal_times_come_out_in_the_order_they_went_in() {
        let mut queue = Queue::new();
        for event in 0..5 {
            queue.schedule(Instant(7), event);
        }
        queue.schedule(Instant(6), 9);
        let order: Vec<(Instant, i32)> = std::iter::from_fn(|| queue.pop()).collect();
        let times: Vec<i64> = order.iter().map(|(at, _)| at.0).collect();
        let events: Vec<i32> = order.iter().map(|(_, event)| *event).collect();
        assert_eq!(times, [6, 7, 7, 7, 7, 7]);
        assert_eq!(events, [9, 0, 1, 2, 3, 4]);
        assert_eq!(queue.now(), Instant(7));
    }

    #[test]
    fn a_ticket_cancels_once_and_never_a_later_event() {
        let mut queue = Queue::new();
        let first = queue.schedule(Instant(3), 'a');
        let second = queue.schedule(Instant(3), 'b');
        assert!(queue.cancel(first));
        assert!(!queue.cancel(first));
        assert_eq!((queue.len(), queue.pop()), (1, Some((Instant(3), 'b'))));
        queue.schedule(Instant(3), 'c');
        assert!(!queue.cancel(second), "it has come out, and 'c' at the same time is another event");
        assert_eq!(queue.pop(), Some((Instant(3), 'c')));
        assert!(queue.is_empty() && queue.pop().is_none() && queue.peek_time().is_none());
    }

    #[test]
    #[should_panic(expected = "event scheduled for 4 us, before the present 5 us")]
    fn time_cannot_go_backwards() {
        let mut queue = Queue::new();
        queue.schedule(Instant(5), ());
        queue.pop();
        queue.schedule(Instant(4), ());
    }

    #[derive(Clone, Copy, Debug)]
    enum Step {
        Schedule { ahead: i64 },
        Cancel { which: usize },
        Pop,
    }

    fn steps() -> impl Strategy<Value = Vec<Step>> {
        let step = prop_oneof![
            4 => (0_i64..6).prop_map(|ahead| Step::Schedule { ahead }),
            1 => (0_i64..=Instant::NEVER.0 / 1_000).prop_map(|ahead| Step::Schedule { ahead }),
            2 => any::<usize>().prop_map(|which| Step::Cancel { which }),
            3 => Just(Step::Pop),
        ];
        prop::collection::vec(step, 0..300)
    }

    proptest! {
        /// Random operations on the queue and on an obvious oracle: an unsorted list searched in full each time.
        #[test]
        fn agrees_with_a_plain_list(steps in steps()) {
            let mut queue = Queue::new();
            let mut tickets = Vec::new();
            let mut list: Vec<(Instant, usize)> = Vec::new();
            let mut now = Instant::START;
            for step in steps {
                match step {
                    Step::Schedule { ahead } => {
                        let at = Instant(now.0 + ahead);
                        let number = tickets.len();
                        tickets.push(queue.schedule(at, number));
                        list.push((at, number));
                    }
                    Step::Cancel { which } if !tickets.is_empty() => {
                        let number = which % tickets.len();
                        let pending = list.iter().position(|(_, other)| *other == number);
                        prop_assert_eq!(queue.cancel(tickets[number]), pending.is_some());
                        if let Some(place) = pending {
                            list.remove(place);
                        }
                    }
                    Step::Cancel { .. } => {}
                    Step::Pop => {
                        let next = list.iter().copied().min();
                        prop_assert_eq!(queue.peek_time(), next.map(|(at, _)| at));
                        prop_assert_eq!(queue.pop(), next);
                        if let Some(next) = next {
                            list.retain(|other| *other != next);
                            now = next.0;
                        }
                    }
                }
                prop_assert_eq!(queue.len(), list.len());
                prop_assert_eq!(queue.is_empty(), list.is_empty());
                prop_assert_eq!(queue.now(), now);
            }
        }
    }

    #[test]
    fn steady_state_keeps_its_memory() {
        let mut queue = Queue::new();
        for event in 0..64_i64 {
            queue.schedule(Instant(event), event);
        }
        let room = queue.pending.as_ptr();
        for _ in 0..10_000 {
            let (at, event) = queue.pop().expect("64 events are pending");
            let ticket = queue.schedule(Instant(at.0 + 64), event);
            if event % 3 == 0 {
                queue.cancel(ticket);
                queue.schedule(Instant(at.0 + 1), event);
            }
        }
        assert_eq!(room, queue.pending.as_ptr());
    }
}
