//! A table that ends where another one begins: laps below the log, the same channels in another
//! order or in other units.

use rayon::prelude::*;

use super::cell::is_blank;
use super::heads::Column;
use super::roles::{is_named, meanings_of};
use super::rows::Rows;
use super::unit_text::{is_unit_text, split_brackets};
use super::words::{fold, has_any};
use crate::session::Role;
use crate::warning::Warning;
use crate::words::count;

/// The rows before another header: what follows has other columns, or the same in other units. A
/// table that has neither coolant nor speed gives way to one below that has both.
pub(super) fn one_table(
    rows: Rows,
    columns: Vec<Column>,
    warnings: &mut Vec<Warning>,
) -> (Rows, Vec<Column>) {
    let Some(end) = (1..rows.len())
        .into_par_iter()
        .find_first(|row| is_other_header(&rows, *row, &columns))
    else {
        return (rows, columns);
    };
    let is_log = |names: &[&str]| {
        [Role::Coolant, Role::Speed]
            .iter()
            .all(|role| names.iter().any(|name| is_named(name, *role)))
    };
    let heads: Vec<&str> = columns.iter().map(|column| column.name.as_str()).collect();
    let below: Vec<&str> = rows.cells(end).collect();
    if !is_log(&heads) && is_log(&below) && end + 1 < rows.len() {
        let units = units_below(&rows, end);
        let columns = below.iter().enumerate().map(|(at, name)| Column {
            name: (*name).to_owned(),
            full_name: (*name).to_owned(),
            unit_text: units.as_ref().map(|row| rows.cell(*row, at).to_owned()),
        });
        let columns = columns.filter(|column| !column.name.is_empty()).collect();
        warnings.push(Warning::caution(
            "first-table",
            format!(
                "the table on lines {} to {} has no coolant and no speed: left out; the log is the one with its header on line {}",
                rows.number(0),
                rows.number(end - 1),
                rows.number(end)
            ),
        ));
        let first = units.unwrap_or(end) + 1;
        return one_table(rows.filtered(|row| row >= first), columns, warnings);
    }
    warnings.push(Warning::caution(
        "second-table",
        format!(
            "another header stands on line {}: left out with the {} below it; if that is a session, cut the file there",
            rows.number(end),
            count(rows.len() - end - 1, "row")
        ),
    ));
    (rows.filtered(|row| row < end), columns)
}

/// The row of units below a header, if there is one.
fn units_below(rows: &Rows, header: usize) -> Option<usize> {
    let filled: Vec<&str> = rows
        .cells(header + 1)
        .filter(|cell| !cell.is_empty())
        .collect();
    let units = filled.iter().filter(|cell| is_unit_text(cell)).count();
    (2 * units > filled.len()).then_some(header + 1)
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
