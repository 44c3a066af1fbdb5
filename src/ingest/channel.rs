//! One column as a channel: numbers in the inside unit, cleaned, with what is known of it.
//!
//! Two figures describe how finely it was read:
//!
//! - `resolution`: the smallest step between two different values of the channel.
//! - `median_refresh_s`: the median time between two refreshes. A polled log repeats a value
//!   until the next answer comes, so a refresh is a *change* of value; where at least half of
//!   the rows are blank, every value is a refresh. A channel that hardly changes shows few of
//!   its refreshes: the figure is then the longest the refresh can have been, and it is missing
//!   where there are fewer than two.

use super::assign::Choice;
use super::cell::{is_blank, number, word_number};
use super::clean::{clean, possible, stuck};
use super::table::Table;
use super::unit_values::{Context, Judged, judge};
use crate::quantity::{Quantity, Unit};
use crate::session::{ChannelInfo, Role, UnitFrom};
use crate::warning::Warning;

/// A column's numbers as written.
pub(super) struct Written {
    pub role: Role,
    pub choice: Choice,
    /// One a kept row, `NaN` where there is none.
    pub values: Vec<f64>,
    /// Finite values in order, of long columns some spread evenly.
    pub sorted: Vec<f64>,
    /// Cells that hold text, and where the first one is.
    pub unreadable: Option<(usize, usize)>,
}

/// Id of the warning that the values did not decide the unit.
pub(super) const ASSUMED: &str = "unit-assumed";

/// A channel of a file.
#[derive(Debug, Clone)]
pub(super) struct Channel {
    pub info: ChannelInfo,
    /// One a kept row, in the inside unit, `NaN` where there is none.
    pub values: Vec<f64>,
}

/// So many values are enough to judge a unit from.
const MOST_JUDGED: usize = 50_000;

/// Whether a column holds any number at all.
pub(super) fn has_numbers(table: &Table, column: usize) -> bool {
    (0..table.rows.len()).any(|row| {
        let cell = table.cell(row, column);
        number(cell, table.mark).is_some() || word_number(cell).is_some()
    })
}

/// Reads a column's numbers.
pub(super) fn read_written(table: &Table, role: Role, choice: Choice, rows: &[usize]) -> Written {
    let mark = table.mark_of(choice.column);
    let words = role.quantity() == Quantity::Count;
    let mut unreadable: Option<(usize, usize)> = None;
    let values: Vec<f64> = rows
        .iter()
        .map(|&row| {
            let cell = table.cell(row, choice.column);
            let read = number(cell, mark).or_else(|| if words { word_number(cell) } else { None });
            if read.is_none() && !is_blank(cell) {
                let (count, first) = unreadable.unwrap_or((0, row));
                unreadable = Some((count + 1, first));
            }
            read.unwrap_or(f64::NAN)
        })
        .collect();
    let present = || values.iter().copied().filter(|v| !v.is_nan());
    let every = present().count() / MOST_JUDGED + 1;
    let mut sorted: Vec<f64> = present().step_by(every).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    Written {
        role,
        choice,
        values,
        sorted,
        unreadable,
    }
}

/// The unit of a column, where it was read, and what the reader must know of that.
pub(super) fn unit_of(
    table: &Table,
    written: &Written,
    context: Context,
) -> (Unit, UnitFrom, Option<Warning>) {
    let role = written.role;
    let name = role.name();
    let column = &table.columns[written.choice.column].name;
    let Some((unit, from)) = written.choice.unit else {
        let judged = judge(role, &written.sorted, context);
        let warning = told(role).then(|| judged_warning(name, column, &judged));
        return (judged.unit, UnitFrom::Values, warning);
    };
    if role.quantity() == Quantity::Temperature && from != UnitFrom::User {
        let judged = judge(role, &written.sorted, context);
        if judged.sure && label_is_wrong(role, &written.sorted, unit, judged.unit) {
            let message = format!(
                "{name}: column `{column}` says {}, but {}; taken as {}; to insist: --map \"{name}={column}:{}\"",
                unit.symbol(),
                judged.evidence,
                judged.unit.symbol(),
                unit.symbol()
            );
            let warning = Warning::caution("unit-label-contradicted", message);
            return (judged.unit, UnitFrom::Values, Some(warning));
        }
    }
    (unit, from, None)
}

