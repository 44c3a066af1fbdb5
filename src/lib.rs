//! heatbook: from the logs of a track day to a claim about cooling that holds.
//!
//! A log flows one way through the modules, and no inner one knows an outer:
//!
//! ```text
//! bytes -> ingest -> session -> regime -> estimate -> compare, limits -> report
//!                      book (keeps sessions)              cli (the only one that prints)
//!                                   stack (a part before it is tested)
//! ```
//!
//! `DEVELOPERS.md` draws the same picture with every room in it.

pub mod book;
pub mod car;
pub mod cli;
pub mod compare;
pub mod estimate;
mod hex;
pub mod ingest;
pub mod laps;
pub mod limits;
pub mod plan;
pub mod quantity;
pub mod regime;
pub mod report;
pub mod season;
pub mod session;
pub mod stack;
pub mod stats;
pub mod thermal;
pub mod warning;
pub mod words;
