//! Rain as clustered rectangular pulses: the Bartlett-Lewis process with a cell rate drawn per storm and intensities
//! tied to it.
//!
//! Storms are a Poisson process of rate lambda. Each draws a rate `eta ~ Gamma(alpha, rate nu)`; its window stays open
//! for `Exp(phi eta)`; one cell is born with the storm and more at `kappa eta` while the window is open; a cell lasts
//! `Exp(eta)` and rains with a constant intensity of mean `iota eta`. The rain is the sum over live cells. Short
//! storms are thus heavy and long ones light. Against minute records the untied forms rain half as long as they should.
//!
//! * [`moments`]: what the process does on average, in closed form
//! * [`fixed_rate`]: its classical forms with one rate for all storms
//! * [`series`]: depths per step of one month's process
//! * `storms`: drawing a season

pub mod constants;
pub mod covariance;
pub mod fixed_rate;
pub mod moments;
pub mod series;
pub(super) mod storms;
