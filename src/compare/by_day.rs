//! The change on each day that saw both setups, and whether the days agree.
//!
//! On day d with b sessions before and a after: `δ_d = mean log g after - mean log g before`,
//! variance `s²(1/a + 1/b)`, s² the scatter of sessions of one setup on one day, pooled over all
//! such sessions of the book. The days are pooled with random effects (`stats::pool`, REML,
//! Hartung-Knapp): τ is how much the change itself differs from day to day. Q/(k - 1) is F with
//! (k - 1, df of s²) if all days show one change. Figures go from `log g` to kelvin through the
//! reference drive. Left out: what the shared parameters of the joint fit leave open.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Serialize;

use super::contrast::Observation;
use crate::stats::{Between, Estimate, Pooled, mean, pool, t_factor};
use crate::warning::Warning;

/// Days whose disagreement has a smaller probability are said to disagree.
const DISAGREE_P: f64 = 0.05;

/// The change day by day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ByDay {
    /// Days with both setups, in order.
    pub days: Vec<DayChange>,
    /// Mean change over days like these.
    pub coolant_change_k: Estimate,
    /// The change that one further day would show.
    pub another_day_k: Estimate,
    /// How the days agree. `None`: fewer than two, or their scatter is not known.
    pub agreement: Option<Agreement>,
}

/// The change on one day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DayChange {
    /// The day.
    pub day: NaiveDate,
    /// Sessions of that day with the setup before.
    pub sessions_before: usize,
    /// Sessions of that day with the setup after.
    pub sessions_after: usize,
    /// Change of mean coolant, thermostat open.
    pub coolant_change_k: Estimate,
}

/// Whether days differ by more than their sessions scatter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Agreement {
    /// Standard deviation of the change from day to day, K.
    pub tau_k: f64,
    /// Share of the spread of days that the scatter of sessions does not explain, %.
    pub i_squared_percent: f64,
    /// Cochran's Q.
    pub q: f64,
    /// Probability of a larger Q if all days show one change.
    pub q_p: f64,
}

/// `log g` of the sessions of one day that saw both setups.
pub(super) struct SharedDay {
    day: NaiveDate,
    before: Vec<f64>,
    after: Vec<f64>,
}

impl SharedDay {
    /// After minus before.
    pub fn difference(&self) -> f64 {
        mean(&self.after) - mean(&self.before)
    }

    /// Variance of the difference over that of a session.
    fn factor(&self) -> f64 {
        1.0 / self.before.len() as f64 + 1.0 / self.after.len() as f64
    }
}

/// The days that saw both setups of `sides`, before and after, in order.
pub(super) fn shared_days(sessions: &[Observation], sides: [&str; 2]) -> Vec<SharedDay> {
    let mut days: BTreeMap<NaiveDate, [Vec<f64>; 2]> = BTreeMap::new();
    for session in sessions {
        let side = sides.iter().position(|s| *s == session.setup);
        if let (Some(day), Some(side)) = (session.day, side) {
            days.entry(day).or_default()[side].push(session.log_g);
        }
    }
    days.into_iter()
        .filter(|(_, [before, after])| !before.is_empty() && !after.is_empty())
        .map(|(day, [before, after])| SharedDay { day, before, after })
        .collect()
}

/// Variance of sessions of one setup on one day, with its degrees of freedom. `None`: no setup
/// ran twice on a day.
fn session_scatter(sessions: &[Observation]) -> Option<(f64, f64)> {
    let mut cells: BTreeMap<(&str, NaiveDate), Vec<f64>> = BTreeMap::new();
    for session in sessions {
        if let Some(day) = session.day {
            let cell = cells.entry((&session.setup, day)).or_default();
            cell.push(session.log_g);
        }
    }
    let (mut squares, mut df) = (0.0, 0.0);
    for cell in cells.values() {
        let m = mean(cell);
        squares += cell.iter().map(|v| (v - m).powi(2)).sum::<f64>();
        df += cell.len() as f64 - 1.0;
    }
    (df > 0.0 && squares > 0.0).then(|| (squares / df, df))
}

/// The change day by day. `sessions` may hold other setups too: they lend their scatter.
pub(super) fn by_day(
    sessions: &[Observation],
    sides: [&str; 2],
    change_k: &dyn Fn(f64) -> f64,
) -> ByDay {
    let days = shared_days(sessions, sides);
    let scatter = session_scatter(sessions);
    let pooled = pooled(&days, scatter);
    let (coolant_change_k, another_day_k) = match &pooled {
        Ok(pooled) => (
            pooled.hartung_knapp().map(change_k),
            further_day(pooled).map(change_k),
        ),
        Err(why) => (Estimate::unknown(*why), Estimate::unknown(*why)),
    };
    ByDay {
        agreement: scatter.and_then(|(_, df)| agreement(pooled.as_ref().ok()?, df, change_k)),
        days: days
            .iter()
            .map(|day| DayChange {
                day: day.day,
                sessions_before: day.before.len(),
                sessions_after: day.after.len(),
                coolant_change_k: of_day(day, scatter).map(change_k),
            })
            .collect(),
        coolant_change_k,
        another_day_k,
    }
}

fn of_day(day: &SharedDay, scatter: Option<(f64, f64)>) -> Estimate {
    let half = scatter.and_then(|(variance, df)| {
        let method = format!("t, {df:.0} df of sessions within days");
        Some((t_factor(df)? * (variance * day.factor()).sqrt(), method))
    });
    match half {
        Some((half, method)) => Estimate::symmetric(day.difference(), half, method),
        None => Estimate::unknown(NO_SCATTER),
    }
}

const NO_SCATTER: &str =
    "no setup ran twice on one day, so nothing shows how sessions of a day scatter";

