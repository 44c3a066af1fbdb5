//! When the first row was: by its clock, by a clock beside it, or by what stands above the table.

use chrono::{Datelike, NaiveDate};

use super::clock::Clock;
use super::clock_read::Origin;
use super::preamble::{self, Start};
use super::table::Table;
use super::time_text::local_time;
use super::timeline::Timeline;
use crate::warning::Warning;

/// The days on which clocks begin that nobody has set: of Unix, of file systems, of satellite
/// receivers, of clock chips.
fn is_never_set(day: NaiveDate) -> bool {
    let days = [(1970, 1, 1), (1980, 1, 1), (1980, 1, 6), (2000, 1, 1)];
    days.contains(&(day.year(), day.month(), day.day()))
}

/// Day and time of the first row kept.
pub(super) fn start(
    table: &Table,
    clock: &Clock,
    timeline: &Timeline,
    warnings: &mut Vec<Warning>,
) -> Start {
    let raw_s = timeline.start_raw_s;
    let wall = clock.wall.as_ref().and_then(|(seconds, origin)| {
        let first = *timeline.rows.first()?;
        Some((seconds.get(first).copied().flatten()?, *origin))
    });
    let (instant, origin) = wall.unwrap_or((raw_s, clock.origin));
    let mut start = Start {
        raw_s,
        ..Start::default()
    };
    let shown = local_time(instant).map(|time| time.date());
    let unset = shown.filter(|day| matches!(origin, Origin::Local { .. }) && is_never_set(*day));
    if let Some(day) = unset {
        warnings.push(Warning::caution(
            "clock-not-set",
            format!("the clock shows {day}, as one does that was never set: neither day nor time of day was taken from it"),
        ));
    }
    match origin {
        _ if unset.is_some() => {}
        Origin::Running => {}
        Origin::TimeOfDay => start.second_of_day = Some(instant.rem_euclid(86_400.0)),
        Origin::Local { utc_offset_s } => {
            start.day = shown;
            start.second_of_day = Some(instant.rem_euclid(86_400.0));
            start.utc_offset_s = utc_offset_s;
        }
    }
    start.day = start.day.or(clock.day);
    if start.day.is_none() {
        let told = preamble::start(&table.preamble, table.date_order, warnings);
        start.day = told.day;
        // The start told is that of the first session of a file.
        let own = table.own_preamble;
        start.second_of_day = start.second_of_day.or(told.second_of_day.filter(|_| own));
    }
    start
}
