//! A table in plain text: aligned columns, the first one wrapped so that the rest fits the width.

use super::number::GLUE;

/// Narrowest first column that wrapping may produce.
const FIRST_AT_LEAST: usize = 12;

/// Narrowest width to which a heading is wrapped.
const HEADING_AT_LEAST: usize = 8;

/// A table; the first column is text (left), the others are figures (right) unless said otherwise.
pub struct Table {
    headings: Vec<String>,
    left: Vec<bool>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table with the given headings.
    pub fn new(headings: &[&str]) -> Table {
        let left = (0..headings.len()).map(|column| column == 0).collect();
        Table { headings: headings.iter().map(ToString::to_string).collect(), left, rows: Vec::new() }
    }

    /// Aligns a column to the left.
    pub fn left(mut self, column: usize) -> Table {
        self.left[column] = true;
        self
    }

    /// Adds a row; a line break in a cell makes the row taller.
    pub fn row(&mut self, cells: Vec<String>) {
        debug_assert_eq!(cells.len(), self.headings.len(), "a row has one cell per heading");
        self.rows.push(cells);
    }

    /// Width of the table's columns after the first, with the narrowest gaps.
    pub fn width_of_figures(&self) -> usize {
        (1..self.headings.len()).map(|column| self.column_width(column) + 1).sum()
    }

    /// The table's lines, each ended by a line break, none with trailing spaces. Wider than `width` only if the
    /// figures alone don't fit. `rule` underlines the headings.
    pub fn render(&self, width: usize, rule: char) -> String {
        let mut widths: Vec<usize> = (0..self.headings.len()).map(|column| self.column_width(column)).collect();
        let figures: usize = widths[1..].iter().sum();
        let gaps = widths.len() - 1;
        let gap = if figures + 2 * gaps + widths[0].min(24) <= width { 2 } else { 1 };
        widths[0] = widths[0].min(width.saturating_sub(figures + gap * gaps).max(FIRST_AT_LEAST));
        let mut out = String::new();
        self.line_up(&self.headings, &widths, gap, true, &mut out);
        let rules: Vec<String> = widths.iter().map(|&width| rule.to_string().repeat(width)).collect();
        self.line_up(&rules, &widths, gap, false, &mut out);
        for row in &self.rows {
            self.line_up(row, &widths, gap, false, &mut out);
        }
        out
    }

    /// Width that the cells of a column ask for.
    fn column_width(&self, column: usize) -> usize {
        let lines = self.rows.iter().flat_map(|row| row[column].lines()).map(length);
        let body = lines.max().unwrap_or(0);
        let heading = &self.headings[column];
        if column == 0 {
            return body.max(length(heading));
        }
        let heading = wrap(heading, body.max(HEADING_AT_LEAST)).iter().map(|line| length(line)).max();
        body.max(heading.unwrap_or(0))
    }

    /// Writes one row of cells; headings stand on the row's last line.
    fn line_up(&self, cells: &[String], widths: &[usize], gap: usize, at_bottom: bool, out: &mut String) {
        let blocks: Vec<Vec<String>> = cells.iter().zip(widths).map(|(cell, &width)| wrap(cell, width)).collect();
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
                let tail = rest.split_off(width);
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
        assert_eq!(wrap("", 3), [""]);
        assert_eq!(wrap("up to 95\u{a0}% of", 8), ["up to", "95 % of"]);
    }

    #[test]
    fn columns_line_up_without_trailing_spaces() {
        let mut table = Table::new(&["metric", "mean"]);
        table.row(vec!["a rather long name of a metric".into(), "1.5".into()]);
        table.row(vec!["b".into(), "12 345".into()]);
        let text = table.render(24, '-');
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
}
