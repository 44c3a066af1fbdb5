//! Statistics that know nothing of cars: the [`Estimate`] type, least squares with the
//! intervals of its parameters, autocorrelation, the plain tests by name and their power.

mod autocorrelation;
pub mod curve;
mod estimate;
pub mod grouped;
pub mod kalman;
mod least_squares;
mod newey_west;
mod noncentral_t;
pub mod posterior;
mod power;
mod profile;
mod quantile;
mod random_effects;
mod rank;
mod rank_sum;
mod root;
mod share;
mod signed_rank;
pub mod step_table;
mod student;
mod t_test;

pub use autocorrelation::{LjungBox, autocorrelation, ljung_box, variance_inflation};
pub use estimate::{Estimate, Interval, LEVEL};
pub use least_squares::{
    Linear, Nonlinear, central_differences, linear, nonlinear, nonlinear_sloped,
};
pub use newey_west::newey_west;
pub use noncentral_t::noncentral_t_cdf;
pub use power::{Design, Sides, TPlan, sessions_needed};
pub use profile::{ProfileInterval, profile_interval};
pub use quantile::{median, quantile};
pub use random_effects::{Between, Pooled, pool};
pub use rank::RankP;
pub use rank_sum::{RankSum, rank_sum};
pub use root::{root, root_within};
pub use share::share;
pub use signed_rank::{SignedRank, signed_rank};
pub use student::{
    NORMAL_FACTOR, mean, sample_variance, satterthwaite_df, standard_deviation, t_factor,
};
pub use t_test::{Summary, TTest, one_sample, paired, pooled, welch};
