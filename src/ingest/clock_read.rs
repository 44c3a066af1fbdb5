//! Reads a column as times: its form, its unit, what it counts from.

use std::borrow::Cow;

use super::cell::is_blank;
use super::clock::{DATE_WORDS, LEAST_CLOCK_WORDS, UTC_WORDS};
use super::clock_dates::marked;
use super::clock_ms::{self, padded};
use super::clock_number::read_number;
use super::clock_text::{parse_clock, parse_minutes};
use super::date_order::{Known, date_order};
use super::preamble;
use super::table::Table;
use super::time_text::{DateOrder, local_seconds, parse_date, parse_stamp};
use super::timeline::steps;
use super::words::{fold, has_any};
use crate::warning::Warning;

/// Where a clock counts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Origin {
    /// Some moment that only the logger knows.
    Running,
    /// Midnight of an unknown day, local time.
    TimeOfDay,
    /// 1970 in local time; the offset from UTC where it is known.
    Local { utc_offset_s: Option<i32> },
}

/// A column read as times.
pub(super) struct Reading {
    pub column: usize,
    pub score: f64,
    pub form: &'static str,
    pub seconds: Vec<Option<f64>>,
    pub origin: Origin,
    pub wraps_s: Option<f64>,
    pub warnings: Vec<Warning>,
}

/// The first cells of a column that say anything.
pub(super) fn sample(table: &Table, column: usize) -> Vec<&str> {
    (0..table.rows.len())
        .map(|row| table.cell(row, column))
        .filter(|cell| !is_blank(cell))
        .take(50)
        .collect()
}

/// Reads a column as times in whatever form it has. `None`: fewer than half are times.
pub(super) fn read_column(table: &Table, column: usize, score: f64) -> Option<Reading> {
    let mut reading = read_cells(table, column, score)?;
    hold_over_blanks(table, column, &mut reading.seconds);
    let timed = reading.seconds.iter().flatten().count();
    let changes = steps(&reading.seconds).any(|(before, after)| before != after);
    (2 * timed > reading.seconds.len() && changes).then_some(reading)
}

/// Holds the time over blank cells where a logger writes it only when it changes: the first row has
/// one, and good part of the others are blank, a few between two times.
fn hold_over_blanks(table: &Table, column: usize, seconds: &mut [Option<f64>]) {
    const LEAST_SHARE: f64 = 0.2;
    const MOST_BETWEEN: usize = 200;
    let blank = |row: usize| is_blank(table.cell(row, column));
    let blanks = (0..seconds.len())
        .filter(|row| seconds[*row].is_none() && blank(*row))
        .count();
    let untimed = seconds.iter().filter(|s| s.is_none()).count();
    if seconds.first().is_none_or(Option::is_none)
        || blanks < untimed
        || (blanks as f64) < LEAST_SHARE * seconds.len() as f64
    {
        return;
    }
    let (mut last, mut held) = (None, 0);
    for second in seconds {
        (last, held) = match second {
            Some(_) => (*second, 0),
            None => (last, held + 1),
        };
        if held <= MOST_BETWEEN {
            *second = last;
        }
    }
}

/// The same however few cells are filled.
pub(super) fn read_cells(table: &Table, column: usize, score: f64) -> Option<Reading> {
    let cells = sample(table, column);
    let is_text = |cell: &&&str| {
        let stamp = || parse_stamp(cell, DateOrder::DayFirst);
        cell.contains(':')
            || ((cell.len() >= 14 || cell.contains(['h', 'H']))
                && stamp().is_some_and(|s| s.second_of_day.is_some()))
    };
    let texts = cells.iter().filter(is_text).count();
    if 2 * texts > cells.len() {
        read_text(table, column, score)
    } else {
        read_number(table, column, score)
    }
}

/// Clocks that count from when they were started, besides [`LEAST_CLOCK_WORDS`].
const STOPWATCH: &str = "elapsed|session time|verstrichen|ecoule";

/// Times in UTC are not those of the track's clock.
pub(super) fn clock_is_utc(what: &str) -> Warning {
    let message = format!("{what} in UTC; if local time matters, give --start");
    Warning::note("clock-is-utc", message)
}

/// The order of the dates of a column.
pub(super) fn column_order(table: &Table, column: usize, warnings: &mut Vec<Warning>) -> DateOrder {
    let cells = (0..table.rows.len()).map(|row| table.cell(row, column));
    let name = format!("column `{}`", table.columns[column].name);
    let known = Known {
        told: table.date_order,
        day: preamble::plain_day(&table.preamble),
    };
    // Dates of six digits are rare, and the copy is as long as the column.
    if sample(table, column)
        .iter()
        .all(|cell| matches!(marked(cell), Cow::Borrowed(_)))
    {
        return date_order(cells, &name, known, warnings);
    }
    let marked: Vec<Cow<'_, str>> = cells.map(marked).collect();
    date_order(marked.iter().map(AsRef::as_ref), &name, known, warnings)
}

