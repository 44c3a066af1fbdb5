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
mod tests;
