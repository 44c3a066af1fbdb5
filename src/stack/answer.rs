//! What the stack answers. Field names are the machine interface.

use serde::Serialize;

use super::compute::Computed;
use super::sheet::Kind;
use crate::stats::Estimate;
use crate::warning::Warning;

/// A stack and its what-ifs, computed.
#[derive(Debug, Clone, Serialize)]
pub struct Prediction {
    /// Where they are computed.
    pub at: At,
    /// Cells along each edge of the face.
    pub cells: usize,
    /// Which flow arrangement is computed in a cell, in words.
    pub relation: &'static str,
    /// The stack, then its what-ifs.
    pub stacks: Vec<StackAnswer>,
    /// Each what-if against the stack.
    pub changes: Vec<Change>,
    /// Temperatures over ambient and load.
    pub sweep: Vec<SweepPoint>,
    /// Coolant below which the thermostat is not fully open, so that no figure here holds; `None`: not known.
    pub thermostat_full_open_c: Option<f64>,
    /// Coolant at which it boils under its cap; `None`: no cap pressure is given.
    pub boils_c: Option<f64>,
    /// Where the radiator's conductance is from, where the book gave it.
    pub radiator_ua_from: Option<FromBook>,
    /// What the reader must know besides.
    pub warnings: Vec<Warning>,
}

/// A working point.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct At {
    /// Road speed.
    pub speed_kmh: f64,
    /// Share of full load.
    pub load: f64,
    /// Air outside.
    pub ambient_c: f64,
    /// Height above sea level.
    pub altitude_m: f64,
    /// Density of that air.
    pub air_density_kg_m3: f64,
    /// Coolant entering the radiator, where it is held instead of its heat.
    pub coolant_c: Option<f64>,
}

/// One stack.
#[derive(Debug, Clone, Serialize)]
pub struct StackAnswer {
    /// Its name.
    pub name: String,
    /// Air through the face.
    pub air_kg_s: Estimate,
    /// Air behind the stack, mixed.
    pub air_out_c: Estimate,
    /// The exchangers, front to back; empty: there is no settled state.
    pub exchangers: Vec<ExchangerAnswer>,
    /// Why there is no settled state.
    pub why: Option<String>,
    /// For the page: everything computed.
    #[serde(skip)]
    pub computed: Option<Computed>,
}

/// One exchanger.
#[derive(Debug, Clone, Serialize)]
pub struct ExchangerAnswer {
    /// Its name.
    pub name: String,
    /// What it cools.
    pub kind: Kind,
    /// Its fluid entering.
    pub in_c: Estimate,
    /// Its fluid leaving.
    pub out_c: Estimate,
    /// Heat to the air.
    pub heat_w: Estimate,
    /// Heat over the difference between its fluid entering and ambient.
    pub specific_dissipation_w_per_k: Estimate,
    /// Heat over the most that two streams of these flows could exchange from these inlets, the air's
    /// taken at ambient.
    pub effectiveness: Estimate,
    /// Conductance over the smaller capacity flow.
    pub ntu: Estimate,
    /// Cells that it covers.
    pub cells: usize,
    /// Cells of these in which the air heats the fluid.
    pub cells_heated_by_air: usize,
    /// What the watched temperature moves when the cells are made twice as large: the grid's error is
    /// about a third of that. `None`: the coarser grid has no settled state.
    pub grid_step_k: Option<f64>,
}

/// A what-if against the stack.
#[derive(Debug, Clone, Serialize)]
pub struct Change {
    /// The what-if.
    pub what_if: String,
    /// Change of settled coolant.
    pub coolant_change_k: Estimate,
    /// Change of the charge air to the engine.
    pub charge_air_change_k: Estimate,
    /// Change of settled oil.
    pub oil_change_k: Estimate,
    /// Change of the heat that the radiator rejects; it is zero unless the coolant is held.
    pub radiator_heat_change_w: Estimate,
    /// What the inputs do to the change of coolant, the weightiest first.
    pub influences: Vec<InputInfluence>,
    /// How to plan the test that would see the change of coolant; none: there is nothing to see.
    pub plan: Option<String>,
    /// The same for the end of the interval that is nearer to no change; none: that end is no change.
    pub plan_near_end: Option<String>,
}

/// What an input does to a change of coolant.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InputInfluence {
    /// The input's path.
    pub input: String,
    /// What is added to the change when the input is at its lower end, K.
    pub at_low_k: f64,
    /// The same at its upper end, K.
    pub at_high_k: f64,
}

/// One point of a sweep.
#[derive(Debug, Clone, Serialize)]
pub struct SweepPoint {
    /// Air outside.
    pub ambient_c: f64,
    /// Share of full load.
    pub load: f64,
    /// The stack, then its what-ifs.
    pub stacks: Vec<SweepStack>,
}

/// One stack at a point of a sweep.
#[derive(Debug, Clone, Serialize)]
pub struct SweepStack {
    /// Its name.
    pub name: String,
    /// Settled coolant.
    pub coolant_c: Estimate,
    /// Its change against the stack; none for the stack itself.
    pub coolant_change_k: Option<Estimate>,
}

/// Where a conductance from the book is from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FromBook {
    /// The setup whose fits were taken.
    pub setup: String,
    /// The sessions.
    pub sessions: Vec<String>,
    /// The mean of their effective conductances.
    pub effective_w_per_k: Estimate,
    /// The radiator's own conductance with which the stack has that effective one.
    pub radiator_ua_w_per_k: Estimate,
}
