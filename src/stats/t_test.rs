//! Student's t for a mean and for the difference of two means.
//!
//! `t = d / se` with df degrees of freedom, interval `d ± t(df) se`:
//!
//! | test | d | se² | df |
//! |---|---|---|---|
//! | one sample | mean | s²/n | n - 1 |
//! | pooled | mean a - mean b | s²(1/n_a + 1/n_b), s² = Σ(n - 1)s² / Σ(n - 1) | n_a + n_b - 2 |
//! | Welch | mean a - mean b | s_a²/n_a + s_b²/n_b | by Satterthwaite |
//!
//! The paired test is the one-sample test on the differences. Assumed: values independent of each
//! other, errors normal; pooled besides: both sides scatter alike.
//!
//! Equivalence by two one-sided tests (TOST): `p = max(P(T > (d - low)/se), P(T > (high - d)/se))`
//! against `d <= low` or `d >= high`. It falls below α exactly where the interval at level 1 - 2α
//! lies inside (low, high).
//!
//! Student 1908, Biometrika 6, 1; Welch 1947, Biometrika 34, 28; Schuirmann 1987, Journal of
//! Pharmacokinetics and Biopharmaceutics 15, 657.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::student::{mean, sample_variance, satterthwaite_df, t_quantile};
use super::{Estimate, LEVEL};

/// Size, mean and standard deviation of a sample of two values or more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// Number of values.
    pub n: f64,
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation, over n - 1.
    pub sd: f64,
}

impl Summary {
    /// Of a sample. The error says what is missing.
    pub fn of(values: &[f64]) -> Result<Self, String> {
        let variance = sample_variance(values)
            .ok_or_else(|| format!("{} where the test needs two values or more", values.len()))?;
        Ok(Self {
            n: values.len() as f64,
            mean: mean(values),
            sd: variance.sqrt(),
        })
    }
}

/// A mean, or a difference of means, with its standard error.
#[derive(Debug, Clone, PartialEq)]
pub struct TTest {
    /// The mean, or the difference of means.
    pub difference: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Degrees of freedom of that.
    pub df: f64,
    name: &'static str,
}

/// The mean of one sample.
pub fn one_sample(values: &[f64]) -> Result<TTest, String> {
    let s = Summary::of(values)?;
    TTest::new(s.mean, s.sd * s.sd / s.n, s.n - 1.0, "Student's t")
}

/// `a` minus `b`, pair by pair.
pub fn paired(a: &[f64], b: &[f64]) -> Result<TTest, String> {
    if a.len() != b.len() {
        return Err(format!(
            "{} values cannot be paired with {}",
            a.len(),
            b.len()
        ));
    }
    let differences: Vec<f64> = a.iter().zip(b).map(|(a, b)| a - b).collect();
    Ok(TTest {
        name: "paired t",
        ..one_sample(&differences)?
    })
}

/// `a` minus `b`, each side with its own scatter.
pub fn welch(a: Summary, b: Summary) -> Result<TTest, String> {
    let [va, vb] = [a, b].map(|s| s.sd * s.sd / s.n);
    let df = satterthwaite_df(&[(va, a.n - 1.0), (vb, b.n - 1.0)]);
    TTest::new(a.mean - b.mean, va + vb, df, "Welch's t")
}

/// `a` minus `b`, both sides with one scatter.
pub fn pooled(a: Summary, b: Summary) -> Result<TTest, String> {
    let df = a.n + b.n - 2.0;
    let squares = [a, b].map(|s| (s.n - 1.0) * s.sd * s.sd);
    let variance = (squares[0] + squares[1]) / df * (1.0 / a.n + 1.0 / b.n);
    TTest::new(a.mean - b.mean, variance, df, "pooled t")
}

impl TTest {
    fn new(difference: f64, variance: f64, df: f64, name: &'static str) -> Result<Self, String> {
        if !(difference.is_finite() && variance.is_finite()) {
            return Err("a value is no number".to_owned());
        }
        if variance <= 0.0 {
            return Err("the values do not scatter at all".to_owned());
        }
        Ok(Self {
            difference,
            standard_error: variance.sqrt(),
            df,
            name,
        })
    }

