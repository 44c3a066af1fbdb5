//! After minus before in `log g`, with the scatter that it must be held against.
//!
//! The unit of replication is the session, and above it the day: a mean for each setup, days that
//! scatter, sessions that scatter within them (`stats::grouped`). All usable sessions of the car go
//! into one fit: those of the two setups carry the contrast, the others tell how days and sessions
//! scatter. Where the setups share days, only what is left of the day after both were run on it
//! touches the contrast; where they share none, it hangs on how much days scatter, and with one day a
//! setup these sessions alone give no interval at all. A few sessions that agree by luck are not
//! believed beyond what their own windows say of each.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::stats::LEVEL;
use crate::stats::grouped::{self, BETWEEN_GROUPS, Grouped, Known, WITHIN_GROUPS};

/// One session in a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// Logarithm of its conductance at reference conditions.
    pub log_g: f64,
    /// Standard error of that from the session's own windows; infinite where it does not show.
    pub own_se: f64,
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
    /// Days.
    Day,
}

/// Why a contrast has no interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoInterval {
    /// No more sessions than setups.
    TooFew,
    /// No day has both, and nothing tells how far days scatter.
    DayOrPart,
}

/// After minus before.
#[derive(Debug, Clone, PartialEq)]
pub struct Contrast {
    /// The contrast and its scatter.
    pub value: grouped::Contrast,
    /// What it is counted in.
    pub unit: Unit,
    /// Scatter of a session within its day, as a standard deviation of `log g`.
    pub session_sd: f64,
    /// Variance that a stated scatter of days adds.
    pub stated_variance: f64,
}

/// How far sessions and days scatter, as standard deviations of `log g`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// A session within its day.
    pub session_sd: f64,
    /// Days.
    pub day_sd: f64,
    /// Upper ends of the 95 % intervals of both, as far as they can be told.
    pub at_most: Option<(f64, f64)>,
    /// Degrees of freedom of both together.
    pub df: f64,
    /// Whether differences between days tell theirs, or only the prior does.
    pub days_told: bool,
}

/// How sessions fall into setups and days.
pub struct Layout {
    log_g: Vec<f64>,
    setups: BTreeMap<String, usize>,
    cell: Vec<usize>,
    day: Vec<usize>,
    /// A session is known no better than its own windows say.
    least_variance: f64,
}

impl Layout {
    /// The sessions, each under its setup's name.
    pub fn of(sessions: &[Observation]) -> Self {
        let mut setups = BTreeMap::new();
        let mut days = BTreeMap::new();
        let (mut cell, mut day) = (Vec::new(), Vec::new());
        for (i, session) in sessions.iter().enumerate() {
            let next = setups.len();
            cell.push(*setups.entry(session.setup.clone()).or_insert(next));
            let next = days.len();
            // An unknown day is a day of its own.
            let key = session.day.ok_or(i);
            day.push(*days.entry(key).or_insert(next));
        }
        Self {
            log_g: sessions.iter().map(|s| s.log_g).collect(),
            setups,
            cell,
            day,
            least_variance: least_variance(sessions),
        }
    }

    /// What the contrast of two setups is counted in: sessions, if some day has both.
    pub fn unit(&self, before: &str, after: &str) -> Unit {
        let days_of = |setup: &str| {
            let cell = self.setups.get(setup).copied();
            let members = self.cell.iter().zip(&self.day);
            members
                .filter(move |(c, _)| Some(**c) == cell)
                .map(|(_, d)| *d)
        };
        if days_of(before).any(|day| days_of(after).any(|d| d == day)) {
            Unit::Session
        } else {
            Unit::Day
        }
    }

