//! Windows of hot running, and the balance over each.
//!
//! A window is a whole number of laps where laps can be told, so that every window has the same
//! mix of straights and corners; else an equal part of the stint. The sums are those of `joint`.

use super::heat_law::Logs;
use super::prepare::{METAL_LAG_S, Prepared, SENSOR_LAG_S, STEP_S};
use crate::laps::lap_borders;
use crate::stats::{autocorrelation, mean, variance_inflation};
use crate::thermal::balance::lagged;
use crate::thermal::conductance::relative;

/// Length of a window, s: a lap or so, and twice the minute over which wind is correlated.
const WINDOW_S: f64 = 90.0;

/// One window's sums.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Heat in minus heat stored, J.
    pub heat_j: f64,
    /// `∫ φ f dt`, s.
    pub weight_s: f64,
    /// Weighted excess of coolant over ambient, K.
    pub excess_k: f64,
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
        let windows: Vec<_> = session
            .drive
            .stints
            .iter()
            .flat_map(|s| split(*s, &session.speed_kmh))
            .collect();
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

    /// `∫ Q dt` over each window, J, with `heat_w` into the coolant.
    pub fn heat_j(&self, heat_w: &[f64]) -> Vec<f64> {
        // Heat shows in the reading only after metal and sensor have followed.
        let heat = lagged(&lagged(heat_w, METAL_LAG_S, STEP_S), SENSOR_LAG_S, STEP_S);
        let sum = |&(a, b): &(usize, usize)| heat[a..b].iter().sum::<f64>() * STEP_S;
        self.windows.iter().map(sum).collect()
    }

    /// `∫ φ f dt` over each window, s, and the excess weighted by it, K, with the exponent on air flow.
    pub fn flow(&self, exponent: f64) -> Vec<(f64, f64)> {
        let session = self.session;
        let sum = |&(a, b): &(usize, usize)| {
            let (mut weight, mut weighted) = (0.0, 0.0);
            for i in a..b {
                let flow = session.opening[i] * relative(session.log_air_flow[i], exponent);
                weight += flow;
                weighted += flow * (session.coolant_c[i] - self.ambient_c[i]);
            }
            (weight * STEP_S, weighted / weight)
        };
        self.windows.iter().map(sum).collect()
    }

    /// Rise of a slow store that follows within `tau_s` over each window, K.
    pub fn store_rises_k(&self, tau_s: f64) -> Vec<f64> {
        let behind_k = behind_store_k(self.session, tau_s);
        let rise_k = |&(a, b): &(usize, usize)| behind_k[a..b].iter().sum::<f64>() * STEP_S / tau_s;
        self.windows.iter().map(rise_k).collect()
    }

    /// The windows' sums: heat stored is what coolant and store rose by times the heat capacity of each over the
    /// car sheet's.
    pub fn sums(
        &self,
        heat_j: &[f64],
        flow: &[(f64, f64)],
        store_rises_k: &[f64],
        [capacity, store]: [f64; 2],
    ) -> Vec<Window> {
        let stored_j = |i: usize| {
            let rise_k = capacity * self.rises_k[i] + store * store_rises_k[i];
            self.session.capacity_j_per_k * rise_k
        };
        (heat_j.iter().zip(flow).enumerate())
            .map(|(i, (heat_j, &(weight_s, excess_k)))| Window {
                heat_j: heat_j - stored_j(i),
                weight_s,
                excess_k,
            })
            .collect()
    }
}

/// Mean length of the windows of a session, s. `None`: it has fewer than two.
pub fn mean_window_s(session: &Prepared) -> Option<f64> {
    let windows = Input::new(session)?.windows;
    let steps: usize = windows.iter().map(|(a, b)| b - a).sum();
    (windows.len() > 1).then(|| steps as f64 * STEP_S / windows.len() as f64)
}

/// The slow store at each step, °C: as warm as the coolant at the first reading, from there on it follows within `tau_s`.
pub fn store_c(session: &Prepared, tau_s: f64) -> Vec<f64> {
    lagged(&session.coolant_c, tau_s, STEP_S)
}

/// By how much it is behind the coolant at each step, K. Zero where coolant was not read.
pub fn behind_store_k(session: &Prepared, tau_s: f64) -> Vec<f64> {
    let behind = |(coolant, store): (&f64, f64)| coolant - store;
    (session
        .coolant_c
        .iter()
        .zip(store_c(session, tau_s))
        .map(behind))
    .map(|k| if k.is_nan() { 0.0 } else { k })
    .collect()
}

/// Coolant at the border before step `i`: the mean of five steps on each side, because the
/// reading has whole degrees.
fn level(coolant_c: &[f64], i: usize) -> f64 {
    let near = &coolant_c[i.saturating_sub(5)..(i + 5).min(coolant_c.len())];
    let read: Vec<f64> = near.iter().copied().filter(|v| !v.is_nan()).collect();
    mean(&read)
}

/// A stint in windows: whole laps where laps can be told (what is left of a lap at the ends is
/// not used, so that every window has the same mix of straights and corners), else equal parts as
/// near to [`WINDOW_S`] as goes.
pub(super) fn split((from, to): (usize, usize), speed_kmh: &[f64]) -> Vec<(usize, usize)> {
    if let Some(borders) = lap_borders(speed_kmh, (from, to), STEP_S) {
        let laps = (WINDOW_S * 0.6 / STEP_S / mean_lap(&borders))
            .ceil()
            .max(1.0) as usize;
        let windows: Vec<_> = borders
            .iter()
            .step_by(laps)
            .copied()
            .collect::<Vec<_>>()
            .windows(2)
            .map(|w| (w[0], w[1]))
            .collect();
        if windows.len() > 1 {
            return windows;
        }
    }
    let length = to - from;
    let parts = ((length as f64 * STEP_S / WINDOW_S).round() as usize).max(1);
    (0..parts)
        .map(|k| (from + length * k / parts, from + length * (k + 1) / parts))
        .collect()
}

fn mean_lap(borders: &[usize]) -> f64 {
    (borders[borders.len() - 1] - borders[0]) as f64 / (borders.len() - 1) as f64
}

/// `u`: one over the conductance of the session, K/W.
pub(super) fn reciprocal(windows: &[Window]) -> f64 {
    let excess: f64 = windows.iter().map(|w| w.weight_s * w.excess_k).sum();
    excess / windows.iter().map(|w| w.heat_j).sum::<f64>()
}

/// What the session's balance misses in each window, K.
pub(super) fn misses(windows: &[Window]) -> Vec<f64> {
    let u = reciprocal(windows);
    windows
        .iter()
        .map(|w| u * w.heat_j / w.weight_s - w.excess_k)
        .collect()
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_part_a_stint_evenly() {
        let no_laps = vec![100.0; 400];
        assert_eq!(
            split((100, 370), &no_laps),
            [(100, 190), (190, 280), (280, 370)]
        );
        assert_eq!(split((0, 40), &no_laps), [(0, 40)]);
    }
}
