//! The verdict in words.

use super::super::answer::{Bound, Comparison, Denied, Verdict, WhatItWouldTake};
use super::super::{ambient_shift, held_up};
use crate::quantity::{Measure, Units};
use crate::stats::{Estimate, Interval};
use crate::words::{capitalised, signed};

impl Verdict {
    /// The verdict in two or three words.
    pub fn label(self) -> &'static str {
        match self {
            Self::Improved => "improved",
            Self::Worsened => "worsened",
            Self::NoPracticalChange => "no practical change",
            Self::CannotTell => "cannot tell",
            Self::NotComparable => "not comparable",
        }
    }
}

/// The verdict in two sentences: the answer with its numbers, and what it does not prove.
pub fn sentences(comparison: &Comparison, units: Units) -> String {
    let (before, after) = (&comparison.before.setup, &comparison.after.setup);
    let change = &comparison.coolant_change_k.main;
    let ambient = ambient(comparison, units);
    let kelvin = units.symbol(Measure::Difference);
    let told = |k: f64| units.of(Measure::Difference, k);
    let threshold = told(comparison.threshold_k);
    let signed = |k: f64| signed(told(k), 1);
    let range = |i: &Interval| range(i, units);
    if let Some(bound) = comparison.regulated_evidence.as_ref().filter(|b| b.decides) {
        return of_bound(comparison, bound, units);
    }
    match (comparison.verdict, change) {
        (Verdict::NotComparable, _) => {
            format!(
                "{after} cannot be compared with {before}: {}.",
                reason(comparison, units)
            )
        }
        (_, Estimate::Unknown { why }) => {
            format!(
                "Nobody can tell from these sessions whether {after} runs cooler than {before}: {}. {}",
                units.prose(why),
                outlook(comparison, units)
            )
        }
        (Verdict::Improved | Verdict::Worsened, Estimate::Known(i)) => {
            let way = if comparison.verdict == Verdict::Improved {
                "cooler"
            } else {
                "hotter"
            };
            format!(
                "With {after} the coolant runs {:.1} {kelvin} {way} than with {before} ({}), over the same drive at {ambient} ambient with the thermostat fully open. This holds for this car and this kind of running, and does not prove the cause: whatever else differed between the setups is in the number.",
                told(i.estimate.abs()),
                range(i),
            )
        }
        (Verdict::NoPracticalChange, Estimate::Known(i)) => format!(
            "{after} changes the coolant by less than the {threshold:.1} {kelvin} that matter against {before} ({} {kelvin}, {}), over the same drive at {ambient} ambient. This does not prove that there is no effect, only that it is smaller than that here.",
            signed(i.estimate),
            range(i),
        ),
        (Verdict::CannotTell, Estimate::Known(i)) => format!(
            "These sessions cannot tell whether {after} runs cooler than {before}: {}, at {ambient} ambient. {}",
            undecided(comparison, i, units),
            outlook(comparison, units)
        ),
    }
}

/// The change, and why it decides nothing.
fn undecided(comparison: &Comparison, i: &Interval, units: Units) -> String {
    let kelvin = units.symbol(Measure::Difference);
    let told = |k: f64| signed(units.of(Measure::Difference, k), 1);
    let change = format!("{} {kelvin} ({})", told(i.estimate), range(i, units));
    let leans =
        |what: &str| format!("the change is {change}, but {what}, which leans the same way");
    match comparison.denied_by {
        None => format!(
            "the change is {} {kelvin}, with a {}",
            told(i.estimate),
            range(i, units)
        ),
        Some(Denied::AnswersDisagree) => format!(
            "the two answers disagree (standardised {} {kelvin}, matched {} {kelvin}; each must lie inside the other's interval)",
            told(i.estimate),
            (comparison.matched.coolant_change_k.point()).map_or_else(|| "none".to_owned(), told),
        ),
        Some(Denied::NoStintsAlike) => format!(
            "no stints of the two are alike in ambient, density and pace, so the change of {change} leans on the model alone"
        ),
        Some(Denied::HeldUp) => leans(&held_up::in_words([&comparison.before, &comparison.after])),
        Some(Denied::AmbientMoved) => leans(&ambient_shift::in_words(
            &comparison.intake_gap_change_k,
            units,
        )),
        Some(Denied::PaceDiffers) => format!(
            "the change is {change}, but the sides were driven at another pace, and with heat following it a little otherwise than reckoned there may be none"
        ),
        Some(Denied::Regulated) => leans("sessions that ran on the thermostat had to be left out"),
    }
}