/// What a sensor without signal reads on a diagnostic bus, °C: raw 0 and raw 255 (SAE J1979).
const NO_SIGNAL_C: [f64; 2] = [-40.0, 215.0];

/// Whether a label is wrong rather than its sensor: most values cannot be in the labelled unit,
/// and nearly all of them can in the other. A sensor that is faulty for a while, or one that
/// overheats, is not read in another unit.
fn label_is_wrong(role: Role, sorted: &[f64], labelled: Unit, judged: Unit) -> bool {
    let readings = || sorted.iter().filter(|v| !NO_SIGNAL_C.contains(v));
    let possible_in = |unit: Unit| {
        readings()
            .filter(|v| possible(role, unit.to_inside(**v)))
            .count()
    };
    let count = readings().count();
    judged != labelled
        && 2 * possible_in(labelled) < count
        && 100 * possible_in(judged) >= 98 * count
}

/// Channels whose unit is worth a word: a wrong one would change the answer.
fn told(role: Role) -> bool {
    matches!(
        role.quantity(),
        Quantity::Temperature | Quantity::Speed | Quantity::Pressure
    )
}

fn judged_warning(name: &str, column: &str, judged: &Judged) -> Warning {
    let symbol = judged.unit.symbol();
    let evidence = &judged.evidence;
    if judged.sure {
        let message =
            format!("{name}: column `{column}` names no unit; {evidence}: read in {symbol}");
        return Warning::note("unit-judged", message);
    }
    Warning::caution(
        ASSUMED,
        format!(
            "{name}: column `{column}` names no unit; {evidence}: read in {symbol}; if not, give --map \"{name}={column}:UNIT\""
        ),
    )
}

/// Converts and cleans a column.
pub(super) fn finish(
    table: &Table,
    written: Written,
    (unit, unit_from): (Unit, UnitFrom),
    t_s: &[f64],
    warnings: &mut Vec<Warning>,
) -> Channel {
    let role = written.role;
    let name = role.name();
    let column = table.columns[written.choice.column].name.clone();
    if let Some((count, row)) = written.unreadable {
        let (line, value) = (
            table.rows.number(row),
            table.cell(row, written.choice.column),
        );
        let value: String = value.chars().take(40).collect();
        warnings.push(Warning::note(
            "unreadable-values",
            format!("{name}: column `{column}`: {count} values are no numbers, the first is `{value}` on line {line}"),
        ));
    }
    let mut values: Vec<f64> = written.values.iter().map(|v| unit.to_inside(*v)).collect();
    if matches!(role, Role::Latitude | Role::Longitude) {
        // Exactly zero is what a receiver writes before it knows where it is.
        values
            .iter_mut()
            .filter(|v| **v == 0.0)
            .for_each(|v| *v = f64::NAN);
    }
    let removed = clean(role, t_s, &mut values);
    if removed.impossible > 0 {
        let count = written.values.iter().filter(|v| !v.is_nan()).count();
        let message = format!(
            "{name}: column `{column}`: values that cannot be, dropped: {}",
            removed.impossible
        );
        // Where a good part of a channel cannot be, the rest is hardly better.
        warnings.push(if 10 * removed.impossible > 3 * count {
            Warning::caution("mostly-impossible", format!("{message} of {count}"))
        } else {
            Warning::note("impossible-values", message)
        });
    }
    if removed.spikes > 0 {
        warnings.push(Warning::note(
            "spikes",
            format!(
                "{name}: column `{column}`: values in single spikes, dropped: {}",
                removed.spikes
            ),
        ));
    }
    warnings.extend(stuck(role, &column, t_s, &values));
    let info = describe(column, unit, unit_from, t_s, &values);
    Channel { info, values }
}