    /// The contrast of two setups. `stated_day_sd`: scatter of days that the user states, as a
    /// standard deviation of `log g`; it replaces what the sessions say where no day has both.
    ///
    /// # Errors
    /// Why there is none.
    pub fn contrast(
        &self,
        before: &str,
        after: &str,
        stated_day_sd: Option<f64>,
    ) -> Result<Contrast, NoInterval> {
        let c = self.vector(&[(after, 1.0), (before, -1.0)])?;
        let [a, b] = [self.setups[before], self.setups[after]];
        let narrow = self.fit(WITHIN_GROUPS)?;
        let shared = narrow.share_groups(a, b);
        let fit = if shared {
            narrow
        } else {
            self.fit(BETWEEN_GROUPS)?
        };
        let stated = stated_day_sd.filter(|_| !shared);
        if !shared && stated.is_none() && fit.group_df() == 0 {
            return Err(NoInterval::DayOrPart);
        }
        let value = match stated {
            Some(_) => fit.contrast_without_groups(&c),
            None => fit.contrast(&c),
        };
        let (session_sd, _) = fit.scatter();
        Ok(Contrast {
            stated_variance: stated.map_or(0.0, |sd| sd * sd * fit.group_factor(&value.weights)),
            unit: self.unit(before, after),
            session_sd,
            value,
        })
    }

    /// Mean `log g` of a setup, days that scatter included.
    pub fn mean_of(&self, setup: &str) -> Option<grouped::Contrast> {
        let c = self.vector(&[(setup, 1.0)]).ok()?;
        Some(self.fit(WITHIN_GROUPS).ok()?.contrast(&c))
    }

    /// How `log g` goes with `covariate`, one value a session, at equal setups and with days that
    /// scatter. `None`: too few sessions, or the setups tell the covariate.
    pub fn slope(&self, covariate: &[f64]) -> Option<grouped::Contrast> {
        let known = self.known(BETWEEN_GROUPS);
        let (y, cell, day) = (&self.log_g, &self.cell, &self.day);
        let fit = Grouped::with_covariates(y, cell, day, &[covariate], known)?;
        let mut c = vec![0.0; self.setups.len() + 1];
        c[self.setups.len()] = 1.0;
        Some(fit.contrast(&c))
    }

    /// Standard error of a session from its own windows: the median.
    pub fn own_se(&self) -> f64 {
        (self.least_variance / OWN_SHARE).sqrt()
    }

    /// How far sessions and days scatter. `None`: it does not show.
    pub fn scatter(&self) -> Option<Scatter> {
        let fit = self.fit(WITHIN_GROUPS).ok()?;
        let (session_sd, day_sd) = fit.scatter();
        Some(Scatter {
            session_sd,
            day_sd,
            at_most: fit.scatter_at_most((1.0 + LEVEL) / 2.0),
            df: fit.df(),
            days_told: fit.group_df() > 0,
        })
    }

    fn vector(&self, entries: &[(&str, f64)]) -> Result<Vec<f64>, NoInterval> {
        let mut c = vec![0.0; self.setups.len()];
        for (setup, value) in entries {
            c[*self.setups.get(*setup).ok_or(NoInterval::TooFew)?] = *value;
        }
        Ok(c)
    }

    fn fit(&self, prior: f64) -> Result<Grouped, NoInterval> {
        let known = self.known(prior);
        Grouped::new(&self.log_g, &self.cell, &self.day, known).ok_or(NoInterval::TooFew)
    }

    fn known(&self, prior_ratio: f64) -> Known {
        Known {
            prior_ratio,
            least_variance: self.least_variance,
        }
    }
}

/// Share of a session's variance by its own windows that is believed of whole sessions: windows also
/// differ by what a whole session averages out, such as traffic.
const OWN_SHARE: f64 = 0.5;

/// Least variance of a session: from the median variance by its own windows; zero where none shows.
fn least_variance(sessions: &[Observation]) -> f64 {
    let known = sessions
        .iter()
        .map(|s| s.own_se)
        .filter(|se| se.is_finite());
    let mut known: Vec<f64> = known.collect();
    known.sort_by(f64::total_cmp);
    known
        .get(known.len() / 2)
        .map_or(0.0, |se| OWN_SHARE * se * se)
}

