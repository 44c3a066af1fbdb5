//! Means over windows of hot running: a lap or so each, so that lags of sensors and whole degrees
//! average out.

use super::prepare::Prepared;
use super::windows::split;
use crate::stats::{autocorrelation, mean, standard_deviation, t_factor, variance_inflation};

/// The windows of a session's stints.
pub(super) struct LapMeans {
    windows: Vec<(usize, usize)>,
}

/// A mean over windows with the half-width of its interval from their scatter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scattered {
    pub mean: f64,
    /// Infinite with a single window.
    pub half_width: f64,
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
            .drive
            .stints
            .iter()
            .flat_map(|s| split(*s, &session.speed_kmh))
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
}

/// By how much the variance of a mean grows because windows follow each other. In a short series
/// the autocorrelation comes out low by about `(1 + 3 r) / n` (Marriott & Pope 1954, Biometrika 41,
/// 390; Kendall 1954, the same, 403; both from memory): that is given back.
pub(super) fn inflation(values: &[f64]) -> f64 {
    let r1 = autocorrelation(values, 1).unwrap_or(0.0);
    variance_inflation(r1 + (1.0 + 3.0 * r1) / values.len() as f64)
}

/// Mean of a value a window; half-width by t, inflated for windows that follow each other.
pub(super) fn scattered(values: &[f64]) -> Scattered {
    let n = values.len() as f64;
    let inflation = inflation(values);
    let half_width = standard_deviation(values)
        .zip(t_factor((n / inflation - 1.0).max(1.0)))
        .map_or(f64::INFINITY, |(sd, t)| t * sd * (inflation / n).sqrt());
    Scattered {
        mean: mean(values),
        half_width,
    }
}
