//! Curves linear in all but their shape, read with errors that follow themselves.
//!
//! `y_i = Σ_j b_j x_j(t_i) + e_i`. The columns x of one *candidate* shape are given; the candidates
//! together are a grid over the shape (a time constant, say). `e = σ (u + w)`: u first-order
//! autoregressive in continuous time with correlation time θ, w white with the share g of the
//! variance (steps of the reading, noise); θ and g run over a grid too. With R the correlation
//! matrix of e, the weight of a candidate with θ and g is its likelihood with b and σ integrated out,
//!
//! `|R|^-½ |XᵀR⁻¹X|^-½ (RSS + ν₀ s₀²)^(-(n - p + ν₀) / 2)`,
//!
//! b flat (but for anchors), σ² scaled inverse χ² about s₀² with ν₀ degrees of freedom: a short
//! phase says little of how its own errors follow each other, and this keeps it from claiming that
//! they do not. Given all that, b is t distributed on n - p + ν₀ degrees of freedom about the
//! generalised least-squares solution. Intervals are quantiles of the mixture over candidates, θ
//! and g. The restricted likelihood as a marginal one: Harville 1974, Biometrika 61, 383 (from
//! memory). R⁻¹ is applied by the scalar Kalman filter, in n steps.

use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// White shares of the error variance that are weighed.
const WHITE_SHARE: [f64; 3] = [0.0, 0.3, 0.6];

/// What is known of σ² beforehand is worth this many degrees of freedom.
const PRIOR_DF: f64 = 3.0;

/// Readings, and the shapes they may have.
pub struct Curve<'a> {
    /// Times of the readings, s, rising.
    pub times_s: &'a [f64],
    /// The readings.
    pub readings: &'a [f64],
    /// Columns that candidates use, each as long as the readings.
    pub columns: Vec<Vec<f64>>,
    /// The shapes.
    pub candidates: Vec<Candidate>,
    /// What a coefficient is known to be beforehand.
    pub anchors: Vec<Anchor>,
    /// Usual standard deviation of the errors, s₀.
    pub usual_sd: f64,
    /// Correlation times of the errors that are weighed, s.
    pub correlation_s: &'a [f64],
}

/// One shape.
#[derive(Debug, Clone)]
pub struct Candidate {
    /// Its columns, by index.
    pub columns: Vec<usize>,
    /// Logarithm of its prior weight.
    pub log_prior: f64,
}

/// A coefficient known to be near a value: normal, independent of the readings.
#[derive(Debug, Clone, Copy)]
pub struct Anchor {
    /// Which coefficient of every candidate.
    pub coefficient: usize,
    /// Its value.
    pub value: f64,
    /// Standard deviation.
    pub sd: f64,
}

/// A candidate under one kind of error.
#[derive(Debug, Clone)]
pub struct Node {
    /// Index of the candidate.
    pub candidate: usize,
    /// Weight among all nodes; they sum to 1.
    pub weight: f64,
    /// Coefficients.
    pub coefficients: DVector<f64>,
    /// Their scale matrix (covariance of a t distribution but for its df).
    pub scale: DMatrix<f64>,
    /// Degrees of freedom.
    pub df: f64,
    log_weight: f64,
}

/// What the readings say of the shapes.
#[derive(Debug, Clone)]
pub struct Posterior {
    /// Every candidate under every kind of error.
    pub nodes: Vec<Node>,
    /// The largest log-likelihood over candidates, coefficients and errors (σ² at its prior and
    /// the readings' common optimum); differences between models are what it is for.
    pub log_likelihood: f64,
}

/// A linear function of the coefficients at a node: its mean and spread, and where it must lie.
#[derive(Debug, Clone, Copy)]
pub struct Marginal {
    /// Mean.
    pub mean: f64,
    /// Scale of its t distribution.
    pub sd: f64,
    /// Lowest value allowed.
    pub low: f64,
    /// Highest value allowed.
    pub high: f64,
}

