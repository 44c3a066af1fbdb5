//! Rows between the header and the data that hold no readings: the least and the most that each
//! column can hold, the columns' numbers.

use super::cell::{Mark, number};
use super::rows::Rows;
use crate::warning::Warning;

/// Rows that tell whether the first two bound all others.
const LOOKED_AT: usize = 200;
/// So many columns of numbers make it no accident.
const LEAST_COLUMNS: usize = 4;

/// Leaves out the first two rows where every column lies between them, and says so.
pub(super) fn without_limits(
    rows: Rows,
    width: usize,
    mark: Mark,
    warnings: &mut Vec<Warning>,
) -> Rows {
    if rows.len() < LOOKED_AT {
        return rows;
    }
    let value = |row: usize, column: usize| number(rows.cell(row, column), mark);
    let counts = |from: f64| (0..width).all(|at| value(0, at) == Some(from + at as f64));
    if width >= LEAST_COLUMNS && (counts(1.0) || counts(0.0)) {
        warnings.push(Warning::note(
            "number-row",
            format!(
                "line {} counts the columns and holds no readings: left out",
                rows.number(0)
            ),
        ));
        return without_limits(rows.filtered(|row| row > 0), width, mark, warnings);
    }
    let mut bounding = 0;
    for column in 0..width {
        let (Some(least), Some(most)) = (value(0, column), value(1, column)) else {
            // Text, or a column without limits.
            continue;
        };
        let mut others = (2..LOOKED_AT).filter_map(|row| value(row, column));
        if least >= most || !others.all(|v| (least..=most).contains(&v)) {
            return rows;
        }
        bounding += 1;
    }
    if bounding < LEAST_COLUMNS {
        return rows;
    }
    warnings.push(Warning::note(
        "limit-rows",
        format!(
            "lines {} and {} hold the least and the most of each column, not readings: left out",
            rows.number(0),
            rows.number(1)
        ),
    ));
    rows.filtered(|row| row > 1)
}
