//! One or two exponentials toward an end.
//!
//! `T = T_end + A exp(-t/τ)`, or with a second such term. Readings in whole degrees and a slow
//! disturbance beside the exponential leave errors that follow themselves, so constants come from
//! [`crate::stats::curve`]: τ on a grid, T_end and A with errors integrated out. Beforehand, log τ
//! is flat from 3 s to 20 times the phase, and so are the reading at the start and its change over
//! the phase: without that the straight line (τ without end) would win by volume alone.
//!
//! Two exponentials are taken where they raise the log-likelihood, errors that follow themselves
//! included, by more than [`TWO_NEEDED`].

use crate::stats::curve::{Anchor, Candidate, Curve, Marginal, Node, Posterior, grid_quantiles};
use crate::stats::{Estimate, mean};

/// Gain in log-likelihood from which on a second exponential is taken: about 0.1 % of χ² with the
/// two constants more (13.8 / 2). In 1920 simulated single phases there were 4 false alarms.
const TWO_NEEDED: f64 = 6.9;

/// Errors are usually of this size, K, besides the steps of the reading (common practice, no
/// source).
const USUAL_DISTURBANCE_K: f64 = 0.3;

/// Correlation times of that disturbance that are weighed, s.
const CORRELATION_S: [f64; 5] = [5.0, 10.0, 20.0, 40.0, 80.0];

/// The end itself usually drifts this much, K/min, as air and metal around warm or cool (common
/// practice, no source).
const USUAL_DRIFT_K_PER_MIN: f64 = 0.2;

/// Columns before the exponentials: constant and drift.
const EXPONENTIALS: usize = 2;

/// Ratio of neighbouring time constants on the grid, with one and with two exponentials.
const GRID: (f64, f64) = (1.06, 1.25);

const SHORTEST_TAU_S: f64 = 3.0;

/// Readings used of a phase at most; longer ones are averaged over equal parts. The mean of an
/// exponential over equal parts is an exponential of the same time constant.
const MOST_READINGS: usize = 150;

/// An interval of a time constant wider than this ratio says nothing.
const WIDEST: f64 = 6.0;

/// Where the end is not known, a time constant that may be so many times the phase rests on what
/// the end was bounded by, and not on the readings.
const LONGEST_IN_PHASES: f64 = 3.0;

/// Where the readings go in the end.
#[derive(Debug, Clone, Copy)]
pub enum End {
    /// Somewhere between these, °C.
    Between(f64, f64),
    /// Near a value, °C, with a standard deviation, K.
    Near(f64, f64),
}

/// A phase to be fitted.
#[derive(Debug, Clone)]
pub struct Phase {
    /// Seconds from the start of the phase.
    pub times_s: Vec<f64>,
    /// Readings, °C.
    pub readings_c: Vec<f64>,
    /// Step of the reading, K.
    pub step_c: f64,
    /// Where it goes.
    pub end: End,
}

/// What one or several phases say.
#[derive(Debug, Clone)]
pub struct Approach {
    /// End minus start, K, of the longest phase.
    pub change_k: Estimate,
    /// The time constant; of two, the one that carries the larger part of the change.
    pub tau_s: Estimate,
    /// The other one, where two are needed.
    pub other_tau_s: Estimate,
}

impl Approach {
    /// Nothing could be told, and why.
    pub fn unknown(why: &str) -> Self {
        Self {
            change_k: Estimate::unknown(why),
            tau_s: Estimate::unknown(why),
            other_tau_s: Estimate::unknown(why),
        }
    }
}

impl Phase {
    /// A phase of `values` in steps of `step_s`, without the missing ones.
    pub fn new(values: &[f64], step_s: f64, step_c: f64, end: End) -> Self {
        let together = values.len().div_ceil(MOST_READINGS);
        let middle = (together as f64 - 1.0) / 2.0;
        let (times_s, readings_c) = values
            .chunks(together)
            .enumerate()
            .filter(|(_, c)| c.len() == together && c.iter().all(|v| !v.is_nan()))
            .map(|(i, c)| (((i * together) as f64 + middle) * step_s, mean(c)))
            .unzip();
        Self {
            times_s,
            readings_c,
            step_c,
            end,
        }
    }

    /// Its length, s.
    pub fn length_s(&self) -> f64 {
        self.times_s.last().map_or(0.0, |t| t - self.times_s[0])
    }

    fn moved_k(&self) -> f64 {
        let [low, high] = [f64::min, f64::max].map(|f| self.readings_c.iter().copied().reduce(f));
        high.zip(low).map_or(0.0, |(high, low)| high - low)
    }

