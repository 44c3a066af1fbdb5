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

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::assign::Choice;
use super::cell::{Mark, is_blank, number, word_number};
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
    pub unreadable: Unreadable,
}

/// Cells that hold text, and where the first one is.
type Unreadable = Option<(usize, usize)>;

/// Id of the warning that the values did not decide the unit.
pub(super) const ASSUMED: &str = "unit-assumed";

/// A channel of a file.
#[derive(Debug, Clone)]
pub(super) struct Channel {
    pub info: ChannelInfo,
    /// One a kept row, in the inside unit, `NaN` where there is none.
    pub values: Vec<f64>,
    /// The same before cleaning, where it took anything out.
    pub raw: Option<Vec<f64>>,
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
    let mut blocks: Vec<Vec<Block<'_>>> = rows.chunks(BLOCK).map(|_| Vec::new()).collect();
    for (column, mark) in columns.iter_mut().zip(marks) {
        let (at, words) = (
            column.choice.column,
            column.role.quantity() == Quantity::Count,
        );
        for (block, values) in blocks.iter_mut().zip(column.values.chunks_mut(BLOCK)) {
            block.push(Block {
                column: at,
                mark,
                words,
                values,
            });
        }
    }
    let unreadable: Vec<Vec<Unreadable>> = blocks
        .into_par_iter()
        .zip(rows.par_chunks(BLOCK))
        .map(|(block, rows)| block.into_iter().map(|b| b.read(table, rows)).collect())
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
struct Block<'a> {
    column: usize,
    mark: Mark,
    /// Whether words such as `on` are values.
    words: bool,
    values: &'a mut [f64],
}

impl Block<'_> {
    fn read(self, table: &Table, rows: &[usize]) -> Unreadable {
        let mut unreadable: Unreadable = None;
        for (value, &row) in self.values.iter_mut().zip(rows) {
            let cell = table.cell(row, self.column);
            let word = || self.words.then(|| word_number(cell)).flatten();
            match number(cell, self.mark).or_else(word) {
                Some(read) => *value = read,
                None if !is_blank(cell) => {
                    let (count, first) = unreadable.unwrap_or((0, row));
                    unreadable = Some((count + 1, first));
                }
                None => {}
            }
        }
        unreadable
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
    let count = written.values.iter().filter(|v| !v.is_nan()).count();
    let mut values = written.values;
    values.iter_mut().for_each(|v| *v = unit.to_inside(*v));
    let removed = clean(role, t_s, &mut values);
    if removed.impossible > 0 {
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
    let raw = removed.before(&values);
    Channel { info, values, raw }
}

/// What is known of a channel, from its cleaned values.
pub(super) fn describe(
    column: String,
    unit: Unit,
    unit_from: UnitFrom,
    t_s: &[f64],
    values: &[f64],
) -> ChannelInfo {
    let (mut count, mut sum) = (0_usize, 0.0);
    let (mut min, mut max) = (f64::INFINITY, f64::NEG_INFINITY);
    for &value in values.iter().filter(|v| !v.is_nan()) {
        (count, sum) = (count + 1, sum + value);
        (min, max) = (min.min(value), max.max(value));
    }
    let some = |value: f64| (count > 0).then_some(value);
    ChannelInfo {
        column,
        unit: unit.symbol().to_owned(),
        unit_from,
        resolution: resolution(values),
        median_refresh_s: median_refresh_s(t_s, values, count),
        missing_fraction: 1.0 - count as f64 / values.len().max(1) as f64,
        min: some(min),
        max: some(max),
        mean: some(sum / count as f64),
    }
}

/// The smallest step between two different values; differences of rounding are none.
fn resolution(values: &[f64]) -> Option<f64> {
    let mut last = f64::NAN;
    let mut sorted: Vec<f64> = Vec::new();
    for &value in values.iter().filter(|v| !v.is_nan()) {
        if value != last {
            sorted.push(value);
            last = value;
        }
    }
    sorted.sort_unstable_by(f64::total_cmp);
    sorted.dedup();
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

fn median_refresh_s(t_s: &[f64], values: &[f64], present: usize) -> Option<f64> {
    let sparse = 2 * present <= values.len();
    let (mut last, mut refreshed) = (None, None);
    let mut between: Vec<f64> = Vec::new();
    for (&t, &value) in t_s.iter().zip(values).filter(|(_, v)| !v.is_nan()) {
        let refresh = sparse || last.is_some_and(|l| l != value);
        if refresh && refreshed.is_none_or(|before| t > before) {
            between.extend(refreshed.map(|before| t - before));
            refreshed = Some(t);
        }
        last = Some(value);
    }
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
        assert_eq!(median_refresh_s(&t_s, &held, 40), Some(1.0));
        let blanks: Vec<f64> = (0..40)
            .map(|i| if i % 5 == 0 { 7.0 } else { f64::NAN })
            .collect();
        assert_eq!(median_refresh_s(&t_s, &blanks, 8), Some(0.5));
        assert_eq!(median_refresh_s(&t_s, &[7.0; 40], 40), None);
    }
}
