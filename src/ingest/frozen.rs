//! A log that ends in rows which say the same over and over while the car is moving: the logger
//! lost its source and wrote on what it had.

use super::cell::number;
use super::table::Table;
use super::timeline::Timeline;
use crate::warning::Warning;

/// A car that moves changes some channel sooner than this, s. Speed in whole km/h alone was seen
/// to stand for 99 s on the road, but not with every other channel.
const FROZEN_S: f64 = 15.0;
const LEAST_ROWS: usize = 5;
/// Fewer channels than this may well stand still together.
const LEAST_COLUMNS: usize = 3;
const MOVING: f64 = 5.0;

/// Cuts off such an end, all but its first row, and says so.
pub(super) fn cut(
    table: &Table,
    timeline: &mut Timeline,
    clocks: &[usize],
    speed: usize,
) -> Option<Warning> {
    let others: Vec<usize> = (0..table.columns.len())
        .filter(|at| !clocks.contains(at))
        .collect();
    let &last = timeline.rows.last()?;
    let moves = number(table.cell(last, speed), table.mark_of(speed)).is_some_and(|v| v > MOVING);
    let varies = |at: &&usize| {
        let first = table.cell(timeline.rows[0], **at);
        timeline
            .rows
            .iter()
            .any(|row| table.cell(*row, **at) != first)
    };
    if !moves || others.iter().filter(varies).count() < LEAST_COLUMNS {
        return None;
    }
    let same = |row: &&usize| {
        let mut cells = others.iter();
        cells.all(|at| table.cell(**row, *at) == table.cell(last, *at))
    };
    let held = timeline.rows.iter().rev().take_while(same).count();
    let from = timeline.rows.len() - held;
    let length_s = timeline.t_s.last()? - timeline.t_s.get(from)?;
    if held < LEAST_ROWS || length_s < FROZEN_S {
        return None;
    }
    timeline.rows.truncate(from + 1);
    timeline.t_s.truncate(from + 1);
    Some(Warning::caution(
        "frozen-end",
        format!(
            "the last {length_s:.0} s say the same in every row while the car is moving, and were left out"
        ),
    ))
}
