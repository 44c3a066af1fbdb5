//! The parameters of a session's fit in the units a reader knows, each with what was known of it
//! beforehand and how much of the answer that brought.

use serde::{Deserialize, Serialize};

use super::prepare::Prepared;
use super::state_fit::{Fit, StateFit};
use super::thermal_state::{LAGS_S, Parameter};
use crate::stats::{Estimate, NORMAL_FACTOR};

/// A parameter of the fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FittedParameter {
    /// What it is.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// Its value.
    pub value: Estimate,
    /// Where it was taken to lie beforehand: middle, and ends between which 95 % of the prior lie.
    pub prior: [f64; 3],
    /// Share of what is known of it that the prior brought, 0 to 1.
    pub from_prior: f64,
}

/// The parameters of a fit.
pub fn fitted_parameters(session: &Prepared, state: &StateFit) -> Vec<FittedParameter> {
    let told = state.parameters();
    told.map(|fitted| {
        let parameter = fitted.parameter;
        let natural = |x: f64| in_its_unit(parameter, x, session);
        let half = NORMAL_FACTOR * fitted.sd;
        FittedParameter {
            name: name(parameter).to_owned(),
            unit: unit(parameter).to_owned(),
            value: Estimate::between(
                natural(fitted.value),
                natural(fitted.value - half),
                natural(fitted.value + half),
                "maximum likelihood: the larger of information and sandwich",
            ),
            prior: prior(&fitted, session),
            from_prior: fitted.from_prior,
        }
    })
    .collect()
}

/// A parameter in words, and between what it usually lies.
pub fn beside_usual(fit: &Fit, session: &Prepared) -> String {
    let value = in_its_unit(fit.parameter, fit.value, session);
    let [_, low, high] = prior(fit, session);
    let (name, unit) = (name(fit.parameter), unit(fit.parameter));
    let told = |x: f64| match x.abs() {
        x if x < 10.0 => 1,
        _ => 0,
    };
    let (a, b, c) = (told(value), told(low), told(high));
    format!("{name} {value:.a$} {unit}, usually {low:.b$} to {high:.c$}")
}

/// Middle of the prior, and ends between which 95 % of it lie.
fn prior(fit: &Fit, session: &Prepared) -> [f64; 3] {
    let at = |sds: f64| {
        let x = fit.prior.centre + sds * fit.prior.sd;
        in_its_unit(fit.parameter, x, session)
    };
    let (one, other) = (at(-NORMAL_FACTOR), at(NORMAL_FACTOR));
    [at(0.0), one.min(other), one.max(other)]
}

fn in_its_unit(parameter: Parameter, x: f64, session: &Prepared) -> f64 {
    match parameter {
        Parameter::Conductance | Parameter::WanderTime | Parameter::SlowTime => x.exp(),
        Parameter::Capacity | Parameter::Slow => x.exp() * session.capacity_j_per_k / 1000.0,
        Parameter::Lag => x.exp() * LAGS_S.0,
        Parameter::Wander => 100.0 * x.exp(),
        Parameter::Thermostat => session.thermostat.opens_c - x,
    }
}

fn unit(parameter: Parameter) -> &'static str {
    match parameter {
        Parameter::Conductance => "W/K",
        Parameter::Capacity | Parameter::Slow => "kJ/K",
        Parameter::Lag | Parameter::WanderTime | Parameter::SlowTime => "s",
        Parameter::Wander => "%",
        Parameter::Thermostat => "°C",
    }
}

fn name(parameter: Parameter) -> &'static str {
    match parameter {
        Parameter::Conductance => "conductance about which it wanders",
        Parameter::Capacity => "heat capacity of coolant and quick metal",
        Parameter::Lag => "lag of coolant behind metal",
        Parameter::Wander => "wander of the conductance (sd)",
        Parameter::WanderTime => "memory of the wander",
        Parameter::Thermostat => "thermostat starts to open at",
        Parameter::Slow => "heat capacity of the slow part",
        Parameter::SlowTime => "time constant of the slow part",
    }
}
