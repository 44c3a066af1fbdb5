//! Which column is the clock, in which form, and the instant of every row in seconds.

use super::cell::{is_blank, number};
use super::error::IngestError;
use super::options::nearest;
use super::table::Table;
use super::time_text::{
    DateOrder, local_seconds, open_order, parse_clock, parse_date, parse_minutes, parse_stamp,
};
use super::words::{fold, has_any};
use crate::warning::Warning;

/// Where a clock counts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Origin {
    /// Some moment that only the logger knows.
    Running,
    /// Midnight of an unknown day, local time.
    TimeOfDay,
    /// 1970 in local time; the offset from UTC where it is known.
    Local { utc_offset_s: Option<i32> },
}

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
    pub warnings: Vec<Warning>,
}

struct Reading {
    column: usize,
    score: f64,
    form: &'static str,
    seconds: Vec<Option<f64>>,
    origin: Origin,
    wraps_s: Option<f64>,
    warnings: Vec<Warning>,
}

const NOT_A_CLOCK: &str = "lap|best|delta|gap|zone|sector|runde|split|shift|since engine|run time|\
    interval|service|response|laufzeit|dauer|duration|beacon";
const CLOCK_WORDS: &str = "=time|=zeit|=uhrzeit|=temps|=tiempo|=tempo|=hora|=heure|=ora|timestamp|\
    time stamp|=zeitstempel|=horodatage|=datetime|=timecode";
const LESSER_CLOCK_WORDS: &str = "=utc|=elapsed|epoch|=unix|=seconds|=sekunden|=secondes|=segundos|\
    =secondi|=millis|=messzeit|=logtime|=sec";
const DATE_WORDS: &str = "=date|=datum|=fecha|=data|=jour|=dia|=day|=tag";

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
    if readings.is_empty() {
        return Err(match scored.first() {
            Some(&(column, _)) => bad_time(table, column),
            None => no_time(table),
        });
    }
    let best = readings.remove(0);
    let wall = (best.origin == Origin::Running)
        .then(|| readings.into_iter().find(|r| r.origin != Origin::Running))
        .flatten()
        .map(|reading| (reading.seconds, reading.origin));
    Ok(with_date_column(table, best, wall))
}

fn no_column(table: &Table, name: &str) -> IngestError {
    let columns = table.names();
    let nearest = nearest(name, columns.iter().map(String::as_str)).unwrap_or_default();
    IngestError::NoColumn {
        file: table.file.clone(),
        column: name.to_owned(),
        role: "time".to_owned(),
        columns,
        nearest,
    }
}

fn no_time(table: &Table) -> IngestError {
    // Whatever rises all the time is the likeliest clock.
    let rising = (0..table.columns.len()).find(|&at| {
        let mark = table.mark_of(at);
        let values: Vec<f64> = (0..table.rows.len())
            .filter_map(|row| number(table.cell(row, at), mark))
            .collect();
        values.len() > 2 && values.windows(2).all(|pair| pair[1] > pair[0])
    });
    let columns = table.names();
    let likely = columns
        .get(rising.unwrap_or(0))
        .cloned()
        .unwrap_or_default();
    IngestError::NoTime {
        file: table.file.clone(),
        columns,
        likely,
    }
}

fn bad_time(table: &Table, column: usize) -> IngestError {
    let row = (0..table.rows.len()).find(|&row| {
        let cell = table.cell(row, column);
        parse_clock(cell).is_none() && number(cell, table.mark).is_none()
    });
    let row = row.unwrap_or(0);
    IngestError::BadTime {
        file: table.file.clone(),
        line: table.rows.get(row).map_or(0, |line| line.number),
        column: table.columns[column].name.clone(),
        value: table
            .rows
            .get(row)
            .map_or("", |_| table.cell(row, column))
            .to_owned(),
    }
}