    /// Difference over standard error.
    pub fn t(&self) -> f64 {
        self.difference / self.standard_error
    }

    /// Probability of a larger |t| if there is no difference.
    pub fn p(&self) -> Option<f64> {
        Some(2.0 * self.beyond(self.t().abs())?)
    }

    /// The ends of the two-sided interval at `level`.
    pub fn ends(&self, level: f64) -> Option<(f64, f64)> {
        let half = t_quantile((1.0 + level) / 2.0, self.df)? * self.standard_error;
        Some((self.difference - half, self.difference + half))
    }

    /// The difference with its interval.
    pub fn estimate(&self) -> Estimate {
        match self.ends(LEVEL) {
            Some((low, high)) => {
                let method = format!("{}, {:.1} df", self.name, self.df);
                Estimate::between(self.difference, low, high, method)
            }
            None => Estimate::unknown("no degrees of freedom"),
        }
    }

    /// Probability of a difference so far inside if the true one lies outside `(low, high)`, by
    /// two one-sided tests.
    pub fn equivalence_p(&self, low: f64, high: f64) -> Option<f64> {
        let over_low = self.beyond((self.difference - low) / self.standard_error)?;
        let under_high = self.beyond((high - self.difference) / self.standard_error)?;
        Some(over_low.max(under_high))
    }

    /// Probability of a larger t than this one.
    fn beyond(&self, t: f64) -> Option<f64> {
        Some(StudentsT::new(0.0, 1.0, self.df).ok()?.sf(t))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn of(values: &[f64]) -> Summary {
        Summary::of(values).unwrap()
    }

    #[test]
    fn what_cannot_be_tested_says_why() {
        assert!(Summary::of(&[1.0]).unwrap_err().contains("two values"));
        assert!(one_sample(&[2.0, 2.0]).unwrap_err().contains("scatter"));
        assert!(paired(&[1.0], &[1.0, 2.0]).unwrap_err().contains("paired"));
    }

    proptest! {
        /// Closed form: at equal sizes the standard errors are the same, and Welch's df lie
        /// between n - 1 and 2n - 2.
        #[test]
        fn welch_is_pooled_at_equal_sizes(
            pairs in prop::collection::vec((-9.0..9.0_f64, -3.0..5.0_f64), 2..12)
        ) {
            let (a, b): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
            let (w, p) = (welch(of(&a), of(&b)).unwrap(), pooled(of(&a), of(&b)).unwrap());
            prop_assert!((w.standard_error / p.standard_error - 1.0).abs() < 1e-12);
            let n = a.len() as f64;
            prop_assert!(w.df >= n - 1.0 - 1e-9 && w.df <= p.df + 1e-9);
        }

        /// What the interval at 90 % says, two one-sided tests at 5 % say.
        #[test]
        fn tost_is_the_narrower_interval_inside(
            a in prop::collection::vec(-1.0..1.0_f64, 3..9),
            b in prop::collection::vec(-1.0..1.0_f64, 3..9),
            margin in 0.05..2.0_f64,
        ) {
            let test = welch(of(&a), of(&b)).unwrap();
            let (low, high) = test.ends(0.90).unwrap();
            let inside = -margin < low && high < margin;
            prop_assert_eq!(test.equivalence_p(-margin, margin).unwrap() < 0.05, inside);
        }

        /// A sample shifted shifts its interval and keeps its width.
        #[test]
        fn intervals_move_with_the_sample(
            a in prop::collection::vec(-1.0..1.0_f64, 3..9),
            shift in -50.0..50.0_f64,
        ) {
            let moved: Vec<f64> = a.iter().map(|v| v + shift).collect();
            let (still, moved) = (one_sample(&a).unwrap(), one_sample(&moved).unwrap());
            let ((low, high), (l, h)) = (still.ends(0.95).unwrap(), moved.ends(0.95).unwrap());
            prop_assert!((l - low - shift).abs() < 1e-9 && (h - high - shift).abs() < 1e-9);
        }
    }
}
