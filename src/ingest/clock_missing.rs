//! What is said where no column can be the clock.

use super::cell::number;
use super::error::IngestError;
use super::options::meant;
use super::preamble;
use super::roles::{FileKind, meanings};
use super::table::Table;
use super::time_text::{DateOrder, parse_stamp};

/// The column that the user names as the clock is not there.
pub(super) fn no_column(table: &Table, name: &str) -> IngestError {
    let columns = table.names();
    let nearest = meant(name, columns.iter().map(String::as_str));
    let nearest = nearest.unwrap_or_else(|| "COLUMN".to_owned());
    IngestError::NoColumn {
        file: table.file.clone(),
        column: name.to_owned(),
        role: "time".to_owned(),
        columns,
        nearest,
    }
}

/// No column is named or written like a clock.
pub(super) fn no_time(table: &Table) -> IngestError {
    // Whatever rises all the time, and is no channel, is the likeliest clock.
    let rising = (0..table.columns.len()).find(|&at| {
        if !meanings(&table.columns[at].name, FileKind::Car).is_empty() {
            return false;
        }
        let mark = table.mark_of(at);
        let values: Vec<f64> = (0..table.rows.len())
            .filter_map(|row| number(table.cell(row, at), mark))
            .collect();
        values.len() > 2 && values.windows(2).all(|pair| pair[1] > pair[0])
    });
    let columns = table.names();
    let likely = rising.and_then(|at| columns.get(at).cloned());
    let counts = rising.is_some_and(|at| {
        let values: Vec<f64> = (0..table.rows.len().min(100))
            .filter_map(|row| number(table.cell(row, at), table.mark))
            .collect();
        values.windows(2).all(|pair| pair[1] - pair[0] == 1.0)
    });
    IngestError::NoTime {
        file: table.file.clone(),
        columns,
        likely,
        counts,
        rate_hz: preamble::rate_hz(&table.preamble),
    }
}

/// The column that is named like a clock holds no times.
pub(super) fn bad_time(table: &Table, column: usize) -> IngestError {
    let (file, name) = (table.file.clone(), table.columns[column].name.clone());
    let is_time = |cell: &str| {
        parse_stamp(cell, DateOrder::DayFirst).is_some() || number(cell, table.mark).is_some()
    };
    let cells = || (0..table.rows.len()).map(|row| (row, table.cell(row, column)));
    if table.rows.len() < 2 {
        return IngestError::TooShort {
            file,
            rows: table.rows.len(),
            of: table.rows_read,
            what: "rows can be read",
        };
    }
    match cells().find(|(_, cell)| !is_time(cell)) {
        Some((row, value)) => IngestError::BadTime {
            file,
            line: table.rows.number(row),
            column: name,
            value: value.chars().take(40).collect(),
        },
        None => IngestError::StillClock {
            file,
            column: name,
            value: table.cell(0, column).to_owned(),
        },
    }
}
