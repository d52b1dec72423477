//! Calibration from logs: figures against tables computed elsewhere, known sensors found again, the command.

mod browser_support;
mod common;
mod page_support;

#[path = "calibrate/command.rs"]
mod command;
#[path = "calibrate/known.rs"]
mod known;
#[path = "calibrate/tables.rs"]
mod tables;
