//! What each assumption would change: the comparison run again with one of them replaced.
//!
//! Nothing is asserted: every row is a whole comparison of the same sessions. A row whose answer
//! moves by more than its interval is wide says that the assumption matters.

use chrono::NaiveDate;
use rayon::prelude::*;
use serde::Serialize;

use super::answer::{Comparison, Verdict};
use super::{Request, compared};
use crate::estimate::prepare::STEP_S;
use crate::session::Session;
use crate::stats::Estimate;
use crate::thermal::heat_input::HeatSource;
use crate::thermal::thermostat::Thermostat;

/// Factor by which the heat input is taken larger and smaller: what it is known to for most sources
/// (`HeatInput::scale_log_sd`, one standard deviation).
const SCALE: f64 = 1.35;
/// How far the thermostat's rating is moved, K: its tolerance with that of the coolant's sensor
/// (common practice, no source).
const GATE_K: f64 = 3.0;
/// How far the reference ambient is moved, K.
const AMBIENT_K: f64 = 10.0;
/// Most sessions for which each is left out in turn.
const MOST_LEFT_OUT: usize = 24;

/// What heat input and which sessions are taken as; the usual is the default.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumed {
    /// Source of the heat input; `None`: the best that all sessions have.
    pub heat_source: Option<HeatSource>,
    /// Factor on the heat input.
    pub heat_scale: f64,
}

impl Default for Assumed {
    fn default() -> Self {
        Self {
            heat_source: None,
            heat_scale: 1.0,
        }
    }
}

/// One comparison with one assumption replaced.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rerun {
    /// What was replaced: `heat input`, `thermostat`, `sessions` and so on.
    pub assumption: &'static str,
    /// What by.
    pub instead: String,
    /// The verdict then.
    pub verdict: Verdict,
    /// The change of settled coolant then, K.
    pub coolant_change_k: Estimate,
}

/// Sessions to leave out.
enum Without {
    Day(NaiveDate),
    Session(String),
}

impl Without {
    fn covers(&self, session: &Session) -> bool {
        match self {
            Self::Day(day) => session.meta.day == Some(*day),
            Self::Session(id) => session.meta.label() == *id,
        }
    }
}

/// Something to replace in a comparison.
struct Variant {
    assumption: &'static str,
    instead: String,
    request: Request,
    /// Sessions left out, and how far the thermostat's rating is moved.
    without: Option<Without>,
    gate_k: f64,
}

impl Variant {
    fn new(assumption: &'static str, instead: impl Into<String>, request: Request) -> Self {
        Self {
            assumption,
            instead: instead.into(),
            request,
            without: None,
            gate_k: 0.0,
        }
    }

    fn run(&self, sessions: &[Session]) -> Rerun {
        let kept = |s: &&Session| {
            let without = self.without.as_ref();
            without.is_none_or(|without| !without.covers(s))
        };
        let sessions: Vec<Session> = sessions
            .iter()
            .filter(kept)
            .map(|session| with_gate(session, self.gate_k))
            .collect();
        let comparison = compared(&sessions, &self.request, false);
        Rerun {
            assumption: self.assumption,
            instead: self.instead.clone(),
            verdict: comparison.verdict,
            coolant_change_k: comparison.coolant_change_k.main,
        }
    }
}

/// The comparison run again, one assumption replaced at a time. None where there was no answer.
pub fn sensitivity(sessions: &[Session], request: &Request, comparison: &Comparison) -> Vec<Rerun> {
    if comparison.rows.is_empty() {
        return Vec::new();
    }
    let variants = variants(sessions, request, comparison);
    variants.par_iter().map(|v| v.run(sessions)).collect()
}

