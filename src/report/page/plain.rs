//! What stands beside a comparison's answer: the plain tests, and the change day by day.

use super::{below, changes_in, day, number};
use crate::compare::Comparison;
use crate::quantity::{Measure, Units};
use crate::report::table::{Table, cell, estimate, noted};

/// What tests say that a doubter knows by name.
pub fn tests(comparison: &Comparison, units: Units) -> Option<Table> {
    let (change, unit) = (changes_in(units), units.symbol(Measure::Difference));
    let head = ["Test, and what it ignores", "#Change", "#p"];
    let caption = format!(
        "What plain tests say; {}, and p of equivalence within \u{b1}{}",
        below(),
        number::told(units, Measure::Difference, comparison.threshold_k, 2)
    );
    let mut table = Table::new(caption, &head);
    for test in &comparison.plain {
        let p = test.p.map_or_else(|| number::UNKNOWN.to_owned(), number::p);
        let equivalence = test.equivalence_p.map(number::p).unwrap_or_default();
        table.row(vec![
            noted(test.name, test.ignores),
            estimate(units, &test.coolant_change_k, unit, change),
            noted(p, equivalence),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

/// The change on each day with both setups, and over the days.
pub fn days(comparison: &Comparison, units: Units) -> Option<Table> {
    let (change, unit) = (changes_in(units), units.symbol(Measure::Difference));
    let by_day = &comparison.by_day;
    if by_day.days.is_empty() {
        return None;
    }
    let mut table = Table::new(
        format!("The change day by day; {}", below()),
        &["Day", "#Change"],
    );
    for of in &by_day.days {
        let sessions = number::count(of.sessions_before, "session");
        table.row(vec![
            noted(
                day(Some(of.day)),
                format!("{sessions} before, {} after", of.sessions_after),
            ),
            estimate(units, &of.coolant_change_k, unit, change),
        ]);
    }
    for (label, value) in [
        ("mean over days", &by_day.coolant_change_k),
        ("one further day", &by_day.another_day_k),
    ] {
        table.row(vec![cell(label), estimate(units, value, unit, change)]);
    }
    Some(table)
}

/// Whether the days agree, in a sentence.
pub fn agreement(comparison: &Comparison, units: Units) -> Option<String> {
    let by_day = &comparison.by_day;
    let agreement = by_day.agreement?;
    let said = if by_day.disagree() {
        "The days do not agree: the change differs from day to day by more than sessions scatter"
    } else if by_day.days.len() < 3 {
        "Nothing shows that the days differ, though so few days could hardly show it"
    } else {
        "The days agree as far as their sessions can tell"
    };
    Some(format!(
        "{said} (Cochran\u{2019}s Q {}, p\u{a0}{}; the change varies from day to day by {}, \
         I\u{b2}\u{a0}{}\u{a0}%).",
        number::fixed(agreement.q, 2),
        number::p(agreement.q_p),
        number::told(units, Measure::Difference, agreement.tau_k, 2),
        number::fixed(agreement.i_squared_percent, 0),
    ))
}
