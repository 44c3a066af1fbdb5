//! How far sessions and days of the book scatter: what a plan starts from.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::contrast::Layout;
use super::eligible::{self, common_source};
use super::{mean_excess_k, observations};
use crate::estimate::ASSUMED_SESSION_LOG_SD;
use crate::estimate::joint::fit_jointly;
use crate::estimate::prepare::Prepared;
use crate::session::Session;

/// Coolant minus ambient of hot running where the book does not tell it, K (common practice, no
/// source).
const USUAL_EXCESS_K: f64 = 70.0;

/// Scatter of days over that of sessions where the book does not tell it (by simulation: an ambient
/// sensor that leans by 0.3 K from day to day).
const USUAL_RATIO: f64 = 0.5;

/// Standard error of a session from its own windows over the scatter of sessions, where the book does
/// not tell it (by simulation).
const USUAL_OWN_SHARE: f64 = 0.6;

/// Fewer degrees of freedom do not tell a scatter.
const LEAST_DF: f64 = 3.0;

/// Scatter of settled coolant from session to session and from day to day.
#[derive(Debug, Clone, PartialEq)]
pub struct BookScatter {
    /// Where it comes from, in words.
    pub source: String,
    /// Whether it is assumed.
    pub assumed: bool,
    /// Sessions it was learned from.
    pub sessions: usize,
    /// On how many days.
    pub days: usize,
    /// Of a session within its day, as a standard deviation, K.
    pub session_sd_k: f64,
    /// Of days, K.
    pub day_sd_k: f64,
    /// Standard error of a session from its own windows, K.
    pub own_se_k: f64,
    /// Setups and days of those sessions.
    pub layout: Vec<(String, Option<NaiveDate>)>,
}

impl BookScatter {
    /// The usual scatter, for a book that tells nothing: why.
    pub fn usual(why: impl Into<String>) -> Self {
        let session_sd_k = ASSUMED_SESSION_LOG_SD * USUAL_EXCESS_K;
        Self {
            source: why.into(),
            assumed: true,
            sessions: 0,
            days: 0,
            session_sd_k,
            day_sd_k: USUAL_RATIO * session_sd_k,
            own_se_k: USUAL_OWN_SHARE * session_sd_k,
            layout: Vec::new(),
        }
    }

    /// What the sessions of one car tell: the car of `setup`, or the one with most sessions.
    pub fn of(sessions: &[Session], setup: &str) -> Self {
        let of_car = of_one_car(sessions, setup);
        let source = common_source(of_car.iter().copied(), false).source;
        let used: Vec<Prepared> = of_car
            .iter()
            .filter_map(|s| eligible::usable(s, source, 1.0, false).ok())
            .collect();
        let used: Vec<&Prepared> = used.iter().collect();
        let joint = match fit_jointly(&used) {
            Ok(joint) if joint.converged => joint,
            Ok(_) => return Self::usual("the joint fit of its sessions did not converge"),
            Err(_) if used.is_empty() => return Self::usual("it has no session that can be used"),
            Err(none) => return Self::usual(none.0),
        };
        let seen = observations(&used, &joint);
        let layout = Layout::of(&seen);
        let Some(told) = layout.scatter().filter(|s| s.df >= LEAST_DF) else {
            return Self::usual(format!(
                "{} of its sessions can be used, too few to tell a scatter",
                used.len()
            ));
        };
        let excess_k = mean_excess_k(&joint);
        let session_sd_k = told.session_sd * excess_k;
        let days: BTreeSet<_> = seen.iter().map(|s| s.day).collect();
        Self {
            source: if told.days_told {
                "sessions and days of this car in the book"
            } else {
                "sessions of this car in the book; of days it has too few, so theirs is assumed"
            }
            .to_owned(),
            assumed: false,
            sessions: used.len(),
            days: days.len(),
            session_sd_k,
            day_sd_k: if told.days_told {
                told.day_sd * excess_k
            } else {
                USUAL_RATIO * session_sd_k
            },
            own_se_k: layout.own_se() * excess_k,
            layout: seen.into_iter().map(|s| (s.setup, s.day)).collect(),
        }
    }
}

fn of_one_car<'a>(sessions: &'a [Session], setup: &str) -> Vec<&'a Session> {
    let mut cars: BTreeMap<Option<&str>, Vec<&Session>> = BTreeMap::new();
    for session in sessions {
        let name = session.meta.car.name.as_deref();
        cars.entry(name).or_default().push(session);
    }
    let named = sessions.iter().find(|s| s.meta.setup == setup);
    match named {
        Some(session) => cars.remove(&session.meta.car.name.as_deref()),
        None => cars.into_values().max_by_key(Vec::len),
    }
    .unwrap_or_default()
}
