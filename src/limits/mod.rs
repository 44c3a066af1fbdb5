//! Which sessions came near a limit.
//!
//! From the readings: peak, time near and over. Allowing for what the reading hides: a channel in
//! whole degrees that shows 109 may have been 109.99, and a sensor that lags by τ saw less than
//! there was, by `τ dT/dt` while it rose.
//!
//! Limiting ambient, and air-to-boil, by the 1:1 rule of the cooling-test standards (SAE J1393, as summarised in
//! public): `limit - (peak - ambient)`, exact when flows and heat stay as they are.

use serde::{Deserialize, Serialize};

mod outlook;
mod readings;

use crate::car::CarSheet;
use crate::estimate::prepare::prepare;
use crate::estimate::{NotAssessable, assess};
use crate::session::{Role, Session, SessionMeta};
use crate::stats::Estimate;
use crate::warning::Warning;
use outlook::{Outlook, boiling_c, one_to_one, rising_at_end};
use readings::Readings;

/// Margin taken when neither flag nor car sheet gives one, K.
pub const DEFAULT_MARGIN_K: f64 = 5.0;

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
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SessionLimit {
    /// The session's id.
    pub id: String,
    /// The channel judged.
    pub channel: Role,
    /// The limit it is judged against, if there is one.
    pub limit_c: Option<f64>,
    /// Largest reading. `None`: the session has no such channel.
    pub peak_c: Option<f64>,
    /// When it was first read, s from the session's beginning.
    pub peak_at_s: Option<f64>,
    /// Limit minus peak, negative when over.
    pub closest_k: Option<f64>,
    /// How many times the channel came within the margin.
    pub times_within_margin: Option<usize>,
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
    /// The same by the fitted model: density, hot walls and the thermostat's full opening counted.
    pub limiting_ambient_model_c: Estimate,
    /// Where the coolant boils under its cap.
    pub boiling_c: Estimate,
    /// Boiling point minus peak.
    pub to_boiling_k: Estimate,
    /// Air-to-boil: ambient at which the same drive brings the coolant to boil, by the 1:1 rule.
    pub air_to_boil_c: Estimate,
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

/// The answer for the sessions `metas`, which were judged one by one.
pub fn gathered<'a>(
    judged: Vec<SessionLimit>,
    metas: impl Iterator<Item = &'a SessionMeta>,
    request: &LimitRequest,
) -> LimitsAnswer {
    let mut margins: Vec<f64> = metas
        .map(|meta| request.margin_for(&meta.car_as_run()))
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
        peak_at_s: None,
        closest_k: None,
        times_within_margin: None,
        seconds_within_margin: None,
        seconds_over: None,
        state: None,
        possible_state: None,
        still_rising_at_end: None,
        would_have_settled_c: Estimate::unknown("no reading"),
        limiting_ambient_c: Estimate::unknown("no reading"),
        limiting_ambient_model_c: Estimate::unknown("no reading"),
        boiling_c: Estimate::unknown("no reading"),
        to_boiling_k: Estimate::unknown("no reading"),
        air_to_boil_c: Estimate::unknown("no reading"),
        why: None,
    };
    let Some(readings) = readings else {
        judged.why = Some(format!("no {} channel", request.channel.name()));
        return judged;
    };
    let prepared = prepare(session, None);
    let assessed = assess(&prepared);
    let outlook = Outlook::of(request.channel, &prepared, &assessed);
    judged.peak_c = Some(readings.peak_c);
    judged.peak_at_s = Some(readings.peak_at_s);
    judged.still_rising_at_end = rising_at_end(request.channel, &prepared);
    judged.would_have_settled_c = match &outlook {
        Ok(outlook) => outlook.would_have_settled_c(),
        Err(why) => Estimate::unknown(why),
    };
    // The 1:1 rule needs the radiator at work: on the thermostat the peak says nothing of it.
    let shut = match &assessed {
        Err(why @ (NotAssessable::Regulated { .. } | NotAssessable::NoHotRunning)) => {
            Some(format!("the 1:1 rule needs an open thermostat: {why}"))
        }
        _ => None,
    };
    let one_to_one_at = |limit_c: f64| match &shut {
        Some(why) => Estimate::unknown(why),
        None => one_to_one(&prepared, &readings, limit_c),
    };
    if request.channel == Role::Coolant {
        judged.boiling_c = boiling_c(&prepared);
        judged.to_boiling_k = judged.boiling_c.map(|c| c - readings.peak_c);
        judged.air_to_boil_c = match judged.boiling_c.known() {
            Some(boiling) => widened(one_to_one_at(boiling.estimate), boiling.half_width()),
            None => judged.boiling_c.clone(),
        };
    } else {
        let none = Estimate::unknown("only coolant has a boiling point here");
        judged.boiling_c = none.clone();
        judged.to_boiling_k = none.clone();
        judged.air_to_boil_c = none;
    }
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
            judged.limiting_ambient_model_c = Estimate::unknown(&why);
            judged.why = Some(why);
        }
        Some(limit_c) => {
            let near_c = limit_c - margin_k;
            let state = |peak_c: f64| state_at(peak_c, limit_c, margin_k);
            judged.closest_k = Some(limit_c - readings.peak_c);
            judged.seconds_within_margin = Some(readings.seconds_at_or_above(near_c));
            judged.times_within_margin = Some(readings.times_at_or_above(near_c));
            judged.seconds_over = Some(readings.seconds_at_or_above(limit_c));
            judged.state = Some(state(readings.peak_c));
            judged.possible_state = Some(state(readings.possible_peak_c()));
            judged.limiting_ambient_c = one_to_one_at(limit_c);
            judged.limiting_ambient_model_c = match outlook {
                Ok(outlook) => outlook.limiting_ambient_c(limit_c),
                Err(why) => Estimate::unknown(why),
            };
        }
    }
    judged
}

/// The estimate with `more_k` more to both sides.
fn widened(estimate: Estimate, more_k: f64) -> Estimate {
    match estimate {
        Estimate::Known(i) => Estimate::between(
            i.estimate,
            i.low - more_k,
            i.high + more_k,
            "1:1 rule at the boiling point, its interval and the reading's step and lag added",
        ),
        unknown @ Estimate::Unknown { .. } => unknown,
    }
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

#[cfg(test)]
mod tests;
