//! An invented car on an invented circuit, with more physics than any model fitted to its logs.
//!
//! Car, circuit, weather and driver are our own invention. The code shares no physics with the
//! library: it exists to tell whether the library's answers hold where the truth is known.
//!
//! ```text
//! circuit + driver -> speed trace -> engine -> heat -> cooling circuit -> sensors -> log
//!                          weather ----^----------------^
//! ```
//!
//! What it has and a lumped model has not: a metal node, a slow block, oil and a hot exhaust
//! manifold; a lagging thermostat with a bypass; a radiator in bands, each with its own air,
//! partly behind a charge-air cooler that preheats it; recirculation at low speed; gusts; a heat
//! input that falls as the walls get hotter; sensors that lag, step and lean.
//!
//! Every random number comes from one seed and a named stream, so a campaign is the same on
//! every run.

#![allow(dead_code, unused_imports)] // Each example uses its own part.

pub mod campaign;
pub mod circuit;
pub mod cooling;
pub mod drive;
pub mod engine;
pub mod exchanger;
pub mod noise;
pub mod run;
pub mod sensors;
pub mod truth;
pub mod weather;

pub use campaign::{Campaign, Side, SimSession};
pub use truth::{TrueEffect, air_flow_factor_for, true_effect};