impl Curve<'_> {
    /// Weighs every candidate. `None`: none can be solved.
    pub fn posterior(&self) -> Option<Posterior> {
        let mut nodes = Vec::new();
        let mut log_likelihood = f64::NEG_INFINITY;
        for &correlation_s in self.correlation_s {
            for white in WHITE_SHARE {
                let (gram, log_det) = self.gram(correlation_s, white);
                for (index, candidate) in self.candidates.iter().enumerate() {
                    if let Some((node, at_best)) = self.node(index, candidate, &gram, log_det) {
                        log_likelihood = log_likelihood.max(at_best);
                        nodes.push(node);
                    }
                }
            }
        }
        let mut posterior = Posterior {
            nodes,
            log_likelihood,
        };
        posterior.normalise()?;
        Some(posterior)
    }

    /// `[columns, y]ᵀ R⁻¹ [columns, y]`, and log|R|.
    fn gram(&self, correlation_s: f64, white: f64) -> (DMatrix<f64>, f64) {
        let n = self.readings.len();
        let mut all = DMatrix::from_fn(n, self.columns.len() + 1, |i, j| {
            self.columns.get(j).map_or(self.readings[i], |c| c[i])
        });
        let mut log_det = 0.0;
        let mut variance = 1.0 - white;
        let mut ahead = vec![0.0; all.ncols()];
        for i in 0..n {
            let total = variance + white;
            let gain = variance / total;
            log_det += total.ln();
            let step_s = self.times_s.get(i + 1).map_or(0.0, |t| t - self.times_s[i]);
            let keep = (-step_s / correlation_s).exp();
            for (j, expected) in ahead.iter_mut().enumerate() {
                let miss = all[(i, j)] - *expected;
                all[(i, j)] = miss / total.sqrt();
                *expected = keep * (*expected + gain * miss);
            }
            variance = keep * keep * (1.0 - gain) * variance + (1.0 - keep * keep) * (1.0 - white);
        }
        (all.transpose() * &all, log_det)
    }

    fn node(
        &self,
        index: usize,
        candidate: &Candidate,
        gram: &DMatrix<f64>,
        log_det: f64,
    ) -> Option<(Node, f64)> {
        let p = candidate.columns.len();
        let y = self.columns.len();
        let mut information = DMatrix::from_fn(p, p, |a, b| {
            gram[(candidate.columns[a], candidate.columns[b])]
        });
        let mut right = DVector::from_fn(p, |a, _| gram[(candidate.columns[a], y)]);
        let mut squares = gram[(y, y)];
        for anchor in &self.anchors {
            let k = (self.usual_sd / anchor.sd).powi(2);
            information[(anchor.coefficient, anchor.coefficient)] += k;
            right[anchor.coefficient] += k * anchor.value;
            squares += k * anchor.value * anchor.value;
        }
        // A column that has died out within the first reading is no shape of these readings.
        if information.diagonal().iter().any(|d| *d < 1e-12) {
            return None;
        }
        let scaling = DMatrix::from_diagonal(&information.diagonal().map(|d| 1.0 / d.sqrt()));
        let cholesky = (&scaling * &information * &scaling).cholesky()?;
        let inverse = &scaling * cholesky.inverse() * &scaling;
        let log_det_information: f64 = cholesky.l().diagonal().map(f64::ln).sum() * 2.0
            - 2.0 * scaling.diagonal().map(f64::ln).sum();
        let coefficients = &inverse * &right;
        let prior = PRIOR_DF * self.usual_sd * self.usual_sd;
        let rss = (squares - right.dot(&coefficients)).max(0.0) + prior;
        let n = (self.readings.len() + self.anchors.len()) as f64;
        let df = n - p as f64 + PRIOR_DF;
        let log_weight =
            candidate.log_prior - 0.5 * (log_det + log_det_information + df * rss.ln());
        let node = Node {
            candidate: index,
            weight: 0.0,
            scale: inverse * (rss / df),
            coefficients,
            df,
            log_weight,
        };
        (df > 0.0 && log_weight.is_finite())
            .then_some((node, -0.5 * (log_det + (n + PRIOR_DF) * rss.ln())))
    }
}

