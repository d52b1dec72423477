//! The file a user writes, and the typed, valid thing the rest of the house reads.
//!
//! Loading goes in two steps with one list of problems: what is written ([`document`], [`include`](mod@include), the
//! table of [`keys`]) and what it means. The [`Scenario`] that results is complete and valid; [`print()`] writes it
//! out again.

pub mod assumptions;
pub mod bus;
pub mod care;
pub mod common_cause;
pub mod document;
pub mod door;
pub mod error;
pub mod failure;
pub mod include;
pub mod keys;
pub mod limits;
pub mod load;
mod meaning;
pub mod measure;
pub mod mower;
pub mod objective;
pub mod print;
mod read;
pub mod resolved;
pub mod schema;
pub mod season;
pub mod sensor;
pub mod starter;
pub mod strategy;
pub mod units;
pub mod vary;
pub mod visitor;
pub mod weather;

pub use assumptions::{Assumption, Origin, usual_failures};
pub use error::{Level, Problem, Problems};
pub use load::{Loaded, load};
pub use print::{kind_name, print, weather_part};
pub use resolved::Scenario;
pub use schema::json_schema;
pub use starter::starter;
pub use vary::{Base, Parameter, VaryError};
