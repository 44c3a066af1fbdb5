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
use crate::words::quoted;

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
    /// The sessions used, as the joint fit has them.
    pub observations: &'a [Observation],
    /// The setups before and after.
    pub sides: [&'a str; 2],
    /// The smallest change that matters, K.
    pub threshold_k: f64,
    /// From a change of `log g` to kelvin.
    pub change_k: &'a dyn Fn(f64) -> f64,
}

/// The plain tests, the most naive first. `used` are the sessions of `asked`, in the same order.
pub(super) fn plain(used: &[&Prepared], asked: &Asked) -> Vec<PlainTest> {
    let coolant_c: Vec<f64> = used
        .iter()
        .map(|s| s.mean_in_stints(&s.coolant_c))
        .collect();
    let excess_k: Vec<f64> = used
        .iter()
        .zip(&coolant_c)
        .map(|(s, c)| c - s.mean_in_stints(s.ambient_c.as_deref().unwrap_or_default()))
        .collect();
    of_means(asked, &coolant_c, &excess_k)
}

fn of_means(asked: &Asked, coolant_c: &[f64], excess_k: &[f64]) -> Vec<PlainTest> {
    let log_g: Vec<f64> = asked.observations.iter().map(|o| o.log_g).collect();
    let days = shared_days(asked.observations, asked.sides);
    let differences: Vec<f64> = days.iter().map(|d| d.difference()).collect();
    let mut tests = vec![
        asked.in_kelvin(
            "mean coolant, Welch",
            asked.welch(coolant_c),
            "takes weather and pace for the part",
        ),
        asked.in_kelvin(
            "coolant minus ambient, Welch",
            asked.welch(excess_k),
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
            "sees each day as one pair: a few days say little of their own scatter (two leave one degree of freedom)",
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
                0 => return Err(format!("no session with {}", quoted(setup))),
                1 => return Err(format!("only one session with {}", quoted(setup))),
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

#[cfg(test)]
mod tests {
    use super::super::contrast::at;
    use super::*;

    /// Sessions of setups `a` and `b`: days with the `log g` of one session each.
    fn sessions(pairs: &[(f64, f64)]) -> Vec<Observation> {
        let mut out = Vec::new();
        for (i, &(before, after)) in pairs.iter().enumerate() {
            let day = i as u32 + 1;
            out.extend([at("a", day, before), at("b", day, after)]);
        }
        out
    }

    /// The tests on a drive where 1 % of conductance is 0.7 K, with readings that follow it.
    fn of(observations: &[Observation], sides: [&str; 2]) -> Vec<PlainTest> {
        let asked = Asked {
            observations,
            sides,
            threshold_k: 0.5,
            change_k: &|d| -70.0 * d,
        };
        let coolant_c: Vec<f64> = observations.iter().map(|o| 95.0 - 70.0 * o.log_g).collect();
        let excess_k: Vec<f64> = coolant_c.iter().map(|c| c - 20.0).collect();
        of_means(&asked, &coolant_c, &excess_k)
    }

    const THREE: [(f64, f64); 3] = [(0.0, 0.031), (0.012, 0.044), (-0.009, 0.028)];

    /// On a straight drive the test in `log g` is the test in kelvin, equivalence included.
    #[test]
    fn conductance_and_kelvin_say_the_same_on_a_straight_drive() {
        let tests = of(&sessions(&THREE), ["a", "b"]);
        let (kelvin, log_g) = (&tests[1], &tests[2]);
        let ends = |t: &PlainTest| {
            let i = t.coolant_change_k.known().unwrap().clone();
            [
                i.estimate,
                i.low,
                i.high,
                t.p.unwrap(),
                t.equivalence_p.unwrap(),
            ]
        };
        for (a, b) in ends(kelvin).into_iter().zip(ends(log_g)) {
            assert!((a - b).abs() < 1e-9, "{a} {b}");
        }
        assert!(kelvin.coolant_change_k.point().unwrap() < -2.0);
    }

    #[test]
    fn three_and_three_have_no_rank_interval_but_a_probability() {
        let tests = of(&sessions(&THREE), ["a", "b"]);
        let shift = &tests[3];
        assert!(
            shift
                .coolant_change_k
                .why()
                .unwrap()
                .contains("more than 90 %")
        );
        assert!((shift.p.unwrap() - 0.1).abs() < 1e-12);
        assert_eq!(tests.len(), 5);
    }

    #[test]
    fn turned_round_every_test_changes_its_sign_and_no_probability() {
        let sessions = sessions(&THREE);
        let (there, back) = (of(&sessions, ["a", "b"]), of(&sessions, ["b", "a"]));
        for (a, b) in there.iter().zip(&back) {
            let points = (a.coolant_change_k.point(), b.coolant_change_k.point());
            if let (Some(x), Some(y)) = points {
                assert!((x + y).abs() < 1e-9, "{}", a.name);
            }
            assert!((a.p.unwrap() - b.p.unwrap()).abs() < 1e-9, "{}", a.name);
        }
    }

    #[test]
    fn six_days_add_signed_ranks() {
        let pairs: Vec<(f64, f64)> = (0..6).map(|i| (0.0, 0.03 + 0.001 * f64::from(i))).collect();
        let tests = of(&sessions(&pairs), ["a", "b"]);
        let middle = tests.last().unwrap();
        assert!(middle.name.contains("signed rank"));
        let interval = middle.coolant_change_k.known().unwrap();
        assert!((interval.low - -70.0 * 0.035).abs() < 1e-9);
        assert!((middle.p.unwrap() - 2.0 / 64.0).abs() < 1e-12);
    }

    #[test]
    fn too_few_sessions_say_so() {
        let one = of(&sessions(&THREE)[..3], ["a", "b"]);
        let why = |i: usize| one[i].coolant_change_k.why().unwrap().to_owned();
        assert_eq!(why(0), "only one session with `b`");
        assert_eq!(why(4), "only one day has both setups");
        let none = of(&sessions(&THREE)[1..2], ["a", "b"]);
        assert_eq!(none[2].coolant_change_k.why(), Some("no session with `a`"));
        assert_eq!((none[3].p, none[0].p), (None, None));
    }
}
