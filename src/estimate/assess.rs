//! Whether a session says what the radiator can do.
//!
//! With the thermostat below full opening it, and not the radiator, sets the temperature: such a
//! session is not assessable for a point value, which is a result and no failure.

use thiserror::Error;

use super::dead::alive;
use super::prepare::{Prepared, STEP_S};
use crate::regime::Regime;
use crate::thermal::thermostat::RATING_TOLERANCE_K;

/// Least time with the thermostat fully open under load, s.
pub const LEAST_OPEN_S: f64 = 180.0;

/// Least mean opening over the hot running.
const LEAST_OPENING: f64 = 0.98;

/// Why a session does not say what the radiator can do.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NotAssessable {
    /// Nothing tells the air outside.
    #[error(
        "no ambient temperature: heatbook amend ID --ambient-c T gives one, import --replace ID --with FILE a weather file"
    )]
    NoAmbient,
    /// Nothing tells the heat input.
    #[error("no channel from which heat input could be told")]
    NoHeatInput,
    /// It was not driven hard for long enough, or not with all channels present.
    #[error("no hot running long enough for a heat balance")]
    NoHotRunning,
    /// There was too little of it.
    #[error("only {stint_s:.0} s of hot running; a heat balance needs {LEAST_OPEN_S:.0} s")]
    TooShort {
        /// Seconds of hot running.
        stint_s: f64,
    },
    /// The coolant's reading stood still.
    #[error(
        "coolant stands at {value_c:.1} °C for {seconds:.0} s of hot running: the channel is clipped or frozen, or the coolant boiled"
    )]
    CoolantStands {
        /// Where it stood.
        value_c: f64,
        /// For how long.
        seconds: f64,
    },
    /// The heat input stood still while the speed changed.
    #[error(
        "the heat input stands at one value for {seconds:.0} s of hot running while the speed changes: its channel is frozen"
    )]
    HeatStands {
        /// For how long.
        seconds: f64,
    },
    /// The thermostat set the temperature.
    #[error(
        "the thermostat was fully open, {RATING_TOLERANCE_K:.0} K beyond its rating or more, for {open_s:.0} s of {stint_s:.0} s of hot running (mean opening {percent:.0} %; {thermostat}): the radiator is hidden behind it",
        percent = 100.0 * opening
    )]
    Regulated {
        /// Seconds with the thermostat fully open under load.
        open_s: f64,
        /// Seconds of hot running.
        stint_s: f64,
        /// Mean opening over the hot running, 0 to 1.
        opening: f64,
        /// The thermostat's range, in words.
        thermostat: String,
    },
}

/// Seconds of hot running with the thermostat fully open.
pub fn open_s(session: &Prepared) -> f64 {
    session.drive.seconds_in_stints(Regime::Open, STEP_S)
}

/// Whether a session says what the radiator can do.
///
/// # Errors
/// The reason why not.
pub fn assess(session: &Prepared) -> Result<(), NotAssessable> {
    if session.ambient_c.is_none() {
        return Err(NotAssessable::NoAmbient);
    }
    if session.heat.is_none() {
        return Err(NotAssessable::NoHeatInput);
    }
    assess_running(session)
}

/// Whether a session ran hot with the thermostat open for long enough.
///
/// # Errors
/// The reason why not.
pub fn assess_running(session: &Prepared) -> Result<(), NotAssessable> {
    if session.drive.stints.is_empty() {
        return Err(NotAssessable::NoHotRunning);
    }
    let stint_s = session.stint_s();
    if stint_s < LEAST_OPEN_S {
        return Err(NotAssessable::TooShort { stint_s });
    }
    alive(session)?;
    let (open_s, opening) = (open_s(session), session.mean_in_stints(&session.opening));
    if open_s < LEAST_OPEN_S || opening < LEAST_OPENING {
        return Err(NotAssessable::Regulated {
            open_s,
            stint_s,
            opening,
            thermostat: session.thermostat.describe(),
        });
    }
    Ok(())
}
