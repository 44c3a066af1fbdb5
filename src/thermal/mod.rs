//! The physics of cooling a car, each relation in a file of its own.

pub mod air;
pub mod balance;
pub mod boiling;
pub mod conductance;
pub mod coolant;
pub mod exchanger;
pub mod heat_input;
pub mod thermostat;
pub mod wall;
