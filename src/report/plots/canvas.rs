//! A sheet to draw on, and text on it. Sizes are pixels of the drawing.

use plotters::chart::MeshStyle;
use plotters::coord::Shift;
use plotters::coord::ranged1d::ValueFormatter;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::PlotError;
use super::palette::{GRID, INK, PAPER, QUIET};

/// The whole sheet or a part of it.
pub type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

/// Font size of ordinary text.
pub const TEXT: f64 = 12.0;
/// Height of the heading that [`sheet`] draws.
pub const HEADING: u32 = 52;

/// How a text is set.
#[derive(Clone, Copy)]
pub struct Setting {
    /// Font size.
    pub size: f64,
    /// Colour.
    pub color: RGBColor,
    /// Where the given point lies along the text.
    pub across: HPos,
    /// Where it lies in its height.
    pub upright: VPos,
}

/// Ordinary text, the point at its left and at half its height.
pub const PLAIN: Setting = Setting { size: TEXT, color: INK, across: HPos::Left, upright: VPos::Center };

/// An SVG document of `size` with a heading of two lines; `draw` gets the sheet below it.
pub fn sheet(
    size: (u32, u32),
    title: &str,
    subtitle: &str,
    draw: impl FnOnce(&Area) -> Result<(), PlotError>,
) -> Result<String, PlotError> {
    let mut svg = String::new();
    {
        let root = SVGBackend::with_string(&mut svg, size).into_drawing_area();
        root.fill(&PAPER)?;
        let room = size.0 as usize - 24;
        text(&root, &shortened(title, room, 16.0), (12, 17), Setting { size: 16.0, ..PLAIN })?;
        text(&root, &shortened(subtitle, room, TEXT), (12, 38), Setting { color: QUIET, ..PLAIN })?;
        draw(&root.margin(HEADING, 0, 0, 0))?;
        root.present()?;
    }
    // A title inside the document names it for those who hear it, and shows when the pointer rests on it.
    let title = format!("<title>{}</title>\n", escaped(title));
    if let Some(end) = svg.find(">\n") {
        svg.insert_str(end + 2, &title);
    }
    Ok(svg)
}

/// Text of a tick. The axes place ticks by repeated addition: what is nothing beside the axis' `span` is 0, and rounding
/// errors are taken away.
pub fn tick(value: f64, span: f64) -> String {
    let fine = 1e-9 * span.abs();
    let value = if value.abs() <= fine { 0.0 } else { format!("{value:.9e}").parse().unwrap_or(value) };
    crate::report::number::chosen(value)
}

/// Writes `words` at `at`.
pub fn text(area: &Area, words: &str, at: (i32, i32), setting: Setting) -> Result<(), PlotError> {
    let style = font(setting.size).color(&setting.color).pos(Pos::new(setting.across, setting.upright));
    Ok(area.draw(&Text::new(words.to_string(), at, style))?)
}

/// The font for a text of `size` pixels. The SVG backend divides sizes by 1.24.
pub fn font(size: f64) -> FontDesc<'static> {
    ("sans-serif", size * 1.24).into_font()
}

/// Axes, grid and their texts as all charts have them.
pub fn dressed<'m, 'a, 'b, X, Y, DB>(mesh: &'m mut MeshStyle<'a, 'b, X, Y, DB>) -> &'m mut MeshStyle<'a, 'b, X, Y, DB>
where
    X: Ranged<ValueType = f64> + ValueFormatter<f64>,
    Y: Ranged<ValueType = f64> + ValueFormatter<f64>,
    DB: DrawingBackend,
{
    mesh.axis_style(INK)
        .bold_line_style(GRID)
        .label_style(font(11.0).color(&INK))
        .axis_desc_style(font(TEXT).color(&INK))
}

/// `words` cut so that it fits about `room` pixels at font size `size`.
pub fn shortened(words: &str, room: usize, size: f64) -> String {
    // Sans-serif text averages about 0.55 of its font size per character (common practice); no font is measured, so
    // that drawings don't depend on the fonts installed.
    let most = (room as f64 / (0.55 * size)) as usize;
    if words.chars().count() <= most {
        return words.to_string();
    }
    let kept: String = words.chars().take(most.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

/// `words` for use in XML text and attributes; characters that XML forbids are dropped.
pub fn escaped(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for letter in words.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other if other.is_control() && other != '\n' && other != '\t' => {}
            other => out.push(other),
        }
    }
    out
}