/// The sentences where sessions on the thermostat decide.
fn of_bound(comparison: &Comparison, bound: &Bound, units: Units) -> String {
    let (before, after) = (&comparison.before.setup, &comparison.after.setup);
    let size = units.of(Measure::Difference, bound.limit().1.abs());
    let kelvin = units.symbol(Measure::Difference);
    let way = if bound.shows_cooler() {
        "cooler"
    } else {
        "hotter"
    };
    let number = bound.sessions.len();
    let sessions = if number == 1 { "session" } else { "sessions" };
    format!(
        "With {after} the coolant runs at least {size:.1} {kelvin} {way} than with {before} ({:.1} % one-sided bound), over the same drive at {} ambient with the thermostat fully open. {number} {sessions} with {} ran on the thermostat, which hides how much more it is; and what else differed between the setups is in the number.",
        100.0 * bound.level,
        ambient(comparison, units),
        bound.setup,
    )
}

/// The reference ambient with its unit.
fn ambient(comparison: &Comparison, units: Units) -> String {
    let told = units.of(Measure::Temperature, comparison.reference.ambient_c);
    format!("{told:.0} {}", units.symbol(Measure::Temperature))
}

fn range(i: &Interval, units: Units) -> String {
    let told = |k: f64| signed(units.of(Measure::Difference, k), 1);
    format!(
        "{:.0} % interval {} to {} {}",
        100.0 * i.level,
        told(i.low),
        told(i.high),
        units.symbol(Measure::Difference)
    )
}

fn reason(comparison: &Comparison, units: Units) -> String {
    let disqualifying = comparison
        .warnings
        .iter()
        .find(|w| w.severity == crate::warning::Severity::Disqualifies);
    disqualifying.map_or_else(String::new, |w| units.prose(&w.message).into_owned())
}

/// How many sessions it takes: to find a change as large as it looks, or that there is less of one than matters.
fn takes(comparison: &Comparison, w: &WhatItWouldTake, units: Units) -> String {
    let told = |k: f64| units.of(Measure::Difference, k);
    let kelvin = units.symbol(Measure::Difference);
    let threshold_k = comparison.threshold_k;
    let sought = match comparison.coolant_change_k.main.point() {
        Some(k) if k.abs() <= threshold_k => {
            format!(
                "to show that the change is less than {:.1} {kelvin}",
                told(threshold_k)
            )
        }
        _ => format!("to find {:.1} {kelvin}", told(w.sought_k)),
    };
    format!(
        "{sought} takes about {} sessions with each setup, over {} days with both setups on each",
        w.sessions_per_setup, w.days
    )
}

/// What an answer takes, and what there is without it.
fn outlook(comparison: &Comparison, units: Units) -> String {
    let told = |k: f64| units.of(Measure::Difference, k);
    let kelvin = units.symbol(Measure::Difference);
    let takes = match (comparison.denied_by, comparison.what_it_would_take) {
        (Some(Denied::HeldUp), _) => {
            "More sessions like these do not help: it takes both setups in like traffic".to_owned()
        }
        (Some(Denied::AmbientMoved), _) => {
            "More sessions like these do not help: it takes an outside temperature that the part cannot move, from another place on the car or a weather file".to_owned()
        }
        (Some(Denied::PaceDiffers), _) => {
            "More sessions like these do not help: it takes both setups driven at the same pace".to_owned()
        }
        (Some(Denied::Regulated), _) => {
            "More sessions like these do not help: it takes air warm enough for the thermostat to be fully open with both".to_owned()
        }
        (_, Some(w)) if w.scatter_assumed => format!(
            "Run both setups on one day first (A B B A): how sessions scatter is not known yet. Were it as usual, {}",
            takes(comparison, &w, units)
        ),
        (_, Some(w)) => capitalised(&takes(comparison, &w, units)),
        _ if comparison.rows.is_empty() => {
            return "It takes sessions that can be assessed, with both setups on each day."
                .to_owned();
        }
        _ => "No test of a practical size could tell".to_owned(),
    };
    match comparison.smallest_excludable_k {
        Some(k) => format!(
            "{takes}; what these data do exclude is a change of more than {:.1} {kelvin}.",
            told(k)
        ),
        None => format!("{takes}."),
    }
}
