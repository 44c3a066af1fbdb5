//! Which column is the clock, in which form, and the instant of every row in seconds.

use chrono::NaiveDate;

use super::clock_dates::with_date_column;
use super::clock_missing::{bad_time, no_column, no_time};
use super::clock_parts;
use super::clock_read::{Origin, Reading, read_column, sample};
use super::clock_text::parse_minutes;
use super::error::IngestError;
use super::gps_week::take_gps_week;
use super::table::Table;
use super::time_text::{DateOrder, parse_stamp};
use super::timeline::steps;
use super::words::{fold, has_any};
use crate::warning::Warning;

/// The instants of a table's rows.
#[derive(Debug, Clone)]
pub(super) struct Clock {
    /// The column, or both columns.
    pub column: String,
    pub columns: Vec<usize>,
    /// How times are written, in words.
    pub form: &'static str,
    /// One a row; `None` where the cell is no time.
    pub seconds: Vec<Option<f64>>,
    pub origin: Origin,
    /// The clock starts again after so many seconds.
    pub wraps_s: Option<f64>,
    /// A second column that knows the time of day, where the clock itself does not.
    pub wall: Option<(Vec<Option<f64>>, Origin)>,
    /// The day of the first row, by a column of dates beside a clock that knows none.
    pub day: Option<NaiveDate>,
    pub warnings: Vec<Warning>,
}

const NOT_A_CLOCK: &str = "=lap|^lap|=laps|best|delta|gap|zone|sector|runde|split|shift|since engine|\
    interval|service|response|dauer|duration|beacon|currentlap|lastlap";
const CLOCK_WORDS: &str = "=time|=zeit|=uhrzeit|=temps|=tiempo|=tempo|=hora|=heure|=ora|timestamp|\
    time stamp|=zeitstempel|=horodatage|=datetime|=timecode";
const LESSER_CLOCK_WORDS: &str = "=utc|=elapsed|epoch|=unix|=seconds|=sekunden|=secondes|=segundos|\
    =secondi|=millis|=micros|=ticks|=tick|=messzeit|=logtime|=sec|=zeitpunkt|=itow|=tow";
/// Clocks that are not the track's.
pub(super) const UTC_WORDS: &str = "=utc|=gmt|=zulu";
/// Clocks of a computer that may have run for long before the log.
pub(super) const LEAST_CLOCK_WORDS: &str = "run time|runtime|laufzeit|uptime|chrono";
pub(super) const DATE_WORDS: &str = "=date|=datum|=fecha|=data|=jour|=dia|=day|=tag";

/// The clock of a table that has none: its rows come at a rate that the user states.
pub(super) fn stated(table: &Table, rate_hz: f64) -> Clock {
    Clock {
        column: "--rate-hz".to_owned(),
        columns: Vec::new(),
        form: "rows at the stated rate",
        seconds: (0..table.rows.len())
            .map(|row| Some(row as f64 / rate_hz))
            .collect(),
        origin: Origin::Running,
        wraps_s: None,
        wall: None,
        day: None,
        warnings: Vec::new(),
    }
}

/// Finds the clock of a table; `named` is the user's word for it.
pub(super) fn find(table: &Table, named: Option<&str>) -> Result<Clock, IngestError> {
    let named = match named {
        None => None,
        Some(name) => Some(table.column(name).ok_or_else(|| no_column(table, name))?),
    };
    let scored: Vec<(usize, f64)> = match named {
        Some(column) => vec![(column, 100.0)],
        None => (0..table.columns.len())
            .filter_map(|at| Some((at, clock_score(table, at)?)))
            .collect(),
    };
    let mut readings: Vec<Reading> = scored
        .iter()
        .filter_map(|&(column, score)| read_column(table, column, score))
        .collect();
    // Of two clocks the finer one tells more.
    let rank = |r: &Reading| r.score + 30.0 * distinct_share(&r.seconds);
    readings.sort_by(|a, b| rank(b).total_cmp(&rank(a)));
    let parts = named.is_none().then(|| clock_parts::read(table)).flatten();
    if let Some(parts) = &parts {
        readings.retain(|reading| !parts.columns.contains(&reading.column));
    }
    if readings.is_empty() {
        return match (parts, scored.first()) {
            (Some(parts), _) => Ok(parts),
            (None, Some(&(column, _))) => Err(bad_time(table, column)),
            (None, None) => Err(no_time(table)),
        };
    }
    let best = readings.remove(0);
    let wall = (best.origin == Origin::Running)
        .then(|| readings.into_iter().find(|r| r.origin != Origin::Running))
        .flatten()
        .map(|reading| (reading.seconds, reading.origin));
    let mut clock = with_date_column(table, best, wall);
    take_gps_week(table, &mut clock);
    if let Some(parts) = parts {
        clock.columns.extend(parts.columns);
        if clock.origin == Origin::Running && clock.wall.is_none() {
            clock.wall = Some((parts.seconds, parts.origin));
        }
    }
    Ok(clock)
}

