//! Pooling of effects that may truly differ from group to group.
//!
//! Effects y_i with known variances v_i, `y_i = μ + u_i + e_i`, u_i of variance τ². Weights
//! `w_i = 1/(v_i + τ²)`, `μ = Σwy/Σw`, `se² = 1/Σw`.
//!
//! | figure | formula |
//! |---|---|
//! | Q | Σ (y - μ₀)²/v, μ₀ the mean at τ² = 0; χ² with k - 1 df if all are one |
//! | I² | max(0, 1 - (k - 1)/Q): share of the spread that is not the e_i |
//! | τ², DerSimonian-Laird | max(0, (Q - (k - 1)) / (Σ1/v - Σ(1/v²)/Σ(1/v))) |
//! | τ², REML | root of Σw²(y - μ)² - Σw + Σw²/Σw; 0 where that is negative at 0 |
//! | Hartung-Knapp | μ ± t(k - 1) se √h, h = max(1, Σw(y - μ)²/(k - 1)) |
//! | prediction | μ ± t(k - 1) √(h se² + τ²): where a further group would lie |
//!
//! h is held at 1 or more: groups that agree by luck would else make an interval narrower than
//! the v_i allow. Where the v_i share one estimated scatter with df degrees of freedom,
//! Q/(k - 1) is F with (k - 1, df) under one effect, exactly; χ² is the case of df without end.
//! Assumed: independent groups, normal u and e.
//!
//! DerSimonian & Laird 1986, Controlled Clinical Trials 7, 177; Viechtbauer 2005, Journal of
//! Educational and Behavioral Statistics 30, 261 (REML); Hartung & Knapp 2001, Statistics in
//! Medicine 20, 3875; Higgins & Thompson 2002, the same 21, 1539 (I²); Röver, Knapp & Friede 2015,
//! BMC Medical Research Methodology 15, 99 (h at 1 or more).

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor};

use super::student::{NORMAL_FACTOR, t_factor};
use super::{Estimate, root};

/// How the variance between groups is estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// By moments.
    DerSimonianLaird,
    /// By restricted maximum likelihood.
    Reml,
}

/// Effects pooled.
#[derive(Debug, Clone, PartialEq)]
pub struct Pooled {
    /// Number of groups.
    pub k: usize,
    /// μ.
    pub estimate: f64,
    /// Its standard error with τ² taken as known.
    pub standard_error: f64,
    /// Variance between groups.
    pub tau2: f64,
    /// Cochran's Q.
    pub q: f64,
    /// `Σw(y - μ)²/(k - 1)`.
    spread: f64,
}

/// Pools `effects` of known `variances`. `None`: fewer than two, not as many of each, or a
/// variance that is not above zero.
pub fn pool(effects: &[f64], variances: &[f64], between: Between) -> Option<Pooled> {
    let k = effects.len();
    let sound = k >= 2
        && variances.len() == k
        && effects.iter().all(|y| y.is_finite())
        && variances.iter().all(|v| *v > 0.0 && v.is_finite());
    if !sound {
        return None;
    }
    let fixed = Weighted::at(0.0, effects, variances);
    let tau2 = match between {
        Between::DerSimonianLaird => {
            let excess = fixed.squares - (k - 1) as f64;
            (excess / (fixed.sum - fixed.sum_of_squares / fixed.sum)).max(0.0)
        }
        Between::Reml => reml(effects, variances)?,
    };
    let w = Weighted::at(tau2, effects, variances);
    Some(Pooled {
        k,
        estimate: w.mean,
        standard_error: w.sum.recip().sqrt(),
        tau2,
        q: fixed.squares,
        spread: w.squares / (k - 1) as f64,
    })
}

struct Weighted {
    sum: f64,
    sum_of_squares: f64,
    mean: f64,
    /// `Σw(y - μ)²`.
    squares: f64,
    /// `Σw²(y - μ)²`.
    squares_twice_weighted: f64,
}

impl Weighted {
    fn at(tau2: f64, effects: &[f64], variances: &[f64]) -> Self {
        let weights: Vec<f64> = variances.iter().map(|v| 1.0 / (v + tau2)).collect();
        let sum: f64 = weights.iter().sum();
        let of = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
            weights.iter().zip(effects).map(|(w, y)| f(*w, *y)).sum()
        };
        let mean = of(&|w, y| w * y) / sum;
        Self {
            sum,
            sum_of_squares: of(&|w, _| w * w),
            mean,
            squares: of(&|w, y| w * (y - mean).powi(2)),
            squares_twice_weighted: of(&|w, y| w * w * (y - mean).powi(2)),
        }
    }
}

/// τ² at which the restricted likelihood has no slope.
fn reml(effects: &[f64], variances: &[f64]) -> Option<f64> {
    let slope = |tau2: f64| {
        let w = Weighted::at(tau2, effects, variances);
        w.squares_twice_weighted - w.sum + w.sum_of_squares / w.sum
    };
    if slope(0.0) <= 0.0 {
        return Some(0.0);
    }
    // At the sum of squares about the mean and beyond, the slope is negative.
    let mean = effects.iter().sum::<f64>() / effects.len() as f64;
    let top: f64 = effects.iter().map(|y| (y - mean).powi(2)).sum();
    root(slope, 0.0, 2.0 * top + variances.iter().sum::<f64>())
}

