//! Reads a column of bare numbers as times: its unit, and what it counts from.

use chrono::NaiveDate;

use super::cell::number;
use super::clock_read::{Origin, Reading, clock_is_utc};
use super::clock_steps::absurd_in_table;
use super::table::Table;
use super::time_text::{is_plausible, local_seconds};
use super::words::fold;
use crate::warning::Warning;

/// Seconds in one unit, with its name, from a column's head.
fn said_unit(table: &Table, column: usize) -> Option<(f64, &'static str)> {
    let head = &table.columns[column];
    let brackets = head.name.rfind(['(', '[']).map(|at| &head.name[at..]);
    let scaled = head
        .unit_text
        .as_deref()
        .into_iter()
        .chain(brackets)
        .find_map(scaled_second);
    if scaled.is_some() {
        return scaled;
    }
    let folded = fold(&head.name.replace(['µ', 'μ'], "u"));
    let in_row = head
        .unit_text
        .as_deref()
        .map(|t| fold(&t.replace(['µ', 'μ'], "u")));
    let last = folded
        .split_whitespace()
        .last()
        .unwrap_or_default()
        .to_owned();
    in_row
        .iter()
        .map(|text| text.trim())
        .chain([last.as_str()])
        .find_map(|text| match text {
            "s" | "sec" | "secs" | "second" | "seconds" | "sek" | "sekunden" | "secondes"
            | "segundos" | "secondi" => Some((1.0, "seconds")),
            "ms" | "msec" | "millis" | "milliseconds" | "millisekunden" => {
                Some((1e-3, "milliseconds"))
            }
            "ns" | "nsec" | "nanoseconds" => Some((1e-9, "nanoseconds")),
            "us" | "usec" | "micros" | "microseconds" => Some((1e-6, "microseconds")),
            "min" | "minutes" | "minuten" => Some((60.0, "minutes")),
            "h" | "hours" | "stunden" => Some((3600.0, "hours")),
            _ => None,
        })
}

/// Parts of a second that have no name of their own here: `1/100 s`, `0.1 s`, `cs`, `10 ms`.
fn scaled_second(text: &str) -> Option<(f64, &'static str)> {
    let inner = text
        .trim_matches(['(', ')', '[', ']', ' '])
        .replace(' ', "");
    let form = "parts of a second";
    match inner.as_str() {
        "cs" => return Some((0.01, form)),
        "ds" => return Some((0.1, form)),
        _ => {}
    }
    let at = inner.find(char::is_alphabetic).filter(|at| *at > 0)?;
    let (factor, unit) = inner.split_at(at);
    let factor = match factor.trim_end_matches(['*', '·']).split_once('/') {
        Some((above, below)) => above.parse::<f64>().ok()? / below.parse::<f64>().ok()?,
        None => factor.replace(',', ".").parse::<f64>().ok()?,
    };
    let unit_s = match unit {
        "s" | "sec" => 1.0,
        "ms" => 1e-3,
        "us" | "µs" | "μs" => 1e-6,
        _ => return None,
    };
    (factor > 0.0 && factor.is_finite()).then_some((factor * unit_s, form))
}

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
    let raw: Vec<Option<f64>> = (0..table.rows.len())
        .map(|row| number(table.cell(row, column), mark))
        .collect();
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
    let mut warnings = Vec::new();
    let name = &table.columns[column].name;
    let (scale, form) = said_unit(table, column).unwrap_or_else(|| {
        let judged = judge_unit(&values, name, &mut warnings);
        match judged {
            (1.0, "seconds") => slower(table, &raw, name, &mut warnings).unwrap_or(judged),
            _ => judged,
        }
    });
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
    let mut sorted = values;
    sorted.sort_by(f64::total_cmp);
    let middle_s = scale * sorted[sorted.len() / 2];
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

/// A slower unit than seconds for a clock without one, where the car would otherwise change its
/// speed faster than any does.
fn slower(
    table: &Table,
    raw: &[Option<f64>],
    column: &str,
    warnings: &mut Vec<Warning>,
) -> Option<(f64, &'static str)> {
    let change = absurd_in_table(table, raw)?;
    // Parts of a day are a time of day, which a session seldom begins at midnight; others count from zero.
    let begins = raw.iter().flatten().next().copied().unwrap_or(0.0);
    let part_of_day = begins > 0.01 && raw.iter().flatten().all(|v| (0.0..1.0).contains(v));
    let units = match part_of_day {
        true => [(86_400.0, "spreadsheet time of day")].as_slice(),
        false => &[(60.0, "minutes"), (3600.0, "hours")],
    };
    let scaled =
        |scale: f64| -> Vec<Option<f64>> { raw.iter().map(|v| Some((*v)? * scale)).collect() };
    let found = units
        .iter()
        .copied()
        .find(|(scale, _)| absurd_in_table(table, &scaled(*scale)).is_none())?;
    warnings.push(Warning::caution(
        "time-unit-judged",
        format!(
            "column `{column}` names no unit; in seconds the speed would change by {change:.0} a second: taken for {}",
            found.1
        ),
    ));
    Some(found)
}

/// Judges the unit of bare numbers from their size and steps.
fn judge_unit(values: &[f64], column: &str, warnings: &mut Vec<Warning>) -> (f64, &'static str) {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    match sorted[sorted.len() / 2] {
        middle if middle > 1e17 => return (1e-9, "nanoseconds"),
        middle if middle > 1e14 => return (1e-6, "microseconds"),
        middle if middle > 1e11 => return (1e-3, "milliseconds"),
        middle if (3e8..1e10).contains(&middle) => return (1.0, "seconds"),
        _ => {}
    }
    let mut steps: Vec<f64> = values
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .filter(|step| *step > 0.0)
        .collect();
    steps.sort_by(f64::total_cmp);
    let step = steps.get(steps.len() / 2).copied().unwrap_or(1.0);
    let length = values.last().unwrap_or(&0.0) - values.first().unwrap_or(&0.0);
    // Days since 30 December 1899: 30 000 is 1982, 70 000 is 2091; steps below 15 minutes.
    if sorted[0] > 30_000.0 && sorted[sorted.len() - 1] < 70_000.0 && step < 0.01 {
        return (86_400.0, "spreadsheet days");
    }
    // A log lasts minutes at least; one row a minute is a weather file.
    let (scale, form) = if step >= 5000.0 && length * 1e-6 >= 60.0 {
        (1e-6, "microseconds")
    } else if step >= 1000.0 || (step >= 5.0 && length * 1e-3 >= 120.0) {
        (1e-3, "milliseconds")
    } else {
        return (1.0, "seconds");
    };
    warnings.push(Warning::caution(
        "time-unit-judged",
        format!("column `{column}` names no unit; steps of {step} were taken for {form}"),
    ));
    (scale, form)
}