/// How much a column's name, or else its text, is that of a clock.
pub(super) fn clock_score(table: &Table, column: usize) -> Option<f64> {
    let folded = fold(&table.columns[column].name);
    if has_any(&folded, NOT_A_CLOCK) {
        return None;
    }
    let words = folded.split_whitespace().count();
    let letter = matches!(folded.trim(), "t" | "t s" | "t ms" | "ts" | "ts ms");
    // A unit alone may be a part of the clock beside it.
    if matches!(folded.trim(), "s" | "ms") {
        return Some(50.0);
    }
    if has_any(&folded, LEAST_CLOCK_WORDS) {
        return Some(60.0);
    }
    // Beside a local clock the one in UTC comes second.
    if has_any(&folded, UTC_WORDS) {
        return Some(70.0);
    }
    if letter || (has_any(&folded, CLOCK_WORDS) && words <= 2) {
        return Some(100.0);
    }
    if has_any(&folded, CLOCK_WORDS) || (has_any(&folded, DATE_WORDS) && has_colons(table, column))
    {
        return Some(90.0);
    }
    if has_any(&folded, LESSER_CLOCK_WORDS) {
        return Some(75.0);
    }
    // No name says so, but nothing else is written like a time.
    has_colons(table, column).then_some(40.0)
}

/// Whether two columns of times are written alike and count from the same.
pub(super) fn same_kind(a: &Reading, b: &Reading) -> bool {
    (a.form, a.origin) == (b.form, b.origin)
}

fn has_colons(table: &Table, column: usize) -> bool {
    let cells = sample(table, column);
    !cells.is_empty()
        && cells.iter().all(|cell| cell.contains(':'))
        && cells.iter().all(|cell| {
            parse_stamp(cell, DateOrder::DayFirst).is_some() || parse_minutes(cell).is_some()
        })
}

