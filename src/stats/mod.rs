//! Statistics that know nothing of cars: the [`Estimate`] type, least squares, autocorrelation.

mod autocorrelation;
pub mod curve;
mod estimate;
mod least_squares;
mod student;

pub use autocorrelation::{LjungBox, autocorrelation, ljung_box, variance_inflation};
pub use estimate::{Estimate, Interval, LEVEL};
pub use least_squares::{Linear, Nonlinear, linear, nonlinear};
pub use student::{
    mean, sample_variance, satterthwaite_df, sessions_needed, standard_deviation, t_factor,
};