/// How much a column's name, or else its text, is that of a clock.
fn clock_score(table: &Table, column: usize) -> Option<f64> {
    let folded = fold(&table.columns[column].name);
    if has_any(&folded, NOT_A_CLOCK) {
        return None;
    }
    let words = folded.split_whitespace().count();
    let letter = matches!(folded.trim(), "t" | "t s" | "t ms" | "ts");
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

fn has_colons(table: &Table, column: usize) -> bool {
    let cells = sample(table, column);
    !cells.is_empty()
        && cells.iter().all(|cell| cell.contains(':'))
        && cells.iter().all(|cell| {
            parse_stamp(cell, DateOrder::DayFirst).is_some() || parse_minutes(cell).is_some()
        })
}

fn sample(table: &Table, column: usize) -> Vec<&str> {
    (0..table.rows.len())
        .map(|row| table.cell(row, column))
        .filter(|cell| !is_blank(cell))
        .take(50)
        .collect()
}

/// Reads a column as times in whatever form it has. `None`: fewer than half are times.
fn read_column(table: &Table, column: usize, score: f64) -> Option<Reading> {
    let cells = sample(table, column);
    let with_colon = cells.iter().filter(|cell| cell.contains(':')).count();
    let reading = if 2 * with_colon > cells.len() {
        read_text(table, column, score)
    } else {
        read_number(table, column, score)
    }?;
    let timed: Vec<f64> = reading.seconds.iter().flatten().copied().collect();
    let changes = timed.windows(2).any(|pair| pair[0] != pair[1]);
    (2 * timed.len() > reading.seconds.len() && changes).then_some(reading)
}

fn read_text(table: &Table, column: usize, score: f64) -> Option<Reading> {
    let rows = 0..table.rows.len();
    let cells = || rows.clone().map(|row| table.cell(row, column));
    let mut warnings = Vec::new();
    let two_parts = sample(table, column)
        .iter()
        .all(|cell| cell.matches(':').count() == 1);
    let dated = sample(table, column)
        .iter()
        .any(|cell| parse_stamp(cell, DateOrder::DayFirst).is_some_and(|s| s.date.is_some()));
    if two_parts && !dated && is_minutes(&sample(table, column)) {
        let seconds: Vec<Option<f64>> = cells().map(parse_minutes).collect();
        let wraps_s = Some(3600.0);
        return Some(Reading {
            column,
            score,
            form: "minutes and seconds",
            seconds,
            origin: Origin::Running,
            wraps_s,
            warnings,
        });
    }
    let order = date_order(cells(), &table.columns[column].name, &mut warnings);
    let stamps: Vec<_> = cells().map(|cell| parse_stamp(cell, order)).collect();
    if stamps
        .iter()
        .flatten()
        .any(|s| s.date.is_some() && s.second_of_day.is_some())
    {
        let seconds = stamps
            .iter()
            .map(|stamp| stamp.and_then(|s| Some(local_seconds(s.date?, s.second_of_day?))))
            .collect();
        let utc_offset_s = stamps.iter().flatten().find_map(|s| s.utc_offset_s);
        return Some(Reading {
            column,
            score,
            form: "date and time",
            seconds,
            origin: Origin::Local { utc_offset_s },
            wraps_s: None,
            warnings,
        });
    }
    let seconds = stamps
        .iter()
        .map(|stamp| stamp.and_then(|s| s.second_of_day))
        .collect();
    let (form, wraps_s) = ("time of day", Some(86_400.0));
    Some(Reading {
        column,
        score,
        form,
        seconds,
        origin: Origin::TimeOfDay,
        wraps_s,
        warnings,
    })
}

/// Whether texts with one colon are minutes and seconds, not hours and minutes: they have a
/// fraction, or more than 23 before the colon, or start near zero as a stopwatch does.
fn is_minutes(cells: &[&str]) -> bool {
    let fraction = cells.iter().any(|cell| cell.contains(['.', ',']));
    let large = cells.iter().any(|cell| {
        cell.split(':')
            .next()
            .and_then(|m| m.trim().parse::<f64>().ok())
            .is_some_and(|m| m > 23.0)
    });
    let from_zero = cells
        .first()
        .and_then(|cell| parse_minutes(cell))
        .is_some_and(|s| s < 300.0);
    fraction || large || from_zero
}

fn date_order<'a>(
    cells: impl Iterator<Item = &'a str>,
    column: &str,
    warnings: &mut Vec<Warning>,
) -> DateOrder {
    let mut open = None;
    let mut last = "";
    for cell in cells {
        let date = cell.split([' ', 'T']).next().unwrap_or_default();
        if date == last {
            continue;
        }
        last = date;
        match open_order(cell) {
            Some((first, _)) if first > 12 => return DateOrder::DayFirst,
            Some((_, second)) if second > 12 => return DateOrder::MonthFirst,
            Some((first, second)) if first != second => open = Some(date),
            _ => {}
        }
    }
    if let Some(date) = open {
        warnings.push(Warning::caution(
            "date-order-ambiguous",
            format!("column `{column}`: `{date}` was read day first; if the month comes first, give --day YYYY-MM-DD"),
        ));
    }
    DateOrder::DayFirst
}

