//! One session against its limit.

use super::outlook::{Outlook, boiling_c, mean_ambient_c, one_to_one, rising_at_end};
use super::readings::Readings;
use super::stands::stands;
use super::{LimitRequest, SessionLimit, State};
use crate::estimate::prepare::prepare;
use crate::estimate::{NotAssessable, assess};
use crate::laps::find;
use crate::session::{Role, Session};
use crate::stats::Estimate;

/// Judges one session.
pub fn judge(session: &Session, request: &LimitRequest) -> SessionLimit {
    let car = session.meta.car_as_run();
    let limit_c = request.limit_for(&car);
    let margin_k = request.margin_for(&car);
    let readings = Readings::of(session, request.channel);
    let mut judged = SessionLimit::blank(session.meta.label(), request.channel, limit_c);
    let Some(readings) = readings else {
        judged.why = Some(format!("no {} channel", request.channel.name()));
        return judged;
    };
    let mut prepared = prepare(session, None);
    // What goes on as it was goes on with its traffic.
    prepared.windows = prepared.windows.keeping_all();
    let assessed = assess(&prepared);
    let laps = find(&prepared.grid, None);
    let lap_s = laps.as_ref().map(|laps| laps.median_s);
    let outlook = Outlook::of(request.channel, &prepared, &assessed, lap_s);
    judged.peak_c = Some(readings.peak_c);
    judged.peak_at_s = Some(readings.peak_at_s);
    judged.still_rising_at_end = rising_at_end(request.channel, &prepared);
    judged.peak_lap = laps.and_then(|laps| laps.lap_at(readings.peak_at_s));
    judged.ambient_c = mean_ambient_c(&prepared);
    judged.look_ahead(&outlook, limit_c, &request.hot_day);
    // The 1:1 rule needs the radiator at work: on the thermostat the peak says nothing of it.
    let shut = match &assessed {
        Err(why @ (NotAssessable::Regulated { .. } | NotAssessable::NoHotRunning)) => {
            Some(format!("the 1:1 rule needs an open thermostat: {why}"))
        }
        _ => None,
    };
    let stood = stands(request.channel, &prepared);
    let one_to_one_at = |limit_c: f64| match shut.as_ref().or(stood.as_ref()) {
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
            for model in [
                &mut judged.limiting_ambient_model_c,
                &mut judged.limiting_ambient_laps_c,
                &mut judged.limiting_ambient_wake_c,
                &mut judged.would_have_crossed_s,
                &mut judged.time_to_limit_s,
                &mut judged.laps_to_limit,
            ] {
                *model = Estimate::unknown(&why);
            }
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
            judged.doubt(stood);
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