fn distinct_share(seconds: &[Option<f64>]) -> f64 {
    let changes = steps(seconds).filter(|(before, after)| before != after);
    let timed = seconds.iter().flatten().count();
    changes.count() as f64 / timed.max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(text: &str) -> Clock {
        let table = Table::read("a.csv", text.as_bytes(), None).unwrap();
        find(&table, None).unwrap()
    }

    #[test]
    fn every_form_of_time_is_read() {
        for (header, cells, form, step) in [
            ("Time [s],v", ["0.0", "0.1", "0.2"], "seconds", 0.1),
            ("time_ms,v", ["0", "100", "200"], "milliseconds", 0.1),
            (
                "Time [µs],v",
                ["0", "100000", "200000"],
                "microseconds",
                0.1,
            ),
            (
                "Timestamp,v",
                ["1714816800", "1714816801", "1714816802"],
                "epoch seconds",
                1.0,
            ),
            (
                "Timestamp,v",
                ["1714816800000", "1714816800100", "1714816800200"],
                "epoch milliseconds",
                0.1,
            ),
            (
                "Time,v",
                [
                    "2024-05-04T10:00:00.0Z",
                    "2024-05-04T10:00:00.1Z",
                    "2024-05-04T10:00:00.2Z",
                ],
                "date and time",
                0.1,
            ),
            (
                "Time,v",
                ["10:00:00.1", "10:00:00.2", "10:00:00.3"],
                "time of day",
                0.1,
            ),
            (
                "Time,v",
                ["00:01.1", "00:01.2", "00:01.3"],
                "minutes and seconds",
                0.1,
            ),
            ("Time,v", ["14:05", "14:06", "14:07"], "time of day", 60.0),
        ] {
            let text = format!("{header}\n{},1\n{},2\n{},3\n", cells[0], cells[1], cells[2]);
            let found = clock(&text);
            assert_eq!(found.form, form, "{text}");
            let got = found.seconds[1].unwrap() - found.seconds[0].unwrap();
            assert!((got - step).abs() < 1e-6, "{text}: {got}");
        }
    }

    #[test]
    fn date_and_time_columns_are_joined() {
        let found = clock(
            "Date,Time,v\n04/05/2024,10:00:00,1\n04/05/2024,10:00:01,2\n04/05/2024,10:00:02,2\n",
        );
        assert_eq!(found.column, "Date + Time");
        // 2024-05-04 10:00:00 UTC is 1714816800 s after 1970 (POSIX.1-2017, 4.16).
        assert_eq!(found.seconds[0], Some(1_714_816_800.0));
        assert_eq!(found.warnings[0].id, "date-order-ambiguous");
        let sure = clock(
            "Date,Time,v\n05/13/2024,10:00:00,1\n05/13/2024,10:00:01,2\n05/13/2024,10:00:02,2\n",
        );
        assert!(sure.warnings.is_empty());
    }

    #[test]
    fn bare_milliseconds_are_judged_by_their_steps() {
        let rows: String = (0..3000).map(|i| format!("{},1\n", i * 100)).collect();
        let found = clock(&format!("Time,v\n{rows}"));
        assert_eq!(found.form, "milliseconds");
        assert_eq!(found.warnings[0].id, "time-unit-judged");
        let rows: String = (0..1440).map(|i| format!("{},1\n", i * 60)).collect();
        assert_eq!(clock(&format!("Time,v\n{rows}")).form, "seconds");
    }

    #[test]
    fn a_time_of_day_without_colons_is_seen_by_its_leaps() {
        let rows: String = (0..1800)
            .map(|i| {
                let tenths = 359_900 + i;
                let (s, tenth) = (tenths / 10, tenths % 10);
                format!(
                    "{:02}{:02}{:02}.{tenth},{i}\n",
                    s / 3600,
                    s / 60 % 60,
                    s % 60
                )
            })
            .collect();
        let found = clock(&format!("UTC time,v\n{rows}"));
        assert_eq!(found.origin, Origin::TimeOfDay);
        assert!((found.seconds[0].unwrap() - 35_990.0).abs() < 1e-6);
        assert!((found.seconds[1799].unwrap() - 36_169.9).abs() < 1e-6);
    }

    #[test]
    fn without_a_clock_the_hint_names_what_rises() {
        let table = Table::read("a.csv", b"v,n\n1,0\n1,1\n3,2\n2,3\n", None).unwrap();
        let error = find(&table, None).unwrap_err();
        assert_eq!(
            error.hint(),
            "state the rate of rows: --rate-hz ROWS-A-SECOND; or name the clock: --map time=COLUMN"
        );
        assert_eq!(find(&table, Some("n")).unwrap().form, "seconds");
    }

    #[test]
    fn a_clock_that_is_none_is_told_by_its_first_bad_line() {
        let error = |text: &str| {
            let table = Table::read("a.csv", text.as_bytes(), None).unwrap();
            find(&table, None).unwrap_err().message()
        };
        let bad = error("Time,v,w\nlate,1,1\nlater,2,2\nlatest,3,2\n");
        assert_eq!(
            bad,
            "a.csv:2: column `Time`: `late` is no time that can be read"
        );
        let still = error("Time,v\n5,1\n5,2\n5,2\n");
        assert!(still.contains("shows `5` in every row"), "{still}");
        assert!(error("Time,v\n5,1\n").contains("only 1 of 1 rows"));
    }

    #[test]
    fn a_running_clock_takes_its_start_from_a_wall_clock_beside_it() {
        let found = clock(
            "Elapsed [s],Time,v\n0.0,10:00:00,1\n0.1,10:00:00,1\n0.2,10:00:00,1\n0.9,10:00:01,1\n",
        );
        assert_eq!(
            (found.form, found.origin),
            ("time of day", Origin::TimeOfDay)
        );
    }
}
