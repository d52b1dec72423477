//! Textbook queues and timers, played on the event queue with named random streams, against their exact results.
//!
//! Every estimate is judged by its own standard error, 4.5 of them on a fixed seed: with some 90 estimates and, in
//! the worst case, 39 degrees of freedom, chance alone would fail this test once in a few hundred seeds.

mod common;

use common::{Row, Tally};
use dooryard::engine::queue::{Queue, Ticket};
use dooryard::math::random::{Source, Stream};
use dooryard::math::time::{Instant, Span};
use std::collections::{BTreeMap, VecDeque};

const SIGMAS: f64 = 4.5;
const BATCHES: usize = 40;

/// A Monte Carlo estimate and its standard error.
#[derive(Clone, Copy, Debug)]
struct Estimate {
    value: f64,
    standard_error: f64,
}

/// Mean of values that are independent, or nearly so (batch means).
fn mean(values: &[f64]) -> Estimate {
    let n = values.len() as f64;
    let value = values.iter().sum::<f64>() / n;
    let square: f64 = values.iter().map(|x| (x - value) * (x - value)).sum();
    Estimate { value, standard_error: (square / (n - 1.0) / n).sqrt() }
}

/// Ratio of two sums over batches, with the linearised standard error of a ratio estimator.
fn ratio(pairs: &[(f64, f64)]) -> Estimate {
    let n = pairs.len() as f64;
    let (above, below) = pairs.iter().fold((0.0, 0.0), |sum, pair| (sum.0 + pair.0, sum.1 + pair.1));
    let value = above / below;
    let square: f64 = pairs.iter().map(|(a, b)| (a - value * b) * (a - value * b)).sum();
    Estimate { value, standard_error: (square * n / (n - 1.0)).sqrt() / below }
}

/// Variance of values times `scale`; the standard error takes the values' kurtosis from the sample.
fn variance(values: &[f64], scale: f64) -> Estimate {
    let n = values.len() as f64;
    let centre = mean(values).value;
    let power = |exponent: i32| values.iter().map(|x| (x - centre).powi(exponent)).sum::<f64>() / n;
    let (second, fourth) = (power(2), power(4));
    let relative = ((fourth / (second * second) - 1.0) / n).sqrt();
    let value = second * n / (n - 1.0) * scale;
    Estimate { value, standard_error: relative * value }
}

/// One sum per batch of equal length of simulated time.
struct Batches {
    length: Span,
    sums: Vec<f64>,
}

impl Batches {
    fn new(length: Span) -> Batches {
        Batches { length, sums: vec![0.0; BATCHES] }
    }

    /// Adds `amount` at a moment; what lies beyond the last batch is left out.
    fn add(&mut self, at: Instant, amount: f64) {
        if let Some(sum) = self.sums.get_mut((at.0 / self.length.0) as usize) {
            *sum += amount;
        }
    }

    /// Adds `level` times the time from `from` to `to`, split over the batches it touches.
    fn spread(&mut self, mut from: Instant, to: Instant, level: f64) {
        while from < to {
            let next = Instant((from.0 / self.length.0 + 1) * self.length.0).min(to);
            self.add(from, level * next.since(from).seconds());
            from = next;
        }
    }

    fn per_time(&self) -> Vec<f64> {
        self.sums.iter().map(|sum| sum / self.length.seconds()).collect()
    }

    fn over(&self, other: &Batches) -> Estimate {
        let pairs: Vec<(f64, f64)> = self.sums.iter().copied().zip(other.sums.iter().copied()).collect();
        ratio(&pairs)
    }
}

/// What a station with waiting room is observed to do. Times in units of the row, one of which is one second here.
struct Station {
    /// Time integral of the number present and of the number waiting.
    present: Batches,
    waiting: Batches,
    /// Time with at least `level` present, and with exactly that number.
    at_least: Batches,
    exactly: Batches,
    arrivals: Batches,
    /// Sums over arrivals: wait, time in the system, waits above `patience`, waits above 0, arrivals turned away.
    wait: Batches,
    stay: Batches,
    long_waits: Batches,
    any_wait: Batches,
    refused: Batches,
    /// Lengths of busy periods.
    busy: Vec<f64>,
}

/// A station to be played: Poisson arrivals, `servers`, first come first served, room for `room` customers.
struct Plan<'a> {
    rate: f64,
    service: &'a dyn Fn(&mut Stream) -> f64,
    servers: usize,
    room: usize,
    level: usize,
    patience: f64,
    arrivals: f64,
}

#[derive(Clone, Copy)]
enum Event {
    Arrival,
    Departure { arrived: Instant },
}

