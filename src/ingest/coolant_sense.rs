//! Whether two coolant sensors are the right way round.

use std::collections::BTreeMap;

use super::channel::Channel;
use crate::session::Role;
use crate::stats::quantile;
use crate::warning::Warning;

/// Running hot: the radiator gives heat off, °C and km/h.
const HOT_C: f64 = 75.0;
const FAST_KMH: f64 = 60.0;
/// Two sensors of usual tolerance agree within this, K (common practice, no source).
const TOLERANCE_K: f64 = 1.0;
const LEAST_ROWS: usize = 50;

/// A radiator that heats its coolant through hot running is the engine: the columns are swapped.
pub(super) fn ends_swapped(channels: &BTreeMap<Role, Channel>) -> Option<Warning> {
    let [coolant, out, speed] =
        [Role::Coolant, Role::RadiatorOut, Role::Speed].map(|role| channels.get(&role));
    let (coolant, out, speed) = (coolant?, out?, speed?);
    let rows = coolant.values.iter().zip(&out.values).zip(&speed.values);
    let above: Vec<f64> = rows
        .filter(|((c, _), v)| **c > HOT_C && **v > FAST_KMH)
        .map(|((c, o), _)| o - c)
        .filter(|above| !above.is_nan())
        .collect();
    if above.len() < LEAST_ROWS {
        return None;
    }
    let above_k = quantile(above, 0.5)?;
    (above_k > TOLERANCE_K).then(|| {
        let (hot, cold) = (&out.info.column, &coolant.info.column);
        Warning::caution(
            "radiator-out-hotter",
            format!(
                "radiator_out (`{hot}`) reads {above_k:.1} K above coolant (`{cold}`) in hot running: if they are the other way round, --map \"coolant={hot}\" --map \"radiator_out={cold}\""
            ),
        )
    })
}
