//! Reads the check tables: CSV with `#` comments, a header, and for the catalogue `key=value;key=value` inputs.
#![allow(dead_code)]

use std::collections::BTreeMap;
use std::path::PathBuf;

/// One row, by column name.
pub type Row = BTreeMap<String, String>;

/// The file `name` below `tests/data`.
pub fn data(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name)
}

/// All rows of a table.
pub fn rows(name: &str) -> Vec<Row> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(data(name)).expect(name);
    let rows: Vec<Row> = reader.deserialize().map(|row| row.expect(name)).collect();
    assert!(!rows.is_empty(), "{name} is empty");
    rows
}

/// A numeric column.
pub fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|_| panic!("{column} of {row:?}"))
}

/// The `inputs` column, split.
pub fn inputs(row: &Row) -> BTreeMap<&str, &str> {
    row["inputs"].split(';').filter_map(|pair| pair.split_once('=')).collect()
}
