//! Which sessions can be compared with which.

use super::Request;
use crate::estimate::assess;
use crate::estimate::prepare::{Prepared, STEP_S, prepare};
use crate::session::Session;
use crate::thermal::heat_input::HeatSource;

/// A session made ready, or why it is left out.
pub(super) fn usable(session: &Session, source: Option<HeatSource>) -> Result<Prepared, String> {
    if let Some(reason) = &session.meta.excluded {
        return Err(format!("excluded: {reason}"));
    }
    let prepared = prepare(session, source);
    assess(&prepared)?;
    Ok(prepared)
}

/// The best heat source that every compared session has. A session without any is left out by
/// its own assessment, so it does not vote.
pub(super) fn common_source(sessions: &[Session], request: &Request) -> Option<HeatSource> {
    let available: Vec<Vec<HeatSource>> = sessions
        .iter()
        .filter(|s| [&request.before, &request.after].contains(&&s.meta.setup))
        .filter(|s| s.meta.excluded.is_none())
        .filter_map(|s| s.grid(STEP_S).ok())
        .map(|grid| HeatSource::available(&grid))
        .filter(|sources| !sources.is_empty())
        .collect();
    HeatSource::ALL
        .into_iter()
        .find(|source| available.iter().all(|s| s.contains(source)))
}

/// Car-sheet keys in which two cars' hardware differs; venue and limits are no hardware.
pub(super) fn hardware_differences(a: &Session, b: &Session) -> Vec<&'static str> {
    const NO_HARDWARE: [&str; 3] = ["altitude_m", "limit_coolant_c", "limit_margin_k"];
    let mut keys = a.meta.car.differing_keys(&b.meta.car);
    keys.retain(|key| !NO_HARDWARE.contains(key));
    keys
}
