//! Least squares, linear and not, with covariances.
//!
//! Linear: `y = X b + e`, `b = argmin |y - X b|²` by QR; covariance `s² (XᵀX)⁻¹` with
//! `s² = |y - X b|² / (n - p)`.
//!
//! Nonlinear: `b = argmin |r(b)|²` by Levenberg-Marquardt (MINPACK's, from the crate
//! `levenberg-marquardt`); Jacobian as given, or by central differences with a step of `ε^(1/3)` of the
//! parameter's size; covariance `s² (JᵀJ)⁻¹` at the minimum. A fit that did not converge is a
//! result with its termination reason, not an error.

use levenberg_marquardt::{
    LeastSquaresProblem, LevenbergMarquardt, MinimizationReport, TerminationReason,
};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};

/// A linear least-squares fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Linear {
    /// Coefficients, length p.
    pub coefficients: DVector<f64>,
    /// `(XᵀX)⁻¹`, p × p: multiply by a residual variance to have the covariance.
    pub unscaled_covariance: DMatrix<f64>,
    /// Sum of squared residuals.
    pub residual_sum_of_squares: f64,
    /// Degrees of freedom, n - p.
    pub degrees_of_freedom: usize,
}

impl Linear {
    /// Residual variance. `None` without degrees of freedom.
    pub fn residual_variance(&self) -> Option<f64> {
        (self.degrees_of_freedom > 0)
            .then(|| self.residual_sum_of_squares / self.degrees_of_freedom as f64)
    }

    /// Standard error of coefficient `i`. `None` without degrees of freedom.
    pub fn standard_error(&self, i: usize) -> Option<f64> {
        self.residual_variance()
            .map(|v| (v * self.unscaled_covariance[(i, i)]).sqrt())
    }
}

/// Solves `y = X b` for n × p `x` and n-long `y`. `None`: fewer rows than columns, or columns
/// that depend on each other (smallest singular value below 1e-12 of the largest).
pub fn linear(x: &DMatrix<f64>, y: &DVector<f64>) -> Option<Linear> {
    let (rows, columns) = x.shape();
    if rows < columns || columns == 0 || y.len() != rows {
        return None;
    }
    let scale = DVector::from_iterator(columns, x.column_iter().map(|c| c.norm()));
    if scale.iter().any(|&s| s == 0.0 || !s.is_finite()) {
        return None;
    }
    let mut scaled = x.clone();
    for (mut column, s) in scaled.column_iter_mut().zip(scale.iter()) {
        column /= *s;
    }
    let singular = scaled.singular_values();
    if singular.min() < 1e-12 * singular.max() {
        return None;
    }
    let qr = scaled.qr();
    let r_inverse = qr.r().try_inverse()?;
    let unscale = DMatrix::from_diagonal(&scale.map(|s| 1.0 / s));
    let coefficients = &unscale * (&r_inverse * (qr.q().transpose() * y));
    let half = &unscale * &r_inverse;
    Some(Linear {
        residual_sum_of_squares: (y - x * &coefficients).norm_squared(),
        unscaled_covariance: &half * half.transpose(),
        coefficients,
        degrees_of_freedom: rows - columns,
    })
}

/// A nonlinear least-squares fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Nonlinear {
    /// Parameters at the end.
    pub parameters: DVector<f64>,
    /// Residuals at the end.
    pub residuals: DVector<f64>,
    /// Jacobian of the residuals at the end, n × p.
    pub jacobian: DMatrix<f64>,
    /// `(JᵀJ)⁻¹`. `None`: singular, so the data leave some parameter free.
    pub unscaled_covariance: Option<DMatrix<f64>>,
    /// Whether a minimum was found. Where the sum of squares is flat along some direction there
    /// is none, though the search may end there.
    pub converged: bool,
    /// How the search ended, in words.
    pub termination: String,
}

impl Nonlinear {
    /// Sum of squared residuals.
    pub fn residual_sum_of_squares(&self) -> f64 {
        self.residuals.norm_squared()
    }

    /// Residual variance over n - p. `None` without degrees of freedom.
    pub fn residual_variance(&self) -> Option<f64> {
        let df = self
            .residuals
            .len()
            .checked_sub(self.parameters.len())
            .filter(|&df| df > 0)?;
        Some(self.residual_sum_of_squares() / df as f64)
    }

