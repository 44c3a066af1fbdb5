//! The unit in which a clock of bare numbers counts: as its head says, or judged from its values.

use super::clock_read::sample;
use super::clock_steps::{absurd_in_table, gentle_braking};
use super::heads::without_number;
use super::table::Table;
use super::timeline::median_step;
use super::words::fold;
use crate::warning::Warning;

/// Seconds in one unit of a column, with the name of how it is written; `raw` has one a row,
/// `values` those that are there.
pub(super) fn unit(
    table: &Table,
    (column, in_cells): (usize, Option<&str>),
    (raw, values): (&[Option<f64>], &[f64]),
    warnings: &mut Vec<Warning>,
) -> (f64, &'static str) {
    if let Some(said) = said_unit(table, column).or_else(|| named_unit(in_cells?)) {
        return said;
    }
    let name = &table.columns[column].name;
    let judged = judge_unit(values, name, warnings);
    if judged != (1.0, "seconds") {
        return judged;
    }
    warnings.extend(faster_doubt(table, (raw, values), name));
    slower(table, raw, name, warnings).unwrap_or(judged)
}

/// Seconds in one unit, with its name, from a column's head.
fn said_unit(table: &Table, column: usize) -> Option<(f64, &'static str)> {
    let head = &table.columns[column];
    let name = without_number(&head.name);
    let brackets = name.rfind(['(', '[']).map(|at| &name[at..]);
    let scaled = head
        .unit_text
        .as_deref()
        .into_iter()
        .chain(brackets)
        .find_map(scaled_second);
    if scaled.is_some() {
        return scaled;
    }
    let folded = fold(&name.replace(['µ', 'μ'], "u"));
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
        .find_map(named_unit)
}

/// The unit of a word, with the name of how it is written.
fn named_unit(word: &str) -> Option<(f64, &'static str)> {
    match word {
        "s" | "sec" | "secs" | "second" | "seconds" | "sek" | "sekunden" | "secondes"
        | "segundos" | "secondi" => Some((1.0, "seconds")),
        "ms" | "msec" | "millis" | "milliseconds" | "millisekunden" => Some((1e-3, "milliseconds")),
        "ns" | "nsec" | "nanoseconds" => Some((1e-9, "nanoseconds")),
        "us" | "usec" | "micros" | "microseconds" => Some((1e-6, "microseconds")),
        "min" | "minutes" | "minuten" => Some((60.0, "minutes")),
        "h" | "hours" | "stunden" => Some((3600.0, "hours")),
        _ => None,
    }
}

/// The unit behind the number of every cell of a clock: `0.5 s`.
pub(super) fn unit_in_cells(table: &Table, column: usize) -> Option<&str> {
    let mut cells = sample(table, column).into_iter();
    let first = cells.next()?;
    let unit = &first[first.trim_end_matches(char::is_alphabetic).len()..];
    named_unit(unit)?;
    cells.all(|cell| cell.ends_with(unit)).then_some(unit)
}

/// A cell without that unit.
pub(super) fn without_unit<'a>(cell: &'a str, unit: &str) -> &'a str {
    cell.strip_suffix(unit).unwrap_or(cell).trim_end()
}

/// Whether a text is a unit in which a clock can count: `ms`, `1/100 s`.
pub(super) fn is_unit(text: &str) -> bool {
    named_unit(text).or_else(|| scaled_second(text)).is_some()
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

/// Doubts seconds that nobody named where rows are whole seconds apart, the drive is long, and its
/// speed hardly ever falls: the numbers may count a part of a second.
fn faster_doubt(
    table: &Table,
    (raw, values): (&[Option<f64>], &[f64]),
    column: &str,
) -> Option<Warning> {
    const LEAST_STEP: f64 = 2.0;
    const LEAST_S: f64 = 3600.0;
    let (step, length) = (
        median_step(values.iter().copied()),
        values.last()? - values.first()?,
    );
    if step < LEAST_STEP || step.fract() != 0.0 || length < LEAST_S {
        return None;
    }
    let braking = gentle_braking(table, raw)?;
    Some(Warning::caution(
        "time-unit-doubted",
        format!(
            "column `{column}` names no unit; in seconds the log has a row every {step} s, lasts {:.1} h, and no braking in it is harder than {braking:.1} in a second: if it counts tenths, name the column `{column} (1/10 s)` in the file",
            length / 3600.0
        ),
    ))
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
    let forward = Some(median_step(values.iter().copied())).filter(|step| *step > 0.0);
    let step = forward.unwrap_or(1.0);
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
