//! The balance over each window of hot running (`hot_windows`), with slopes by what the sessions share. The sums are
//! those of `joint`.

use super::heat_law::{Logs, Sloped};
use super::joint::{AIR, CAPACITY, LOAD, SHARED, SPEED, STORE, STORE_TAU, WITHIN};
use super::prepare::{METAL_LAG_S, Prepared, SENSOR_LAG_S, STEP_S};
use crate::stats::{autocorrelation, mean, variance_inflation};
use crate::thermal::balance::lagged_abreast;
use crate::thermal::conductance::relative;

/// One window's sums, with their slopes by what the sessions share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Heat in minus heat stored, J.
    pub heat_j: f64,
    /// `∫ φ f dt`, s.
    pub weight_s: f64,
    /// Weighted excess of coolant over ambient, K.
    pub excess_k: f64,
    /// Slopes of [`Self::heat_j`].
    heat_slopes: [f64; SHARED],
    /// Slopes by the exponent on air flow, the only one they have: of [`Self::weight_s`], and of
    /// `∫ φ f (T - T_air) dt`.
    flow_slopes: [f64; 2],
}

/// `∫ φ f dt` over a window, s, the excess weighted by it, K, and the slopes of [`Window`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Flow {
    pub weight_s: f64,
    pub excess_k: f64,
    slopes: [f64; 2],
}

/// What a session brings to the fit.
pub(super) struct Input<'a> {
    pub session: &'a Prepared,
    pub logs: Logs,
    ambient_c: &'a [f64],
    pub windows: Vec<(usize, usize)>,
    /// Rise of the coolant over each window, K.
    rises_k: Vec<f64>,
}

impl<'a> Input<'a> {
    pub fn new(session: &'a Prepared) -> Option<Self> {
        let windows = session.windows.used();
        (!windows.is_empty() && session.heat.is_some()).then_some(())?;
        let coolant_c = &session.coolant_c;
        let rise_k = |w: &(usize, usize)| level(coolant_c, w.1) - level(coolant_c, w.0);
        Some(Self {
            session,
            logs: Logs::of(session),
            ambient_c: session.ambient_c.as_ref()?,
            rises_k: windows.iter().map(rise_k).collect(),
            windows,
        })
    }

    /// `∫ Q dt` over each window, J, with `heat_w` into the coolant; and so of its slopes.
    pub fn heat_j<const N: usize>(&self, heat_w: &[[f64; N]]) -> Vec<[f64; N]> {
        // Heat shows in the reading only after metal and sensor have followed.
        let of_metal = lagged_abreast(heat_w, METAL_LAG_S, STEP_S);
        let heat = lagged_abreast(&of_metal, SENSOR_LAG_S, STEP_S);
        let sum = |&(a, b): &(usize, usize)| {
            let add = |sum: [f64; N], heat: &[f64; N]| std::array::from_fn(|k| sum[k] + heat[k]);
            heat[a..b].iter().fold([0.0; N], add).map(|s| s * STEP_S)
        };
        self.windows.iter().map(sum).collect()
    }

    /// The weights of the windows with the exponent on air flow.
    pub fn flow(&self, exponent: f64) -> Vec<Flow> {
        let session = self.session;
        let sum = |&(a, b): &(usize, usize)| {
            let (mut weight, mut weighted, mut slopes) = (0.0, 0.0, [0.0; 2]);
            for i in a..b {
                let log_flow = session.log_air_flow[i];
                let flow = session.opening[i] * relative(log_flow, exponent);
                let excess_k = session.coolant_c[i] - self.ambient_c[i];
                weight += flow;
                weighted += flow * excess_k;
                slopes[0] += flow * log_flow;
                slopes[1] += flow * log_flow * excess_k;
            }
            Flow {
                weight_s: weight * STEP_S,
                excess_k: weighted / weight,
                slopes: slopes.map(|s| s * STEP_S),
            }
        };
        self.windows.iter().map(sum).collect()
    }

    /// Rise over each window of a slow store that follows within `tau_s`, K, and its slope by the logarithm of `tau_s`.
    pub fn store_rises_k(&self, tau_s: f64) -> Vec<[f64; 2]> {
        let behind_k = behind_store_sloped(self.session, tau_s);
        let rise_k = |&(a, b): &(usize, usize)| {
            let add = |sum: [f64; 2], k: &[f64; 2]| [sum[0] + k[0], sum[1] + k[1]];
            let [behind, slope] = behind_k[a..b].iter().fold([0.0; 2], add);
            [behind, slope - behind].map(|k| k * STEP_S / tau_s)
        };
        self.windows.iter().map(rise_k).collect()
    }