    /// Standard error of parameter `i`. `None` without degrees of freedom or when singular.
    pub fn standard_error(&self, i: usize) -> Option<f64> {
        Some((self.residual_variance()? * self.unscaled_covariance.as_ref()?[(i, i)]).sqrt())
    }
}

/// Minimises the sum of squares of `residuals` from `start`, with slopes by central differences. Residuals that are
/// not finite at the start, or where the search ends, are no fit; a step that leads to such is taken back.
pub fn nonlinear(residuals: impl Fn(&[f64]) -> Vec<f64>, start: &[f64]) -> Nonlinear {
    nonlinear_sloped(&residuals, |at| central_differences(&residuals, at), start)
}

/// The same where the slopes of the residuals are known: `jacobian` gives them, n × p.
pub fn nonlinear_sloped(
    residuals: impl Fn(&[f64]) -> Vec<f64>,
    jacobian: impl Fn(&[f64]) -> DMatrix<f64>,
    start: &[f64],
) -> Nonlinear {
    let begins = residuals(start).iter().all(|r| r.is_finite());
    let problem = Problem {
        residuals: &residuals,
        begins,
        jacobian: &jacobian,
        parameters: DVector::from_column_slice(start),
    };
    let (problem, report) = LevenbergMarquardt::new()
        .with_ftol(1e-14)
        .with_xtol(1e-14)
        .with_gtol(1e-14)
        .with_patience(500)
        .minimize(problem);
    let at_end = problem.at(&problem.parameters);
    let jacobian = jacobian(problem.parameters.as_slice());
    let unscaled_covariance = invert_scaled(&(jacobian.transpose() * &jacobian));
    let ended_well = converged(&report);
    let flat = unscaled_covariance.is_none();
    Nonlinear {
        converged: ended_well && !flat && at_end.iter().all(|r| r.is_finite()),
        termination: if ended_well && flat {
            format!(
                "ended where the data leave a parameter free, after {} evaluations",
                report.number_of_evaluations
            )
        } else {
            in_words(&report)
        },
        unscaled_covariance,
        parameters: problem.parameters.clone(),
        residuals: at_end,
        jacobian,
    }
}

/// A minimum was found, or nothing better can be found in this arithmetic (MINPACK's info 1 to 4
/// and 6 to 8).
fn converged(report: &MinimizationReport<f64>) -> bool {
    report.termination.was_successful()
        || matches!(
            report.termination,
            TerminationReason::NoImprovementPossible(_)
        )
}

fn in_words(report: &MinimizationReport<f64>) -> String {
    let how = match report.termination {
        TerminationReason::Converged { .. } | TerminationReason::Orthogonal => "converged",
        TerminationReason::ResidualsZero => "converged: nothing is left over",
        TerminationReason::NoImprovementPossible(_) => "converged as far as the arithmetic goes",
        TerminationReason::LostPatience => "gave up before it converged",
        TerminationReason::Numerical(_) | TerminationReason::User(_) => {
            "stopped at a residual that is no number"
        }
        TerminationReason::NoParameters
        | TerminationReason::NoResiduals
        | TerminationReason::WrongDimensions(_) => "not started: nothing to fit",
    };
    format!("{how} after {} evaluations", report.number_of_evaluations)
}

/// Inverse of a symmetric positive matrix, scaled to a unit diagonal first.
fn invert_scaled(information: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let scale = information.diagonal().map(|d| 1.0 / d.sqrt());
    if scale.iter().any(|s| !s.is_finite()) {
        return None;
    }
    let scale = DMatrix::from_diagonal(&scale);
    let inverse = (&scale * information * &scale).cholesky()?.inverse();
    Some(&scale * inverse * &scale)
}

/// Slopes of `residuals` by central differences, n × p.
pub fn central_differences(
    residuals: impl Fn(&[f64]) -> Vec<f64>,
    parameters: &[f64],
) -> DMatrix<f64> {
    let at = |parameters: &[f64]| DVector::from_vec(residuals(parameters));
    let columns: Vec<DVector<f64>> = (0..parameters.len())
        .map(|j| {
            let size = parameters[j].abs();
            let step = f64::EPSILON.cbrt() * if size > 0.0 { size } else { 1.0 };
            let mut shifted = parameters.to_vec();
            shifted[j] = parameters[j] + step;
            let above = at(&shifted);
            let up = shifted[j];
            shifted[j] = parameters[j] - step;
            let below = at(&shifted);
            (above - below) / (up - shifted[j])
        })
        .collect();
    DMatrix::from_columns(&columns)
}

