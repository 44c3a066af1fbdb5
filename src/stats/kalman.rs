//! A linear Gaussian state followed through time: exact steps, readings of any kind, likelihood.
//!
//! ```text
//! dx = (A x + b) dt + dβ,  cov dβ = Q dt        between readings (Kalman & Bucy 1961)
//! y = h·x + v,             v ~ N(0, r)          a reading
//! x(t + h) = Φ x(t) + Γ b + w,  w ~ N(0, Q_h)
//! Φ = e^{A h},  Γ = ∫_0^h e^{A s} ds,  Q_h = ∫_0^h e^{A s} Q e^{A' s} ds
//! ```
//!
//! The three integrals are summed as power series over a part of the step short enough to
//! converge to rounding, then doubled up to the step (Van Loan 1978 for what they are). A reading
//! in whole steps says only that `y` lies between two borders: its likelihood is the probability
//! of that, and the state is updated with mean and variance of the normal cut to those borders
//! (assumed-density filtering; exact in the first two moments). A missing reading is no update.

use nalgebra::{SMatrix, SVector};
use statrs::function::erf::erfc;

/// What is believed of a state: mean and covariance.
#[derive(Debug, Clone, PartialEq)]
pub struct Belief<const N: usize> {
    /// Mean.
    pub mean: SVector<f64, N>,
    /// Covariance.
    pub covariance: SMatrix<f64, N, N>,
}

/// A step of a linear system with everything but the state held.
#[derive(Debug, Clone, PartialEq)]
pub struct Step<const N: usize> {
    /// Φ.
    pub transition: SMatrix<f64, N, N>,
    /// Γ.
    pub hold: SMatrix<f64, N, N>,
    /// Q_h.
    pub noise: SMatrix<f64, N, N>,
}

/// What an instrument says of `h·x`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reading {
    /// A value with normal noise.
    Value(f64),
    /// Somewhere between two borders, after normal noise.
    Between(f64, f64),
}

/// What a reading taught.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Innovation {
    /// Logarithm of the reading's likelihood given all before it.
    pub log_likelihood: f64,
    /// The reading's surprise in standard deviations; of a reading between borders its mean given
    /// the borders, which has mean zero if the model holds.
    pub standardised: f64,
    /// Variance of `y` before the reading, noise included.
    pub variance: f64,
}

/// Terms shrink at least as fast as `0.25^k / k!`: twelve reach rounding.
const TERMS: u32 = 12;
const LONGEST_NORM: f64 = 0.25;

impl<const N: usize> Step<N> {
    /// The step of `dx = (A x + b) dt + dβ` over `h`, with `Q` the noise's covariance per time.
    pub fn exact(a: &SMatrix<f64, N, N>, q: &SMatrix<f64, N, N>, h: f64) -> Self {
        let norm = a.abs().row_sum().max().max(a.abs().column_sum().max()) * h;
        let halvings = if norm > LONGEST_NORM {
            (norm / LONGEST_NORM).log2().ceil() as i32
        } else {
            0
        };
        let mut step = Self::series(a, q, h / 2f64.powi(halvings));
        for _ in 0..halvings {
            step = step.doubled();
        }
        step
    }

    fn series(a: &SMatrix<f64, N, N>, q: &SMatrix<f64, N, N>, h: f64) -> Self {
        let identity = SMatrix::<f64, N, N>::identity();
        let (mut hold, mut hold_term) = (identity * h, identity * h);
        for k in 2..=TERMS {
            hold_term = a * hold_term * (h / f64::from(k));
            hold += hold_term;
            if hold_term.amax() < 1e-15 * hold.amax() {
                break;
            }
        }
        let (mut noise, mut noise_term) = (q * h, q * h);
        for k in 2..=TERMS {
            if noise_term.amax() <= 1e-15 * noise.amax() {
                break;
            }
            let half = a * noise_term * (h / f64::from(k));
            noise_term = half + half.transpose();
            noise += noise_term;
        }
        Self {
            transition: identity + a * hold,
            hold,
            noise,
        }
    }

    fn doubled(&self) -> Self {
        Self {
            transition: self.transition * self.transition,
            hold: self.hold + self.transition * self.hold,
            noise: if self.noise.amax() == 0.0 {
                self.noise
            } else {
                self.noise + self.transition * self.noise * self.transition.transpose()
            },
        }
    }
}

impl<const N: usize> Belief<N> {
    /// Carries the belief over a step with the input `b` held.
    pub fn predict(&mut self, step: &Step<N>, b: &SVector<f64, N>) {
        let mean = step.transition * self.mean + step.hold * b;
        self.carry(mean, &step.transition, &step.noise);
    }

    /// Carries the belief over a step that brings its mean to `mean`; `derivative` of the state
    /// after by the state before, and the covariance of the noise. With the derivative of a step
    /// that is not linear this is the extended Kalman filter.
    pub fn carry(
        &mut self,
        mean: SVector<f64, N>,
        derivative: &SMatrix<f64, N, N>,
        noise: &SMatrix<f64, N, N>,
    ) {
        self.mean = mean;
        // Written out: the library's product of matrices this size goes by way of a packed copy.
        let carried = product(derivative, &self.covariance);
        self.covariance = product(&carried, &derivative.transpose()) + noise;
    }

