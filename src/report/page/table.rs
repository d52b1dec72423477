//! Tables: a caption, headings with their scope, rows that a click on a heading sorts.
//!
//! A table that shows figures of a file says which: `data-file` names it, `data-keys` the columns that tell its rows apart
//! (separated by `|`). A row's (or a single cell's) `data-key` holds the values of those columns, in the same order; a cell's `data-csv` holds
//! `column=value` for each field it shows, one per line, the value exactly as the file has it. `data-sort` is what a
//! cell is sorted by if not by its text.

use maud::{Markup, html};

use crate::ledger::metric::Key;
use crate::report::number::{WITHHELD, exact, exact_or_empty, interval, mean, unbroken};
use crate::report::{table, words};
use crate::study::result::Estimate;

/// What separates the values of a row's key.
pub const BETWEEN_KEYS: &str = "|";

/// One cell.
#[derive(Clone, Debug)]
pub struct Cell {
    shown: Markup,
    /// What it is sorted by, if not its text.
    sort: Option<String>,
    fields: Vec<(String, String)>,
    key: Option<String>,
}

impl Cell {
    /// A text.
    pub fn text(text: impl AsRef<str>) -> Cell {
        Cell::markup(html! { (unbroken(text.as_ref())) })
    }

    /// Anything.
    pub fn markup(shown: Markup) -> Cell {
        Cell { shown, sort: None, fields: Vec::new(), key: None }
    }

    /// A figure of the file's column `column`, shown as `shown`.
    pub fn number(column: &str, value: f64, shown: impl AsRef<str>) -> Cell {
        Cell::text(shown).sorted_by(value).field(column, exact(value))
    }

    /// A figure that may be withheld.
    pub fn optional(column: &str, value: Option<f64>, show: impl Fn(f64) -> String) -> Cell {
        match value {
            Some(value) => Cell::number(column, value, show(value)),
            None => Cell::withheld().field(column, ""),
        }
    }

    /// Mean and interval of an estimate (columns `mean`, `low`, `high`), the interval below the mean if `stacked`.
    pub fn estimate(estimate: &Estimate, stacked: bool) -> Cell {
        let shown = match interval(estimate) {
            none if none == WITHHELD => html! { (mean(estimate)) },
            between if stacked => html! { (mean(estimate)) small { (between) } },
            between => html! { (mean(estimate)) " (" (between) ")" },
        };
        Cell::markup(shown)
            .sorted_by(estimate.mean)
            .field("mean", exact(estimate.mean))
            .field("low", exact_or_empty(estimate.interval.map(|it| it.low)))
            .field("high", exact_or_empty(estimate.interval.map(|it| it.high)))
    }

    /// Nothing known.
    pub fn withheld() -> Cell {
        Cell::text(WITHHELD)
    }

    /// Sorted by `value` instead of its text.
    pub fn sorted_by(mut self, value: f64) -> Cell {
        self.sort = Some(exact(value));
        self
    }

    /// Also shows the field of column `column`, which the file has as `value`.
    pub fn field(mut self, column: &str, value: impl Into<String>) -> Cell {
        self.fields.push((column.to_string(), value.into()));
        self
    }

    /// The file's row that it shows, if it is another one than the row's.
    pub fn of_row(mut self, key: &[&str]) -> Cell {
        self.key = Some(key.join(BETWEEN_KEYS));
        self
    }

    /// The same cell of a text report.
    fn of_text(cell: &table::Cell) -> Cell {
        let shown = html! {
            @for (index, line) in cell.text.lines().enumerate() {
                @if index == 0 { (unbroken(line)) } @else { small { (unbroken(line)) } }
            }
        };
        let sort =
            cell.fields.first().filter(|(_, value)| value.parse::<f64>().is_ok()).map(|(_, value)| value.clone());
        Cell { shown, sort, fields: cell.fields.clone(), key: None }
    }

    fn csv(&self) -> Option<String> {
        let fields: Vec<String> = self.fields.iter().map(|(column, value)| format!("{column}={value}")).collect();
        (!fields.is_empty()).then(|| fields.join("\n"))
    }
}

struct Row {
    key: Option<String>,
    cells: Vec<Cell>,
}

/// A table; the first column is text and names the row, the others are figures (right) unless said otherwise.
pub struct Table {
    caption: String,
    headings: Vec<String>,
    left: Vec<bool>,
    file: Option<(String, String)>,
    rows: Vec<Row>,
    in_order: bool,
}

/// Columns that fit on a phone; more are moved sideways, and the caption says so there.
const FITS_A_PHONE: usize = 3;

fn class_of(sortable: bool, wide: bool) -> Option<&'static str> {
    match (sortable, wide) {
        (true, true) => Some("sortable wide"),
        (true, false) => Some("sortable"),
        (false, true) => Some("wide"),
        (false, false) => None,
    }
}

impl Table {
    /// An empty table.
    pub fn new<T: AsRef<str>>(caption: impl Into<String>, headings: &[T]) -> Table {
        Table {
            caption: caption.into(),
            headings: headings.iter().map(|heading| heading.as_ref().to_string()).collect(),
            left: (0..headings.len()).map(|column| column == 0).collect(),
            file: None,
            rows: Vec::new(),
            in_order: false,
        }
    }

