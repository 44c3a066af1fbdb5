//! What sessions that ran on the thermostat prove.
//!
//! With less than all coolant going through the radiator, the radiator is worth at least what the
//! balance says when the thermostat is taken as open: `log g` at its lower bound. Put in the place of
//! the unknown points, the bounds of sessions *after* make the conductance ratio no larger than it
//! is, and so the change of coolant no more negative than it is; of sessions *before*, the other way
//! round. The bounds lie nearer together than true points would, because the thermostat holds the
//! coolant: they are not believed about the scatter, which stays at least as wide as without them.

use super::Request;
use super::answer::Bound;
use super::contrast::{Layout, Unit};
use super::gather::Gathered;
use super::matched::matched;
use super::observations;
use super::standardised::{Standard, ends};
use crate::estimate::joint::JointFit;
use crate::estimate::prepare::Prepared;
use crate::stats::{LEVEL, t_factor};

/// The bound, if regulated sessions are on one side only and drive and ambient match.
/// `without` is the layout of the sessions that give points.
pub(super) fn bound(
    gathered: &Gathered,
    standard: &Standard,
    without: &Layout,
    request: &Request,
) -> Option<Bound> {
    let after_side = match gathered.regulated_count() {
        [0, n] if n > 0 => true,
        [n, 0] if n > 0 => false,
        _ => return None,
    };
    let all: Vec<&Prepared> = gathered.fitted().chain(&gathered.regulated).collect();
    let joint = standard.joint.with_further(&all).ok()?;
    let with = Layout::of(&observations(&all, &joint));
    let contrast = with
        .contrast(&request.before, &request.after, request.day_log_sd(&joint))
        .ok()?;
    let (low, high) = ends(&joint, &contrast, request.family)?;
    let widened = widening(without, &with)?;
    let middle = contrast.value.estimate;
    let log_ratio = if after_side {
        middle - widened * (middle - low)
    } else {
        middle + widened * (high - middle)
    };
    // Where no session before gives a point, the reference car is the one after.
    let reached = if gathered.before.sessions.is_empty() {
        -standard.change_k(-log_ratio)
    } else {
        standard.change_k(log_ratio)
    };
    matches_say_the_same(&all, &joint, request, contrast.unit, middle)?;
    Some(Bound {
        setup: gathered.regulated[0].setup.clone(),
        sessions: gathered.regulated.iter().map(|s| s.id.clone()).collect(),
        coolant_change_at_most_k: after_side.then_some(reached),
        coolant_change_at_least_k: (!after_side).then_some(reached),
        level: f64::midpoint(1.0, LEVEL),
        method: "sessions on the thermostat at the least conductance they can have; scatter of the other sessions".to_owned(),
        decides: false,
    })
}

/// How much wider than with the bounds the interval would be with the scatter of the others alone.
fn widening(without: &Layout, with: &Layout) -> Option<f64> {
    let half = |layout: &Layout| {
        let scatter = layout.scatter()?;
        Some(scatter.session_sd.hypot(scatter.day_sd) * t_factor(scatter.df)?)
    };
    Some((half(without)? / half(with)?).max(1.0))
}

/// Stints alike in drive and ambient must lean the same way, or the bound is the model's alone.
fn matches_say_the_same(
    all: &[&Prepared],
    joint: &JointFit,
    request: &Request,
    unit: Unit,
    log_ratio: f64,
) -> Option<()> {
    let both = all.iter().zip(&joint.sessions);
    let compared = both.filter(|(session, _)| request.names(&session.setup));
    let (sessions, balances): (Vec<&Prepared>, Vec<_>) =
        compared.map(|(s, balance)| (*s, balance.clone())).unzip();
    let of_compared = JointFit {
        sessions: balances,
        ..joint.clone()
    };
    let after: Vec<bool> = sessions.iter().map(|s| s.setup == request.after).collect();
    let change_k = matched(&sessions, &of_compared, &after, unit).mean_k?;
    (change_k * log_ratio < 0.0).then_some(())
}