fn variants(sessions: &[Session], request: &Request, comparison: &Comparison) -> Vec<Variant> {
    let mut out = heat(sessions, request);
    for (gate_k, way) in [(-GATE_K, "lower"), (GATE_K, "higher")] {
        let instead = format!("rated {GATE_K:.0} K {way}");
        let mut variant = Variant::new("thermostat", instead, request.clone());
        variant.gate_k = gate_k;
        out.push(variant);
    }
    for factor in [0.5, 2.0] {
        let threshold_k = request.threshold_k * factor;
        out.push(Variant::new(
            "smallest change that matters",
            format!("{threshold_k:.2} K"),
            Request {
                threshold_k,
                ..request.clone()
            },
        ));
    }
    for shift in [-AMBIENT_K, AMBIENT_K] {
        let ambient_c = comparison.reference.ambient_c + shift;
        out.push(Variant::new(
            "reference ambient",
            format!("{ambient_c:.1} °C"),
            Request {
                ambient_c: Some(ambient_c),
                ..request.clone()
            },
        ));
    }
    out.extend(drives(request, comparison));
    out.extend(left_out(request, comparison));
    out
}

/// Other heat inputs that every session of the two setups has, and the same one on another scale.
fn heat(sessions: &[Session], request: &Request) -> Vec<Variant> {
    let of_pair = sessions
        .iter()
        .filter(|s| request.compares(s) && s.meta.excluded.is_none());
    let available: Vec<Vec<HeatSource>> = of_pair
        .map(|s| HeatSource::available(&s.grid(STEP_S)))
        .filter(|sources| !sources.is_empty())
        .collect();
    let shared = HeatSource::ALL
        .into_iter()
        .filter(|source| available.iter().all(|sources| sources.contains(source)));
    let with = |assumed: Assumed| Request {
        assumed,
        ..request.clone()
    };
    let mut out: Vec<Variant> = shared
        .skip(1)
        .map(|source| {
            let assumed = Assumed {
                heat_source: Some(source),
                ..Assumed::default()
            };
            Variant::new(
                "heat input",
                format!("from {}", source.label()),
                with(assumed),
            )
        })
        .collect();
    for (heat_scale, way) in [(1.0 / SCALE, "smaller"), (SCALE, "larger")] {
        let assumed = Assumed {
            heat_scale,
            ..Assumed::default()
        };
        let percent = (100.0 * (heat_scale - 1.0)).abs();
        let instead = format!("{percent:.0} % {way} throughout");
        out.push(Variant::new(
            "scale of the heat input",
            instead,
            with(assumed),
        ));
    }
    out
}

/// The slowest and the fastest session's drive as the reference.
fn drives(request: &Request, comparison: &Comparison) -> Vec<Variant> {
    let by_speed =
        |a: &&super::SessionRow, b: &&super::SessionRow| a.speed_kmh.total_cmp(&b.speed_kmh);
    let slowest = comparison.rows.iter().min_by(by_speed);
    let fastest = comparison.rows.iter().max_by(by_speed);
    [(slowest, "slowest"), (fastest, "fastest")]
        .into_iter()
        .filter_map(|(row, which)| {
            let id = row?.id.clone();
            if id == comparison.reference.session {
                return None;
            }
            Some(Variant::new(
                "reference drive",
                format!("that of {id}, the {which}"),
                Request {
                    drive: Some(id),
                    ..request.clone()
                },
            ))
        })
        .collect()
}

/// Each day, and where there are few each session, left out in turn.
fn left_out(request: &Request, comparison: &Comparison) -> Vec<Variant> {
    let mut days: Vec<_> = comparison.rows.iter().filter_map(|row| row.day).collect();
    days.sort_unstable();
    days.dedup();
    let mut out = Vec::new();
    if days.len() > 1 {
        for day in days {
            let mut variant = Variant::new("sessions", format!("without {day}"), request.clone());
            variant.without = Some(Without::Day(day));
            out.push(variant);
        }
    }
    if comparison.rows.len() <= MOST_LEFT_OUT {
        for row in &comparison.rows {
            let instead = format!("without {}", row.id);
            let mut variant = Variant::new("sessions", instead, request.clone());
            variant.without = Some(Without::Session(row.id.clone()));
            out.push(variant);
        }
    }
    out
}

/// The session with its thermostat rated so much higher.
fn with_gate(session: &Session, shift_k: f64) -> Session {
    let mut session = session.clone();
    if shift_k != 0.0 {
        let rated = Thermostat::of(&session.meta.car_as_run());
        let (opens, full) = (rated.opens_c + shift_k, rated.full_open_c + shift_k);
        session.meta.car.thermostat_opens_c = Some(opens);
        session.meta.car.thermostat_full_open_c = Some(full);
    }
    session
}
