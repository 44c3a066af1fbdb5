//! What the effective conductance of a simulated session truly was.
//!
//! ```text
//! UA = mean(Q / (T - T_a)) · mean(G(v_ref, ρ_ref)) / mean(G(v, ρ))
//! ```
//! over the instants at pace with the thermostat fully open (0.999 and more): Q heat from radiator
//! to air, W; T coolant entering the radiator and T_a air outside, °C. `G(v, ρ)` is what the
//! simulator's radiator gives per kelvin at road speed v and air density ρ without wind or wake, at
//! that instant's coolant flow, coolant temperature, charge-air preheat, fan and core, W/K. So wind,
//! wakes and the session's core are in the truth; speed and density are brought to the reference
//! by the simulator's own law.

use heatbook::session::Role;

use crate::simulator::cooling::core_air_kg_s;
use crate::simulator::exchanger::{RadiatorInput, radiator_heat_w};
use crate::simulator::run::{DT_S, Truth};
use crate::simulator::weather::density_kg_m3;

/// Opening that counts as fully open.
const FULLY_OPEN: f64 = 0.999;

/// What is true of a session.
#[derive(Debug, Clone, Copy)]
pub struct TrueUa {
    /// Seconds at pace with the thermostat fully open.
    pub open_s: f64,
    /// Effective conductance at the reference speed and density, W/K. `None`: it was never open.
    pub ua_w_per_k: Option<f64>,
    /// The same at the session's own speed and density, W/K.
    pub as_driven_w_per_k: Option<f64>,
}

/// Speed and density at which a conductance is told.
#[derive(Debug, Clone, Copy)]
pub struct Reference {
    /// Road speed, km/h.
    pub speed_kmh: f64,
    /// Density of the air, kg/m³.
    pub density_kg_m3: f64,
}

/// The true conductance of a session run with this air flow through the core.
pub fn true_ua(truth: &Truth, air_flow_factor: f64, reference: Reference) -> TrueUa {
    let (mut given, mut here, mut there, mut instants) = (0.0, 0.0, 0.0, 0_u32);
    let ambient_c = truth.channel(Role::Ambient);
    let pressure_kpa = truth.channel(Role::BarometricPressure);
    let speed_kmh = truth.channel(Role::Speed);
    let fan = truth.channel(Role::Fan);
    for i in 0..truth.len() {
        let Some(input) = truth.radiator[i].filter(|_| open_at_pace(truth, i)) else {
            continue;
        };
        let excess_k = input.coolant_in_c - ambient_c[i];
        let still = |speed_kmh: f64, density: f64| {
            let air_kg_s = core_air_kg_s(speed_kmh / 3.6, density, fan[i] > 0.5, air_flow_factor);
            radiator_heat_w(&RadiatorInput { air_kg_s, ..input }) / excess_k
        };
        given += truth.radiator_w[i] / excess_k;
        here += still(speed_kmh[i], density_kg_m3(pressure_kpa[i], ambient_c[i]));
        there += still(reference.speed_kmh, reference.density_kg_m3);
        instants += 1;
    }
    let any = instants > 0;
    TrueUa {
        open_s: f64::from(instants) * DT_S,
        ua_w_per_k: any.then(|| given / f64::from(instants) * there / here),
        as_driven_w_per_k: any.then(|| given / f64::from(instants)),
    }
}

/// Whether the driver was at pace and the thermostat fully open.
pub fn open_at_pace(truth: &Truth, i: usize) -> bool {
    truth.hot[i] && truth.opening[i] >= FULLY_OPEN
}
