//! Which sessions can be compared with which.

use thiserror::Error;

use crate::estimate::prepare::{Prepared, STEP_S, prepare};
use crate::estimate::{NotAssessable, assess};
use crate::session::{Role, Session};
use crate::thermal::heat_input::HeatSource;
use crate::words::quoted;

/// Why a session is left out of a comparison.
#[derive(Debug, Clone, Error)]
pub(super) enum WhyLeftOut {
    /// Its owner said so.
    #[error("excluded: {}", quoted(.0))]
    Excluded(String),
    /// Another session of the comparison covers the same time: the same drive, logged twice.
    #[error("it overlaps {0} in time: one car cannot be in two sessions at once")]
    Overlaps(String),
    /// It ran on the thermostat, so that leaving it out selects on the response.
    #[error("{0}")]
    Regulated(NotAssessable, Box<Prepared>),
    /// It does not say what the radiator can do.
    #[error(transparent)]
    NotAssessable(NotAssessable),
}

/// A session made ready, or why it is left out. `lift`: one set aside by its owner counts too.
pub(super) fn usable(
    session: &Session,
    source: Option<HeatSource>,
    heat_scale: f64,
    lift: bool,
) -> Result<Prepared, WhyLeftOut> {
    if let Some(reason) = session.meta.excluded.as_ref().filter(|_| !lift) {
        return Err(WhyLeftOut::Excluded(reason.clone()));
    }
    let mut prepared = prepare(session, source);
    if let Some(heat) = &mut prepared.heat {
        heat.watts.iter_mut().for_each(|watts| *watts *= heat_scale);
    }
    let assessed = assess(&prepared);
    // A comparison holds all its sessions at a time, and asks for no other channel again.
    prepared
        .grid
        .channels
        .retain(|role, _| *role == Role::Intake);
    match assessed {
        Ok(()) => Ok(prepared),
        Err(why @ NotAssessable::Regulated { .. }) => {
            Err(WhyLeftOut::Regulated(why, Box::new(prepared)))
        }
        Err(why) => Err(WhyLeftOut::NotAssessable(why)),
    }
}

/// The heat source that all compared sessions are held to.
pub(super) struct CommonSource {
    /// The best that every one of them has; `None`: they share none.
    pub source: Option<HeatSource>,
    /// A better one that only some have, and a session that lacks it.
    pub given_up: Option<(HeatSource, String)>,
}

/// The best heat source that every one of these sessions has. A session without any is left out by
/// its own assessment, so it does not vote.
pub(super) fn common_source<'a>(
    sessions: impl Iterator<Item = &'a Session>,
    lift: bool,
) -> CommonSource {
    let available: Vec<(String, Vec<HeatSource>)> = sessions
        .filter(|s| lift || s.meta.excluded.is_none())
        .map(|s| (s.meta.label(), HeatSource::available(&s.grid(STEP_S))))
        .filter(|(_, sources)| !sources.is_empty())
        .collect();
    let lacks = |source: HeatSource| available.iter().find(|(_, s)| !s.contains(&source));
    let source = HeatSource::ALL
        .into_iter()
        .find(|source| lacks(*source).is_none());
    let best = available.iter().flat_map(|(_, sources)| sources).min();
    CommonSource {
        given_up: best
            .filter(|best| source.is_some_and(|s| s > **best))
            .and_then(|best| lacks(*best).map(|(id, _)| (*best, id.clone()))),
        source,
    }
}

/// Car-sheet keys in which two cars' hardware differs; venue and limits are no hardware.
pub(super) fn hardware_differences(a: &Session, b: &Session) -> Vec<&'static str> {
    const NO_HARDWARE: [&str; 3] = ["altitude_m", "limit_coolant_c", "limit_margin_k"];
    let mut keys = a.meta.car.differing_keys(&b.meta.car);
    keys.retain(|key| !NO_HARDWARE.contains(key));
    keys
}
