//! What the steps of a clock say: whether it runs backwards, and whether its unit can be right.

use super::cell::number;
use super::clock::Clock;
use super::error::IngestError;
use super::recording::Recording;
use super::roles::is_named;
use super::table::Table;
use super::timeline::steps;
use crate::session::Role;
use crate::stats::median;

/// Whether nearly all steps go back.
pub(super) fn runs_back(clock: &Clock) -> bool {
    let steps = || steps(&clock.seconds);
    let back = steps().filter(|(before, after)| after < before).count();
    let on = steps().filter(|(before, after)| after > before).count();
    back > 20 && back > 9 * on
}

/// No car changes its speed faster, in km/h (or any larger unit) a second: 4 g are 141 km/h a
/// second (common practice, no source).
const FASTEST_CHANGE: f64 = 150.0;
/// Changes of less than this are noise and rounding, in the same unit.
const LEAST_CHANGE: f64 = 20.0;
const LEAST_CHANGES: usize = 10;

/// How fast a speed changes, the median of its larger changes a second, where no car does so.
pub(super) fn absurd_change(readings: impl Iterator<Item = (f64, f64)>) -> Option<f64> {
    let mut anchor: Option<(f64, f64)> = None;
    let mut changes = Vec::new();
    for (t, v) in readings {
        let Some((from_t, from)) = anchor else {
            anchor = Some((t, v));
            continue;
        };
        if (v - from).abs() >= LEAST_CHANGE {
            if t > from_t {
                changes.push((v - from).abs() / (t - from_t));
            }
            anchor = Some((t, v));
        }
    }
    if changes.len() < LEAST_CHANGES {
        return None;
    }
    median(changes).filter(|change| *change > FASTEST_CHANGE)
}

/// The speed of a table, as written, on a clock in these seconds.
fn speeds<'a>(
    table: &'a Table,
    clock_s: &'a [Option<f64>],
) -> Option<impl Iterator<Item = (f64, f64)> + 'a> {
    let is_speed = |at: &usize| is_named(&table.columns[*at].name, Role::Speed);
    let column = (0..table.columns.len()).find(is_speed)?;
    let mark = table.mark_of(column);
    let reading = move |(row, t): (usize, &Option<f64>)| {
        Some(((*t)?, number(table.cell(row, column), mark)?))
    };
    Some(clock_s.iter().enumerate().filter_map(reading))
}

/// [`absurd_change`] of the speed of a table.
pub(super) fn absurd_in_table(table: &Table, clock_s: &[Option<f64>]) -> Option<f64> {
    absurd_change(speeds(table, clock_s)?)
}

/// The hardest braking of a table, of speed as written a second, where a car that drives fast
/// brakes harder sooner or later.
pub(super) fn gentle_braking(table: &Table, clock_s: &[Option<f64>]) -> Option<f64> {
    /// 5 km/h a second are 0.14 g, those of a driver who never hurries (common practice, no source).
    const GENTLE: f64 = 5.0;
    const FAST: f64 = 80.0;
    let speeds: Vec<(f64, f64)> = speeds(table, clock_s)?.collect();
    let falls = speeds
        .windows(2)
        .filter(|pair| pair[1].0 > pair[0].0)
        .map(|pair| (pair[0].1 - pair[1].1) / (pair[1].0 - pair[0].0));
    let hardest = falls.fold(0.0, f64::max);
    let fast = speeds.iter().any(|(_, v)| *v > FAST);
    (fast && hardest < GENTLE).then_some(hardest)
}

/// Rows come neither faster than this, Hz ...
const FASTEST_HZ: f64 = 1000.0;
/// ... nor, over a whole file, slower.
const SLOWEST_HZ: f64 = 0.1;
/// Nobody drives for longer without a pause, s.
const LONGEST_S: f64 = 86_400.0;
const LEAST_ROWS: usize = 20;

/// The clock of a drive must give rows at a rate that a logger has, and a car that can be.
pub(super) fn believable_clock(main: &Recording) -> Result<(), IngestError> {
    let (step_s, t_s) = (main.timeline.median_step_s, &main.timeline.t_s);
    let speed = &main.channels[&Role::Speed].values;
    let readings = t_s.iter().zip(speed).filter(|(_, v)| !v.is_nan());
    let why = if t_s.len() < LEAST_ROWS {
        return Ok(());
    } else if step_s > 0.0 && step_s * FASTEST_HZ < 1.0 - 1e-6 {
        format!("rows would come {:.0} times a second", 1.0 / step_s)
    } else if step_s * SLOWEST_HZ > 1.0 {
        format!("a row would come every {step_s:.0} s")
    } else if main.duration_s() > LONGEST_S {
        format!("the drive would last {:.0} h", main.duration_s() / 3600.0)
    } else if let Some(change) = absurd_change(readings.map(|(t, v)| (*t, *v))) {
        format!("the speed would change by {change:.0} km/h a second")
    } else {
        return Ok(());
    };
    Err(IngestError::AbsurdClock {
        file: main.table.file.clone(),
        column: main.time_column.clone(),
        form: main.time_form,
        why,
    })
}