fn play(plan: &Plan, name: &str) -> Station {
    let source = Source::new(2024, 0, name);
    let (mut arrivals, mut services) = (source.stream(0), source.stream(1));
    let length = Span::from_seconds(plan.arrivals / plan.rate / BATCHES as f64);
    let end = Instant(length.0 * BATCHES as i64);
    let batches = || Batches::new(length);
    let mut seen = Station {
        present: batches(),
        waiting: batches(),
        at_least: batches(),
        exactly: batches(),
        arrivals: batches(),
        wait: batches(),
        stay: batches(),
        long_waits: batches(),
        any_wait: batches(),
        refused: batches(),
        busy: Vec::new(),
    };
    let mut queue = Queue::new();
    let mut line: VecDeque<Instant> = VecDeque::new();
    let (mut in_service, mut since, mut busy_since) = (0_usize, Instant::START, Instant::START);
    let mut begin = |queue: &mut Queue<Event>, seen: &mut Station, arrived: Instant| {
        let wait = queue.now().since(arrived);
        seen.wait.add(arrived, wait.seconds());
        seen.any_wait.add(arrived, f64::from(wait > Span::ZERO));
        seen.long_waits.add(arrived, f64::from(wait.seconds() > plan.patience));
        let service = Span::from_seconds((plan.service)(&mut services));
        queue.schedule(queue.now() + service, Event::Departure { arrived });
    };
    queue.schedule(Instant::from_seconds(arrivals.exponential(1.0 / plan.rate)), Event::Arrival);
    while let Some((now, event)) = queue.pop() {
        let present = in_service + line.len();
        seen.present.spread(since, now.min(end), present as f64);
        seen.waiting.spread(since, now.min(end), line.len() as f64);
        seen.at_least.spread(since, now.min(end), f64::from(present >= plan.level));
        seen.exactly.spread(since, now.min(end), f64::from(present == plan.level));
        since = now;
        match event {
            Event::Arrival => {
                if now < end {
                    let next = now + Span::from_seconds(arrivals.exponential(1.0 / plan.rate));
                    queue.schedule(next, Event::Arrival);
                }
                seen.arrivals.add(now, 1.0);
                if present == 0 {
                    busy_since = now;
                }
                if in_service < plan.servers {
                    in_service += 1;
                    begin(&mut queue, &mut seen, now);
                } else if present < plan.room {
                    line.push_back(now);
                } else {
                    seen.refused.add(now, 1.0);
                }
            }
            Event::Departure { arrived } => {
                seen.stay.add(arrived, now.since(arrived).seconds());
                match line.pop_front() {
                    Some(next) => begin(&mut queue, &mut seen, next),
                    None => in_service -= 1,
                }
                if in_service == 0 {
                    seen.busy.push(now.since(busy_since).seconds());
                }
            }
        }
    }
    seen
}

/// A door opened by triggers and shut `tau` after one: after the last (`extend`) or after the one that opened it.
struct Door {
    openings: Batches,
    open_time: Batches,
    open_durations: Vec<f64>,
}

#[derive(Clone, Copy)]
enum DoorEvent {
    Trigger,
    Shut,
}

fn play_door(rate: f64, tau: f64, extend: bool, triggers: f64) -> Door {
    let mut stream = Source::new(2024, 1, "door").stream(u64::from(extend));
    let length = Span::from_seconds(triggers / rate / BATCHES as f64);
    let end = Instant(length.0 * BATCHES as i64);
    let mut seen = Door { openings: Batches::new(length), open_time: Batches::new(length), open_durations: Vec::new() };
    let mut queue = Queue::new();
    let mut open: Option<(Instant, Ticket)> = None;
    queue.schedule(Instant::from_seconds(stream.exponential(1.0 / rate)), DoorEvent::Trigger);
    while let Some((now, event)) = queue.pop() {
        match event {
            DoorEvent::Trigger => {
                if now < end {
                    let next = now + Span::from_seconds(stream.exponential(1.0 / rate));
                    queue.schedule(next, DoorEvent::Trigger);
                }
                let shut_at = now + Span::from_seconds(tau);
                open = Some(match open {
                    None => {
                        seen.openings.add(now, 1.0);
                        (now, queue.schedule(shut_at, DoorEvent::Shut))
                    }
                    Some((since, shut)) if extend => {
                        assert!(queue.cancel(shut), "the door was open, so its shutting was still to come");
                        (since, queue.schedule(shut_at, DoorEvent::Shut))
                    }
                    Some(unchanged) => unchanged,
                });
            }
            DoorEvent::Shut => {
                let (since, _) = open.take().expect("only an open door shuts");
                seen.open_time.spread(since, now.min(end), 1.0);
                seen.open_durations.push(now.since(since).seconds());
            }
        }
    }
    seen
}

