//! Steps of a linear system in which one rate varies from step to step, without an exponential each.
//!
//! ```text
//! dx = (A + r E) x dt + b dt,   Γ(r) = ∫_0^h e^{(A + r E) s} ds,   Φ(r) = I + (A + r E) Γ(r)
//! ```
//!
//! Γ is entire in `r`. It is computed exactly at Chebyshev nodes of a range of `r` and interpolated
//! between them by Newton's divided differences; Φ then follows from its definition. Outside the
//! range the step is computed exactly.
//!
//! Error: with n nodes over a range of width `d` it is at most about
//! `h (|E| h d / 2)^n / (n! 2^(n-1))` (Trefethen 2013, Approximation Theory and Approximation
//! Practice, chapter 4: interpolation at Chebyshev nodes), which at `h d = 0.5` is 2e-12 h.

use nalgebra::SMatrix;

use super::kalman::Step;

const NODES: usize = 8;

/// Φ and Γ of a step of length `h` for any `r`.
#[derive(Debug, Clone)]
pub struct StepTable<const N: usize> {
    fixed: SMatrix<f64, N, N>,
    varying: SMatrix<f64, N, N>,
    h: f64,
    range: (f64, f64),
    nodes: [f64; NODES],
    /// Divided differences of Γ over the nodes.
    differences: [SMatrix<f64, N, N>; NODES],
}

impl<const N: usize> StepTable<N> {
    /// A table for `A = fixed`, `E = varying` and `r` in `range`.
    pub fn new(
        fixed: SMatrix<f64, N, N>,
        varying: SMatrix<f64, N, N>,
        range: (f64, f64),
        h: f64,
    ) -> Self {
        let (middle, half) = (f64::midpoint(range.0, range.1), (range.1 - range.0) / 2.0);
        let nodes: [f64; NODES] = std::array::from_fn(|i| {
            let angle = std::f64::consts::PI * (i as f64 + 0.5) / NODES as f64;
            middle + half * angle.cos()
        });
        let none = SMatrix::zeros();
        let mut differences = nodes.map(|r| Step::exact(&(fixed + varying * r), &none, h).hold);
        for order in 1..NODES {
            for i in (order..NODES).rev() {
                differences[i] =
                    (differences[i] - differences[i - 1]) / (nodes[i] - nodes[i - order]);
            }
        }
        Self {
            fixed,
            varying,
            h,
            range,
            nodes,
            differences,
        }
    }

    /// Φ and Γ at `r`.
    pub fn at(&self, r: f64) -> (SMatrix<f64, N, N>, SMatrix<f64, N, N>) {
        let drift = self.fixed + self.varying * r;
        if !(self.range.0..=self.range.1).contains(&r) {
            let step = Step::exact(&drift, &SMatrix::zeros(), self.h);
            return (step.transition, step.hold);
        }
        let mut hold = self.differences[NODES - 1];
        for i in (0..NODES - 1).rev() {
            hold = hold * (r - self.nodes[i]) + self.differences[i];
        }
        (SMatrix::identity() + drift * hold, hold)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::matrix;

    fn table() -> StepTable<3> {
        let fixed = matrix![-0.4, 0.3, 0.1; 0.2, -0.2, 0.0; 0.0, 0.2, -0.2];
        let varying = matrix![0.0, 0.0, 0.0; 0.0, -1.0, 0.0; 0.0, 0.0, 0.0];
        StepTable::new(fixed, varying, (0.0, 0.25), 2.0)
    }

    #[test]
    fn it_agrees_with_the_exact_step_inside_and_outside() {
        let table = table();
        for r in [0.0, 0.01, 0.1, 0.17, 0.25, 0.3, 2.0] {
            let step = Step::exact(
                &(table.fixed + table.varying * r),
                &SMatrix::zeros(),
                table.h,
            );
            let (transition, hold) = table.at(r);
            assert!((transition - step.transition).amax() < 1e-11, "{r}");
            assert!((hold - step.hold).amax() < 1e-11, "{r}");
        }
    }

    #[test]
    fn what_is_no_number_stays_none() {
        assert!(table().at(f64::NAN).0.iter().any(|x| x.is_nan()));
    }
}
