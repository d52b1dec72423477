//! The event queue against its rivals at 6, 64 and 1024 pending events.
//!
//! Each iteration is one step of the hold model (Jones, Comm. ACM 29, 1986): take the next event, schedule another
//! an exponential time ahead. Every fourth step also cancels the newest event and schedules it anew, as a door's
//! hold-open timer does.
//!
//! Measured once on a shared two-core virtual machine, ns a step at 6 / 64 / 1024 pending: this queue 52 / 88 / 242,
//! lazy heap 66 / 74 / 81, scan 31 / 90 / 668 (each includes some 15 ns for the exponential draw). Up to a hundred
//! pending none of them matters against the rest of a simulation; the sorted array is the one without corpses.

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use dooryard::engine::queue::Queue;
use dooryard::math::random::{Source, Stream};
use dooryard::math::time::Instant;
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::hint::black_box;

type Event = u32;

/// What the hold model asks of a queue. A ticket is whatever the queue needs to find an event again.
trait Rival {
    type Ticket: Copy;
    fn schedule(&mut self, at: i64, event: Event) -> Self::Ticket;
    fn cancel(&mut self, ticket: Self::Ticket) -> bool;
    fn pop(&mut self) -> Option<(i64, Event)>;
}

impl Rival for Queue<Event> {
    type Ticket = dooryard::engine::queue::Ticket;
    fn schedule(&mut self, at: i64, event: Event) -> Self::Ticket {
        Queue::schedule(self, Instant(at), event)
    }
    fn cancel(&mut self, ticket: Self::Ticket) -> bool {
        Queue::cancel(self, ticket)
    }
    fn pop(&mut self) -> Option<(i64, Event)> {
        Queue::pop(self).map(|(at, event)| (at.0, event))
    }
}

/// The standard library's heap on packed (time, number) keys, cancellation by generation slots.
#[derive(Default)]
struct LazyHeap {
    heap: BinaryHeap<Reverse<(u128, u32, u32, Event)>>,
    generations: Vec<u32>,
    free: Vec<u32>,
    inserted: u64,
}

impl LazyHeap {
    fn release(&mut self, slot: u32) {
        self.generations[slot as usize] += 1;
        self.free.push(slot);
    }
}

impl Rival for LazyHeap {
    type Ticket = (u32, u32);
    fn schedule(&mut self, at: i64, event: Event) -> Self::Ticket {
        let slot = self.free.pop().unwrap_or_else(|| {
            self.generations.push(0);
            (self.generations.len() - 1) as u32
        });
        let generation = self.generations[slot as usize];
        let key = (u128::from(at as u64) << 64) | u128::from(self.inserted);
        self.inserted += 1;
        self.heap.push(Reverse((key, slot, generation, event)));
        (slot, generation)
    }
    fn cancel(&mut self, (slot, generation): Self::Ticket) -> bool {
        let live = self.generations[slot as usize] == generation;
        if live {
            self.release(slot);
        }
        live
    }
    fn pop(&mut self) -> Option<(i64, Event)> {
        while let Some(Reverse((key, slot, generation, event))) = self.heap.pop() {
            if self.generations[slot as usize] == generation {
                self.release(slot);
                return Some(((key >> 64) as i64, event));
            }
        }
        None
    }
}

/// An unsorted list, searched for its smallest key at every pop.
#[derive(Default)]
struct Scan {
    entries: Vec<(u128, Event)>,
    inserted: u64,
}

impl Rival for Scan {
    type Ticket = u128;
    fn schedule(&mut self, at: i64, event: Event) -> u128 {
        let key = (u128::from(at as u64) << 64) | u128::from(self.inserted);
        self.inserted += 1;
        self.entries.push((key, event));
        key
    }
    fn cancel(&mut self, ticket: u128) -> bool {
        let place = self.entries.iter().position(|(key, _)| *key == ticket);
        place.map(|place| self.entries.swap_remove(place)).is_some()
    }
    fn pop(&mut self) -> Option<(i64, Event)> {
        let place = (0..self.entries.len()).min_by_key(|place| self.entries[*place].0)?;
        let (key, event) = self.entries.swap_remove(place);
        Some(((key >> 64) as i64, event))
    }
}

fn ahead(stream: &mut Stream) -> i64 {
    stream.exponential(1e6) as i64
}

fn hold_step<Q: Rival>(queue: &mut Q, stream: &mut Stream, step: &mut u32) {
    let Some((at, event)) = queue.pop() else { return };
    let ticket = queue.schedule(at + ahead(stream), event);
    *step = step.wrapping_add(1);
    if step.is_multiple_of(4) {
        black_box(queue.cancel(ticket));
        queue.schedule(at + ahead(stream), event);
    }
}

fn hold<Q: Rival>(criterion: &mut Criterion, name: &str, empty: impl Fn() -> Q) {
    let mut group = criterion.benchmark_group(name);
    for pending in [6_u32, 64, 1_024] {
        group.bench_function(BenchmarkId::from_parameter(pending), |bencher| {
            let mut stream = Source::new(1, 0, "hold").stream(0);
            let mut queue = empty();
            for event in 0..pending {
                queue.schedule(ahead(&mut stream), event);
            }
            let mut step = 0;
            bencher.iter(|| hold_step(&mut queue, &mut stream, &mut step));
        });
    }
    group.finish();
}

fn rivals(criterion: &mut Criterion) {
    hold(criterion, "queue", Queue::new);
    hold(criterion, "lazy heap", LazyHeap::default);
    hold(criterion, "scan", Scan::default);
}

criterion_group!(benches, rivals);
criterion_main!(benches);
