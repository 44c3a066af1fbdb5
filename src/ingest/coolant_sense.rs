//! Whether a coolant can be believed: that it gets warm, and which of two sensors is which.

use std::collections::BTreeMap;

use super::channel::Channel;
use super::options::map_flag;
use super::unit_values::{LEAST_WARM_C, WARM_UP_S};
use crate::session::{Role, UnitFrom};
use crate::stats::quantile;
use crate::warning::Warning;

/// Running hot: the radiator gives heat off, °C and km/h.
const HOT_C: f64 = 75.0;
const FAST_KMH: f64 = 60.0;
/// Slower is no driving, km/h.
const SLOW_KMH: f64 = 30.0;
/// Two sensors of usual tolerance agree within this, K (common practice, no source).
const TOLERANCE_K: f64 = 1.0;
const LEAST_ROWS: usize = 50;

/// A coolant that stays cold through minutes of driving is another column, or in another unit.
pub(super) fn never_warm(channels: &BTreeMap<Role, Channel>, step_s: f64) -> Option<Warning> {
    let (coolant, speed) = (channels.get(&Role::Coolant)?, channels.get(&Role::Speed)?);
    let highest = coolant.info.max.filter(|c| *c < LEAST_WARM_C)?;
    let driven = speed.values.iter().filter(|v| **v > SLOW_KMH).count();
    let driven_s = driven as f64 * step_s;
    let insisted = coolant.info.unit_from == UnitFrom::User;
    (driven_s >= WARM_UP_S && !insisted).then(|| {
        Warning::caution(
            "coolant-cold",
            format!(
                "coolant (`{}` in {}) never gets above {highest:.0} °C in {:.0} min of driving, where an engine gets warm: if column or unit is another, --map coolant=COLUMN:UNIT",
                coolant.info.column,
                coolant.info.unit,
                driven_s / 60.0
            ),
        )
    })
}

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
                "radiator_out (`{hot}`) reads {above_k:.1} K above coolant (`{cold}`) in hot running: if they are the other way round, {} {}",
                map_flag("coolant", hot),
                map_flag("radiator_out", cold)
            ),
        )
    })
}
