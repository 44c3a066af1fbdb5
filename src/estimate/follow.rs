//! Oil and charge air: temperatures that follow the load with a lag.
//!
//! `T - T_air = a + b q_τ(t) + c exp(-t/τ)`: q the heat into the coolant in percent of its mean
//! over hot running, lagged by τ; the last term is what was left from before. τ on a grid, the rest
//! with errors that follow themselves integrated out ([`crate::stats::curve`]), from setting off to
//! the last stop. The settled value is the mean over hot running with the lag's part put right. Simple on purpose: what goes with road speed, engine speed and thermostat beside
//! the load is left in the errors.

use super::answer::{ChargeAir, Follower, Observed};
use super::lap_means::{FEWEST, LapMeans, OverLaps, SENSORS_K, interval};
use super::prepare::{Prepared, STEP_S};
use crate::regime::STANDING_KMH;
use crate::session::Role;
use crate::stats::curve::{Candidate, Curve, Marginal, Node, Posterior, grid_quantiles};
use crate::stats::{Estimate, NORMAL_FACTOR, mean};
use crate::thermal::balance::lagged;

/// Time constants weighed, s: shortest, longest, ratio of neighbours.
const TAUS: (f64, f64, f64) = (2.0, 1200.0, 1.12);

/// Readings used at most; longer records are averaged over equal parts.
const MOST_READINGS: usize = 400;

/// Errors are usually of this size, K: road speed and thermostat act too (common practice, no
/// source).
const USUAL_ERROR_K: f64 = 1.0;

/// Correlation times of these errors that are weighed, s.
const CORRELATION_S: [f64; 4] = [10.0, 40.0, 160.0, 640.0];

/// Usual scatter of a charge-air cooler's effectiveness from window to window.
const USUAL_SCATTER: f64 = 0.015;

/// An interval of a time constant wider than this ratio says nothing.
const WIDEST: f64 = 6.0;

const BRIDGE_S: f64 = 10.0;

/// Oil over the load.
pub fn oil(session: &Prepared) -> Observed<Follower> {
    follower(session, Role::Oil)
}

/// Charge air over the load, and its cooler.
pub fn charge_air(session: &Prepared) -> Observed<ChargeAir> {
    let (before, after) = (
        follower(session, Role::ChargeIn),
        follower(session, Role::ChargeOut),
    );
    if before.seen().is_none() && after.seen().is_none() {
        return match before {
            Observed::Missing(_) if session.grid.get(Role::ChargeIn).is_none() => {
                Observed::missing("no charge_in or charge_out channel")
            }
            Observed::Missing(why) => Observed::Missing(why),
            Observed::Seen(_) => Observed::missing("no charge air"),
        };
    }
    Observed::Seen(ChargeAir {
        before,
        after,
        effectiveness: cooler(session),
    })
}

/// `(T_in - T_out) / (T_in - T_air)` over windows of hot running.
fn cooler(session: &Prepared) -> Estimate {
    let channel = |role| session.grid.bridged(role, BRIDGE_S);
    let (Some(inlet), Some(outlet)) = (channel(Role::ChargeIn), channel(Role::ChargeOut)) else {
        return Estimate::unknown("needs charge_in and charge_out");
    };
    let Some(air) = session.ambient_c.as_deref() else {
        return Estimate::unknown("needs ambient");
    };
    let laps = LapMeans::of(session, &[&inlet, &outlet, air]);
    if laps.len() < FEWEST {
        return Estimate::unknown(format!("fewer than {FEWEST} laps or parts of hot running"));
    }
    let [inlet, outlet, air] = [&inlet, &outlet, air].map(|c| laps.means(c));
    let excess: Vec<f64> = inlet.iter().zip(&air).map(|(i, a)| i - a).collect();
    if excess.iter().any(|e| *e < 5.0) {
        return Estimate::unknown("charge air before the cooler is less than 5 K over ambient");
    }
    let ratios: Vec<f64> = (inlet.iter().zip(&outlet).zip(&excess))
        .map(|((i, o), e)| (i - o) / e)
        .collect();
    let over_laps = OverLaps {
        times_s: &laps.times_s(),
        values: &ratios,
        regressors: vec![vec![1.0; ratios.len()]],
        anchors: Vec::new(),
        usual_sd: USUAL_SCATTER,
    };
    let Some(posterior) = over_laps.posterior() else {
        return Estimate::unknown("the windows of hot running say nothing");
    };
    let [low, middle, high] = interval(&posterior, &[1.0]);
    let sensors = NORMAL_FACTOR * SENSORS_K / mean(&excess);
    Estimate::between(
        middle,
        middle - (middle - low).hypot(sensors),
        middle + (high - middle).hypot(sensors),
        format!(
            "mean of {} windows of about a lap, errors that follow themselves integrated out; sensors ±{SENSORS_K} K (1 sd)",
            laps.len()
        ),
    )
}

