//! One stack at one working point: its sheet turned into cores, and settled.
//!
//! Heat and flow go with the load in a straight line: coolant and oil heat, mass flow of charge air
//! and its rise over ambient at the compressor are those of full load times the load; the condenser's
//! heat stays. Coolant: the mix of [`crate::thermal::coolant`] at the mean of its inlet and outlet.
//! Oil: 850 kg/m³ and 2100 J/(kg K) (engine oil near 100 °C, from memory).

use super::air::{AIR_J_PER_KG_K, face, ua_w_per_k};
use super::core::{Core, Face, Fluid};
use super::settle::{Given, Settled, settle};
use super::sheet::{Exchanger, Kind, Sheet};
use crate::thermal::coolant;

const OIL_J_PER_L_K: f64 = 0.850 * 2100.0;

/// Rounds after which the coolant's properties must agree with its temperature.
const MOST_ROUNDS: usize = 30;

/// Kelvin to which they must.
const SAME_K: f64 = 1e-10;

/// A stack computed.
#[derive(Debug, Clone)]
pub struct Computed {
    /// Its grid and air.
    pub face: Face,
    /// Height of the face over its width.
    pub aspect: f64,
    /// Its temperatures.
    pub settled: Settled,
    /// Each exchanger, front to back.
    pub parts: Vec<Part>,
}

/// One exchanger computed.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its name.
    pub name: String,
    /// What it cools.
    pub kind: Kind,
    /// The way of its fluid, in words.
    pub way: String,
    /// Its fluid entering, °C.
    pub in_c: f64,
    /// Its fluid leaving, °C.
    pub out_c: f64,
    /// Heat to the air, W.
    pub heat_w: f64,
    /// Conductance at this air, W/K.
    pub ua_w_per_k: f64,
    /// Capacity flow of its fluid, W/K; infinite where it condenses.
    pub fluid_w_per_k: f64,
    /// Capacity flow of the air through it, W/K.
    pub air_w_per_k: f64,
}

impl Part {
    /// The temperature that is watched: what leaves a charge-air cooler, what enters the others.
    pub fn watched_c(&self) -> f64 {
        match self.kind {
            Kind::ChargeAirCooler => self.out_c,
            _ => self.in_c,
        }
    }

    /// The smaller of the two capacity flows, W/K.
    pub fn smaller_w_per_k(&self) -> f64 {
        self.fluid_w_per_k.min(self.air_w_per_k)
    }
}

/// Computes a stack with some `cells` along each edge of its face. `base` is the stack without a
/// what-if; `coolant_c` holds the coolant's inlet instead of its heat.
///
/// # Errors
/// A sentence: why there is no settled state.
pub fn compute(
    sheet: &Sheet,
    base: &Sheet,
    coolant_c: Option<f64>,
    cells: usize,
) -> Result<Computed, String> {
    let exchangers: Vec<&Exchanger> = sheet.fitted().collect();
    let face = face(sheet, base, cells);
    let conductances: Vec<Vec<f64>> = exchangers
        .iter()
        .map(|e| ua_w_per_k(sheet, e, &face))
        .collect();
    let given: Vec<Given> = exchangers
        .iter()
        .map(|e| given(sheet, e.kind, coolant_c))
        .collect();
    let stuck = |(e, given): &(&&Exchanger, &Given)| {
        e.cover.share() == 0.0 && matches!(given, Given::Heat(_))
    };
    if let Some((e, _)) = exchangers.iter().zip(&given).find(stuck) {
        return Err(format!(
            "the {} covers nothing of the face and cannot lose its heat",
            e.name
        ));
    }
    let ambient_c = sheet.value("at.ambient_c");
    let recirculation = sheet.value("air.recirculation");
    let mut mean_c = coolant_c.unwrap_or(90.0);
    for _ in 0..MOST_ROUNDS {
        let capacities: Vec<f64> = exchangers
            .iter()
            .map(|e| capacity_w_per_k(sheet, e, mean_c))
            .collect();
        let cores: Vec<Core> = exchangers
            .iter()
            .zip(&conductances)
            .zip(&capacities)
            .map(|((e, ua), capacity)| {
                let fluid = Fluid {
                    capacity_w_per_k: *capacity,
                };
                Core::new(e, &face, fluid, sheet.of(e, "mixing"), ua)
            })
            .collect();
        let settled = settle(&cores, &face, &given, recirculation)
            .ok_or("an exchanger cannot lose its heat at any temperature")?;
        let parts: Vec<Part> = (0..exchangers.len())
            .map(|i| {
                let core = &cores[i];
                Part {
                    name: exchangers[i].name.clone(),
                    kind: exchangers[i].kind,
                    way: exchangers[i].way(),
                    in_c: ambient_c + settled.inlets_k[i],
                    out_c: ambient_c + settled.passed[i].out_k,
                    heat_w: settled.passed[i].heat_w,
                    ua_w_per_k: core.cells(&face).map(|cell| conductances[i][cell]).sum(),
                    fluid_w_per_k: capacities[i],
                    air_w_per_k: core.cells(&face).map(|cell| face.air_w_per_k[cell]).sum(),
                }
            })
            .collect();
        let coolant = parts.iter().find(|p| p.kind == Kind::Radiator);
        let next_c = coolant.map_or(mean_c, |p| (p.in_c + p.out_c) / 2.0);
        if (next_c - mean_c).abs() < SAME_K {
            let aspect = sheet.value("air.face_height_m") / sheet.value("air.face_width_m");
            return Ok(Computed {
                face,
                aspect,
                settled,
                parts,
            });
        }
        mean_c = next_c;
    }
    Err("the coolant's temperature and its properties do not settle".to_owned())
}

/// What is known of an exchanger's fluid.
fn given(sheet: &Sheet, kind: Kind, coolant_c: Option<f64>) -> Given {
    let load = sheet.value("at.load");
    match kind {
        Kind::ChargeAirCooler => Given::Inlet(load * sheet.value("heat.charge_rise_k")),
        Kind::Condenser => Given::Heat(1000.0 * sheet.value("heat.condenser_kw")),
        Kind::OilCooler => Given::Heat(1000.0 * load * sheet.value("heat.oil_kw")),
        Kind::Radiator => match coolant_c {
            Some(temp_c) => Given::Inlet(temp_c - sheet.value("at.ambient_c")),
            None => Given::Heat(1000.0 * load * sheet.value("heat.coolant_kw")),
        },
    }
}

fn capacity_w_per_k(sheet: &Sheet, exchanger: &Exchanger, coolant_c: f64) -> f64 {
    match exchanger.kind {
        Kind::ChargeAirCooler => {
            sheet.value("at.load") * sheet.value("heat.charge_kg_s") * AIR_J_PER_KG_K
        }
        Kind::Condenser => f64::INFINITY,
        Kind::OilCooler => sheet.of(exchanger, "flow_l_s") * OIL_J_PER_L_K,
        Kind::Radiator => {
            let glycol = sheet.value("heat.glycol_volume_percent");
            let kg_s = sheet.of(exchanger, "flow_l_s") / 1000.0
                * coolant::density_kg_m3(coolant_c, glycol);
            kg_s * coolant::heat_capacity_j_per_kg_k(coolant_c, glycol)
        }
    }
}
