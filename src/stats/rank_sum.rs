//! Rank-sum test of two samples, and the Hodges-Lehmann shift.
//!
//! U = number of pairs (x, y) with x > y, a tie counting half = rank sum of x - m(m + 1)/2, for m
//! values of x and n of y. Exact null distribution: all choices of m ranks of the m + n are alike
//! likely; counted, with midranks where values are tied (exact given the ties). Above 50 values a
//! side: normal with mean mn/2, variance mn/12 (N + 1 - Σ(t³ - t)/(N(N - 1))), N = m + n, t the
//! sizes of ties, and continuity correction.
//!
//! Shift: median of the mn differences x - y. Interval: the test without ties turned round, from
//! the q-th smallest difference to the q-th largest. The widest one covers 1 - 2/C(m + n, m): with
//! 3 and 3 that is 90 %, and there is no 95 % interval. Assumed: both samples have one shape, and
//! values are independent.
//!
//! Mann & Whitney 1947, Annals of Mathematical Statistics 18, 50; Hodges & Lehmann 1963, the same
//! 34, 598; Hollander & Wolfe 1973, Nonparametric Statistical Methods, chapter 4.

use super::Estimate;
use super::rank::{Null, RankP, doubled_midranks, order_interval};
use super::student::NORMAL_FACTOR;

/// Most values a side that are counted exactly.
const EXACT: usize = 50;

/// Two samples by ranks.
#[derive(Debug, Clone, PartialEq)]
pub struct RankSum {
    /// Pairs in which x is the larger, ties half.
    pub u: f64,
    /// Probabilities of U if nothing differs.
    pub p: RankP,
    /// Shift of x against y.
    pub shift: Estimate,
}

/// x against y. `None`: one of them is empty, or holds what is no number.
pub fn rank_sum(x: &[f64], y: &[f64]) -> Option<RankSum> {
    let all: Vec<f64> = x.iter().chain(y).copied().collect();
    if x.is_empty() || y.is_empty() || all.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let (m, n) = (x.len(), y.len());
    let ranks = doubled_midranks(&all);
    let doubled: usize = ranks[..m].iter().sum();
    let u = (doubled - m * (m + 1)) as f64 / 2.0;
    let mut differences: Vec<f64> = x
        .iter()
        .flat_map(|a| y.iter().map(move |b| a - b))
        .collect();
    differences.sort_by(f64::total_cmp);
    let (p, shift) = if m.max(n) <= EXACT {
        let p = RankP::exact(&Null::of_choices(&ranks, m), doubled);
        (p, exact_shift(&differences, m, n))
    } else {
        let p = RankP::approximate(u, (m * n) as f64 / 2.0, variance(&all, m, n));
        (p, approximate_shift(&differences, m, n))
    };
    Some(RankSum { u, p, shift })
}

fn exact_shift(differences: &[f64], m: usize, n: usize) -> Estimate {
    let untied: Vec<usize> = (1..=m + n).map(|rank| 2 * rank).collect();
    let null = Null::of_choices(&untied, m);
    let tail = |u: usize| null.up_to(2 * u + m * (m + 1));
    order_interval(differences, tail, "exact rank sum", |widest| {
        format!(
            "{m} and {n} values: no exact interval covers more than {:.0} %",
            (100.0 * widest).max(0.0).floor()
        )
    })
}

/// The tail by the normal distribution, turned round: q = mn/2 - z sd, rounded down.
fn approximate_shift(differences: &[f64], m: usize, n: usize) -> Estimate {
    let pairs = (m * n) as f64;
    let sd = (pairs * (m + n + 1) as f64 / 12.0).sqrt();
    let q = (pairs / 2.0 - NORMAL_FACTOR * sd).floor();
    if q < 1.0 {
        return Estimate::unknown("one side has too few values for an interval");
    }
    let q = q as usize;
    Estimate::between(
        super::rank::median(differences),
        differences[q - 1],
        differences[differences.len() - q],
        "rank sum, normal approximation",
    )
}

