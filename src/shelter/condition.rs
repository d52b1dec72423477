//! Evaluates a strategy's conditions: detectors in, true or false out, with durations.
//!
//! A condition is told when something changed; it answers with its value and with the next moment at which it could
//! change by itself. Pure: nothing but its inputs and its own timers.

use crate::math::time::{Instant, Span};
use crate::scenario::strategy::{BuiltIn, Condition, Evidence, PARTS_MAX};

/// A condition compiled into a flat list, children before parents.
#[derive(Clone, Debug)]
pub struct Evaluator {
    nodes: Vec<Node>,
    /// The detectors that it names.
    named: u64,
    /// Those that a sum of log-odds asks, and those of them that have nothing to say at present.
    weighed: u64,
    silent: u64,
    /// Which of them were on at the last evaluation.
    last: Option<u64>,
    wake: Instant,
    value: bool,
}

#[derive(Clone, Debug)]
enum Node {
    Constant(bool),
    Detector(usize),
    /// At least `.0` of the nodes listed.
    AtLeast(usize, Vec<usize>),
    Not(usize),
    /// Holds where what its terms add reaches `.1` (the prior taken off).
    Sum(Vec<Term>, f64),
    /// Child, span, moment at which the child became true.
    For(usize, Span, Option<Instant>),
    /// Child, span, moment until which it lasts after the child became false, child's last value.
    Lasting(usize, Span, Instant, bool),
}

/// A term of a sum.
#[derive(Clone, Debug)]
struct Term {
    child: usize,
    /// What it adds when true and when false.
    on: f64,
    off: f64,
    /// The detectors that it names.
    named: u64,
}

impl Node {
    /// Its value, those of its children given as bits: durations count as over, and nothing lasts beyond its end. A term all of whose
    /// detectors are `silent` is no evidence, neither for nor against: it adds nothing.
    fn at_last(&self, truth: u128, detectors: u64, silent: u64) -> bool {
        let is = |child: &usize| truth >> child & 1 == 1;
        match self {
            Node::Constant(value) => *value,
            Node::Detector(detector) => detectors >> *detector & 1 == 1,
            Node::AtLeast(least, children) => children.iter().filter(|child| is(child)).count() >= *least,
            Node::Not(child) => !is(child),
            Node::Sum(terms, wanted) => {
                let heard = terms.iter().filter(|term| is_heard(term.named, silent));
                let sum: f64 = heard.map(|term| if is(&term.child) { term.on } else { term.off }).sum();
                sum >= *wanted
            }
            Node::For(child, ..) | Node::Lasting(child, ..) => is(child),
        }
    }
}

impl Evaluator {
    /// Compiles a condition. Everything counts as false before the first evaluation.
    pub fn new(condition: &Condition) -> Evaluator {
        let mut nodes = Vec::new();
        compile(condition, &mut nodes);
        let weighed = nodes.iter().fold(0, |bits, node| match node {
            Node::Sum(terms, _) => terms.iter().fold(bits, |bits, term| bits | term.named),
            _ => bits,
        });
        let named = detectors_of(condition);
        Evaluator { nodes, named, weighed, silent: 0, last: None, wake: Instant::NEVER, value: false }
    }

    /// Says which detectors have nothing to say: their sensor has lost its vote, or no message is believed. Only sums of log-odds
    /// mind; whether this one does.
    pub fn heed_silent(&mut self, detectors: u64) -> bool {
        let silent = detectors & self.weighed;
        if silent == self.silent {
            return false;
        }
        (self.silent, self.last) = (silent, None);
        true
    }

    /// Forgets everything, as before the first evaluation.
    pub fn begin_anew(&mut self) {
        for node in &mut self.nodes {
            match node {
                Node::For(_, _, since) => *since = None,
                Node::Lasting(_, _, until, was) => (*until, *was) = (LONG_AGO, false),
                _ => {}
            }
        }
        (self.last, self.wake, self.value) = (None, Instant::NEVER, false);
    }

    /// The value found by the last evaluation.
    pub fn value(&self) -> bool {
        self.value
    }

    /// When the value may change although no detector does; `Instant::NEVER` if it can't.
    pub fn wake(&self) -> Instant {
        self.wake
    }

    /// Whether it would hold as well if these detectors had been on all along, and no others: durations count as over, and nothing
    /// lasts beyond its end.
    pub fn rests_on(&self, detectors: u64) -> bool {
        let mut truth = 0_u128;
        for (index, node) in self.nodes.iter().enumerate() {
            truth |= u128::from(node.at_last(truth, detectors, self.silent)) << index;
        }
        truth >> (self.nodes.len() - 1) & 1 == 1
    }

