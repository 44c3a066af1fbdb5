//! A test planned before it is driven: how many sessions, in what order, and what they could find.
//!
//! The scatter of sessions and days comes from the book, or is assumed and said to be. Power is had
//! by simulation through the contrast that compares (`power`), with the book's own sessions in it, so
//! that a plan promises what the comparison will keep.

mod order;
mod power;

pub use order::Run;
pub use power::CAMPAIGNS;

use serde::Serialize;

use crate::compare::verdict::MOST_DAYS;
use crate::compare::{BookScatter, Observation};
use crate::stats::{sessions_needed, share};
use crate::warning::Warning;
use order::{order, sides};
use power::Draws;

/// Power at which a test is sized.
pub const POWER: f64 = 0.8;

/// Seed of the simulated campaigns.
pub const SEED: u64 = 20_471_126;

/// What to plan for.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// The setup before.
    pub before: String,
    /// The setup after.
    pub after: String,
    /// The change that is to be found, K, without its sign.
    pub effect_k: f64,
    /// The smallest change that matters, K.
    pub threshold_k: f64,
    /// Sessions on each day.
    pub sessions_per_day: u32,
    /// Days; `None`: as many as it takes.
    pub days: Option<u32>,
    /// Whether the part cannot be changed within a day.
    pub one_setup_a_day: bool,
}

/// A planned test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plan {
    /// The setup before.
    pub before: String,
    /// The setup after.
    pub after: String,
    /// The change that is to be found, K.
    pub effect_k: f64,
    /// The smallest change that matters, K.
    pub threshold_k: f64,
    /// Days of this design.
    pub days: u32,
    /// Sessions on each of them.
    pub sessions_per_day: u32,
    /// Sessions with the setup before and after.
    pub sessions_per_setup: [u32; 2],
    /// How often such a change is found, 0 to 1; `None`: this design never gives an interval.
    pub power: Option<f64>,
    /// 95 % interval of that share, for the number of campaigns simulated.
    pub power_interval: Option<[f64; 2]>,
    /// How often it is found where sessions and days scatter as much as the book leaves possible; `None`: the
    /// scatter is assumed, or there is no interval.
    pub power_at_most_scatter: Option<f64>,
    /// How often no change at all is shown to be inside the threshold, 0 to 1.
    pub power_no_practical_change: Option<f64>,
    /// Sessions with each setup for a power of 80 %; `None`: no design of a practical size.
    pub sessions_needed: Option<u32>,
    /// Days that takes with so many sessions a day.
    pub days_needed: Option<u32>,
    /// The smallest change that this design finds with a power of 80 %, K.
    pub smallest_effect_k: Option<f64>,
    /// The running order.
    pub order: Vec<Run>,
    /// Where the scatter comes from.
    pub scatter_from: ScatterFrom,
    /// Campaigns simulated for each design.
    pub campaigns: u32,
    /// Their seed.
    pub seed: u64,
    /// What the reader must know besides.
    pub warnings: Vec<Warning>,
}

/// Where the scatter of a plan comes from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScatterFrom {
    /// In words.
    pub source: String,
    /// Sessions it was learned from.
    pub sessions: usize,
    /// On how many days.
    pub days: usize,
    /// Scatter of a session within its day, as a standard deviation of settled coolant, K.
    pub session_sd_k: f64,
    /// Scatter of days, K.
    pub day_sd_k: f64,
    /// Upper end of the 95 % interval of `session_sd_k`; `None`: assumed.
    pub session_sd_at_most_k: Option<f64>,
    /// Upper end of the 95 % interval of `day_sd_k`; `None`: assumed.
    pub day_sd_at_most_k: Option<f64>,
}

/// A design and what simulated campaigns of it gave.
struct Design {
    days: u32,
    draws: Draws,
}

/// Plans a test. `scatter` is what the book says of the car, if it says anything.
pub fn plan(request: &Request, scatter: &BookScatter) -> Plan {
    let needed = needed(request, scatter);
    let days = request.days.or_else(|| needed.as_ref().map(|d| d.days));
    let asked = match (days, needed.as_ref()) {
        (Some(days), Some(design)) if design.days == days => None,
        _ => Some(design(request, scatter, days.unwrap_or(MOST_DAYS))),
    };
    let shown = asked.as_ref().or(needed.as_ref());
    let draws = shown.map(|d| &d.draws).filter(|d| d.has_intervals());
    let days = shown.map_or(0, |d| d.days);
    let found = draws.map(|d| d.found(request.effect_k));
    let campaigns = CAMPAIGNS;
    Plan {
        before: request.before.clone(),
        after: request.after.clone(),
        effect_k: request.effect_k,
        threshold_k: request.threshold_k,
        days,
        sessions_per_day: request.sessions_per_day,
        sessions_per_setup: counts(request, days),
        power: found.map(|n| n as f64 / f64::from(campaigns)),
        power_interval: found.and_then(|n| {
            let of_share = share(n, campaigns as usize);
            of_share.known().map(|i| [i.low, i.high])
        }),
        power_at_most_scatter: draws.and_then(|_| power_at_most_scatter(request, scatter, days)),
        power_no_practical_change: draws
            .map(|d| d.inside(request.threshold_k) as f64 / f64::from(campaigns)),
        sessions_needed: needed.as_ref().map(|d| counts(request, d.days)[0]),
        days_needed: needed.as_ref().map(|d| d.days),
        smallest_effect_k: draws.map(|d| d.smallest_effect_k(POWER)),
        order: order(request, days),
        scatter_from: ScatterFrom {
            source: scatter.source.clone(),
            sessions: scatter.sessions,
            days: scatter.days,
            session_sd_k: scatter.session_sd_k,
            day_sd_k: scatter.day_sd_k,
            session_sd_at_most_k: scatter.at_most_k.map(|ends| ends[0]),
            day_sd_at_most_k: scatter.at_most_k.map(|ends| ends[1]),
        },
        campaigns,
        seed: SEED,
        warnings: warnings(request, scatter, days),
    }
}

