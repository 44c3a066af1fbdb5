//! A session as a state followed through time, and the likelihood of its coolant readings.
//!
//! ```text
//! C_m dT_m/dt = Q - K (T_m - T_c) - K_b (T_m - T_b)     metal around the gas
//! C_c dT_c/dt = K (T_m - T_c) - φ g f e^w (T_c - T_air) coolant leaving the engine
//! C_b dT_b/dt = K_b (T_m - T_b)                         block, oil: what warms in minutes
//! τ dT_s/dt   = T_c - T_s                               what the sensor feels
//! dw          = -w/τ_w dt + σ_w √(2/τ_w) dβ             wind and all else the model misses
//! y           = T_s + v, read in steps of the channel
//! ```
//!
//! Temperatures °C; capacities J/K; Q heat into the coolant, W (`heat_law`); φ opening of the
//! thermostat, whose wax follows the reading by `WAX_LAG_S`; g conductance at reference
//! conditions, W/K; f relative conductance (`thermal::conductance`); K = C_m / (7 s · λ) and
//! τ = 5 s · λ with one factor λ for both lags, which the data do not part; K_b = C_b / τ_b.
//!
//! Everything the model misses moves the conductance: heat is balanced to the joule, so that the
//! mean of `g e^w` is the session's heat balance whatever σ_w is. What the load does is not
//! learned here (`joint` does that from whole laps): a wandering conductance swallows it.
//!
//! The four temperatures are stepped exactly with everything else held; w is held over a step,
//! which is short against its memory; the product `e^w (T_c - T_air)` is linearised about the
//! current belief (extended Kalman filter). The whole record up to the end of hot running is
//! walked, so that stored heat is known when hot running starts. Outside the stints neither heat
//! nor conductance is trusted: both get so much noise that those readings only carry the
//! temperatures along. With the thermostat partly open the conductance is doubted as
//! `PART_OPEN_LOG_SD` says.

mod car;
mod drawn;
mod parameter;
mod passage;
mod record;
#[cfg(test)]
mod tests;

use super::prepare::STEP_S;

pub use car::LAGS_S;
pub use parameter::Parameter;
pub use passage::Passage;
pub use record::{Instant, Record};

/// Steps of the grid in a step of the filter: 2 s, a third of the quickest lag's square sum.
const GRID_STEPS: usize = 2;

/// Length of a step of the filter, s.
pub const FILTER_STEP_S: f64 = STEP_S * GRID_STEPS as f64;

const STATES: usize = 6;
const METAL: usize = 0;
const COOLANT: usize = 1;
const SENSOR: usize = 2;
const BLOCK: usize = 3;
const WANDER: usize = 4;
const TALLY: usize = 5;