    /// Learns from a reading of `h·x` whose noise has variance `r`.
    pub fn update(&mut self, h: &SVector<f64, N>, reading: Reading, r: f64) -> Innovation {
        let gain = self.covariance * h;
        let variance = h.dot(&gain) + r;
        let expected = h.dot(&self.mean);
        let sd = variance.sqrt();
        let (log_likelihood, z, left) = match reading {
            Reading::Value(value) => {
                let z = (value - expected) / sd;
                let log = -0.5 * (z * z + (std::f64::consts::TAU * variance).ln());
                (log, z, 0.0)
            }
            Reading::Between(low, high) => cut((low - expected) / sd, (high - expected) / sd),
        };
        self.mean += gain * (z / sd);
        self.covariance -= gain * gain.transpose() * ((1.0 - left) / variance);
        Innovation {
            log_likelihood,
            standardised: z,
            variance,
        }
    }
}

fn product<const N: usize>(a: &SMatrix<f64, N, N>, b: &SMatrix<f64, N, N>) -> SMatrix<f64, N, N> {
    let mut sum = SMatrix::<f64, N, N>::zeros();
    for j in 0..N {
        for k in 0..N {
            for i in 0..N {
                sum[(i, j)] += a[(i, k)] * b[(k, j)];
            }
        }
    }
    sum
}

