//! Tables of other shapes, made into one row an instant and one column a channel.

use super::long;
use super::options::ReadOptions;
use super::own_clocks;
use super::rows::Piece;
use super::table::Table;

/// The table with one column a channel, whichever shape it came in.
pub(super) fn wide(table: Table, options: &ReadOptions) -> Table {
    if let Some(form) = long::recognise(&table) {
        return long::widen(table, &form, options);
    }
    if let Some(groups) = own_clocks::recognise(&table) {
        return own_clocks::merge(table, &groups);
    }
    table
}

/// A row under construction: cells at their columns, blanks between them.
pub(super) struct Row<'a> {
    number: usize,
    cells: Vec<&'a str>,
}

impl<'a> Row<'a> {
    /// A row that begins with these cells, from that line of the file.
    pub fn new(number: usize, cells: Vec<&'a str>) -> Self {
        Self { number, cells }
    }

    /// Whether a column has no cell yet.
    pub fn is_free(&self, column: usize) -> bool {
        self.cells.get(column).is_none_or(|cell| cell.is_empty())
    }

    /// Puts a cell in its column.
    pub fn put(&mut self, column: usize, cell: &'a str) {
        if self.cells.len() <= column {
            self.cells.resize(column + 1, "");
        }
        self.cells[column] = cell;
    }

    /// Adds the row to others; blanks at its end are left out.
    pub fn finish(self, rows: &mut Piece) {
        rows.push(self.number, self.cells.into_iter());
    }
}
