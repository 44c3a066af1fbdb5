//! One session's balance with a store of heat that follows slowly: block, oil, what is bolted to them.
//!
//! A cold block goes on taking heat for minutes after the coolant has come up. A balance without it takes that for
//! conductance, and so puts a session that was cut short too cool. Over window w of hot running, with the sums
//! of `joint`:
//!
//! ```text
//! Y_w = u Q_w / F_w - a R_w / F_w - k S_w / F_w + e_w
//! ```
//!
//! Q heat in, J; R rise of the coolant, K; S `∫ (T - T_slow) dt`, K s, T_slow the coolant low-passed with
//! τ [`SLOW_S`] from the first reading on; F `∫ φ f dt`, s; Y excess over ambient, K. u is one over the
//! conductance, K/W; `a = u C`, s; `k = u h`, h what goes to the store by kelvin, W/K.
//!
//! Linear least squares weighted by F, with `a` held to the car sheet's heat capacity within a factor of 1.5 and
//! k to [`STORE`]; the scatter of e from its misses, inflated by their autocorrelation, a usual scatter standing in
//! where windows are few. Errors: inverse of the normal matrix.

use nalgebra::{Matrix3, Vector3};

use super::joint::{AIR, CAPACITY, JointFit, PRIORS};
use super::joint_model::{USUAL_DF, USUAL_WINDOW_SD_K};
use super::prepare::{Prepared, STEP_S};
use super::windows::Input;
use crate::stats::{autocorrelation, variance_inflation};
use crate::thermal::balance::lagged;

/// How slowly the store follows, s. With [`STORE`] by simulation: of a few tried, those without bias in sessions of
/// 20 minutes (`examples/would_have`); in practice some minutes to a quarter of an hour (common practice, no source).
pub const SLOW_S: f64 = 600.0;

/// What goes to the store over what the radiator takes, each by its kelvin, and how sure that is (1 sd). With
/// [`SLOW_S`] and 0.8 kW/K it stands for some 100 kJ/K: block, oil, exhaust and what is bolted to them.
pub const STORE: (f64, f64) = (0.20, 0.08);

/// A session's balance.
#[derive(Debug, Clone, PartialEq)]
pub struct SlowBalance {
    /// `u`, K/W; `a`, s; `k`.
    pub found: Vector3<f64>,
    /// Their covariance.
    pub covariance: Matrix3<f64>,
    /// Degrees of freedom of the scatter behind it.
    pub df: f64,
    /// Scatter of the conductance over a minute or so, as a logarithm.
    pub window_log_sd: f64,
    /// Length of a window, s.
    pub window_s: f64,
    /// The store at each step, °C.
    pub slow_c: Vec<f64>,
}

impl SlowBalance {
    /// Of a session with its fit. `None`: fewer than two windows.
    pub fn of(session: &Prepared, joint: &JointFit) -> Option<Self> {
        let input = Input::whole(session)?;
        let slow_c = lagged(&session.coolant_c, SLOW_S, STEP_S);
        let heat_w: Vec<[f64; 1]> = joint.heat_w(session).into_iter().map(|w| [w]).collect();
        let heat_j = input.heat_j(&heat_w);
        let flow = input.flow(joint.shared[AIR]);
        let capacity = session.capacity_j_per_k;
        let rows: Vec<(Vector3<f64>, f64, f64)> = (input.windows.iter().enumerate())
            .map(|(i, &(from, to))| {
                let (weight_s, excess_k) = (flow[i].weight_s, flow[i].excess_k);
                let behind = |i: usize| session.coolant_c[i] - slow_c[i];
                let slow_ks = (from..to).map(behind).filter(|k| !k.is_nan()).sum::<f64>() * STEP_S;
                let row = Vector3::new(heat_j[i][0], -input.rise_k(i), -slow_ks) / weight_s;
                (row, excess_k, weight_s)
            })
            .filter(|(row, y, _)| row.iter().all(|v| v.is_finite()) && y.is_finite())
            .collect();
        if rows.len() < 2 {
            return None;
        }
        let n = rows.len() as f64;
        let mean_weight = rows.iter().map(|r| r.2).sum::<f64>() / n;
        let excess_k = rows.iter().map(|r| r.1 * r.2).sum::<f64>() / n / mean_weight;
        let u0 = (-joint.sessions[0].log_g).exp();
        let held = capacity * u0 * PRIORS[CAPACITY].sd;
        let mut sd_k = USUAL_WINDOW_SD_K;
        let (mut found, mut covariance) = (Vector3::zeros(), Matrix3::zeros());
        for _ in 0..8 {
            let mut normal = Matrix3::zeros();
            let mut right = Vector3::zeros();
            let mut add = |row: Vector3<f64>, y: f64, precision: f64| {
                normal += precision * row * row.transpose();
                right += precision * y * row;
            };
            for (row, y, weight) in &rows {
                add(*row, *y, weight / mean_weight / (sd_k * sd_k));
            }
            add(Vector3::new(-capacity, 1.0, 0.0), 0.0, 1.0 / (held * held));
            add(Vector3::z(), STORE.0, 1.0 / (STORE.1 * STORE.1));
            // Scaled to the sizes of the unknowns: they differ by nine orders of magnitude.
            let scale = Matrix3::from_diagonal(&Vector3::new(u0, u0 * capacity, STORE.0));
            covariance = scale * (scale * normal * scale).try_inverse()? * scale;
            found = covariance * right;
            let misses: Vec<f64> = (rows.iter())
                .map(|(row, y, weight)| (weight / mean_weight).sqrt() * (y - row.dot(&found)))
                .collect();
            let inflation = variance_inflation(autocorrelation(&misses, 1).unwrap_or(0.0));
            let sum = misses.iter().map(|e| e * e).sum::<f64>() * inflation;
            let usual = USUAL_DF * USUAL_WINDOW_SD_K.powi(2);
            sd_k = ((sum + usual) / (n - 1.0 + USUAL_DF)).sqrt();
        }
        (found[0] > 0.0).then(|| Self {
            found,
            covariance,
            df: n - 1.0 + USUAL_DF,
            window_log_sd: sd_k / excess_k,
            window_s: input.windows.iter().map(|w| w.1 - w.0).sum::<usize>() as f64 * STEP_S / n,
            slow_c,
        })
    }
}
