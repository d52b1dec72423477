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

/// Text on a field of a data colour or tint of it, whatever the page: white if that can be read there, else black. By the contrast that WCAG 2.1 (W3C, 2018) asks of small text, 4.5 to 1; one of the two always has it.
pub fn text_on(field: RGBColor) -> RGBColor {
    const WHITE: RGBColor = RGBColor(0xFF, 0xFF, 0xFF);
    const BLACK: RGBColor = RGBColor(0, 0, 0);
    if contrast(WHITE, field) >= 4.5 { WHITE } else { BLACK }
}

/// Contrast ratio of two colours, 1 to 21 (WCAG 2.1, W3C 2018: definitions of contrast ratio and relative luminance).
pub fn contrast(one: RGBColor, other: RGBColor) -> f64 {
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

fn luminance(RGBColor(red, green, blue): RGBColor) -> f64 {
    let linear = |part: u8| {
        let share = f64::from(part) / 255.0;
        if share <= 0.03928 { share / 12.92 } else { libm::pow((share + 0.055) / 1.055, 2.4) }
    };
    0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
}

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

#[cfg(test)]
mod tests {
    use super::*;

    /// WCAG 2.1's own extremes, and the grey that is the lightest to pass on white (a figure often quoted).
    #[test]
    fn contrast_is_that_of_the_standard() {
        let (black, white) = (RGBColor(0, 0, 0), RGBColor(255, 255, 255));
        assert!((contrast(black, white) - 21.0).abs() < 1e-12);
        assert!((contrast(white, white) - 1.0).abs() < 1e-12);
        assert!(contrast(RGBColor(0x76, 0x76, 0x76), white) >= 4.5);
        assert!(contrast(RGBColor(0x77, 0x77, 0x77), white) < 4.5);
    }

    #[test]
    fn text_can_be_read_on_every_field() {
        for red in (0..=255).step_by(15) {
            for green in (0..=255).step_by(15) {
                for blue in (0..=255).step_by(15) {
                    let field = RGBColor(red as u8, green as u8, blue as u8);
                    assert!(contrast(text_on(field), field) >= 4.5, "{field:?}");
                }
            }
        }
    }
}
