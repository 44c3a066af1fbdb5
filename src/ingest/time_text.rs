//! Dates and times as loggers write them. The calendar is chrono's.

use chrono::{DateTime, Datelike, FixedOffset, NaiveDate, NaiveDateTime, NaiveTime};
use serde::{Deserialize, Serialize};

use super::clock_text::parse_clock;
use super::time_forms::{english_months, usual};

/// Which of two small numbers in `04/05/2024` is the day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DateOrder {
    /// The fourth of May.
    DayFirst,
    /// The fifth of April.
    MonthFirst,
    /// The fifth day of a month, in a year that is written with two digits.
    YearFirst,
}

impl DateOrder {
    /// The name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::DayFirst => "day-first",
            Self::MonthFirst => "month-first",
            Self::YearFirst => "year-first",
        }
    }

    /// What comes first.
    pub(super) fn first(self) -> &'static str {
        match self {
            Self::DayFirst => "day",
            Self::MonthFirst => "month",
            Self::YearFirst => "year",
        }
    }
}

/// Whether a logger can have run on that day; the year 0 is what a clock shows that was never set.
pub fn is_plausible(date: NaiveDate) -> bool {
    (1970..2200).contains(&date.year())
}

/// What a cell says of an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stamp {
    pub date: Option<NaiveDate>,
    /// Seconds from midnight.
    pub second_of_day: Option<f64>,
    /// Seconds by which local time is ahead of UTC, where the text says so.
    pub utc_offset_s: Option<i32>,
}

/// Reads a date that can be.
pub(super) fn parse_date(text: &str, order: DateOrder) -> Option<NaiveDate> {
    any_date(text, order).filter(|date| is_plausible(*date))
}

fn any_date(text: &str, order: DateOrder) -> Option<NaiveDate> {
    let text = text.trim();
    if text.len() > 40 || text.len() < 6 {
        return None;
    }
    if text.len() == 8 && text.bytes().all(|b| b.is_ascii_digit()) {
        let read = |form| NaiveDate::parse_from_str(text, form).ok();
        return ["%Y%m%d", "%d%m%Y"]
            .into_iter()
            .filter_map(read)
            .find(|d| is_plausible(*d));
    }
    if let Some(date) = day_of_year(text) {
        return Some(date);
    }
    if text.chars().any(char::is_alphabetic) {
        let plain = text.replace([',', '.'], " ");
        let plain = english_months(&plain);
        return [
            "%d %B %y",
            "%d-%B-%y",
            "%d %B %Y",
            "%B %d %Y",
            "%d-%B-%Y",
            "%A %d %B %Y",
            "%A %B %d %Y",
        ]
        .iter()
        .find_map(|form| NaiveDate::parse_from_str(&plain, form).ok());
    }
    let [a, b, c] = date_parts(text)?;
    if text.find(|c: char| !c.is_ascii_digit()) == Some(4) {
        return NaiveDate::from_ymd_opt(i32::try_from(a).ok()?, b, c);
    }
    let digits = text.bytes().rev().take_while(u8::is_ascii_digit).count();
    if order == DateOrder::YearFirst {
        let short = digits <= 2 && text.find(|c: char| !c.is_ascii_digit()) == Some(2);
        let year = i32::try_from(2000 + a).ok().filter(|_| short)?;
        return NaiveDate::from_ymd_opt(year, b, c);
    }
    let year = i32::try_from(if digits <= 2 { 2000 + c } else { c }).ok()?;
    // Dots stand in day-first dates only.
    let day_first = order == DateOrder::DayFirst || text.contains('.');
    let (day, month) = if day_first { (a, b) } else { (b, a) };
    NaiveDate::from_ymd_opt(year, month, day)
}

/// `2031-137`: the 137th day of the year (ISO 8601).
fn day_of_year(text: &str) -> Option<NaiveDate> {
    let (year, day) = text.split_once('-')?;
    let digits =
        |text: &str, length| text.len() == length && text.bytes().all(|b| b.is_ascii_digit());
    let read = || NaiveDate::from_yo_opt(year.parse().ok()?, day.parse().ok()?);
    (digits(year, 4) && digits(day, 3)).then(read).flatten()
}

/// The three numbers of a date.
fn date_parts(text: &str) -> Option<[u32; 3]> {
    let mut parts = text.split(['-', '.', '/']);
    let mut next = || {
        let part = parts.next()?;
        (1..=4)
            .contains(&part.len())
            .then(|| part.parse::<u32>().ok())
            .flatten()
    };
    let found = [next()?, next()?, next()?];
    parts.next().is_none().then_some(found)
}

/// Reads a date and time, with or without zone, or either of them alone.
pub(super) fn parse_stamp(text: &str, order: DateOrder) -> Option<Stamp> {
    usual_stamp(text.trim(), order).or_else(|| usual_stamp(&usual(text)?, order))
}

fn usual_stamp(text: &str, order: DateOrder) -> Option<Stamp> {
    let clock_alone = |(clock, utc_offset_s): (&str, Option<i32>)| {
        let second_of_day = Some(parse_clock(clock)?);
        Some(Stamp {
            date: None,
            second_of_day,
            utc_offset_s,
        })
    };
    if let Some(stamp) = clock_alone((text, None)).or_else(|| clock_alone(split_zone(text))) {
        return Some(stamp);
    }
    if let Some(date) = parse_date(text, order) {
        return Some(Stamp {
            date: Some(date),
            second_of_day: None,
            utc_offset_s: None,
        });
    }
    // The time begins at the first blank or `T` after which a clock can be read.
    text.char_indices()
        .filter(|(_, c)| matches!(c, ' ' | 'T' | 't' | ',' | '-' | '_' | '\u{a0}'))
        .find_map(|(at, c)| {
            let written = text[..at].trim_end_matches(',');
            let date = parse_date(written, order);
            // A clock that was never set shows a day that cannot be; its time of day still runs.
            if date.is_none() && date_parts(written).is_none() {
                return None;
            }
            let (clock, utc_offset_s) = split_zone(text[at + c.len_utf8()..].trim());
            let second = parse_clock(clock)?;
            Some(Stamp {
                date,
                second_of_day: Some(second),
                utc_offset_s,
            })
        })
}

