//! One model with its maximum, and what is read off it.

use super::{MOSTLY_PRIOR, PREFERRED};
use crate::estimate::thermal_state::{FILTER_STEP_S, Parameter, Passage, Record};
use crate::stats::posterior::{Maximum, Model, Normal, maximise};

/// Scores are taken to follow each other over this time, s: wind, and the better part of a lap.
const MEMORY_S: f64 = 60.0;

/// Most that wind and traffic can move the conductance (sd): gusts of 3 m/s at 40 m/s make some
/// 5 %.
const MOST_WANDER: f64 = 0.25;

/// Prior standard deviations beyond which a parameter is absurd: heat capacity a factor of 5 beside
/// the car sheet's, lags a factor of 4.
const ABSURD_SD: f64 = 4.0;

/// One parameter as fitted, on the scale of the search.
#[derive(Debug, Clone, Copy)]
pub struct Fit {
    /// Which.
    pub parameter: Parameter,
    /// Its value.
    pub value: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// What was known of it beforehand.
    pub prior: Normal,
    /// Share of what is known of it that the prior brought, 0 to 1.
    pub from_prior: f64,
}

impl Fit {
    /// Whether it lies so far from what was known that the model does not describe the log. Of the
    /// wander only the size counts, and that only where it is sure by a standard deviation (a short
    /// log tells it badly): a small one, or one of any memory, is no fault. Nor is a quick sensor.
    pub fn is_absurd(&self) -> bool {
        let beside = (self.value - self.prior.centre) / self.prior.sd;
        match self.parameter {
            Parameter::Wander => (self.value - self.sd).exp() > MOST_WANDER,
            Parameter::WanderTime => false,
            Parameter::Lag => beside > ABSURD_SD,
            _ => beside.abs() > ABSURD_SD,
        }
    }
}

/// The full model holds the simple one, so at its maximum it cannot be less likely by much more than
/// its priors cost. Where it is, the search ended on another hill, and starts again from the simple
/// one's.
pub fn better_of_two(
    full: Option<Fitted>,
    simple: Option<&Fitted>,
    record: &Record,
) -> Option<Fitted> {
    let (Some(first), Some(simple)) = (&full, simple) else {
        return full;
    };
    if first.maximum.log_likelihood + PREFERRED > simple.maximum.log_likelihood {
        return full;
    }
    let mut start = record.start(0.0);
    start[..simple.maximum.parameters.len()].copy_from_slice(&simple.maximum.parameters);
    match Fitted::of(record.clone(), &start) {
        Some(second) if second.maximum.log_likelihood > first.maximum.log_likelihood => {
            Some(second)
        }
        _ => full,
    }
}

/// A model with its maximum.
#[derive(Debug)]
pub struct Fitted {
    /// What was fitted.
    pub record: Record,
    /// Where the search ended.
    pub maximum: Maximum,
    /// The walk there.
    pub passage: Passage,
}

impl Fitted {
    pub fn of(record: Record, start: &[f64]) -> Option<Self> {
        let memory = (MEMORY_S / FILTER_STEP_S) as usize;
        let maximum = maximise(&record, start, memory)?;
        let passage = record.passage(&maximum.parameters);
        Some(Self {
            record,
            maximum,
            passage,
        })
    }

    /// Whether it fits with a figure that no car has, or the search had no end.
    pub fn is_absurd(&self) -> bool {
        !self.maximum.converged || self.parameters().any(|fit| fit.is_absurd())
    }

    pub fn slow_part(&self) -> bool {
        self.maximum.parameters.len() > Parameter::Slow as usize
    }

    pub fn course(&self, log_g: f64, grid_len: usize) -> Vec<f64> {
        let course = self.record.course(&self.maximum.parameters, log_g);
        let mut modelled_c = vec![f64::NAN; grid_len];
        for (k, &value) in course.iter().enumerate() {
            let from = self.record.grid_step(k).min(grid_len);
            let to = self.record.grid_step(k + 1).min(grid_len);
            modelled_c[from..to].fill(value);
        }
        modelled_c
    }

    pub fn surprise(&self, grid_len: usize) -> Vec<f64> {
        let mut surprise = vec![f64::NAN; grid_len];
        for (k, &z) in self.passage.surprise.iter().enumerate() {
            if let Some(place) = surprise.get_mut(self.record.grid_step(k)) {
                *place = z;
            }
        }
        surprise
    }

    pub fn parameters(&self) -> impl Iterator<Item = Fit> + '_ {
        let fitted = Parameter::ALL.into_iter().zip(&self.maximum.parameters);
        fitted.enumerate().map(|(i, (parameter, value))| Fit {
            parameter,
            value: *value,
            sd: self.maximum.sd(i),
            prior: self.record.priors()[i],
            from_prior: self.maximum.from_prior(i, self.record.priors()[i]),
        })
    }

    /// The parameters of which something holds, by name.
    pub fn named(&self, holds: impl Fn(&Fit) -> bool) -> String {
        let labels: Vec<&str> = self
            .parameters()
            .filter(|fit| holds(fit))
            .map(|fit| fit.parameter.label())
            .collect();
        labels.join(", ")
    }

    /// Parameters of which the prior knows more than the readings are named.
    pub fn termination(&self) -> String {
        let leaning = self.named(|fit| fit.from_prior > MOSTLY_PRIOR);
        let mut told = self.maximum.termination.clone();
        if !leaning.is_empty() {
            told += &format!("; priors outweigh the readings on: {leaning}");
        }
        if self.record.metal_on_bound(&self.maximum.parameters) {
            told += "; heat capacity of the metal on its lower bound";
        }
        told
    }
}