impl Posterior {
    fn normalise(&mut self) -> Option<()> {
        let largest = self
            .nodes
            .iter()
            .map(|n| n.log_weight)
            .max_by(f64::total_cmp)?;
        let share = |n: &Node| (n.log_weight - largest).exp();
        let total: f64 = self.nodes.iter().map(share).sum();
        for node in &mut self.nodes {
            node.weight = share(node) / total;
        }
        // What weighs nothing only costs time afterwards.
        self.nodes.retain(|n| n.weight > 1e-6);
        (total.is_finite() && total > 0.0).then_some(())
    }

    /// Counts only the part of each node that lies within its marginal's bounds. `None`: none does.
    pub fn restrict(&mut self, of: impl Fn(&Node) -> Marginal) -> Option<()> {
        for node in &mut self.nodes {
            node.log_weight += of(node).mass(node.df).ln();
        }
        self.nodes.retain(|n| n.log_weight.is_finite());
        self.normalise()
    }

    /// Multiplies each candidate's weight. `None`: nothing is left.
    pub fn reweigh(&mut self, log_factor: &[f64]) -> Option<()> {
        for node in &mut self.nodes {
            node.log_weight += log_factor[node.candidate];
        }
        self.nodes.retain(|n| n.log_weight.is_finite());
        self.normalise()
    }

    /// Weight of each of `count` candidates.
    pub fn weights(&self, count: usize) -> Vec<f64> {
        let mut weights = vec![0.0; count];
        for node in &self.nodes {
            weights[node.candidate] += node.weight;
        }
        weights
    }

    /// Quantiles of a linear function of the coefficients; `NaN` where it lies within no bounds.
    pub fn quantiles<const N: usize>(
        &self,
        of: impl Fn(&Node) -> Marginal,
        at: [f64; N],
    ) -> [f64; N] {
        struct Part {
            weight: f64,
            marginal: Marginal,
            t: StudentsT,
            low: f64,
            high: f64,
        }
        let part = |n: &Node| {
            let marginal = of(n);
            let t = marginal.distribution(n.df)?;
            let (low, high) = (t.cdf(marginal.low), t.cdf(marginal.high));
            (high > low).then_some(Part {
                weight: n.weight,
                marginal,
                t,
                low,
                high,
            })
        };
        let parts: Vec<Part> = self.nodes.iter().filter_map(part).collect();
        let widest = |p: &Part| 40.0 * p.marginal.sd;
        let from = parts.iter().map(|p| p.marginal.mean - widest(p));
        let to = parts.iter().map(|p| p.marginal.mean + widest(p));
        let ends = (
            from.fold(f64::INFINITY, f64::min),
            to.fold(f64::NEG_INFINITY, f64::max),
        );
        let below = |x: f64| -> f64 {
            let share = |p: &Part| {
                let x = x.clamp(p.marginal.low, p.marginal.high);
                p.weight * (p.t.cdf(x) - p.low) / (p.high - p.low)
            };
            parts.iter().map(share).sum()
        };
        let total = below(f64::INFINITY);
        at.map(|p| bisect(|x| below(x) / total < p, ends.0, ends.1))
    }
}

impl Marginal {
    /// `weights · coefficients` at a node, anywhere.
    pub fn of(node: &Node, weights: &[f64]) -> Self {
        let weights = DVector::from_column_slice(weights);
        let variance = (weights.transpose() * &node.scale * &weights)[(0, 0)];
        Self {
            mean: weights.dot(&node.coefficients),
            sd: variance.max(0.0).sqrt(),
            low: f64::NEG_INFINITY,
            high: f64::INFINITY,
        }
    }

    fn distribution(&self, df: f64) -> Option<StudentsT> {
        StudentsT::new(self.mean, self.sd, df.min(1e6)).ok()
    }

