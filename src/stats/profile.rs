//! The interval of one parameter of a least-squares fit by profiling.
//!
//! `τ(θ) = sign(θ - θ̂) sqrt((S(θ) - S(θ̂)) / s²)`: θ the parameter, θ̂ its estimate, S(θ) the sum of
//! squares with θ held and all others refitted, `s² = S(θ̂) / (n - p)`. The interval is where
//! `|τ| <= t`, Student's quantile on n - p degrees of freedom (Bates & Watts 1988, Nonlinear
//! Regression Analysis and Its Applications, section 6.1). τ² is the F statistic of the
//! hypothesis θ. Assumes independent normal errors of one variance; unlike `θ̂ ± t se` it does not
//! assume that the model is a straight line in θ, so its ends may lie unevenly, and one may not
//! exist: the data then do not bound the parameter on that side.

use super::least_squares::{Nonlinear, nonlinear};
use super::root::root;
use super::student::t_quantile;

/// The first step outward is a quarter of a standard error, and each is twice the one before: after
/// 32 of them the search is 10⁹ standard errors out.
const DOUBLINGS: usize = 32;

/// An interval by profiling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfileInterval {
    /// Lower end. `None`: the data do not bound the parameter below (τ stays above -t as far as 10⁹
    /// standard errors out), or the other parameters could not be refitted on the way.
    pub low: Option<f64>,
    /// Upper end, in the same way.
    pub high: Option<f64>,
}

/// The interval at `level` (0 to 1) of parameter `index` of `fit`, which [`nonlinear`] made from
/// the same `residuals`. `None`: the fit did not converge, has no degrees of freedom, or is not the
/// best (a better one was met on the way); or no such parameter or level.
pub fn profile_interval(
    residuals: impl Fn(&[f64]) -> Vec<f64>,
    fit: &Nonlinear,
    index: usize,
    level: f64,
) -> Option<ProfileInterval> {
    if !fit.converged || index >= fit.parameters.len() || !(level > 0.0 && level < 1.0) {
        return None;
    }
    let df = fit.residuals.len() - fit.parameters.len();
    let profile = Profile {
        residuals: &residuals,
        index,
        least: fit.residual_sum_of_squares(),
        variance: fit.residual_variance().filter(|&v| v > 0.0)?,
        quantile: t_quantile((1.0 + level) / 2.0, df as f64)?,
    };
    let step = fit.standard_error(index)? / 4.0;
    let best = fit.parameters.as_slice();
    Some(ProfileInterval {
        low: profile.end(best, -step).ok()?,
        high: profile.end(best, step).ok()?,
    })
}

struct Profile<'a, R> {
    residuals: &'a R,
    index: usize,
    least: f64,
    variance: f64,
    quantile: f64,
}

/// A sum of squares less than the least was met.
struct BetterFit;

/// The best fit with the parameter held.
struct Refit {
    parameters: Vec<f64>,
    sum_of_squares: f64,
    converged: bool,
}

