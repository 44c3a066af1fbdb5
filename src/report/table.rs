//! Tables of a page.

use askama::Template;

use super::number;
use crate::quantity::Units;
use crate::stats::Estimate;

/// One cell: the figure, and small print below it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// What the cell says.
    pub text: String,
    /// Small print: an interval, or why there is no figure.
    pub note: String,
    /// Where on the page the text leads to, if anywhere.
    pub to: String,
}

impl Cell {
    /// Whether it is better not broken into lines.
    fn is_short(&self) -> bool {
        self.text.chars().count() <= 14
    }
}

/// A table with a caption; the first cell of each row is its header.
#[derive(Debug, Clone, Template)]
#[template(path = "table.html", config = "src/report/askama.toml")]
pub struct Table {
    /// What the table shows.
    pub caption: String,
    /// Column headers.
    pub head: Vec<String>,
    /// Whether each column holds figures.
    pub figures: Vec<bool>,
    /// Rows of cells.
    pub rows: Vec<Vec<Cell>>,
}

impl Table {
    /// An empty table. A header that starts with `#` is a column of figures.
    pub fn new(caption: impl Into<String>, head: &[&str]) -> Self {
        Self {
            caption: caption.into(),
            head: head
                .iter()
                .map(|h| h.trim_start_matches('#').to_owned())
                .collect(),
            figures: head.iter().map(|h| h.starts_with('#')).collect(),
            rows: Vec::new(),
        }
    }

    /// Adds a row.
    pub fn row(&mut self, cells: Vec<Cell>) {
        self.rows.push(cells);
    }

    fn is_figure(&self, column: &usize) -> bool {
        self.figures.get(*column).copied().unwrap_or(false)
    }
}

/// A cell of plain text.
pub fn cell(text: impl Into<String>) -> Cell {
    Cell {
        text: text.into(),
        note: String::new(),
        to: String::new(),
    }
}

/// A cell with small print.
pub fn noted(text: impl Into<String>, note: impl Into<String>) -> Cell {
    Cell {
        text: text.into(),
        note: note.into(),
        to: String::new(),
    }
}

/// A cell with small print that leads to the address `to`: of a part of the page `#` and its name.
pub fn linked(text: impl Into<String>, note: impl Into<String>, to: impl Into<String>) -> Cell {
    Cell {
        to: to.into(),
        ..noted(text, note)
    }
}

/// A cell with an estimate: value above, interval (or reason) below. The caption says the level.
/// `number` prints a figure in `units`.
pub fn estimate(
    units: Units,
    value: &Estimate,
    unit: &str,
    number: impl Fn(f64) -> String,
) -> Cell {
    match value {
        Estimate::Known(i) => {
            let unit = if unit.is_empty() {
                String::new()
            } else {
                format!("\u{a0}{unit}")
            };
            noted(
                format!("{}{unit}", number(i.estimate)),
                number::ends(i, &number).replace(' ', "\u{a0}"),
            )
        }
        Estimate::Unknown { why } => noted(number::UNKNOWN, units.prose(why)),
    }
}
