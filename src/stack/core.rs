//! One exchanger, cell by cell: the fluid goes along its tubes, the air through the depth.
//!
//! In a cell and tube row the air enters at one temperature `T_a`, the fluid at `T_f`, and the heat
//! is `Q = ε C_min (T_f - T_a)` with the exact effectiveness of cross-flow with the fluid mixed across
//! the depth and the air unmixed ([`crate::thermal::exchanger`]); `N = UA/C_min` of that cell and
//! row. Along a tube such cells compose without error: under even air a row of any number of them
//! *is* cross-flow with the fluid mixed. So one tube row computes a flat tube whose fluid is stirred
//! across the depth; many rows, whose fluid stays apart, tend to both unmixed, with an error that
//! falls with the square of their number. The passes of a fluid follow each other with a mixing tank
//! between. Only the air's change within a cell is lost (its mean goes on): that is the error of the
//! grid, and falls with the square of the cell.
//!
//! Assumes the fluid spread evenly over the tubes of a pass, the same conductance for each square
//! metre but for the air's speed, steady state, no loss to outside, no conduction along the core.

use std::ops::Range;

use super::grid::Axis;
use super::sheet::{Exchanger, Flow};
use crate::thermal::exchanger::Arrangement;

/// Air through the face.
#[derive(Debug, Clone)]
pub struct Face {
    /// From left to right.
    pub columns: Axis,
    /// From top to bottom.
    pub rows: Axis,
    /// Mass flow times heat capacity in each cell, row by row from the top, W/K.
    pub air_w_per_k: Vec<f64>,
}

/// What a core needs besides its place.
#[derive(Debug, Clone, Copy)]
pub struct Fluid {
    /// Mass flow times heat capacity, W/K; infinite: it condenses at one temperature.
    pub capacity_w_per_k: f64,
}

/// An exchanger on the grid.
#[derive(Debug, Clone)]
pub struct Core {
    /// Cells that it covers, column by column.
    pub columns: Range<usize>,
    /// Cells that it covers, row by row.
    pub rows: Range<usize>,
    flow: Flow,
    passes: Vec<Pass>,
    tube_rows: usize,
    mixing: f64,
    /// W/K for each cell of the face and tube row: heat over the difference at the cell's inlets.
    heat_w_per_k: Vec<f64>,
}

/// Tubes that the fluid goes through side by side.
#[derive(Debug, Clone)]
struct Pass {
    across: Range<usize>,
    /// Capacity flow of one tube row in each line of cells, W/K.
    line_w_per_k: Vec<f64>,
    /// Share of the pass's fluid in each line of cells.
    share: Vec<f64>,
}

/// What came of sending air and fluid through a core.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passed {
    /// Heat from the fluid to the air, W.
    pub heat_w: f64,
    /// The fluid leaving, K above the reference.
    pub out_k: f64,
}

/// One cell as the march met it.
#[derive(Debug, Clone, Copy)]
pub struct Met {
    /// Index of the cell on the face.
    pub cell: usize,
    /// Mean temperature of the fluid in it, K above the reference.
    pub fluid_k: f64,
    /// Air leaving it, K above the reference.
    pub air_out_k: f64,
    /// Heat from the fluid to the air, W.
    pub heat_w: f64,
}

impl Core {
    /// Puts an exchanger on the grid. `ua_w_per_k` is the conductance of each cell of the face.
    pub fn new(
        exchanger: &Exchanger,
        face: &Face,
        fluid: Fluid,
        mixing: f64,
        ua_w_per_k: &[f64],
    ) -> Self {
        let cover = &exchanger.cover;
        let columns = face.columns.cells(cover.left, cover.right);
        let rows = face.rows.cells(1.0 - cover.top, 1.0 - cover.bottom);
        let across_axis = if exchanger.flow.is_level() {
            &face.rows
        } else {
            &face.columns
        };
        let layers = exchanger.tube_rows;
        let passes: Vec<Pass> = exchanger
            .pass_edges()
            .into_iter()
            .map(|(from, to)| {
                let across = across_axis.cells(from, to);
                let share: Vec<f64> = across
                    .clone()
                    .map(|i| across_axis.width(i) / (to - from))
                    .collect();
                let line = |s: &f64| fluid.capacity_w_per_k * s / layers as f64;
                Pass {
                    across,
                    line_w_per_k: share.iter().map(line).collect(),
                    share,
                }
            })
            .collect();
        let mut core = Self {
            columns,
            rows,
            flow: exchanger.flow,
            passes,
            tube_rows: layers,
            mixing,
            heat_w_per_k: vec![0.0; face.air_w_per_k.len()],
        };
        let width = face.columns.count();
        for pass in 0..core.passes.len() {
            let lines: Vec<(usize, f64)> = core.passes[pass].lines().collect();
            for (across, line_w_per_k) in lines {
                for step in 0..core.steps() {
                    let cell = core.cell(step, across, width);
                    core.heat_w_per_k[cell] = heat_w_per_k(
                        ua_w_per_k[cell] / layers as f64,
                        face.air_w_per_k[cell],
                        line_w_per_k,
                    );
                }
            }
        }
        core
    }

