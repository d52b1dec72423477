//! Results as text, tables, documents and drawings. Knows results, computes nothing beyond formatting: every figure
//! in a report is a figure of the result. The same result gives the same bytes, always.

pub mod calibrate;
pub mod check;
pub mod compare;
pub mod context;
pub mod csv;
pub mod day;
pub mod folder;
pub mod groups;
pub mod json;
pub mod json_tables;
pub mod lifetime;
pub mod misses;
pub mod number;
pub mod output;
pub mod page;
pub mod plots;
pub mod run_file;
pub mod sensitivity;
pub mod study_file;
pub mod sweep;
pub mod table;
pub mod text;
pub mod tune;
pub mod weather;
pub mod what_if;
pub mod words;
