//! A clock that starts again with each lap, beside a column that counts the laps: one drive.

use super::cell::number;
use super::clock::Clock;
use super::clock_read::Origin;
use super::roles::is_named;
use super::straighten::JUMP_BACK_S;
use super::table::Table;
use super::timeline::{median_step, steps, timed_rows};
use crate::session::Role;
use crate::warning::Warning;
use crate::words::{count, quoted};

/// A lap's clock begins below this, s.
const LAP_STARTS_S: f64 = 10.0;
/// A lap is no longer than this, s.
const LONGEST_LAP_S: f64 = 1800.0;

/// Puts the laps one after another, where the clock starts again at each lap and only there.
pub(super) fn chain(table: &Table, clock: &mut Clock) {
    if clock.origin != Origin::Running || clock.wraps_s.is_some() {
        return;
    }
    if !steps(&clock.seconds).any(|(before, after)| after < before - JUMP_BACK_S) {
        return;
    }
    let timed = timed_rows(&clock.seconds);
    let back = |pair: &[(usize, f64)]| pair[1].1 < pair[0].1 - JUMP_BACK_S;
    let restarts: Vec<usize> = (1..timed.len())
        .filter(|at| back(&timed[at - 1..=*at]))
        .collect();
    let starts_low = |at: &usize| timed[*at].1 < LAP_STARTS_S && timed[at - 1].1 < LONGEST_LAP_S;
    if restarts.is_empty() || !restarts.iter().all(starts_low) {
        return;
    }
    let is_lap =
        |at: &usize| !clock.columns.contains(at) && is_named(&table.columns[*at].name, Role::Lap);
    let Some(lap) = (0..table.columns.len()).find(is_lap) else {
        return;
    };
    let mark = table.mark_of(lap);
    let lap_at = |at: usize| {
        // `Lap 3` counts as 3.
        let cell = table.cell(timed[at].0, lap);
        let figures = cell.trim_start_matches(|c: char| !c.is_ascii_digit());
        number(cell, mark).or_else(|| number(figures, mark))
    };
    let counts_on = |at: &usize| lap_at(*at) > lap_at(at - 1) && lap_at(at - 1).is_some();
    let changes = (1..timed.len())
        .filter(|at| lap_at(*at) != lap_at(at - 1))
        .count();
    if changes != restarts.len() || !restarts.iter().all(counts_on) {
        return;
    }
    let step_s = median_step(timed.iter().map(|(_, s)| *s));
    let mut shift_s = 0.0;
    for (at, &(row, s)) in timed.iter().enumerate() {
        if restarts.binary_search(&at).is_ok() {
            shift_s += timed[at - 1].1 + step_s;
        }
        clock.seconds[row] = Some(s + shift_s);
    }
    clock.warnings.push(Warning::caution(
        "lap-clock",
        format!(
            "the clock {} starts again with each lap ({}): {} were put one after another; if laps are missing between them, so is their time",
            quoted(&clock.column),
            quoted(&table.columns[lap].name),
            count(restarts.len() + 1, "lap")
        ),
    ));
}