    /// The cells that it covers.
    pub fn cells(&self, face: &Face) -> impl Iterator<Item = usize> {
        let width = face.columns.count();
        self.rows
            .clone()
            .flat_map(move |r| self.columns.clone().map(move |c| r * width + c))
    }

    /// Cells along a tube.
    fn steps(&self) -> usize {
        if self.flow.is_level() {
            self.columns.len()
        } else {
            self.rows.len()
        }
    }

    /// The cell at a step along the tube, in the direction of the first pass.
    fn cell(&self, step: usize, across: usize, width: usize) -> usize {
        match self.flow {
            Flow::LeftToRight => across * width + self.columns.start + step,
            Flow::RightToLeft => across * width + self.columns.end - 1 - step,
            Flow::TopToBottom => (self.rows.start + step) * width + across,
            Flow::BottomToTop => (self.rows.end - 1 - step) * width + across,
        }
    }

    /// Sends air and fluid through. `air_k` is the air in each cell of the face, before and, on
    /// return, behind the core. `see` is told of every cell.
    pub fn pass(
        &self,
        face: &Face,
        inlet_k: f64,
        air_k: &mut [f64],
        mut see: impl FnMut(Met),
    ) -> Passed {
        let width = face.columns.count();
        let mut tubes = vec![0.0; self.tube_rows];
        let (mut fluid_k, mut heat_w) = (inlet_k, 0.0);
        for (turn, pass) in self.passes.iter().enumerate() {
            let mut out_k = 0.0;
            for ((across, line_w_per_k), share) in pass.lines().zip(&pass.share) {
                tubes.fill(fluid_k);
                for i in 0..self.steps() {
                    // Every other pass comes back.
                    let step = if turn % 2 == 0 {
                        i
                    } else {
                        self.steps() - 1 - i
                    };
                    let cell = self.cell(step, across, width);
                    let met = self.one_cell(
                        cell,
                        line_w_per_k,
                        face.air_w_per_k[cell],
                        air_k[cell],
                        &mut tubes,
                    );
                    air_k[cell] = met.air_out_k;
                    heat_w += met.heat_w;
                    see(met);
                }
                out_k += share * tubes.iter().sum::<f64>() / self.tube_rows as f64;
            }
            if !pass.share.is_empty() {
                fluid_k = out_k;
            }
        }
        self.mix(face, air_k);
        Passed {
            heat_w,
            out_k: fluid_k,
        }
    }

    fn one_cell(
        &self,
        cell: usize,
        line_w_per_k: f64,
        air_w_per_k: f64,
        air_k: f64,
        tubes: &mut [f64],
    ) -> Met {
        let (mut air_k, mut heat_w, mut fluid_k) = (air_k, 0.0, 0.0);
        for tube_k in tubes.iter_mut() {
            let heat = self.heat_w_per_k[cell] * (*tube_k - air_k);
            let entering_k = *tube_k;
            *tube_k -= heat / line_w_per_k;
            if air_w_per_k > 0.0 {
                air_k += heat / air_w_per_k;
            }
            heat_w += heat;
            fluid_k += (entering_k + *tube_k) / 2.0;
        }
        Met {
            cell,
            fluid_k: fluid_k / self.tube_rows as f64,
            air_out_k: air_k,
            heat_w,
        }
    }

    /// The air mixes behind the core, over what the core covers.
    fn mix(&self, face: &Face, air_k: &mut [f64]) {
        if self.mixing == 0.0 {
            return;
        }
        let cells = || self.cells(face);
        let flow: f64 = cells().map(|i| face.air_w_per_k[i]).sum();
        let mean_k = cells().map(|i| face.air_w_per_k[i] * air_k[i]).sum::<f64>() / flow;
        if mean_k.is_finite() {
            cells().for_each(|i| air_k[i] += self.mixing * (mean_k - air_k[i]));
        }
    }
}

impl Pass {
    /// Lines of cells, each with the capacity flow of one tube row in it.
    fn lines(&self) -> impl Iterator<Item = (usize, f64)> {
        self.across.clone().zip(self.line_w_per_k.iter().copied())
    }
}

/// Heat over the difference at the inlets, W/K, of one cell and tube row.
fn heat_w_per_k(ua_w_per_k: f64, air_w_per_k: f64, fluid_w_per_k: f64) -> f64 {
    let smaller = air_w_per_k.min(fluid_w_per_k);
    if smaller <= 0.0 {
        return 0.0;
    }
    let arrangement = if fluid_w_per_k >= air_w_per_k {
        Arrangement::CrossLargerMixed
    } else {
        Arrangement::CrossSmallerMixed
    };
    let ratio = smaller / air_w_per_k.max(fluid_w_per_k);
    smaller * arrangement.effectiveness(ua_w_per_k / smaller, ratio)
}
