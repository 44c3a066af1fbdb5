//! Means over windows of hot running: a lap or so each, so that lags of sensors and whole degrees
//! average out.
//!
//! Windows follow each other: wind and traffic last, metal warms. What is linear in regressors with
//! a mean a window goes through [`crate::stats::curve`], correlation times from a fraction of a lap
//! to several laps weighed by the readings.

use super::prepare::{Prepared, STEP_S};
use crate::stats::curve::{Anchor, Candidate, Curve, Marginal, Posterior};
use crate::stats::mean;

/// Fewest windows from which scatter is told.
pub(super) const FEWEST: usize = 4;

/// How far two temperature sensors differ from each other, K (1 sd; common practice, no source). It
/// cancels between sessions of one car.
pub(super) const SENSORS_K: f64 = 0.6;

/// Correlation times weighed, s.
const CORRELATION_S: [f64; 4] = [20.0, 60.0, 180.0, 540.0];

/// The windows of a session's stints.
pub(super) struct LapMeans {
    windows: Vec<(usize, usize)>,
}

impl LapMeans {
    /// Windows in which every one of `channels` is read in four steps of five.
    pub fn of(session: &Prepared, channels: &[&[f64]]) -> Self {
        let read = |(a, b): (usize, usize)| {
            channels
                .iter()
                .all(|c| c[a..b].iter().filter(|v| !v.is_nan()).count() * 5 >= (b - a) * 4)
        };
        let windows = session
            .windows
            .all()
            .into_iter()
            .filter(|w| read(*w))
            .collect();
        Self { windows }
    }

    /// Number of windows.
    pub fn len(&self) -> usize {
        self.windows.len()
    }

    /// The mean of `values` in each window, readings only.
    pub fn means(&self, values: &[f64]) -> Vec<f64> {
        let one = |&(a, b): &(usize, usize)| {
            let read: Vec<f64> = values[a..b]
                .iter()
                .copied()
                .filter(|v| !v.is_nan())
                .collect();
            mean(&read)
        };
        self.windows.iter().map(one).collect()
    }

    /// Middle of each window, s.
    pub fn times_s(&self) -> Vec<f64> {
        let middle = |&(a, b): &(usize, usize)| f64::midpoint(a as f64, b as f64) * STEP_S;
        self.windows.iter().map(middle).collect()
    }
}

/// Values a window, linear in regressors.
pub(super) struct OverLaps<'a> {
    /// Middle of each window, s.
    pub times_s: &'a [f64],
    /// A value for each window.
    pub values: &'a [f64],
    /// Regressors, the constant included.
    pub regressors: Vec<Vec<f64>>,
    /// What is known of coefficients beforehand.
    pub anchors: Vec<Anchor>,
    /// Usual scatter of a window.
    pub usual_sd: f64,
}

impl OverLaps<'_> {
    /// What the windows say of the coefficients.
    pub fn posterior(self) -> Option<Posterior> {
        let all = (0..self.regressors.len()).collect();
        Curve {
            times_s: self.times_s,
            readings: self.values,
            columns: self.regressors,
            candidates: vec![Candidate {
                columns: all,
                log_prior: 0.0,
            }],
            anchors: self.anchors,
            usual_sd: self.usual_sd,
            correlation_s: &CORRELATION_S,
        }
        .posterior()
    }
}

/// Low, middle and high of `weights · coefficients`.
pub(super) fn interval(posterior: &Posterior, weights: &[f64]) -> [f64; 3] {
    posterior.quantiles(|n| Marginal::of(n, weights), [0.025, 0.5, 0.975])
}
