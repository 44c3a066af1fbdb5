//! A clock in columns of its own for hour, minute and second, perhaps with year, month and day.

use chrono::NaiveDate;

use super::cell::number;
use super::clock::Clock;
use super::clock_read::{Origin, clock_is_utc};
use super::table::Table;
use super::time_text::{is_plausible, local_seconds};
use super::unit_text::split_brackets;
use super::words::fold;

const YEAR: &str = "year|jahr|annee|ano|anno|yyyy|yy";
const MONTH: &str = "month|monat|mois|mes|mese|mo";
const DAY: &str = "day|tag|jour|dia|giorno|dd";
const HOUR: &str = "hour|hours|hr|hrs|stunde|stunden|heure|heures|hora|horas|ora|ore|hh";
const MINUTE: &str = "minute|minutes|min|mins|minuten|minuto|minutos|minuti";
const SECOND: &str =
    "second|seconds|sec|secs|sekunde|sekunden|seconde|secondes|segundo|segundos|secondo|secondi|ss";
const MILLISECOND: &str = "ms|msec|millis|millisecond|milliseconds|millisekunde|millisekunden";

/// The clock of such columns; hour, minute and second must be there.
pub(super) fn read(table: &Table) -> Option<Clock> {
    let names: Vec<String> = table
        .columns
        .iter()
        .map(|column| bare(&column.name))
        .collect();
    let find = |words: &str| {
        names
            .iter()
            .position(|name| words.split('|').any(|word| word == name))
    };
    let clock = [find(HOUR)?, find(MINUTE)?, find(SECOND)?];
    let date = || Some([find(YEAR)?, find(MONTH)?, find(DAY)?]);
    let (date, part) = (date(), find(MILLISECOND));
    let value = |row: usize, column: usize| number(table.cell(row, column), table.mark);
    let second_of_day = |row: usize| {
        let [hour, minute, second] = clock.map(|column| value(row, column));
        let (hour, minute, second) = (hour?, minute?, second?);
        let part = part.and_then(|column| value(row, column)).unwrap_or(0.0);
        let fits = (0.0..24.0).contains(&hour)
            && (0.0..60.0).contains(&minute)
            && (0.0..61.0).contains(&second)
            && (0.0..1000.0).contains(&part);
        fits.then_some(hour * 3600.0 + minute * 60.0 + second + part * 1e-3)
    };
    let day = |row: usize| {
        let [year, month, day] = date?.map(|column| value(row, column));
        let year = year.map(|y| if y < 100.0 { y + 2000.0 } else { y })?;
        let date = NaiveDate::from_ymd_opt(year as i32, month? as u32, day? as u32);
        date.filter(|date| is_plausible(*date))
    };
    let seconds: Vec<Option<f64>> = (0..table.rows.len())
        .map(|row| match date {
            Some(_) => Some(local_seconds(day(row)?, second_of_day(row)?)),
            None => second_of_day(row),
        })
        .collect();
    let mut timed = seconds.iter().flatten();
    let first = timed.next()?;
    if 2 * seconds.iter().flatten().count() <= seconds.len() || timed.all(|s| s == first) {
        return None;
    }
    let columns: Vec<usize> = date
        .into_iter()
        .flatten()
        .chain(clock)
        .chain(part)
        .collect();
    let heads: Vec<&str> = columns
        .iter()
        .map(|at| table.columns[*at].name.as_str())
        .collect();
    let column = heads.join(" + ");
    let utc = columns
        .iter()
        .any(|at| fold(&table.columns[*at].name).contains(" utc "));
    let (form, origin) = match date {
        Some(_) => (
            "date and time in columns of their own",
            Origin::Local {
                utc_offset_s: utc.then_some(0),
            },
        ),
        None => ("time of day in columns of its own", Origin::TimeOfDay),
    };
    Some(Clock {
        warnings: utc
            .then(|| clock_is_utc(&format!("columns `{column}` are")))
            .into_iter()
            .collect(),
        column,
        columns,
        form,
        seconds,
        origin,
        wraps_s: date.is_none().then_some(86_400.0),
        wall: None,
        day: None,
    })
}

/// A name in plain letters, without its unit and without whose clock it is.
fn bare(name: &str) -> String {
    let folded = fold(&split_brackets(name).0);
    let words = folded.split_whitespace();
    let own =
        words.filter(|word| !matches!(*word, "gps" | "utc" | "local" | "gnss" | "rtc" | "time"));
    own.collect::<Vec<_>>().join(" ")
}
