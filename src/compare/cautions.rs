//! What a reader of a comparison must know besides the figures.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, NaiveDateTime};

use super::answer::{Comparison, Side};
use super::contrast::{NoInterval, Unit};
use super::gather::Gathered;
use super::standardised::Standard;
use super::{Request, pace};
use crate::car::Affects;
use crate::estimate::prepare::Prepared;
use crate::session::Session;
use crate::stats::mean;
use crate::warning::Warning;
use crate::words::quoted;

/// Mean lengths of hot running that differ by more than this, as a logarithm, are said.
const LENGTHS_DIFFER: f64 = 0.25;

/// Fewer degrees of freedom than this are said.
const FEW_DF: f64 = 2.0;

/// Cautions that hang on the sessions alone.
pub(super) fn of_sessions(
    gathered: &Gathered,
    sessions: &[Session],
    request: &Request,
) -> Vec<Warning> {
    let mut warnings = assumptions(&gathered.used);
    warnings.extend(unknown_days(&gathered.used));
    warnings.extend(left_out(gathered));
    warnings.extend(sheets(sessions, request));
    warnings.extend(off_plan(gathered, request));
    warnings.extend(same_order(sessions, request));
    if request.looks > 1 {
        warnings.push(Warning::caution(
            "repeated-looks",
            format!(
                "this pair has been looked at {} times with different data: stopping when the answer pleases makes wrong answers likelier than the interval says",
                request.looks
            ),
        ));
    }
    warnings
}

/// Cautions that hang on the fit and its contrast; `heat_apart` by `pace::apart`.
pub(super) fn of_answer(
    standard: &Standard,
    used: &[&Prepared],
    heat_apart: Option<f64>,
    request: &Request,
) -> Vec<Warning> {
    let mut warnings = Vec::new();
    warnings.extend(other_drive(used, request));
    warnings.extend(confounded(standard));
    warnings.extend(stint_lengths(used, request));
    warnings.extend(heat_apart.map(|apart| pace::caution(apart, request)));
    warnings.extend(few(standard));
    warnings
}

/// Cautions that hang on what came out.
pub(super) fn of_result(comparison: &Comparison, request: &Request) -> Option<Warning> {
    let change = comparison.load_response_change.known()?;
    (!change.contains(0.0)).then(|| {
        Warning::caution(
            "load-response-differs",
            format!(
                "coolant answers the load otherwise with {} than with {} (exponent {:+.2}, {:+.2} to {:+.2}): the change holds at the pace of the reference drive, and not far from it",
                quoted(&request.after),
                quoted(&request.before),
                change.estimate,
                change.low,
                change.high
            ),
        )
    })
}

/// Sessions that count in the balance of all, and have no fit of their own that could be stated.
pub fn own_fit_fails(ids: &[&str]) -> Option<Warning> {
    (!ids.is_empty()).then(|| {
        Warning::caution(
            "own-fit-fails",
            format!(
                "{}: counted here in the heat balance of all sessions, but alone no fit of them can be stated (heatbook fit says why): the model does not follow these logs",
                ids.join(", ")
            ),
        )
    })
}

/// A look at another number of sessions than was planned.
fn off_plan(gathered: &Gathered, request: &Request) -> Option<Warning> {
    let planned = request.planned? as usize;
    let driven = |side: &Side| side.sessions.len() + side.left_out.len();
    let (before, after) = (driven(&gathered.before), driven(&gathered.after));
    let looked = format!(
        "the plan kept in the book stops at {planned} sessions with each setup; this look has {before} and {after}"
    );
    if before.min(after) < planned {
        Some(Warning::caution(
            "ahead-of-plan",
            format!(
                "{looked}: stopping now because the answer pleases makes it less sure than its interval says"
            ),
        ))
    } else if before.max(after) > planned {
        Some(Warning::caution(
            "beyond-plan",
            format!(
                "{looked}: going on until the answer pleases makes it less sure than its interval says"
            ),
        ))
    } else {
        None
    }
}

fn assumptions(used: &[Prepared]) -> Vec<Warning> {
    let mut seen = BTreeSet::new();
    let all = used.iter().flat_map(|s| &s.warnings);
    all.filter(|w| seen.insert(w.id.clone())).cloned().collect()
}

fn unknown_days(used: &[Prepared]) -> Option<Warning> {
    let unknown = used.iter().filter(|s| s.day.is_none());
    let unknown: Vec<&str> = unknown.map(|s| s.id.as_str()).collect();
    unknown.first().map(|first| {
        Warning::caution(
            "day-unknown",
            format!(
                "the day of {} is not known, so it counts as a day of its own: heatbook amend {first} --day DATE",
                unknown.join(", ")
            ),
        )
    })
}

/// Regulated sessions fall out because they ran cool: that selects on the response.
fn left_out(gathered: &Gathered) -> Vec<Warning> {
    let counts = gathered.regulated_count();
    [&gathered.before, &gathered.after]
        .into_iter()
        .zip(counts)
        .filter(|(_, regulated)| *regulated > 0)
        .map(|(side, regulated)| {
            let setup = quoted(&side.setup);
            let bound = match gathered.used.is_empty() {
                true => "",
                false => ", only a bound",
            };
            // A side of which none is left looks like nothing.
            let lean = match side.sessions.is_empty() {
                true => "none with it is left".to_owned(),
                false => format!("they were the cool ones, so {setup} looks worse than it is"),
            };
            Warning::caution(
                "regulated-left-out",
                format!(
                    "{regulated} of the sessions with {setup} ran on the thermostat and give no point value{bound}; {lean}"
                ),
            )
        })
        .collect()
}