    /// The windows' sums: heat stored is what coolant and store rose by times the heat capacity of each over the
    /// car sheet's.
    pub fn sums(
        &self,
        heat_j: &[Sloped],
        flow: &[Flow],
        store_rises_k: &[[f64; 2]],
        [capacity, store]: [f64; 2],
    ) -> Vec<Window> {
        let sheet = self.session.capacity_j_per_k;
        let windows = heat_j
            .iter()
            .zip(flow)
            .zip(store_rises_k)
            .zip(&self.rises_k);
        (windows)
            .map(|(((heat, flow), [store_k, store_slope]), rise_k)| {
                let mut heat_slopes = [0.0; SHARED];
                heat_slopes[LOAD] = heat[1];
                heat_slopes[WITHIN] = heat[1];
                heat_slopes[SPEED] = heat[2];
                heat_slopes[CAPACITY] = -sheet * capacity * rise_k;
                heat_slopes[STORE] = -sheet * store_k;
                heat_slopes[STORE_TAU] = -sheet * store * store_slope;
                Window {
                    heat_j: heat[0] - sheet * (capacity * rise_k + store * store_k),
                    weight_s: flow.weight_s,
                    excess_k: flow.excess_k,
                    heat_slopes,
                    flow_slopes: flow.slopes,
                }
            })
            .collect()
    }
}

/// By how much a slow store is behind the coolant at each step, K: as warm as the coolant at the first reading, from
/// there on it follows within `tau_s`. Zero where coolant was not read.
pub fn behind_store_k(session: &Prepared, tau_s: f64) -> Vec<f64> {
    let sloped = behind_store_sloped(session, tau_s);
    sloped.into_iter().map(|[behind_k, _]| behind_k).collect()
}

/// The same with its slope by the logarithm of `tau_s`.
fn behind_store_sloped(session: &Prepared, tau_s: f64) -> Vec<[f64; 2]> {
    let over_tau = STEP_S / tau_s;
    let follow = -(-over_tau).exp_m1();
    let follow_slope = -over_tau * (-over_tau).exp();
    let coolant_c = &session.coolant_c;
    let first = coolant_c.iter().copied().find(|c| !c.is_nan());
    let (mut store_c, mut slope) = (first.unwrap_or(f64::NAN), 0.0);
    let step = |&coolant: &f64| {
        if coolant.is_nan() {
            return [0.0; 2];
        }
        let before_k = coolant - store_c;
        slope += follow_slope * before_k - follow * slope;
        store_c += follow * before_k;
        [coolant - store_c, -slope]
    };
    coolant_c.iter().map(step).collect()
}

/// Coolant at the border before step `i`: the mean of five steps on each side, because the
/// reading has whole degrees.
fn level(coolant_c: &[f64], i: usize) -> f64 {
    let near = &coolant_c[i.saturating_sub(5)..(i + 5).min(coolant_c.len())];
    let read: Vec<f64> = near.iter().copied().filter(|v| !v.is_nan()).collect();
    mean(&read)
}

/// `u`: one over the conductance of the session, K/W.
pub(super) fn reciprocal(windows: &[Window]) -> f64 {
    let excess: f64 = windows.iter().map(|w| w.weight_s * w.excess_k).sum();
    excess / windows.iter().map(|w| w.heat_j).sum::<f64>()
}

/// Slopes of the logarithm of [`reciprocal`] by what the sessions share.
pub(super) fn log_reciprocal_slopes(windows: &[Window]) -> [f64; SHARED] {
    let excess: f64 = windows.iter().map(|w| w.weight_s * w.excess_k).sum();
    let heat_j: f64 = windows.iter().map(|w| w.heat_j).sum();
    std::array::from_fn(|k| {
        let of_heat: f64 = windows.iter().map(|w| w.heat_slopes[k]).sum();
        let of_excess: f64 = windows.iter().map(|w| w.flow_slopes_by(k)[1]).sum();
        of_excess / excess - of_heat / heat_j
    })
}

/// What the session's balance misses in each window, K.
pub(super) fn misses(windows: &[Window]) -> Vec<f64> {
    let u = reciprocal(windows);
    windows
        .iter()
        .map(|w| u * w.heat_j / w.weight_s - w.excess_k)
        .collect()
}

/// Slopes of [`misses`] by what the sessions share, one row a window.
pub(super) fn miss_slopes(windows: &[Window]) -> Vec<[f64; SHARED]> {
    let u = reciprocal(windows);
    let of_log_u = log_reciprocal_slopes(windows);
    let of_window = |w: &Window| {
        std::array::from_fn(|k| {
            let [of_weight, of_excess] = w.flow_slopes_by(k);
            let miss_k = u * w.heat_j / w.weight_s - w.excess_k;
            let of_load = u * (of_log_u[k] * w.heat_j + w.heat_slopes[k]);
            (of_load - of_excess - miss_k * of_weight) / w.weight_s
        })
    };
    windows.iter().map(of_window).collect()
}

impl Window {
    fn flow_slopes_by(&self, shared: usize) -> [f64; 2] {
        if shared == AIR {
            self.flow_slopes
        } else {
            [0.0; 2]
        }
    }
}

/// Standard error of the session's mean excess: a ratio estimator's, from the weighted misses,
/// inflated by their autocorrelation. Infinite with a single window.
pub(super) fn standard_error_k(windows: &[Window], misses: &[f64]) -> f64 {
    let n = windows.len() as f64;
    let weight: f64 = windows.iter().map(|w| w.weight_s).sum();
    let sum: f64 = windows
        .iter()
        .zip(misses)
        .map(|(w, r)| (w.weight_s * r).powi(2))
        .sum();
    let inflation = variance_inflation(autocorrelation(misses, 1).unwrap_or(0.0));
    (n / (n - 1.0) * sum * inflation).sqrt() / weight
}