/// What is known of a channel, from its cleaned values.
pub(super) fn describe(
    column: String,
    unit: Unit,
    unit_from: UnitFrom,
    t_s: &[f64],
    values: &[f64],
) -> ChannelInfo {
    let present: Vec<f64> = values.iter().copied().filter(|v| !v.is_nan()).collect();
    let some = |value: f64| (!present.is_empty()).then_some(value);
    ChannelInfo {
        column,
        unit: unit.symbol().to_owned(),
        unit_from,
        resolution: resolution(&present),
        median_refresh_s: median_refresh_s(t_s, values),
        missing_fraction: 1.0 - present.len() as f64 / values.len().max(1) as f64,
        min: some(present.iter().copied().fold(f64::INFINITY, f64::min)),
        max: some(present.iter().copied().fold(f64::NEG_INFINITY, f64::max)),
        mean: some(present.iter().sum::<f64>() / present.len() as f64),
    }
}

/// The smallest step between two different values; differences of rounding are none.
fn resolution(present: &[f64]) -> Option<f64> {
    let mut sorted = present.to_vec();
    sorted.dedup();
    sorted.sort_unstable_by(f64::total_cmp);
    let smallest = sorted
        .windows(2)
        .map(|pair| (pair[1] - pair[0], 1e-9 * pair[1].abs().max(1.0)))
        .filter(|(step, rounding)| step > rounding)
        .map(|(step, _)| step)
        .fold(f64::INFINITY, f64::min);
    // 86.4 - 86.3 is 0.1 to a person.
    smallest
        .is_finite()
        .then(|| (smallest * 1e8).round() / 1e8)
        .filter(|step| *step > 0.0)
}

fn median_refresh_s(t_s: &[f64], values: &[f64]) -> Option<f64> {
    let present: Vec<(f64, f64)> = t_s
        .iter()
        .copied()
        .zip(values.iter().copied())
        .filter(|(_, v)| !v.is_nan())
        .collect();
    let sparse = 2 * present.len() <= values.len();
    let mut refreshes: Vec<f64> = Vec::new();
    let mut last = None;
    for (t, value) in present {
        if (sparse || last.is_some_and(|l| l != value)) && refreshes.last().is_none_or(|r| t > *r) {
            refreshes.push(t);
        }
        last = Some(value);
    }
    let mut between: Vec<f64> = refreshes.windows(2).map(|pair| pair[1] - pair[0]).collect();
    if between.is_empty() {
        return None;
    }
    let middle = between.len() / 2;
    let median = *between.select_nth_unstable_by(middle, f64::total_cmp).1;
    Some((median * 1e6).round() / 1e6)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resolution_is_the_smallest_true_step() {
        assert_eq!(resolution(&[86.3, 86.4, 86.4, 90.0]), Some(0.1));
        assert_eq!(resolution(&[1.0, 1.0 + 1e-12]), None);
        assert_eq!(resolution(&[]), None);
    }

    #[test]
    fn a_polled_value_is_refreshed_when_it_changes() {
        let t_s: Vec<f64> = (0..40).map(|i| f64::from(i) * 0.1).collect();
        let held: Vec<f64> = (0..40).map(|i| f64::from(i / 10)).collect();
        assert_eq!(median_refresh_s(&t_s, &held), Some(1.0));
        let blanks: Vec<f64> = (0..40)
            .map(|i| if i % 5 == 0 { 7.0 } else { f64::NAN })
            .collect();
        assert_eq!(median_refresh_s(&t_s, &blanks), Some(0.5));
        assert_eq!(median_refresh_s(&t_s, &[7.0; 40]), None);
    }
}
