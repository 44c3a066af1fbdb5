//! The thermal fit of a session, and of several together.

mod answer;
pub mod joint;
pub mod prepare;
#[cfg(test)]
pub(crate) mod synthetic;

pub use answer::{FitAnswer, Residual, SessionFit, Soak, Trace, UaAtReference};
