//! Phases of a session in which something soaks, told by speed and by whether the engine runs.

use crate::estimate::prepare::{Prepared, STEP_S};
use crate::regime::{ENGINE_OFF_RPM, STANDING_KMH, runs};
use crate::session::{Grid, Role};
use crate::stats::mean;

/// Below these nothing is burnt: L/h, g/s.
const NO_FUEL_L_H: f64 = 0.02;
const NO_AIR_G_S: f64 = 0.2;

/// Shortest phase worth a fit, s.
pub const SHORTEST_S: f64 = 60.0;

/// Gaps up to this long are bridged, s.
pub const BRIDGE_S: f64 = 10.0;

/// First step, and one past the last.
pub type Span = (usize, usize);

/// Length of a span, s.
pub fn length_s(span: Span) -> f64 {
    (span.1 - span.0) as f64 * STEP_S
}

/// Whether the car stands, step by step.
fn standing(session: &Prepared) -> Vec<bool> {
    session
        .speed_kmh
        .iter()
        .map(|v| *v < STANDING_KMH)
        .collect()
}

/// Standing phases that began within the log, longest first.
pub fn still(session: &Prepared) -> Vec<Span> {
    longest_first(runs(&standing(session), 0), |from| from > 0)
}

/// Phases on the move that began after standing long enough to soak, longest first.
pub fn moving_after_still(session: &Prepared) -> Vec<Span> {
    let standing = standing(session);
    let moving: Vec<bool> = session
        .speed_kmh
        .iter()
        .map(|v| *v >= STANDING_KMH)
        .collect();
    let soaked = (SHORTEST_S / STEP_S) as usize;
    longest_first(runs(&moving, 5), |from| {
        from >= soaked && standing[from - soaked..from].iter().all(|s| *s)
    })
}

fn longest_first(spans: Vec<Span>, start_ok: impl Fn(usize) -> bool) -> Vec<Span> {
    let mut spans: Vec<Span> = spans
        .into_iter()
        .filter(|s| length_s(*s) >= SHORTEST_S && start_ok(s.0))
        .collect();
    spans.sort_by(|a, b| length_s(*b).total_cmp(&length_s(*a)));
    spans
}

/// Phases with the engine off that began within the log, of any length, longest first.
///
/// # Errors
/// Why the log does not tell: speed zero is not engine off.
pub fn engine_off(session: &Prepared) -> Result<Vec<Span>, &'static str> {
    let tells = [
        (Role::Rpm, ENGINE_OFF_RPM),
        (Role::FuelRate, NO_FUEL_L_H),
        (Role::AirFlow, NO_AIR_G_S),
    ];
    let Some((values, least)) = tells
        .iter()
        .find_map(|(role, least)| Some((session.grid.bridged(*role, BRIDGE_S)?, *least)))
    else {
        return Err(
            "not told: speed zero is not engine off, and engine speed, fuel and air flow are not logged",
        );
    };
    let off: Vec<bool> = standing(session)
        .iter()
        .zip(&values)
        .map(|(stands, value)| *stands && *value < least)
        .collect();
    let mut spans = runs(&off, 0);
    spans.retain(|s| s.0 > 0);
    spans.sort_by(|a, b| length_s(*b).total_cmp(&length_s(*a)));
    if spans.is_empty() {
        return Err("not observed: the engine does not stop within the log");
    }
    Ok(spans)
}

/// The air outside before a phase, °C: the mean of the last 5 min on the move, because the sensor
/// reads high once the car stands.
pub fn ambient_before(session: &Prepared, from: usize) -> Option<f64> {
    let ambient = session.ambient_c.as_ref()?;
    let read: Vec<f64> = (0..from)
        .rev()
        .filter(|&i| session.speed_kmh[i] >= STANDING_KMH && !ambient[i].is_nan())
        .take(300)
        .map(|i| ambient[i])
        .collect();
    (!read.is_empty()).then(|| mean(&read))
}

/// Step of a temperature channel's readings, K: the coarsest usual step of which seven in ten
/// readings are whole multiples (a second may average two readings); 0 for none.
pub fn step_c(grid: &Grid, role: Role) -> f64 {
    let read: Vec<f64> = grid
        .get(role)
        .unwrap_or_default()
        .iter()
        .copied()
        .filter(|v| !v.is_nan())
        .collect();
    let whole = |step: f64| {
        let multiples = read
            .iter()
            .filter(|v| ((*v / step).round() - *v / step).abs() < 0.02);
        multiples.count() * 10 >= read.len() * 7
    };
    [1.0, 5.0 / 9.0, 0.5, 0.25, 0.1]
        .into_iter()
        .find(|s| whole(*s))
        .unwrap_or(0.0)
}
