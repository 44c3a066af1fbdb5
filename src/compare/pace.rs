//! Whether a verdict hangs on how heat follows the pace.
//!
//! Sides that are driven at another pace make another heat, which the law of heat input (`estimate::heat_law`, heat as
//! load to the power b) takes out. An engine may follow another law, and then a change is seen where there is none:
//!
//! ```text
//! lean = 0.11 · |ln(Q̄ after / Q̄ before)| · mean excess
//! ```
//!
//! with Q̄ the mean heat input. The interval holds what the logs leave open of b within the law, not that the law may be
//! another: cars simulated by another hand, whose heat is air flow to the power 0.78 and friction besides, leaned so far
//! (+0.47 K at 4.6 % less heat). From a difference that matters on, a verdict must stand with the interval wider by the
//! lean on both sides.

use super::{Request, mean_excess_k};
use crate::estimate::joint::JointFit;
use crate::estimate::prepare::Prepared;
use crate::stats::mean;
use crate::warning::Warning;
use crate::words::quoted;

/// Mean heat inputs that differ by more than this, as a logarithm, matter.
const MATTERS: f64 = 0.02;

/// Share of a difference of heat inputs by which the change may lean on the law.
const LEAN: f64 = 0.11;

/// Heat input after over before, as a logarithm, if it matters.
pub(super) fn apart(used: &[&Prepared], joint: &JointFit, request: &Request) -> Option<f64> {
    let of = |setup: &str| {
        let sessions = used.iter().filter(|s| s.setup == setup);
        let heats = sessions.map(|s| s.mean_in_stints(&joint.heat_at_reference_w(s)));
        mean(&heats.collect::<Vec<_>>())
    };
    let apart = (of(&request.after) / of(&request.before)).ln();
    (apart.abs() > MATTERS).then_some(apart)
}

/// By how much the change may lean on the law of heat, K.
pub(super) fn lean_k(apart: Option<f64>, joint: &JointFit) -> f64 {
    LEAN * apart.map_or(0.0, f64::abs) * mean_excess_k(joint)
}

/// The caution where the paces differ.
pub(super) fn caution(apart: f64, request: &Request) -> Warning {
    Warning::caution(
        "pace-differs",
        format!(
            "mean heat input with {} is {:+.1} % off that with {}: how coolant follows pace is known only roughly, and the change leans on it",
            quoted(&request.after),
            100.0 * apart.exp_m1(),
            quoted(&request.before)
        ),
    )
}
