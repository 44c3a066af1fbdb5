//! Columns as numbers, still in the units that they were written in.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::assign::Choice;
use super::cell::{Mark, is_blank, number, word_number};
use super::positions::position;
use super::table::Table;
use crate::quantity::Quantity;
use crate::session::Role;

/// A column's numbers as written.
pub(super) struct Written {
    pub role: Role,
    pub choice: Choice,
    /// One a kept row, `NaN` where there is none.
    pub values: Vec<f64>,
    /// Finite values in order, of long columns some spread evenly.
    pub sorted: Vec<f64>,
    pub unreadable: Unreadable,
}

/// Cells that hold text, and where the first one is.
type Unreadable = Option<(usize, usize)>;

/// So many values are enough to judge a unit from.
const MOST_JUDGED: usize = 50_000;

/// Whether a column holds any number at all.
pub(super) fn has_numbers(table: &Table, column: usize) -> bool {
    (0..table.rows.len()).any(|row| {
        let cell = table.cell(row, column);
        number(cell, table.mark).is_some()
            || word_number(cell).is_some()
            || position(cell).is_some()
    })
}

/// Whether a column reads the same in every row, of which there are enough to tell.
pub(super) fn stands(table: &Table, column: usize) -> bool {
    const LEAST_ROWS: usize = 50;
    let mut readings = (0..table.rows.len())
        .map(|row| table.cell(row, column))
        .filter(|cell| !is_blank(cell));
    let Some(first) = readings.next() else {
        return false;
    };
    let mut rows = 1;
    readings.all(|cell| {
        rows += 1;
        cell == first
    }) && rows >= LEAST_ROWS
}

/// Rows read in one go, of all columns: few enough that their text stays near the processor.
const BLOCK: usize = 4096;

/// Reads the numbers of the columns that were chosen.
pub(super) fn read_written(
    table: &Table,
    chosen: BTreeMap<Role, Choice>,
    rows: &[usize],
) -> Vec<Written> {
    let mut columns: Vec<Written> = chosen
        .into_iter()
        .map(|(role, choice)| Written {
            role,
            choice,
            values: vec![f64::NAN; rows.len()],
            sorted: Vec::new(),
            unreadable: None,
        })
        .collect();
    let marks: Vec<Mark> = columns
        .iter()
        .map(|c| table.mark_of(c.choice.column))
        .collect();
    let mut blocks: Vec<Vec<Cells<'_>>> = rows.chunks(BLOCK).map(|_| Vec::new()).collect();
    for (column, mark) in columns.iter_mut().zip(marks) {
        let at = column.choice.column;
        let text: Option<fn(&str) -> Option<f64>> = match column.role {
            Role::Latitude | Role::Longitude => Some(position),
            role if role.quantity() == Quantity::Count => Some(word_number),
            _ => None,
        };
        for (block, values) in blocks.iter_mut().zip(column.values.chunks_mut(BLOCK)) {
            block.push(Cells {
                column: at,
                mark,
                text,
                values,
                unreadable: None,
            });
        }
    }
    let unreadable: Vec<Vec<Unreadable>> = blocks
        .into_par_iter()
        .zip(rows.par_chunks(BLOCK))
        .map(|(block, rows)| read_block(block, table, rows))
        .collect();
    for found in unreadable {
        for (column, more) in columns.iter_mut().zip(found) {
            column.unreadable = match (column.unreadable, more) {
                (Some((count, first)), Some((more, _))) => Some((count + more, first)),
                (one, other) => one.or(other),
            };
        }
    }
    columns
        .par_iter_mut()
        .for_each(|c| c.sorted = judged_from(&c.values));
    columns
}

/// Some rows of a column.
struct Cells<'a> {
    column: usize,
    mark: Mark,
    /// Reads what is no plain number and yet a value, such as `on`.
    text: Option<fn(&str) -> Option<f64>>,
    values: &'a mut [f64],
    unreadable: Unreadable,
}

/// Reads all columns of some rows, row after row.
fn read_block(mut block: Vec<Cells<'_>>, table: &Table, rows: &[usize]) -> Vec<Unreadable> {
    for (at, &row) in rows.iter().enumerate() {
        let cells = table.rows.row(row);
        for column in &mut block {
            column.read(at, row, cells.cell(column.column));
        }
    }
    block.into_iter().map(|column| column.unreadable).collect()
}

impl Cells<'_> {
    fn read(&mut self, at: usize, row: usize, cell: &str) {
        let text = || self.text.and_then(|read| read(cell));
        match number(cell, self.mark).or_else(text) {
            Some(read) => self.values[at] = read,
            None if !is_blank(cell) => {
                let (count, first) = self.unreadable.unwrap_or((0, row));
                self.unreadable = Some((count + 1, first));
            }
            None => {}
        }
    }
}

/// Values that tell the unit, in order.
fn judged_from(values: &[f64]) -> Vec<f64> {
    let present = || values.iter().copied().filter(|v| !v.is_nan());
    let every = present().count() / MOST_JUDGED + 1;
    let mut sorted: Vec<f64> = present().step_by(every).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    sorted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_column_is_read_in_blocks_as_in_one() {
        let cell = |i: usize| match i % 5000 {
            2500 => "?x".to_owned(),
            2501 => "-".to_owned(),
            _ => format!("{}.5", i % 90),
        };
        let rows: String = (0..20_000).map(|i| format!("{i},{}\n", cell(i))).collect();
        let table = Table::read("a.csv", format!("t,T\n{rows}").as_bytes(), None).unwrap();
        let choice = Choice {
            column: 1,
            unit: None,
        };
        let kept: Vec<usize> = (0..20_000).collect();
        let chosen = BTreeMap::from([(Role::Coolant, choice)]);
        let read = read_written(&table, chosen, &kept).remove(0);
        for (value, i) in read.values.iter().zip(kept) {
            assert_eq!(value.is_nan(), matches!(i % 5000, 2500 | 2501), "{i}");
            assert!(value.is_nan() || *value == (i % 90) as f64 + 0.5);
        }
        assert_eq!(read.unreadable, Some((4, 2500)));
    }
}
