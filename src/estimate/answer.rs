//! What a fit answers.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::parameters::FittedParameter;
use super::self_check::SelfCheck;
use crate::regime::Regime;
use crate::stats::Estimate;
use crate::warning::Warning;

/// The thermal model of one session. Field names are the machine interface.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SessionFit {
    /// The session's id.
    pub id: String,
    /// Whether the session says what the radiator can do.
    pub assessable: bool,
    /// Why not; `None` when it does.
    pub why: Option<String>,
    /// Seconds under load with the thermostat fully open beyond the tolerance of its rating.
    pub open_s: f64,
    /// Effective conductance, scale uncertainty included.
    pub ua_w_per_k: UaAtReference,
    /// The conductance over its own value with the scale of the heat input held: what is left of the
    /// interval where the scale cancels, as it does between two sessions of one car with the same heat source.
    pub ua_relative: Estimate,
    /// What the conductance is at least, where only that can be said.
    pub ua_lower_bound_w_per_k: Estimate,
    /// What the heat input was taken from; `None`: there is none.
    pub heat_source: Option<String>,
    /// Where the absolute scale comes from and what it assumes.
    pub scale: String,
    /// Exponent of the conductance on speed.
    pub speed_exponent: Estimate,
    /// Heat capacity of coolant and metal together.
    pub heat_capacity_j_per_k: Estimate,
    /// Where the thermostat starts to open, as the log shows it.
    pub thermostat_opens_c: Estimate,
    /// The model taken, and what a simpler one would say.
    pub model: String,
    /// Heat-soak constants.
    pub soak: Soak,
    /// What a sensor at the radiator outlet tells of the core.
    pub outlet: Observed<Outlet>,
    /// Oil over the load.
    pub oil: Observed<Follower>,
    /// Charge air over the load, and its cooler.
    pub charge_air: Observed<ChargeAir>,
    /// Ambient at which this session's drive would settle at the limit (the model's own).
    pub limiting_ambient_c: Estimate,
    /// How well the model follows the reading.
    pub residual: Residual,
    /// The parameters of the fit; none without one.
    pub parameters: Vec<FittedParameter>,
    /// Seconds of the session in each regime.
    pub regimes_s: BTreeMap<Regime, f64>,
    /// Whether the fit finds again what it is given, where that was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub self_check: Option<SelfCheck>,
    /// How the fit ended.
    pub termination: String,
    /// The session's own warnings; documents gather them at the top.
    #[serde(skip)]
    pub warnings: Vec<Warning>,
    /// Second by second, for charts.
    #[serde(skip)]
    pub trace: Trace,
}

/// An effective conductance with the conditions it holds for.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct UaAtReference {
    /// W/K.
    #[serde(flatten)]
    pub value: Estimate,
    /// Vehicle speed it holds for.
    pub at_speed_kmh: f64,
    /// Air density it holds for.
    pub at_air_density_kg_m3: f64,
}

/// Heat-soak constants of a session; each unknown where the log lacks the phase.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Soak {
    /// How far intake air climbs at standstill.
    pub intake_rise_still_k: Estimate,
    /// Time constant of that climb.
    pub intake_tau_still_s: Estimate,
    /// The other time constant, where the climb needs two.
    pub intake_second_tau_still_s: Estimate,
    /// Time constant of its recovery on the move.
    pub intake_tau_moving_s: Estimate,
    /// The other time constant, where the recovery needs two.
    pub intake_second_tau_moving_s: Estimate,
    /// How far coolant rises after the engine stops.
    pub coolant_rise_after_stop_k: Estimate,
    /// Time from the stop to that peak.
    pub coolant_time_to_peak_s: Estimate,
    /// Time constant of the decay after the peak.
    pub coolant_decay_tau_s: Estimate,
    /// The other time constant, where the decay needs two.
    pub coolant_decay_second_tau_s: Estimate,
}

/// A part of the answer that hangs on a channel: there, or the reason why not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Observed<T> {
    /// The channel is there.
    Seen(T),
    /// It is not; always an unknown estimate.
    Missing(Estimate),
}

impl<T> Observed<T> {
    /// Not there, and why.
    pub fn missing(why: impl Into<String>) -> Self {
        Self::Missing(Estimate::unknown(why))
    }

    /// What was seen, if anything.
    pub fn seen(&self) -> Option<&T> {
        match self {
            Self::Seen(part) => Some(part),
            Self::Missing(_) => None,
        }
    }
}

/// The core as two coolant sensors see it, over hot running with the thermostat open.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outlet {
    /// Mean drop of the coolant across the core.
    pub drop_k: Estimate,
    /// Mean temperature of the coolant going back to the engine.
    pub return_c: Estimate,
    /// Coolant-side effectiveness, the sensors' disagreement included.
    pub effectiveness: EffectivenessAtReference,
    /// The same over its own value as driven: the interval a comparison feels, to be held against
    /// that of `ua_relative`.
    pub effectiveness_relative: Estimate,
    /// Exponent of the effectiveness on speed.
    pub speed_exponent: Estimate,
    /// Exponent of the effectiveness on engine speed, which drives the coolant's flow.
    pub rpm_exponent: Estimate,
}

