//! What a part truly does: the simulator itself, without wind, scatter or sensors, driven with
//! both cars through the same drive at the same air.

use heatbook::session::Role;

use super::circuit::Circuit;
use super::cooling::Cooling;
use super::drive::Plan;
use super::noise::Noise;
use super::run::{Conditions, DT_S, run};
use super::weather::{DayAir, Wind};

/// Hot running left out at the start, s: the circuit is still warming.
const SETTLING_S: f64 = 500.0;

/// True changes, after minus before.
#[derive(Debug, Clone, Copy)]
pub struct TrueEffect {
    /// Air it holds for, °C.
    pub ambient_c: f64,
    /// Change of mean coolant, thermostat held fully open, K.
    pub mean_change_k: f64,
    /// Change of peak coolant, thermostat held fully open, K.
    pub peak_change_k: f64,
    /// Change of mean coolant, thermostat working, K.
    pub regulated_mean_change_k: f64,
    /// Change of peak coolant, thermostat working, K.
    pub regulated_peak_change_k: f64,
    /// Conductance (mean heat to the air over mean coolant minus ambient), after over before.
    pub conductance_ratio: f64,
    /// Mean coolant before, thermostat held fully open, °C.
    pub before_mean_c: f64,
    /// Peak coolant before, thermostat held fully open, °C.
    pub before_peak_c: f64,
}

/// Settled running on the reference drive.
#[derive(Debug, Clone, Copy)]
pub struct Settled {
    /// Mean coolant, °C.
    pub mean_c: f64,
    /// Peak coolant, °C.
    pub peak_c: f64,
    /// Mean heat to the air over mean coolant minus ambient, W/K.
    pub conductance_w_per_k: f64,
}

/// The car on the reference drive (even laps at pace 1) at a steady `ambient_c` without wind.
pub fn settled(air_flow_factor: f64, ambient_c: f64, held_open: bool, pace: f64) -> Settled {
    let circuit = Circuit::new();
    let mut cooling = Cooling::warm(85.0, ambient_c);
    cooling.front.air_flow_factor = air_flow_factor;
    cooling.held_open = held_open;
    let conditions = Conditions {
        plan: Plan {
            pace,
            ..Plan::reference()
        },
        day: DayAir {
            noon_c: ambient_c,
            pressure_kpa: 98.6,
            sensor_bias_k: 0.0,
        },
        start_hour: None,
        ambient_wander_k: 0.0,
        wind: Wind::calm(),
        cooling,
    };
    // The reference drive draws numbers but uses none of them.
    let (mut drive, mut weather) = (Noise::new(0, 0), Noise::new(0, 1));
    let truth = run(&circuit, conditions, &mut drive, &mut weather);
    let first = truth.hot.iter().position(|&h| h).unwrap_or(0) + (SETTLING_S / DT_S) as usize;
    let last = truth.hot.iter().rposition(|&h| h).unwrap_or(0);
    let coolant = &truth.channel(Role::Coolant)[first..=last];
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let mean_c = mean(coolant);
    Settled {
        mean_c,
        peak_c: coolant.iter().copied().fold(f64::MIN, f64::max),
        conductance_w_per_k: mean(&truth.radiator_w[first..=last]) / (mean_c - ambient_c),
    }
}

/// What a part that multiplies the air flow truly does at `ambient_c`.
pub fn true_effect(air_flow_factor: f64, ambient_c: f64) -> TrueEffect {
    let [before, after] = [1.0, air_flow_factor].map(|f| settled(f, ambient_c, true, 1.0));
    let [working, with_part] = [1.0, air_flow_factor].map(|f| settled(f, ambient_c, false, 1.0));
    TrueEffect {
        ambient_c,
        mean_change_k: after.mean_c - before.mean_c,
        peak_change_k: after.peak_c - before.peak_c,
        regulated_mean_change_k: with_part.mean_c - working.mean_c,
        regulated_peak_change_k: with_part.peak_c - working.peak_c,
        conductance_ratio: after.conductance_w_per_k / before.conductance_w_per_k,
        before_mean_c: before.mean_c,
        before_peak_c: before.peak_c,
    }
}

/// The air flow factor that changes mean coolant by `change_k` at `ambient_c`, thermostat open.
pub fn air_flow_factor_for(change_k: f64, ambient_c: f64) -> f64 {
    let before_c = settled(1.0, ambient_c, true, 1.0).mean_c;
    air_flow_factor_where(|factor| {
        settled(factor, ambient_c, true, 1.0).mean_c - before_c > change_k
    })
}

/// The air flow factor that multiplies the conductance by `ratio` at `ambient_c`, thermostat open.
pub fn air_flow_factor_for_conductance(ratio: f64, ambient_c: f64) -> f64 {
    let conductance = |factor| settled(factor, ambient_c, true, 1.0).conductance_w_per_k;
    let wanted_w_per_k = ratio * conductance(1.0);
    air_flow_factor_where(|factor| conductance(factor) < wanted_w_per_k)
}

/// The air flow factor above which it is no longer `too_little`.
fn air_flow_factor_where(too_little: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (0.5, 2.0);
    for _ in 0..24 {
        let middle = 0.5 * (low + high);
        if too_little(middle) {
            low = middle
        } else {
            high = middle
        }
    }
    0.5 * (low + high)
}
