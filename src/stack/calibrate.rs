//! The radiator's own conductance from the effective one that logs show.
//!
//! A fit states `G = Q / (T_coolant - T_ambient)` at 120 km/h and standard density. Sought is the UA of
//! the core with which the computed stack, at that speed and density and at the sheet's load, settles
//! at the same G: preheat, leakage and saturation of the core are then in the stack and not in its UA.
//! G grows with UA without exception, so the root is unique.

use super::compute::compute;
use super::read::Stack;
use super::sheet::{Input, Kind, Sheet};
use crate::stats::{Estimate, root};
use crate::thermal::conductance::REFERENCE_SPEED_KMH;

/// Cells along an edge: enough for a conductance that is known to some per cent.
const CELLS: usize = 20;

/// The largest conductance tried, W/K.
const MOST_W_PER_K: f64 = 50_000.0;

/// Ambient of the standard atmosphere at sea level, °C.
const STANDARD_AMBIENT_C: f64 = 15.0;

/// Sets the radiator's conductance in the stack and in all what-ifs that leave it alone, so that the
/// stack has this effective conductance. Returns it with the interval of the effective one carried
/// over; unknown, with the reason, where no core gives it: then nothing is set.
pub fn calibrate(stack: &mut Stack, effective_w_per_k: &Estimate) -> Estimate {
    let interval = match effective_w_per_k {
        Estimate::Known(interval) => interval,
        Estimate::Unknown { why } => return Estimate::unknown(why.clone()),
    };
    let Some(radiator) = stack.base.find(Kind::Radiator).map(|e| e.name.clone()) else {
        return Estimate::unknown("the stack has no radiator");
    };
    let core = |g: f64| core_ua(&stack.base, &radiator, g);
    let Some(value) = core(interval.estimate) else {
        return Estimate::unknown(
            "no radiator gives the stack this effective conductance: its air or coolant flow is too small for it",
        );
    };
    // An end that no core reaches is as far as one can be sought; the value itself is reached.
    let low = core(interval.low).unwrap_or(0.3 * value);
    let high = core(interval.high).unwrap_or(3.0 * value);
    let own = |sheet: &Sheet| {
        ["ua_w_per_k", "ua_w_per_m2_k"]
            .map(|k| sheet.inputs.get(&format!("{radiator}.{k}")).copied())
    };
    let before = own(&stack.base);
    let [whole, per_area] = ["ua_w_per_k", "ua_w_per_m2_k"].map(|k| format!("{radiator}.{k}"));
    for sheet in stack.all_mut() {
        if own(sheet) == before {
            sheet.inputs.remove(&per_area);
            sheet.assumed.retain(|path| *path != per_area);
            sheet.give(
                &whole,
                Input::spread(value, low.min(value), high.max(value)),
            );
        }
    }
    Estimate::between(
        value,
        low,
        high,
        "the core that gives the stack the effective conductance of the fits",
    )
}

/// The core that gives a stack an effective conductance.
fn core_ua(base: &Sheet, radiator: &str, effective_w_per_k: f64) -> Option<f64> {
    let mut sheet = base.clone();
    for (path, value) in [
        ("at.speed_kmh", REFERENCE_SPEED_KMH),
        ("at.ambient_c", STANDARD_AMBIENT_C),
        ("at.altitude_m", 0.0),
    ] {
        sheet.give(path, Input::exact(value));
    }
    sheet.inputs.remove(&format!("{radiator}.ua_w_per_m2_k"));
    let heat_w = 1000.0 * sheet.value("at.load") * sheet.value("heat.coolant_kw");
    let excess_k = heat_w / effective_w_per_k;
    let hotter_k = |ua: f64| {
        let mut sheet = sheet.clone();
        sheet.give(&format!("{radiator}.ua_w_per_k"), Input::exact(ua));
        let computed = compute(&sheet, base, None, CELLS).ok();
        let part = computed.and_then(|c| c.parts.into_iter().find(|p| p.kind == Kind::Radiator));
        part.map_or(f64::NAN, |p| p.in_c - STANDARD_AMBIENT_C - excess_k)
    };
    // The smallest core that settles at all is found by halving the way down.
    let low = (0..60)
        .map(|i| MOST_W_PER_K * 0.7_f64.powi(i))
        .take_while(|ua| hotter_k(*ua).is_finite())
        .find(|ua| hotter_k(*ua) > 0.0)?;
    root(hotter_k, low, MOST_W_PER_K)
}
