//! A second device's file on the main file's clock, and its channels on the main file's rows.
//!
//! The shared speed trace decides where there is one; else the clocks do. A polled speed is
//! on average half a refresh old when it is written, so an offset from a polled log is known no
//! better than that.

use super::correlate::{Fit, Trace, fit};
use super::error::IngestError;
use super::preamble::Start;
use super::recording::{Recording, moved};
use crate::session::{Aligned, Role};
use crate::warning::Warning;
use crate::words::quoted;

/// Below this correlation the two speeds are not the same drive.
const LEAST_CORRELATION: f64 = 0.8;
/// Clocks further off than this from the speed trace are told, s.
const CLOCKS_AGREE_S: f64 = 2.0;
/// A value is held at least so long, s, and for so many of its own steps.
const HOLD_S: f64 = 2.0;
const HOLD_STEPS: f64 = 3.0;
/// A channel read less often than this is slow, s.
const SLOW_STEP_S: f64 = 10.0;

/// Adds to `main` the channels of `other` that it lacks; `told_s` is the user's word on its clock.
pub(super) fn add(
    main: &mut Recording,
    other: &Recording,
    told_s: Option<f64>,
) -> Result<Aligned, IngestError> {
    let clock_lag_s = clock_lag_s(main, other);
    if let Some(offset_s) = told_s {
        return placed_as_told(main, other, clock_lag_s, offset_s);
    }
    let by_speed = by_speed(main, other, clock_lag_s);
    let file = &other.table.file;
    let (found, by_speed) = match (by_speed, clock_lag_s) {
        (Some(fit), _) if fit.correlation >= LEAST_CORRELATION => (fit, true),
        (weak, Some(lag_s)) => {
            main.warnings.extend(clocks_must_agree(other));
            main.warnings.extend(zone_of_one_unknown(main, other));
            if let Some(weak) = weak {
                main.warnings.push(Warning::caution(
                    "speeds-do-not-match",
                    format!("{}: its speed does not follow that of the main file (correlation {:.2} at best), so the clocks place it", quoted(file), weak.correlation),
                ));
            }
            (
                Fit {
                    lag_s,
                    stretch: None,
                    correlation: f64::NAN,
                },
                false,
            )
        }
        (weak, None) => return Err(no_way(main, other, weak)),
    };
    if let (true, Some(clock)) = (by_speed, clock_lag_s)
        && (found.lag_s - clock).abs() > CLOCKS_AGREE_S
    {
        main.warnings.push(Warning::caution(
            "clocks-disagree",
            format!(
                "{}: the clocks are {:.1} s apart; the shared speed trace was followed",
                quoted(file),
                (found.lag_s - clock).abs()
            ),
        ));
    }
    bring_over(main, other, found)?;
    // On comparable clocks the offset is their error, else the difference of what they show.
    let offset_s = match clock_lag_s {
        Some(clock) => found.lag_s - clock,
        None => found.lag_s + main.start.raw_s - other.start.raw_s,
    };
    Ok(Aligned {
        file: file.clone(),
        offset_s: (offset_s * 1e4).round() / 1e4 + 0.0,
        drift_ppm: found.stretch.map(|stretch| -stretch * 1e6),
        correlation: by_speed.then_some(found.correlation),
    })
}

/// The seconds that the user adds to the other's clock decide; no speed trace is asked.
fn placed_as_told(
    main: &mut Recording,
    other: &Recording,
    clock_lag_s: Option<f64>,
    offset_s: f64,
) -> Result<Aligned, IngestError> {
    let lag_s = match clock_lag_s {
        Some(clock) => clock + offset_s,
        None => other.start.raw_s + offset_s - main.start.raw_s,
    };
    if let Some(by_speed) = by_speed(main, other, clock_lag_s)
        && by_speed.correlation >= LEAST_CORRELATION
        && (by_speed.lag_s - lag_s).abs() > CLOCKS_AGREE_S
    {
        main.warnings.push(Warning::caution(
            "offset-against-speed",
            format!(
                "{}: the shared speed trace (correlation {:.2}) asks for {:.1} s, not the {offset_s:.1} s that were given; without --offset-s it decides",
                quoted(&other.table.file),
                by_speed.correlation,
                offset_s + by_speed.lag_s - lag_s
            ),
        ));
    }
    let told = Fit {
        lag_s,
        stretch: None,
        correlation: f64::NAN,
    };
    bring_over(main, other, told)?;
    Ok(Aligned {
        file: other.table.file.clone(),
        offset_s,
        drift_ppm: None,
        correlation: None,
    })
}