/// An effectiveness with the conditions it holds for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EffectivenessAtReference {
    /// Between 0 and 1.
    #[serde(flatten)]
    pub value: Estimate,
    /// Vehicle speed it holds for.
    pub at_speed_kmh: f64,
    /// Air density it holds for.
    pub at_air_density_kg_m3: f64,
    /// Engine speed it holds for; `None`: not logged, it holds for the engine speeds driven.
    pub at_rpm: Option<f64>,
}

/// A temperature that follows the load with a lag.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Follower {
    /// Where it settles at the mean load of hot running.
    pub settled_c: Estimate,
    /// Excess over the air outside for each kW of heat into the coolant.
    pub excess_k_per_kw: Estimate,
    /// Excess over the air outside for each percent of the mean load of hot running.
    pub excess_k_per_percent: Estimate,
    /// Time constant with which it follows.
    pub tau_s: Estimate,
}

/// Charge air before and after its cooler.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChargeAir {
    /// Before the cooler.
    pub before: Observed<Follower>,
    /// After the cooler.
    pub after: Observed<Follower>,
    /// Drop across the cooler over the excess before it, mean of hot running.
    pub effectiveness: Estimate,
}

/// How the model's residuals look.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Residual {
    /// Standard deviation of measured minus modelled coolant over hot running. `None`: no fit.
    pub sd_k: Option<f64>,
    /// Whether the test finds no pattern in what the likelihood takes as independent.
    pub white: Option<bool>,
    /// The test.
    pub test: String,
    /// Its p-value.
    pub p: Option<f64>,
    /// By how much a pattern widens the interval of the conductance, over what it would be.
    pub widens_by: Option<f64>,
}

/// The session in equal steps as the fit saw it. All vectors have the same length.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Trace {
    /// Length of a step, s.
    pub step_s: f64,
    /// What the car was doing.
    pub regime: Vec<Regime>,
    /// Coolant as read, °C (`NaN`: no reading).
    pub measured_c: Vec<f64>,
    /// Coolant as modelled, °C (`NaN`: not modelled).
    pub modelled_c: Vec<f64>,
    /// Heat into the coolant, W (`NaN`: unknown).
    pub heat_w: Vec<f64>,
    /// Air outside as used, °C.
    pub ambient_c: Vec<f64>,
    /// Hot running used for the conductance, as `(first, one past last)` steps.
    pub stints: Vec<(usize, usize)>,
    /// Surprise of each reading, standard deviations of its forecast (`NaN`: none).
    pub surprise: Vec<f64>,
}

/// The document of `heatbook fit`.
#[derive(Debug, Clone, Serialize)]
pub struct FitAnswer {
    /// One a session.
    pub sessions: Vec<SessionFit>,
    /// All sessions' warnings, each prefixed with its session.
    pub warnings: Vec<Warning>,
}

impl FitAnswer {
    /// Gathers the fits and their warnings; a warning that several sessions share is said once.
    pub fn new(sessions: Vec<SessionFit>) -> Self {
        let mut gathered: BTreeMap<(String, String), (Warning, Vec<String>)> = BTreeMap::new();
        for fit in &sessions {
            for warning in &fit.warnings {
                gathered
                    .entry((warning.id.clone(), warning.message.clone()))
                    .or_insert_with(|| (warning.clone(), Vec::new()))
                    .1
                    .push(fit.id.clone());
            }
        }
        let differ = heat_sources_differ(sessions.iter());
        let warnings = gathered
            .into_values()
            .map(|(mut warning, ids)| {
                warning.message = format!("{}: {}", ids.join(", "), warning.message);
                warning
            })
            .chain(differ)
            .collect();
        Self { sessions, warnings }
    }
}

/// The sessions of each heat source.
pub fn by_heat_source<'a>(
    fits: impl Iterator<Item = &'a SessionFit>,
) -> BTreeMap<&'a str, Vec<&'a str>> {
    let mut by_source: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for fit in fits {
        let source = fit.heat_source.as_deref().unwrap_or("nothing");
        by_source.entry(source).or_default().push(&fit.id);
    }
    by_source
}

/// That conductances rest on different heat sources, where they do.
pub fn heat_sources_differ<'a>(fits: impl Iterator<Item = &'a SessionFit>) -> Option<Warning> {
    let by_source = by_heat_source(fits.filter(|fit| fit.ua_w_per_k.value.known().is_some()));
    let sources: Vec<String> = (by_source.iter())
        .map(|(source, ids)| format!("{source}: {}", ids.join(", ")))
        .collect();
    (sources.len() > 1).then(|| {
        Warning::caution(
            "heat-sources-differ",
            format!(
                "the scale of UA does not cancel between sessions with different heat sources, whatever their relative interval is ({}): do not hold their UA against each other; heatbook compare takes one source for all",
                sources.join("; ")
            ),
        )
    })
}
