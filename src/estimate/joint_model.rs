//! The balance of `joint` over windows, at any values of what the sessions share.
//!
//! Finite differences ask for nearly the same sums again and again: heat depends on two of the shared
//! parameters and air flow on another, so the sums of the last few values are remembered.

use std::cell::RefCell;
use std::rc::Rc;

use super::heat_law::{HeatLaw, Logs, Pivot};
use super::joint::{
    AIR, CAPACITY, LOAD, NoFit, PRIORS, SHARED, SPEED, STORE, STORE_TAU, SessionBalance, WITHIN,
    store_tau_s,
};
use super::prepare::Prepared;
use super::windows::{Input, Window, misses, reciprocal, standard_error_k};
use crate::stats::{autocorrelation, variance_inflation};

/// Scatter of a window where there are too few to tell it, K (by simulation), and the degrees of
/// freedom that this is worth.
pub(super) const USUAL_WINDOW_SD_K: f64 = 1.0;
pub(super) const USUAL_DF: f64 = 2.0;

/// How many values are remembered: the base and both sides of it.
const MOST_REMEMBERED: usize = 3;

/// The last few values of a function, the latest first.
struct Remembered<K, V>(RefCell<Vec<(K, Rc<V>)>>);

impl<K, V> Default for Remembered<K, V> {
    fn default() -> Self {
        Self(RefCell::new(Vec::new()))
    }
}

impl<K: PartialEq + Copy, V> Remembered<K, V> {
    fn at(&self, key: K, value: impl FnOnce() -> V) -> Rc<V> {
        let mut last = self.0.borrow_mut();
        let (_, found) = match last.iter().position(|(k, _)| *k == key) {
            Some(place) => last.remove(place),
            None => (key, Rc::new(value())),
        };
        last.insert(0, (key, Rc::clone(&found)));
        last.truncate(MOST_REMEMBERED);
        found
    }
}

/// What the sessions bring, and the balance over their windows at any shared parameters.
pub(super) struct Model<'a> {
    inputs: Vec<Input<'a>>,
    /// The sessions whose mean heat the law keeps: those of the first inputs, or of all.
    fitted: &'a [&'a Prepared],
    pivot: Pivot,
    /// Heat over the windows, J, by the exponents on load and on engine speed.
    heats_j: Remembered<[f64; 2], Vec<Vec<f64>>>,
    /// Weight and weighted excess of the windows, by the exponent on air flow.
    flows: Remembered<[f64; 1], Vec<Vec<(f64, f64)>>>,
    /// Rise of the slow store over the windows, K, by the logarithm of its time constant over the usual one.
    store_rises_k: Remembered<[f64; 1], Vec<Vec<f64>>>,
}

