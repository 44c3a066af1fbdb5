//! After minus before in `log g`, with the scatter that it must be held against.
//!
//! The unit of replication is the session, and above it the day. Where setups share days,
//! `y = μ + δ·after + day + e`, least squares; only differences within a day speak, and
//! `e` is the session-to-session scatter. Where they share none, days are the units:
//! `δ` is the difference of the means over day means, and the scatter is that of day means of the
//! same setup; with one day a setup these sessions alone give no interval at all.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use nalgebra::{DMatrix, DVector};

use crate::stats::{linear, mean};

/// One session in a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// Logarithm of its conductance at reference conditions.
    pub log_g: f64,
    /// Its setup.
    pub setup: String,
    /// Its day; `None`: unknown, counted as a day that is shared with nobody.
    pub day: Option<NaiveDate>,
}

/// What the scatter is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Sessions within a day.
    Session,
    /// Day means of the same setup.
    Day,
}

/// A variance with its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Sum of squares.
    pub sum_of_squares: f64,
    /// Degrees of freedom.
    pub df: f64,
}

impl Scatter {
    /// No knowledge at all.
    pub const NONE: Scatter = Scatter {
        sum_of_squares: 0.0,
        df: 0.0,
    };

    /// Two independent looks at the same variance.
    pub fn pooled(self, other: Scatter) -> Scatter {
        Scatter {
            sum_of_squares: self.sum_of_squares + other.sum_of_squares,
            df: self.df + other.df,
        }
    }

    /// The variance. `None` without degrees of freedom.
    pub fn variance(self) -> Option<f64> {
        (self.df > 0.0).then(|| self.sum_of_squares / self.df)
    }
}

/// After minus before.
#[derive(Debug, Clone, PartialEq)]
pub struct Contrast {
    /// δ.
    pub estimate: f64,
    /// What each session weighs in it.
    pub weights: Vec<f64>,
    /// The unit of its scatter.
    pub unit: Unit,
    /// Variance of δ over the variance of a unit.
    pub factor: f64,
    /// The scatter that these sessions alone show.
    pub scatter: Scatter,
}

/// The contrast of `after` against the rest. `None`: one side is empty.
pub fn contrast(sessions: &[Observation], after: &[bool]) -> Option<Contrast> {
    let both = after.iter().any(|a| *a) && after.iter().any(|a| !a);
    both.then(|| within_days(sessions, after).unwrap_or_else(|| between_days(sessions, after)))
}

/// Least squares with a level for each day. `None`: no day has both sides.
fn within_days(sessions: &[Observation], after: &[bool]) -> Option<Contrast> {
    let days: BTreeSet<NaiveDate> = sessions.iter().filter_map(|s| s.day).collect();
    let shared: Vec<NaiveDate> = days
        .into_iter()
        .filter(|day| {
            let on_day = |side: bool| {
                sessions
                    .iter()
                    .zip(after)
                    .any(|(s, a)| s.day == Some(*day) && *a == side)
            };
            on_day(true) && on_day(false)
        })
        .collect();
    let used: Vec<usize> = (0..sessions.len())
        .filter(|&i| sessions[i].day.is_some_and(|d| shared.contains(&d)))
        .collect();
    if used.is_empty() {
        return None;
    }
    let x = DMatrix::from_fn(used.len(), shared.len() + 1, |row, column| {
        let i = used[row];
        let set = match column {
            0 => after[i],
            _ => sessions[i].day == Some(shared[column - 1]),
        };
        f64::from(u8::from(set))
    });
    let y = DVector::from_iterator(used.len(), used.iter().map(|&i| sessions[i].log_g));
    let fit = linear(&x, &y)?;
    let used_weights = &x * fit.unscaled_covariance.column(0);
    let mut weights = vec![0.0; sessions.len()];
    for (row, &i) in used.iter().enumerate() {
        weights[i] = used_weights[row];
    }
    Some(Contrast {
        estimate: fit.coefficients[0],
        factor: fit.unscaled_covariance[(0, 0)],
        unit: Unit::Session,
        scatter: Scatter {
            sum_of_squares: fit.residual_sum_of_squares,
            df: fit.degrees_of_freedom as f64,
        },
        weights,
    })
}

fn between_days(sessions: &[Observation], after: &[bool]) -> Contrast {
    let mut estimate = 0.0;
    let mut factor = 0.0;
    let mut scatter = Scatter::NONE;
    let mut weights = vec![0.0; sessions.len()];
    for (side, sign) in [(true, 1.0), (false, -1.0)] {
        let members: Vec<usize> = (0..sessions.len()).filter(|&i| after[i] == side).collect();
        let days = by_day(sessions, &members);
        let means: Vec<f64> = days
            .values()
            .map(|m| mean(&m.iter().map(|&i| sessions[i].log_g).collect::<Vec<_>>()))
            .collect();
        estimate += sign * mean(&means);
        factor += 1.0 / means.len() as f64;
        scatter = scatter.pooled(around_mean(&means));
        for day in days.values() {
            for &i in day {
                weights[i] = sign / (means.len() * day.len()) as f64;
            }
        }
    }
    Contrast {
        estimate,
        weights,
        unit: Unit::Day,
        factor,
        scatter,
    }
}