    /// Evaluates at `now`; bit d of `detectors` says whether detector d is on.
    pub fn evaluate(&mut self, now: Instant, detectors: u64) -> bool {
        let heard = detectors & self.named;
        if self.last == Some(heard) && now < self.wake {
            // Nothing has changed, and nothing has come of age.
            return self.value;
        }
        self.last = Some(heard);
        let mut truth = 0_u128;
        let mut wake = Instant::NEVER;
        for index in 0..self.nodes.len() {
            let is = |child: &usize| truth >> child & 1 == 1;
            let value = match &mut self.nodes[index] {
                Node::For(child, span, since) => {
                    if is(child) {
                        let ripe = *since.get_or_insert(now) + *span;
                        if now < ripe {
                            wake = wake.min(ripe);
                        }
                        now >= ripe
                    } else {
                        *since = None;
                        false
                    }
                }
                Node::Lasting(child, span, until, was) => {
                    let holds = is(child);
                    if *was && !holds {
                        *until = now + *span;
                    }
                    *was = holds;
                    if !holds && now < *until {
                        wake = wake.min(*until);
                    }
                    holds || now < *until
                }
                node => node.at_last(truth, detectors, self.silent),
            };
            truth |= u128::from(value) << index;
        }
        self.wake = wake;
        self.value = truth >> (self.nodes.len() - 1) & 1 == 1;
        self.value
    }
}

/// Before everything that can happen.
const LONG_AGO: Instant = Instant(i64::MIN / 4);

fn compile(condition: &Condition, nodes: &mut Vec<Node>) -> usize {
    let node = match condition {
        Condition::BuiltIn(BuiltIn::Always) => Node::Constant(true),
        Condition::BuiltIn(BuiltIn::Never) => Node::Constant(false),
        Condition::Detector(detector) => Node::Detector(*detector),
        Condition::Any(children) => Node::AtLeast(1, compile_all(children, nodes)),
        Condition::All(children) => Node::AtLeast(children.len(), compile_all(children, nodes)),
        Condition::AtLeast(least, children) => Node::AtLeast(*least, compile_all(children, nodes)),
        Condition::Not(child) => Node::Not(compile(child, nodes)),
        Condition::LogOdds(sum) => {
            let term = |evidence: &Evidence| {
                let (on, off) = evidence.weights();
                Term { child: compile(&evidence.when, nodes), on, off, named: detectors_of(&evidence.when) }
            };
            Node::Sum(sum.of.iter().map(term).collect(), sum.at_least - sum.prior)
        }
        Condition::For(span, child) => Node::For(compile(child, nodes), *span, None),
        Condition::Lasting(span, child) => Node::Lasting(compile(child, nodes), *span, LONG_AGO, false),
    };
    nodes.push(node);
    assert!(nodes.len() <= PARTS_MAX, "a condition with more than {PARTS_MAX} parts got past the scenario's checks");
    nodes.len() - 1
}

fn compile_all(children: &[Condition], nodes: &mut Vec<Node>) -> Vec<usize> {
    children.iter().map(|child| compile(child, nodes)).collect()
}

/// Whether a term of a sum that names these detectors has anything to say: it does not if all of them are silent.
pub fn is_heard(named: u64, silent: u64) -> bool {
    named == 0 || named & !silent != 0
}

