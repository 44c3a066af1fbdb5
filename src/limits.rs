//! Which sessions came near a limit.
//!
//! From the readings: peak, time near and over. Allowing for what the reading hides: a channel in
//! whole degrees that shows 109 may have been 109.99, and a sensor that lags by τ saw less than
//! there was, by `τ dT/dt` while it rose.
//!
//! Limiting ambient by the 1:1 rule of the cooling-test standards (SAE J1393, as summarised in
//! public): `limit - (peak - ambient)`, exact when flows and heat stay as they are.

use serde::{Deserialize, Serialize};

use crate::car::CarSheet;
use crate::estimate::joint::fit_jointly;
use crate::estimate::prepare::{Prepared, SENSOR_LAG_S, STEP_S, prepare};
use crate::estimate::simulate::{CarModel, ReferenceDrive};
use crate::estimate::{NotAssessable, assess, car_model, log_g_half_width};
use crate::quantity::Quantity;
use crate::session::{Role, Session};
use crate::stats::{Estimate, mean};
use crate::warning::Warning;

/// Margin taken when neither flag nor car sheet gives one, K.
pub const DEFAULT_MARGIN_K: f64 = 5.0;

/// A reading counts for at most this long, s: what happened in a gap is not known.
const LONGEST_HOLD_S: f64 = 5.0;

/// Rising by more than this at the end of hot running is still rising, K/s (half a kelvin a minute).
const STILL_RISING_K_PER_S: f64 = 0.5 / 60.0;

/// Length over which a slope is taken, s.
const SLOPE_S: f64 = 60.0;

/// How near a session came to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// Never within the margin.
    Clear,
    /// Within the margin, never at the limit.
    Approached,
    /// At or over the limit.
    Exceeded,
}

/// One session against a limit. Field names are the machine interface.
#[derive(Debug, Clone, Serialize)]
pub struct SessionLimit {
    /// The session's id.
    pub id: String,
    /// The channel judged.
    pub channel: Role,
    /// The limit it is judged against, if there is one.
    pub limit_c: Option<f64>,
    /// Largest reading. `None`: the session has no such channel.
    pub peak_c: Option<f64>,
    /// Limit minus peak, negative when over.
    pub closest_k: Option<f64>,
    /// Seconds at or above limit minus margin.
    pub seconds_within_margin: Option<f64>,
    /// Seconds at or above the limit.
    pub seconds_over: Option<f64>,
    /// From the readings.
    pub state: Option<State>,
    /// Allowing for the reading's resolution and lag.
    pub possible_state: Option<State>,
    /// Whether the reading was still rising when the session (or its hot running) ended.
    pub still_rising_at_end: Option<bool>,
    /// Where it would have settled.
    pub would_have_settled_c: Estimate,
    /// Ambient at which the same drive settles at the limit, by the 1:1 rule.
    pub limiting_ambient_c: Estimate,
    /// Why there are nulls, if there are.
    pub why: Option<String>,
}

/// The document of `heatbook limits`.
#[derive(Debug, Clone, Serialize)]
pub struct LimitsAnswer {
    /// One a session, in time order.
    pub sessions: Vec<SessionLimit>,
    /// The margin used, K; `None` where sessions have margins of their own.
    pub margin_k: Option<f64>,
    /// What the reader must know besides.
    pub warnings: Vec<Warning>,
}

/// What to judge against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitRequest {
    /// The channel.
    pub channel: Role,
    /// The limit; `None`: the car sheet's, for coolant.
    pub limit_c: Option<f64>,
    /// The margin; `None`: the car sheet's, else [`DEFAULT_MARGIN_K`].
    pub margin_k: Option<f64>,
}

impl LimitRequest {
    fn limit_for(&self, car: &CarSheet) -> Option<f64> {
        let of_sheet = (self.channel == Role::Coolant)
            .then_some(car.limit_coolant_c)
            .flatten();
        self.limit_c.or(of_sheet)
    }

    fn margin_for(&self, car: &CarSheet) -> f64 {
        self.margin_k
            .or(car.limit_margin_k)
            .unwrap_or(DEFAULT_MARGIN_K)
    }
}

