//! Missing-value codes that could be values: which of them are.
//!
//! A number such as 999 in a column of temperatures can only be a code. In a column of irradiance it may be a value, and so
//! may 99.9 of rain, wind or gusts. Two things tell: a code stands apart (at least as far from the nearest other value as
//! the other values are from each other), or it piles up (three times at least, and more often than all values within 5 %
//! of it together, where measured values would thin out smoothly).

use super::observed::ObservedRow;

/// A value that is written like a code.
#[derive(Clone, Copy, Debug)]
pub(super) struct Candidate {
    /// Its column.
    pub column: usize,
    /// As written.
    pub code: f64,
    /// In the program's unit.
    pub value: f64,
    /// Its line.
    pub line: u64,
}

/// How often a code must be there to pile up.
const PILE: usize = 3;

/// Values so near, relatively, should be about as frequent.
const NEAR: f64 = 0.05;

/// Takes the candidates that are codes out of the rows and returns them; `lines` are those of the rows, ascending.
pub(super) fn take(rows: &mut [ObservedRow], lines: &[u64], candidates: &[Candidate]) -> Vec<Candidate> {
    let mut codes: Vec<Candidate> = Vec::new();
    let mut kinds: Vec<Candidate> = Vec::new();
    for one in candidates {
        if !kinds.iter().any(|kind| (kind.column, kind.code) == (one.column, one.code)) {
            kinds.push(*one);
        }
    }
    for kind in kinds {
        let written = |row: usize| {
            let there = candidates.partition_point(|one| one.line < lines[row]);
            let mut same = candidates[there..].iter().take_while(|one| one.line == lines[row]);
            same.any(|one| one.column == kind.column)
        };
        let others: Vec<f64> =
            (0..rows.len()).filter_map(|row| rows[row].values()[kind.column].filter(|_| !written(row))).collect();
        let these: Vec<&Candidate> =
            candidates.iter().filter(|one| (one.column, one.code) == (kind.column, kind.code)).collect();
        if apart(kind.value, &others) || piles_up(kind.value, these.len(), &others) {
            codes.extend(these);
        }
    }
    for code in &codes {
        // A row that was left out as a repeat is not there.
        if let Ok(row) = lines.binary_search(&code.line) {
            let mut values = rows[row].values();
            values[code.column] = None;
            rows[row] = ObservedRow::of(rows[row].unix_us, values);
        }
    }
    codes
}

fn apart(value: f64, others: &[f64]) -> bool {
    let (low, high) = others.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(*x), b.max(*x)));
    let nearest = others.iter().map(|other| (other - value).abs()).fold(f64::INFINITY, f64::min);
    nearest > 0.0 && nearest >= high - low
}

fn piles_up(value: f64, count: usize, others: &[f64]) -> bool {
    let near = others.iter().filter(|other| (**other - value).abs() <= NEAR * value.abs()).count();
    count >= PILE && count > near
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn apart_or_piled_up() {
        let bright: Vec<f64> = (0..=1_050).map(f64::from).collect();
        assert!(!apart(999.0, &bright) && !piles_up(999.0, 60, &bright) && piles_up(999.0, 120, &bright));
        assert!(!piles_up(999.0, 2, &[1.0, 500.0]));
        assert!(apart(99.9, &[0.0, 20.8]) && !apart(99.9, &[0.0, 60.0]) && apart(-99.0, &[10.0, 95.0]));
        // A column of nothing else.
        assert!(apart(99.0, &[]) && apart(99.0, &[0.0]));
    }
}