    /// Columns: a constant, a drift in minutes, then one exponential for each of `taus_s`.
    fn curve(&self, taus_s: &[f64], candidates: Vec<Candidate>) -> Curve<'_> {
        let decay = |tau: &f64| self.times_s.iter().map(|t| (-t / tau).exp()).collect();
        let fixed = [
            vec![1.0; self.times_s.len()],
            self.times_s.iter().map(|t| t / 60.0).collect(),
        ];
        let mut anchors = vec![Anchor {
            coefficient: 1,
            value: 0.0,
            sd: USUAL_DRIFT_K_PER_MIN,
        }];
        if let End::Near(value, sd) = self.end {
            anchors.push(Anchor {
                coefficient: 0,
                value,
                sd,
            });
        }
        Curve {
            times_s: &self.times_s,
            readings: &self.readings_c,
            columns: fixed.into_iter().chain(taus_s.iter().map(decay)).collect(),
            candidates,
            anchors,
            usual_sd: (self.step_c / 12.0_f64.sqrt()).hypot(USUAL_DISTURBANCE_K),
            correlation_s: &CORRELATION_S,
        }
    }

    fn log_prior(&self, tau_s: f64) -> f64 {
        (-(-self.length_s() / tau_s).exp_m1()).ln()
    }

    fn one(&self, taus_s: &[f64]) -> Option<Posterior> {
        let candidates = (0..taus_s.len())
            .map(|i| Candidate {
                columns: vec![0, 1, i + EXPONENTIALS],
                log_prior: self.log_prior(taus_s[i]),
            })
            .collect();
        self.within(self.curve(taus_s, candidates).posterior()?)
    }

    fn two(&self, taus_s: &[f64], pairs: &[(usize, usize)]) -> Option<Posterior> {
        let candidates = pairs
            .iter()
            .map(|&(fast, slow)| Candidate {
                columns: vec![0, 1, fast + EXPONENTIALS, slow + EXPONENTIALS],
                log_prior: self.log_prior(taus_s[fast]) + self.log_prior(taus_s[slow]),
            })
            .collect();
        self.within(self.curve(taus_s, candidates).posterior()?)
    }

    fn within(&self, mut posterior: Posterior) -> Option<Posterior> {
        if let End::Between(low, high) = self.end {
            let end = |n: &Node| Marginal {
                mean: n.coefficients[0],
                sd: n.scale[(0, 0)].sqrt(),
                low,
                high,
            };
            posterior.restrict(end)?;
        }
        Some(posterior)
    }

    /// End minus start at a node.
    fn change(&self, n: &Node) -> Marginal {
        let (first, count) = (EXPONENTIALS, n.coefficients.len() - EXPONENTIALS);
        let variance: f64 = n.scale.view((first, first), (count, count)).sum();
        let decays: f64 = n.coefficients.rows(first, count).sum();
        let start = n.coefficients[0] + decays;
        let (low, high) = match self.end {
            End::Between(low, high) => (low - start, high - start),
            End::Near(..) => (f64::NEG_INFINITY, f64::INFINITY),
        };
        Marginal {
            mean: -decays,
            sd: variance.max(0.0).sqrt(),
            low,
            high,
        }
    }
}

/// Fits phases that share their time constant; the first is the one the change is told of.
pub fn fit(phases: &[Phase], what: &str) -> Approach {
    let usable: Vec<&Phase> = phases
        .iter()
        .filter(|p| p.readings_c.len() >= 8 && p.moved_k() >= 3.0 * p.step_c)
        .collect();
    let Some(&first) = usable.first() else {
        return Approach::unknown("the temperature moved less than three steps of its reading");
    };
    let length_s = usable.iter().map(|p| p.length_s()).fold(0.0, f64::max);
    let taus_s = grid(20.0 * length_s, GRID.0);
    let Some(one) = first.one(&taus_s) else {
        return Approach::unknown("no exponential fits within what physics allows");
    };
    if let Some(approach) = two(first, &one, what) {
        return approach;
    }
    pooled(&usable, one, &taus_s, what)
}

