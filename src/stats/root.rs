//! A root between two points of opposite sign, by Ridders' method.
//!
//! With `m` the middle of `a` and `b`, the next point is
//! `m + (m - a) sign(f(a) - f(b)) f(m) / sqrt(f(m)² - f(a) f(b))`, which lies between them; the
//! bracket at least halves each time (Ridders 1979, IEEE Transactions on Circuits and Systems 26,
//! 979).

/// The root of `f` between `low` and `high`, to the last few digits. `None`: no change of sign, or
/// `f` is no number at some point on the way.
pub fn root(f: impl FnMut(f64) -> f64, low: f64, high: f64) -> Option<f64> {
    root_within(0.0, f, low, high)
}

/// The same for an `f` that takes long: done where two points tried after one another lie within
/// `apart`.
pub fn root_within(apart: f64, mut f: impl FnMut(f64) -> f64, low: f64, high: f64) -> Option<f64> {
    let (mut a, mut b) = (low, high);
    let mut last = f64::NAN;
    let (mut at_a, mut at_b) = (f(a), f(b));
    loop {
        if at_a == 0.0 {
            return Some(a);
        }
        if at_b == 0.0 {
            return Some(b);
        }
        let middle = a + (b - a) / 2.0;
        let narrow = (b - a).abs() <= 4.0 * f64::EPSILON * middle.abs();
        let opposite = (at_a < 0.0 && at_b > 0.0) || (at_a > 0.0 && at_b < 0.0);
        if narrow || !opposite {
            return opposite.then_some(middle);
        }
        let at_middle = f(middle);
        let next = middle
            + (middle - a) * (at_a - at_b).signum() * at_middle
                / (at_middle * at_middle - at_a * at_b).sqrt();
        if (next - last).abs() < apart {
            return Some(next);
        }
        last = next;
        let at_next = f(next);
        if at_next.is_nan() {
            return None;
        }
        // The narrowest of the three pieces that still holds the change of sign.
        let mut points = [(a, at_a), (b, at_b), (middle, at_middle), (next, at_next)];
        points.sort_by(|x, y| x.0.total_cmp(&y.0));
        let piece = points
            .windows(2)
            .find(|w| w[0].1 == 0.0 || w[1].1 == 0.0 || (w[0].1 < 0.0) != (w[1].1 < 0.0))?;
        if piece[0].0 == a.min(b) && piece[1].0 == a.max(b) {
            return Some(middle);
        }
        ((a, at_a), (b, at_b)) = (piece[0], piece[1]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms: the square root of 2, and ln 3 from either side.
    #[test]
    fn roots_in_closed_form() {
        let two = root(|x| x * x - 2.0, 0.0, 1e6).unwrap();
        assert!((two - 2.0_f64.sqrt()).abs() < 1e-14, "{two}");
        for (low, high) in [(0.0, 50.0), (50.0, 0.0)] {
            let three = root(|x| 3.0 - x.exp(), low, high).unwrap();
            assert!((three - 3.0_f64.ln()).abs() < 1e-14, "{three}");
        }
        assert_eq!(root(|x| x, 0.0, 1.0), Some(0.0));
    }

    #[test]
    fn without_a_change_of_sign_there_is_none() {
        assert_eq!(root(|x| x * x + 1.0, -1.0, 1.0), None);
        assert_eq!(
            root(|x| if x > 0.3 { f64::NAN } else { x - 0.5 }, 0.0, 1.0),
            None
        );
    }

    #[test]
    fn a_root_within_a_tolerance_takes_fewer_evaluations() {
        let mut evaluations = 0;
        let f = |x: f64| {
            evaluations += 1;
            0.9 * x - 40.0 + 1e-3 * x * x
        };
        let found = root_within(1e-3, f, -40.0, 80.0).unwrap();
        let exact = (-0.9 + (0.81_f64 + 0.16).sqrt()) / 2e-3;
        assert!((found - exact).abs() < 1e-3, "{found} {exact}");
        assert!(evaluations <= 8, "{evaluations}");
    }

    #[test]
    fn few_evaluations_are_enough() {
        let mut evaluations = 0;
        root(
            |x| {
                evaluations += 1;
                x.exp() - 3.0
            },
            0.0,
            10.0,
        );
        assert!(evaluations <= 20, "{evaluations}");
    }
}
