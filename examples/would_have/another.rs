//! What a setup can stand: some sessions judged, and another on another day that was none of them.
//!
//! The truth is the ambient at which that other session, with its own pace, traffic, core, wind and gusts, would just
//! have peaked at the limit: it is run at two temperatures of the day and the line through both is read off at the
//! limit. Its peak is that of the true coolant from 8 min of hot running on, over the true ambient of the same time.

use heatbook::limits::{HotDay, LimitRequest, SetupLimit, gathered, judge};
use heatbook::session::Role;
use heatbook::stats::mean;

use crate::simulator::campaign::Oddities;
use crate::simulator::library::car_sheet;
use crate::simulator::run::DT_S;
use crate::simulator::{Campaign, Side};

/// The limit, °C.
const LIMIT_C: f64 = 112.0;
/// Air at noon when the judged sessions are run, °C.
const NOON_C: f64 = 23.0;
/// The two temperatures at noon at which the other session is run, °C: alone, and behind another car.
const TRIED_C: [f64; 2] = [28.0, 34.0];
const TRIED_BEHIND_C: [f64; 2] = [18.0, 24.0];
/// By how much that car slows the air, %.
const WAKE_PERCENT: f64 = 20.0;
/// Hot running until stored heat no longer counts, s.
const SETTLED_AFTER_S: f64 = 480.0;
/// Hot running of the other session, s.
const HOT_S: (f64, f64) = (1180.0, 1200.0);
/// Between the seeds of campaigns and of the sessions that follow them.
const SEEDS_APART: u64 = 1_000_000_000_000;

/// A plan of judged sessions.
pub struct Plan {
    pub name: &'static str,
    days: usize,
    sessions_a_day: usize,
}

pub const PLANS: [Plan; 4] = [
    Plan {
        name: "3 sessions on one day",
        days: 1,
        sessions_a_day: 3,
    },
    Plan {
        name: "6 sessions on 2 days",
        days: 2,
        sessions_a_day: 3,
    },
    Plan {
        name: "6 sessions on 3 days",
        days: 3,
        sessions_a_day: 2,
    },
    Plan {
        name: "16 sessions on 4 days",
        days: 4,
        sessions_a_day: 4,
    },
];

/// What the library said the setup can stand, and what another session could.
pub struct Stood {
    pub said: SetupLimit,
    /// Ambient at which it would just have met the limit, °C.
    pub ambient_c: f64,
    /// The same, held behind another car all along.
    pub behind_c: f64,
}

/// The campaign with this seed.
///
/// # Errors
/// A defect of the simulator.
pub fn stood(plan: &Plan, seed: u64) -> anyhow::Result<Stood> {
    let mut campaign = Campaign::new(
        seed,
        vec![vec![Side::Before; plan.sessions_a_day]; plan.days],
    );
    campaign.noon_c = vec![NOON_C; plan.days];
    let request = LimitRequest {
        channel: Role::Coolant,
        limit_c: Some(LIMIT_C),
        margin_k: None,
        hot_day: HotDay {
            wake_percent: Some(WAKE_PERCENT),
            ..HotDay::default()
        },
    };
    let sessions = (campaign.run().iter())
        .map(|session| session.to_session(&car_sheet()))
        .collect::<anyhow::Result<Vec<_>>>()?;
    let judged = sessions.iter().map(|s| judge(s, &request)).collect();
    let metas: Vec<_> = sessions.into_iter().map(|s| s.meta).collect();
    let mut setups = gathered(judged, &metas, &request).setups;
    Ok(Stood {
        said: setups.swap_remove(0),
        ambient_c: limiting_c(seed + SEEDS_APART, TRIED_C, 1.0),
        behind_c: limiting_c(
            seed + SEEDS_APART,
            TRIED_BEHIND_C,
            1.0 - WAKE_PERCENT / 100.0,
        ),
    })
}

/// Ambient at which another session would just have met the limit, °C.
fn limiting_c(seed: u64, tried_c: [f64; 2], following: f64) -> f64 {
    let [[cooler, at_cooler], [hotter, at_hotter]] =
        tried_c.map(|noon_c| peak_over_ambient(seed, noon_c, following));
    let share = (LIMIT_C - at_cooler) / (at_hotter - at_cooler);
    cooler + share * (hotter - cooler)
}

/// Mean true ambient and peak of the true coolant, settled, °C.
fn peak_over_ambient(seed: u64, noon_c: f64, following: f64) -> [f64; 2] {
    let mut alone = Campaign::new(seed, vec![vec![Side::Before]]);
    alone.noon_c = vec![noon_c];
    alone.oddities = Oddities {
        hot_s: Some([HOT_S; 2]),
        following: Some(following),
        ..Oddities::default()
    };
    let truth = alone.run().swap_remove(0).truth;
    let begin = truth.hot.iter().position(|hot| *hot).unwrap_or(0);
    let end = truth.hot.iter().rposition(|hot| *hot).unwrap_or(0);
    let settled = begin + (SETTLED_AFTER_S / DT_S) as usize..end;
    let ambient_c = mean(&truth.channel(Role::Ambient)[settled.clone()]);
    let coolant = &truth.channel(Role::Coolant)[settled];
    [
        ambient_c,
        coolant.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    ]
}
