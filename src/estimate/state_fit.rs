//! The conductance of one session by maximum likelihood of its thermal state.
//!
//! What is stated is the conductance as it was, the wander of the open running in it:
//! `log UA = log g + log mean e^w` (heat goes by the mean of the conductance, not of its logarithm). Its variance is the sum of
//!
//! ```text
//! a  d' V d            d = ∂ log UA / ∂θ, V the larger of information and sandwich
//! b  var(log mean e^w) times the inflation by what the surprises repeat of each other
//! c  ψ' S ψ            the shared parameters of heat and air flow (`joint`), and what no log tells (`untold`); the
//!                      heat capacity is in a
//! d  (step/4 / θ)²     a control unit may cut degrees off or round them
//! e  (0.3 K / θ)²      an ambient sensor leans (common practice, no source)
//! m  Δ² or p (1 - p) Δ² what the other model says: where the simpler one was taken, or has the
//!                      probability p
//! ```
//!
//! with θ the mean excess of coolant over ambient. Sessions of one car on one day share c, d, e;
//! a and b are each session's own. The scale of the heat input is not in it.
//!
//! The model without the slow part is fitted too. It is taken only where the readings prefer it by
//! `PREFERRED`: that a block warms late is physics, and the likelihood of one session is too
//! weak a witness against it; and where the slow part has to be something that no block is.

mod fitted;

use super::joint::JointFit;
use super::parameters::beside_usual;
use super::prepare::Prepared;
use super::thermal_state::{Parameter, Record};
use crate::stats::posterior::Model;
use crate::stats::{Estimate, LjungBox, NORMAL_FACTOR, autocorrelation, ljung_box};
pub use fitted::Fit;
use fitted::{Fitted, better_of_two};

/// Log-likelihood by which the simpler model must be better.
const PREFERRED: f64 = 2.0;

/// By how much a thermostat opens and closes beside its line, K (common practice, no source).
const HYSTERESIS_SD_K: f64 = 1.0;

/// Doubt about the span between opening and full opening where it is not rated, K (10 to 15 is
/// usual; common practice, no source).
const ASSUMED_SPAN_SD_K: f64 = 4.0;

/// Share from which on a figure is called its prior's.
const MOSTLY_PRIOR: f64 = 0.5;

/// Lags of the whiteness test, in steps of the filter.
pub const WHITENESS_LAGS: usize = 10;

/// Below this p the surprises are not called white.
const WHITE_P: f64 = 0.05;

/// What an ambient sensor may read wrong all day, K (common practice, no source).
const AMBIENT_LEAN_K: f64 = 0.3;

/// A session's thermal state, fitted.
#[derive(Debug)]
pub struct StateFit {
    /// Logarithm of the conductance as it was over the open running, at reference speed and
    /// density, W/K.
    pub log_g: f64,
    /// Its standard deviation from this session alone (a, b, m).
    pub own_sd: f64,
    /// Its standard deviation with what sessions share (c, d, e).
    pub sd: f64,
    /// Seconds in the stints with the thermostat fully open, as the model has it.
    pub open_s: f64,
    /// By how much their repeating each other widens `sd`, over what it would be.
    pub repeats_widen_by: f64,
    /// Whiteness of the surprises over hot running.
    pub whiteness: Option<LjungBox>,
    /// The model taken, and what the other one would say.
    pub model: String,
    /// How the search ended, and what it leaned on.
    pub termination: String,
    /// Surprise of each grid step's reading, standard deviations; `NaN` where there is none.
    pub surprise: Vec<f64>,
    /// The reading of each grid step in the stints as forecast from their start, °C.
    pub modelled_c: Vec<f64>,
    search: Search,
}

