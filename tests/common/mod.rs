//! Reads the tables of outside values under `tests/data` and keeps the score of a test that works through one.

#![allow(dead_code, reason = "each test binary uses its own part of this module")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// One line of any table: column name to text.
pub type Record = BTreeMap<String, String>;

/// The file `path` below `tests/data`.
pub fn data(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(path)
}

/// The lines of `tests/data/<path>`, comment lines left out. Fails when there are none.
pub fn records(path: &str) -> Vec<Record> {
    let file = data(path);
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(&file).expect("the table can be opened");
    let records: Vec<Record> = reader.deserialize().map(|row| row.expect("the table is well formed")).collect();
    assert!(!records.is_empty(), "{path} holds no rows");
    records
}

/// A column of a line as a number.
#[track_caller]
pub fn number(record: &Record, column: &str) -> f64 {
    record[column].parse().unwrap_or_else(|_| panic!("{column} = {:?} is not a number in {record:?}", record[column]))
}

/// The `inputs` column of a line, split.
pub fn inputs(record: &Record) -> BTreeMap<&str, &str> {
    record["inputs"].split(';').filter_map(|pair| pair.split_once('=')).collect()
}

/// One value of a catalogue table, with the tolerance it asks for.
#[derive(Clone, Debug)]
pub struct Row {
    /// Identification in the table.
    pub id: String,
    /// What the value is.
    pub quantity: String,
    /// Arguments by name.
    pub inputs: Record,
    /// The value.
    pub expected: f64,
    /// Absolute tolerance.
    pub tolerance_abs: f64,
    /// Tolerance relative to the value.
    pub tolerance_rel: f64,
}

impl Row {
    /// An argument as a number.
    pub fn number(&self, key: &str) -> f64 {
        parse(&self.id, self.text(key))
    }

    /// An argument as a whole number.
    pub fn whole(&self, key: &str) -> u64 {
        let number = self.number(key);
        assert!(number >= 0.0 && number.fract() == 0.0, "{}: {key} is not a whole number", self.id);
        number as u64
    }

    /// An argument as text.
    pub fn text(&self, key: &str) -> &str {
        self.inputs.get(key).unwrap_or_else(|| panic!("{}: no input {key}", self.id))
    }

    /// An argument as a list of numbers.
    pub fn list(&self, key: &str) -> Vec<f64> {
        self.text(key).split('|').map(|item| parse(&self.id, item)).collect()
    }

    /// Half width of the band the table allows.
    pub fn tolerance(&self) -> f64 {
        self.tolerance_abs.max(self.tolerance_rel * self.expected.abs())
    }
}

fn parse(id: &str, text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{id}: {text:?} is not a number"))
}

/// The rows of a catalogue table.
pub fn rows(path: &str) -> Vec<Row> {
    let row = |record: Record| {
        let id = record["id"].clone();
        let or_zero = |key: &str| if record[key].is_empty() { 0.0 } else { parse(&id, &record[key]) };
        let inputs = record["inputs"].split(';').map(|pair| {
            let (key, value) = pair.split_once('=').unwrap_or_else(|| panic!("{id}: input {pair:?} has no value"));
            (key.to_owned(), value.to_owned())
        });
        Row {
            quantity: record["quantity"].clone(),
            inputs: inputs.collect(),
            expected: parse(&id, &record["expected"]),
            tolerance_abs: or_zero("tol_abs"),
            tolerance_rel: or_zero("tol_rel"),
            id,
        }
    };
    records(path).into_iter().map(row).collect()
}

/// Score of a test that works through a table: all failures are shown, not only the first.
#[derive(Debug, Default)]
pub struct Tally {
    checked: usize,
    skipped: usize,
    failures: Vec<String>,
}

impl Tally {
    /// Holds a computed value to the row's own tolerance.
    pub fn check(&mut self, row: &Row, got: f64) {
        self.check_within(&row.id, &format!("{} {:?}", row.quantity, row.inputs), got, row.expected, row.tolerance());
    }

    /// Holds a Monte Carlo estimate to the row within `sigmas` of the estimate's own standard error.
    pub fn check_estimate(&mut self, row: &Row, got: f64, standard_error: f64, sigmas: f64) {
        let what = format!("{} {:?} (standard error {standard_error:e})", row.quantity, row.inputs);
        // An estimate without spread would make any band empty or, if it were NaN, any comparison void.
        assert!(standard_error > 0.0 && standard_error.is_finite(), "{}: {what}", row.id);
        self.check_within(&row.id, &what, got, row.expected, sigmas * standard_error);
    }

    /// Holds a value to an expected one within `tolerance`.
    pub fn check_within(&mut self, id: &str, what: &str, got: f64, expected: f64, tolerance: f64) {
        self.checked += 1;
        // In this order, so that NaN fails.
        let passes = (got - expected).abs() <= tolerance;
        if !passes {
            let off = got - expected;
            self.failures
                .push(format!("{id} {what}: got {got:e}, expected {expected:e} +- {tolerance:e}, off {off:e}"));
        }
    }

    /// Leaves a row out if its quantity is among `reasons`; any other is an unknown quantity.
    pub fn skip(&mut self, row: &Row, reasons: &[(&str, &str)]) {
        let known = reasons.iter().any(|(quantity, _)| *quantity == row.quantity);
        assert!(known, "{}: nothing computes {:?} and nothing says why not", row.id, row.quantity);
        self.skipped += 1;
    }

    /// Fails if a check has failed, or if not exactly `checked` values were held to the table.
    pub fn finish(self, checked: usize) {
        assert!(self.failures.is_empty(), "{} failures:\n{}", self.failures.len(), self.failures.join("\n"));
        assert_eq!(self.checked, checked, "values checked ({} rows skipped)", self.skipped);
    }
}
