//! What tests say that a doubter knows by name, from the same sessions.
//!
//! None of them is the answer: each ignores something, which is said beside it. A session counts
//! as one value, its mean over hot running or its `log g` from the joint fit; figures in `log g` go
//! to kelvin through the reference drive. Equivalence is tested (TOST) against ± the smallest
//! change that matters.

use serde::Serialize;

use super::by_day::shared_days;
use super::contrast::Observation;
use crate::estimate::prepare::Prepared;
use crate::stats::{Estimate, Summary, TTest, one_sample, rank_sum, signed_rank, welch};

/// Days with both setups from which on signed ranks have an interval.
const SIGNED_RANK_DAYS: usize = 6;

/// One plain test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlainTest {
    /// What is compared, and by which test.
    pub name: &'static str,
    /// Change of mean coolant, after minus before.
    pub coolant_change_k: Estimate,
    /// Two-sided probability of so large a difference if there is none.
    pub p: Option<f64>,
    /// Probability of so small a difference if it matters (two one-sided tests); `None` for
    /// rank tests.
    pub equivalence_p: Option<f64>,
    /// What the test ignores.
    pub ignores: &'static str,
}

/// What the tests look at.
pub(super) struct Asked<'a> {
    /// The sessions used.
    pub used: &'a [&'a Prepared],
    /// The same, in the same order, as the joint fit has them.
    pub observations: &'a [Observation],
    /// The setups before and after.
    pub sides: [&'a str; 2],
    /// The smallest change that matters, K.
    pub threshold_k: f64,
    /// From a change of `log g` to kelvin.
    pub change_k: &'a dyn Fn(f64) -> f64,
}

/// The plain tests, the most naive first.
pub(super) fn plain(asked: &Asked) -> Vec<PlainTest> {
    let coolant = |s: &Prepared| s.mean_in_stints(&s.coolant_c);
    let ambient = |s: &Prepared| s.mean_in_stints(s.ambient_c.as_deref().unwrap_or_default());
    let kelvin =
        |of: &dyn Fn(&Prepared) -> f64| -> Vec<f64> { asked.used.iter().map(|s| of(s)).collect() };
    let log_g: Vec<f64> = asked.observations.iter().map(|o| o.log_g).collect();
    let days = shared_days(asked.observations, asked.sides);
    let differences: Vec<f64> = days.iter().map(|d| d.difference()).collect();
    let mut tests = vec![
        asked.in_kelvin(
            "mean coolant, Welch",
            asked.welch(&kelvin(&coolant)),
            "takes weather and pace for the part",
        ),
        asked.in_kelvin(
            "coolant minus ambient, Welch",
            asked.welch(&kelvin(&|s| coolant(s) - ambient(s))),
            "takes pace, air density and the day for the part",
        ),
        asked.in_log_g(
            "conductance, Welch",
            asked.welch(&log_g),
            "takes the day for the part, and sessions of a day for independent",
        ),
        asked.shift(&log_g),
        asked.in_log_g(
            "conductance, paired t over days",
            paired_days(&differences),
            "sees only days with both setups, and each as one pair",
        ),
    ];
    if differences.len() >= SIGNED_RANK_DAYS {
        tests.extend(asked.pseudo_median(&differences));
    }
    tests
}

fn paired_days(differences: &[f64]) -> Result<TTest, String> {
    match differences.len() {
        0 => Err("no day has both setups".to_owned()),
        1 => Err("only one day has both setups".to_owned()),
        _ => one_sample(differences),
    }
}

impl Asked<'_> {
    /// The values of the two sides, before and after.
    fn sides(&self, values: &[f64]) -> [Vec<f64>; 2] {
        self.sides.map(|setup| {
            let of_side = values.iter().zip(self.observations);
            of_side
                .filter(|(_, o)| o.setup == setup)
                .map(|(v, _)| *v)
                .collect()
        })
    }

    fn welch(&self, values: &[f64]) -> Result<TTest, String> {
        let sides = self.sides(values);
        for (side, setup) in sides.iter().zip(self.sides) {
            match side.len() {
                0 => return Err(format!("no session with {setup}")),
                1 => return Err(format!("only one session with {setup}")),
                _ => {}
            }
        }
        welch(Summary::of(&sides[1])?, Summary::of(&sides[0])?)
    }

    fn in_kelvin(
        &self,
        name: &'static str,
        test: Result<TTest, String>,
        ignores: &'static str,
    ) -> PlainTest {
        PlainTest::of(
            name,
            test,
            [-self.threshold_k, self.threshold_k],
            |d| d,
            ignores,
        )
    }

    fn in_log_g(
        &self,
        name: &'static str,
        test: Result<TTest, String>,
        ignores: &'static str,
    ) -> PlainTest {
        // More conductance is cooler: the upper end is where the coolant falls by the threshold.
        let ends = [self.threshold_k, -self.threshold_k].map(|k| self.log_ratio(k));
        PlainTest::of(name, test, ends, self.change_k, ignores)
    }

    /// The change of `log g` that changes the coolant by `k`: nearly proportional, so by
    /// proportional steps.
    fn log_ratio(&self, k: f64) -> f64 {
        (0..6).fold(-0.01 * k.signum(), |d, _| d * k / (self.change_k)(d))
    }

    fn shift(&self, log_g: &[f64]) -> PlainTest {
        let [before, after] = self.sides(log_g);
        let test = rank_sum(&after, &before);
        let shift = test.as_ref().map_or_else(
            || Estimate::unknown("one setup has no session"),
            |test| test.shift.map(self.change_k),
        );
        PlainTest {
            name: "conductance, Hodges-Lehmann",
            coolant_change_k: shift,
            p: test.map(|test| test.p.two_sided()),
            equivalence_p: None,
            ignores: "takes the day for the part; one odd session moves it little",
        }
    }

    fn pseudo_median(&self, differences: &[f64]) -> Option<PlainTest> {
        let test = signed_rank(differences)?;
        Some(PlainTest {
            name: "conductance, signed rank over days",
            coolant_change_k: test.pseudo_median.map(self.change_k),
            p: Some(test.p.two_sided()),
            equivalence_p: None,
            ignores: "sees only days with both setups; one odd day moves it little",
        })
    }
}

impl PlainTest {
    fn of(
        name: &'static str,
        test: Result<TTest, String>,
        margin: [f64; 2],
        to_kelvin: impl Fn(f64) -> f64,
        ignores: &'static str,
    ) -> Self {
        let known = test.as_ref().ok();
        Self {
            name,
            p: known.and_then(TTest::p),
            equivalence_p: known.and_then(|t| t.equivalence_p(margin[0], margin[1])),
            coolant_change_k: match &test {
                Ok(test) => test.estimate().map(to_kelvin),
                Err(why) => Estimate::unknown(why),
            },
            ignores,
        }
    }
}
