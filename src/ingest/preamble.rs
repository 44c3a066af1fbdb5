//! The date and start time that some loggers write above the table.

use chrono::{NaiveDate, NaiveDateTime};

use super::date_order::{Known, date_order};
use super::profile::is_rate;
use super::time_text::{DateOrder, local_seconds, local_time, parse_stamp};
use super::words::{fold, has_any};
use crate::quantity::{Quantity, Unit};
use crate::warning::Warning;

const WORDS: &str = "=date|=datum|=fecha|=data|=jour|=dia|=day|=tag|=time|=zeit|=uhrzeit|=heure|\
    =hora|=ora|start|beginn|debut|inicio|inizio|recorded|aufzeichnung|session date|logged";
/// Days of something else than the session.
const OTHER_DAYS: &str = "calib|kalibr|firmware|software|hardware|version|export|report|bericht|birth|geburt|\
    setup|tyre|tire|reifen|flash|file|datei|created|erstellt|modified|geandert|print|licen|lizenz|expir|\
    install|service|build|built|update|upload|download|config|purchase|=ecu|serial|=end|=ende|=fin|finish";

/// When the first row was, as far as the file says.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Start {
    /// What the clock column shows there, in seconds.
    pub raw_s: f64,
    /// The day, local.
    pub day: Option<NaiveDate>,
    /// Seconds from midnight, local.
    pub second_of_day: Option<f64>,
    /// Seconds by which local time is ahead of UTC.
    pub utc_offset_s: Option<i32>,
}

impl Start {
    /// Seconds from 1970 in local time.
    pub fn local_s(&self) -> Option<f64> {
        Some(local_seconds(self.day?, self.second_of_day?))
    }

    /// Date and time, local.
    pub fn local(&self) -> Option<NaiveDateTime> {
        self.local_s().and_then(local_time)
    }
}

/// Day and time of the start, from `name; value` pairs.
pub(super) fn start(
    pairs: &[(String, String)],
    told: Option<DateOrder>,
    warnings: &mut Vec<Warning>,
) -> Start {
    let mut start = Start::default();
    for (name, value) in pairs {
        if !is_of_session(name) {
            continue;
        }
        let mut told_of = Vec::new();
        let known = Known { told, day: None };
        let quoted = format!("`{name}`");
        let order = date_order(
            std::iter::once(value.as_str()),
            &quoted,
            known,
            &mut told_of,
        );
        if start.day.is_none() {
            warnings.extend(told_of);
        }
        let Some(stamp) = parse_stamp(value, order) else {
            continue;
        };
        start.day = start.day.or(stamp.date);
        start.second_of_day = start.second_of_day.or(stamp.second_of_day);
    }
    start
}

fn is_of_session(name: &str) -> bool {
    let folded = fold(name);
    has_any(&folded, WORDS) && !has_any(&folded, OTHER_DAYS)
}

/// The day of the session, where it is written in a form that leaves nothing open.
pub(super) fn plain_day(pairs: &[(String, String)]) -> Option<NaiveDate> {
    let day = |order, value: &str| parse_stamp(value, order)?.date;
    pairs
        .iter()
        .filter(|(name, _)| is_of_session(name))
        .find_map(|(_, value)| {
            let found = day(DateOrder::DayFirst, value)?;
            let year_last = value.trim().find(|c: char| !c.is_ascii_digit()) == Some(2);
            let same = |order| day(order, value).is_none_or(|other| other == found);
            let open = year_last && !(same(DateOrder::MonthFirst) && same(DateOrder::YearFirst));
            (!open).then_some(found)
        })
}

/// Rows a second, from a pair such as `Sample rate; 2 Hz` or `Interval (ms); 500`.
pub(super) fn rate_hz(pairs: &[(String, String)]) -> Option<f64> {
    pairs.iter().find_map(|(name, value)| {
        let folded = fold(name);
        let value = value.trim();
        let end = value
            .find(|c: char| !c.is_ascii_digit() && c != '.')
            .unwrap_or(value.len());
        let figure: f64 = value[..end].parse().ok().filter(|v| *v > 0.0)?;
        let unit = fold(&format!("{name} {}", &value[end..]));
        let rate = if has_any(&folded, "rate|freq|abtastrate|=hz") {
            figure
        } else if has_any(&folded, "interval|intervall|period") {
            1.0 / (figure * if has_any(&unit, "=ms") { 1e-3 } else { 1.0 })
        } else {
            return None;
        };
        is_rate(rate).then_some(rate)
    })
}

/// The unit that a pair such as `Speed unit; mph` gives for all columns of a quantity.
pub(super) fn unit_told(pairs: &[(String, String)], quantity: Quantity) -> Option<Unit> {
    let words = match quantity {
        Quantity::Temperature => "temp",
        Quantity::Speed => "=speed|geschwindigkeit|vitesse|velocidad|velocita",
        Quantity::Pressure => "pressure|druck|pression|presion",
        _ => return None,
    };
    pairs.iter().find_map(|(name, value)| {
        let folded = fold(name);
        let named = has_any(&folded, "=unit|=units|einheit|=unite|=unidad|=unita");
        let unit = Unit::parse(value).filter(|unit| unit.quantity() == quantity);
        unit.filter(|_| named && has_any(&folded, words))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn date_and_start_are_read() {
        let pairs = |list: &[(&str, &str)]| -> Vec<(String, String)> {
            list.iter()
                .map(|(n, v)| ((*n).to_owned(), (*v).to_owned()))
                .collect()
        };
        let day = NaiveDate::from_ymd_opt(2024, 5, 4);
        for list in [
            &[
                ("Driver", "A"),
                ("Datum", "04.05.2024"),
                ("Startzeit", "10:00:00"),
            ][..],
            &[("Date", "2024-05-04"), ("Start", "10:00")],
            &[("Recorded", "2024-05-04 10:00:00")],
            &[
                ("Calibration date", "2019-01-31"),
                ("Date", "2024-05-04"),
                ("Start", "10:00"),
            ],
        ] {
            let found = start(&pairs(list), None, &mut Vec::new());
            assert_eq!(
                (found.day, found.second_of_day),
                (day, Some(36000.0)),
                "{list:?}"
            );
        }
    }
}
