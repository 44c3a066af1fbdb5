//! The heat balance in the mean, with what the sessions share learned from all of them.
//!
//! Over a window w of hot running of session s, with `φ` the thermostat's opening,
//! `f = exp(n · log air flow)` the relative conductance and `θ = T - T_air`:
//!
//! ```text
//! H_w = ∫ Q dt - C ΔT_w - C_b ΔT_b,w      heat in minus heat stored, J
//! F_w = ∫ φ f dt,  Y_w = ∫ φ f θ dt / F_w  weighted excess over ambient, K
//! u_s = Σ_w F_w Y_w / Σ_w H_w              one over the conductance of session s, K/W
//! r_w = u_s H_w / F_w - Y_w                what the balance misses, K
//! ```
//!
//! Q heat into the coolant (`heat_law`), lagged by metal and sensor. T_b a slow store: block, oil and what is bolted
//! to them, as warm as the coolant at the first reading, from there on behind it by a first-order lag τ_b. A cold
//! block goes on taking heat for minutes after the coolant has come up; without it that heat counts as conductance,
//! and a car looks cooler the shorter its sessions are (`short-long` of the study of hard campaigns).
//! `u_s` is the whole session's balance: stored heat telescopes.
//! The windows only inform what all sessions share: n (exponent on air flow), b and m
//! (exponents of heat on load and on engine speed), C and C_b (heat capacities), τ_b. These minimise
//! `Σ (r_w/σ)² + Σ ((ψ - ψ0)/σ_ψ)²`, with priors that hold them to the physical, σ estimated and inflated by the
//! autocorrelation of r.
//!
//! Errors: the standard error of `log g_s = -log u_s` from the scatter of r over windows
//! (90 s or a lap: longer than wind is correlated), inflated by their autocorrelation; the
//! shared part through `d log g_s / dψ`, which cancels in a contrast of sessions run alike; and so what no log tells
//! (`untold`).

use nalgebra::{DMatrix, DVector};

use super::heat_law::HeatLaw;
use super::joint_model::Model;
use super::prepare::Prepared;
use super::untold;
use crate::stats::nonlinear_sloped;

/// How slowly block, oil and what is bolted to them usually follow the coolant, s: some minutes (common practice, no
/// source).
pub(super) const USUAL_STORE_TAU_S: f64 = 300.0;

/// Change of the window's scatter, as a logarithm, at which the fit is settled.
const SETTLED: f64 = 0.005;

/// Rounds of the fit at most.
const MOST_ROUNDS: usize = 8;

/// Number of shared parameters.
pub const SHARED: usize = 7;

/// Places of those among them that are named in the code.
pub(super) const AIR: usize = 0;
pub(super) const LOAD: usize = 1;
pub(super) const CAPACITY: usize = 2;
pub(super) const SPEED: usize = 3;
pub(super) const WITHIN: usize = 4;
pub(super) const STORE: usize = 5;
pub(super) const STORE_TAU: usize = 6;

/// Places of those that tell of stored heat.
pub const STORES: [usize; 3] = [CAPACITY, STORE, STORE_TAU];

/// What all sessions share, with its prior.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// The prior in words.
    pub stated: &'static str,
    /// Centre.
    pub centre: f64,
    /// Standard deviation.
    pub sd: f64,
}

/// Exponent of conductance on air flow: the air side of a louvred core goes with the 0.5 power of
/// velocity (Chang & Wang 1997, j ~ Re^-0.49; from memory), within the 0.3 to 0.6 of common
/// practice. Exponent of heat on load: gas-side heat transfer goes with the 0.75 power of the charge
/// flow (Taylor & Toong 1957; from memory), and a straight line must not be ruled out. Logarithm of heat capacity over the car sheet's.
/// Exponent of heat on engine speed at the same load: some tenth of the power lost in friction goes
/// with the square of speed, and the pump takes a part of that back. δ, of the order of what is left
/// open about b itself. Heat capacity of the slow store over the car sheet's of coolant and near metal, and its lag: an
/// engine has 60 to 150 kg of metal at 0.5 to 0.9 kJ/(kg K), of which the near metal is a part. The last five: common
/// practice, no source.
pub const PRIORS: [Prior; SHARED] = [
    Prior {
        stated: "0.50 ± 0.10",
        centre: 0.50,
        sd: 0.10,
    },
    Prior {
        stated: "0.75 ± 0.15",
        centre: 0.75,
        sd: 0.15,
    },
    Prior {
        stated: "the car sheet's, within a factor of 1.5",
        centre: 0.0,
        sd: 0.40,
    },
    Prior {
        stated: "0.15 ± 0.12",
        centre: 0.15,
        sd: 0.12,
    },
    Prior {
        stated: "0.00 ± 0.20",
        centre: 0.0,
        sd: 0.20,
    },
    Prior {
        stated: "0.80 ± 0.40 times the car sheet's heat capacity",
        centre: 0.80,
        sd: 0.40,
    },
    Prior {
        stated: "300 s within a factor of 1.5",
        centre: 0.0,
        sd: 0.40,
    },
];