/// Detectors named anywhere in a condition, as bits.
pub fn detectors_of(condition: &Condition) -> u64 {
    match condition {
        Condition::Detector(detector) => 1 << detector,
        Condition::BuiltIn(_) => 0,
        Condition::Any(children) | Condition::All(children) | Condition::AtLeast(_, children) => {
            children.iter().fold(0, |bits, child| bits | detectors_of(child))
        }
        Condition::LogOdds(sum) => sum.of.iter().fold(0, |bits, evidence| bits | detectors_of(&evidence.when)),
        Condition::Not(child) | Condition::For(_, child) | Condition::Lasting(_, child) => detectors_of(child),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::strategy::LogOdds;

    fn at(seconds: f64) -> Instant {
        Instant::from_seconds(seconds)
    }

    #[test]
    fn combinations() {
        let d = Condition::Detector;
        let two_of_three = Condition::AtLeast(2, vec![d(0), d(1), Condition::Not(Box::new(d(2)))]);
        let mut evaluator = Evaluator::new(&two_of_three);
        assert!(!evaluator.evaluate(at(0.0), 0b100));
        assert!(evaluator.evaluate(at(0.0), 0b001));
        assert!(!evaluator.evaluate(at(0.0), 0b101));
        assert!(evaluator.evaluate(at(0.0), 0b111));
        assert!(!Evaluator::new(&Condition::Any(vec![])).evaluate(at(0.0), 0));
        assert_eq!(detectors_of(&two_of_three), 0b111);
    }

    /// Two pieces of evidence of which either alone is not enough, and a prior that decides what is: ln 9 each when on
    /// (0.9 against 0.1), -ln 9 when off.
    #[test]
    fn log_odds_add_up() {
        let piece = |detector| Evidence { when: Condition::Detector(detector), present: 0.9, absent: 0.1 };
        let sum =
            |prior| Evaluator::new(&Condition::LogOdds(LogOdds { at_least: 0.0, prior, of: vec![piece(0), piece(1)] }));
        let nine = 9.0_f64.ln();
        let holds = |prior: f64| [0, 1, 2, 3].map(|detectors| sum(prior).evaluate(at(0.0), detectors));
        assert_eq!(holds(-1.99 * nine), [false, false, false, true]);
        assert_eq!(holds(-2.01 * nine), [false; 4]);
        assert_eq!(holds(0.01), [false, true, true, true]);
        assert_eq!(holds(2.01 * nine), [true; 4]);
    }

    /// Who has nothing to say is no evidence against: ln 9 from the one that is on decides as if it were alone, also where a silent
    /// one is asked for with a `not`. Other conditions take the silent one as off.
    #[test]
    fn silence_is_no_evidence() {
        let piece = |when| Evidence { when, present: 0.9, absent: 0.1 };
        let d = Condition::Detector;
        let nine = 9.0_f64.ln();
        for (second, wanted) in [(d(1), nine - 0.01), (Condition::Not(Box::new(d(1))), 2.0 * nine - 0.01)] {
            let sum = LogOdds { at_least: wanted, prior: 0.0, of: vec![piece(d(0)), piece(second.clone())] };
            let mut evaluator = Evaluator::new(&Condition::LogOdds(sum));
            let before = evaluator.evaluate(at(0.0), 1);
            assert_eq!(before, second != d(1));
            assert!(evaluator.heed_silent(0b10) && !evaluator.heed_silent(0b110));
            assert_eq!(evaluator.evaluate(at(0.0), 1), second == d(1));
            assert_eq!(evaluator.rests_on(1), second == d(1));
            assert!(!evaluator.evaluate(at(0.0), 0));
            assert!(evaluator.heed_silent(0));
            assert_eq!(evaluator.evaluate(at(0.0), 1), before);
        }
        let mut any = Evaluator::new(&Condition::Not(Box::new(d(1))));
        assert!(any.evaluate(at(0.0), 0) && !any.heed_silent(0b10));
    }

    #[test]
    fn for_waits_and_forgets() {
        let mut evaluator = Evaluator::new(&Condition::For(Span::from_seconds(2.0), Box::new(Condition::Detector(0))));
        assert!(!evaluator.evaluate(at(1.0), 1));
        assert_eq!(evaluator.wake(), at(3.0));
        assert!(!evaluator.evaluate(at(2.0), 0));
        assert_eq!(evaluator.wake(), Instant::NEVER);
        assert!(!evaluator.evaluate(at(2.5), 1));
        assert!(!evaluator.evaluate(at(4.4), 1));
        assert!(evaluator.evaluate(at(4.5), 1));
    }

    /// Beginning anew leaves nothing behind: from then on it goes the way of a fresh one.
    #[test]
    fn beginning_anew_forgets_all_that_was() {
        let detector = || Box::new(Condition::Detector(0));
        let condition = Condition::AtLeast(
            2,
            vec![
                Condition::For(Span::from_seconds(2.0), detector()),
                Condition::Lasting(Span::from_seconds(3.0), detector()),
                Condition::Not(detector()),
            ],
        );
        let script = [(0.0, 1), (1.0, 1), (2.5, 0), (4.0, 0), (6.0, 1), (9.0, 1), (9.5, 0)];
        let mut evaluator = Evaluator::new(&condition);
        script.iter().for_each(|(seconds, detectors)| {
            evaluator.evaluate(at(*seconds), *detectors);
        });
        evaluator.begin_anew();
        let mut fresh = Evaluator::new(&condition);
        assert_eq!((evaluator.value(), evaluator.wake()), (fresh.value(), fresh.wake()));
        for (seconds, detectors) in script {
            let now = at(10.0 + seconds);
            assert_eq!(evaluator.evaluate(now, detectors), fresh.evaluate(now, detectors), "{seconds}");
            assert_eq!(evaluator.wake(), fresh.wake(), "{seconds}");
        }
    }

    #[test]
    fn lasting_outlives_its_cause() {
        let mut evaluator =
            Evaluator::new(&Condition::Lasting(Span::from_seconds(3.0), Box::new(Condition::Detector(0))));
        assert!(!evaluator.evaluate(at(0.0), 0));
        assert!(evaluator.evaluate(at(1.0), 1));
        assert!(evaluator.evaluate(at(5.0), 0));
        assert_eq!(evaluator.wake(), at(8.0));
        assert!(evaluator.evaluate(at(7.9), 0));
        assert!(!evaluator.evaluate(at(8.0), 0));
    }
}
