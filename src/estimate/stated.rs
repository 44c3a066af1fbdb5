//! Whether a session's fit is stated, and if not, why.
//!
//! A session that shows what the radiator can do (`assess`) may still leave a fit that nobody
//! should rest on: a search without an end, an interval too wide to use, a model that misses the
//! coolant it was fitted to.

use super::assess::assess;
use super::joint::{JointFit, fit_jointly};
use super::prepare::Prepared;
use super::state_fit::{StateFit, fit_state};
use crate::stats::{NORMAL_FACTOR, standard_deviation};

/// Widest interval of the conductance that is stated, as half of it over its middle.
const WIDEST: f64 = 0.30;

/// Largest residual with which a fit is stated, K (the simulated sessions have 1 to 2 K).
const MOST_MISSED_K: f64 = 5.0;

/// Why no fit is stated.
#[derive(Debug, Clone, PartialEq)]
pub struct Declined {
    /// The reason, one sentence.
    pub why: String,
    /// How the search ended, if there was one.
    pub termination: String,
}

impl Declined {
    fn before_a_fit(why: impl ToString) -> Self {
        Self {
            why: why.to_string(),
            termination: "none".to_owned(),
        }
    }
}

/// The fit of a session, if it may be stated.
///
/// # Errors
/// Why not.
pub fn stated(session: &Prepared) -> Result<(JointFit, StateFit), Declined> {
    assess(session).map_err(Declined::before_a_fit)?;
    let joint = fit_jointly(&[session]).map_err(|none| Declined::before_a_fit(none.0))?;
    if !joint.converged {
        return Err(Declined {
            why: "the fit did not converge".to_owned(),
            termination: joint.termination,
        });
    }
    let state = fit_state(session, &joint, 0).map_err(|why| Declined {
        termination: why.clone(),
        why,
    })?;
    match reason_against(session, &state) {
        Some(why) => Err(Declined {
            why,
            termination: state.termination,
        }),
        None => Ok((joint, state)),
    }
}

fn reason_against(session: &Prepared, state: &StateFit) -> Option<String> {
    let half_width = NORMAL_FACTOR * state.sd;
    if half_width > WIDEST {
        let percent = 100.0 * half_width;
        return Some(format!(
            "the log does not determine the conductance: ±{percent:.0} %"
        ));
    }
    let missed_k = misses_k(session, state).filter(|sd| *sd > MOST_MISSED_K)?;
    Some(format!(
        "the model misses the coolant by {missed_k:.1} K (sd) in hot running: see whether coolant and heat input are right"
    ))
}

/// Standard deviation of what the model misses over the stints.
pub fn misses_k(session: &Prepared, state: &StateFit) -> Option<f64> {
    let pairs = session.coolant_c.iter().zip(&state.modelled_c);
    let misses: Vec<f64> = pairs
        .map(|(read, model)| read - model)
        .filter(|d| !d.is_nan())
        .collect();
    standard_deviation(&misses)
}