/// The power of the same design where sessions and days both scatter as much as the book leaves possible.
fn power_at_most_scatter(request: &Request, scatter: &BookScatter, days: u32) -> Option<f64> {
    let [session_sd_k, day_sd_k] = scatter.at_most_k?;
    let most = BookScatter {
        session_sd_k,
        day_sd_k,
        ..scatter.clone()
    };
    let found = design(request, &most, days).draws.found(request.effect_k);
    Some(found as f64 / f64::from(CAMPAIGNS))
}

/// Sessions with each setup over so many days.
fn counts(request: &Request, days: u32) -> [u32; 2] {
    let mut counts = [0, 0];
    for day in sides(request, days) {
        for after in day {
            counts[usize::from(after)] += 1;
        }
    }
    counts
}

/// The smallest design that finds the change. `None`: none of a practical size.
fn needed(request: &Request, scatter: &BookScatter) -> Option<Design> {
    let sd_k = match request.one_setup_a_day {
        true => {
            let of_day = scatter.day_sd_k.powi(2) * f64::from(request.sessions_per_day);
            (scatter.session_sd_k.powi(2) + of_day).sqrt()
        }
        false => scatter.session_sd_k,
    };
    let guess = sessions_needed(sd_k, request.effect_k, POWER)?;
    let days_of = |sessions: u32| (2 * sessions).div_ceil(request.sessions_per_day).max(1);
    let mut days = days_of(guess).max(least_days(request));
    if days > 2 * MOST_DAYS {
        return None;
    }
    let mut tried = design(request, scatter, days);
    // Down while fewer days do, up while these do not: the guess is near, so both walks are short.
    while days > least_days(request) && enough(&tried, request) {
        let fewer = design(request, scatter, days - 1);
        if !enough(&fewer, request) {
            return Some(tried);
        }
        (days, tried) = (days - 1, fewer);
    }
    while !enough(&tried, request) {
        days += 1;
        if days > MOST_DAYS {
            return None;
        }
        tried = design(request, scatter, days);
    }
    Some(tried)
}

/// Part and day cannot be told apart on one day a setup, and a single day is one weather.
fn least_days(request: &Request) -> u32 {
    if request.one_setup_a_day { 4 } else { 2 }
}

fn enough(design: &Design, request: &Request) -> bool {
    design.draws.has_intervals()
        && design.draws.found(request.effect_k) as f64 >= POWER * f64::from(CAMPAIGNS)
}

fn design(request: &Request, scatter: &BookScatter, days: u32) -> Design {
    let sides = sides(request, days);
    Design {
        days,
        draws: Draws::of(&sides, scatter, SEED),
    }
}

fn warnings(request: &Request, scatter: &BookScatter, days: u32) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if scatter.assumed {
        warnings.push(Warning::caution(
            "scatter-assumed",
            format!(
                "the book does not tell how far sessions of this car scatter ({}): {:.2} K a session and {:.2} K a day are assumed; plan again after the first day",
                scatter.source, scatter.session_sd_k, scatter.day_sd_k
            ),
        ));
    }
    if request.one_setup_a_day {
        warnings.push(Warning::caution(
            "one-setup-a-day",
            "with one setup a day the change is held against the scatter of days, which takes many days to know: change the part within the day if it can be done at all",
        ));
    }
    if days == 1 {
        warnings.push(Warning::caution(
            "one-day",
            "one day is one weather and one driver's mood: what it shows may not hold on another",
        ));
    }
    warnings
}

/// The sessions of the book as the planned comparison will see them.
fn history(scatter: &BookScatter) -> impl Iterator<Item = Observation> + '_ {
    scatter.layout.iter().map(|(setup, day)| Observation {
        log_g: 0.0,
        own_se: scatter.own_se_k,
        setup: format!("earlier {setup}"),
        day: *day,
    })
}

#[cfg(test)]
mod tests;
