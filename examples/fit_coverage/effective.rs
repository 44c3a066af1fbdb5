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
//!
//! Where the thermostat regulates there is no such running. What the radiator would have been worth
//! is told instead, over all running at pace: Q is then what it would have given with the share of
//! the pump's flow that it gets at full opening.

use heatbook::session::Role;

use crate::simulator::cooling::{Front, core_air_kg_s, radiator_share};
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
    /// What it would have been at the reference, had the thermostat been open all the time at
    /// pace, W/K.
    pub if_open_w_per_k: Option<f64>,
}

/// Sums over some instants.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    /// Conductance as it was.
    given: f64,
    /// By the simulator's law at the car's speed and density.
    here: f64,
    /// By the same law at the reference.
    there: f64,
    instants: u32,
}

impl Sums {
    fn as_driven_w_per_k(&self) -> Option<f64> {
        (self.instants > 0).then(|| self.given / f64::from(self.instants))
    }

    fn at_reference_w_per_k(&self) -> Option<f64> {
        Some(self.as_driven_w_per_k()? * self.there / self.here)
    }
}

/// Speed and density at which a conductance is told.
#[derive(Debug, Clone, Copy)]
pub struct Reference {
    /// Road speed, km/h.
    pub speed_kmh: f64,
    /// Density of the air, kg/m³.
    pub density_kg_m3: f64,
}

/// The true conductance of a session whose air so comes to the core.
pub fn true_ua(truth: &Truth, front: Front, reference: Reference) -> TrueUa {
    let (mut open, mut if_open) = (Sums::default(), Sums::default());
    let ambient_c = truth.channel(Role::Ambient);
    let pressure_kpa = truth.channel(Role::BarometricPressure);
    let speed_kmh = truth.channel(Role::Speed);
    let fan = truth.channel(Role::Fan);
    for i in 0..truth.len() {
        let Some(met) = truth.radiator[i].filter(|_| truth.hot[i]) else {
            continue;
        };
        let density = density_kg_m3(pressure_kpa[i], ambient_c[i]);
        let air = |speed_kmh: f64, density: f64| {
            core_air_kg_s(speed_kmh / 3.6, density, fan[i] > 0.5, front)
        };
        let add = |sums: &mut Sums, met: RadiatorInput| {
            let w_per_k = |air_kg_s: f64| {
                radiator_heat_w(&RadiatorInput { air_kg_s, ..met })
                    / (met.coolant_in_c - ambient_c[i])
            };
            sums.given += w_per_k(met.air_kg_s);
            sums.here += w_per_k(air(speed_kmh[i], density));
            sums.there += w_per_k(air(reference.speed_kmh, reference.density_kg_m3));
            sums.instants += 1;
        };
        if open_at_pace(truth, i) {
            add(&mut open, met);
        }
        let more = radiator_share(1.0) / radiator_share(truth.opening[i]);
        let opened = RadiatorInput {
            coolant_w_per_k: more * met.coolant_w_per_k,
            coolant_l_s: more * met.coolant_l_s,
            ..met
        };
        add(&mut if_open, opened);
    }
    TrueUa {
        open_s: f64::from(open.instants) * DT_S,
        ua_w_per_k: open.at_reference_w_per_k(),
        as_driven_w_per_k: open.as_driven_w_per_k(),
        if_open_w_per_k: if_open.at_reference_w_per_k(),
    }
}

/// Whether the driver was at pace and the thermostat fully open.
pub fn open_at_pace(truth: &Truth, i: usize) -> bool {
    truth.hot[i] && truth.opening[i] >= FULLY_OPEN
}
