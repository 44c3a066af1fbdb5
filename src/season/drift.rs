//! Does the conductance drift as the season goes on?
//!
//! ```text
//! log g_i = μ[setup i] + δ x_i + day + e_i
//! ```
//!
//! steadily, x going from 0 at the first session to 1 at the last by their order; or by a step, x being 0
//! before some session and 1 from it on, tried at every session that leaves at least two on both sides. Setups
//! have means of their own, so that a part is not taken for drift; days scatter (`stats::grouped`, careful
//! prior), and what the shared parameters leave open is added.
//!
//! Drift is shown if `2 p(steady)` or `2 m p(step)` is below [`ALPHA`], m being the number of steps tried
//! (Bonferroni). How often that happens without any drift and with 8 % lost: `reports/validation/drift.md`. Assumed:
//! scatter of sessions and days as in a comparison, normal and the same all season. δ is a logarithm: no unit.

use serde::Serialize;

use crate::compare::{CarFit, Layout};
use crate::stats::grouped::Contrast;

/// How often drift may be shown where there is none.
pub const ALPHA: f64 = 0.05;

/// Fewer sessions on one side of a step do not tell it from scatter.
const LEAST_BESIDE_STEP: usize = 2;

/// How the conductance changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// A little with every session.
    Steady,
    /// At once.
    Step,
}

/// A form that was tried.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tried {
    pub form: Form,
    /// δ with the scatter of sessions and days.
    pub change: Contrast,
    /// What the shared parameters leave open of it, a variance.
    pub shared_variance: f64,
    /// x of each session.
    pub course: Vec<f64>,
    /// How many of its kind were tried.
    pub family: u32,
    /// Corrected for all that was tried.
    pub p: f64,
}

impl Tried {
    /// The ends of δ. A step's hold the level for all steps tried.
    pub fn ends(&self) -> Option<(f64, f64)> {
        self.change.interval_of(self.shared_variance, self.family)
    }

    /// For a step: the place of the first session behind it.
    pub fn place(&self) -> Option<usize> {
        (self.form == Form::Step).then(|| self.course.iter().position(|x| *x > 0.0))?
    }
}

/// What was tried on `fit`: the steady form first, then the likeliest step, if there is one. `order` is the
/// place of each session in the season, rising. Empty: too few sessions.
pub(super) fn tried(fit: &CarFit, order: &[f64]) -> Vec<Tried> {
    let layout = fit.layout();
    forms(&layout, order, &|weights| {
        fit.joint.shared_variance(weights)
    })
}

fn forms(layout: &Layout, order: &[f64], shared: &dyn Fn(&[f64]) -> f64) -> Vec<Tried> {
    let one = |form: Form, course: Vec<f64>, family: u32| -> Option<Tried> {
        let change = layout.slope(&course)?;
        let shared_variance = shared(&change.weights);
        let p = change.p(shared_variance)? * 2.0 * f64::from(family);
        Some(Tried {
            form,
            change,
            shared_variance,
            course,
            family,
            p: p.min(1.0),
        })
    };
    let (Some(first), Some(last)) = (order.first(), order.last()) else {
        return Vec::new();
    };
    let along = order.iter().map(|o| (o - first) / (last - first)).collect();
    let Some(steady) = one(Form::Steady, along, 1) else {
        return Vec::new();
    };
    let n = order.len();
    let places = LEAST_BESIDE_STEP..(n + 1).saturating_sub(LEAST_BESIDE_STEP);
    let family = places.len() as u32;
    let steps = places.filter_map(|place| {
        let course = (0..n).map(|i| f64::from(u8::from(i >= place))).collect();
        one(Form::Step, course, family)
    });
    let step = steps.min_by(|a, b| a.p.total_cmp(&b.p));
    [Some(steady), step].into_iter().flatten().collect()
}

#[cfg(test)]
mod tests;
