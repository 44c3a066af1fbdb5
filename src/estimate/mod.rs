//! The thermal fit of a session, and of several together.

mod answer;
mod assess;
pub mod heat_law;
pub mod joint;
pub mod prepare;
mod session_fit;
pub mod simulate;
mod soak;
pub mod state_fit;
pub mod thermal_state;
#[cfg(test)]
pub(crate) mod synthetic;
mod windows;

pub use answer::{FitAnswer, Residual, SessionFit, Soak, Trace, UaAtReference};
pub use assess::{NotAssessable, assess, open_s};
pub use session_fit::{ASSUMED_SESSION_LOG_SD, car_model, fit_session, log_g_half_width};
