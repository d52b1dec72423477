//! Colours: Okabe and Ito, "Color Universal Design" (2008), from memory; greys for everything that is not data.
//!
//! The page recolours ink, grid and paper for dark screens by these very values (`page.css`).

use plotters::style::RGBColor;

/// Text and axes.
pub const INK: RGBColor = RGBColor(0x21, 0x25, 0x29);
/// Secondary text.
pub const QUIET: RGBColor = RGBColor(0x5A, 0x64, 0x6E);
/// Grid lines and empty cells.
pub const GRID: RGBColor = RGBColor(0xD5, 0xDA, 0xE0);
/// Background.
pub const PAPER: RGBColor = RGBColor(0xFF, 0xFF, 0xFE);

/// Data colours; bright yellow left out because it vanishes on white.
const SERIES: [RGBColor; 6] = [
    RGBColor(0x00, 0x72, 0xB2), // blue
    RGBColor(0xD5, 0x5E, 0x00), // vermillion
    RGBColor(0x00, 0x9E, 0x73), // bluish green
    RGBColor(0xCC, 0x79, 0xA7), // reddish purple
    RGBColor(0xE6, 0x9F, 0x00), // orange
    RGBColor(0x56, 0xB4, 0xE9), // sky blue
];

/// Colour of the series with this index; they repeat after six.
pub fn series(index: usize) -> RGBColor {
    SERIES[index % SERIES.len()]
}
