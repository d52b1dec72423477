//! Many seasons with a purpose: replications, intervals, decisions.

mod basis;
pub mod check;
pub mod decide;
pub mod interval;
pub mod lifetime;
pub mod result;
pub mod run;
pub mod summary;
pub mod weather_fit;
pub mod weather_summary;
