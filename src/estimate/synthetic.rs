//! Sessions made by the balance itself, for tests: what goes in must come out.

use std::collections::BTreeMap;

use super::joint::{PRIORS, STORE, USUAL_STORE_TAU_S};
use super::prepare::{METAL_LAG_S, Prepared, SENSOR_LAG_S, prepare};
use crate::car::CarSheet;
use crate::session::{Role, Session, SessionMeta};
use crate::stats::mean;
use crate::thermal::balance::{lagged, step_c};
use crate::thermal::conductance::{log_air_flow, relative};
use crate::thermal::{air, coolant, wall};

/// What a synthetic session is made of.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub g_w_per_k: f64,
    pub exponent: f64,
    pub ambient_c: f64,
    pub minutes_hard: usize,
    pub resolution_c: f64,
    /// Slow store over the car sheet's heat capacity, and how slowly it follows, s.
    pub store: (f64, f64),
}

impl Default for Truth {
    fn default() -> Self {
        Self {
            g_w_per_k: 620.0,
            exponent: 0.50,
            ambient_c: 20.0,
            minutes_hard: 18,
            resolution_c: 0.0,
            store: (PRIORS[STORE].centre, USUAL_STORE_TAU_S),
        }
    }
}

pub fn car() -> CarSheet {
    CarSheet {
        coolant_l: Some(8.0),
        glycol_volume_percent: Some(40.0),
        metal_heat_capacity_j_per_k: Some(35_000.0),
        thermostat_opens_c: Some(66.0),
        thermostat_full_open_c: Some(74.0),
        altitude_m: Some(0.0),
        limit_coolant_c: Some(115.0),
        ..CarSheet::default()
    }
}

/// A session whose coolant follows the balance exactly: 2 min slow, then hard laps of 95 s with a
/// speed trace and air flow that swing within the lap, then 5 min engine off.
pub fn session(truth: &Truth) -> Session {
    let car = car();
    let (slow, hard, soak) = (120, truth.minutes_hard * 60, 300);
    let n = slow + hard + soak;
    let phase = |i: usize| (i % 95) as f64 / 95.0 * std::f64::consts::TAU;
    let drive = |i: usize| -> (f64, f64, f64) {
        if i < slow {
            (40.0, 15.0, 2000.0)
        } else if i < slow + hard {
            // Every fifth lap is slow, so that the exponents are not free.
            let pace = if (i / 95).is_multiple_of(5) {
                0.88
            } else {
                1.0
            };
            (
                pace * (140.0 + 50.0 * phase(i).sin()),
                pace * (70.0 + 65.0 * phase(i).cos()),
                6000.0,
            )
        } else {
            (0.0, 0.0, 0.0)
        }
    };
    let speed: Vec<f64> = (0..n).map(|i| drive(i).0).collect();
    let air_flow: Vec<f64> = (0..n).map(|i| drive(i).1).collect();
    let rpm: Vec<f64> = (0..n).map(|i| drive(i).2).collect();
    let coolant = coolant_trace(truth, &car, &speed, &air_flow);
    let columns = BTreeMap::from([
        (Role::Coolant, coolant),
        (Role::Speed, speed),
        (Role::FuelRate, fuel_l_h(&air_flow)),
        (Role::Rpm, rpm),
        (Role::Ambient, vec![truth.ambient_c; n]),
    ]);
    let t_s: Vec<f64> = (0..n).map(|i| i as f64).collect();
    Session::from_columns(
        SessionMeta::bare("synthetic.csv", "stock", car),
        &t_s,
        columns,
    )
    .unwrap()
}

/// Fuel that such an air flow burns, L/h.
fn fuel_l_h(air_g_s: &[f64]) -> Vec<f64> {
    let burnt = |air: &f64| air / 14.6 * 3600.0 / 745.0;
    air_g_s.iter().map(burnt).collect()
}

fn coolant_trace(truth: &Truth, car: &CarSheet, speed: &[f64], air_flow: &[f64]) -> Vec<f64> {
    let capacity = coolant::heat_capacity_j_per_k(8.0, 95.0, 40.0) + 35_000.0;
    let thermostat = crate::thermal::thermostat::Thermostat::of(car);
    let density = air::density_kg_m3(truth.ambient_c, 101.325);
    // Nominal heat of the fuel: share 0.22, 44 kJ/g, 14.6:1; load exponent as the prior;
    // the law keeps the mean heat of hard running from where stints start.
    let nominal: Vec<f64> = air_flow.iter().map(|a| a * 0.22 * 44.0e3 / 14.6).collect();
    let bent: Vec<f64> = nominal.iter().map(|w| w.powf(0.75)).collect();
    let hot = 300..120 + truth.minutes_hard * 60;
    let keep = nominal.get(hot.clone()).map_or(1.0, mean) / bent.get(hot).map_or(1.0, mean);
    let heat: Vec<f64> = bent.iter().map(|w| w * keep).collect();
    let heat = lagged(&heat, METAL_LAG_S, 1.0);
    let (mut temp_c, mut store_c) = (60.0, 60.0);
    let (store, store_tau_s) = truth.store;
    let to_store = store * capacity / store_tau_s;
    let follow = -(-1.0 / store_tau_s).exp_m1();
    let trace: Vec<f64> = (0..speed.len())
        .map(|i| {
            let f = relative(log_air_flow(speed[i], density), truth.exponent);
            let g = truth.g_w_per_k * f * thermostat.opening(temp_c);
            let heat_w = heat[i] * wall::heat_share(temp_c) - to_store * (temp_c - store_c);
            store_c += follow * (temp_c - store_c);
            temp_c = step_c(temp_c, truth.ambient_c, heat_w, g, capacity, 1.0);
            temp_c
        })
        .collect();
    let read = lagged(&trace, SENSOR_LAG_S, 1.0);
    if truth.resolution_c > 0.0 {
        read.iter()
            .map(|c| (c / truth.resolution_c).round() * truth.resolution_c)
            .collect()
    } else {
        read
    }
}

pub fn prepared(truth: &Truth) -> Prepared {
    prepare(&session(truth), None)
}

/// The session with more channels, one value a second each.
pub fn with(session: &Session, more: &[(Role, Vec<f64>)]) -> Session {
    let grid = session.grid(1.0);
    let mut columns: BTreeMap<Role, Vec<f64>> = Role::ALL
        .iter()
        .filter_map(|&role| Some((role, grid.get(role)?.to_vec())))
        .collect();
    columns.extend(more.iter().cloned());
    let t_s: Vec<f64> = (0..grid.len).map(|i| i as f64).collect();
    Session::from_columns(session.meta.clone(), &t_s, columns).unwrap()
}
