//! A panel of strips: one row of bars per strategy above a common axis, so that strategies differ by place as well as
//! by colour.

use plotters::element::{PathElement, Rectangle};
use plotters::style::text_anchor::{HPos, VPos};
use plotters::style::{Color, IntoTextStyle};

use super::PlotError;
use super::axis;
use super::bins::nice;
use super::canvas::{self, Area, PLAIN, Setting};
use super::palette::{INK, QUIET, series};
use super::rows::{self, Frame};

/// Height of one strip.
const STRIP: u32 = 56;
/// Room above the strips (title) and below (tick labels and axis name).
const ABOVE: u32 = 26;
const BELOW: u32 = 46;
/// Room left of the strips for the share's ticks and name.
const LEFT: u32 = 62;
/// Part of a strip's height that bars may fill; the strategy's name stands above.
const BARS: f64 = 0.66;

/// A bar from one value to another.
pub struct Bar {
    /// Left edge.
    pub from: f64,
    /// Right edge.
    pub to: f64,
    /// Height, 0 to 1.
    pub share: f64,
}

/// One strategy's bars.
pub struct Strip {
    /// Name, written above the bars.
    pub name: String,
    /// Bars; none if there is nothing to count.
    pub bars: Vec<Bar>,
    /// A value to mark with a dark line.
    pub mark: Option<f64>,
}

/// Strips over a common axis.
pub struct Panel {
    /// Title.
    pub title: String,
    /// Name of the axis with unit.
    pub axis: String,
    /// Of what the bars are a share, e.g. `share of seasons`.
    pub share_of: &'static str,
    /// Range of the axis.
    pub range: (f64, f64),
    /// Ticks, where others than round numbers serve.
    pub ticks: Option<Vec<f64>>,
    /// Whether only whole numbers make sense on the axis.
    pub whole: bool,
    /// Strips from top to bottom.
    pub strips: Vec<Strip>,
}

impl Strip {
    /// A strip called `name`, cut so that what is `told` of it fits behind it into half a sheet.
    pub fn told(name: &str, told: &str, bars: Vec<Bar>) -> Strip {
        // What a panel of two side by side has for the name, pixels at font size 11.
        let room = 400_usize.saturating_sub((0.55 * 11.0 * (told.chars().count() + 2) as f64) as usize);
        Strip { name: format!("{}: {told}", canvas::shortened(name, room, 11.0)), bars, mark: None }
    }
}

/// Height of a panel with this many strips.
pub fn height(strips: usize) -> u32 {
    ABOVE + BELOW + STRIP * strips.max(2) as u32
}

/// Draws a panel over the whole area.
pub fn draw(area: &Area, panel: &Panel) -> Result<(), PlotError> {
    let (width, height) = area.dim_in_pixel();
    let room = (width - LEFT) as usize;
    let strips = panel.strips.len().max(1) as f64;
    let tallest = panel.strips.iter().flat_map(|strip| &strip.bars).map(|bar| bar.share).fold(0.0, f64::max);
    let top = if tallest > 0.1 { (tallest * 10.0).ceil() / 10.0 } else { nice(tallest) };
    let mut chart = rows::frame(
        area,
        &Frame {
            title: &panel.title,
            title_at: (LEFT as i32, 12),
            room: [LEFT, ABOVE, 14, BELOW],
            range: panel.range,
            rows: strips,
            axis: &panel.axis,
            ticks: panel.ticks.clone().unwrap_or_else(|| axis::few(panel.range, 7)),
            tick: &|value| tick(*value, panel.whole),
        },
    )?;
    for (index, strip) in panel.strips.iter().enumerate() {
        let base = strips - 1.0 - index as f64;
        let level = |share: f64| base + BARS * share / top;
        let color = series(index);
        chart.draw_series(strip.bars.iter().filter(|bar| bar.share > 0.0).map(|bar| {
            let gap = (bar.to - bar.from) * 0.06;
            Rectangle::new([(bar.from + gap, base), (bar.to - gap, level(bar.share))], color.filled())
        }))?;
        chart.draw_series([PathElement::new(vec![(panel.range.0, base), (panel.range.1, base)], INK)])?;
        if let Some(mark) = strip.mark {
            chart.draw_series([PathElement::new(vec![(mark, base), (mark, level(top))], INK.stroke_width(2))])?;
        }
        let row = (height - ABOVE - BELOW) as f64 / strips;
        let foot = ABOVE as f64 + row * (index + 1) as f64;
        let small = Setting { size: 10.0, color: QUIET, across: HPos::Right, upright: VPos::Center };
        canvas::text(area, "0", (LEFT as i32 - 5, foot as i32 - 4), small)?;
        let full = format!("{} %", crate::report::number::significant(top * 100.0, 2));
        canvas::text(area, &full, (LEFT as i32 - 5, (foot - BARS * row) as i32), small)?;
        let name = canvas::shortened(&strip.name, room - 8, 11.0);
        let name_at = (LEFT as i32 + 4, (foot - row * 0.86) as i32);
        canvas::text(area, &name, name_at, Setting { size: 11.0, ..PLAIN })?;
        if strip.bars.is_empty() {
            let middle = (LEFT as i32 + room as i32 / 2, (foot - row * 0.3) as i32);
            canvas::text(area, "nothing to count", middle, Setting { across: HPos::Center, color: QUIET, ..PLAIN })?;
        }
    }
    upright_text(area, panel.share_of, (12, (ABOVE + (height - ABOVE - BELOW) / 2) as i32))
}

/// Text that reads upwards, centred on `at`.
fn upright_text(area: &Area, words: &str, at: (i32, i32)) -> Result<(), PlotError> {
    use plotters::style::FontTransform;
    use plotters::style::text_anchor::Pos;
    let font = canvas::font(11.0).transform(FontTransform::Rotate270).color(&INK);
    let style = font.into_text_style(area).pos(Pos::new(HPos::Center, VPos::Center));
    Ok(area.draw(&plotters::element::Text::new(words.to_string(), at, style))?)
}

/// Text of a tick; nothing at fractions where only whole numbers make sense.
fn tick(value: f64, whole: bool) -> String {
    // The axis places ticks by repeated addition: take its rounding errors away.
    let value = (value * 1e9).round() / 1e9;
    if whole && value.fract() != 0.0 {
        return String::new();
    }
    crate::report::number::chosen(value)
}