/// Many repeats of an alternation of up and down times, each from `up` at 0 to the horizon.
struct Alternation {
    up_at_end: Vec<f64>,
    up_time: Vec<f64>,
    ends_of_up: Vec<f64>,
}

fn alternate(
    horizon: f64,
    repeats: u64,
    up: impl Fn(&mut Stream) -> f64,
    down: impl Fn(&mut Stream) -> f64,
) -> Alternation {
    let source = Source::new(2024, 2, "alternation");
    let mut seen = Alternation { up_at_end: Vec::new(), up_time: Vec::new(), ends_of_up: Vec::new() };
    let end = Instant::from_seconds(horizon);
    for repeat in 0..repeats {
        let mut stream = source.stream(repeat);
        let mut queue = Queue::new();
        let (mut is_up, mut since, mut up_time, mut changes) = (true, Instant::START, 0.0, 0.0);
        queue.schedule(Instant::from_seconds(up(&mut stream)), ());
        while queue.peek_time().is_some_and(|at| at <= end) {
            queue.pop();
            if is_up {
                up_time += queue.now().since(since).seconds();
                changes += 1.0;
            }
            is_up = !is_up;
            since = queue.now();
            let stay = if is_up { up(&mut stream) } else { down(&mut stream) };
            queue.schedule(queue.now() + Span::from_seconds(stay), ());
        }
        if is_up {
            up_time += end.since(since).seconds();
        }
        seen.up_at_end.push(f64::from(is_up));
        seen.up_time.push(up_time);
        seen.ends_of_up.push(changes);
    }
    seen
}

/// Stations already played, by name and inputs: several rows ask about the same one.
#[derive(Default)]
struct Stations {
    played: BTreeMap<String, Station>,
}

impl Stations {
    fn station(&mut self, name: &str, row: &Row, plan: &Plan) -> &Station {
        // The waiting time asked about is the same in all rows, so it does not tell stations apart.
        let inputs: Vec<String> = row
            .inputs
            .iter()
            .filter(|(k, _)| *k != "t" && (*k != "n" || row.whole("n") as usize != DEFAULT_LEVEL))
            .map(|(k, v)| format!("{k}={v}"))
            .collect();
        let key = format!("{name} {}", inputs.join(" "));
        self.played.entry(key).or_insert_with_key(|key| play(plan, key))
    }
}

const UNLIMITED: usize = usize::MAX;
/// Number present that is watched unless the row names another.
const DEFAULT_LEVEL: usize = 5;

/// Quantities of the table that are not simulated, with the reason: none.
const SKIPPED: [(&str, &str); 0] = [];

