//! Whether the fit of a session finds again what it was given.
//!
//! From the fitted model records are drawn (`thermal_state::Record::drawn`): the session's own
//! drive, air, heat input and logger, with new wind, new start and new readings. Each is fitted as
//! the session was. The conductance of each record is known, so that the doubter sees whether the
//! estimator leans and whether its intervals hold the truth as often as they say.
//!
//! It judges the estimator in the model's own world, with heat input and air flow taken as right:
//! the session's own part of the interval (`state_fit`, a, b and m). That the model is right it
//! cannot say.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::state_fit::Search;
use crate::stats::{Estimate, LEVEL, NORMAL_FACTOR, mean, share, standard_deviation, t_factor};

/// How the check is to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plan {
    /// Records to draw for each session.
    pub logs: usize,
    /// Seed of the first; the others follow.
    pub seed: u64,
}

/// What came back.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SelfCheck {
    /// Records drawn.
    pub logs: usize,
    /// Seed of the first; the others follow.
    pub seed: u64,
    /// Records that could be fitted.
    pub fitted: usize,
    /// Conductance found over the one put in, mean of the records.
    pub found_over_true: Estimate,
    /// Scatter of that ratio over what the intervals say of it, 1 where they are right.
    pub scatter_over_stated: Option<f64>,
    /// Root mean square of the misses over what the intervals say of it, 1 where they are right.
    pub misses_over_stated: Option<f64>,
    /// Share of the records whose 95 % interval holds the conductance put in.
    pub holds: Estimate,
    /// Whether what was put in comes back: nearly all records could be fitted, and the share above
    /// may be 95 % or more.
    pub passed: bool,
}

/// Draws records of what a search found, and searches them.
pub fn self_check(search: &Search, plan: Plan) -> SelfCheck {
    let (record, parameters) = search.fitted();
    let found: Vec<(f64, f64)> = (0..plan.logs)
        .into_par_iter()
        .filter_map(|i| {
            let mut rng = ChaCha8Rng::seed_from_u64(plan.seed.wrapping_add(i as u64));
            let (drawn, truth) = record.drawn(parameters, &mut rng);
            let search = Search::of(drawn, parameters[0]).ok()?;
            let (log_g, variance) = search.own();
            Some((log_g - truth, variance.sqrt()))
        })
        .filter(|(miss, sd)| miss.is_finite() && sd.is_finite())
        .collect();
    let misses: Vec<f64> = found.iter().map(|(miss, _)| *miss).collect();
    let stated: Vec<f64> = found.iter().map(|(_, sd)| sd * sd).collect();
    let held = found
        .iter()
        .filter(|(miss, sd)| miss.abs() <= NORMAL_FACTOR * sd);
    let sd = standard_deviation(&misses);
    let half = sd
        .zip(t_factor(misses.len() as f64 - 1.0))
        .map(|(sd, t)| t * sd / (misses.len() as f64).sqrt());
    let holds = share(held.count(), found.len());
    let passed =
        10 * found.len() >= 9 * plan.logs && holds.known().is_some_and(|share| share.high >= LEVEL);
    SelfCheck {
        logs: plan.logs,
        seed: plan.seed,
        fitted: found.len(),
        found_over_true: half.map_or_else(
            || Estimate::unknown("fewer than two records could be fitted"),
            |half| Estimate::symmetric(mean(&misses), half, "mean of the records, t").map(f64::exp),
        ),
        misses_over_stated: sd.map(|_| {
            let squares: Vec<f64> = misses.iter().map(|miss| miss * miss).collect();
            (mean(&squares) / mean(&stated)).sqrt()
        }),
        scatter_over_stated: sd.map(|sd| sd / mean(&stated).sqrt()),
        holds,
        passed,
    }
}
