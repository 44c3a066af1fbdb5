//! The thermal fit of a session, and of several together.

mod answer;
mod assess;
pub(crate) mod dead;
mod follow;
pub mod heat_law;
pub mod hot_windows;
pub mod joint;
pub(crate) mod joint_model;
mod lap_means;
mod outlet;
mod parameters;
pub mod prepare;
pub mod self_check;
mod session_fit;
pub mod simulate;
mod soak;
pub mod state_fit;
mod stated;
#[cfg(test)]
pub(crate) mod synthetic;
pub mod thermal_state;
mod untold;
mod whiteness;
pub mod windows;

pub use answer::{
    ChargeAir, EffectivenessAtReference, FitAnswer, Follower, Observed, Outlet, Residual,
    SessionFit, Soak, Trace, UaAtReference, by_heat_source, heat_sources_differ,
};
pub use assess::{NotAssessable, assess, open_s};
pub use parameters::FittedParameter;
pub use session_fit::{ASSUMED_SESSION_LOG_SD, fit_and_check, fit_session, log_g_half_width};
pub use whiteness::Whiteness;