/// A car's temperatures placed by the clocks alone are as far off as the clocks are; the weather
/// changes too slowly for that to matter.
fn clocks_must_agree(other: &Recording) -> Option<Warning> {
    let quick = |role: &Role| {
        !matches!(
            role,
            Role::Ambient
                | Role::WindSpeed
                | Role::WindDirection
                | Role::BarometricPressure
                | Role::Altitude
        )
    };
    let file = &other.table.file;
    other.channels.keys().any(quick).then(|| {
        Warning::caution(
            "placed-by-clocks",
            format!("{}: no speed to place it by, so the clocks do; if they differ, say by how much: --offset-s \"{file}=SECONDS\"", quoted(file)),
        )
    })
}

/// Where one file says that its clock is in UTC and the other names no zone, they may be hours apart.
fn zone_of_one_unknown(main: &Recording, other: &Recording) -> Option<Warning> {
    let (a, b) = (&main.start, &other.start);
    let in_utc = match (a.utc_offset_s, b.utc_offset_s) {
        (None, Some(0)) => quoted(&other.table.file),
        (Some(0), None) => quoted(&main.table.file),
        _ => return None,
    };
    let file = &other.table.file;
    (a.local_s().is_some() && b.local_s().is_some()).then(|| {
        Warning::caution(
            "zone-unknown",
            format!(
                "{in_utc} is in UTC and the other file names no zone: the two clocks were taken as alike; if one is local, say what to add to the clock of {}: --offset-s \"{file}=SECONDS\" (7200 takes UTC to UTC+2)",
                quoted(file)
            ),
        )
    })
}

fn by_speed(main: &Recording, other: &Recording, near_s: Option<f64>) -> Option<Fit> {
    let trace = |recording: &Recording| {
        let speed = recording.channels.get(&Role::Speed)?;
        Some(Trace::new(&recording.timeline.t_s, &speed.values))
    };
    fit(&trace(main)?, &trace(other)?, near_s)
}

/// When the other's first row was by the clocks, s from the main's first row.
fn clock_lag_s(main: &Recording, other: &Recording) -> Option<f64> {
    let (a, b) = (&main.start, &other.start);
    let (Some(a_s), Some(b_s)) = (a.local_s(), b.local_s()) else {
        let apart = b.second_of_day? - a.second_of_day?;
        return Some((apart + 43_200.0).rem_euclid(86_400.0) - 43_200.0);
    };
    let lag = match (a.utc_offset_s, b.utc_offset_s) {
        (Some(a_off), Some(b_off)) => (b_s - f64::from(b_off)) - (a_s - f64::from(a_off)),
        _ => b_s - a_s,
    };
    Some(whole_hours(
        lag,
        a,
        b,
        main.duration_s(),
        other.duration_s(),
    ))
}

/// Where one clock is in UTC and the other's zone is unknown, they differ by whole half hours
/// at most 14 h: the least such shift that lets the files overlap is taken.
fn whole_hours(lag: f64, a: &Start, b: &Start, main_s: f64, other_s: f64) -> f64 {
    let overlaps = |lag: f64| lag < main_s && lag + other_s > 0.0;
    if overlaps(lag) || a.utc_offset_s.is_some() == b.utc_offset_s.is_some() {
        return lag;
    }
    (1..=28)
        .flat_map(|half| [f64::from(half), -f64::from(half)])
        .map(|half| lag + 1800.0 * half)
        .find(|shifted| overlaps(*shifted))
        .unwrap_or(lag)
}