fn variance(all: &[f64], m: usize, n: usize) -> f64 {
    let total = (m + n) as f64;
    // Each of a tie of t adds t² - 1: together t³ - t.
    let ties: f64 = all
        .iter()
        .map(|v| (all.iter().filter(|w| *w == v).count() as f64).powi(2) - 1.0)
        .sum();
    (m * n) as f64 / 12.0 * (total + 1.0 - ties / (total * (total - 1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn three_and_three_have_no_interval_at_95_percent() {
        let test = rank_sum(&[4.0, 5.0, 6.0], &[1.0, 2.0, 3.0]).unwrap();
        assert!(test.shift.why().unwrap().contains("more than 90 %"));
        assert!((test.p.two_sided() - 0.1).abs() < 1e-12);
        let four = rank_sum(&[4.0, 5.0, 6.0, 7.0], &[0.0, 1.0, 2.0, 3.0]).unwrap();
        let interval = four.shift.known().unwrap();
        assert_eq!((interval.low, interval.high), (1.0, 7.0));
        // 1 - 2/C(8, 4) = 97.1 %.
        assert!(
            interval.method.contains("covers 97.1 %"),
            "{}",
            interval.method
        );
    }

    /// All values alike: every choice gives the same rank sum.
    #[test]
    fn all_tied_says_nothing() {
        let test = rank_sum(&[1.0; 4], &[1.0; 5]).unwrap();
        assert_eq!((test.u, test.p.two_sided()), (10.0, 1.0));
    }

    /// Where both can be had, the approximation is near the count.
    #[test]
    fn the_approximation_meets_the_count() {
        let x: Vec<f64> = (0..50).map(|i| f64::from(i * i % 97)).collect();
        let y: Vec<f64> = (0..50).map(|i| f64::from(i * 7 % 61) + 3.25).collect();
        let all: Vec<f64> = x.iter().chain(&y).copied().collect();
        let exact = rank_sum(&x, &y).unwrap();
        let near = RankP::approximate(exact.u, 1250.0, variance(&all, 50, 50));
        assert!((near.two_sided() - exact.p.two_sided()).abs() < 0.002);
        let mut differences: Vec<f64> = x
            .iter()
            .flat_map(|a| y.iter().map(move |b| a - b))
            .collect();
        differences.sort_by(f64::total_cmp);
        let approximate = approximate_shift(&differences, 50, 50);
        let (a, e) = (approximate.known().unwrap(), exact.shift.known().unwrap());
        assert!((a.low - e.low).abs() < 1.0 && (a.high - e.high).abs() < 1.0);
        let long = vec![1.0; 51];
        assert!(
            rank_sum(&long, &y)
                .unwrap()
                .shift
                .known()
                .unwrap()
                .method
                .contains("normal")
        );
    }

    proptest! {
        /// x moved by c moves the shift and both ends by c; x and y swapped turns all round.
        #[test]
        fn shift_follows_the_sample(
            x in prop::collection::vec(-5.0..5.0_f64, 4..8),
            y in prop::collection::vec(-5.0..5.0_f64, 4..8),
            c in -30.0..30.0_f64,
        ) {
            let still = rank_sum(&x, &y).unwrap();
            let moved: Vec<f64> = x.iter().map(|v| v + c).collect();
            let moved = rank_sum(&moved, &y).unwrap().shift;
            let (a, b) = (still.shift.known().unwrap(), moved.known().unwrap());
            prop_assert!((b.estimate - a.estimate - c).abs() < 1e-9);
            prop_assert!((b.low - a.low - c).abs() < 1e-9);
            prop_assert!((b.high - a.high - c).abs() < 1e-9);
            let back = rank_sum(&y, &x).unwrap();
            prop_assert!((back.shift.point().unwrap() + a.estimate).abs() < 1e-9);
            prop_assert!((back.p.less - still.p.greater).abs() < 1e-12);
            prop_assert_eq!(back.u + still.u, (x.len() * y.len()) as f64);
        }

        /// The interval is the test turned round: zero is outside where the exact test rejects.
        #[test]
        fn interval_and_test_agree(
            x in prop::collection::vec(-2.0..4.0_f64, 4..8),
            y in prop::collection::vec(-2.0..2.0_f64, 4..8),
        ) {
            let test = rank_sum(&x, &y).unwrap();
            let holds_zero = test.shift.known().unwrap().contains(0.0);
            prop_assert_eq!(holds_zero, test.p.two_sided() > 0.05);
        }
    }
}