/// Seconds in one unit, with its name, from a column's head.
fn said_unit(table: &Table, column: usize) -> Option<(f64, &'static str)> {
    let head = &table.columns[column];
    let folded = fold(&head.name.replace('µ', "u").replace('μ', "u"));
    let in_row = head
        .unit_text
        .as_deref()
        .map(|t| fold(&t.replace(['µ', 'μ'], "u")));
    let last = folded
        .split_whitespace()
        .last()
        .unwrap_or_default()
        .to_owned();
    in_row
        .iter()
        .map(|text| text.trim())
        .chain([last.as_str()])
        .find_map(|text| match text {
            "s" | "sec" | "secs" | "second" | "seconds" | "sek" | "sekunden" | "secondes"
            | "segundos" | "secondi" => Some((1.0, "seconds")),
            "ms" | "msec" | "millis" | "milliseconds" | "millisekunden" => {
                Some((1e-3, "milliseconds"))
            }
            "us" | "usec" | "micros" | "microseconds" => Some((1e-6, "microseconds")),
            "min" | "minutes" | "minuten" => Some((60.0, "minutes")),
            "h" | "hours" | "stunden" => Some((3600.0, "hours")),
            _ => None,
        })
}

fn read_number(table: &Table, column: usize, score: f64) -> Option<Reading> {
    let mark = table.mark_of(column);
    let raw: Vec<Option<f64>> = (0..table.rows.len())
        .map(|row| number(table.cell(row, column), mark))
        .collect();
    let values: Vec<f64> = raw.iter().flatten().copied().collect();
    if values.is_empty() {
        return None;
    }
    let mut warnings = Vec::new();
    let (scale, form) = said_unit(table, column)
        .unwrap_or_else(|| judge_unit(&values, &table.columns[column].name, &mut warnings));
    let mut sorted = values;
    sorted.sort_by(f64::total_cmp);
    let middle_s = scale * sorted[sorted.len() / 2];
    // 3e8 s after 1970 is 1979, and no logger runs for ten years.
    let epoch = (3e8..1e10).contains(&middle_s);
    let (form, origin) = if epoch {
        warnings.push(Warning::note(
            "clock-is-utc",
            "times count from 1970 in UTC; if local time matters, give --start".to_owned(),
        ));
        let form = match form {
            "milliseconds" => "epoch milliseconds",
            "microseconds" => "epoch microseconds",
            _ => "epoch seconds",
        };
        (
            form,
            Origin::Local {
                utc_offset_s: Some(0),
            },
        )
    } else {
        (form, Origin::Running)
    };
    let seconds = raw
        .into_iter()
        .map(|value| value.map(|v| v * scale))
        .collect();
    Some(Reading {
        column,
        score,
        form,
        seconds,
        origin,
        wraps_s: None,
        warnings,
    })
}

