//! Covariance of least-squares coefficients whose residuals follow each other and differ in size.
//!
//! `V = (XᵀX)⁻¹ S (XᵀX)⁻¹` with
//! `S = Σ_t e_t² x_t x_tᵀ + Σ_{l=1..L} w_l Σ_t e_t e_{t-l} (x_t x_{t-l}ᵀ + x_{t-l} x_tᵀ)` and
//! Bartlett's weights `w_l = 1 - l / (L + 1)`: e residuals, x rows of X, L lags
//! (Newey & West 1987, Econometrica 55, 703). It assumes that the residuals' memory is shorter
//! than L and L much shorter than the record; with lags too few it is too small.

use nalgebra::{DMatrix, DVector};

/// Covariance of the coefficients, p × p, of a fit with n × p regressors `x` (of a nonlinear fit:
/// its Jacobian), n `residuals` in order of time and `unscaled_covariance` `(XᵀX)⁻¹`, over `lags`
/// lags. `small_sample_factor` multiplies it by n / (n - p). `None`: shapes that do not agree, as
/// many lags as rows, or no degrees of freedom left.
pub fn newey_west(
    x: &DMatrix<f64>,
    residuals: &DVector<f64>,
    unscaled_covariance: &DMatrix<f64>,
    lags: usize,
    small_sample_factor: bool,
) -> Option<DMatrix<f64>> {
    let (rows, columns) = x.shape();
    let agree = residuals.len() == rows && unscaled_covariance.shape() == (columns, columns);
    if !agree || lags >= rows || rows <= columns {
        return None;
    }
    let mut scores = x.clone();
    for (mut row, residual) in scores.row_iter_mut().zip(residuals.iter()) {
        row *= *residual;
    }
    let middle = long_run(&scores, lags);
    let factor = if small_sample_factor {
        rows as f64 / (rows - columns) as f64
    } else {
        1.0
    };
    Some(unscaled_covariance * middle * unscaled_covariance * factor)
}

/// `S`: long-run covariance of the sum of `scores` (rows in time) with Bartlett's weights over `lags`
/// lags, or as many as there are.
pub(super) fn long_run(scores: &DMatrix<f64>, lags: usize) -> DMatrix<f64> {
    let rows = scores.nrows();
    let mut sum = scores.tr_mul(scores);
    for lag in 1..=lags.min(rows.saturating_sub(1)) {
        let weight = 1.0 - lag as f64 / (lags + 1) as f64;
        let later = scores.rows(lag, rows - lag);
        let shared = later.tr_mul(&scores.rows(0, rows - lag));
        sum += (&shared + shared.transpose()) * weight;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::linear;

    /// By hand: the mean of n numbers, where `S` is `Σ e_t² + 2 Σ_l w_l Σ_t e_t e_{t-l}` and
    /// `(XᵀX)⁻¹` is 1/n. Residuals -1, 1, 2, -2: without lags 10/16, with one lag
    /// (10 + 2 · ½ · (-1 + 2 - 4))/16 = 7/16.
    #[test]
    fn the_mean_of_four_numbers_by_hand() {
        let x = DMatrix::from_element(4, 1, 1.0);
        let y = DVector::from_vec(vec![2.0, 4.0, 5.0, 1.0]);
        let fit = linear(&x, &y).unwrap();
        let e = &y - &x * &fit.coefficients;
        let variance = |lags, factor| {
            newey_west(&x, &e, &fit.unscaled_covariance, lags, factor).map(|v| v[(0, 0)])
        };
        assert!((variance(0, false).unwrap() - 10.0 / 16.0).abs() < 1e-12);
        assert!((variance(1, false).unwrap() - 7.0 / 16.0).abs() < 1e-12);
        assert!((variance(1, true).unwrap() - 7.0 / 12.0).abs() < 1e-12);
        assert_eq!(variance(4, false), None);
    }

    #[test]
    fn shapes_that_do_not_agree_are_refused() {
        let x = DMatrix::from_element(4, 1, 1.0);
        let half = DMatrix::from_element(1, 1, 0.25);
        assert_eq!(newey_west(&x, &DVector::zeros(3), &half, 1, false), None);
        let wide = DMatrix::zeros(2, 2);
        assert_eq!(newey_west(&x, &DVector::zeros(4), &wide, 1, false), None);
    }

    /// Scores that repeat each other carry less than their number says: the long-run covariance
    /// of a series repeated in pairs is twice that of independent ones (closed form with one
    /// lag at full weight; Bartlett gives half of it).
    #[test]
    fn scores_that_follow_each_other_widen() {
        let scores = DMatrix::from_fn(400, 1, |k, _| if (k / 2) % 2 == 0 { 1.0 } else { -1.0 });
        let independent = long_run(&scores, 0)[(0, 0)];
        assert_eq!(independent, 400.0);
        assert!((long_run(&scores, 1)[(0, 0)] - 401.0).abs() < 1e-9);
    }
}
