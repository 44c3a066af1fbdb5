//! The tool itself, asked as a user would ask it.

use heatbook::car::CarSheet;
use heatbook::compare::{Comparison, Request, compare};
use heatbook::session::{Session, SessionMeta};

use super::estimators::Answer;
use super::rows::NOON_C;
use crate::simulator::SimSession;
use crate::simulator::cooling::{FULL_OPEN_C, OPENS_C};

/// The car sheet that an owner of the simulated car would write: rated values, none fitted.
fn car() -> CarSheet {
    CarSheet {
        name: Some("simulated".to_owned()),
        mass_kg: Some(1350.0),
        coolant_l: Some(8.0),
        glycol_volume_percent: Some(40.0),
        thermostat_opens_c: Some(OPENS_C),
        thermostat_full_open_c: Some(FULL_OPEN_C),
        limit_coolant_c: Some(115.0),
        ..CarSheet::default()
    }
}

/// The tool's sessions of a campaign.
pub fn sessions(campaign: &[SimSession]) -> Vec<Session> {
    campaign
        .iter()
        .filter_map(|s| {
            let mut meta = SessionMeta::bare(&format!("{}.csv", s.number), &s.setup, car());
            meta.id = format!("s{}", s.number);
            meta.day = Some(s.day);
            meta.start = Some(s.start);
            Session::from_columns(meta, &s.t_s, s.channels.clone()).ok()
        })
        .collect()
}

/// The tool's comparison of before and after in a book of these sessions.
pub fn compared(sessions: &[Session]) -> Comparison {
    let request = Request {
        ambient_c: Some(NOON_C),
        ..Request::of("before", "after")
    };
    compare(sessions, &request)
}

/// The standardised answer.
pub fn standardised(comparison: &Comparison) -> Option<Answer> {
    let i = comparison.coolant_change_k.main.known()?;
    Some(Answer {
        change_k: i.estimate,
        half_width_k: i.half_width(),
        verdict: Some(comparison.verdict.label()),
    })
}

/// The matched answer.
pub fn matched(comparison: &Comparison) -> Option<Answer> {
    let i = comparison.matched.coolant_change_k.known()?;
    Some(Answer {
        change_k: i.estimate,
        half_width_k: i.half_width(),
        verdict: None,
    })
}
