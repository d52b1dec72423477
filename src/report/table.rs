//! A table of a report: which cells it has, which fields of which file they show, and how it is set as text: in aligned
//! columns, the first one wrapped so that the rest fits the width, or as sentences for a screen reader.
//!
//! `page::table` sets the same table as HTML.

use super::number::{GLUE, WITHHELD, exact, exact_or_empty};
use super::text::Setting;

/// Narrowest first column that wrapping may produce.
const FIRST_AT_LEAST: usize = 12;

/// Longest word of a heading that a column is widened for.
const WORD_MOST: usize = 12;

/// Narrowest width to which a heading is wrapped.
const HEADING_AT_LEAST: usize = 8;

/// One cell: its text and the fields of a file that it shows, each by its column's name and exactly as the file has it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cell {
    /// Its text.
    pub text: String,
    /// Fields behind it.
    pub fields: Vec<(String, String)>,
    /// What a screen reader is told instead, where the text is a sign that a legend explains.
    pub said: Option<String>,
}

impl Cell {
    /// A text.
    pub fn new(text: impl Into<String>) -> Cell {
        Cell { text: text.into(), fields: Vec::new(), said: None }
    }

    /// A screen reader is told `words` instead of the text.
    pub fn said(mut self, words: impl Into<String>) -> Cell {
        self.said = Some(words.into());
        self
    }

    /// Also shows the field `value` of column `column`.
    pub fn field(mut self, column: impl Into<String>, value: impl Into<String>) -> Cell {
        self.fields.push((column.into(), value.into()));
        self
    }

    /// Also shows a figure.
    pub fn figure(self, column: impl Into<String>, value: f64) -> Cell {
        self.field(column, exact(value))
    }

