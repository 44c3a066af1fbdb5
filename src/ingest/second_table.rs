//! A table that ends where another one begins: laps below the log, the same channels in another
//! order or in other units.

use super::cell::is_blank;
use super::heads::Column;
use super::roles::meanings_of;
use super::rows::Rows;
use super::unit_text::split_brackets;
use super::words::{fold, has_any};
use crate::warning::Warning;
use crate::words::count;

/// The rows before another header: what follows has other columns, or the same in other units.
pub(super) fn one_table(rows: Rows, columns: &[Column], warnings: &mut Vec<Warning>) -> Rows {
    let Some(end) = (1..rows.len()).find(|row| is_other_header(&rows, *row, columns)) else {
        return rows;
    };
    warnings.push(Warning::caution(
        "second-table",
        format!(
            "another header stands on line {}: left out with the {} below it; if that is a session, cut the file there",
            rows.number(end),
            count(rows.len() - end - 1, "row")
        ),
    ));
    rows.filtered(|row| row < end)
}

/// Whether a row holds names of columns, and others than the header has.
fn is_other_header(rows: &Rows, row: usize, columns: &[Column]) -> bool {
    let starts_with_word = |cell: &str| cell.starts_with(|c: char| c.is_alphabetic() || c == '#');
    if !rows.cell(row, 0).is_empty() && !starts_with_word(rows.cell(row, 0)) {
        return false;
    }
    let filled = || rows.cells(row).filter(|cell| !cell.is_empty());
    let count = filled().count();
    let words = count >= 3 && filled().all(|cell| starts_with_word(cell) && !is_blank(cell));
    let names = || filled().filter(|cell| is_name(cell)).count();
    let same = || {
        let cells = rows.cells(row).zip(columns);
        cells
            .filter(|(cell, column)| *cell == column.name || column.full_name.ends_with(cell))
            .count()
    };
    words && names() >= 2 && same() < count
}

/// Whether a text names a channel, a clock or a lap.
fn is_name(text: &str) -> bool {
    !meanings_of(text).is_empty()
        || has_any(
            &fold(&split_brackets(text).0),
            "time|zeit|=lap|=runde|=date",
        )
}
