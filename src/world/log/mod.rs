//! Logs that a builder writes on site: a sensor on something that stands still, and passes with what passed.
//!
//! Both are CSV with a header; lines that begin with `#` are comments, a byte-order mark is ignored, other columns are
//! ignored with a warning. Everything that is wrong is listed with its line before anything is computed.

mod error;
mod passes;
mod still;
mod table;
pub mod text_file;

pub use error::{LogError, Problem, ProblemKind};
pub use passes::{PassLog, read_passes};
pub use still::{GOOD, LEAST, LogRow, StillLog, read_still};
