//! Intake air: climbs at standstill, recovers on the move.

use super::exponential::{Approach, End, Phase, fit};
use super::phases::{
    BRIDGE_S, Span, ambient_before, length_s, moving_after_still, step_c, still as still_phases,
};
use crate::estimate::prepare::{Prepared, STEP_S};
use crate::session::Role;

/// Longest part of a phase on the move that is fitted, s: later the drive decides.
const LONGEST_MOVING_S: f64 = 420.0;

/// Longest part of a standing phase that is fitted, s.
const LONGEST_STILL_S: f64 = 1800.0;

/// Air under the bonnet does not get hotter than the coolant by more than this, K, nor colder than
/// the air outside by more than this (the hot exhaust; sensors that lean).
const BEYOND_K: f64 = 10.0;

const COLDEST_C: f64 = -40.0;

/// The climb at standstill.
pub fn still(session: &Prepared) -> Approach {
    let end = |(from, to): Span| {
        let outside = ambient_before(session, from).map_or(COLDEST_C, |c| c - BEYOND_K);
        let coolant = session.coolant_c[from..to]
            .iter()
            .copied()
            .filter(|c| !c.is_nan())
            .fold(f64::NEG_INFINITY, f64::max);
        End::Between(
            outside,
            if coolant.is_finite() { coolant } else { 120.0 } + BEYOND_K,
        )
    };
    approach(
        session,
        &still_phases(session),
        LONGEST_STILL_S,
        end,
        "standing phase",
        "not observed: the car does not stand for a minute after it moved",
    )
}

/// The recovery on the move.
pub fn moving(session: &Prepared) -> Approach {
    let end = |(from, _): Span| {
        let outside = ambient_before(session, session.speed_kmh.len().min(from + 420));
        End::Between(outside.map_or(COLDEST_C, |c| c - 3.0), f64::INFINITY)
    };
    approach(
        session,
        &moving_after_still(session),
        LONGEST_MOVING_S,
        end,
        "phase on the move",
        "not observed: the car does not set off after a minute's standing",
    )
}

fn approach(
    session: &Prepared,
    spans: &[Span],
    longest_s: f64,
    end: impl Fn(Span) -> End,
    what: &str,
    none: &str,
) -> Approach {
    let Some(values) = session.grid.bridged(Role::Intake, BRIDGE_S) else {
        return Approach::unknown("there is no intake channel");
    };
    if spans.is_empty() {
        return Approach::unknown(none);
    }
    let step = step_c(&session.grid, Role::Intake);
    let phases: Vec<Phase> = spans
        .iter()
        .map(|&(from, to)| {
            let steps = (length_s((from, to)).min(longest_s) / STEP_S) as usize;
            Phase::new(&values[from..from + steps], STEP_S, step, end((from, to)))
        })
        .collect();
    fit(&phases, what)
}
