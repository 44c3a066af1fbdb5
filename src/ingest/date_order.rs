//! Which of day, month and year comes first in dates that leave it open.

use chrono::NaiveDate;

use super::time_text::{DateOrder, parse_date};
use crate::warning::Warning;

const ORDERS: [DateOrder; 3] = [
    DateOrder::DayFirst,
    DateOrder::MonthFirst,
    DateOrder::YearFirst,
];

/// What is known of the order besides the dates.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Known {
    /// The user's word.
    pub told: Option<DateOrder>,
    /// The day, where the file has it in a form that leaves nothing open.
    pub day: Option<NaiveDate>,
}

/// The date of a cell: what stands before its time of day.
fn date_part(cell: &str) -> &str {
    let cell = cell.trim();
    let end = cell.find([' ', 'T', ',', '_']).unwrap_or(cell.len());
    &cell[..end]
}

/// The order of the dates in `cells`, named `name` in what is told. Of the orders in which all
/// dates can be, the ones in which a day is followed by the next are left; then the user's word
/// and the day known otherwise decide. Whatever is still open is said.
pub(super) fn date_order<'a>(
    cells: impl Iterator<Item = &'a str>,
    name: &str,
    known: Known,
    warnings: &mut Vec<Warning>,
) -> DateOrder {
    let mut dates: Vec<&str> = Vec::new();
    for cell in cells {
        let date = date_part(cell);
        if dates.last() != Some(&date) && date.starts_with(|c: char| c.is_ascii_digit()) {
            dates.push(date);
        }
    }
    let readable = |order: &DateOrder| {
        dates
            .iter()
            .filter(|date| parse_date(date, *order).is_some())
            .count()
    };
    let most = ORDERS.iter().map(readable).max().unwrap_or(0);
    let mut orders: Vec<DateOrder> = ORDERS.into_iter().filter(|o| readable(o) == most).collect();
    let rolls = |order: &DateOrder| {
        let days: Vec<NaiveDate> = dates.iter().filter_map(|d| parse_date(d, *order)).collect();
        let step = |pair: &[NaiveDate]| (pair[1] - pair[0]).num_days().abs() == 1;
        days.len() > 1 && days.windows(2).all(step)
    };
    if orders.iter().any(rolls) {
        orders.retain(rolls);
    }
    if let Some(told) = known.told.filter(|told| orders.contains(told)) {
        return told;
    }
    let of = |date: &str, order: &DateOrder| parse_date(date, *order);
    if let Some(day) = known.day
        && let Some(order) = orders
            .iter()
            .find(|order| dates.iter().any(|d| of(d, order) == Some(day)))
    {
        return *order;
    }
    let first = orders.first().copied().unwrap_or(DateOrder::DayFirst);
    let differs = |order: &&DateOrder| dates.iter().any(|d| of(d, order) != of(d, &first));
    let others: Vec<DateOrder> = orders.iter().filter(differs).copied().collect();
    if let (Some(date), false) = (dates.first(), others.is_empty()) {
        let or: Vec<String> = others
            .iter()
            .map(|o| {
                format!(
                    "if the {} comes first, give --date-order {}",
                    o.first(),
                    o.name()
                )
            })
            .collect();
        let message = format!(
            "{name}: `{date}` was read {} first; {}",
            first.first(),
            or.join("; ")
        );
        // Dots stand in day-first dates, but for rare ones.
        warnings.push(if date.contains('.') {
            Warning::note("date-order-ambiguous", message)
        } else {
            Warning::caution("date-order-ambiguous", message)
        });
    }
    first
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(dates: &[&str], known: Known) -> (DateOrder, usize) {
        let mut warnings = Vec::new();
        let order = date_order(dates.iter().copied(), "x", known, &mut warnings);
        (order, warnings.len())
    }

    #[test]
    fn dates_that_leave_it_open_are_told() {
        use DateOrder::{DayFirst, MonthFirst, YearFirst};
        let none = Known::default();
        let day = NaiveDate::from_ymd_opt(2031, 4, 5);
        for (dates, known, order, warnings) in [
            (&["04/05/2031"][..], none, DayFirst, 1),
            (&["05/05/2031"], none, DayFirst, 0),
            (&["04/13/2031"], none, MonthFirst, 0),
            (&["2031-05-04"], none, DayFirst, 0),
            (&["31-05-17"], none, DayFirst, 1),
            (&["32-05-17"], none, YearFirst, 0),
            (&["25.05.17"], none, DayFirst, 1),
            (&["04/05/2031", "04/06/2031"], none, MonthFirst, 0),
            (&["05/04/2031", "06/04/2031"], none, DayFirst, 0),
            (&["04/05/2031"], Known { day, ..none }, MonthFirst, 0),
            (
                &["04/05/2031"],
                Known {
                    told: Some(DayFirst),
                    day,
                },
                DayFirst,
                0,
            ),
            (
                &["31-05-17"],
                Known {
                    told: Some(YearFirst),
                    ..none
                },
                YearFirst,
                0,
            ),
            (
                &["13/05/2031"],
                Known {
                    told: Some(MonthFirst),
                    ..none
                },
                DayFirst,
                0,
            ),
        ] {
            assert_eq!(found(dates, known), (order, warnings), "{dates:?}");
        }
    }
}
