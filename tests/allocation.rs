//! The inner loop of a season does not allocate: what a season takes once it is under way does not grow with its length.

mod support;

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

use dooryard::engine::{Options, Outside, Plan, play};
use dooryard::scenario::Scenario;
use dooryard::scenario::failure::{Failure, mode};
use dooryard::scenario::strategy::{Sense, Statistic};
use dooryard::sensing::channel::Sampling;

thread_local! {
    static TAKEN: Cell<u64> = const { Cell::new(0) };
}

/// The system's allocator, which counts for each thread how often it is asked for memory.
struct Counting;

fn count() {
    // A thread that ends has no counter any more.
    let _ = TAKEN.try_with(|taken| taken.set(taken.get() + 1));
}

// SAFETY: everything is passed on to the system's allocator as it came.
#[allow(unsafe_code, reason = "an allocator can't be written otherwise")]
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count();
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        unsafe { System.dealloc(place, layout) }
    }

    unsafe fn realloc(&self, place: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        count();
        unsafe { System.realloc(place, layout, size) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

/// Allocations and events of one season of `months` months.
fn season(scenario: &Scenario, months: i8) -> (u64, u64) {
    let mut scenario = scenario.clone();
    scenario.calendar.last_day = jiff::civil::date(2025, 3 + months, 28);
    let plan = Plan::new(&scenario).expect("the scenario can be planned");
    let outside = Outside::draw(&plan, 3, 0).expect("generated weather");
    let before = TAKEN.get();
    let record = play(&plan, &outside, 0, 3, Options { sampling: Sampling::Exact, events: false });
    (TAKEN.get() - before, record.handled)
}

/// Allocations that more months may take: tables and windows that find their size late (a histogram's longest wait, the
/// queue's fullest moment), each doubling a few times at most.
const LATE: u64 = 32;

fn check(what: &str, scenario: &Scenario, months: i8) {
    let (short, long) = (season(scenario, 1), season(scenario, months));
    assert!(long.1 > 2 * short.1 && long.1 > 10_000, "{what}: events {short:?} {long:?}");
    let more = long.0.saturating_sub(short.0);
    assert!(more <= LATE, "{what}: (allocations, events) {short:?} in a month, {long:?} in {months}");
}

#[test]
fn a_season_does_not_allocate_with_its_length() {
    check("usual", &support::usual(), 7);
    check("noisy", &support::noisy(), 4);
    // Windows of many readings, and a sensor that is asked for bounds while its statistic remembers.
    let mut remembering = support::noisy();
    remembering.detectors[0].statistic = Statistic::MovingMedian(5);
    remembering.sensors.iter_mut().for_each(|sensor| sensor.errors.dropout = 0.01);
    check("remembering", &remembering, 4);
    let mut closing = support::noisy();
    closing.detectors[0].statistic = Statistic::ApproachRate(12);
    closing.detectors[0].sense = Sense::Above;
    (closing.detectors[0].on, closing.detectors[0].off) = (0.25, 0.05);
    check("closing speed", &closing, 3);
    // Losses of power, after which detectors and rules begin anew.
    let mut failing = support::usual();
    failing.failures = vec![Failure::usual(mode("brown-out-reset").expect("a mode"), Vec::new())];
    check("restarting", &failing, 7);
}