fn estimate(row: &Row, stations: &mut Stations) -> Option<Estimate> {
    let queue = Plan {
        rate: 0.0,
        service: &|_| 0.0,
        servers: 1,
        room: UNLIMITED,
        level: row.inputs.get("n").map_or(DEFAULT_LEVEL, |_| row.whole("n") as usize),
        patience: 1.0,
        arrivals: 400_000.0,
    };
    let estimate = match row.quantity.as_str() {
        quantity if quantity.starts_with("mm1_") => {
            assert!(row.inputs.get("t").is_none_or(|_| row.number("t") == queue.patience));
            let mu = row.number("mu");
            let service = move |stream: &mut Stream| stream.exponential(1.0 / mu);
            let seen = stations.station("mm1", row, &Plan { rate: row.number("lambda"), service: &service, ..queue });
            match quantity {
                "mm1_L" => mean(&seen.present.per_time()),
                "mm1_Lq" => mean(&seen.waiting.per_time()),
                "mm1_W" => seen.stay.over(&seen.arrivals),
                "mm1_Wq" => seen.wait.over(&seen.arrivals),
                "mm1_prob_wait_exceeds" => seen.long_waits.over(&seen.arrivals),
                "mm1_prob_n_ge" => mean(&seen.at_least.per_time()),
                // The variance of a time average over T is this over T, for long T.
                "mm1_tau2_L" => variance(&seen.present.per_time(), seen.present.length.seconds()),
                _ => return None,
            }
        }
        quantity if quantity.starts_with("md1_") => {
            let s = row.number("s");
            let seen = stations.station("md1", row, &Plan { rate: row.number("lambda"), service: &|_| s, ..queue });
            match quantity {
                "md1_Wq" => seen.wait.over(&seen.arrivals),
                "md1_L" => mean(&seen.present.per_time()),
                "md1_prob_no_wait" => {
                    let waiting = seen.any_wait.over(&seen.arrivals);
                    Estimate { value: 1.0 - waiting.value, ..waiting }
                }
                _ => return None,
            }
        }
        "mg1_Wq" => {
            let (length, cv2) = (row.number("mean_service"), row.number("cv2"));
            let service = move |stream: &mut Stream| stream.gamma(1.0 / cv2, length);
            let seen = stations.station("mg1", row, &Plan { rate: row.number("lambda"), service: &service, ..queue });
            seen.wait.over(&seen.arrivals)
        }
        quantity @ ("erlang_b" | "erlang_c" | "mmc_Wq_in_service_times") => {
            let servers = row.whole("c") as usize;
            let loss = quantity == "erlang_b";
            let plan = Plan {
                rate: row.number("A"),
                service: &|stream| stream.exponential(1.0),
                servers,
                room: if loss { servers } else { UNLIMITED },
                ..queue
            };
            let seen = stations.station(if loss { "loss" } else { "delay" }, row, &plan);
            match quantity {
                "erlang_b" => seen.refused.over(&seen.arrivals),
                "erlang_c" => seen.any_wait.over(&seen.arrivals),
                _ => seen.wait.over(&seen.arrivals),
            }
        }
        quantity if quantity.starts_with("mginf_") => {
            // Holds for any service law of this mean; a skewed one is the harder case.
            let length = row.number("mean_service");
            let plan = Plan {
                rate: row.number("lambda"),
                service: &|stream| stream.gamma(0.5, length),
                servers: UNLIMITED,
                ..queue
            };
            let seen = stations.station("mginf", row, &plan);
            match quantity {
                "mginf_busy_period_mean" => mean(&seen.busy),
                "mginf_prob_n_present" => mean(&seen.exactly.per_time()),
                _ => return None,
            }
        }
        "open_cycles_rate" | "open_fraction" | "mean_open_duration" => {
            let door = play_door(row.number("lambda"), row.number("tau"), row.whole("extend") == 1, 200_000.0);
            match row.quantity.as_str() {
                "open_cycles_rate" => mean(&door.openings.per_time()),
                "open_fraction" => mean(&door.open_time.per_time()),
                _ => mean(&door.open_durations),
            }
        }
        "availability_limit" => {
            // Any laws will do: gamma of shape 3 up, exponential down, each repeat 400 cycles long. The start "up"
            // biases the share by less than mttf / horizon, a 400th, so the first half is taken off.
            let (up, down) = (row.number("mttf"), row.number("mttr"));
            let share = |horizon: f64| {
                alternate(horizon, 400, |stream| stream.gamma(3.0, up), |stream| stream.exponential(down)).up_time
            };
            let half = 200.0 * (up + down);
            let shares: Vec<f64> =
                share(2.0 * half).iter().zip(share(half)).map(|(all, first)| (all - first) / half).collect();
            mean(&shares)
        }
        "availability_at_exp" | "uptime_expected_exp" | "expected_failures_exp" => {
            let (up, down) = (row.number("mttf"), row.number("mttr"));
            let long = row.quantity == "expected_failures_exp";
            let horizon = row.number(if long { "T" } else { "t" });
            let repeats = if long { 10_000 } else { 200_000 };
            let exponential = |length: f64| move |stream: &mut Stream| stream.exponential(length);
            let seen = alternate(horizon, repeats, exponential(up), exponential(down));
            match row.quantity.as_str() {
                "availability_at_exp" => mean(&seen.up_at_end),
                "uptime_expected_exp" => mean(&seen.up_time),
                _ => mean(&seen.ends_of_up),
            }
        }
        "renewal_function_erlang2" => {
            // Renewals with no time between them: the "down" times are over at once.
            let stage = 1.0 / row.number("stage_rate");
            let life = |stream: &mut Stream| stream.exponential(stage) + stream.exponential(stage);
            mean(&alternate(row.number("t"), 100_000, life, |_| 0.0).ends_of_up)
        }
        _ => return None,
    };
    Some(estimate)
}

#[test]
fn queues_catalogue() {
    let mut tally = Tally::default();
    let mut stations = Stations::default();
    for row in common::rows("catalogue/05_queues_renewal.csv") {
        match estimate(&row, &mut stations) {
            Some(estimate) => tally.check_estimate(&row, estimate.value, estimate.standard_error, SIGMAS),
            None => tally.skip(&row, &SKIPPED),
        }
    }
    tally.finish(95);
}