    /// Also shows a figure that may be withheld.
    pub fn perhaps(self, column: impl Into<String>, value: Option<f64>) -> Cell {
        self.field(column, exact_or_empty(value))
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Cell {
        Cell::new(text)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Cell {
        Cell::new(text)
    }
}

/// One row: the key of the file's row that it shows, empty if there is none, and its cells.
#[derive(Clone, Debug)]
pub struct Row {
    /// Values of the file's key columns.
    pub key: Vec<String>,
    /// The cells.
    pub cells: Vec<Cell>,
}

/// A table; the first column is text (left), the others are figures (right) unless said otherwise.
#[derive(Clone, Debug)]
pub struct Table {
    /// Headings.
    pub headings: Vec<String>,
    /// Whether each column is text.
    pub left: Vec<bool>,
    /// Rows.
    pub rows: Vec<Row>,
    /// File whose figures it shows, and the columns that tell the file's rows apart.
    pub file: Option<(String, Vec<String>)>,
}

impl Table {
    /// An empty table with the given headings.
    pub fn new(headings: &[&str]) -> Table {
        let left = (0..headings.len()).map(|column| column == 0).collect();
        Table { headings: headings.iter().map(ToString::to_string).collect(), left, rows: Vec::new(), file: None }
    }

    /// Puts another heading over the first column.
    pub fn headed(mut self, heading: &str) -> Table {
        if let Some(first) = self.headings.first_mut() {
            *first = heading.to_string();
        }
        self
    }

    /// Aligns a column to the left.
    pub fn left(mut self, column: usize) -> Table {
        self.left[column] = true;
        self
    }

    /// Its figures are those of `file`, whose rows are told apart by the columns `keys`.
    pub fn of(mut self, file: impl Into<String>, keys: &[&str]) -> Table {
        self.file = Some((file.into(), keys.iter().map(ToString::to_string).collect()));
        self
    }

    /// Adds a row; a line break in a cell makes the row taller.
    pub fn row<C: Into<Cell>>(&mut self, cells: Vec<C>) {
        self.keyed(Vec::new(), cells.into_iter().map(Into::into).collect());
    }

    /// Adds a row that shows the file's row with these key values.
    pub fn keyed(&mut self, key: Vec<String>, cells: Vec<Cell>) {
        debug_assert_eq!(cells.len(), self.headings.len(), "a row has one cell per heading");
        self.rows.push(Row { key, cells });
    }

    /// Width of the table's columns after the first, with the narrowest gaps.
    pub fn width_of_figures(&self) -> usize {
        (1..self.headings.len()).map(|column| self.column_width(column) + 1).sum()
    }

    /// The table's lines, each ended by a line break, none with trailing spaces. Wider than the setting's width only if
    /// the figures alone don't fit.
    pub fn render(&self, setting: Setting) -> String {
        if setting.plain { self.sentences() } else { self.columns(setting.width) }
    }

    /// One sentence per row, each cell behind its heading, that of the first column, too: it may be all that says what the
    /// row is of. What is empty or withheld is left out.
    fn sentences(&self) -> String {
        let told = |(heading, cell): (&String, &Cell)| {
            let text = cell.said.as_ref().unwrap_or(&cell.text);
            plain(&format!("{heading} {}", text.replace('\n', " "))).trim().to_string()
        };
        let mut out = String::new();
        for row in &self.rows {
            let mut cells = self.headings.iter().zip(&row.cells);
            let name = cells.next().map(told).unwrap_or_default();
            let there = cells.filter(|(_, cell)| !cell.text.trim().is_empty() && cell.text != WITHHELD);
            let parts: Vec<String> = there.map(told).collect();
            out.push_str(&if parts.is_empty() { name } else { format!("{name}: {}.", parts.join("; ")) });
            out.push('\n');
        }
        out
    }

    fn columns(&self, width: usize) -> String {
        let mut widths: Vec<usize> = (0..self.headings.len()).map(|column| self.column_width(column)).collect();
        let figures: usize = widths[1..].iter().sum();
        let gaps = widths.len() - 1;
        let gap = if figures + 2 * gaps + widths[0].min(24) <= width { 2 } else { 1 };
        widths[0] = widths[0].min(width.saturating_sub(figures + gap * gaps).max(FIRST_AT_LEAST));
        let mut out = String::new();
        self.line_up(&self.headings, &widths, gap, true, &mut out);
        let rules: Vec<String> = widths.iter().map(|&width| "-".repeat(width)).collect();
        self.line_up(&rules, &widths, gap, false, &mut out);
        for row in &self.rows {
            let texts: Vec<&str> = row.cells.iter().map(|cell| cell.text.as_str()).collect();
            self.line_up(&texts, &widths, gap, false, &mut out);
        }
        out
    }

    /// Width that the cells of a column ask for.
    fn column_width(&self, column: usize) -> usize {
        let lines = self.rows.iter().flat_map(|row| row.cells[column].text.lines()).map(length);
        let body = lines.max().unwrap_or(0);
        let heading = &self.headings[column];
        if column == 0 {
            return body.max(length(heading));
        }
        // No word of a heading is taken apart unless it is very long.
        let word = heading.split(' ').map(length).max().unwrap_or(0).min(WORD_MOST);
        let heading = wrap(heading, body.max(HEADING_AT_LEAST).max(word)).iter().map(|line| length(line)).max();
        body.max(heading.unwrap_or(0))
    }

    /// Writes one row of cells; headings stand on the row's last line.
    fn line_up<T: AsRef<str>>(&self, cells: &[T], widths: &[usize], gap: usize, at_bottom: bool, out: &mut String) {
        let blocks: Vec<Vec<String>> =
            cells.iter().zip(widths).map(|(cell, &width)| wrap(cell.as_ref(), width)).collect();
        let height = blocks.iter().map(Vec::len).max().unwrap_or(0);
        for line in 0..height {
            let mut text = String::new();
            for (column, block) in blocks.iter().enumerate() {
                let above = if at_bottom { height - block.len() } else { 0 };
                let part = line.checked_sub(above).and_then(|line| block.get(line)).map_or("", String::as_str);
                let padding = " ".repeat(widths[column].saturating_sub(length(part)));
                if column > 0 {
                    text.push_str(&" ".repeat(gap));
                }
                if self.left[column] {
                    text.push_str(part);
                    text.push_str(&padding);
                } else {
                    text.push_str(&padding);
                    text.push_str(part);
                }
            }
            out.push_str(text.trim_end());
            out.push('\n');
        }
    }
}

/// Breaks `text` into lines of at most `width` characters, between words where possible; no-break spaces hold words
/// together and come out as plain spaces.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = Vec::new();
    for paragraph in text.split('\n') {
        let mut line = String::new();
        for word in paragraph.split(' ').filter(|word| !word.is_empty()) {
            let mut rest: Vec<char> = word.chars().collect();
            if !line.is_empty() && length(&line) + 1 + rest.len() > width {
                lines.push(plain(&line));
                line.clear();
            }
            while rest.len() > width {
                // After a hyphen, if one fits.
                let hyphen = rest[..width].iter().rposition(|letter| *letter == '-').filter(|at| *at > 0);
                let tail = rest.split_off(hyphen.map_or(width, |at| at + 1));
                lines.push(plain(&rest.into_iter().collect::<String>()));
                rest = tail;
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.extend(rest);
        }
        lines.push(plain(&line));
    }
    lines
}

/// `text` wrapped to `width`, its first line after `first`, the others indented as far.
pub fn hang(first: &str, text: &str, width: usize) -> String {
    let indent = length(first);
    let mut out = String::new();
    for (index, line) in wrap(text, width.saturating_sub(indent)).iter().enumerate() {
        let lead = if index == 0 { first.to_string() } else { " ".repeat(indent) };
        out.push_str(format!("{lead}{line}").trim_end());
        out.push('\n');
    }
    out
}

/// `text` with plain spaces only.
fn plain(text: &str) -> String {
    text.replace(GLUE, " ")
}

/// Length in characters.
fn length(text: &str) -> usize {
    text.chars().count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_wrap_and_long_words_break() {
        assert_eq!(wrap("time waited at the door", 11), ["time waited", "at the door"]);
        assert_eq!(wrap("abcdefgh ij", 3), ["abc", "def", "gh", "ij"]);
        assert_eq!(wrap("status-behind-mower", 16), ["status-behind-", "mower"]);
        assert_eq!(wrap("-12345", 3), ["-12", "345"]);
        assert_eq!(wrap("", 3), [""]);
        assert_eq!(wrap("up to 95\u{a0}% of", 8), ["up to", "95 % of"]);
    }

    #[test]
    fn columns_line_up_without_trailing_spaces() {
        let mut table = Table::new(&["metric", "mean"]);
        table.row(vec!["a rather long name of a metric", "1.5"]);
        table.row(vec!["b", "12 345"]);
        let text = table.render(Setting { width: 24, plain: false });
        assert!(text.lines().all(|line| line.chars().count() <= 24 && line.trim_end() == line), "{text}");
        let expected = [
            "metric              mean",
            "----------------- ------",
            "a rather long        1.5",
            "name of a metric",
            "b                 12 345",
        ];
        assert_eq!(text.lines().collect::<Vec<_>>(), expected);
    }
    /// By ear, a column is lost as soon as its heading is: each figure comes with it.
    #[test]
    fn a_screen_reader_gets_sentences() {
        let mut table = Table::new(&["metric", "mean", "spread", "by", "verdict"]);
        table.row(vec![
            "waits".into(),
            "1.5\n(1 to 2)".into(),
            "-".into(),
            Cell::new("t").said("Student t"),
            Cell::new(""),
        ]);
        let text = table.render(Setting { width: 24, plain: true });
        assert_eq!(text, "metric waits: mean 1.5 (1 to 2); by Student t.\n");
        // Without columns the letter has a legend.
        assert!(!table.render(Setting { width: 80, plain: false }).contains("Student"));
    }
}
