//! A share of cases with its interval (Clopper & Pearson 1934): the exact binomial one, never too
//! narrow.

use statrs::distribution::{Beta, ContinuousCDF};

use super::{Estimate, LEVEL};

/// `hits` of `cases`, 0 to 1. Without cases it is unknown.
pub fn share(hits: usize, cases: usize) -> Estimate {
    if cases == 0 {
        return Estimate::unknown("no case");
    }
    let (k, n) = (hits.min(cases) as f64, cases as f64);
    let tail = (1.0 - LEVEL) / 2.0;
    let end = |a: f64, b: f64, p: f64| Beta::new(a, b).map_or(f64::NAN, |d| d.inverse_cdf(p));
    let low = if k == 0.0 {
        0.0
    } else {
        end(k, n - k + 1.0, tail)
    };
    let high = if k == n {
        1.0
    } else {
        end(k + 1.0, n - k, 1.0 - tail)
    };
    Estimate::between(k / n, low, high, "binomial, exact (Clopper and Pearson)")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ends in closed form: with no hit the upper end is 1 - (α/2)^(1/n), by symmetry for all hits;
    /// in between they solve the binomial sums, here summed directly.
    #[test]
    fn the_ends_solve_the_binomial_sums() {
        let none = share(0, 20);
        let none = none.known().unwrap();
        assert_eq!(none.low, 0.0);
        assert!((none.high - (1.0 - 0.025_f64.powf(0.05))).abs() < 1e-9);
        let all = share(20, 20);
        assert!((all.known().unwrap().low - 0.025_f64.powf(0.05)).abs() < 1e-9);
        let some = share(4, 20);
        let some = some.known().unwrap();
        let at_most = |k: u32, p: f64| -> f64 {
            let mut ways = 1.0;
            let mut sum = 0.0;
            for i in 0..=k {
                sum += ways * p.powi(i as i32) * (1.0 - p).powi(20 - i as i32);
                ways *= f64::from(20 - i) / f64::from(i + 1);
            }
            sum
        };
        assert!((at_most(4, some.high) - 0.025).abs() < 1e-9);
        assert!((1.0 - at_most(3, some.low) - 0.025).abs() < 1e-9);
    }

    #[test]
    fn no_case_is_unknown() {
        assert!(share(0, 0).known().is_none());
    }
}