fn no_way(main: &Recording, other: &Recording, weak: Option<Fit>) -> IngestError {
    let why = match weak {
        Some(weak) => format!(
            "the two speed traces do not match (correlation {:.2} at best) and the clocks cannot be compared",
            weak.correlation
        ),
        None => "there is no speed in both files and the clocks cannot be compared".to_owned(),
    };
    let hint = if main.start.second_of_day.is_none() {
        "say when the main file began: --start \"YYYY-MM-DD hh:mm:ss\"; or how many seconds to add \
         to the other clock: --offset-s FILE=SECONDS"
    } else {
        "say how many seconds to add to its clock: --offset-s FILE=SECONDS"
    };
    IngestError::Alignment {
        file: other.table.file.clone(),
        main: main.table.file.clone(),
        why,
        hint: hint.to_owned(),
    }
}

/// Takes over what the main file lacks; a value is held until the next one comes.
fn bring_over(main: &mut Recording, other: &Recording, found: Fit) -> Result<(), IngestError> {
    let stretch = 1.0 + found.stretch.unwrap_or(0.0);
    let placed: Vec<f64> = other
        .timeline
        .t_s
        .iter()
        .map(|t| found.lag_s + stretch * t)
        .collect();
    let mut added = 0;
    let lacking: Vec<Role> = other
        .channels
        .keys()
        .copied()
        .filter(|role| !main.channels.contains_key(role))
        .collect();
    for role in &lacking {
        let channel = &other.channels[role];
        let held = |values: &[f64]| {
            let trace = Trace::new(&placed, values);
            hold(&main.timeline.t_s, &trace)
        };
        let values = held(&channel.values);
        let raw = channel.raw.as_deref().map(held);
        if values.iter().all(|v| v.is_nan()) {
            continue;
        }
        added += 1;
        main.channels
            .insert(*role, moved(channel, &main.timeline.t_s, values, raw));
    }
    if added == 0 && !lacking.is_empty() {
        return Err(IngestError::Alignment {
            file: other.table.file.clone(),
            main: main.table.file.clone(),
            why: format!(
                "by the clocks it runs from {:.0} s to {:.0} s of a session of {:.0} s",
                placed.first().unwrap_or(&0.0),
                placed.last().unwrap_or(&0.0),
                main.duration_s()
            ),
            hint: "say when the main file began: --start \"YYYY-MM-DD hh:mm:ss\"".to_owned(),
        });
    }
    if lacking.is_empty() {
        main.warnings.push(Warning::note(
            "nothing-to-add",
            format!(
                "{}: the main file has all of its channels",
                quoted(&other.table.file)
            ),
        ));
    }
    Ok(())
}

/// The last value at or before each instant, if it is not too old.
fn hold(t_s: &[f64], trace: &Trace) -> Vec<f64> {
    let mut steps: Vec<f64> = trace.t_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_by(f64::total_cmp);
    let step = steps.get(steps.len() / 2).copied().unwrap_or(0.0);
    let tolerance = HOLD_S.max(HOLD_STEPS * step);
    let before = |t: f64| {
        trace
            .t_s
            .partition_point(|read_s| *read_s <= t)
            .checked_sub(1)
    };
    let mut held: Vec<f64> = t_s
        .iter()
        .map(|&t| match before(t) {
            Some(i) if t - trace.t_s[i] <= tolerance => trace.values[i],
            _ => f64::NAN,
        })
        .collect();
    fill_head(t_s, trace, step, &mut held);
    held
}

/// A slow channel, such as the weather, is as good just before its first reading as after it.
fn fill_head(t_s: &[f64], trace: &Trace, step: f64, held: &mut [f64]) {
    let (Some(&first_s), Some(&value)) = (trace.t_s.first(), trace.values.first()) else {
        return;
    };
    if step < SLOW_STEP_S {
        return;
    }
    for (t, held) in t_s.iter().zip(held) {
        if *t < first_s && first_s - t <= step {
            *held = value;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_held_for_a_while_and_not_for_ever() {
        let trace = Trace {
            t_s: vec![70.0, 130.0, 190.0],
            values: vec![20.0, 21.0, 22.0],
        };
        let held = hold(&[0.0, 10.0, 70.0, 129.0, 130.0, 360.0, 371.0], &trace);
        assert!(held[0].is_nan());
        // One step before the first reading is as good as after it.
        assert_eq!(held[1..6], [20.0, 20.0, 20.0, 21.0, 22.0]);
        assert!(held[6].is_nan());
    }
}