impl StateFit {
    /// Each parameter fitted, in the order of [`Parameter::ALL`].
    pub fn parameters(&self) -> impl Iterator<Item = Fit> + '_ {
        self.search.taken.parameters()
    }

    /// Logarithm of the heat capacity of coolant and metal over the car sheet's, and its standard
    /// deviation.
    pub fn log_capacity(&self) -> (f64, f64) {
        let i = Parameter::Capacity as usize;
        let maximum = &self.search.taken.maximum;
        (maximum.parameters[i], maximum.sd(i))
    }

    /// The search behind it.
    pub fn search(&self) -> &Search {
        &self.search
    }
}

/// Fits the thermal state of `session`, the one at `index` of the joint fit.
///
/// # Errors
/// Why there is no fit, one sentence.
pub fn fit_state(session: &Prepared, joint: &JointFit, index: usize) -> Result<StateFit, String> {
    let record = Record::new(session, joint)
        .filter(|record| record.open_s() > 0.0)
        .ok_or("the thermostat was never fully open in hot running")?;
    let search = Search::of(record, joint.sessions[index].log_g)?;
    search.sane(session)?;
    Ok(search.answer(session, joint, index))
}

/// Both models searched; the one taken and, where it came to an end, the other.
#[derive(Debug)]
pub struct Search {
    taken: Fitted,
    other: Option<Fitted>,
}

