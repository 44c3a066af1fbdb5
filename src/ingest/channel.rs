//! One column as a channel: numbers in the inside unit, cleaned, with what is known of it.
//!
//! Two figures describe how finely it was read:
//!
//! - `resolution`: the smallest step between two different values of the channel.
//! - `median_refresh_s`: the median time between two refreshes. Where at least half of the rows are
//!   blank, every value is a refresh. Else a polled log repeats a value until the next answer
//!   comes: a *change* of value is a refresh, but one that brought the same value again is not
//!   seen. Changes of a steady poll lie whole numbers of refreshes apart: the longest time is
//!   taken of which the times between changes are multiples, and each is divided by its own.
//!   Where there is no such time, the short ones (the shortest tenth) stand for one refresh: the
//!   figure is then the longest the refresh can have been. It is missing where there are fewer
//!   than two changes.

use polars::prelude::PlHashSet;

use super::clean::{clean, stuck};
use super::table::Table;
use super::written::Written;
use crate::quantity::Unit;
use crate::session::{ChannelInfo, UnitFrom};
use crate::warning::Warning;

/// A channel of a file.
#[derive(Debug, Clone)]
pub(super) struct Channel {
    pub info: ChannelInfo,
    /// One a kept row, in the inside unit, `NaN` where there is none.
    pub values: Vec<f64>,
    /// The same before cleaning, where it took anything out.
    pub raw: Option<Vec<f64>>,
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
    let mut removed = clean(role, t_s, &mut values);
    let asleep = removed.take_sleep(role, unit.to_inside(0.0), &mut values);
    if asleep > 0 {
        warnings.push(Warning::caution(
            "zero-before-data",
            format!("{name}: column `{column}` reads 0 for its first {asleep} rows, then jumps: taken for no reading"),
        ));
    }
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
    if let Some((value, at_s)) = removed.first_block {
        warnings.push(Warning::caution(
            "false-readings",
            format!(
                "{name}: column `{column}`: {} values dropped in blocks that no sensor comes to and leaves in one step, the first at {value} from {at_s:.0} s on",
                removed.blocks
            ),
        ));
    }
    let info = describe(column, unit, unit_from, t_s, &values);
    let step = info.resolution;
    warnings.extend(stuck(role, &info.column, (t_s, &values), step));
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
    let mut sorted = distinct(values);
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

/// The different values, some of them more than once. Most channels have few, and to find those is
/// quicker than to sort them all.
fn distinct(values: &[f64]) -> Vec<f64> {
    const FEW: usize = 1 << 14;
    let present = || values.iter().copied().filter(|v| !v.is_nan());
    let (mut seen, mut last) = (PlHashSet::default(), f64::NAN);
    for value in present() {
        if std::mem::replace(&mut last, value) != value
            && seen.insert(value.to_bits())
            && seen.len() > FEW
        {
            let mut all: Vec<f64> = present().collect();
            all.dedup();
            return all;
        }
    }
    seen.into_iter().map(f64::from_bits).collect()
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
    if !sparse {
        let row_s = (t_s.last()? - t_s.first()?) / (t_s.len() - 1) as f64;
        let refresh_s = common_part(&mut between, 2.0 * row_s)?;
        let refreshes = |time: f64| (time / refresh_s).round().max(1.0);
        between.iter_mut().for_each(|t| *t /= refreshes(*t));
    }
    let middle = between.len() / 2;
    nth(&mut between, middle).map(|median| (median * 1e6).round() / 1e6)
}

/// Refreshes that may lie within the shortest times between changes.
const MOST_UNSEEN: u32 = 4;
/// A poll is off its beat by no more than this share of it.
const OFF_BEAT: f64 = 0.2;

/// The longest time, no shorter than `least_s` unless it is the shortest of all, of which four in
/// five are multiples; the shortest tenth where there is none.
fn common_part(times: &mut [f64], least_s: f64) -> Option<f64> {
    let short = nth(times, times.len() / 10)?;
    let is_part = |part: &f64| {
        let on_beat = |time: &&f64| {
            let parts = *time / part;
            (parts - parts.round().max(1.0)).abs() <= OFF_BEAT
        };
        5 * times.iter().filter(on_beat).count() >= 4 * times.len()
    };
    let parts = (1..=MOST_UNSEEN).map(|unseen| short / f64::from(unseen));
    let mut long_enough = parts.take_while(|part| *part == short || *part >= least_s);
    Some(long_enough.find(is_part).unwrap_or(short))
}

/// The value at a place in the order of all.
fn nth(values: &mut [f64], at: usize) -> Option<f64> {
    (at < values.len()).then(|| *values.select_nth_unstable_by(at, f64::total_cmp).1)
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
        assert_eq!(median_refresh_s(&t_s, &held, 40), Some(1.0));
        let blanks: Vec<f64> = (0..40)
            .map(|i| if i % 5 == 0 { 7.0 } else { f64::NAN })
            .collect();
        assert_eq!(median_refresh_s(&t_s, &blanks, 8), Some(0.5));
        assert_eq!(median_refresh_s(&t_s, &[7.0; 40], 40), None);
    }

    /// A coolant in whole degrees, polled every 1.5 s: most refreshes bring nothing new. Half of
    /// its changes lie 3 s apart or more.
    #[test]
    fn a_refresh_that_brings_the_same_value_counts_too() {
        let t_s: Vec<f64> = (0..6000).map(|i| f64::from(i) * 0.1).collect();
        for per_poll in [0.05, 0.07, 0.09, 0.12] {
            let polled = |poll: i32| (80.0 + 6.0 * (f64::from(poll) * per_poll).sin()).floor();
            let held: Vec<f64> = (0..6000).map(|i| polled(i / 15)).collect();
            let changes = held.windows(2).filter(|pair| pair[0] != pair[1]).count();
            assert!((60..180).contains(&changes), "{changes} in 400 polls");
            assert_eq!(median_refresh_s(&t_s, &held, 6000), Some(1.5));
        }
    }
}
