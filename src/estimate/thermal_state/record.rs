//! A session's record as the filter walks it.

use super::{FILTER_STEP_S, GRID_STEPS, Parameter};
use crate::estimate::joint::JointFit;
use crate::estimate::prepare::{Prepared, STEP_S};
use crate::session::Role;
use crate::stats::kalman::Reading;
use crate::stats::mean;
use crate::stats::posterior::{Model, Normal, Walk};
use crate::thermal::balance::lagged;
use crate::thermal::conductance::relative;
use crate::thermal::thermostat::Thermostat;

/// The thermostat's wax behind the reading, s (10 to 30 behind the coolant; common practice, no
/// source).
pub(super) const WAX_LAG_S: f64 = 12.0;

/// Smallest step that is treated as one, °C.
const FINE_STEP_C: f64 = 0.05;

/// Doubt about where a thermostat opens whose rating is not on the car sheet, K.
const ASSUMED_THERMOSTAT_SD_K: f64 = 5.0;

/// Least heat capacity of the quick metal over that of the coolant.
const LEAST_METAL: f64 = 0.3;

/// One step of the record, with everything but the state held.
#[derive(Debug, Clone, Copy)]
pub struct Instant {
    /// Heat into the coolant, W.
    pub heat_w: f64,
    /// Relative conductance at this air flow.
    pub flow: f64,
    /// Ambient, °C.
    pub air_c: f64,
    /// What the thermostat's wax feels, °C.
    pub wax_c: f64,
    /// In a stint.
    pub trusted: bool,
    /// In a stint, with the thermostat fully open by the car sheet.
    pub open: bool,
    /// What the coolant's sensor said.
    pub reading: Option<Reading>,
}

/// A session's record as the filter walks it, with the shared parameters put in.
#[derive(Debug, Clone)]
pub struct Record {
    pub(super) instants: Vec<Instant>,
    /// Grid step at which the walk starts.
    first: usize,
    /// Seconds in the stints with the thermostat fully open.
    pub(super) open_s: f64,
    pub(super) coolant_j_per_k: f64,
    metal_j_per_k: f64,
    pub(super) thermostat: Thermostat,
    priors: Vec<Normal>,
}

impl Record {
    /// The record of a session under what the joint fit says of heat and air flow. `None`: no
    /// ambient, no heat input, no reading or no stint.
    pub fn new(session: &Prepared, joint: &JointFit) -> Option<Self> {
        let first = session.coolant_c.iter().position(|c| !c.is_nan())?;
        let last = session.drive.stints.last()?.1;
        let raw = session.grid.get(Role::Coolant)?;
        let wax = lagged(&session.coolant_c, WAX_LAG_S, STEP_S);
        let heat_w = held(&joint.heat_w(session));
        let air_c = held(session.ambient_c.as_deref()?);
        let log_flow = held(&session.log_air_flow_now);
        session.heat.as_ref()?;
        let instants: Vec<Instant> = (first..last)
            .step_by(GRID_STEPS)
            .map(|from| {
                let over = from..(from + GRID_STEPS).min(last);
                let stint = |i: usize| session.drive.stints.iter().any(|&(a, b)| a <= i && i < b);
                let trusted = over.clone().all(stint);
                Instant {
                    heat_w: mean(&heat_w[over.clone()]),
                    flow: relative(mean(&log_flow[over.clone()]), joint.air_exponent()),
                    air_c: air_c[from],
                    wax_c: wax[from],
                    open: trusted && session.thermostat.surely_open(wax[from]),
                    trusted,
                    reading: reading(&raw[over], session.coolant_step_c),
                }
            })
            .collect();
        let coolant_j_per_k = session.coolant_j_per_k;
        let open = instants.iter().filter(|at| at.open).count();
        Some(Self {
            open_s: open as f64 * FILTER_STEP_S,
            instants,
            first,
            coolant_j_per_k,
            metal_j_per_k: session.capacity_j_per_k - coolant_j_per_k,
            thermostat: session.thermostat,
            priors: priors(session.thermostat.assumed),
        })
    }

    /// The same record for a model without the slow part.
    pub fn without_slow_part(&self) -> Self {
        let mut record = self.clone();
        record.priors.truncate(Parameter::Slow as usize);
        record
    }

    /// The record, step by step.
    pub fn steps(&self) -> &[Instant] {
        &self.instants
    }

    /// Seconds in the stints with the thermostat fully open.
    pub fn open_s(&self) -> f64 {
        self.open_s
    }

    /// Grid step of filter step `k`.
    pub fn grid_step(&self, k: usize) -> usize {
        self.first + k * GRID_STEPS
    }

    /// Heat capacity of coolant and quick metal by the car sheet, J/K.
    pub(super) fn sheet_j_per_k(&self) -> f64 {
        self.coolant_j_per_k + self.metal_j_per_k
    }

    /// Heat capacity of the quick metal, J/K: what the coolant's leaves, but at least a share of it.
    pub(super) fn metal_j_per_k(&self, parameters: &[f64]) -> f64 {
        self.metal_left_j_per_k(parameters)
            .max(LEAST_METAL * self.coolant_j_per_k)
    }

    /// Whether that least share was needed.
    pub fn metal_on_bound(&self, parameters: &[f64]) -> bool {
        self.metal_left_j_per_k(parameters) <= LEAST_METAL * self.coolant_j_per_k
    }

    fn metal_left_j_per_k(&self, parameters: &[f64]) -> f64 {
        let log_capacity = parameters[Parameter::Capacity as usize];
        self.sheet_j_per_k() * log_capacity.exp() - self.coolant_j_per_k
    }

    /// Where the search starts: priors, and the conductance of a steady balance.
    pub fn start(&self, log_g: f64) -> Vec<f64> {
        let mut start: Vec<f64> = self.priors.iter().map(|p| p.centre).collect();
        start[0] = log_g;
        start
    }
}

/// The priors, with more doubt about a thermostat that nobody rated.
fn priors(thermostat_assumed: bool) -> Vec<Normal> {
    let mut priors = Parameter::ALL.map(Parameter::prior);
    if thermostat_assumed {
        priors[Parameter::Thermostat as usize].sd = ASSUMED_THERMOSTAT_SD_K;
    }
    priors.to_vec()
}

impl Model for Record {
    fn priors(&self) -> &[Normal] {
        &self.priors
    }

    fn walk(&self, parameters: &[f64]) -> Walk {
        self.passage(parameters).walk
    }
}

/// A reading over a step: the mean of what was read. A control unit may round or cut off, so that
/// the middle lies a quarter of a step up, half a step wide on either side.
fn reading(raw: &[f64], step_c: f64) -> Option<Reading> {
    let read: Vec<f64> = raw.iter().copied().filter(|v| !v.is_nan()).collect();
    if read.is_empty() {
        return None;
    }
    let value = mean(&read);
    Some(if step_c < FINE_STEP_C {
        Reading::Value(value)
    } else {
        let middle = value + step_c / 4.0;
        Reading::Between(middle - step_c / 2.0, middle + step_c / 2.0)
    })
}

/// Gaps filled with the last value before, or the first after; zeros if there is none.
fn held(values: &[f64]) -> Vec<f64> {
    let first = values.iter().copied().find(|v| !v.is_nan());
    let mut last = first.unwrap_or(0.0);
    values
        .iter()
        .map(|&v| {
            if !v.is_nan() {
                last = v;
            }
            last
        })
        .collect()
}
