//! A reading that stands still in hot running: what the channel's temperature was then, nobody knows.
//!
//! A thermostat holds whole degrees for minutes, no higher than where it is fully open; beyond that, coolant of laps
//! that differ does not stand (`estimate::dead`). Other channels and lower readings have a quarter of an hour.

use crate::estimate::NotAssessable;
use crate::estimate::dead::coolant_alive;
use crate::estimate::prepare::{Prepared, STEP_S};
use crate::session::Role;

/// Longest time at one reading that is taken for what was, s: a thermostat has been seen to hold for 10 min on the
/// road, and slow channels in whole degrees do.
const LONGEST_S: f64 = 900.0;

/// Why a peak of `role` says nothing. `None`: it is what was read.
pub(super) fn stands(role: Role, prepared: &Prepared) -> Option<String> {
    let above_regulation = |why: &NotAssessable| match why {
        NotAssessable::CoolantStands { value_c, .. } => prepared.thermostat.surely_open(*value_c),
        _ => false,
    };
    if role == Role::Coolant
        && let Some(why) = coolant_alive(prepared).err().filter(above_regulation)
    {
        return Some(why.to_string());
    }
    let values = prepared.grid.bridged(role, 10.0)?;
    let stints = prepared.drive.stints.iter();
    let runs = stints.flat_map(|&(a, b)| values[a..b].chunk_by(|a, b| a == b));
    let longest = runs.max_by_key(|run| run.len())?;
    let seconds = longest.len() as f64 * STEP_S;
    (seconds > LONGEST_S).then(|| {
        format!(
            "{} stands at {:.1} °C for {seconds:.0} s of hot running: the channel is clipped or frozen",
            role.description(),
            longest[0]
        )
    })
}
