//! Drawings as SVG, each with the figures behind it as CSV.
//!
//! Colours are those of Okabe and Ito (2008), which people with the common colour-vision deficiencies can tell apart;
//! no drawing relies on colour alone: strategies also differ by position or marker, days by printed numbers.

mod axis;
mod bins;
mod calendar;
pub(super) mod calibrate;
mod canvas;
pub(super) mod cells;
pub(super) mod curves;
mod distribution;
pub mod door;
pub(super) mod forest;
mod hours;
mod intervals;
mod labels;
pub mod life;
mod palette;
mod rows;
pub(super) mod scatter;
mod strips;
mod strokes;
mod thin;
mod waits;
mod weather;
mod weather_fit;

pub use calendar::calendar;
pub use canvas::{escaped, shortened};
pub use distribution::distribution;
pub use hours::hours;
pub use intervals::{drive, rain};
#[cfg(test)]
pub(super) use palette::contrast;
pub use strokes::strokes;
pub use waits::waits;
pub use weather::weather;
pub use weather_fit::agreement;

use plotters::drawing::DrawingAreaErrorKind;

/// A drawing and what it shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// Name of its files, without extension.
    pub name: &'static str,
    /// The drawing: an SVG document.
    pub svg: String,
    /// The figures behind it.
    pub csv: Vec<u8>,
    /// What it shows, for those who can't see it and as its caption.
    pub alt: String,
}

/// A drawing could not be made; a defect of the program, since every result can be drawn.
#[derive(Debug, thiserror::Error)]
#[error("a plot could not be drawn: {0}")]
pub struct PlotError(String);

impl<E: std::error::Error + Send + Sync> From<DrawingAreaErrorKind<E>> for PlotError {
    fn from(error: DrawingAreaErrorKind<E>) -> PlotError {
        PlotError(error.to_string())
    }
}

impl From<std::io::Error> for PlotError {
    fn from(error: std::io::Error) -> PlotError {
        PlotError(error.to_string())
    }
}

impl From<csv::Error> for PlotError {
    fn from(error: csv::Error) -> PlotError {
        PlotError(error.to_string())
    }
}

/// All drawings of a run, in the order of the page.
pub fn all(result: &crate::study::result::RunResult) -> Result<Vec<Figure>, PlotError> {
    Ok(vec![
        distribution(result)?,
        waits(result)?,
        calendar(result)?,
        strokes(result)?,
        hours(result)?,
        rain(result)?,
        drive(result)?,
    ])
}

/// The bytes of a finished table.
pub(super) fn finished(out: csv::Writer<Vec<u8>>) -> Result<Vec<u8>, PlotError> {
    out.into_inner().map_err(|error| PlotError(error.to_string()))
}
