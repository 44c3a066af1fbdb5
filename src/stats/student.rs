//! Small samples: means, variances, Student factors.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::LEVEL;

/// Arithmetic mean. `NaN` for an empty slice.
pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Variance over n - 1. `None` for fewer than two values.
pub fn sample_variance(values: &[f64]) -> Option<f64> {
    let m = mean(values);
    (values.len() > 1)
        .then(|| values.iter().map(|v| (v - m).powi(2)).sum::<f64>() / (values.len() - 1) as f64)
}

/// Standard deviation over n - 1. `None` for fewer than two values.
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    sample_variance(values).map(f64::sqrt)
}

/// Factor on a standard error for a two-sided interval at [`LEVEL`] with `df` degrees of freedom.
/// `None` when `df` is not positive.
pub fn t_factor(df: f64) -> Option<f64> {
    t_quantile((1.0 + LEVEL) / 2.0, df)
}

pub(super) fn t_quantile(p: f64, df: f64) -> Option<f64> {
    // Beyond a million degrees of freedom the t distribution is the normal one to nine digits.
    StudentsT::new(0.0, 1.0, df.min(1e6))
        .ok()
        .map(|t| t.inverse_cdf(p))
}

/// Factor on a known standard deviation for a two-sided interval at [`LEVEL`].
pub const NORMAL_FACTOR: f64 = 1.959_963_984_540_054;

/// Degrees of freedom of a sum of independent variance terms, each `(variance, df)`; a term that
/// is known has infinite df (Satterthwaite 1946, Biometrics 2, 110).
pub fn satterthwaite_df(terms: &[(f64, f64)]) -> f64 {
    let total: f64 = terms.iter().map(|(v, _)| v).sum();
    let spread: f64 = terms.iter().map(|(v, df)| v * v / df).sum();
    if spread > 0.0 {
        total * total / spread
    } else {
        f64::INFINITY
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Student 1908, the `sleep` data as in R's help page of `t.test`: Welch's df
    /// 17.7764735161785 from the two group variances.
    #[test]
    fn welch_degrees_of_freedom_of_student_1908() {
        let a = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
        let b = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
        let terms = [a, b].map(|g| (sample_variance(&g).unwrap() / 10.0, 9.0));
        let df = satterthwaite_df(&terms);
        assert!((df - 17.776_473_516_178_5).abs() < 1e-9);
        let se = (terms[0].0 + terms[1].0).sqrt();
        let low = mean(&a) - mean(&b) - t_factor(df).unwrap() * se;
        assert!((low - -3.365_483_230_7).abs() < 1e-6, "{low}");
    }
}
