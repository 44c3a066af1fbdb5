//! A time of day made whole by other columns: of dates, of AM and PM.

use std::borrow::Cow;

use super::cell::is_blank;
use super::clock::{Clock, DATE_WORDS};
use super::clock_read::{Origin, Reading, column_order, sample};
use super::clock_text::split_noon;
use super::table::Table;
use super::time_text::{DateOrder, local_seconds, parse_date};
use super::words::{fold, has_any};

/// Puts a clock of twelve hours right by a column of AM and PM.
fn take_half_of_day(table: &Table, clock: &mut Clock) {
    let half = |cell: &str| match split_noon(cell.trim()) {
        ("", half) => half,
        _ => None,
    };
    let is_half = |at: &usize| {
        let cells = sample(table, *at);
        !cells.is_empty() && cells.iter().all(|cell| half(cell).is_some())
    };
    let Some(column) = (0..table.columns.len()).find(is_half) else {
        return;
    };
    for (row, second) in clock.seconds.iter_mut().enumerate() {
        *second = second
            .zip(half(table.cell(row, column)))
            .map(|(second, afternoon)| second % 43_200.0 + if afternoon { 43_200.0 } else { 0.0 });
    }
    clock.columns.push(column);
    clock.wraps_s = Some(86_400.0);
    clock.warnings.retain(|w| w.id != "twelve-hour-clock");
}

/// Joins a time of day with a column of dates, where there is one; to a clock that knows no time of
/// day it gives the day.
pub(super) fn with_date_column(
    table: &Table,
    best: Reading,
    wall: Option<(Vec<Option<f64>>, Origin)>,
) -> Clock {
    let name = table.columns[best.column].name.clone();
    let mut clock = Clock {
        column: name,
        columns: vec![best.column],
        form: best.form,
        seconds: best.seconds,
        origin: best.origin,
        wraps_s: best.wraps_s,
        wall,
        day: None,
        warnings: best.warnings,
    };
    if matches!(clock.origin, Origin::Local { .. }) {
        return clock;
    }
    if clock.origin == Origin::TimeOfDay {
        take_half_of_day(table, &mut clock);
    }
    let date_column = (0..table.columns.len()).find(|&at| {
        at != best.column
            && has_any(&fold(&table.columns[at].name), DATE_WORDS)
            && sample(table, at).iter().any(|cell| is_date(&marked(cell)))
    });
    let Some(date_column) = date_column else {
        return clock;
    };
    let cells = || (0..table.rows.len()).map(|row| table.cell(row, date_column));
    let name = &table.columns[date_column].name;
    let order = column_order(table, date_column, &mut clock.warnings);
    let mut last = ("", None);
    let mut dates = cells().map(|cell| {
        if cell != last.0 && !is_blank(cell) {
            last = (cell, parse_date(&marked(cell), order));
        }
        last.1
    });
    clock.columns.push(date_column);
    if clock.origin == Origin::Running {
        clock.day = dates.find_map(|date| date);
        return clock;
    }
    // A date that is still the old one after midnight.
    let (mut before, mut stale_s) = ((None, 0.0), 0.0);
    clock.seconds = dates
        .zip(&clock.seconds)
        .map(|(date, second)| {
            let (date, second) = (date?, (*second)?);
            if before.0 != Some(date) {
                stale_s = 0.0;
            } else if second < before.1 - 43_200.0 {
                stale_s = 86_400.0;
            }
            before = (Some(date), second);
            Some(local_seconds(date, second) + stale_s)
        })
        .collect();
    clock.column = format!("{name} + {}", clock.column);
    clock.form = "date and time in two columns";
    clock.origin = Origin::Local { utc_offset_s: None };
    clock.wraps_s = None;
    clock
}

fn is_date(text: &str) -> bool {
    let orders = [
        DateOrder::DayFirst,
        DateOrder::MonthFirst,
        DateOrder::YearFirst,
    ];
    orders
        .into_iter()
        .any(|order| parse_date(text, order).is_some())
}

/// A date of six digits (NMEA 0183: `ddmmyy`) with marks between, for dates in a column of dates
/// only: elsewhere it is a number.
pub(super) fn marked(cell: &str) -> Cow<'_, str> {
    if cell.len() == 6 && cell.bytes().all(|b| b.is_ascii_digit()) {
        return format!("{}-{}-{}", &cell[..2], &cell[2..4], &cell[4..]).into();
    }
    cell.into()
}