/// Log probability, mean and variance of a standard normal variable between `a < b`.
fn cut(a: f64, b: f64) -> (f64, f64, f64) {
    // By symmetry in the upper tail, where the complementary error function keeps its digits.
    if a + b < 0.0 {
        let (log, mean, variance) = cut(-b, -a);
        return (log, -mean, variance);
    }
    let half = std::f64::consts::FRAC_1_SQRT_2;
    let density = |z: f64| (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt();
    let probability = 0.5 * (erfc(a * half) - erfc(b * half));
    if probability < 1e-280 {
        // So far out that nearly all of what is left lies at the nearer border.
        let log = -0.5 * a * a - (a * std::f64::consts::TAU.sqrt()).ln();
        return (log, a + 1.0 / a, 1.0 / (a * a));
    }
    let (low, high) = (density(a), density(b));
    let mean = (low - high) / probability;
    let at = |z: f64, d: f64| if z.is_finite() { z * d } else { 0.0 };
    let variance = 1.0 + (at(a, low) - at(b, high)) / probability - mean * mean;
    (probability.ln(), mean, variance.clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{matrix, vector};

    /// Columns of a reference file: numbers between commas, other lines skipped.
    fn rows(text: &str) -> Vec<Vec<f64>> {
        text.lines()
            .filter_map(|l| l.split(',').map(|c| c.trim().parse().ok()).collect())
            .collect()
    }

    /// Log-likelihood of an Ornstein-Uhlenbeck process (θ 0.08, μ 90, σ 0.6) seen with noise of
    /// variance 0.25 from a stationary start; `NaN` is missing.
    fn ou(times: &[f64], values: &[f64]) -> f64 {
        let (theta, mu, sigma, r) = (0.08, 90.0, 0.6, 0.25);
        let (a, q, b) = (matrix![-theta], matrix![sigma * sigma], vector![theta * mu]);
        let mut belief = Belief {
            mean: vector![mu],
            covariance: matrix![sigma * sigma / (2.0 * theta)],
        };
        let mut sum = 0.0;
        for (k, (&t, &y)) in times.iter().zip(values).enumerate() {
            if k > 0 {
                belief.predict(&Step::exact(&a, &q, t - times[k - 1]), &b);
            }
            if !y.is_nan() {
                sum += belief
                    .update(&vector![1.0], Reading::Value(y), r)
                    .log_likelihood;
            }
        }
        sum
    }

    /// Log-likelihoods by statsmodels (MLEModel, SARIMAX with measurement error) and by the dense
    /// multivariate normal density, which agree with each other; data in `tests/reference/rc`.
    #[test]
    fn likelihoods_agree_with_statsmodels_and_the_dense_density() {
        let regular: Vec<f64> = rows(include_str!("../../tests/reference/rc/ou_regular.csv"))
            .into_iter()
            .map(|r| r[0])
            .collect();
        let times: Vec<f64> = (0..regular.len()).map(|k| k as f64).collect();
        assert!((ou(&times, &regular) - -51.883_743_499).abs() < 1e-8);
        let mut missing = regular.clone();
        for k in [10, 11, 12, 13, 14, 25] {
            missing[k] = f64::NAN;
        }
        assert!((ou(&times, &missing) - -45.148_995_435).abs() < 1e-8);
        let irregular = rows(include_str!("../../tests/reference/rc/ou_irregular.csv"));
        let (times, values): (Vec<f64>, Vec<f64>) = irregular.iter().map(|r| (r[0], r[1])).unzip();
        assert!((ou(&times, &values) - -53.803_313_149).abs() < 1e-8);
    }

    /// Heated node and coolant, coolant seen: log-likelihood and last filtered state by
    /// statsmodels and the dense density.
    #[test]
    fn two_nodes_agree_with_statsmodels() {
        let (c1, c2, g, ua) = (60e3, 20e3, 1500.0, 600.0);
        let a = matrix![-g / c1, g / c1; g / c2, -(g + ua) / c2];
        let step = Step::exact(&a, &matrix![0.02, 0.0; 0.0, 0.05], 5.0);
        let mut belief = Belief {
            mean: vector![60.0, 60.0],
            covariance: matrix![4.0, 0.0; 0.0, 4.0],
        };
        let mut sum = 0.0;
        let data = rows(include_str!("../../tests/reference/rc/rc2_kalman.csv"));
        for (k, row) in data.iter().enumerate() {
            if k > 0 {
                let [heat_w, air_c] = [data[k - 1][1], data[k - 1][2]];
                belief.predict(&step, &vector![heat_w / c1, ua * air_c / c2]);
            }
            sum += belief
                .update(&vector![0.0, 1.0], Reading::Value(row[3]), 0.09)
                .log_likelihood;
        }
        assert!((sum - -51.007_495_818).abs() < 1e-8, "{sum}");
        assert!((belief.mean[0] - 52.384_561_62).abs() < 1e-7);
        assert!((belief.mean[1] - 44.152_612_67).abs() < 1e-7);
    }

    /// Step response of two nodes (60 and 20 kJ/K, 1500 W/K between, 600 W/K to air at 20 °C,
    /// 30 kW from 20 °C): matrix exponential and ODE solver of scipy agree to 1e-11.
    #[test]
    fn a_step_of_two_nodes_agrees_with_the_matrix_exponential() {
        let (c1, c2, g, ua) = (60e3, 20e3, 1500.0, 600.0);
        let a = matrix![-g / c1, g / c1; g / c2, -(g + ua) / c2];
        let b = vector![30e3 / c1, ua * 20.0 / c2];
        let second = Step::exact(&a, &SMatrix::zeros(), 1.0).transition;
        let expected = matrix![0.9762005, 0.02344026; 0.07032077, 0.90119168];
        assert!((second - expected).amax() < 1e-7);
        for (t, metal_c, coolant_c) in [
            (30.0, 32.145_229_686, 26.222_306_144),
            (120.0, 56.448_363_409, 44.569_027_299),
            (300.0, 78.709_867_135, 61.442_471_908),
        ] {
            let step = Step::exact(&a, &SMatrix::zeros(), t);
            let end = step.transition * vector![20.0, 20.0] + step.hold * b;
            assert!((end - vector![metal_c, coolant_c]).amax() < 1e-8, "{t}");
        }
    }

    /// Closed form: noise of an Ornstein-Uhlenbeck step is σ²/(2θ) (1 - e^{-2θh}).
    #[test]
    fn noise_of_a_step_agrees_with_the_closed_form() {
        for h in [0.01, 1.0, 30.0] {
            let step = Step::exact(&matrix![-0.3], &matrix![0.5], h);
            let expected = 0.5 / 0.6 * (1.0 - (-0.6 * h).exp());
            assert!((step.noise[0] / expected - 1.0).abs() < 1e-12, "{h}");
        }
    }

    /// A normal variable cut to borders, against direct summation.
    #[test]
    fn a_cut_normal_agrees_with_summation() {
        for (a, b) in [(-0.5, 0.7), (1.0, 1.5), (-3.0, -2.0), (4.0, 6.0)] {
            let n = 200_000;
            let (mut p, mut m, mut s) = (0.0, 0.0, 0.0);
            for i in 0..n {
                let z = a + (b - a) * (i as f64 + 0.5) / n as f64;
                let d = (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt() * (b - a) / n as f64;
                p += d;
                m += d * z;
                s += d * z * z;
            }
            let (log, mean, variance) = cut(a, b);
            assert!((log - p.ln()).abs() < 1e-8 && (mean - m / p).abs() < 1e-8);
            assert!((variance - (s / p - (m / p).powi(2))).abs() < 1e-7);
        }
        let (log, mean, variance) = cut(45.0, 46.0);
        assert!(log.is_finite() && (45.0..45.1).contains(&mean) && variance < 1e-3);
    }

    /// A fine step says what a value says.
    #[test]
    fn a_narrow_pair_of_borders_is_a_value() {
        let start = Belief {
            mean: vector![90.0, 0.0],
            covariance: matrix![4.0, 1.0; 1.0, 2.0],
        };
        let (mut by_value, mut by_borders) = (start.clone(), start);
        let h = vector![1.0, 0.0];
        let one = by_value.update(&h, Reading::Value(91.3), 0.04);
        let width = 1e-4;
        let two = by_borders.update(&h, Reading::Between(91.3 - width, 91.3 + width), 0.04);
        assert!((by_value.mean - by_borders.mean).amax() < 1e-6);
        assert!((by_value.covariance - by_borders.covariance).amax() < 1e-6);
        let density = two.log_likelihood - (2.0 * width).ln();
        assert!((one.log_likelihood - density).abs() < 1e-6);
    }
}