    fn mass(&self, df: f64) -> f64 {
        if self.low == f64::NEG_INFINITY && self.high == f64::INFINITY {
            return 1.0;
        }
        self.distribution(df)
            .map_or(0.0, |t| t.cdf(self.high) - t.cdf(self.low))
    }
}

/// Where `below` turns false.
fn bisect(below: impl Fn(f64) -> bool, mut low: f64, mut high: f64) -> f64 {
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if below(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// Quantiles of a quantity that has one value a candidate, rising: the distribution function runs
/// straight between the middles of the cells.
pub fn grid_quantiles<const N: usize>(values: &[f64], weights: &[f64], at: [f64; N]) -> [f64; N] {
    let mut below = Vec::with_capacity(values.len());
    let mut sum = 0.0;
    for w in weights {
        below.push(sum + w / 2.0);
        sum += w;
    }
    at.map(|p| {
        let i = below.partition_point(|b| *b < p * sum);
        match i {
            0 => values[0],
            i if i == values.len() => values[i - 1],
            i => {
                let share = (p * sum - below[i - 1]) / (below[i] - below[i - 1]);
                values[i - 1] + share * (values[i] - values[i - 1])
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 40 readings of an Ornstein-Uhlenbeck process (θ 0.08, mean 90, σ 0.6) with white noise of
    /// variance 0.25, and times for the irregular case.
    const READINGS: [f64; 40] = [
        91.67, 89.53, 89.86, 90.41, 89.54, 89.88, 89.85, 88.44, 88.64, 88.49, 90.10, 90.02, 90.35,
        90.37, 89.29, 89.75, 90.15, 87.53, 87.23, 88.28, 88.21, 88.22, 88.64, 88.92, 90.24, 88.32,
        87.98, 89.75, 89.00, 89.20, 88.97, 89.01, 90.26, 89.27, 90.02, 89.82, 91.00, 90.94, 91.25,
        92.12,
    ];
    const TIMES: [f64; 40] = [
        0.00, 1.60, 4.00, 5.70, 6.50, 7.00, 9.50, 11.90, 13.10, 14.30, 15.80, 16.70, 19.00, 20.90,
        22.90, 23.30, 25.40, 25.80, 26.10, 26.70, 28.90, 31.10, 31.70, 32.10, 33.70, 34.80, 35.20,
        36.60, 38.60, 39.00, 41.10, 42.60, 44.50, 45.20, 47.00, 48.00, 49.60, 51.00, 52.90, 54.80,
    ];

    /// Log-likelihood of the readings at their true parameters, from `gram`.
    fn log_likelihood(times_s: &[f64]) -> f64 {
        let readings: Vec<f64> = READINGS.iter().map(|y| y - 90.0).collect();
        let curve = Curve {
            times_s,
            readings: &readings,
            columns: Vec::new(),
            candidates: Vec::new(),
            anchors: Vec::new(),
            usual_sd: 1.0,
            correlation_s: &[1.0],
        };
        let variance = 0.36 / 0.16 + 0.25;
        let (gram, log_det) = curve.gram(1.0 / 0.08, 0.25 / variance);
        let n = readings.len() as f64;
        -0.5 * (n * (std::f64::consts::TAU * variance).ln() + log_det + gram[(0, 0)] / variance)
    }

    /// -51.883743499 in equal steps and -53.803313149 at irregular times: computed by statsmodels
    /// (a state-space model and SARIMAX with measurement error) and as a dense multivariate normal.
    #[test]
    fn the_likelihood_of_errors_that_follow_themselves() {
        let regular: Vec<f64> = (0..40).map(f64::from).collect();
        assert!((log_likelihood(&regular) + 51.883_743_499).abs() < 1e-8);
        assert!((log_likelihood(&TIMES) + 53.803_313_149).abs() < 1e-8);
    }

    /// Subject 1 of `Indometh` (Kwan et al. 1976; R help of `SSbiexp`): log rates 0.57938869 and
    /// -1.78778488 an hour. The readings are so far apart that errors do not follow themselves.
    #[test]
    fn the_two_exponentials_of_indometh() {
        let hours: [f64; 11] = [0.25, 0.5, 0.75, 1.0, 1.25, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0];
        let readings = [
            1.5, 0.94, 0.78, 0.48, 0.37, 0.19, 0.12, 0.11, 0.08, 0.07, 0.05,
        ];
        let times_s = hours.map(|h: f64| 3600.0 * h);
        let logs: Vec<f64> = (0..56).map(|i| -2.0 + 0.1 * f64::from(i)).collect();
        let decay = |log: &f64| hours.iter().map(|h| (-h / log.exp()).exp()).collect();
        let pairs: Vec<(usize, usize)> = (0..logs.len())
            .flat_map(|fast| (fast + 5..logs.len()).map(move |slow| (fast, slow)))
            .collect();
        let fitted = |candidates: Vec<Vec<usize>>| {
            Curve {
                times_s: &times_s,
                readings: &readings,
                columns: logs.iter().map(decay).collect(),
                candidates: candidates
                    .into_iter()
                    .map(|columns| Candidate {
                        columns,
                        log_prior: 0.0,
                    })
                    .collect(),
                anchors: Vec::new(),
                usual_sd: 0.02,
                correlation_s: &[5.0, 80.0],
            }
            .posterior()
            .unwrap()
        };
        let one = fitted((0..logs.len()).map(|i| vec![i]).collect());
        let two = fitted(pairs.iter().map(|&(f, s)| vec![f, s]).collect());
        let gain = two.log_likelihood - one.log_likelihood;
        assert!(gain > 6.9, "{gain}"); // 0.1 % of χ² with 2 df
        let mut marginals = [vec![0.0; logs.len()], vec![0.0; logs.len()]];
        for node in &two.nodes {
            marginals[0][pairs[node.candidate].0] += node.weight;
            marginals[1][pairs[node.candidate].1] += node.weight;
        }
        for (weights, published) in marginals.iter().zip([-0.579_388_69, 1.787_784_88]) {
            let [low, middle, high] = grid_quantiles(&logs, weights, [0.025, 0.5, 0.975]);
            assert!(
                low < published && published < high,
                "{low} {published} {high}"
            );
            assert!(
                (middle - published).abs() < 0.25 * (high - low),
                "{middle} {published}"
            );
        }
    }

    /// A straight line through four points by hand: slope 0.7, no error structure to speak of.
    #[test]
    fn bounds_cut_the_distribution_and_quantiles_keep_to_them() {
        let times_s = [0.0, 1000.0, 2000.0, 3000.0];
        let curve = Curve {
            times_s: &times_s,
            readings: &[1.0, 1.0, 2.0, 3.0],
            columns: vec![vec![1.0; 4], vec![-1.5, -0.5, 0.5, 1.5]],
            candidates: vec![Candidate {
                columns: vec![0, 1],
                log_prior: 0.0,
            }],
            anchors: Vec::new(),
            usual_sd: 0.3,
            correlation_s: &[5.0, 80.0],
        };
        let slope = |low: f64, high: f64| {
            move |n: &Node| Marginal {
                mean: n.coefficients[1],
                sd: n.scale[(1, 1)].sqrt(),
                low,
                high,
            }
        };
        let mut posterior = curve.posterior().unwrap();
        let [free] = posterior.quantiles(slope(f64::NEG_INFINITY, f64::INFINITY), [0.5]);
        assert!((free - 0.7).abs() < 1e-6, "{free}");
        posterior.restrict(slope(0.8, 2.0)).unwrap();
        let [low, high] = posterior.quantiles(slope(0.8, 2.0), [0.025, 0.975]);
        assert!(0.8 < low && low < high && high < 2.0, "{low} {high}");
        assert_eq!(posterior.restrict(slope(2e9, 3e9)), None);
    }
}