/// The balance of one session within a joint fit.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionBalance {
    /// Logarithm of the conductance at reference conditions, W/K.
    pub log_g: f64,
    /// Its standard error from this session's windows alone (shared parameters held).
    pub log_g_se: f64,
    /// Degrees of freedom of that error.
    pub df: f64,
    /// `d log g / dψ`.
    pub sensitivity: [f64; SHARED],
    /// The same by what no log tells (`untold`).
    pub(super) untold: [f64; 2],
    /// What the balance misses in each window, K.
    pub residuals_k: Vec<f64>,
    /// What the heat of each window is worth, `u H / F`, K.
    pub loads_k: Vec<f64>,
    /// Mean weighted excess of coolant over ambient, K.
    pub excess_k: f64,
}

/// A fit over one or more sessions.
#[derive(Debug, Clone, PartialEq)]
pub struct JointFit {
    /// The shared parameters, in the order of [`PRIORS`].
    pub shared: [f64; SHARED],
    /// Their covariance.
    pub shared_covariance: DMatrix<f64>,
    /// Each session's balance, in the order given.
    pub sessions: Vec<SessionBalance>,
    /// Heat into the coolant as fitted.
    pub heat_law: HeatLaw,
    /// Scatter of a window, K.
    pub window_sd_k: f64,
    /// Whether the optimiser found a minimum.
    pub converged: bool,
    /// How it ended.
    pub termination: String,
}

/// Why no fit could be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoFit(pub String);

/// Fits all `sessions` together. Each needs ambient, heat input and at least one stint with the
/// thermostat mostly open; the caller has seen to that.
///
/// # Errors
/// A session without stints, or a balance that comes out negative.
pub fn fit_jointly(sessions: &[&Prepared]) -> Result<JointFit, NoFit> {
    let model = Model::of(sessions, sessions)?;
    let (mut sd_k, mut shared) = (2.0, PRIORS.map(|p| p.centre));
    // The scatter weighs data against priors and comes out of the fit: a few rounds settle it.
    let fit = |shared: &[f64], sd_k: f64| {
        let misses = |psi: &[f64]| model.penalised(psi, sd_k);
        nonlinear_sloped(misses, |psi| model.slopes(psi, sd_k), shared)
    };
    let mut found = fit(&shared, sd_k);
    for _ in 1..MOST_ROUNDS {
        shared = shared_of(&found.parameters);
        let before = std::mem::replace(&mut sd_k, model.window_sd_k(&shared).max(0.05));
        if !found.converged || (sd_k / before).ln().abs() < SETTLED {
            break;
        }
        found = fit(&shared, sd_k);
    }
    shared = shared_of(&found.parameters);
    let balances = model.balances(&shared)?;
    let shared_covariance = found.unscaled_covariance.ok_or_else(|| {
        NoFit(format!(
            "the shared parameters are not determined: {}",
            found.termination
        ))
    })?;
    Ok(JointFit {
        heat_law: model.law(shared[LOAD], shared[SPEED]),
        shared,
        shared_covariance,
        sessions: balances,
        window_sd_k: sd_k,
        converged: found.converged,
        termination: found.termination,
    })
}

/// The same, where a fit that did not converge is none.
///
/// # Errors
/// Why there is no fit, in words.
pub fn fit_converged(sessions: &[&Prepared]) -> Result<JointFit, String> {
    let fit = fit_jointly(sessions).map_err(|none| none.0)?;
    let joint = if sessions.len() > 1 { "joint " } else { "" };
    match fit.converged {
        true => Ok(fit),
        false => Err(format!(
            "the {joint}fit did not converge: {}",
            fit.termination
        )),
    }
}

impl JointFit {
    /// Exponent of conductance on air flow.
    pub fn air_exponent(&self) -> f64 {
        self.shared[AIR]
    }

    /// Standard deviation of that.
    pub fn air_exponent_sd(&self) -> f64 {
        self.shared_covariance[(AIR, AIR)].sqrt()
    }

    /// Heat capacity over the car sheet's.
    pub fn capacity_factor(&self) -> f64 {
        self.shared[CAPACITY].exp()
    }

    /// Heat capacity of the slow store over the car sheet's of coolant and metal.
    pub fn store_factor(&self) -> f64 {
        self.shared[STORE]
    }

    /// How slowly the store follows, s.
    pub fn store_tau_s(&self) -> f64 {
        store_tau_s(&self.shared)
    }

    /// Standard deviation of shared parameter `i` after the fit.
    pub fn shared_sd(&self, i: usize) -> f64 {
        self.shared_covariance[(i, i)].sqrt()
    }

    /// The fit with the balances of `sessions`, of which the first are those it was made from; the
    /// shared parameters stay as they are.
    ///
    /// # Errors
    /// A session without stints, or a balance that comes out negative.
    pub fn with_further(&self, sessions: &[&Prepared]) -> Result<Self, NoFit> {
        let fitted = &sessions[..self.sessions.len()];
        Ok(Self {
            sessions: Model::of(sessions, fitted)?.balances(&self.shared)?,
            ..self.clone()
        })
    }

