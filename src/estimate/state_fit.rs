//! The conductance of one session by maximum likelihood of its thermal state.
//!
//! What is stated is the conductance as it was, the wander of the open running in it:
//! `log UA = log g + mean of w`. Its variance is the sum of
//!
//! ```text
//! a  d' V d            d = ∂ log UA / ∂θ, V the larger of information and sandwich
//! b  var(mean of w)    times the inflation by what the surprises repeat of each other
//! c  ψ' S ψ            the shared parameters of heat and air flow (`joint`)
//! d  (step/4 / θ)²     a control unit may cut degrees off or round them
//! e  (0.3 K / θ)²      an ambient sensor leans (common practice, no source)
//! m  Δ²                where the simpler model was taken: what the other one says
//! ```
//!
//! with θ the mean excess of coolant over ambient. Sessions of one car on one day share c, d, e;
//! a and b are each session's own. The scale of the heat input is not in it.
//!
//! The model without the slow part is fitted too. It is taken only where the readings prefer it by
//! `PREFERRED`: that a block warms late is physics, and the likelihood of one session is too
//! weak a witness against it.

use super::joint::JointFit;
use super::prepare::Prepared;
use super::thermal_state::{FILTER_STEP_S, Parameter, Passage, Record};
use crate::stats::posterior::{Maximum, Model, maximise};
use crate::stats::{LjungBox, autocorrelation, ljung_box};

/// Scores are taken to follow each other over this time, s: wind, and the better part of a lap.
const MEMORY_S: f64 = 60.0;

/// Log-likelihood by which the simpler model must be better.
const PREFERRED: f64 = 2.0;

/// Lags of the whiteness test, in steps of the filter.
pub const WHITENESS_LAGS: usize = 10;

/// Below this p the surprises are not called white.
const WHITE_P: f64 = 0.05;

/// What an ambient sensor may read wrong all day, K (common practice, no source).
const AMBIENT_LEAN_K: f64 = 0.3;

/// A session's thermal state, fitted.
#[derive(Debug, Clone)]
pub struct StateFit {
    /// Logarithm of the conductance as it was over the open running, at reference speed and
    /// density, W/K.
    pub log_g: f64,
    /// Its standard deviation from this session alone (a, b, m).
    pub own_sd: f64,
    /// Its standard deviation with what sessions share (c, d, e).
    pub sd: f64,
    /// Logarithm of the heat capacity of coolant and metal over the car sheet's, and its sd.
    pub log_capacity: (f64, f64),
    /// Seconds in the stints with the thermostat fully open, as the model has it.
    pub open_s: f64,
    /// Whiteness of the surprises over hot running.
    pub whiteness: Option<LjungBox>,
    /// The model taken, and what the other one would say.
    pub model: String,
    /// How the search ended, and what it leaned on.
    pub termination: String,
    /// Surprise of each grid step's reading, standard deviations; `NaN` where there is none.
    pub surprise: Vec<f64>,
}

/// Fits the thermal state of `session`, the one at `index` of the joint fit.
///
/// # Errors
/// Why there is no fit, one sentence.
pub fn fit_state(session: &Prepared, joint: &JointFit, index: usize) -> Result<StateFit, String> {
    let full =
        Record::new(session, joint).ok_or("the thermostat was never fully open in hot running")?;
    let simple = full.without_slow_part();
    let start = full.start(joint.sessions[index].log_g);
    let full = Fitted::of(full, &start);
    let near = full.as_ref().map_or(&start, |f| &f.maximum.parameters);
    let start = near[..simple.priors().len()].to_vec();
    let simple = Fitted::of(simple, &start);
    let (taken, other) = match (full, simple) {
        (Some(full), Some(simple)) => {
            let better = simple.maximum.log_likelihood - full.maximum.log_likelihood;
            if better >= PREFERRED {
                (simple, Some(full))
            } else {
                (full, Some(simple))
            }
        }
        (Some(one), None) | (None, Some(one)) => (one, None),
        (None, None) => return Err("the likelihood of the start is no number".to_owned()),
    };
    if !taken.maximum.converged {
        return Err(format!("the fit {}", taken.maximum.termination));
    }
    Ok(taken.answer(other.as_ref(), session, joint, index))
}

/// A model with its maximum.
struct Fitted {
    record: Record,
    maximum: Maximum,
    passage: Passage,
    slow_part: bool,
}