fn follower(session: &Prepared, role: Role) -> Observed<Follower> {
    let Some(values) = session.grid.bridged(role, BRIDGE_S) else {
        return Observed::missing(format!("no {} channel", role.name()));
    };
    if session.drive.stints.is_empty() {
        return Observed::missing("no hot running");
    }
    let declined = |why: &str| {
        let none = Estimate::unknown(why);
        Observed::Seen(Follower {
            settled_c: none.clone(),
            excess_k_per_kw: none.clone(),
            excess_k_per_percent: none.clone(),
            tau_s: none,
        })
    };
    let Some(air) = session.ambient_c.as_deref() else {
        return declined("needs ambient");
    };
    let Some(heat) = &session.heat else {
        return declined("needs a heat input");
    };
    let Some(record) = Record::of(session, &values, air, &heat.watts) else {
        return declined("too few readings on the move");
    };
    match record.posterior() {
        Some(posterior) => Observed::Seen(record.tell(&posterior, heat.scale_log_sd)),
        None => declined("the lagged load does not fit"),
    }
}

/// The record on the move in equal parts.
struct Record {
    times_s: Vec<f64>,
    excess_k: Vec<f64>,
    taus_s: Vec<f64>,
    /// Load lagged by each time constant, %.
    loads: Vec<Vec<f64>>,
    mean_heat_kw: f64,
    /// Mean of the channel over hot running, °C.
    mean_c: f64,
    /// Which readings are of hot running.
    hot: Vec<bool>,
}

impl Record {
    fn of(session: &Prepared, values: &[f64], air: &[f64], heat_w: &[f64]) -> Option<Self> {
        let stints = &session.drive.stints;
        let moves = |v: &f64| *v >= STANDING_KMH;
        let from = session.speed_kmh.iter().position(moves)?;
        let to = session.speed_kmh.iter().rposition(moves)? + 1;
        let mean_heat_w = session.mean_in_stints(heat_w);
        let together = (to - from).div_ceil(MOST_READINGS);
        let parts: Vec<(usize, usize)> = (from..to)
            .step_by(together)
            .map(|a| (a, a + together))
            .filter(|&(a, b)| b <= to && (a..b).all(|i| !(values[i].is_nan() || air[i].is_nan())))
            .collect();
        let over = |of: &dyn Fn(usize) -> f64| -> Vec<f64> {
            let one = |&(a, b): &(usize, usize)| (a..b).map(of).sum::<f64>() / (b - a) as f64;
            parts.iter().map(one).collect()
        };
        let taus_s: Vec<f64> = std::iter::successors(Some(TAUS.0), |t| Some(t * TAUS.2))
            .take_while(|t| *t <= TAUS.1)
            .collect();
        let loads = taus_s
            .iter()
            .map(|tau| {
                let load = lagged(&heat_w[from..to], *tau, STEP_S);
                over(&|i| 100.0 * load[i - from] / mean_heat_w)
            })
            .collect();
        (parts.len() >= 40 && mean_heat_w > 0.0).then(|| Self {
            times_s: over(&|i| (i - from) as f64 * STEP_S),
            excess_k: over(&|i| values[i] - air[i]),
            taus_s,
            loads,
            mean_heat_kw: mean_heat_w / 1000.0,
            mean_c: session.mean_in_stints(values),
            hot: parts
                .iter()
                .map(|&(a, _)| stints.iter().any(|&(from, to)| (from..to).contains(&a)))
                .collect(),
        })
    }