impl<R: Fn(&[f64]) -> Vec<f64>> Profile<'_, R> {
    /// The end on the side of `step`.
    fn end(&self, best: &[f64], mut step: f64) -> Result<Option<f64>, BetterFit> {
        let mut inside = best.to_vec();
        for _ in 0..DOUBLINGS {
            let refit = self.refit(best[self.index] + step, &inside);
            if refit.sum_of_squares < self.least * (1.0 - 1e-6) {
                return Err(BetterFit);
            }
            let excess = self.excess(&refit);
            if excess.is_nan() {
                return Ok(None);
            }
            if excess > 0.0 {
                let at = |value| self.excess(&self.refit(value, &inside));
                let outside = refit.parameters[self.index];
                return Ok(root(at, inside[self.index], outside));
            }
            inside = refit.parameters;
            step *= 2.0;
        }
        Ok(None)
    }

    /// `|τ| - t`. Not a number where that is open: a refit that did not converge proves only that
    /// a value is inside, since the least sum of squares is no greater than the one it found.
    fn excess(&self, refit: &Refit) -> f64 {
        let more = (refit.sum_of_squares - self.least).max(0.0) / self.variance;
        let excess = more.sqrt() - self.quantile;
        if excess > 0.0 && !refit.converged {
            return f64::NAN;
        }
        excess
    }

    /// Refits all parameters but the one, which is held at `value`.
    fn refit(&self, value: f64, start: &[f64]) -> Refit {
        let with = |others: &[f64]| {
            let mut parameters = others.to_vec();
            parameters.insert(self.index, value);
            parameters
        };
        let mut others = start.to_vec();
        others.remove(self.index);
        if others.is_empty() {
            let residuals = (self.residuals)(&[value]);
            return Refit {
                parameters: vec![value],
                sum_of_squares: residuals.iter().map(|r| r * r).sum(),
                converged: true,
            };
        }
        let fit = nonlinear(|others| (self.residuals)(&with(others)), &others);
        Refit {
            parameters: with(fit.parameters.as_slice()),
            sum_of_squares: fit.residual_sum_of_squares(),
            converged: fit.converged,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TIME: [f64; 6] = [0.5, 1.0, 2.0, 3.0, 4.0, 6.0];

    /// Closed form: in a linear model the interval is `θ̂ ± t se`, whatever the other parameters.
    #[test]
    fn of_a_straight_line_it_is_the_usual_one() {
        let y = [1.2, 2.1, 3.7, 6.3, 7.9, 12.2];
        let residuals = |b: &[f64]| -> Vec<f64> {
            let rows = TIME.iter().zip(y);
            rows.map(|(t, y)| b[0] + b[1] * t - y).collect()
        };
        let fit = nonlinear(residuals, &[0.0, 1.0]);
        for i in 0..2 {
            let interval = profile_interval(residuals, &fit, i, 0.95).unwrap();
            let half = t_quantile(0.975, 4.0).unwrap() * fit.standard_error(i).unwrap();
            let (low, high) = (interval.low.unwrap(), interval.high.unwrap());
            assert!((low - (fit.parameters[i] - half)).abs() < 1e-7, "{low}");
            assert!((high - (fit.parameters[i] + half)).abs() < 1e-7, "{high}");
        }
    }

    /// Closed form: with one parameter there is nothing to refit, and a mean has `m ± t s/√n`.
    #[test]
    fn of_a_mean_it_is_the_usual_one() {
        let residuals = |b: &[f64]| [2.0, 4.0, 5.0, 1.0].map(|y| b[0] - y).to_vec();
        let fit = nonlinear(residuals, &[0.0]);
        let interval = profile_interval(residuals, &fit, 0, 0.9).unwrap();
        let half = t_quantile(0.95, 3.0).unwrap() * (10.0_f64 / 12.0).sqrt();
        assert!((interval.low.unwrap() - (3.0 - half)).abs() < 1e-8);
        assert!((interval.high.unwrap() - (3.0 + half)).abs() < 1e-8);
    }

    #[test]
    fn a_fit_that_is_not_the_best_or_not_there_has_no_interval() {
        // Minima at -1 (sum 2) and, better, near 2.
        let residuals = |b: &[f64]| vec![(b[0] + 1.0) * (b[0] - 2.0), 0.5 * (b[0] - 2.0), 0.3];
        let worse = nonlinear(residuals, &[-1.2]);
        assert!(worse.converged && worse.parameters[0] < 0.0);
        assert_eq!(profile_interval(residuals, &worse, 0, 0.95), None);
        let failed = nonlinear(|_| vec![f64::NAN, 1.0], &[1.0]);
        assert_eq!(profile_interval(|_| vec![1.0, 1.0], &failed, 0, 0.95), None);
        let best = nonlinear(residuals, &[2.5]);
        assert!(profile_interval(residuals, &best, 0, 0.95).is_some());
        assert_eq!(profile_interval(residuals, &best, 1, 0.95), None);
        assert_eq!(profile_interval(residuals, &best, 0, 1.0), None);
    }
}
