//! Seconds of the week of satellite navigation, made a date and time by the number of the week.

use super::cell::number;
use super::clock::Clock;
use super::clock_read::{Origin, clock_is_utc, sample};
use super::table::Table;
use super::words::{fold, has_any};

const WEEK_WORDS: &str = "=week|=woche|=semaine|=semana|=settimana|=gpsweek|=weeknumber|=wn";
const OF_WEEK_WORDS: &str = "week|woche|semaine|semana|settimana|=tow|=itow|=sow";
const WEEK_S: f64 = 604_800.0;
/// 6 January 1980 in seconds from 1970, where weeks are counted from (IS-GPS-200N, 3.3.4).
const FIRST_WEEK_S: f64 = 315_964_800.0;
/// Seconds by which that clock is ahead of UTC, since 2017 (IERS Bulletin C 52).
const LEAP_S: f64 = 18.0;
/// Weeks from 1999 on, in full: receivers that count to 1023 only leave the date open.
const FULL_WEEKS: std::ops::Range<f64> = 1024.0..6000.0;

/// Brings seconds of the week to UTC, where a column has the week.
pub(super) fn take_gps_week(table: &Table, clock: &mut Clock) {
    let of_week = has_any(&fold(&clock.column), OF_WEEK_WORDS);
    let in_week = |s: &f64| (0.0..=WEEK_S).contains(s);
    if clock.origin != Origin::Running || !of_week || !clock.seconds.iter().flatten().all(in_week) {
        return;
    }
    let week_of = |at: usize| {
        let cells = sample(table, at);
        let weeks = cells.iter().map(|cell| number(cell, table.mark));
        let first = weeks.clone().next().flatten()?;
        let is_week = first.fract() == 0.0 && FULL_WEEKS.contains(&first);
        (is_week && weeks.into_iter().all(|week| week == Some(first))).then_some(first)
    };
    let mut others = (0..table.columns.len()).filter(|at| {
        !clock.columns.contains(at) && has_any(&fold(&table.columns[*at].name), WEEK_WORDS)
    });
    let Some((at, week)) = others.find_map(|at| Some((at, week_of(at)?))) else {
        return;
    };
    let shift_s = FIRST_WEEK_S + week * WEEK_S - LEAP_S;
    clock
        .seconds
        .iter_mut()
        .flatten()
        .for_each(|s| *s += shift_s);
    clock.column = format!("{} + {}", table.columns[at].name, clock.column);
    clock.columns.push(at);
    clock.form = "week and second of the week";
    clock.origin = Origin::Local {
        utc_offset_s: Some(0),
    };
    clock
        .warnings
        .push(clock_is_utc("weeks of satellite navigation count"));
}