impl Search {
    /// Searches from a conductance of `log_g`.
    ///
    /// # Errors
    /// Why there is no fit, one sentence.
    pub fn of(record: Record, log_g: f64) -> Result<Self, String> {
        let simple = record.without_slow_part();
        let start = record.start(log_g);
        let wide = record.clone();
        let full = Fitted::of(record, &start);
        let near = full.as_ref().map_or(&start, |f| &f.maximum.parameters);
        let start = near[..simple.priors().len()].to_vec();
        let simple = Fitted::of(simple, &start);
        let full = better_of_two(full, simple.as_ref(), &wide);
        let (taken, other) = match (full, simple) {
            (Some(full), Some(simple)) => {
                let better = simple.maximum.log_likelihood - full.maximum.log_likelihood;
                if better >= PREFERRED || (full.is_absurd() && !simple.is_absurd()) {
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
        Ok(Self { taken, other })
    }

    /// Whether it fits with figures that a car can have.
    ///
    /// # Errors
    /// Those it cannot have, with what is usual.
    pub fn sane(&self, session: &Prepared) -> Result<(), String> {
        let absurd: Vec<String> = (self.taken.parameters())
            .filter(|fit| fit.is_absurd())
            .map(|fit| beside_usual(&fit, session))
            .collect();
        if absurd.is_empty() {
            return Ok(());
        }
        Err(format!(
            "the log fits only with absurd figures ({}): see whether heat input, coolant and car sheet are right",
            absurd.join("; ")
        ))
    }

    /// Logarithm of the conductance as it was, and its variance from this record alone (a, b, m).
    pub fn own(&self) -> (f64, f64) {
        let hot = self.hot_surprises();
        let repeated = if is_white(&hot) { 1.0 } else { inflation(&hot) };
        (self.taken.passage.walk.figure, self.variance(repeated))
    }

    /// The same variance with the wander's part `repeated` as large.
    fn variance(&self, repeated: f64) -> f64 {
        let Fitted {
            maximum, passage, ..
        } = &self.taken;
        maximum.variance(&maximum.figure_slope)
            + passage.wander_variance * repeated
            + self.doubt_of_model()
    }

    /// Where the thermostat starts to open, °C, as the record of `session` shows it.
    pub fn opens_c(&self, session: &Prepared) -> Estimate {
        let Some(fit) = self
            .taken
            .parameters()
            .find(|fit| fit.parameter == Parameter::Thermostat)
        else {
            return Estimate::unknown("the model has no thermostat");
        };
        if fit.from_prior > MOSTLY_PRIOR {
            return Estimate::unknown(
                "the log hardly shows it: too little hot running while the thermostat moved",
            );
        }
        let span_sd_k = if session.thermostat.assumed {
            ASSUMED_SPAN_SD_K * session.mean_in_stints(&session.opening)
        } else {
            0.0
        };
        Estimate::symmetric(
            session.thermostat.opens_c - fit.value,
            NORMAL_FACTOR * fit.sd.hypot(HYSTERESIS_SD_K).hypot(span_sd_k),
            "knee of the heat balance over coolant: maximum likelihood; hysteresis of 1 K (sd) and, where the span is not rated, 4 K (sd) in it included",
        )
    }

    /// The record that was fitted, and the parameters found.
    pub fn fitted(&self) -> (&Record, &[f64]) {
        (&self.taken.record, &self.taken.maximum.parameters)
    }

    fn answer(self, session: &Prepared, joint: &JointFit, index: usize) -> StateFit {
        let (log_g, own) = self.own();
        let excess_k = joint.sessions[index].excess_k;
        let shared = joint.heat_and_flow_variance(index)
            + (session.coolant_step_c / 4.0 / excess_k).powi(2)
            + (AMBIENT_LEAN_K / excess_k).powi(2);
        let surprise = self.taken.surprise(session.coolant_c.len());
        StateFit {
            log_g,
            own_sd: own.sqrt(),
            sd: (own + shared).sqrt(),
            repeats_widen_by: ((own + shared) / (self.variance(1.0) + shared)).sqrt() - 1.0,
            open_s: self.taken.record.open_s(),
            whiteness: ljung_box(&self.hot_surprises(), WHITENESS_LAGS),
            model: self.in_words(),
            termination: self.taken.termination(),
            surprise,
            modelled_c: self.taken.course(log_g, session.coolant_c.len()),
            search: self,
        }
    }

    /// What the other model says: all of the difference where the model taken lacks the slow part;
    /// else the variance of a choice between the two, with odds of `e^`[`PREFERRED`] for the slow
    /// part before the readings.
    fn doubt_of_model(&self) -> f64 {
        let Some(other) = &self.other else {
            return 0.0;
        };
        let change = self.taken.passage.walk.figure - other.passage.walk.figure;
        let better = self.taken.maximum.log_likelihood - other.maximum.log_likelihood;
        if !self.taken.slow_part() {
            return change.powi(2);
        }
        let odds = (PREFERRED + better).exp();
        change.powi(2) * odds / (1.0 + odds).powi(2)
    }

    fn hot_surprises(&self) -> Vec<f64> {
        let steps = self.taken.record.steps().iter();
        let surprises = steps.zip(&self.taken.passage.surprise);
        surprises
            .filter(|(at, z)| at.trusted && !z.is_nan())
            .map(|(_, z)| *z)
            .collect()
    }

    fn in_words(&self) -> String {
        let (with, against) = if self.taken.slow_part() {
            ("with a slow part", "without it")
        } else {
            ("without a slow part", "with it")
        };
        let said = self.other.as_ref().map_or_else(String::new, |other| {
            let better = self.taken.maximum.log_likelihood - other.maximum.log_likelihood;
            let change = (other.passage.walk.figure - self.taken.passage.walk.figure).exp_m1();
            format!(
                "; {against} the log-likelihood (higher is better; less than 2 apart hardly tells) changes by {:+.1} and UA by {:+.1} %",
                -better,
                100.0 * change
            )
        });
        format!("metal, coolant and sensor, {with}, conductance wandering{said}")
    }
}

fn is_white(surprises: &[f64]) -> bool {
    ljung_box(surprises, WHITENESS_LAGS).is_none_or(|test| test.p >= WHITE_P)
}

/// `1 + 2 Σ r_k` over the lags of the test, never below 1.
fn inflation(series: &[f64]) -> f64 {
    let lags = (1..=WHITENESS_LAGS).filter_map(|lag| autocorrelation(series, lag));
    (1.0 + 2.0 * lags.sum::<f64>()).max(1.0)
}
