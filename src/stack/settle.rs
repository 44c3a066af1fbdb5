//! Where the fluids of a stack settle.
//!
//! With flows and conductances given, all temperatures above ambient are linear in the inlets of the
//! fluids and in the recirculated air. So each inlet is sent through alone, and the settled state is
//! the solution of as many linear equations: for a fluid with known heat `Q_i(u) = heat`, for one
//! with a known inlet `u_i = inlet`, and for the air in front `u_air = r u_leaving`, r the share that
//! comes back. No iteration, and energy is conserved to rounding.

use nalgebra::{DMatrix, DVector};

use super::core::{Core, Face, Met, Passed};

/// What is known of a fluid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Given {
    /// Its inlet, K above ambient.
    Inlet(f64),
    /// The heat that it must lose, W.
    Heat(f64),
}

/// A settled stack, temperatures in K above ambient.
#[derive(Debug, Clone, PartialEq)]
pub struct Settled {
    /// Air in front of the stack.
    pub air_in_k: f64,
    /// Air behind it, mixed.
    pub air_out_k: f64,
    /// Inlet of each fluid.
    pub inlets_k: Vec<f64>,
    /// Heat and outlet of each fluid.
    pub passed: Vec<Passed>,
    /// What was seen on the way, exchanger by exchanger.
    pub maps: Vec<Map>,
}

/// Temperatures of one exchanger over the face, K above ambient; `None`: it does not cover the cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Map {
    /// Air in front of it.
    pub air_in_k: Vec<Option<f64>>,
    /// Its fluid.
    pub fluid_k: Vec<Option<f64>>,
    /// Air behind it.
    pub air_out_k: Vec<Option<f64>>,
    /// Cells in which the air heats the fluid.
    pub heated: Vec<bool>,
}

/// The settled stack. `None`: an exchanger cannot lose its heat at any temperature.
pub fn settle(cores: &[Core], face: &Face, given: &[Given], recirculation: f64) -> Option<Settled> {
    let n = cores.len();
    let mut matrix = DMatrix::zeros(n + 1, n + 1);
    let mut right = DVector::zeros(n + 1);
    for unit in 0..=n {
        let inlets: Vec<f64> = (0..n).map(|i| if i == unit { 1.0 } else { 0.0 }).collect();
        let air_in = if unit == n { 1.0 } else { 0.0 };
        let (passed, leaving) = march(cores, face, &inlets, air_in);
        for (i, given) in given.iter().enumerate() {
            matrix[(i, unit)] = match given {
                Given::Heat(_) => passed[i].heat_w,
                Given::Inlet(_) => inlets[i],
            };
        }
        matrix[(n, unit)] = air_in - recirculation * leaving;
    }
    for (i, given) in given.iter().enumerate() {
        right[i] = match given {
            Given::Heat(heat_w) => *heat_w,
            Given::Inlet(inlet_k) => *inlet_k,
        };
    }
    let solved = matrix.lu().solve(&right)?;
    if solved.iter().any(|v| !v.is_finite() || v.abs() > 1e5) {
        return None;
    }
    let inlets_k: Vec<f64> = solved.iter().take(n).copied().collect();
    Some(walk(cores, face, inlets_k, solved[n]))
}

/// Sends known inlets through; the mixed air behind the stack is the second part.
fn march(cores: &[Core], face: &Face, inlets_k: &[f64], air_in_k: f64) -> (Vec<Passed>, f64) {
    let mut air_k = vec![air_in_k; face.air_w_per_k.len()];
    let passed = cores
        .iter()
        .zip(inlets_k)
        .map(|(core, inlet_k)| core.pass(face, *inlet_k, &mut air_k, |_| {}))
        .collect();
    (passed, mixed(face, &air_k))
}

fn mixed(face: &Face, air_k: &[f64]) -> f64 {
    let flow: f64 = face.air_w_per_k.iter().sum();
    face.air_w_per_k
        .iter()
        .zip(air_k)
        .map(|(c, t)| c * t)
        .sum::<f64>()
        / flow
}

/// The last march, with eyes open.
fn walk(cores: &[Core], face: &Face, inlets_k: Vec<f64>, air_in_k: f64) -> Settled {
    let mut air_k = vec![air_in_k; face.air_w_per_k.len()];
    let (mut passed, mut maps) = (Vec::new(), Vec::new());
    for (core, inlet_k) in cores.iter().zip(&inlets_k) {
        let none = vec![None; air_k.len()];
        let mut map = Map {
            air_in_k: none.clone(),
            fluid_k: none.clone(),
            air_out_k: none,
            heated: vec![false; air_k.len()],
        };
        let before = air_k.clone();
        passed.push(core.pass(face, *inlet_k, &mut air_k, |met: Met| {
            map.air_in_k[met.cell] = Some(before[met.cell]);
            map.fluid_k[met.cell] = Some(met.fluid_k);
            map.heated[met.cell] = met.heat_w < 0.0;
        }));
        for (out, air) in map.air_out_k.iter_mut().zip(&air_k) {
            *out = Some(*air);
        }
        for (out, fluid) in map.air_out_k.iter_mut().zip(&map.fluid_k) {
            *out = out.filter(|_| fluid.is_some());
        }
        maps.push(map);
    }
    Settled {
        air_in_k,
        air_out_k: mixed(face, &air_k),
        inlets_k,
        passed,
        maps,
    }
}
