//! How much a series repeats itself, and what that does to intervals.
//!
//! Ljung-Box: `Q = n (n + 2) Σ_k r_k² / (n - k)`, χ² with the number of lags as degrees of
//! freedom under independence (Ljung & Box 1978, Biometrika 65, 297).

use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Autocorrelation of `series` at `lag`. `None`: too short, or constant.
pub fn autocorrelation(series: &[f64], lag: usize) -> Option<f64> {
    if series.len() <= lag + 1 {
        return None;
    }
    let mean = series.iter().sum::<f64>() / series.len() as f64;
    let spread: f64 = series.iter().map(|x| (x - mean).powi(2)).sum();
    let shared: f64 = series
        .windows(lag + 1)
        .map(|w| (w[0] - mean) * (w[lag] - mean))
        .sum();
    (spread > 0.0).then(|| shared / spread)
}

/// Result of a Ljung-Box test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LjungBox {
    /// Number of lags.
    pub lags: usize,
    /// The statistic.
    pub statistic: f64,
    /// Probability of a larger one in an independent series.
    pub p: f64,
}

/// Tests `series` for independence over the first `lags` lags. `None`: too short, or constant.
pub fn ljung_box(series: &[f64], lags: usize) -> Option<LjungBox> {
    let n = series.len() as f64;
    let mut sum = 0.0;
    for lag in 1..=lags {
        sum += autocorrelation(series, lag)?.powi(2) / (n - lag as f64);
    }
    let statistic = n * (n + 2.0) * sum;
    let p = ChiSquared::new(lags as f64).ok()?.sf(statistic);
    Some(LjungBox { lags, statistic, p })
}

/// By how much the variance of a mean grows when the series follows itself with first-order
/// autocorrelation `r1`: `(1 + r1) / (1 - r1)`, never below 1 (a negative r1 of a short series is
/// no reason to claim more), `r1` capped at 0.9.
pub fn variance_inflation(r1: f64) -> f64 {
    let r1 = r1.clamp(0.0, 0.9);
    (1.0 + r1) / (1.0 - r1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_walk_is_not_independent_and_alternation_neither() {
        let walk: Vec<f64> = (0..40).map(|i| f64::from(i / 10)).collect();
        assert!(ljung_box(&walk, 3).unwrap().p < 1e-6);
        assert!(ljung_box(&[1.0; 20], 3).is_none());
    }

    /// R 4.2: `Box.test(Nile, lag = 1, type = "Ljung-Box")` on the flow of the Nile is far beyond
    /// any usual level; here the small worked series 1..8 by hand: r1 = 0.625.
    #[test]
    fn first_lag_of_a_ramp_by_hand() {
        let ramp: Vec<f64> = (1..=8).map(f64::from).collect();
        assert!((autocorrelation(&ramp, 1).unwrap() - 0.625).abs() < 1e-12);
        let test = ljung_box(&ramp, 1).unwrap();
        assert!((test.statistic - 8.0 * 10.0 * 0.625 * 0.625 / 7.0).abs() < 1e-12);
    }

    #[test]
    fn inflation_never_narrows() {
        assert_eq!(variance_inflation(-0.5), 1.0);
        assert!((variance_inflation(0.5) - 3.0).abs() < 1e-12);
    }
}
