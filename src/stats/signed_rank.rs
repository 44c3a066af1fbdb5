//! Signed-rank test of one sample (or of pairs, by their differences), and the pseudo-median.
//!
//! V = sum of the ranks of |x| over positive x, values of zero left out. Exact null distribution:
//! every rank is in or out with even odds; counted, with midranks where |x| are tied (exact given
//! the ties). Above 50 values: normal with mean n(n + 1)/4, variance n(n + 1)(2n + 1)/24 -
//! Σ(t³ - t)/48, t the sizes of ties, and continuity correction.
//!
//! Pseudo-median: median of the n(n + 1)/2 Walsh averages `(x_i + x_j)/2`, i <= j, zeros in.
//! Interval: the test without ties turned round, from the q-th smallest average to the q-th
//! largest. The widest one covers 1 - 2^(1 - n): a 95 % interval takes 6 values. Assumed: a
//! distribution symmetric about its middle, and independent values.
//!
//! Wilcoxon 1945, Biometrics Bulletin 1, 80; Tukey 1949 for the interval, as in Hollander & Wolfe
//! 1973, Nonparametric Statistical Methods, chapter 3.

use super::Estimate;
use super::rank::{Null, RankP, doubled_midranks, median, order_interval};
use super::student::NORMAL_FACTOR;

/// Most values that are counted exactly.
const EXACT: usize = 50;

/// One sample by signed ranks.
#[derive(Debug, Clone, PartialEq)]
pub struct SignedRank {
    /// Sum of the ranks of the positive values.
    pub v: f64,
    /// Probabilities of V if the middle is zero.
    pub p: RankP,
    /// The middle.
    pub pseudo_median: Estimate,
}

/// The middle of `values` against zero. `None`: there are none, or one is no number.
pub fn signed_rank(values: &[f64]) -> Option<SignedRank> {
    if values.is_empty() || values.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let nonzero: Vec<f64> = values.iter().copied().filter(|v| *v != 0.0).collect();
    let sizes: Vec<f64> = nonzero.iter().map(|v| v.abs()).collect();
    let ranks = doubled_midranks(&sizes);
    let doubled: usize = (0..ranks.len())
        .filter(|&i| nonzero[i] > 0.0)
        .map(|i| ranks[i])
        .sum();
    let v = doubled as f64 / 2.0;
    let p = if nonzero.len() <= EXACT {
        RankP::exact(&Null::of_signs(&ranks), doubled)
    } else {
        let (mean, variance) = moments(&sizes);
        RankP::approximate(v, mean, variance)
    };
    Some(SignedRank {
        v,
        p,
        pseudo_median: pseudo_median(values),
    })
}

fn pseudo_median(values: &[f64]) -> Estimate {
    let n = values.len();
    let mut walsh: Vec<f64> = (0..n)
        .flat_map(|i| (i..n).map(move |j| f64::midpoint(values[i], values[j])))
        .collect();
    walsh.sort_by(f64::total_cmp);
    if n > EXACT {
        let (mean, variance) = untied_moments(n as f64);
        let q = (mean - NORMAL_FACTOR * variance.sqrt()).floor() as usize;
        let (low, high) = (walsh[q - 1], walsh[walsh.len() - q]);
        return Estimate::between(
            median(&walsh),
            low,
            high,
            "signed rank, normal approximation",
        );
    }
    let untied: Vec<usize> = (1..=n).map(|rank| 2 * rank).collect();
    let null = Null::of_signs(&untied);
    let tail = |v: usize| null.up_to(2 * v);
    order_interval(&walsh, tail, "exact signed rank", |widest| {
        format!(
            "{n} values: no exact interval covers more than {:.0} %",
            (100.0 * widest).max(0.0).floor()
        )
    })
}

fn untied_moments(n: f64) -> (f64, f64) {
    (n * (n + 1.0) / 4.0, n * (n + 1.0) * (2.0 * n + 1.0) / 24.0)
}

fn moments(sizes: &[f64]) -> (f64, f64) {
    let (mean, variance) = untied_moments(sizes.len() as f64);
    // Each of a tie of t adds t² - 1: together t³ - t.
    let ties: f64 = sizes
        .iter()
        .map(|v| (sizes.iter().filter(|w| *w == v).count() as f64).powi(2) - 1.0)
        .sum();
    (mean, variance - ties / 48.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn five_values_have_no_interval_and_six_have() {
        let five = signed_rank(&[1.0, 2.0, 3.0, 4.0, 5.0]).unwrap();
        assert!(five.pseudo_median.why().unwrap().contains("more than 93 %"));
        let six = signed_rank(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]).unwrap();
        let interval = six.pseudo_median.known().unwrap();
        assert_eq!(
            (interval.low, interval.estimate, interval.high),
            (1.0, 3.5, 6.0)
        );
        assert!((six.p.two_sided() - 2.0 / 64.0).abs() < 1e-15);
    }

    #[test]
    fn zeros_say_nothing() {
        assert_eq!(signed_rank(&[0.0, 0.0]).unwrap().p.two_sided(), 1.0);
        assert_eq!(signed_rank(&[]), None);
    }

    #[test]
    fn the_approximation_meets_the_count() {
        let values: Vec<f64> = (0..50).map(|i| f64::from(i * 37 % 50) - 20.3).collect();
        let exact = signed_rank(&values).unwrap();
        let sizes: Vec<f64> = values.iter().map(|v| v.abs()).collect();
        let (mean, variance) = moments(&sizes);
        let near = RankP::approximate(exact.v, mean, variance);
        assert!((near.two_sided() - exact.p.two_sided()).abs() < 0.002);
        let more: Vec<f64> = (0..51).map(|i| f64::from(i * 37 % 51) - 20.3).collect();
        let middle = signed_rank(&more).unwrap().pseudo_median;
        let (a, e) = (
            middle.known().unwrap(),
            exact.pseudo_median.known().unwrap(),
        );
        assert!((a.low - e.low).abs() < 1.5 && (a.high - e.high).abs() < 1.5);
    }

    proptest! {
        #[test]
        fn the_pseudo_median_follows_the_sample(
            values in prop::collection::vec(-5.0..5.0_f64, 6..12),
            c in -30.0..30.0_f64,
        ) {
            let still = signed_rank(&values).unwrap();
            let moved: Vec<f64> = values.iter().map(|v| v + c).collect();
            let moved = signed_rank(&moved).unwrap().pseudo_median;
            let (a, b) = (still.pseudo_median.known().unwrap(), moved.known().unwrap());
            prop_assert!((b.estimate - a.estimate - c).abs() < 1e-9);
            prop_assert!((b.low - a.low - c).abs() < 1e-9 && (b.high - a.high - c).abs() < 1e-9);
            prop_assert_eq!(a.contains(0.0), still.p.two_sided() > 0.05);
        }
    }
}
