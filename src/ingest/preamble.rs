//! The date and start time that some loggers write above the table.

use chrono::{NaiveDate, NaiveDateTime};

use super::time_text::{DateOrder, local_seconds, local_time, open_order, parse_stamp};
use super::words::{fold, has_any};
use crate::quantity::{Quantity, Unit};
use crate::warning::Warning;

const WORDS: &str = "=date|=datum|=fecha|=data|=jour|=dia|=day|=tag|=time|=zeit|=uhrzeit|=heure|\
    =hora|=ora|start|beginn|debut|inicio|inizio|recorded|aufzeichnung|created|session date|logged";

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
        if !has_any(&fold(name), WORDS) {
            continue;
        }
        let order = match open_order(value) {
            Some((first, second)) if first <= 12 && second > 12 => DateOrder::MonthFirst,
            Some((first, second))
                if told.is_none() && first <= 12 && first != second && start.day.is_none() =>
            {
                warnings.push(Warning::caution(
                    "date-order-ambiguous",
                    format!("`{name}`: `{value}` was read day first; if the month comes first, give --date-order month-first"),
                ));
                DateOrder::DayFirst
            }
            Some((first, _)) if first > 12 => DateOrder::DayFirst,
            _ => told.unwrap_or(DateOrder::DayFirst),
        };
        let Some(stamp) = parse_stamp(value, order) else {
            continue;
        };
        start.day = start.day.or(stamp.date);
        start.second_of_day = start.second_of_day.or(stamp.second_of_day);
    }
    start
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
