//! Statistics that know nothing of cars: the [`Estimate`] type, least squares, autocorrelation.

mod estimate;

pub use estimate::{Estimate, Interval, LEVEL};