    /// Variance of `Σ c_s log g_s` that comes from the shared parameters and from what no log tells.
    pub fn shared_variance(&self, contrast: &[f64]) -> f64 {
        let mut slope = DVector::zeros(SHARED);
        for (c, session) in contrast.iter().zip(&self.sessions) {
            slope += *c * DVector::from_column_slice(&session.sensitivity);
        }
        let untold = self.sessions.iter().map(|session| &session.untold);
        self.variance_along(&slope) + untold::variance(contrast.iter().copied().zip(untold))
    }

    /// Variance of a session's `log g` that comes from the shared parameters of heat and air flow,
    /// what stores heat held, and from what no log tells.
    pub fn heat_and_flow_variance(&self, index: usize) -> f64 {
        let mut slope = DVector::from_column_slice(&self.sessions[index].sensitivity);
        for stores in STORES {
            slope[stores] = 0.0;
        }
        self.variance_along(&slope) + untold::variance_of_one(self.sessions[index].untold)
    }

    fn variance_along(&self, slope: &DVector<f64>) -> f64 {
        (slope.transpose() * &self.shared_covariance * slope)[(0, 0)]
    }

    /// Heat into the coolant of a session as fitted, W, one value a step.
    pub fn heat_w(&self, session: &Prepared) -> Vec<f64> {
        self.heat_law.heat_w(session)
    }

    /// The same, had the coolant been at `thermal::wall::REFERENCE_C` throughout.
    pub fn heat_at_reference_w(&self, session: &Prepared) -> Vec<f64> {
        self.heat_law.heat_at_reference_w(session)
    }
}

pub(super) fn store_tau_s(psi: &[f64]) -> f64 {
    USUAL_STORE_TAU_S * psi[STORE_TAU].exp()
}

fn shared_of(parameters: &DVector<f64>) -> [f64; SHARED] {
    std::array::from_fn(|i| parameters[i])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::synthetic::{self, Truth};

    #[test]
    fn a_noiseless_session_gives_its_conductance_back() {
        let truth = Truth::default();
        let prepared = synthetic::prepared(&truth);
        let fit = fit_jointly(&[&prepared]).unwrap();
        let g = fit.sessions[0].log_g.exp();
        assert!((g / truth.g_w_per_k - 1.0).abs() < 0.01, "{g}");
        assert!(fit.converged);
    }

    #[test]
    fn a_ratio_of_two_sessions_does_not_feel_ambient_or_the_heat_scale() {
        let base = Truth::default();
        let better = Truth {
            g_w_per_k: base.g_w_per_k * 1.05,
            ambient_c: base.ambient_c + 6.0,
            ..base
        };
        let (a, b) = (synthetic::prepared(&base), synthetic::prepared(&better));
        let fit = fit_jointly(&[&a, &b]).unwrap();
        let ratio = (fit.sessions[1].log_g - fit.sessions[0].log_g).exp();
        assert!((ratio - 1.05).abs() < 0.002, "{ratio}");
    }

    /// A block that takes up heat for minutes is no conductance: without the slow store the short session of the same
    /// car came out 2.7 % better. The store is not the prior's.
    #[test]
    fn a_short_session_says_what_a_long_one_says() {
        let long = Truth {
            store: (1.1, 240.0),
            ..Truth::default()
        };
        let short = Truth {
            minutes_hard: 8,
            ..long
        };
        let (a, b) = (synthetic::prepared(&long), synthetic::prepared(&short));
        let fit = fit_jointly(&[&a, &b]).unwrap();
        let ratio = (fit.sessions[1].log_g - fit.sessions[0].log_g).exp();
        assert!((ratio - 1.0).abs() < 0.01, "{ratio}");
    }

    #[test]
    fn a_further_session_does_not_move_the_others() {
        let base = Truth::default();
        let better = Truth {
            g_w_per_k: base.g_w_per_k * 1.05,
            ..base
        };
        let (a, b) = (synthetic::prepared(&base), synthetic::prepared(&better));
        let fit = fit_jointly(&[&a]).unwrap();
        let more = fit.with_further(&[&a, &b]).unwrap();
        assert!((more.sessions[0].log_g - fit.sessions[0].log_g).abs() < 1e-12);
        let ratio = (more.sessions[1].log_g - more.sessions[0].log_g).exp();
        assert!((ratio - 1.05).abs() < 0.002, "{ratio}");
    }

    #[test]
    fn the_shared_part_cancels_between_sessions_run_alike() {
        let truth = Truth::default();
        let prepared = synthetic::prepared(&truth);
        let fit = fit_jointly(&[&prepared, &prepared]).unwrap();
        assert!(fit.shared_variance(&[1.0, -1.0]) < 1e-12);
        assert!(fit.shared_variance(&[1.0, 0.0]) > 0.0);
    }
}
