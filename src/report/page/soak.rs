//! Heat soak of a session: the constants that its log tells, and what it has nothing of.

use super::{below, differences_in, number};
use crate::quantity::{Measure, Units};
use crate::report::SessionPart;
use crate::report::table::{Table, cell, estimate};
use crate::stats::Estimate;

/// The constants of heat soak with their measures; a plain one is in seconds.
fn soak_rows<'a>(part: &SessionPart<'a>) -> [(&'static str, Measure, &'a Estimate); 6] {
    let soak = &part.fit.soak;
    [
        (
            "intake air, climb at standstill",
            Measure::Difference,
            &soak.intake_rise_still_k,
        ),
        (
            "intake air, time constant of that climb",
            Measure::Plain,
            &soak.intake_tau_still_s,
        ),
        (
            "intake air, time constant of recovery on the move",
            Measure::Plain,
            &soak.intake_tau_moving_s,
        ),
        (
            "coolant, rise after the engine stops",
            Measure::Difference,
            &soak.coolant_rise_after_stop_k,
        ),
        (
            "coolant, time from the stop to its peak",
            Measure::Plain,
            &soak.coolant_time_to_peak_s,
        ),
        (
            "coolant, time constant of the decay",
            Measure::Plain,
            &soak.coolant_decay_tau_s,
        ),
    ]
}

/// Whether the log has nothing of what a constant needs.
fn is_unseen(value: &Estimate) -> bool {
    value
        .why()
        .is_some_and(|why| why.starts_with("not observed"))
}

/// The constants that the log says something of; none where it says nothing.
pub fn soak(part: &SessionPart<'_>, units: Units) -> Option<Table> {
    let soak = &part.fit.soak;
    let second = [
        (
            "intake air at standstill, second time constant",
            Measure::Plain,
            &soak.intake_second_tau_still_s,
        ),
        (
            "intake air on the move, second time constant",
            Measure::Plain,
            &soak.intake_second_tau_moving_s,
        ),
        (
            "coolant, second time constant of the decay",
            Measure::Plain,
            &soak.coolant_decay_second_tau_s,
        ),
    ];
    let seen = soak_rows(part).into_iter().filter(|row| !is_unseen(row.2));
    let needed = second.into_iter().filter(|row| row.2.known().is_some());
    let mut table = Table::new(format!("Heat soak; {}", below()), &["Constant", "#Value"]);
    for (label, measure, value) in seen.chain(needed) {
        let value = match measure {
            Measure::Difference => {
                let kelvin = units.symbol(measure);
                estimate(units, value, kelvin, differences_in(units))
            }
            _ => estimate(units, value, "s", |v| number::fixed(v, 0)),
        };
        table.row(vec![cell(label), value]);
    }
    (!table.rows.is_empty()).then_some(table)
}

/// The constants that the log has nothing of, with the reasons; none where there are none.
pub fn unseen(part: &SessionPart<'_>) -> Option<String> {
    let mut by_why: Vec<(&str, Vec<&str>)> = Vec::new();
    for (label, _, value) in soak_rows(part) {
        let Some(why) = value.why().filter(|_| is_unseen(value)) else {
            continue;
        };
        match by_why.iter_mut().find(|(known, _)| *known == why) {
            Some((_, labels)) => labels.push(label),
            None => by_why.push((why, vec![label])),
        }
    }
    let said: Vec<String> = (by_why.iter())
        .map(|(why, labels)| format!("{} ({})", labels.join("; "), why))
        .collect();
    (!said.is_empty()).then(|| format!("Heat soak, not in this log: {}.", said.join("; ")))
}