/// The time constant of all phases together, where they agree; else of the first.
fn pooled(phases: &[&Phase], mut first: Posterior, taus_s: &[f64], what: &str) -> Approach {
    let alone = first.weights(taus_s.len());
    let mut used = 1;
    for other in phases[1..].iter().filter_map(|p| p.one(taus_s)) {
        let weights = other.weights(taus_s.len());
        let log: Vec<f64> = weights.iter().map(|w| w.ln()).collect();
        let mut both = first.clone();
        if agree(&alone, &weights, taus_s) && both.reweigh(&log).is_some() {
            first = both;
            used += 1;
        }
    }
    let left = phases.len() - used;
    let mut method = format!(
        "exponential, {what} of {:.0} s; time constant on a grid, errors that follow themselves integrated out",
        phases[0].length_s()
    );
    if used > 1 {
        method += &format!("; time constant from {used} such phases");
    }
    if left > 0 {
        method += &format!("; {left} shorter ones that say otherwise or nothing left out");
    }
    let tau_s = tau(phases[0], &first.weights(taus_s.len()), taus_s, &method);
    Approach {
        change_k: change(phases[0], &first, &tau_s, &method),
        tau_s,
        other_tau_s: Estimate::unknown("one exponential is enough"),
    }
}

/// Whether two sets of weights on one grid overlap: neither 95 % interval excludes the other.
fn agree(a: &[f64], b: &[f64], taus_s: &[f64]) -> bool {
    let [a, b] = [a, b].map(|w| grid_quantiles(taus_s, w, [0.025, 0.975]));
    a[0] <= b[1] && b[0] <= a[1]
}

/// Two exponentials, where they are needed.
fn two(phase: &Phase, one: &Posterior, what: &str) -> Option<Approach> {
    let taus_s = grid(20.0 * phase.length_s(), GRID.1);
    let pairs: Vec<(usize, usize)> = (0..taus_s.len())
        .flat_map(|fast| (fast + 1..taus_s.len()).map(move |slow| (fast, slow)))
        .collect();
    let two = phase.two(&taus_s, &pairs)?;
    if two.log_likelihood - one.log_likelihood < TWO_NEEDED {
        return None;
    }
    let (mut fast, mut slow) = (vec![0.0; taus_s.len()], vec![0.0; taus_s.len()]);
    let mut slow_leads = 0.0;
    for node in &two.nodes {
        let (f, s) = pairs[node.candidate];
        fast[f] += node.weight;
        slow[s] += node.weight;
        if node.coefficients[EXPONENTIALS + 1].abs() > node.coefficients[EXPONENTIALS].abs() {
            slow_leads += node.weight;
        }
    }
    let method = |which: &str| {
        format!(
            "two exponentials needed, {what} of {:.0} s; {which}; time constants on a grid, errors that follow themselves integrated out",
            phase.length_s()
        )
    };
    let of = |weights: &[f64], which| tau(phase, weights, &taus_s, &method(which));
    let (fast, slow) = (
        of(&fast, "this is the fast one"),
        of(&slow, "this is the slow one"),
    );
    let change_k = change(phase, &two, &slow, &method("the change is that of both"));
    let (tau_s, other_tau_s) = if slow_leads > 0.5 {
        (slow, fast)
    } else {
        (fast, slow)
    };
    Some(Approach {
        change_k,
        tau_s,
        other_tau_s,
    })
}

/// End minus start; without a time constant it is an extrapolation nobody should trust.
fn change(phase: &Phase, posterior: &Posterior, slowest: &Estimate, method: &str) -> Estimate {
    let [low, middle, high] = posterior.quantiles(|n| phase.change(n), [0.025, 0.5, 0.975]);
    if slowest.known().is_none() || high - low > 1.5 * middle.abs() || low * high <= 0.0 {
        return Estimate::unknown(format!(
            "the end is not reached in {:.0} s, in which {:.0} K were seen; {low:.0} to {high:.0} K fit",
            phase.length_s(),
            phase.moved_k()
        ));
    }
    Estimate::between(middle, low, high, method)
}

fn tau(phase: &Phase, weights: &[f64], taus_s: &[f64], method: &str) -> Estimate {
    let length_s = phase.length_s();
    let logs: Vec<f64> = taus_s.iter().map(|t| t.ln()).collect();
    let [low, middle, high] = grid_quantiles(&logs, weights, [0.025, 0.5, 0.975]).map(f64::exp);
    let longest_s = match phase.end {
        End::Between(..) => LONGEST_IN_PHASES * length_s,
        End::Near(..) => f64::INFINITY,
    };
    if high > (WIDEST * low).min(longest_s) {
        return Estimate::unknown(format!(
            "{length_s:.0} s do not determine the time constant: {low:.0} to {high:.0} s both fit"
        ));
    }
    Estimate::between(middle, low, high, method)
}

fn grid(longest_s: f64, ratio: f64) -> Vec<f64> {
    std::iter::successors(Some(SHORTEST_TAU_S), |t| Some(t * ratio))
        .take_while(|t| *t <= longest_s)
        .collect()
}