/// What the setup sheets say was changed besides the air.
fn sheets(sessions: &[Session], request: &Request) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let compared = || sessions.iter().filter(|s| request.compares(s));
    if compared().any(|s| s.meta.setup_sheet.affects.contains(&Affects::Heat)) {
        warnings.push(Warning::caution(
            "part-affects-heat",
            "a setup sheet says that the heat input is affected: the change of coolant holds, but the conductance ratio mixes heat and conductance",
        ));
    }
    let of = |setup: &str| compared().find(|s| s.meta.setup == setup);
    if let (Some(before), Some(after)) = (of(&request.before), of(&request.after)) {
        let keys = before
            .meta
            .car_as_run()
            .differing_keys(&after.meta.car_as_run());
        let coolant: Vec<&str> = keys
            .into_iter()
            .filter(|k| ["coolant_l", "glycol_volume_percent"].contains(k))
            .collect();
        if !coolant.is_empty() {
            warnings.push(Warning::caution(
                "coolant-differs",
                format!(
                    "{} and {} differ in {} by their sheets: stored heat is reckoned with each setup's own coolant, and what another coolant does to the conductance is part of the change",
                    quoted(&request.before),
                    quoted(&request.after),
                    coolant.join(" and ")
                ),
            ));
        }
    }
    warnings
}

fn other_drive(used: &[&Prepared], request: &Request) -> Option<Warning> {
    let asked = request.drive.as_ref()?;
    used.iter().all(|s| s.id != *asked).then(|| {
        Warning::caution(
            "drive-not-used",
            format!("{asked} is none of the sessions used, so the drive is that of the session of median heat input"),
        )
    })
}

/// Sessions that agree by luck make a narrow interval; over many tests it keeps its word, in one
/// test it may look stronger than it is.
fn few(standard: &Standard) -> Option<Warning> {
    let df = standard.contrast.as_ref().ok()?.value.df;
    (df <= FEW_DF).then(|| {
        Warning::caution(
            "few-sessions",
            format!("the scatter is judged from {df:.0} degrees of freedom only: another day would tell whether it holds"),
        )
    })
}

/// What oil and block take up is a larger part of a short session, and is known only roughly.
fn stint_lengths(used: &[&Prepared], request: &Request) -> Option<Warning> {
    let of = |setup: &str| {
        let lengths = used.iter().filter(|s| s.setup == setup);
        mean(&lengths.map(|s| s.stint_s()).collect::<Vec<_>>())
    };
    let (before, after) = (of(&request.before), of(&request.after));
    ((before / after).ln().abs() > LENGTHS_DIFFER).then(|| {
        Warning::caution(
            "stint-lengths-differ",
            format!(
                "hot running lasted {before:.0} s with {} and {after:.0} s with {}: what block and oil take up at the start is reckoned with, but not known well, so let both setups run alike",
                quoted(&request.before),
                quoted(&request.after)
            ),
        )
    })
}

/// On every day with both setups one ran after the other: what changes through a day is then in the change.
fn same_order(sessions: &[Session], request: &Request) -> Option<Warning> {
    let mut days: BTreeMap<NaiveDate, [Vec<NaiveDateTime>; 2]> = BTreeMap::new();
    for meta in sessions.iter().map(|s| &s.meta) {
        let (Some(day), Some(start)) = (meta.day, meta.start) else {
            continue;
        };
        if request.names(&meta.setup) && meta.excluded.is_none() {
            days.entry(day).or_default()[usize::from(meta.setup == request.after)].push(start);
        }
    }
    let shared = days
        .values()
        .filter(|sides| sides.iter().all(|s| !s.is_empty()));
    let later = |a: &[NaiveDateTime], b: &[NaiveDateTime]| a.iter().min() > b.iter().max();
    let mut orders: Vec<i8> = shared
        .map(|[before, after]| i8::from(later(after, before)) - i8::from(later(before, after)))
        .collect();
    orders.dedup();
    let [order @ (1 | -1)] = orders[..] else {
        return None;
    };
    let (first, second) = match order {
        1 => (&request.before, &request.after),
        _ => (&request.after, &request.before),
    };
    Some(Warning::caution(
        "same-order",
        format!(
            "on every day with both setups {} ran after {}: what changes through a day (air, sun, pace, fuel) is in the change; run A B B A",
            quoted(second),
            quoted(first)
        ),
    ))
}

fn confounded(standard: &Standard) -> Option<Warning> {
    let on_days = match &standard.contrast {
        Ok(contrast) => contrast.unit == Unit::Day,
        Err(none) => *none == NoInterval::DayOrPart,
    };
    on_days.then(|| {
        Warning::caution(
            "days-confounded",
            "no day has both setups: fuel, sensors, wind and driver of the day are in the change; run both setups on each day (A B B A)",
        )
    })
}
