//! The thermal fit of a session.

mod answer;

pub use answer::{FitAnswer, Residual, SessionFit, Soak, Trace, UaAtReference};