/// Judges the unit of bare numbers from their size and steps.
fn judge_unit(values: &[f64], column: &str, warnings: &mut Vec<Warning>) -> (f64, &'static str) {
    let largest = values.iter().copied().fold(0.0, f64::max);
    if largest > 1e14 {
        return (1e-6, "microseconds");
    }
    if largest > 1e11 {
        return (1e-3, "milliseconds");
    }
    if largest > 3e8 && largest < 1e10 {
        return (1.0, "seconds");
    }
    let mut steps: Vec<f64> = values
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .filter(|step| *step > 0.0)
        .collect();
    steps.sort_by(f64::total_cmp);
    let step = steps.get(steps.len() / 2).copied().unwrap_or(1.0);
    let length = values.last().unwrap_or(&0.0) - values.first().unwrap_or(&0.0);
    // A log lasts minutes at least; one row a minute is a weather file.
    let (scale, form) = if step >= 5000.0 && length * 1e-6 >= 60.0 {
        (1e-6, "microseconds")
    } else if step >= 5.0 && length * 1e-3 >= 120.0 {
        (1e-3, "milliseconds")
    } else if step >= 1000.0 {
        (1e-3, "milliseconds")
    } else {
        return (1.0, "seconds");
    };
    warnings.push(Warning::caution(
        "time-unit-judged",
        format!("column `{column}` names no unit; steps of {step} were taken for {form}"),
    ));
    (scale, form)
}

/// Joins a time of day with a column of dates, where there is one.
fn with_date_column(
    table: &Table,
    best: Reading,
    wall: Option<(Vec<Option<f64>>, Origin)>,
) -> Clock {
    let name = table.columns[best.column].name.clone();
    let mut clock = Clock {
        column: name,
        columns: vec![best.column],
        form: best.form,
        seconds: best.seconds,
        origin: best.origin,
        wraps_s: best.wraps_s,
        wall,
        warnings: best.warnings,
    };
    if clock.origin != Origin::TimeOfDay {
        return clock;
    }
    let date_column = (0..table.columns.len()).find(|&at| {
        at != best.column
            && has_any(&fold(&table.columns[at].name), DATE_WORDS)
            && sample(table, at).iter().any(|cell| {
                parse_date(cell, DateOrder::DayFirst).is_some()
                    || parse_date(cell, DateOrder::MonthFirst).is_some()
            })
    });
    let Some(date_column) = date_column else {
        return clock;
    };
    let cells = || (0..table.rows.len()).map(|row| table.cell(row, date_column));
    let name = &table.columns[date_column].name;
    let order = date_order(cells(), name, &mut clock.warnings);
    let mut last = ("", None);
    let dates = cells().map(|cell| {
        if cell != last.0 {
            last = (cell, parse_date(cell, order));
        }
        last.1
    });
    clock.seconds = dates
        .zip(&clock.seconds)
        .map(|(date, second)| Some(local_seconds(date?, (*second)?)))
        .collect();
    clock.column = format!("{name} + {}", clock.column);
    clock.columns.push(date_column);
    clock.form = "date and time in two columns";
    clock.origin = Origin::Local { utc_offset_s: None };
    clock.wraps_s = None;
    clock
}

fn distinct_share(seconds: &[Option<f64>]) -> f64 {
    let timed: Vec<f64> = seconds.iter().flatten().copied().collect();
    let changes = timed.windows(2).filter(|pair| pair[0] != pair[1]).count();
    changes as f64 / timed.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(text: &str) -> Clock {
        let table = Table::read("a.csv", text.as_bytes()).unwrap();
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
    fn without_a_clock_the_hint_names_what_rises() {
        let table = Table::read("a.csv", b"v,n\n1,0\n1,1\n3,2\n2,3\n").unwrap();
        let error = find(&table, None).unwrap_err();
        assert_eq!(error.hint(), "name it: --map time=n");
        assert_eq!(find(&table, Some("n")).unwrap().form, "seconds");
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
