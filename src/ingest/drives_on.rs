//! A clock that is put on while the car drives. A pause of the logger looks the same on the clock,
//! but the car stands at its ends, or comes back at another speed and cooler.

use super::assign::assign;
use super::cell::number;
use super::clock::Clock;
use super::options::ReadOptions;
use super::stacked::{Border, Why, by_clock};
use super::table::Table;
use super::timeline::{median_step, timed_rows};
use super::written::has_numbers;
use crate::quantity::Unit;
use crate::session::Role;
use crate::warning::Warning;

/// The car drives on both sides of the jump, km/h ...
const DRIVING_KMH: f64 = 20.0;
/// ... at speeds no further apart than this, km/h ...
const SPEEDS_APART_KMH: f64 = 30.0;
/// ... and its coolant has not cooled meanwhile, in written units.
const COOLANT_APART: f64 = 10.0;
/// Zones lie whole quarters of an hour apart, s ...
const ZONE_S: f64 = 900.0;
/// ... and the clock was right besides, s.
const ZONE_WITHIN_S: f64 = 5.0;
/// Readings are looked for in so many rows on either side.
const NEAR_ROWS: usize = 20;

/// Lets time go on with the usual step where the clock jumps while the car drives, and says so.
pub(super) fn mend(table: &Table, clock: &mut Clock, options: &ReadOptions) {
    let mut jumps = by_clock(table, clock);
    jumps.retain(|border| matches!(border.why, Why::Jump(_)));
    if jumps.is_empty() {
        return;
    }
    let timed = timed_rows(&clock.seconds);
    let step_s = median_step(timed.iter().map(|(_, s)| *s));
    let is_clock = |at| clock.columns.contains(&at);
    let usable = |at| has_numbers(table, at);
    let Ok(assignment) = assign(table, &options.all_maps(), is_clock, usable) else {
        return;
    };
    let Some(speed) = assignment.chosen.get(&Role::Speed) else {
        return;
    };
    let unit = speed.unit.map_or(Unit::KilometrePerHour, |(unit, _)| unit);
    let coolant = assignment.chosen.get(&Role::Coolant);
    for Border { row, why } in jumps {
        let Why::Jump(jump_s) = why else { continue };
        let what = why.words();
        let Some(speeds) = around(table, speed.column, row) else {
            continue;
        };
        let [before, after] = speeds.map(|v| unit.to_inside(v));
        let drives = before.min(after) > DRIVING_KMH && (after - before).abs() < SPEEDS_APART_KMH;
        let coolants = coolant.and_then(|choice| around(table, choice.column, row));
        let apart = coolants.map(|[before, after]| (after - before).abs());
        let cooled = apart.is_some_and(|apart| apart > COOLANT_APART);
        // Another zone, set once the receiver knows it.
        let zone = jump_s < 0.0
            && (jump_s / ZONE_S - (jump_s / ZONE_S).round()).abs() * ZONE_S < ZONE_WITHIN_S
            && before.max(after) < DRIVING_KMH
            && apart.is_some_and(|apart| apart < COOLANT_APART / 3.0);
        if (!drives || cooled) && !zone {
            continue;
        }
        for s in clock.seconds[row..].iter_mut().flatten() {
            *s -= jump_s - step_s;
        }
        clock.warnings.push(Warning::caution(
            "clock-jump",
            format!(
                "{what} on line {} {}: taken for a clock that was set, time goes on with the usual step",
                table.rows.number(row),
                if drives {
                    format!("while the car drives on ({before:.0} km/h before, {after:.0} km/h after)")
                } else {
                    "by whole quarters of an hour while the car stands as warm as before".to_owned()
                }
            ),
        ));
    }
}

/// The readings of a column next to a row, before and from it on.
fn around(table: &Table, column: usize, row: usize) -> Option<[f64; 2]> {
    let mark = table.mark_of(column);
    let reading = |row: usize| number(table.cell(row, column), mark);
    let before = (0..row).rev().take(NEAR_ROWS).find_map(reading)?;
    let after = (row..table.rows.len()).take(NEAR_ROWS).find_map(reading)?;
    Some([before, after])
}