/// Scatter that other sessions of the same car show in the unit asked for: session to session
/// within a setup and day, or day to day within a setup. Returns it with the sessions and days it
/// was learned from.
pub fn scatter_of_others(sessions: &[Observation], unit: Unit) -> (Scatter, usize, usize) {
    let mut setups: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (i, session) in sessions.iter().enumerate().filter(|(_, s)| s.day.is_some()) {
        setups.entry(&session.setup).or_default().push(i);
    }
    let (mut scatter, mut used, mut days_used) = (Scatter::NONE, 0, BTreeSet::new());
    for members in setups.values() {
        let days = by_day(sessions, members);
        let values = |m: &[usize]| m.iter().map(|&i| sessions[i].log_g).collect::<Vec<f64>>();
        match unit {
            Unit::Session => {
                for (day, members) in days.iter().filter(|(_, m)| m.len() > 1) {
                    scatter = scatter.pooled(around_mean(&values(members)));
                    used += members.len();
                    days_used.insert(*day);
                }
            }
            Unit::Day if days.len() > 1 => {
                let means: Vec<f64> = days.values().map(|m| mean(&values(m))).collect();
                scatter = scatter.pooled(around_mean(&means));
                used += members.len();
                days_used.extend(days.keys().copied());
            }
            Unit::Day => {}
        }
    }
    (scatter, used, days_used.len())
}

fn by_day(sessions: &[Observation], members: &[usize]) -> BTreeMap<Option<NaiveDate>, Vec<usize>> {
    let mut days: BTreeMap<Option<NaiveDate>, Vec<usize>> = BTreeMap::new();
    for &i in members {
        days.entry(sessions[i].day).or_default().push(i);
    }
    days
}

fn around_mean(values: &[f64]) -> Scatter {
    let m = mean(values);
    Scatter {
        sum_of_squares: values.iter().map(|v| (v - m).powi(2)).sum(),
        df: values.len() as f64 - 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::t_factor;

    fn at(setup: &str, day: u32, log_g: f64) -> Observation {
        Observation {
            log_g,
            setup: setup.into(),
            day: NaiveDate::from_ymd_opt(2031, 5, day),
        }
    }

    #[test]
    fn a_day_that_is_better_for_both_does_not_count_as_the_part() {
        let sessions = [
            at("a", 1, 1.0),
            at("b", 1, 1.1),
            at("a", 2, 1.5),
            at("b", 2, 1.6),
        ];
        let c = contrast(&sessions, &[false, true, false, true]).unwrap();
        assert_eq!(c.unit, Unit::Session);
        assert!((c.estimate - 0.1).abs() < 1e-12);
        assert!(c.scatter.sum_of_squares < 1e-20 && c.scatter.df == 1.0);
    }

    #[test]
    fn one_day_a_setup_gives_no_scatter_at_all() {
        let sessions = [
            at("a", 1, 1.0),
            at("a", 1, 1.1),
            at("b", 2, 1.2),
            at("b", 2, 1.3),
        ];
        let c = contrast(&sessions, &[false, false, true, true]).unwrap();
        assert_eq!((c.unit, c.scatter.df), (Unit::Day, 0.0));
        assert_eq!(c.scatter.variance(), None);
    }

    /// Student 1908, the `sleep` data: paired t, each pair a block as a day is: estimate -1.58,
    /// 95 % interval -2.4598857633 to -0.7001142367 on 9 df (R help page of t.test).
    #[test]
    fn blocks_are_the_paired_test() {
        let a = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
        let b = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
        let mut sessions = Vec::new();
        let mut after = Vec::new();
        for (day, (x, y)) in a.iter().zip(b).enumerate() {
            sessions.push(at("b", day as u32 + 1, y));
            sessions.push(at("a", day as u32 + 1, *x));
            after.extend([false, true]);
        }
        let c = contrast(&sessions, &after).unwrap();
        assert_eq!(c.scatter.df, 9.0);
        let half = t_factor(9.0).unwrap() * (c.scatter.variance().unwrap() * c.factor).sqrt();
        assert!((c.estimate - half - -2.459_885_763_3).abs() < 1e-8);
        assert!((c.estimate + half - -0.700_114_236_7).abs() < 1e-8);
    }

    /// Davies & Goldsmith 1972, `Dyestuff`: six batches of five, between-batch mean square of the
    /// means (11271.5 on 5 df, ANOVA: 56357.5/5/5) and within (2451.25 on 24).
    #[test]
    fn day_and_session_scatter_are_the_anova() {
        let yields: [[f64; 5]; 6] = [
            [1545.0, 1440.0, 1440.0, 1520.0, 1580.0],
            [1540.0, 1555.0, 1490.0, 1560.0, 1495.0],
            [1595.0, 1550.0, 1605.0, 1510.0, 1560.0],
            [1445.0, 1440.0, 1595.0, 1465.0, 1545.0],
            [1595.0, 1630.0, 1515.0, 1635.0, 1625.0],
            [1520.0, 1455.0, 1450.0, 1480.0, 1445.0],
        ];
        let sessions: Vec<Observation> = yields
            .iter()
            .enumerate()
            .flat_map(|(day, batch)| batch.map(|y| at("a", day as u32 + 1, y)))
            .collect();
        let (within, n, days) = scatter_of_others(&sessions, Unit::Session);
        assert!((within.variance().unwrap() - 2451.25).abs() < 1e-9);
        assert_eq!((within.df, n, days), (24.0, 30, 6));
        let (between, ..) = scatter_of_others(&sessions, Unit::Day);
        // 1764.05 between batches plus a fifth of the variance within.
        assert!((between.variance().unwrap() - (1764.05 + 2451.25 / 5.0)).abs() < 1e-9);
        assert_eq!(between.df, 5.0);
    }
}