fn pooled(days: &[SharedDay], scatter: Option<(f64, f64)>) -> Result<Pooled, &'static str> {
    if days.len() < 2 {
        return Err("it takes two days or more that saw both setups");
    }
    let (variance, _) = scatter.ok_or(NO_SCATTER)?;
    let effects: Vec<f64> = days.iter().map(SharedDay::difference).collect();
    let variances: Vec<f64> = days.iter().map(|d| variance * d.factor()).collect();
    pool(&effects, &variances, Between::Reml).ok_or("the days could not be pooled")
}

fn further_day(pooled: &Pooled) -> Estimate {
    if pooled.k < 3 {
        return Estimate::unknown("it takes three days or more that saw both setups");
    }
    pooled.prediction()
}

fn agreement(pooled: &Pooled, df: f64, change_k: &dyn Fn(f64) -> f64) -> Option<Agreement> {
    let tau = pooled.tau2.sqrt();
    let [high, low] = [tau, -tau].map(|d| change_k(pooled.estimate + d));
    Some(Agreement {
        tau_k: (high - low).abs() / 2.0,
        i_squared_percent: 100.0 * pooled.i_squared(),
        q: pooled.q,
        q_p: pooled.q_p(df)?,
    })
}

impl ByDay {
    /// Where there is no comparison.
    pub fn none(why: &str) -> Self {
        Self {
            days: Vec::new(),
            coolant_change_k: Estimate::unknown(why),
            another_day_k: Estimate::unknown(why),
            agreement: None,
        }
    }

    /// Whether the days differ by more than their sessions scatter.
    pub fn disagree(&self) -> bool {
        self.agreement.is_some_and(|a| a.q_p < DISAGREE_P)
    }

    /// That the days disagree, where they do.
    pub(super) fn caution(&self) -> Option<Warning> {
        let agreement = self.agreement.filter(|_| self.disagree())?;
        let points = self.days.iter().filter_map(|d| d.coolant_change_k.point());
        let (low, high) = points.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), k| {
            (low.min(k), high.max(k))
        });
        Some(Warning::caution(
            "days-disagree",
            format!(
                "the change differs from day to day, from {low:+.1} to {high:+.1} K, by more than sessions of a day scatter (p = {:.3}): something of the day works with the part, and another day may show another change",
                agreement.q_p
            ),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::super::contrast::at;
    use super::*;

    /// A drive on which 1 % of conductance is 0.7 K.
    fn change_k(log_ratio: f64) -> f64 {
        -70.0 * log_ratio
    }

    /// Two days, twice each setup; the change is `first` and `second` in log g.
    fn campaign(first: f64, second: f64) -> Vec<Observation> {
        let mut sessions = Vec::new();
        for (day, change) in [(1, first), (2, second)] {
            for off in [-0.005, 0.005] {
                let level = f64::from(day) + off;
                sessions.push(at("a", day, level));
                sessions.push(at("b", day, level + change));
            }
        }
        sessions
    }

    fn of(sessions: &[Observation]) -> ByDay {
        by_day(sessions, ["a", "b"], &change_k)
    }

    #[test]
    fn days_that_agree_are_pooled_without_a_caution() {
        let found = of(&campaign(0.04, 0.042));
        assert_eq!(found.days.len(), 2);
        let first = found.days[0].coolant_change_k.known().unwrap();
        assert!((first.estimate - -2.8).abs() < 1e-9);
        // s² = 4 · 2 · 0.005²/4, a factor of 1, 4 df.
        let half = 70.0 * t_factor(4.0).unwrap() * (2.0 * 0.005_f64.powi(2)).sqrt();
        assert!((first.half_width() - half).abs() < 1e-9);
        let mean = found.coolant_change_k.known().unwrap();
        assert!((mean.estimate - -2.87).abs() < 1e-9);
        assert_eq!(found.agreement.unwrap().tau_k, 0.0);
        assert_eq!(found.caution(), None);
        assert!(found.another_day_k.why().unwrap().contains("three days"));
    }

    /// Q/(k - 1) is the F of setup times day in the two-way layout (here by hand: δ 0 and 0.1,
    /// each of variance s² = 5e-5, so Q = 0.1²/2/5e-5 = 100; F(1, 4) leaves 0.00056).
    #[test]
    fn days_that_disagree_are_said() {
        let found = of(&campaign(0.0, 0.1));
        let agreement = found.agreement.unwrap();
        assert!((agreement.q - 100.0).abs() < 1e-6);
        assert!((agreement.q_p - 0.000_562).abs() < 1e-6, "{agreement:?}");
        // τ² = 0.1²/2 - 5e-5 in log g.
        assert!((agreement.tau_k - 70.0 * (0.005_f64 - 5e-5).sqrt()).abs() < 1e-6);
        let caution = found.caution().unwrap();
        assert_eq!(caution.id, "days-disagree");
        assert!(caution.message.contains("from -7.0 to"), "{caution:?}");
    }

    #[test]
    fn other_setups_lend_scatter_and_days_without_both_are_left_out() {
        let mut sessions = vec![
            at("a", 1, 1.0),
            at("b", 1, 1.04),
            at("a", 2, 1.2),
            at("b", 3, 1.3),
        ];
        assert!(of(&sessions).days[0].coolant_change_k.why().is_some());
        sessions.extend([at("c", 9, 0.5), at("c", 9, 0.51)]);
        let found = of(&sessions);
        assert_eq!(found.days.len(), 1);
        assert!(found.days[0].coolant_change_k.known().is_some());
        assert!(found.coolant_change_k.why().unwrap().contains("two days"));
        sessions.iter_mut().for_each(|s| s.day = None);
        assert!(of(&sessions).days.is_empty());
    }
}
