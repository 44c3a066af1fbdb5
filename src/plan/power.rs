//! What a design finds, by simulation through the contrast of the comparison.
//!
//! Campaigns in which nothing changed: a level for each day and a scatter for each session are
//! drawn, also for the sessions that the book has already, and the contrast is taken as the comparison
//! takes it. A true change only shifts estimate and interval, so one set of campaigns tells the power
//! for every change: a change of D kelvin is found where the interval's half towards it is less than
//! D. Shared parameters are left out: they cancel when both setups are driven alike.

use chrono::{Days, NaiveDate};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

use super::history;
use crate::compare::{BookScatter, Layout, Observation};

/// Campaigns simulated for each design.
pub const CAMPAIGNS: u32 = 1000;

/// Where planned days stand in the calendar: later than any log.
const FIRST_DAY: NaiveDate = NaiveDate::from_ymd_opt(9000, 1, 1).expect("a date");

/// Ends of the intervals of campaigns in which nothing changed, K.
pub(super) struct Draws {
    intervals: Vec<(f64, f64)>,
}

impl Draws {
    /// Simulated campaigns of a design: which sessions of each day are with the setup after.
    pub fn of(sides: &[Vec<bool>], scatter: &BookScatter, seed: u64) -> Self {
        let sessions = sessions(sides, scatter);
        let intervals = (0..CAMPAIGNS)
            .into_par_iter()
            .filter_map(|i| campaign(&sessions, scatter, seed + u64::from(i)))
            .collect();
        Self { intervals }
    }

    /// Whether the design gives intervals at all.
    pub fn has_intervals(&self) -> bool {
        self.intervals.len() == CAMPAIGNS as usize
    }

    /// Campaigns in which a change of this size is found.
    pub fn found(&self, effect_k: f64) -> usize {
        self.intervals.iter().filter(|i| i.1 < effect_k).count()
    }

    /// Campaigns without a change that are shown to be inside ± a threshold.
    pub fn inside(&self, threshold_k: f64) -> usize {
        let inside = |i: &&(f64, f64)| -threshold_k < i.0 && i.1 < threshold_k;
        self.intervals.iter().filter(inside).count()
    }

    /// The change that is found with this power, K.
    pub fn smallest_effect_k(&self, power: f64) -> f64 {
        let mut highs: Vec<f64> = self.intervals.iter().map(|i| i.1).collect();
        highs.sort_by(f64::total_cmp);
        let place = (power * highs.len() as f64).ceil() as usize;
        highs[place.clamp(1, highs.len()) - 1]
    }
}

/// The planned sessions and those of the book.
fn sessions(sides: &[Vec<bool>], scatter: &BookScatter) -> Vec<Observation> {
    let planned = (0..).zip(sides).flat_map(|(day, sides)| {
        sides.iter().map(move |after| Observation {
            log_g: 0.0,
            own_se: scatter.own_se_k,
            setup: if *after { "after" } else { "before" }.to_owned(),
            day: FIRST_DAY.checked_add_days(Days::new(day)),
        })
    });
    planned.chain(history(scatter)).collect()
}

/// The interval of one campaign.
fn campaign(sessions: &[Observation], scatter: &BookScatter, seed: u64) -> Option<(f64, f64)> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut normal = |sd: f64| -> f64 {
        let z: f64 = StandardNormal.sample(&mut rng);
        sd * z
    };
    let mut levels = std::collections::BTreeMap::new();
    let drawn: Vec<Observation> = sessions
        .iter()
        .map(|session| {
            let level = match session.day {
                Some(day) => *levels
                    .entry(day)
                    .or_insert_with(|| normal(scatter.day_sd_k)),
                None => normal(scatter.day_sd_k),
            };
            Observation {
                log_g: level + normal(scatter.session_sd_k),
                ..session.clone()
            }
        })
        .collect();
    let contrast = Layout::of(&drawn).contrast("before", "after", None).ok()?;
    contrast.value.interval(0.0)
}