fn read_text(table: &Table, column: usize, score: f64) -> Option<Reading> {
    let rows = 0..table.rows.len();
    let name = &table.columns[column].name;
    let two_parts = sample(table, column)
        .iter()
        .all(|cell| cell.matches(':').count() == 1);
    let dated = sample(table, column)
        .iter()
        .any(|cell| parse_stamp(cell, DateOrder::DayFirst).is_some_and(|s| s.date.is_some()));
    let in_minutes =
        two_parts && !dated && is_minutes(&sample(table, column), dates_beside(table, column));
    let written = || rows.clone().map(|row| table.cell(row, column));
    let seconds = |cell: &str| match in_minutes {
        true => parse_minutes(cell),
        false => parse_stamp(cell, DateOrder::DayFirst)?.second_of_day,
    };
    let counted = clock_ms::counted(written(), seconds, name);
    let cells = || {
        written().map(|cell| match counted {
            Some(_) => padded(cell),
            None => Cow::Borrowed(cell),
        })
    };
    let mut warnings: Vec<Warning> = counted.iter().cloned().collect();
    if in_minutes {
        let seconds: Vec<Option<f64>> = cells().map(|cell| parse_minutes(&cell)).collect();
        let wraps_s = Some(3600.0);
        return Some(Reading {
            column,
            score,
            form: "minutes and seconds",
            seconds,
            origin: Origin::Running,
            wraps_s,
            warnings,
        });
    }
    // Before its trigger a logger counts down.
    if sample(table, column)
        .iter()
        .any(|cell| before_trigger(cell).is_some())
    {
        let after = |cell: &str| parse_stamp(cell, DateOrder::DayFirst)?.second_of_day;
        return Some(Reading {
            column,
            score,
            form: "hours, minutes and seconds",
            seconds: cells()
                .map(|cell| before_trigger(&cell).or_else(|| after(&cell)))
                .collect(),
            origin: Origin::Running,
            wraps_s: None,
            warnings,
        });
    }
    let order = column_order(table, column, &mut warnings);
    let stamps: Vec<_> = cells().map(|cell| parse_stamp(&cell, order)).collect();
    if stamps
        .iter()
        .flatten()
        .any(|s| s.date.is_some() && s.second_of_day.is_some())
    {
        let seconds = stamps
            .iter()
            .map(|stamp| stamp.and_then(|s| Some(local_seconds(s.date?, s.second_of_day?))))
            .collect();
        let mut utc_offset_s = stamps.iter().flatten().find_map(|s| s.utc_offset_s);
        let in_utc = sample(table, column)
            .iter()
            .all(|cell| cell.ends_with(['Z', 'z']));
        if in_utc || has_any(&fold(name), UTC_WORDS) {
            utc_offset_s = Some(0);
            warnings.push(clock_is_utc(&format!("column `{name}` is")));
        }
        return Some(Reading {
            column,
            score,
            form: "date and time",
            seconds,
            origin: Origin::Local { utc_offset_s },
            wraps_s: None,
            warnings,
        });
    }
    let seconds: Vec<Option<f64>> = stamps
        .iter()
        .map(|stamp| stamp.and_then(|s| s.second_of_day))
        .collect();
    // A stopwatch knows nothing of the day.
    if has_any(&fold(name), STOPWATCH) || has_any(&fold(name), LEAST_CLOCK_WORDS) {
        return Some(Reading {
            column,
            score,
            form: "hours, minutes and seconds",
            seconds,
            origin: Origin::Running,
            wraps_s: Some(86_400.0),
            warnings,
        });
    }
    let twelve_hours = is_twelve_hour(&seconds);
    if twelve_hours {
        warnings.push(Warning::caution(
            "twelve-hour-clock",
            format!("column `{name}` counts twelve hours and does not say which half of the day; give --start YYYY-MM-DDThh:mm:ss"),
        ));
    }
    Some(Reading {
        column,
        score,
        form: "time of day",
        seconds,
        origin: Origin::TimeOfDay,
        wraps_s: Some(if twelve_hours { 43_200.0 } else { 86_400.0 }),
        warnings,
    })
}

/// Seconds of `-00:00:30.0`, which are below zero.
fn before_trigger(cell: &str) -> Option<f64> {
    let after = cell.strip_prefix(['-', '−'])?;
    Some(-parse_clock(after)?)
}

/// Whether a clock goes from 12:59:59 to 1:00:00.
fn is_twelve_hour(seconds: &[Option<f64>]) -> bool {
    let timed: Vec<f64> = seconds.iter().flatten().copied().collect();
    let in_range = timed.iter().all(|s| (3600.0..46_800.0).contains(s));
    in_range
        && timed
            .windows(2)
            .any(|pair| (43_100.0..43_200.0).contains(&(pair[0] - pair[1])))
}

/// Whether another column holds dates: a stopwatch has none beside it.
fn dates_beside(table: &Table, column: usize) -> bool {
    let is_date = |cell: &&str| parse_date(cell, DateOrder::DayFirst).is_some();
    let others = (0..table.columns.len()).filter(|at| *at != column);
    let mut named = others.filter(|at| has_any(&fold(&table.columns[*at].name), DATE_WORDS));
    named.any(|at| sample(table, at).iter().any(is_date))
}

/// Whether texts with one colon are minutes and seconds, not hours and minutes: they have a
/// fraction, or more than 23 before the colon, or start near zero as a stopwatch does.
fn is_minutes(cells: &[&str], dated: bool) -> bool {
    let fraction = cells.iter().any(|cell| cell.contains(['.', ',']));
    let large = cells.iter().any(|cell| {
        cell.split(':')
            .next()
            .and_then(|m| m.trim().parse::<f64>().ok())
            .is_some_and(|m| m > 23.0)
    });
    let from_zero = cells
        .first()
        .and_then(|cell| parse_minutes(cell))
        .is_some_and(|s| s < 300.0);
    fraction || large || (from_zero && !dated)
}