/// A session for tests: its setup, its day of May, its `log g`.
#[cfg(test)]
pub(super) fn at(setup: &str, day: u32, log_g: f64) -> Observation {
    Observation {
        log_g,
        own_se: f64::INFINITY,
        setup: setup.into(),
        day: NaiveDate::from_ymd_opt(2031, 5, day),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn half_width(contrast: &Contrast) -> f64 {
        let (low, high) = contrast.value.interval(contrast.stated_variance).unwrap();
        (high - low) / 2.0
    }

    #[test]
    fn a_day_that_is_better_for_both_does_not_count_as_the_part() {
        let sessions = [
            at("a", 1, 1.00),
            at("b", 1, 1.10),
            at("b", 1, 1.11),
            at("a", 2, 1.05),
            at("a", 2, 1.06),
            at("b", 2, 1.16),
        ];
        let c = Layout::of(&sessions).contrast("a", "b", None).unwrap();
        assert_eq!(c.unit, Unit::Session);
        assert!((c.value.estimate - 0.105).abs() < 0.01);
        assert!(half_width(&c) < 0.05, "{}", half_width(&c));
    }

    #[test]
    fn one_day_a_setup_needs_days_from_elsewhere_or_a_stated_scatter() {
        let mut sessions = vec![
            at("a", 1, 1.00),
            at("a", 1, 1.02),
            at("b", 2, 1.05),
            at("b", 2, 1.06),
        ];
        let alone = Layout::of(&sessions);
        assert_eq!(alone.contrast("a", "b", None), Err(NoInterval::DayOrPart));
        let stated = alone.contrast("a", "b", Some(0.01)).unwrap();
        // Known: 1.96 sqrt(2) 0.01 for the two days, and the sessions' own part on top.
        assert!(half_width(&stated) > 1.96 * 2.0_f64.sqrt() * 0.01);
        for day in [3, 4, 5] {
            let level = f64::from(day) * 0.01;
            sessions.extend([at("c", day, level), at("c", day, level + 0.01)]);
        }
        let history = Layout::of(&sessions).contrast("a", "b", None).unwrap();
        assert_eq!(history.unit, Unit::Day);
        assert!(half_width(&history) > 0.02);
    }

    #[test]
    fn sessions_of_other_setups_narrow_the_interval() {
        let mut sessions = vec![
            at("a", 1, 1.000),
            at("b", 1, 1.031),
            at("a", 2, 1.012),
            at("b", 2, 1.035),
        ];
        let alone = half_width(&Layout::of(&sessions).contrast("a", "b", None).unwrap());
        for i in 0..4 {
            for (k, wobble) in [0.0, 0.011, -0.009].into_iter().enumerate() {
                let level = 0.9 + 0.003 * f64::from(i % 3) + wobble * (1.0 + 0.1 * k as f64);
                sessions.push(at(if i < 2 { "c" } else { "d" }, 10 + i, level));
            }
        }
        let more = half_width(&Layout::of(&sessions).contrast("a", "b", None).unwrap());
        assert!(more < alone, "{more} {alone}");
    }

    #[test]
    fn two_sessions_are_too_few_and_an_unknown_setup_is_none() {
        let layout = Layout::of(&[at("a", 1, 1.0), at("b", 1, 1.1)]);
        assert_eq!(layout.contrast("a", "b", None), Err(NoInterval::TooFew));
        assert_eq!(layout.contrast("a", "c", None), Err(NoInterval::TooFew));
    }

    #[test]
    fn unknown_days_are_shared_with_nobody() {
        let mut sessions = [at("a", 1, 1.0), at("b", 1, 1.1), at("b", 1, 1.12)];
        for s in &mut sessions {
            s.day = None;
        }
        assert_eq!(Layout::of(&sessions).unit("a", "b"), Unit::Day);
    }
}
