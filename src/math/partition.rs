//! States of a machine that can't be told apart.

use std::collections::HashMap;
use std::hash::Hash;

/// The class of each of `states` states, numbered in order of their first: two are of one class if `signature` (what a state shows, and
/// the classes that it leads to) is the same for both, by refining one class of all until it keeps (E. F. Moore,
/// "Gedanken-experiments on sequential machines", 1956).
pub fn alike<S: Hash + Eq>(states: usize, signature: impl Fn(usize, &[u32]) -> S) -> Vec<u32> {
    let mut class = vec![0_u32; states];
    let mut count = states.min(1);
    loop {
        let mut found = HashMap::new();
        let refined = (0..states).map(|state| {
            let next = found.len() as u32;
            *found.entry((class[state], signature(state, &class))).or_insert(next)
        });
        class = refined.collect();
        if found.len() == count {
            return class;
        }
        count = found.len();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Counters modulo 6 that show whether they stand at an even number: two states.
    #[test]
    fn counters() {
        let even = |state: usize, class: &[u32]| (state.is_multiple_of(2), class[(state + 1) % 6]);
        assert_eq!(alike(6, even), [0, 1, 0, 1, 0, 1]);
        // One that shows where it is at nought: all six.
        let nought = |state: usize, class: &[u32]| (state == 0, class[(state + 1) % 6]);
        assert_eq!(alike(6, nought), [0, 1, 2, 3, 4, 5]);
        assert_eq!(alike(3, |_, _| ()), [0, 0, 0]);
        assert!(alike(0, |_, _| ()).is_empty());
    }
}