/// Judges every session against its limit.
pub fn judge_all(sessions: &[Session], request: &LimitRequest) -> LimitsAnswer {
    let judged: Vec<SessionLimit> = sessions.iter().map(|s| judge(s, request)).collect();
    let mut margins: Vec<f64> = sessions
        .iter()
        .map(|s| request.margin_for(&s.meta.car_as_run()))
        .collect();
    margins.dedup();
    let margin_k = match margins[..] {
        [] => Some(request.margin_k.unwrap_or(DEFAULT_MARGIN_K)),
        [one] => Some(one),
        _ => None,
    };
    LimitsAnswer {
        warnings: warnings(&judged),
        sessions: judged,
        margin_k,
    }
}

fn warnings(judged: &[SessionLimit]) -> Vec<Warning> {
    let ids = |wanted: &dyn Fn(&SessionLimit) -> bool| {
        judged
            .iter()
            .filter(|s| wanted(s))
            .map(|s| s.id.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let hidden = ids(&|s| s.possible_state > s.state);
    let rising = ids(&|s| s.still_rising_at_end == Some(true));
    let mut warnings = Vec::new();
    if !hidden.is_empty() {
        warnings.push(Warning::caution(
            "reading-hides-peak",
            format!(
                "{hidden}: the reading's step and lag leave room for a worse state than it shows"
            ),
        ));
    }
    if !rising.is_empty() {
        warnings.push(Warning::caution(
            "still-rising",
            format!("{rising}: still rising when hot running ended, so the peak says little about a longer run"),
        ));
    }
    warnings.push(Warning::note(
        "not-a-protection",
        "limits here are read after the run and protect nothing; the car maker's limits and the event's rules go first",
    ));
    warnings
}

/// Judges one session.
pub fn judge(session: &Session, request: &LimitRequest) -> SessionLimit {
    let car = session.meta.car_as_run();
    let limit_c = request.limit_for(&car);
    let margin_k = request.margin_for(&car);
    let readings = Readings::of(session, request.channel);
    let mut judged = SessionLimit {
        id: session.meta.label(),
        channel: request.channel,
        limit_c,
        peak_c: None,
        closest_k: None,
        seconds_within_margin: None,
        seconds_over: None,
        state: None,
        possible_state: None,
        still_rising_at_end: None,
        would_have_settled_c: Estimate::unknown("no reading"),
        limiting_ambient_c: Estimate::unknown("no reading"),
        why: None,
    };
    let Some(readings) = readings else {
        judged.why = Some(format!("no {} channel", request.channel.name()));
        return judged;
    };
    let prepared = prepare(session, None);
    judged.peak_c = Some(readings.peak_c);
    judged.still_rising_at_end = rising_at_end(request.channel, &prepared);
    judged.would_have_settled_c = would_have_settled(request.channel, &prepared);
    match limit_c {
        None => {
            let or_sheet = match request.channel {
                Role::Coolant => ", or limit_coolant_c in the car sheet",
                _ => "",
            };
            let why = format!(
                "no limit for {}: give --limit-c{or_sheet}",
                request.channel.name()
            );
            judged.limiting_ambient_c = Estimate::unknown(&why);
            judged.why = Some(why);
        }
        Some(limit_c) => {
            let state = |peak_c: f64| state_at(peak_c, limit_c, margin_k);
            judged.closest_k = Some(limit_c - readings.peak_c);
            judged.seconds_within_margin = Some(readings.seconds_at_or_above(limit_c - margin_k));
            judged.seconds_over = Some(readings.seconds_at_or_above(limit_c));
            judged.state = Some(state(readings.peak_c));
            judged.possible_state = Some(state(readings.possible_peak_c()));
            judged.limiting_ambient_c = match assess(&prepared) {
                Err(why @ (NotAssessable::Regulated { .. } | NotAssessable::NoHotRunning)) => {
                    Estimate::unknown(format!("the 1:1 rule needs an open thermostat: {why}"))
                }
                _ => one_to_one(&prepared, &readings, limit_c),
            };
        }
    }
    judged
}

fn state_at(peak_c: f64, limit_c: f64, margin_k: f64) -> State {
    if peak_c >= limit_c {
        State::Exceeded
    } else if peak_c >= limit_c - margin_k {
        State::Approached
    } else {
        State::Clear
    }
}

/// A channel's readings with how long each counts.
struct Readings {
    values_c: Vec<f64>,
    held_s: Vec<f64>,
    peak_c: f64,
    step_c: f64,
    steepest_near_peak_k_per_s: f64,
}

impl Readings {
    fn of(session: &Session, role: Role) -> Option<Self> {
        if role.quantity() != Quantity::Temperature {
            return None;
        }
        let time_s = session.time_s();
        let read: Vec<(f64, f64)> = time_s
            .into_iter()
            .zip(session.channel(role)?)
            .filter(|(_, value)| !value.is_nan())
            .collect();
        let peak_c = read.iter().map(|r| r.1).max_by(f64::total_cmp)?;
        let held_s = (0..read.len())
            .map(|i| {
                read.get(i + 1)
                    .map_or(0.0, |next| (next.0 - read[i].0).min(LONGEST_HOLD_S))
            })
            .collect();
        let step_c = session
            .meta
            .channels
            .get(&role)
            .and_then(|c| c.resolution)
            .unwrap_or(0.0);
        let steepest_near_peak_k_per_s = steepest_before_peak(&read, peak_c);
        Some(Self {
            values_c: read.into_iter().map(|r| r.1).collect(),
            held_s,
            peak_c,
            step_c,
            steepest_near_peak_k_per_s,
        })
    }

    fn seconds_at_or_above(&self, level_c: f64) -> f64 {
        let over = self.values_c.iter().zip(&self.held_s);
        over.filter(|(value, _)| **value >= level_c)
            .fold(0.0, |sum, (_, held)| sum + held)
    }

    /// The largest temperature that step and lag leave possible; just below the next step.
    fn possible_peak_c(&self) -> f64 {
        let step = if self.step_c > 0.0 {
            self.step_c - 1e-6
        } else {
            0.0
        };
        self.peak_c + step + SENSOR_LAG_S * self.steepest_near_peak_k_per_s
    }
}

/// Rate at which the reading rose over the last 20 s before it first stood at its peak, K/s, not
/// below zero.
fn steepest_before_peak(read: &[(f64, f64)], peak_c: f64) -> f64 {
    const BEFORE_S: f64 = 20.0;
    let Some(at) = read.iter().find(|r| r.1 >= peak_c) else {
        return 0.0;
    };
    let earlier = read
        .iter()
        .find(|r| r.0 >= at.0 - BEFORE_S)
        .filter(|r| at.0 - r.0 > BEFORE_S / 2.0);
    earlier.map_or(0.0, |r| ((at.1 - r.1) / (at.0 - r.0)).max(0.0))
}

/// Whether the channel still rose over the last minute of hot running. `None`: there was none.
fn rising_at_end(role: Role, prepared: &Prepared) -> Option<bool> {
    let &(from, to) = prepared.drive.stints.last()?;
    let values = prepared.grid.bridged(role, 10.0)?;
    let length = ((SLOPE_S / STEP_S) as usize).min((to - from) / 2);
    let half = length / 2;
    let late = mean(&values[to - half..to]);
    let early = mean(&values[to - length..to - half]);
    let slope = (late - early) / (half as f64 * STEP_S);
    slope.is_finite().then_some(slope > STILL_RISING_K_PER_S)
}

/// Where coolant would have settled had the last stint's drive gone on: peak, thermostat open.
fn would_have_settled(role: Role, prepared: &Prepared) -> Estimate {
    if role != Role::Coolant {
        return Estimate::unknown("only coolant has a model");
    }
    if let Err(why) = assess(prepared) {
        return Estimate::unknown(why.to_string());
    }
    let joint = match fit_jointly(&[prepared]) {
        Ok(joint) if joint.converged => joint,
        Ok(joint) => {
            return Estimate::unknown(format!("the fit did not converge: {}", joint.termination));
        }
        Err(no_fit) => return Estimate::unknown(no_fit.0),
    };
    let (Some(drive), Some(half)) = (
        ReferenceDrive::of(prepared, &joint),
        log_g_half_width(&joint, 0),
    ) else {
        return Estimate::unknown("too little hot running");
    };
    let ambient_c = prepared.mean_in_stints(prepared.ambient_c.as_deref().unwrap_or_default());
    let car = car_model(prepared, &joint, joint.sessions[0].log_g);
    let settled = |shift: f64| {
        let g_w_per_k = car.g_w_per_k * shift.exp();
        drive
            .settle(&CarModel { g_w_per_k, ..car }, ambient_c)
            .peak_c
    };
    Estimate::between(
        settled(0.0),
        settled(half),
        settled(-half),
        "longest stint repeated until settled, peak; conductance of the session at its ends",
    )
}

fn one_to_one(prepared: &Prepared, readings: &Readings, limit_c: f64) -> Estimate {
    let Some(ambient) = &prepared.ambient_c else {
        return Estimate::unknown("no ambient temperature");
    };
    let in_stints = prepared.mean_in_stints(ambient);
    let read: Vec<f64> = ambient.iter().copied().filter(|v| !v.is_nan()).collect();
    let ambient_c = if in_stints.is_nan() {
        mean(&read)
    } else {
        in_stints
    };
    let at = |peak_c: f64| limit_c - (peak_c - ambient_c);
    Estimate::between(
        at(readings.peak_c),
        at(readings.possible_peak_c()),
        at(readings.peak_c),
        "1:1 rule: limit minus (peak minus ambient); interval: step and lag of the reading only",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::synthetic::{self, Truth};

    fn request(limit_c: f64) -> LimitRequest {
        LimitRequest {
            channel: Role::Coolant,
            limit_c: Some(limit_c),
            margin_k: Some(5.0),
        }
    }

    /// Air-to-boil, worked: limit 107 °C, coolant 90 °C at 29 °C ambient gives 46 °C (common
    /// practice, no source).
    #[test]
    fn the_worked_air_to_boil_figure() {
        let ambient = Truth {
            ambient_c: 29.0,
            ..Truth::default()
        };
        let mut session = synthetic::session(&ambient);
        let time_s = session.time_s();
        let mut columns: std::collections::BTreeMap<Role, Vec<f64>> =
            [Role::Speed, Role::Ambient, Role::Rpm, Role::AirFlow]
                .into_iter()
                .map(|r| (r, session.channel(r).unwrap()))
                .collect();
        columns.insert(Role::Coolant, vec![90.0; time_s.len()]);
        session = Session::from_columns(session.meta.clone(), &time_s, &columns).unwrap();
        let judged = judge(&session, &request(107.0));
        assert!((judged.limiting_ambient_c.point().unwrap() - 46.0).abs() < 1e-9);
        assert_eq!(judged.state, Some(State::Clear));
    }

    #[test]
    fn states_and_seconds_follow_the_reading() {
        let session = synthetic::session(&Truth::default());
        let peak = judge(&session, &request(150.0)).peak_c.unwrap();
        assert_eq!(
            judge(&session, &request(peak + 10.0)).state,
            Some(State::Clear)
        );
        assert_eq!(
            judge(&session, &request(peak + 3.0)).state,
            Some(State::Approached)
        );
        let over = judge(&session, &request(peak - 1.0));
        assert_eq!(over.state, Some(State::Exceeded));
        assert!(over.seconds_over.unwrap() > 0.0);
        assert!(over.seconds_within_margin >= over.seconds_over);
        assert!((over.closest_k.unwrap() + 1.0).abs() < 1e-9);
    }

    #[test]
    fn without_a_limit_there_is_a_reason() {
        let mut session = synthetic::session(&Truth::default());
        session.meta.car.limit_coolant_c = None;
        let none = LimitRequest {
            channel: Role::Coolant,
            limit_c: None,
            margin_k: None,
        };
        let judged = judge(&session, &none);
        assert!(judged.state.is_none() && judged.why.unwrap().contains("--limit-c"));
        assert!(judged.limiting_ambient_c.known().is_none());
    }

    #[test]
    fn a_session_that_settled_would_have_settled_where_it_was() {
        let session = synthetic::session(&Truth::default());
        let judged = judge(&session, &request(115.0));
        let settled = judged.would_have_settled_c.known().unwrap();
        assert!(
            (settled.estimate - judged.peak_c.unwrap()).abs() < 3.0,
            "{settled:?}"
        );
        assert_eq!(judged.still_rising_at_end, Some(false));
    }
}
