//! Statistics that know nothing of cars: the [`Estimate`] type, least squares with the
//! intervals of its parameters, autocorrelation.

mod autocorrelation;
pub mod curve;
mod estimate;
pub mod grouped;
pub mod kalman;
mod least_squares;
mod newey_west;
pub mod posterior;
mod profile;
mod root;
mod share;
pub mod step_table;
mod student;

pub use autocorrelation::{LjungBox, autocorrelation, ljung_box, variance_inflation};
pub use estimate::{Estimate, Interval, LEVEL};
pub use least_squares::{Linear, Nonlinear, linear, nonlinear};
pub use newey_west::newey_west;
pub use profile::{ProfileInterval, profile_interval};
pub use root::root;
pub use share::share;
pub use student::{
    NORMAL_FACTOR, mean, sample_variance, satterthwaite_df, sessions_needed, standard_deviation,
    t_factor,
};