impl Fitted {
    fn of(record: Record, start: &[f64]) -> Option<Self> {
        let memory = (MEMORY_S / FILTER_STEP_S) as usize;
        let maximum = maximise(&record, start, memory)?;
        let passage = record.passage(&maximum.parameters);
        Some(Self {
            slow_part: maximum.parameters.len() == Parameter::ALL.len(),
            record,
            maximum,
            passage,
        })
    }

    fn answer(
        self,
        other: Option<&Fitted>,
        session: &Prepared,
        joint: &JointFit,
        index: usize,
    ) -> StateFit {
        let log_g = self.passage.walk.figure;
        let excess_k = joint.sessions[index].excess_k;
        let surprise = self.surprise(session.coolant_c.len());
        let hot = hot_surprises(session, &surprise);
        let whiteness = ljung_box(&hot, WHITENESS_LAGS);
        let white = whiteness.is_none_or(|test| test.p >= WHITE_P);
        let repeated = if white { 1.0 } else { inflation(&hot) };
        let own = self.maximum.variance(&self.maximum.figure_slope)
            + self.passage.wander_variance * repeated
            + self.doubt_of_model(other);
        let mut contrast = vec![0.0; joint.sessions.len()];
        contrast[index] = 1.0;
        let shared = joint.shared_variance(&contrast)
            + (session.coolant_step_c / 4.0 / excess_k).powi(2)
            + (AMBIENT_LEAN_K / excess_k).powi(2);
        let capacity = Parameter::Capacity as usize;
        StateFit {
            log_g,
            own_sd: own.sqrt(),
            sd: (own + shared).sqrt(),
            log_capacity: (self.maximum.parameters[capacity], self.maximum.sd(capacity)),
            open_s: self.record.open_s(),
            whiteness,
            model: self.in_words(other),
            termination: self.termination(),
            surprise,
        }
    }

    /// What the slow part would change, where the model taken has none.
    fn doubt_of_model(&self, other: Option<&Fitted>) -> f64 {
        match other {
            Some(other) if !self.slow_part => {
                (self.passage.walk.figure - other.passage.walk.figure).powi(2)
            }
            _ => 0.0,
        }
    }

    fn surprise(&self, grid_len: usize) -> Vec<f64> {
        let mut surprise = vec![f64::NAN; grid_len];
        for (k, &z) in self.passage.surprise.iter().enumerate() {
            if let Some(place) = surprise.get_mut(self.record.grid_step(k)) {
                *place = z;
            }
        }
        surprise
    }

    fn in_words(&self, other: Option<&Fitted>) -> String {
        let (with, against) = if self.slow_part {
            ("with a slow part", "without it")
        } else {
            ("without a slow part", "with it")
        };
        let said = other.map_or_else(String::new, |other| {
            let better = self.maximum.log_likelihood - other.maximum.log_likelihood;
            let change = (other.passage.walk.figure - self.passage.walk.figure).exp_m1();
            format!(
                "; {against} the log-likelihood is {:+.1} and UA {:+.1} %",
                -better,
                100.0 * change
            )
        });
        format!("metal, coolant and sensor, {with}, conductance wandering{said}")
    }

    /// Parameters of which the prior knows more than the readings are named.
    fn termination(&self) -> String {
        let leaning: Vec<&str> = Parameter::ALL
            .into_iter()
            .take(self.maximum.parameters.len())
            .filter(|&p| self.maximum.from_prior(p as usize, p.prior()) > 0.5)
            .map(Parameter::label)
            .collect();
        if leaning.is_empty() {
            self.maximum.termination.clone()
        } else {
            format!(
                "{}; priors outweigh the readings on: {}",
                self.maximum.termination,
                leaning.join(", ")
            )
        }
    }
}

fn hot_surprises(session: &Prepared, surprise: &[f64]) -> Vec<f64> {
    let stints = session.drive.stints.iter();
    stints
        .flat_map(|&(a, b)| &surprise[a..b])
        .copied()
        .filter(|z| !z.is_nan())
        .collect()
}

/// `1 + 2 Σ r_k` over the lags of the test, never below 1.
fn inflation(series: &[f64]) -> f64 {
    let lags = (1..=WHITENESS_LAGS).filter_map(|lag| autocorrelation(series, lag));
    (1.0 + 2.0 * lags.sum::<f64>()).max(1.0)
}
