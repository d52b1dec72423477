//! Many seasons with a purpose: replications, intervals, decisions.

mod basis;
pub mod check;
pub mod cma;
pub mod compare;
pub mod decide;
pub mod detectors;
pub mod exact;
pub mod field;
pub mod interval;
pub mod lifetime;
pub mod morris;
pub mod multiple;
pub mod objective;
pub mod paired;
pub mod rare;
pub mod result;
pub mod run;
pub mod selection;
pub mod sensitivity;
pub mod sobol;
pub mod summary;
pub mod sweep;
pub mod tune;
pub mod variance;
pub mod weather_fit;
pub mod weather_summary;
pub mod what_if;
