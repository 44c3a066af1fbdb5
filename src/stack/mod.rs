//! The exchanger stack computed cell by cell: what a part should do, before it is tested.
//!
//! Exchangers share one stream of air: what the front one puts in, the rear one must live with.
//! The face is a grid of cells (`grid`); air goes through each cell from front to back (`air`), each
//! fluid along its tubes (`core`), and the whole settles where every fluid loses its heat (`settle`).
//! The answer is a prediction and no measurement: what it leaves out is said by `cautions`.

mod air;
mod answer;
mod calibrate;
mod cautions;
mod compute;
mod core;
mod grid;
mod keys;
mod predict;
mod read;
mod settle;
mod sheet;
mod spread;

#[cfg(test)]
mod tests;

pub use answer::{
    At, Change, ExchangerAnswer, FromBook, InputInfluence, Prediction, StackAnswer, SweepPoint,
    SweepStack,
};
pub use calibrate::calibrate;
pub use cautions::PROPERTIES_TO_C;
pub use compute::{Computed, Part, compute};
pub use core::Face;
pub use grid::Axis;
pub use predict::{CELLS, Request, boils_c, predict};
pub use read::Stack;
pub use settle::{Map, Settled};
pub use sheet::{Cover, Exchanger, First, Flow, Input, Kind, Sheet};
