//! Power of the t test, its size, and the smallest difference it can find.
//!
//! With d the difference over the standard deviation and c the critical value of Student's t,
//! the test statistic is noncentral t:
//!
//! | design | df | δ |
//! |---|---|---|
//! | two samples of n each | 2(n - 1) | d √(n/2) |
//! | n pairs; d over the deviation of the differences | n - 1 | d √n |
//!
//! `power = P(T > c)`, two-sided also `+ P(T < -c)`. Level of the test: 1 - [`LEVEL`]. Assumed:
//! normal errors, one scatter on both sides. n may be any real number of 2 or more; the size is
//! the root in n. Cohen 1988, Statistical Power Analysis, 2nd edition, chapter 2.

use super::noncentral_t::noncentral_t_cdf;
use super::student::t_quantile;
use super::{LEVEL, root};

/// How the values are arranged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Design {
    /// n values on each side.
    TwoSamples,
    /// n pairs.
    Pairs,
}

/// Which way a difference counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    /// Both ways.
    Two,
    /// Only upwards.
    One,
}

/// Most values a side that a size is looked for.
const MOST: f64 = 10_000.0;

/// A t test to be run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TPlan {
    /// How the values are arranged.
    pub design: Design,
    /// Which way a difference counts.
    pub sides: Sides,
}

impl TPlan {
    /// Probability to find a difference of `d` standard deviations with `n` a side, or `n` pairs.
    /// `None`: n below 2.
    pub fn power(self, n: f64, d: f64) -> Option<f64> {
        let (df, delta) = match self.design {
            Design::TwoSamples => (2.0 * (n - 1.0), d * (n / 2.0).sqrt()),
            Design::Pairs => (n - 1.0, d * n.sqrt()),
        };
        if n.is_nan() || n < 2.0 {
            return None;
        }
        let alpha = 1.0 - LEVEL;
        let found = match self.sides {
            Sides::One => 1.0 - noncentral_t_cdf(t_quantile(1.0 - alpha, df)?, df, delta),
            Sides::Two => {
                let critical = t_quantile(1.0 - alpha / 2.0, df)?;
                1.0 - noncentral_t_cdf(critical, df, delta) + noncentral_t_cdf(-critical, df, delta)
            }
        };
        found.is_finite().then_some(found)
    }

    /// The n, not rounded, at which a difference of `d` standard deviations is found with
    /// `power`; 2 where fewer would do. `None`: more than 10,000, or nonsense asked.
    pub fn size(self, d: f64, power: f64) -> Option<f64> {
        let sensible = d > 0.0 && power > 0.0 && power < 1.0;
        if !sensible {
            return None;
        }
        // A difference of a hundred deviations is found by any test.
        let short = |n: f64| self.power(n, d.min(100.0)).unwrap_or(f64::NAN) - power;
        if short(2.0) >= 0.0 {
            return Some(2.0);
        }
        let mut enough = 4.0;
        while short(enough) < 0.0 && enough < MOST {
            enough *= 2.0;
        }
        root(short, enough / 2.0, enough).filter(|n| *n <= MOST)
    }

    /// The difference, in standard deviations, that `n` a side or `n` pairs find with `power`.
    /// `None`: nonsense asked.
    pub fn smallest_difference(self, n: f64, power: f64) -> Option<f64> {
        root(|d| self.power(n, d).unwrap_or(f64::NAN) - power, 0.0, 100.0)
    }
}

/// Values on each side so that a difference `effect` between two samples of scatter `sd` is found
/// with `power`, two-sided at the level of every interval here. `None`: more than 10,000, or
/// nonsense asked.
pub fn sessions_needed(sd: f64, effect: f64, power: f64) -> Option<u32> {
    let plan = TPlan {
        design: Design::TwoSamples,
        sides: Sides::Two,
    };
    let sensible = sd >= 0.0 && effect > 0.0;
    sensible
        .then(|| plan.size(effect / sd, power))?
        .map(|n| n.ceil() as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TWO_SAMPLES: TPlan = TPlan {
        design: Design::TwoSamples,
        sides: Sides::Two,
    };

    #[test]
    fn no_difference_is_found_as_often_as_the_level_says() {
        for n in [2.0, 5.0, 60.0] {
            assert!((TWO_SAMPLES.power(n, 0.0).unwrap() - 0.05).abs() < 1e-9);
        }
    }

    #[test]
    fn size_and_smallest_difference_are_each_others_inverse() {
        for n in [3.0, 8.5, 40.0] {
            let d = TWO_SAMPLES.smallest_difference(n, 0.8).unwrap();
            assert!((TWO_SAMPLES.size(d, 0.8).unwrap() / n - 1.0).abs() < 1e-8);
        }
    }

    #[test]
    fn nonsense_and_the_absurd() {
        assert_eq!(sessions_needed(1.0, 0.0, 0.8), None);
        assert_eq!(sessions_needed(1.0, 1e-3, 0.8), None);
        assert_eq!(sessions_needed(0.0, 1.0, 0.8), Some(2));
        assert_eq!(TWO_SAMPLES.power(1.0, 1.0), None);
        assert_eq!(TWO_SAMPLES.smallest_difference(1.5, 0.8), None);
    }
}