impl<'a> Model<'a> {
    /// Over `sessions`, of which the law of heat keeps the mean of the `fitted`, the first.
    ///
    /// # Errors
    /// A session without ambient, heat input or stints.
    pub fn of(sessions: &[&'a Prepared], fitted: &'a [&'a Prepared]) -> Result<Self, NoFit> {
        let inputs: Option<Vec<Input>> = sessions.iter().map(|s| Input::new(s)).collect();
        Ok(Self {
            inputs: inputs.ok_or_else(|| {
                NoFit("a session has no ambient, no heat input or no hot running".to_owned())
            })?,
            fitted,
            pivot: Pivot::of(fitted),
            heats_j: Remembered::default(),
            flows: Remembered::default(),
            store_rises_k: Remembered::default(),
        })
    }

    /// Windows with the exponent on load that holds within sessions.
    fn windows(&self, psi: &[f64]) -> Vec<Vec<Window>> {
        self.windows_at(psi, psi[LOAD] + psi[WITHIN])
    }

    fn windows_at(&self, psi: &[f64], load_exponent: f64) -> Vec<Vec<Window>> {
        let exponents = [load_exponent, psi[SPEED]];
        let heats_j = self.heats_j.at(exponents, || self.heats_j(exponents));
        let flow = |exponent| self.inputs.iter().map(|i| i.flow(exponent)).collect();
        let flows = self.flows.at([psi[AIR]], || flow(psi[AIR]));
        let rises = |tau_s| self.inputs.iter().map(|i| i.store_rises_k(tau_s)).collect();
        let rises_k = (self.store_rises_k).at([psi[STORE_TAU]], || rises(store_tau_s(psi)));
        let capacities = [psi[CAPACITY].exp(), psi[STORE]];
        (self
            .inputs
            .iter()
            .zip(&*heats_j)
            .zip(&*flows)
            .zip(&*rises_k))
        .map(|(((input, heat_j), flow), rises_k)| input.sums(heat_j, flow, rises_k, capacities))
        .collect()
    }

    fn heats_j(&self, [load_exponent, rpm_exponent]: [f64; 2]) -> Vec<Vec<f64>> {
        let (law, heats) = self.law(load_exponent, rpm_exponent);
        let further = self.inputs[self.fitted.len()..].iter();
        let heats_w = heats
            .into_iter()
            .chain(further.map(|i| law.heat_of(&i.logs)));
        (self.inputs.iter().zip(heats_w))
            .map(|(input, heat_w)| input.heat_j(&heat_w))
            .collect()
    }

    pub fn law(&self, load_exponent: f64, rpm_exponent: f64) -> (HeatLaw, Vec<Vec<f64>>) {
        let logs: Vec<&Logs> = self.inputs.iter().map(|i| &i.logs).collect();
        let logs = &logs[..self.fitted.len()];
        HeatLaw::over(self.fitted, logs, self.pivot, load_exponent, rpm_exponent)
    }

    pub fn penalised(&self, psi: &[f64], sd_k: f64) -> Vec<f64> {
        let data = self
            .windows(psi)
            .into_iter()
            .flat_map(|w| misses(&w))
            .map(|r| r / sd_k);
        let priors = psi
            .iter()
            .zip(PRIORS)
            .map(|(value, p)| (value - p.centre) / p.sd);
        data.chain(priors).collect()
    }

    /// Scatter of a window, inflated by the autocorrelation within sessions: windows that follow
    /// each other tell less about the shared parameters than their number says. A few windows do
    /// not tell their own scatter: [`USUAL_WINDOW_SD_K`] stands in with [`USUAL_DF`] degrees of
    /// freedom.
    pub fn window_sd_k(&self, psi: &[f64]) -> f64 {
        let (mut sum, mut df, mut r1, mut counted) = (0.0, 0.0, 0.0, 0.0);
        for windows in self.windows(psi) {
            let misses = misses(&windows);
            sum += misses.iter().map(|r| r * r).sum::<f64>();
            df += misses.len() as f64 - 1.0;
            if let Some(r) = autocorrelation(&misses, 1) {
                r1 += r * misses.len() as f64;
                counted += misses.len() as f64;
            }
        }
        let inflation = if counted > 0.0 {
            variance_inflation(r1 / counted)
        } else {
            1.0
        };
        let usual = USUAL_DF * USUAL_WINDOW_SD_K.powi(2);
        ((sum * inflation + usual) / (df + USUAL_DF)).sqrt()
    }

    fn log_g(&self, psi: &[f64]) -> Vec<f64> {
        self.windows_at(psi, psi[LOAD])
            .iter()
            .map(|w| -reciprocal(w).ln())
            .collect()
    }

    pub fn balances(&self, psi: &[f64; SHARED]) -> Result<Vec<SessionBalance>, NoFit> {
        let slopes: Vec<Vec<f64>> = (0..SHARED)
            .map(|i| {
                const STEP: f64 = 1e-4;
                let (mut up, mut down) = (*psi, *psi);
                up[i] += STEP;
                down[i] -= STEP;
                let pairs = self.log_g(&up).into_iter().zip(self.log_g(&down));
                pairs.map(|(u, d)| (u - d) / (2.0 * STEP)).collect()
            })
            .collect();
        let logs = self.log_g(psi);
        self.windows(psi)
            .iter()
            .enumerate()
            .map(|(s, windows)| {
                if !logs[s].is_finite() {
                    let id = &self.inputs[s].session.id;
                    return Err(NoFit(format!(
                        "the heat balance of {id} comes out negative"
                    )));
                }
                let residuals_k = misses(windows);
                let weight: f64 = windows.iter().map(|w| w.weight_s).sum();
                let excess_k =
                    windows.iter().map(|w| w.weight_s * w.excess_k).sum::<f64>() / weight;
                let df = (windows.len() as f64 - 1.0).max(0.0);
                Ok(SessionBalance {
                    log_g: logs[s],
                    log_g_se: standard_error_k(windows, &residuals_k) / excess_k,
                    df,
                    sensitivity: std::array::from_fn(|i| slopes[i][s]),
                    loads_k: (windows.iter().zip(&residuals_k))
                        .map(|(w, r)| w.excess_k + r)
                        .collect(),
                    residuals_k,
                    excess_k,
                })
            })
            .collect()
    }
}
