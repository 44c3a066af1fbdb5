//! The tool itself, asked as a user would ask it.

use chrono::TimeDelta;
use heatbook::car::CarSheet;
use heatbook::compare::{Comparison, Request, compare};
use heatbook::ingest::{ReadOptions, read_session_bytes};
use heatbook::session::{Role, Session, SessionMeta};

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

/// How a campaign comes to the tool.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Entry {
    /// As sessions, as if imported.
    Sessions,
    /// As CSV logs, each read by the importer.
    Logs,
}

/// The tool's sessions of a campaign.
pub fn sessions(campaign: &[SimSession], entry: Entry) -> Vec<Session> {
    let session = |s: &SimSession| match entry {
        Entry::Sessions => taken(s),
        Entry::Logs => Some(imported(s).expect("a log that the importer reads")),
    };
    campaign.iter().filter_map(session).collect()
}

fn taken(s: &SimSession) -> Option<Session> {
    let mut meta = SessionMeta::bare(&format!("{}.csv", s.number), &s.setup, car());
    meta.id = format!("s{}", s.number);
    meta.day = Some(s.day);
    meta.start = Some(s.start);
    Session::from_columns(meta, &s.t_s, s.channels.clone()).ok()
}

fn imported(s: &SimSession) -> anyhow::Result<Session> {
    let options = ReadOptions {
        setup: s.setup.clone(),
        car: car(),
        ..ReadOptions::default()
    };
    let log = log(s)?;
    let mut session = read_session_bytes(&format!("{}.csv", s.number), &log, &[], &options)?;
    session.meta.id = format!("s{}", s.number);
    Ok(session)
}

/// The CSV log of a session: its clock is date and time, what is not read is blank.
fn log(s: &SimSession) -> anyhow::Result<Vec<u8>> {
    let mut log = csv::Writer::from_writer(Vec::new());
    let head = |role: &Role| {
        let unit = role.quantity().inside_unit();
        format!("{} [{}]", role.name().replace('_', " "), unit.symbol())
    };
    let heads = s.channels.keys().map(head);
    log.write_record(std::iter::once("Time".to_owned()).chain(heads))?;
    for (row, t) in s.t_s.iter().enumerate() {
        let at = s.start + TimeDelta::milliseconds((1000.0 * t).round() as i64);
        let cell = |values: &Vec<f64>| match values[row] {
            value if value.is_nan() => String::new(),
            value => value.to_string(),
        };
        let cells = s.channels.values().map(cell);
        let time = at.format("%Y-%m-%dT%H:%M:%S%.3f").to_string();
        log.write_record(std::iter::once(time).chain(cells))?;
    }
    Ok(log.into_inner()?)
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