    /// Means of metrics with their intervals, one column for each of those whom the column `who` of `metrics.csv` names.
    pub fn means(caption: &str, who: &str, all: &[(&str, &[Estimate])], keys: &[Key]) -> Table {
        let headings: Vec<&str> = std::iter::once("mean per season").chain(all.iter().map(|one| one.0)).collect();
        let mut table = Table::new(caption, &headings).of("metrics.csv", &[who, "metric"]);
        for &key in keys {
            let cell = |(name, estimates): &(&str, &[Estimate])| {
                let estimate = estimates.iter().find(|estimate| estimate.key == key);
                let cell = estimate.map_or(Cell::withheld(), |it| Cell::estimate(it, true));
                cell.of_row(&[name, key.metric().key])
            };
            table.row(std::iter::once(Cell::text(words::heading(key))).chain(all.iter().map(cell)).collect());
        }
        table
    }

    /// The same table as a text report shows.
    pub fn of_text(caption: impl Into<String>, table: &table::Table) -> Table {
        let key = |row: &table::Row| (!row.key.is_empty()).then(|| row.key.join(BETWEEN_KEYS));
        Table {
            caption: caption.into(),
            headings: table.headings.clone(),
            left: table.left.clone(),
            file: table.file.as_ref().map(|(file, keys)| (file.clone(), keys.join(BETWEEN_KEYS))),
            rows: table
                .rows
                .iter()
                .map(|row| Row { key: key(row), cells: row.cells.iter().map(Cell::of_text).collect() })
                .collect(),
            in_order: false,
        }
    }

    /// Its figures are those of `file`, whose rows are told apart by the columns `keys`.
    pub fn of(mut self, file: impl Into<String>, keys: &[&str]) -> Table {
        self.file = Some((file.into(), keys.join(BETWEEN_KEYS)));
        self
    }

    /// Aligns columns to the left: they are text.
    pub fn left(mut self, columns: &[usize]) -> Table {
        columns.iter().for_each(|&column| self.left[column] = true);
        self
    }

    /// Puts another heading over the first column: of a text report it may hold the title, which the caption says here.
    pub fn headed(mut self, heading: &str) -> Table {
        if let Some(first) = self.headings.first_mut() {
            *first = heading.to_string();
        }
        self
    }

    /// Its order says something: the first column sorts by it, so that it can be had back.
    pub fn in_order(mut self) -> Table {
        self.in_order = true;
        self
    }

    /// Adds a row; the first cell is its heading.
    pub fn row(&mut self, cells: Vec<Cell>) {
        debug_assert_eq!(cells.len(), self.headings.len(), "a row has one cell per heading");
        self.rows.push(Row { key: None, cells });
    }

    /// Adds a row that shows the file's row with these key values.
    pub fn keyed(&mut self, key: &[&str], cells: Vec<Cell>) {
        debug_assert_eq!(cells.len(), self.headings.len(), "a row has one cell per heading");
        self.rows.push(Row { key: Some(key.join(BETWEEN_KEYS)), cells });
    }

    /// Whether it has no rows.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The table in a frame that scrolls by itself where it is too wide for the page.
    pub fn render(&self) -> Markup {
        let sortable = self.rows.len() > 1;
        let by_row =
            |index: usize, cell: &Cell| if self.in_order { Some(index.to_string()) } else { cell.sort.clone() };
        let class = |column: usize| self.left[column].then_some("text");
        html! {
            div class="scroll" role="region" aria-label=(self.caption) tabindex="0" {
                table class=[class_of(sortable, self.headings.len() > FITS_A_PHONE)] data-file=[self.file.as_ref().map(|file| &file.0)]
                    data-keys=[self.file.as_ref().map(|file| &file.1)] {
                    caption { (self.caption) }
                    thead {
                        tr {
                            @for (column, heading) in self.headings.iter().enumerate() {
                                th scope="col" class=[class(column)] { (heading) }
                            }
                        }
                    }
                    tbody {
                        @for (index, row) in self.rows.iter().enumerate() {
                            tr data-key=[row.key.as_ref()] {
                                @for (column, cell) in row.cells.iter().enumerate() {
                                    @if column == 0 {
                                        th scope="row" class="text" data-sort=[by_row(index, cell)] data-csv=[cell.csv()] {
                                            (cell.shown)
                                        }
                                    } @else {
                                        td class=[class(column)] data-key=[cell.key.as_ref()] data-sort=[cell.sort.as_ref()] data-csv=[cell.csv()] {
                                            (cell.shown)
                                        }
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_says_which_fields_it_shows() {
        let mut table = Table::new("Misses", &["strategy", "mean"]).of("metrics.csv", &["strategy", "metric"]);
        table.keyed(&["a<b", "missed"], vec![Cell::text("a<b"), Cell::number("mean", 0.25, "0.3")]);
        let text = table.render().into_string();
        assert!(text.contains(r#"data-file="metrics.csv" data-keys="strategy|metric""#), "{text}");
        assert!(text.contains(r#"<tr data-key="a&lt;b|missed">"#), "{text}");
        assert!(text.contains(r#"<td data-sort="0.25" data-csv="mean=0.25">0.3</td>"#), "{text}");
        assert!(!text.contains("sortable"), "one row needs no sorting");
    }

    /// What stands in an order of its own can be sorted, and put back by its first column.
    #[test]
    fn an_order_can_be_had_back() {
        let mut table = Table::new("Rain", &["month", "mm"]).in_order();
        for (month, mm) in [("Jan", 40.0), ("Feb", 30.0)] {
            table.row(vec![Cell::text(month), Cell::number("mm", mm, mm.to_string())]);
        }
        let text = table.render().into_string();
        assert!(text.contains(r#"<table class="sortable">"#), "{text}");
        for (index, month) in ["Jan", "Feb"].iter().enumerate() {
            assert!(text.contains(&format!(r#"class="text" data-sort="{index}">{month}"#)), "{text}");
        }
    }
}
