//! The balance of `joint` over windows, at any values of what the sessions share.
//!
//! Sums come with their slopes by what the sessions share. Heat depends on two of the shared parameters, air flow and
//! the lag of the store on another each: misses and their slopes are asked for at the same values one after the
//! other, so the last sums are remembered.

use std::cell::RefCell;
use std::rc::Rc;

use nalgebra::DMatrix;

use super::heat_law::{HeatLaw, Logs, Pivot, Sloped};
use super::joint::{
    AIR, CAPACITY, LOAD, NoFit, PRIORS, SHARED, SPEED, STORE, STORE_TAU, SessionBalance, WITHIN,
    store_tau_s,
};
use super::prepare::Prepared;
use super::untold;
use super::windows::{
    Flow, Input, Window, log_reciprocal_slopes, miss_slopes, misses, reciprocal, standard_error_k,
};
use crate::stats::{autocorrelation, variance_inflation};

/// Scatter of a window where there are too few to tell it, K (by simulation), and the degrees of
/// freedom that this is worth.
pub(super) const USUAL_WINDOW_SD_K: f64 = 1.0;
pub(crate) const USUAL_DF: f64 = 2.0;

/// How many values are remembered: with the exponent on load that holds within sessions, and between them.
const MOST_REMEMBERED: usize = 2;

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
    heats_j: Remembered<[f64; 2], Vec<Vec<Sloped>>>,
    /// Weight and weighted excess of the windows, by the exponent on air flow.
    flows: Remembered<[f64; 1], Vec<Vec<Flow>>>,
    /// Rise of the slow store over the windows, K, by the logarithm of its time constant over the usual one.
    store_rises_k: Remembered<[f64; 1], Vec<Vec<[f64; 2]>>>,
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

    fn heats_j(&self, [load_exponent, rpm_exponent]: [f64; 2]) -> Vec<Vec<Sloped>> {
        let (law, heats) = self.sloped(load_exponent, rpm_exponent);
        let further = self.inputs[self.fitted.len()..].iter();
        let heats_w = heats
            .into_iter()
            .chain(further.map(|i| law.sloped(&i.logs)));
        (self.inputs.iter().zip(heats_w))
            .map(|(input, heat_w)| input.heat_j(&heat_w))
            .collect()
    }

    /// The law of heat with these exponents.
    pub fn law(&self, load_exponent: f64, rpm_exponent: f64) -> HeatLaw {
        self.sloped(load_exponent, rpm_exponent).0
    }

    fn sloped(&self, load_exponent: f64, rpm_exponent: f64) -> (HeatLaw, Vec<Vec<Sloped>>) {
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

    /// Slopes of [`Self::penalised`] by the shared parameters, one row each.
    pub fn slopes(&self, psi: &[f64], sd_k: f64) -> DMatrix<f64> {
        let windows = self.windows(psi);
        let rows: Vec<[f64; SHARED]> = windows.iter().flat_map(|w| miss_slopes(w)).collect();
        DMatrix::from_fn(rows.len() + SHARED, SHARED, |row, k| {
            match row.checked_sub(rows.len()) {
                None => rows[row][k] / sd_k,
                Some(prior) if prior == k => 1.0 / PRIORS[k].sd,
                Some(_) => 0.0,
            }
        })
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

    /// Each session's balance.
    ///
    /// # Errors
    /// One comes out negative.
    pub fn balances(&self, psi: &[f64; SHARED]) -> Result<Vec<SessionBalance>, NoFit> {
        let between = self.windows_at(psi, psi[LOAD]);
        self.windows(psi)
            .iter()
            .enumerate()
            .map(|(s, windows)| {
                let log_g = -reciprocal(&between[s]).ln();
                if !log_g.is_finite() {
                    let of = match self.inputs.len() {
                        1 => String::new(),
                        _ => format!(" of {}", self.inputs[s].session.id),
                    };
                    return Err(NoFit(format!("the heat balance{of} comes out negative")));
                }
                let residuals_k = misses(windows);
                let weight: f64 = windows.iter().map(|w| w.weight_s).sum();
                let excess_k =
                    windows.iter().map(|w| w.weight_s * w.excess_k).sum::<f64>() / weight;
                let df = (windows.len() as f64 - 1.0).max(0.0);
                let mut sensitivity = log_reciprocal_slopes(&between[s]).map(|slope| -slope);
                // The mean of a session goes with the exponent between sessions alone.
                sensitivity[WITHIN] = 0.0;
                Ok(SessionBalance {
                    log_g,
                    log_g_se: standard_error_k(windows, &residuals_k) / excess_k,
                    df,
                    sensitivity,
                    untold: untold::slopes(self.inputs[s].session),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::synthetic::{self, Truth};
    use crate::stats::central_differences;

    /// Away from the priors' centres, with two sessions of unlike length and a further one the law was not made from.
    fn at_work(of: impl Fn(&Model, &[f64; SHARED])) {
        let long = Truth {
            store: (1.1, 240.0),
            ..Truth::default()
        };
        let short = Truth {
            minutes_hard: 8,
            ambient_c: long.ambient_c + 5.0,
            ..long
        };
        let (a, mut b) = (synthetic::prepared(&long), synthetic::prepared(&short));
        b.rpm.iter_mut().flatten().for_each(|rpm| *rpm *= 1.1);
        let fitted = [&a, &b];
        let model = Model::of(&[&a, &b, &a], &fitted);
        of(
            &model.expect("three sessions with stints"),
            &[0.42, 0.61, -0.2, 0.22, 0.07, 0.7, 0.15],
        );
    }

    fn agree(slopes: &DMatrix<f64>, differences: &DMatrix<f64>) {
        for (k, (own, numeric)) in slopes
            .column_iter()
            .zip(differences.column_iter())
            .enumerate()
        {
            let size = numeric.amax();
            assert!(size > 0.0, "nothing goes with parameter {k}");
            let off = (own - numeric).amax();
            assert!(off < 1e-6 * size, "parameter {k}: off by {off} of {size}");
        }
    }

    #[test]
    fn the_slopes_of_the_misses_are_those_of_finite_differences() {
        at_work(|model, psi| {
            let differences = central_differences(|psi| model.penalised(psi, 0.8), psi);
            agree(&model.slopes(psi, 0.8), &differences);
        });
    }

    #[test]
    fn the_slopes_of_a_balance_are_those_of_finite_differences() {
        at_work(|model, psi| {
            let log_g = |psi: &[f64]| -> Vec<f64> {
                let windows = model.windows_at(psi, psi[LOAD]);
                windows.iter().map(|w| -reciprocal(w).ln()).collect()
            };
            let differences = central_differences(log_g, psi);
            let balances = model.balances(psi).unwrap();
            let slopes =
                DMatrix::from_fn(balances.len(), SHARED, |s, k| balances[s].sensitivity[k]);
            let others = [AIR, LOAD, CAPACITY, SPEED, STORE, STORE_TAU];
            agree(
                &slopes.select_columns(&others),
                &differences.select_columns(&others),
            );
            assert!(slopes.column(WITHIN).iter().all(|slope| *slope == 0.0));
        });
    }
}