/// Parts `10:00:00+02:00` into the clock and the offset.
fn split_zone(text: &str) -> (&str, Option<i32>) {
    if let Some(clock) = text
        .strip_suffix(['Z', 'z'])
        .or_else(|| text.strip_suffix("UTC"))
    {
        return (clock.trim_end(), Some(0));
    }
    let Some(at) = text.rfind(['+', '-']) else {
        return (text, None);
    };
    let digits: String = text[at + 1..]
        .chars()
        .filter(char::is_ascii_digit)
        .collect();
    let sign = if text[at..].starts_with('-') { -1 } else { 1 };
    let minutes = match digits.len() {
        1 | 2 => digits.parse::<i32>().ok().map(|h| h * 60),
        4 => digits
            .parse::<i32>()
            .ok()
            .map(|hm| hm / 100 * 60 + hm % 100),
        _ => None,
    };
    let offset = minutes
        .map(|m| sign * m * 60)
        .filter(|s| FixedOffset::east_opt(*s).is_some());
    (text[..at].trim_end(), offset)
}

/// Seconds from 1970 to a local date and time of day.
pub(super) fn local_seconds(date: NaiveDate, second_of_day: f64) -> f64 {
    date.and_time(NaiveTime::MIN).and_utc().timestamp() as f64 + second_of_day
}

/// The date and time that many seconds after 1970, to the millisecond.
pub(super) fn local_time(seconds: f64) -> Option<NaiveDateTime> {
    if !seconds.is_finite() || seconds.abs() > 1e13 {
        return None;
    }
    DateTime::from_timestamp_millis((seconds * 1000.0).round() as i64).map(|t| t.naive_utc())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(y: i32, m: u32, d: u32) -> Option<NaiveDate> {
        NaiveDate::from_ymd_opt(y, m, d)
    }

    /// Forms of ISO 8601-1:2019, and the habits of loggers beside them.
    #[test]
    fn dates_are_read() {
        use DateOrder::{DayFirst, MonthFirst};
        for (text, order, date) in [
            ("2024-05-04", MonthFirst, day(2024, 5, 4)),
            ("20240504", DayFirst, day(2024, 5, 4)),
            ("04.05.2024", MonthFirst, day(2024, 5, 4)),
            ("4.5.24", DayFirst, day(2024, 5, 4)),
            ("04/05/2024", DayFirst, day(2024, 5, 4)),
            ("05/04/2024", MonthFirst, day(2024, 5, 4)),
            ("2024/05/04", DayFirst, day(2024, 5, 4)),
            ("4 May 2024", DayFirst, day(2024, 5, 4)),
            ("May 4, 2024", DayFirst, day(2024, 5, 4)),
            ("17. Mai 2031", DayFirst, day(2031, 5, 17)),
            ("17 de mayo de 2031", DayFirst, day(2031, 5, 17)),
            ("17-May-31", DayFirst, day(2031, 5, 17)),
            ("17052031", DayFirst, day(2031, 5, 17)),
            ("2031-137", DayFirst, day(2031, 5, 17)),
            ("31-05-17", DateOrder::YearFirst, day(2031, 5, 17)),
            ("31.02.2024", DayFirst, None),
            ("0000-05-04", DayFirst, None),
            ("04.05.0000", DayFirst, None),
            ("12:00:00", DayFirst, None),
            ("1.5", DayFirst, None),
        ] {
            assert_eq!(parse_date(text, order), date, "{text}");
        }
    }

    #[test]
    fn stamps_keep_their_zone() {
        let stamp = |text| parse_stamp(text, DateOrder::DayFirst).unwrap();
        let plain = stamp("2024-05-04 10:00:00.5");
        assert_eq!(
            (plain.date, plain.second_of_day, plain.utc_offset_s),
            (day(2024, 5, 4), Some(36000.5), None)
        );
        assert_eq!(stamp("2024-05-04T10:00:00Z").utc_offset_s, Some(0));
        assert_eq!(stamp("2024-05-04T10:00:00+02:00").utc_offset_s, Some(7200));
        assert_eq!(
            stamp("2024-05-04T10:00:00.123-0330").utc_offset_s,
            Some(-12600)
        );
        assert_eq!(stamp("4 May 2024 10:00").second_of_day, Some(36000.0));
        for text in [
            "2031-05-17 14:20:00 CEST",
            "20310517T142000.00",
            "20310517_142000",
            "17052031 14:20:00",
            "17/05/2031 14h20m00",
            "17. Mai 2031 14:20:00",
            "Sat May 17 14:20:00 2031",
            "2031/05/17-14:20:00.000",
            "17-May-31 14:20:00",
            "17.05.2031 14.20.00",
            "2031-137T14:20:00",
            "17/05/2031 02:20:00 p. m.",
            "17/05/2031, 2:20:00\u{202f}PM",
        ] {
            let stamp = stamp(text);
            assert_eq!(
                (stamp.date, stamp.second_of_day),
                (day(2031, 5, 17), Some(51_600.0)),
                "{text}"
            );
        }
        assert_eq!(stamp("14:20:00Z").utc_offset_s, Some(0));
        assert_eq!(parse_stamp("T", DateOrder::DayFirst), None);
    }
}