impl Pooled {
    /// Probability of a larger Q if all effects are one, the variances sharing one scatter of
    /// `df` degrees of freedom (infinite: known).
    pub fn q_p(&self, df: f64) -> Option<f64> {
        let between = (self.k - 1) as f64;
        if df.is_finite() {
            Some(FisherSnedecor::new(between, df).ok()?.sf(self.q / between))
        } else {
            Some(ChiSquared::new(between).ok()?.sf(self.q))
        }
    }

    /// Share of the spread of the effects, 0 to 1, that their own errors do not explain.
    pub fn i_squared(&self) -> f64 {
        if self.q > 0.0 {
            (1.0 - (self.k - 1) as f64 / self.q).max(0.0)
        } else {
            0.0
        }
    }

    /// μ with a normal interval, τ² taken as known: too narrow for few groups.
    pub fn normal(&self) -> Estimate {
        let half = NORMAL_FACTOR * self.standard_error;
        Estimate::symmetric(self.estimate, half, "random effects, normal")
    }

    /// μ with the interval of Hartung and Knapp.
    pub fn hartung_knapp(&self) -> Estimate {
        self.with_t(
            self.hartung_knapp_variance(),
            format!("random effects over {} groups, Hartung-Knapp", self.k),
        )
    }

    /// Where the effect of a further group would lie. Takes three groups.
    pub fn prediction(&self) -> Estimate {
        if self.k < 3 {
            return Estimate::unknown("a prediction takes three groups");
        }
        self.with_t(
            self.hartung_knapp_variance() + self.tau2,
            format!("prediction from {} groups, t", self.k),
        )
    }

    fn hartung_knapp_variance(&self) -> f64 {
        self.standard_error.powi(2) * self.spread.max(1.0)
    }

    fn with_t(&self, variance: f64, method: String) -> Estimate {
        match t_factor((self.k - 1) as f64) {
            Some(t) => Estimate::symmetric(self.estimate, t * variance.sqrt(), method),
            None => Estimate::unknown("no degrees of freedom"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Closed form: with one variance for all, both estimates of τ² are the sample variance of
    /// the effects less that variance.
    #[test]
    fn alike_groups_in_closed_form() {
        let effects = [1.0, 2.0, 4.0, 9.0];
        for between in [Between::DerSimonianLaird, Between::Reml] {
            let pooled = pool(&effects, &[0.5; 4], between).unwrap();
            assert!((pooled.estimate - 4.0).abs() < 1e-12);
            assert!(
                (pooled.tau2 - (38.0 / 3.0 - 0.5)).abs() < 1e-9,
                "{between:?}"
            );
        }
    }

    #[test]
    fn groups_that_agree_by_luck_narrow_nothing() {
        let pooled = pool(&[1.0, 1.001, 0.999], &[0.3; 3], Between::Reml).unwrap();
        assert_eq!((pooled.tau2, pooled.i_squared()), (0.0, 0.0));
        let half = pooled.hartung_knapp().known().unwrap().half_width();
        assert!((half - t_factor(2.0).unwrap() * 0.1_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn an_estimated_scatter_makes_a_milder_test() {
        let pooled = pool(&[0.0, 3.0], &[1.0, 1.0], Between::Reml).unwrap();
        // Q = 4.5: χ² with 1 df leaves 0.0339 (by the normal: 2 Φ(-√4.5)).
        assert!((pooled.q_p(f64::INFINITY).unwrap() - 0.033_894_853_5).abs() < 1e-8);
        assert!(pooled.q_p(4.0).unwrap() > 0.09);
        assert!(pool(&[1.0], &[1.0], Between::Reml).is_none());
        assert!(pool(&[1.0, 2.0], &[1.0, 0.0], Between::Reml).is_none());
    }

    proptest! {
        /// Effects moved move μ and leave all else; scaled, they scale all.
        #[test]
        fn pooling_moves_and_scales_with_the_effects(
            effects in prop::collection::vec(-2.0..2.0_f64, 2..8),
            c in -20.0..20.0_f64,
            scale in 0.1..10.0_f64,
        ) {
            let v: Vec<f64> = (1..=effects.len()).map(|i| 0.1 * i as f64).collect();
            let still = pool(&effects, &v, Between::Reml).unwrap();
            let y: Vec<f64> = effects.iter().map(|y| scale * (y + c)).collect();
            let v: Vec<f64> = v.iter().map(|v| scale * scale * v).collect();
            let moved = pool(&y, &v, Between::Reml).unwrap();
            prop_assert!((moved.estimate - scale * (still.estimate + c)).abs() < 1e-6);
            prop_assert!((moved.tau2 - scale * scale * still.tau2).abs() < 1e-6 * scale * scale);
            prop_assert!((moved.q - still.q).abs() < 1e-6 * (1.0 + still.q));
        }
    }
}