    fn posterior(&self) -> Option<Posterior> {
        let count = self.taus_s.len();
        let mut columns = vec![vec![1.0; self.times_s.len()]];
        columns.extend(self.loads.iter().cloned());
        for tau in &self.taus_s {
            columns.push(self.times_s.iter().map(|t| (-t / tau).exp()).collect());
        }
        // What was left from before dies within the first readings where τ is short.
        let lasts = |tau: f64| tau > self.times_s[1] - self.times_s[0];
        let candidates = (0..count)
            .map(|i| Candidate {
                columns: if lasts(self.taus_s[i]) {
                    vec![0, 1 + i, 1 + count + i]
                } else {
                    vec![0, 1 + i]
                },
                log_prior: 0.0,
            })
            .collect();
        Curve {
            times_s: &self.times_s,
            readings: &self.excess_k,
            columns,
            candidates,
            anchors: Vec::new(),
            usual_sd: USUAL_ERROR_K,
            correlation_s: &CORRELATION_S,
        }
        .posterior()
    }

    fn tell(&self, posterior: &Posterior, scale_log_sd: f64) -> Follower {
        let method = format!(
            "follows the lagged load over {} readings; time constant on a grid, errors that follow themselves integrated out",
            self.times_s.len()
        );
        let slope = |n: &Node| {
            let mut weights = vec![0.0; n.coefficients.len()];
            weights[1] = 1.0;
            Marginal::of(n, &weights)
        };
        let at = [0.025, 0.5, 0.975];
        let [low, middle, high] = posterior.quantiles(slope, at);
        let per_kw = 100.0 / self.mean_heat_kw;
        let scale = NORMAL_FACTOR * scale_log_sd * middle.abs();
        let [under, settled, over] = posterior
            .quantiles(|n| self.still_to_come(n), at)
            .map(|k| k + self.mean_c);
        let sensor = NORMAL_FACTOR * SENSORS_K;
        Follower {
            settled_c: Estimate::between(
                settled,
                settled - (settled - under).hypot(sensor),
                settled + (over - settled).hypot(sensor),
                format!(
                    "mean of hot running, and what the lag still holds back: {method}; sensor ±{SENSORS_K} K (1 sd)"
                ),
            ),
            excess_k_per_kw: Estimate::between(
                per_kw * middle,
                per_kw * (middle - (middle - low).hypot(scale)),
                per_kw * (middle + (high - middle).hypot(scale)),
                format!(
                    "{method}; scale of the heat input ±{:.0} % (1 sd)",
                    100.0 * scale_log_sd
                ),
            ),
            excess_k_per_percent: Estimate::between(middle, low, high, &*method),
            tau_s: self.tau(posterior, &method),
        }
    }

    /// Settled value minus mean over hot running, by a node's lag: load that has not yet come
    /// through, and what is left from before.
    fn still_to_come(&self, n: &Node) -> Marginal {
        let over_hot = |values: &dyn Fn(usize) -> f64| {
            let hot: Vec<f64> = (0..self.hot.len())
                .filter(|&i| self.hot[i])
                .map(values)
                .collect();
            if hot.is_empty() { 0.0 } else { mean(&hot) }
        };
        let tau = self.taus_s[n.candidate];
        let load = &self.loads[n.candidate];
        let left = |i: usize| (-self.times_s[i] / tau).exp();
        let weights = [0.0, 100.0 - over_hot(&|i| load[i]), -over_hot(&left)];
        Marginal::of(n, &weights[..n.coefficients.len()])
    }

    fn tau(&self, posterior: &Posterior, method: &str) -> Estimate {
        let logs: Vec<f64> = self.taus_s.iter().map(|t| t.ln()).collect();
        let weights = posterior.weights(logs.len());
        let [low, middle, high] =
            grid_quantiles(&logs, &weights, [0.025, 0.5, 0.975]).map(f64::exp);
        if high > WIDEST * low || high > 0.9 * TAUS.1 {
            return Estimate::unknown(format!(
                "the drive does not determine it: {low:.0} to {high:.0} s fit"
            ));
        }
        // The load is known to a step only.
        Estimate::between(
            middle,
            (low - STEP_S).max(0.0),
            high + STEP_S,
            format!("{method}; and a step of {STEP_S} s"),
        )
    }
}

#[cfg(test)]
mod tests;
