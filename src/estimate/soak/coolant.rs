//! Coolant after the engine stops: rise, time to its peak, decay.
//!
//! Rise and time to peak are read off the record, smoothed over [`SMOOTH_S`]; a reading of step d
//! is within d/2 of the temperature, so the difference of two is within d of its true value, and
//! the peak lies where the reading is within d of its highest. The decay is an exponential toward
//! the air outside: nothing else holds the coolant's temperature in the end.

use super::exponential::{Approach, End, Phase, fit};
use super::phases::{BRIDGE_S, SHORTEST_S, Span, ambient_before, engine_off, length_s, step_c};
use crate::estimate::prepare::{Prepared, STEP_S};
use crate::session::Role;
use crate::stats::{Estimate, mean};

/// Length of the mean that takes flicker off the readings, s.
const SMOOTH_S: f64 = 9.0;

/// Longest part of the decay that is fitted, s.
const LONGEST_S: f64 = 7200.0;

/// How near the air outside the decay ends, K (one standard deviation): the sensor leans, the air
/// warms over the day (common practice, no source).
const END_SD_K: f64 = 4.0;

/// Disturbance of one smoothed reading, K, where the channel has no steps.
const FLICKER_K: f64 = 0.3;

/// The three constants, and what else the decay says.
pub struct AfterStop {
    /// How far coolant rises.
    pub rise_k: Estimate,
    /// When it peaks.
    pub time_to_peak_s: Estimate,
    /// How it decays.
    pub decay: Approach,
}

impl AfterStop {
    fn unknown(why: &str) -> Self {
        Self {
            rise_k: Estimate::unknown(why),
            time_to_peak_s: Estimate::unknown(why),
            decay: Approach::unknown(why),
        }
    }
}

/// What coolant does after the engine stops; of several stops the longest.
pub fn after_stop(session: &Prepared) -> AfterStop {
    let spans = match engine_off(session) {
        Ok(spans) => spans,
        Err(why) => return AfterStop::unknown(why),
    };
    let span = spans[0];
    if length_s(span) < SHORTEST_S {
        return AfterStop::unknown(&format!(
            "not observed: the engine is off for {:.0} s only",
            length_s(span)
        ));
    }
    let Some(values) = session.grid.bridged(Role::Coolant, BRIDGE_S) else {
        return AfterStop::unknown("there is no coolant channel");
    };
    if values[span.0 - 1..span.1].iter().any(|v| v.is_nan()) {
        return AfterStop::unknown("the coolant reading has gaps while the engine is off");
    }
    let step = step_c(&session.grid, Role::Coolant);
    let smooth = smoothed(&values[..span.1], span);
    let mut told = conditions(session, span);
    if spans.len() > 1 {
        told += &format!("; the longest of {} stops", spans.len());
    }
    let (rise_k, time_to_peak_s, cooling_from) = peak(&smooth, step, &told);
    let decay = cooling_from.map_or_else(
        || Approach::unknown("not observed: the log ends before the coolant cools"),
        |from| decay(session, &values, (span.0 + from, span.1), step, &told),
    );
    AfterStop {
        rise_k,
        time_to_peak_s,
        decay,
    }
}

/// The phase, first the reading at the stop: means over [`SMOOTH_S`] about each step, not across
/// the stop.
fn smoothed(values: &[f64], (from, to): Span) -> Vec<f64> {
    let half = (SMOOTH_S / STEP_S / 2.0) as usize;
    let at_stop = mean(&values[from.saturating_sub(half)..from]);
    let means =
        (from..to).map(|i| mean(&values[i.saturating_sub(half).max(from)..(i + half + 1).min(to)]));
    std::iter::once(at_stop).chain(means).collect()
}

/// Rise, time to peak, and the step from which the coolant cools.
fn peak(smooth: &[f64], step_c: f64, told: &str) -> (Estimate, Estimate, Option<usize>) {
    let highest = smooth.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let within_k = step_c.max(FLICKER_K);
    let near = |k: f64| {
        let first = smooth.iter().position(|v| *v >= highest - k).unwrap_or(0);
        let last = smooth.iter().rposition(|v| *v >= highest - k).unwrap_or(0);
        (first as f64 * STEP_S, last as f64 * STEP_S)
    };
    let (top, possible) = (near(within_k / 2.0), near(within_k));
    let end_s = (smooth.len() - 1) as f64 * STEP_S;
    let rise_k = highest - smooth[0];
    if top.1 >= end_s {
        let why = format!(
            "still at its highest when the phase ended {end_s:.0} s after the stop; by then it had risen {rise_k:.1} K"
        );
        return (Estimate::unknown(&*why), Estimate::unknown(why), None);
    }
    let method = format!("read off the record; interval: step of the reading{told}");
    let rise = Estimate::between(
        rise_k,
        (rise_k - within_k).max(0.0),
        rise_k + within_k,
        &*method,
    );
    let time = if rise_k < within_k {
        Estimate::unknown("no peak: the coolant does not rise by a step of its reading")
    } else if possible.1 >= end_s {
        Estimate::unknown(format!(
            "at most a step below its highest when the phase ended {end_s:.0} s after the stop: the peak is not told apart from a plateau"
        ))
    } else {
        Estimate::between(
            f64::midpoint(top.0, top.1),
            possible.0,
            possible.1,
            format!(
                "read off the record; interval: while within a step of the highest reading{told}"
            ),
        )
    };
    (rise, time, Some((top.1 / STEP_S) as usize))
}

fn decay(
    session: &Prepared,
    values: &[f64],
    (from, to): Span,
    step_c: f64,
    told: &str,
) -> Approach {
    let length_s = length_s((from, to));
    if length_s < 2.0 * SHORTEST_S {
        return Approach::unknown("not observed: the log ends before the coolant has cooled");
    }
    let steps = (length_s.min(LONGEST_S) / STEP_S) as usize;
    let end = ambient_before(session, from)
        .map_or(End::Between(f64::NEG_INFINITY, values[from]), |ambient_c| {
            End::Near(ambient_c, END_SD_K)
        });
    let toward = match end {
        End::Near(ambient_c, _) => format!("decay toward {ambient_c:.0} °C"),
        End::Between(..) => "decay".to_owned(),
    };
    let phase = Phase::new(&values[from..from + steps], STEP_S, step_c, end);
    fit(&[phase], &format!("{toward}{told}, phase"))
}

/// What else acted while the engine was off.
fn conditions(session: &Prepared, (from, to): Span) -> String {
    let on = session
        .grid
        .get(Role::Fan)
        .map_or(0, |fan| fan[from..to].iter().filter(|f| **f > 0.5).count());
    if on as f64 * STEP_S > 10.0 {
        format!("; the fan ran on for {:.0} s", on as f64 * STEP_S)
    } else {
        String::new()
    }
}