/// What a residual that is no number counts as where the search began at numbers: a step there is taken back.
const FAR_OFF: f64 = 1e100;

struct Problem<'a, F, J> {
    residuals: &'a F,
    /// Whether all residuals at the start are numbers.
    begins: bool,
    jacobian: &'a J,
    parameters: DVector<f64>,
}

impl<F: Fn(&[f64]) -> Vec<f64>, J> Problem<'_, F, J> {
    fn at(&self, parameters: &DVector<f64>) -> DVector<f64> {
        DVector::from_vec((self.residuals)(parameters.as_slice()))
    }
}

impl<F, J> LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_, F, J>
where
    F: Fn(&[f64]) -> Vec<f64>,
    J: Fn(&[f64]) -> DMatrix<f64>,
{
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, parameters: &DVector<f64>) {
        self.parameters.copy_from(parameters);
    }

    fn params(&self) -> DVector<f64> {
        self.parameters.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let residuals = self.at(&self.parameters);
        let finite = residuals.iter().all(|r| r.is_finite());
        match (finite, self.begins) {
            (true, _) => Some(residuals),
            (false, true) => Some(residuals.map(|_| FAR_OFF)),
            (false, false) => None,
        }
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let jacobian = (self.jacobian)(self.parameters.as_slice());
        jacobian.iter().all(|r| r.is_finite()).then_some(jacobian)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_that_depend_on_each_other_are_refused() {
        let x = DMatrix::from_row_slice(3, 2, &[1.0, 2.0, 2.0, 4.0, 3.0, 6.0]);
        assert_eq!(linear(&x, &DVector::from_vec(vec![1.0, 2.0, 3.0])), None);
    }

    #[test]
    fn a_residual_that_is_no_number_is_not_converged() {
        let fit = nonlinear(|_| vec![f64::NAN, 1.0], &[1.0]);
        assert!(!fit.converged);
    }

    /// The first step leaves the numbers behind (`ln` of less than zero): it is taken back, and the fit is found.
    #[test]
    fn a_step_to_where_there_are_no_numbers_is_taken_back() {
        let fit = nonlinear(|b| vec![b[0].ln() + 5.0, 0.0], &[10.0]);
        assert!(fit.converged, "{}", fit.termination);
        assert!((fit.parameters[0] - (-5.0_f64).exp()).abs() < 1e-9);
    }

    #[test]
    fn a_parameter_the_data_leave_free_has_no_covariance() {
        let fit = nonlinear(|b| vec![b[0] - 1.0, 2.0 * b[0] - 2.0, 0.0], &[3.0, 5.0]);
        assert_eq!(fit.unscaled_covariance, None);
        assert!(!fit.converged, "{}", fit.termination);
        assert!(fit.termination.contains("parameter free"));
    }

    /// R's `BOD` (Bates & Watts 1988, A1.4), demand against time: A 19.1425739, rate 0.5310915,
    /// s 2.549032526 on 4 df.
    #[test]
    fn the_first_order_step_of_bates_and_watts() {
        let data = [
            (1.0, 8.3),
            (2.0, 10.3),
            (3.0, 19.0),
            (4.0, 16.0),
            (5.0, 15.6),
            (7.0, 19.8),
        ];
        let residuals = |p: &[f64]| -> Vec<f64> {
            data.iter()
                .map(|(t, y)| p[0] * (1.0 - (-p[1] * t).exp()) - y)
                .collect()
        };
        let fit = nonlinear(residuals, &[20.0, 0.3]);
        assert!((fit.parameters[0] - 19.142_573_944_9).abs() < 1e-4);
        assert!((fit.parameters[1] - 0.531_091_504_0).abs() < 1e-6);
        assert!((fit.residual_variance().unwrap().sqrt() - 2.549_032_526).abs() < 1e-6);
        assert!((fit.standard_error(0).unwrap() - 2.495_916_6).abs() < 1e-4);
    }
}
