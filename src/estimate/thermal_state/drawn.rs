//! A record that the fitted model could have left.

use rand::{Rng, RngExt};
use rand_distr::StandardNormal;

use super::car::Car;
use super::passage::READING_VARIANCE;
use super::record::{Record, WAX_LAG_S};
use super::{FILTER_STEP_S, SENSOR, TALLY, WANDER};
use crate::stats::kalman::Reading;

impl Record {
    /// A record drawn from the model: same drive, air, heat and logger; start, wander and readings
    /// new, and with them the wax and when the thermostat was open. With it the logarithm of the
    /// conductance as it was over the open running (`NaN` if the thermostat never opened fully).
    ///
    /// Heat and conductance outside the stints, which the filter does not trust, are as the model
    /// has them.
    pub fn drawn(&self, parameters: &[f64], rng: &mut impl Rng) -> (Record, f64) {
        let car = Car::new(self, parameters);
        let mut normal = || rng.sample::<f64, _>(StandardNormal);
        let first = self.first_belief();
        let mut state = first.mean;
        for i in 0..state.len() {
            state[i] += first.covariance[(i, i)].sqrt() * normal();
        }
        state[WANDER] = car.wander_sd() * normal();
        state[TALLY] = 0.0;
        let follow = 1.0 - (-FILTER_STEP_S / WAX_LAG_S).exp();
        let mut wax_c = self.instants.first().map_or(state[SENSOR], |at| at.wax_c);
        let mut record = self.clone();
        for at in &mut record.instants {
            let felt_c = state[SENSOR] + READING_VARIANCE.sqrt() * normal();
            at.reading = at.reading.map(|reading| in_its_steps(reading, felt_c));
            wax_c += follow * (felt_c - wax_c);
            at.wax_c = wax_c;
            at.open = at.trusted && self.thermostat.surely_open(wax_c);
            state = car.carry(&state, at);
            state[WANDER] += car.wander_step_sd() * normal();
        }
        let open = record.instants.iter().filter(|at| at.open).count();
        record.open_s = open as f64 * FILTER_STEP_S;
        let as_it_was = parameters[0] + (state[TALLY] / record.open_s).ln();
        (record, as_it_was)
    }
}

/// What is read of `felt_c` on the logger that made `like`.
fn in_its_steps(like: Reading, felt_c: f64) -> Reading {
    match like {
        Reading::Value(_) => Reading::Value(felt_c),
        Reading::Between(low, high) => {
            let step_c = high - low;
            let below = ((felt_c + step_c / 4.0) / step_c).floor() * step_c - step_c / 4.0;
            Reading::Between(below, below + step_c)
        }
    }
}
