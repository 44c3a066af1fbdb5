//! Reads a column of bare numbers as times: its unit, and what it counts from.

use chrono::NaiveDate;
use rayon::prelude::*;

use super::cell::number;
use super::clock_read::{Origin, Reading, clock_is_utc};
use super::clock_unit::{unit, unit_in_cells, without_unit};
use super::table::Table;
use super::time_text::{is_plausible, local_seconds};
use super::timeline::median_step;
use crate::warning::Warning;

/// Seconds from 1970 of a number such as 20310517142000 (year to second without marks).
fn unpack_date(value: f64) -> Option<f64> {
    let whole = value.floor();
    let date = any_day(whole / 1e6)?;
    let clock = whole % 1e6;
    let (hour, minute, second) = (
        (clock / 1e4).floor(),
        (clock / 100.0).floor() % 100.0,
        clock % 100.0,
    );
    let fits = hour < 24.0 && minute < 60.0 && second < 61.0;
    fits.then(|| local_seconds(date, hour * 3600.0 + minute * 60.0 + second + value - whole))
}

fn any_day(packed: f64) -> Option<NaiveDate> {
    let packed = packed.floor();
    let part = |from: f64, of: f64| (packed / from).floor() % of;
    let date = NaiveDate::from_ymd_opt(
        part(1e4, 1e4) as i32,
        part(100.0, 100.0) as u32,
        part(1.0, 100.0) as u32,
    );
    date.filter(|date| is_plausible(*date))
}

pub(super) fn read_number(table: &Table, column: usize, score: f64) -> Option<Reading> {
    let mark = table.mark_of(column);
    let in_cells = unit_in_cells(table, column);
    let bare = |cell| in_cells.map_or(cell, |unit: &str| without_unit(cell, unit));
    let mut raw: Vec<Option<f64>> = (0..table.rows.len())
        .into_par_iter()
        .map(|row| number(bare(table.cell(row, column)), mark))
        .collect();
    let mut warnings = unwrap_counter(&table.columns[column].name, &mut raw);
    let values: Vec<f64> = raw.iter().flatten().copied().collect();
    if values.is_empty() {
        return None;
    }
    let packed_date = (1.9e13..2.2e13).contains(&values[0]);
    if packed_date && values.iter().all(|value| unpack_date(*value).is_some()) {
        return Some(Reading {
            column,
            score,
            form: "date and time without marks",
            seconds: raw.into_iter().map(|value| unpack_date(value?)).collect(),
            origin: Origin::Local { utc_offset_s: None },
            wraps_s: None,
            warnings: Vec::new(),
        });
    }
    if is_packed(&values) {
        return Some(Reading {
            column,
            score,
            form: "time of day without colons",
            seconds: raw.into_iter().map(|value| value.map(unpack)).collect(),
            origin: Origin::TimeOfDay,
            wraps_s: Some(86_400.0),
            warnings: Vec::new(),
        });
    }
    let (scale, form) = unit(table, (column, in_cells), (&raw, &values), &mut warnings);
    if form == "spreadsheet time of day" {
        return Some(Reading {
            column,
            score,
            form,
            seconds: raw
                .into_iter()
                .map(|value| value.map(|v| v * scale))
                .collect(),
            origin: Origin::TimeOfDay,
            wraps_s: Some(86_400.0),
            warnings,
        });
    }
    let (mut values, middle) = (values, raw.iter().flatten().count() / 2);
    let middle_s = scale * *values.select_nth_unstable_by(middle, f64::total_cmp).1;
    // 3e8 s after 1970 is 1979, and no logger runs for ten years.
    let epoch = (3e8..1e10).contains(&middle_s);
    let mut shift_s = 0.0;
    let (form, origin) = if form == "spreadsheet days" {
        shift_s = SPREADSHEET_EPOCH_S;
        (form, Origin::Local { utc_offset_s: None })
    } else if epoch {
        warnings.push(clock_is_utc("times count from 1970"));
        let form = match form {
            "milliseconds" => "epoch milliseconds",
            "microseconds" => "epoch microseconds",
            _ => "epoch seconds",
        };
        let utc_offset_s = Some(0);
        (form, Origin::Local { utc_offset_s })
    } else {
        (form, Origin::Running)
    };
    let seconds = raw
        .into_iter()
        .map(|value| value.map(|v| v * scale + shift_s))
        .collect();
    Some(Reading {
        column,
        score,
        form,
        seconds,
        origin,
        wraps_s: None,
        warnings,
    })
}

/// Counts on where a counter of 16 or 32 bits starts again at zero, and says so.
fn unwrap_counter(column: &str, raw: &mut [Option<f64>]) -> Vec<Warning> {
    /// A counter stops short of its end by no more than a few steps.
    const STEPS: f64 = 5.0;
    if raw.iter().flatten().is_sorted() {
        return Vec::new();
    }
    let values: Vec<f64> = raw.iter().flatten().copied().collect();
    let falls = || {
        let pairs = values.windows(2).map(|pair| (pair[0], pair[1]));
        pairs.filter(|(before, after)| after < before)
    };
    let highest = values.iter().copied().fold(0.0, f64::max);
    let Some((bits, period)) = [(16, 65_536.0), (32, 4_294_967_296.0)]
        .into_iter()
        .find(|(_, period)| highest < *period)
    else {
        return Vec::new();
    };
    let near = STEPS * median_step(values.iter().copied());
    let at_end =
        |(before, after): (f64, f64)| before > period - near && (0.0..near).contains(&after);
    if falls().next().is_none() || near > period / 8.0 || !falls().all(at_end) {
        return Vec::new();
    }
    let (mut turns, mut last) = (0.0, f64::NEG_INFINITY);
    for value in raw.iter_mut().flatten() {
        let before = std::mem::replace(&mut last, *value);
        if *value < before {
            turns += 1.0;
        }
        *value += turns * period;
    }
    let message = format!(
        "column `{column}` starts again at {period:.0}, as a counter of {bits} bits does: time goes on there"
    );
    vec![Warning::note("clock-wraps", message)]
}

/// Whether numbers are `hhmmss.sss`, as satellite receivers write them (NMEA 0183): no minute or
/// second above 60, and a leap of 40 from every second 59 to the next minute.
fn is_packed(values: &[f64]) -> bool {
    let fits =
        |v: &f64| (0.0..240_000.0).contains(v) && v % 100.0 < 60.0 && v / 100.0 % 100.0 < 60.0;
    let leaps = values
        .windows(2)
        .filter(|pair| (40.0..42.0).contains(&(pair[1] - pair[0])))
        .count();
    let creeps = values
        .windows(2)
        .filter(|pair| (0.0..2.0).contains(&(pair[1] - pair[0])))
        .count();
    leaps > 0 && 10 * creeps > 8 * values.len() && values.iter().all(fits)
}

fn unpack(value: f64) -> f64 {
    let (hours, minutes) = ((value / 10_000.0).floor(), (value / 100.0).floor() % 100.0);
    hours * 3600.0 + minutes * 60.0 + value % 100.0
}

/// 30 December 1899 in seconds from 1970, where spreadsheets count their days from.
const SPREADSHEET_EPOCH_S: f64 = -25_569.0 * 86_400.0;
