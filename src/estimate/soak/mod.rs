//! Heat-soak constants: what temperatures do when the car stands, and after.
//!
//! Intake standing climbs toward the air under the bonnet; on the move it recovers; coolant rises
//! after the engine stops (metal gives its heat to coolant that no longer flows), peaks, decays.
//! Phases are told in `phases`; constants are fitted in `exponential`.

mod coolant;
mod exponential;
mod intake;
mod phases;

pub(super) use phases::step_c;

use super::answer::Soak;
use super::prepare::Prepared;

/// Heat-soak constants of a session.
pub fn soak_constants(session: &Prepared) -> Soak {
    let still = intake::still(session);
    let moving = intake::moving(session);
    let stopped = coolant::after_stop(session);
    Soak {
        intake_rise_still_k: still.change_k,
        intake_tau_still_s: still.tau_s,
        intake_second_tau_still_s: still.other_tau_s,
        intake_tau_moving_s: moving.tau_s,
        intake_second_tau_moving_s: moving.other_tau_s,
        coolant_rise_after_stop_k: stopped.rise_k,
        coolant_time_to_peak_s: stopped.time_to_peak_s,
        coolant_decay_tau_s: stopped.decay.tau_s,
        coolant_decay_second_tau_s: stopped.decay.other_tau_s,
    }
}

#[cfg(test)]
mod tests;
