//! How far sessions and days of the book scatter: what a plan starts from.

use std::collections::BTreeSet;

use chrono::NaiveDate;

use super::car_fit::{Eligible, by_car};
use crate::estimate::ASSUMED_SESSION_LOG_SD;
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
    /// Upper ends of the 95 % intervals of these two, K; `None`: nothing was learned.
    pub at_most_k: Option<[f64; 2]>,
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
            at_most_k: None,
            own_se_k: USUAL_OWN_SHARE * session_sd_k,
            layout: Vec::new(),
        }
    }

    /// What the sessions of one car tell: the car of `setup`, or the one with most sessions.
    pub fn of(sessions: &[Session], setup: &str) -> Self {
        let of_car = of_one_car(sessions, setup);
        let eligible = Eligible::of(&of_car);
        if eligible.used.is_empty() {
            return Self::usual("it has no session that can be used");
        }
        let fit = match eligible.fit() {
            Ok(fit) => fit,
            Err(why) => return Self::usual(why),
        };
        let layout = fit.layout();
        let Some(told) = layout.scatter().filter(|s| s.df >= LEAST_DF) else {
            return Self::usual(format!(
                "{} of its sessions can be used, too few to tell a scatter",
                fit.used.len()
            ));
        };
        let excess_k = fit.excess_k();
        let session_sd_k = told.session_sd * excess_k;
        let days: BTreeSet<_> = fit.seen.iter().map(|s| s.day).collect();
        Self {
            source: if told.days_told {
                "sessions and days of this car in the book"
            } else {
                "sessions of this car in the book; of days it has too few, so theirs is assumed"
            }
            .to_owned(),
            assumed: false,
            sessions: fit.used.len(),
            days: days.len(),
            session_sd_k,
            day_sd_k: if told.days_told {
                told.day_sd * excess_k
            } else {
                USUAL_RATIO * session_sd_k
            },
            at_most_k: told
                .at_most
                .map(|(session, day)| [session, day].map(|sd| sd * excess_k)),
            own_se_k: layout.own_se() * excess_k,
            layout: fit.seen.into_iter().map(|s| (s.setup, s.day)).collect(),
        }
    }
}

fn of_one_car<'a>(sessions: &'a [Session], setup: &str) -> Vec<&'a Session> {
    let mut cars = by_car(sessions);
    let named = sessions.iter().find(|s| s.meta.setup == setup);
    match named {
        Some(session) => cars.remove(&session.meta.car.name.as_deref()),
        None => cars.into_values().max_by_key(Vec::len),
    }
    .unwrap_or_default()
}
