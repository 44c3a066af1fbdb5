//! One walk of the filter through a record.

use nalgebra::{SMatrix, SVector};

use super::car::Car;
use super::record::Record;
use super::{SENSOR, STATES, TALLY, WANDER};
use crate::stats::kalman::{Belief, Reading};
use crate::stats::posterior::Walk;

/// Noise of a reading besides its steps, K².
pub(super) const READING_VARIANCE: f64 = 0.01;

/// What a walk through the record leaves behind.
#[derive(Debug, Clone)]
pub struct Passage {
    /// One value a step: likelihood, forecast, variance; the figure is the logarithm of the
    /// conductance as it was over the open running.
    pub walk: Walk,
    /// Surprise of each reading in standard deviations; `NaN` without a reading.
    pub surprise: Vec<f64>,
    /// Variance of the logarithm of the mean conductance given the parameters.
    pub wander_variance: f64,
}

impl Record {
    /// Walks through the record; `parameters` in the order of [`super::Parameter::ALL`].
    pub fn passage(&self, parameters: &[f64]) -> Passage {
        let car = Car::new(self, parameters);
        let mut belief = self.first_belief();
        let mut out = Passage::with_capacity(self.instants.len());
        let sensor = SVector::<f64, STATES>::ith(SENSOR, 1.0);
        for at in &self.instants {
            out.read(&mut belief, &sensor, at.reading);
            car.step(&mut belief, at);
        }
        let tally = belief.mean[TALLY];
        out.walk.figure = parameters[0] + (tally / self.open_s).ln();
        out.wander_variance = belief.covariance[(TALLY, TALLY)] / tally.powi(2);
        out
    }

    /// The coolant's reading over each stint as forecast from what was known at its start, with the
    /// conductance held at what it was in the mean; one value a step, `NaN` outside the stints.
    pub fn course(&self, parameters: &[f64], log_g: f64) -> Vec<f64> {
        let car = Car::new(self, parameters);
        let mut belief = self.first_belief();
        let mut out = Passage::with_capacity(self.instants.len());
        let sensor = SVector::<f64, STATES>::ith(SENSOR, 1.0);
        let mut state = None;
        let mut course = Vec::with_capacity(self.instants.len());
        for at in &self.instants {
            out.read(&mut belief, &sensor, at.reading);
            state = at.trusted.then(|| state.unwrap_or(belief.mean));
            course.push(state.map_or(f64::NAN, |s| s[SENSOR]));
            state = state.map(|mut s| {
                s[WANDER] = log_g - parameters[0];
                car.carry(&s, at)
            });
            car.step(&mut belief, at);
        }
        course
    }

    /// Warm through, near the first reading, with the block less sure than the rest.
    pub(super) fn first_belief(&self) -> Belief<STATES> {
        let start_c = self
            .instants
            .iter()
            .find_map(|at| at.reading)
            .map_or(60.0, |reading| match reading {
                Reading::Value(value) => value,
                Reading::Between(low, high) => f64::midpoint(low, high),
            });
        let sd = [5.0, 3.0, 1.0, 15.0, 0.5, 1e-6];
        let mut mean = SVector::repeat(start_c);
        mean[WANDER] = 0.0;
        mean[TALLY] = 0.0;
        Belief {
            mean,
            covariance: SMatrix::from_diagonal(&SVector::from(sd.map(|s| s * s))),
        }
    }
}

impl Passage {
    fn with_capacity(n: usize) -> Self {
        let empty = || Vec::with_capacity(n);
        Self {
            walk: Walk {
                log_likelihood: empty(),
                forecast: empty(),
                variance: empty(),
                figure: f64::NAN,
            },
            surprise: empty(),
            wander_variance: f64::NAN,
        }
    }

    fn read(
        &mut self,
        belief: &mut Belief<STATES>,
        sensor: &SVector<f64, STATES>,
        reading: Option<Reading>,
    ) {
        let told = reading.map(|r| {
            let expected = belief.mean[SENSOR];
            (expected, belief.update(sensor, r, READING_VARIANCE))
        });
        let (forecast, log_likelihood, surprise, variance) = match told {
            Some((expected, told)) => {
                let step = match reading {
                    Some(Reading::Between(low, high)) => high - low,
                    _ => 0.0,
                };
                let variance = told.variance + step * step / 12.0;
                (expected, told.log_likelihood, told.standardised, variance)
            }
            // Without a reading nothing is said: no score, no information.
            None => (0.0, 0.0, f64::NAN, 1.0),
        };
        self.walk.forecast.push(forecast);
        self.walk.log_likelihood.push(log_likelihood);
        self.walk.variance.push(variance);
        self.surprise.push(surprise);
    }
}
