//! One session's fit: can it be assessed, and if so, what does it say.

use std::collections::BTreeMap;

use super::answer::{Residual, SessionFit, Trace, UaAtReference};
use super::assess::open_s;
use super::follow::{charge_air, oil};
use super::joint::{JointFit, PRIORS, SessionBalance, fit_converged};
use super::outlet::outlet;
use super::parameters::fitted_parameters;
use super::prepare::{Prepared, STEP_S, prepare};
use super::self_check::{Plan, self_check};
use super::simulate::{CarModel, ReferenceDrive};
use super::soak::soak_constants;
use super::state_fit::{StateFit, WHITENESS_LAGS};
use super::stated::{Declined, misses_k, stated};
use super::thermal_state::FILTER_STEP_S;
use crate::regime::Regime;
use crate::session::Session;
use crate::stats::{Estimate, NORMAL_FACTOR, t_factor};
use crate::thermal::air::STANDARD_DENSITY_KG_M3;
use crate::thermal::conductance::REFERENCE_SPEED_KMH;
use crate::thermal::heat_input::HeatInput;
use crate::warning::Warning;

/// Factor beyond which the two scales are said to disagree.
const MOST_APART: f64 = 2.0;

/// Scatter of `log g` from session to session where nothing tells it: 0.75 K on 70 K (from
/// simulation with gusty wind). It widens what is said of another day, and prices a test; it never
/// enters the interval of a comparison.
pub const ASSUMED_SESSION_LOG_SD: f64 = 0.011;

/// Fits one session.
pub fn fit_session(session: &Session) -> SessionFit {
    fit_and_check(session, None)
}

/// Fits one session, and checks the fit on records drawn from it if there is a plan to.
pub fn fit_and_check(session: &Session, plan: Option<Plan>) -> SessionFit {
    let prepared = prepare(session, None);
    match stated(&prepared) {
        Ok((joint, state)) => {
            let mut fit = answer(&prepared, &joint, &state);
            fit.self_check = plan.map(|plan| self_check(state.search(), plan));
            if fit.self_check.as_ref().is_some_and(|check| !check.passed) {
                fit.warnings.push(Warning::caution(
                    "self-check-failed",
                    "logs drawn from this fit do not give back the conductance put in: do not rest on it",
                ));
            }
            fit
        }
        Err(none) => declined(&prepared, &none),
    }
}

/// Half-width of the interval of `log g` from this session's own windows: what a comparison with
/// sessions run alike feels, where scale and shared parameters cancel. `None` with a single window.
pub fn log_g_half_width(joint: &JointFit, index: usize) -> Option<f64> {
    let balance: &SessionBalance = &joint.sessions[index];
    Some(t_factor(balance.df)? * balance.log_g_se)
}

fn answer(session: &Prepared, joint: &JointFit, state: &StateFit) -> SessionFit {
    let scale_sd = session
        .heat
        .as_ref()
        .map_or(f64::INFINITY, |h| h.scale_log_sd);
    let car = CarModel::of(session, &joint.shared, state.log_g);
    let method = format!(
        "maximum likelihood of the thermal state over {:.0} s fully open: information and sandwich, shared parameters, sensors",
        state.open_s
    );
    let mut fit = blank(session, state.termination.clone());
    fit.assessable = true;
    fit.model = state.model.clone();
    fit.ua_w_per_k.value = log_interval(
        state.log_g,
        NORMAL_FACTOR * state.sd.hypot(scale_sd),
        format!(
            "{method}; scale of the heat input ±{:.0} % (1 sd)",
            100.0 * scale_sd
        ),
    );
    fit.ua_relative = log_interval(0.0, NORMAL_FACTOR * state.sd, method.clone());
    fit.ua_lower_bound_w_per_k = Estimate::unknown("not needed: there is a point value");
    fit.scale = scale_text(session, Some(state));
    fit.speed_exponent = shared_estimate(joint, 0);
    let (log_capacity, sd) = state.log_capacity();
    fit.heat_capacity_j_per_k = log_interval(
        session.capacity_j_per_k.ln() + log_capacity,
        NORMAL_FACTOR * sd,
        "coolant and the metal that follows it in seconds, at the scale of the heat input; maximum likelihood with the car sheet's as prior, within a factor of 1.5".to_owned(),
    );
    fit.limiting_ambient_c = limiting_ambient(
        session,
        joint,
        &car,
        NORMAL_FACTOR * state.sd.hypot(ASSUMED_SESSION_LOG_SD),
    );
    fit.parameters = fitted_parameters(session, state);
    fit.thermostat_opens_c = state.search().opens_c(session);
    let ratio = log_capacity.exp();
    if !(1.0 / MOST_APART..=MOST_APART).contains(&ratio) {
        fit.warnings.push(Warning::caution(
            "scales-disagree",
            format!(
                "heat input and the heat capacity of the car sheet disagree: the balance fits at {ratio:.2} of that capacity, so one of the two is wrong, and UA in W/K rests on the heat input"
            ),
        ));
    }
    fit.residual = residual(misses_k(session, state), state);
    fit.trace.modelled_c = state.modelled_c.clone();
    fit.trace.heat_w = joint.heat_w(session);
    fit.trace.surprise = state.surprise.clone();
    fit
}

fn declined(session: &Prepared, declined: &Declined) -> SessionFit {
    let mut fit = blank(session, declined.termination.clone());
    fit.why = Some(declined.why.clone());
    let none = Estimate::unknown(declined.why.clone());
    match as_if_open(session) {
        Ok(joint) => {
            let scale_log_sd = session.heat.as_ref().map_or(0.0, |h| h.scale_log_sd);
            fit.ua_lower_bound_w_per_k = lower_bound(&joint, scale_log_sd);
        }
        Err(why) => fit.ua_lower_bound_w_per_k = Estimate::unknown(why),
    }
    // On one side of full opening alone, thermostat and radiator cannot be told apart: a thermostat
    // that opens later and a larger radiator give the same flat coolant.
    fit.thermostat_opens_c = Estimate::unknown("needs running on both sides of full opening");
    for figure in [
        &mut fit.ua_w_per_k.value,
        &mut fit.ua_relative,
        &mut fit.speed_exponent,
        &mut fit.heat_capacity_j_per_k,
        &mut fit.limiting_ambient_c,
    ] {
        *figure = none.clone();
    }
    fit
}

fn blank(session: &Prepared, termination: String) -> SessionFit {
    let unset = || Estimate::unknown("not computed");
    let steps = session.coolant_c.len();
    SessionFit {
        id: session.id.clone(),
        assessable: false,
        why: None,
        open_s: open_s(session),
        ua_w_per_k: UaAtReference {
            value: unset(),
            at_speed_kmh: REFERENCE_SPEED_KMH,
            at_air_density_kg_m3: STANDARD_DENSITY_KG_M3,
        },
        ua_relative: unset(),
        ua_lower_bound_w_per_k: unset(),
        heat_source: (session.heat.as_ref()).map(|heat| heat.source.label().to_owned()),
        scale: scale_text(session, None),
        speed_exponent: unset(),
        heat_capacity_j_per_k: unset(),
        thermostat_opens_c: unset(),
        model: "none: no fit".to_owned(),
        parameters: Vec::new(),
        regimes_s: regimes_s(session),
        self_check: None,
        soak: soak_constants(session),
        outlet: outlet(session),
        oil: oil(session),
        charge_air: charge_air(session),
        limiting_ambient_c: unset(),
        residual: Residual {
            sd_k: None,
            white: None,
            test: "none: no fit".to_owned(),
            p: None,
            widens_by: None,
        },
        termination,
        warnings: session.warnings.clone(),
        trace: Trace {
            step_s: STEP_S,
            regime: session.drive.regime.clone(),
            measured_c: session.coolant_c.clone(),
            modelled_c: vec![f64::NAN; steps],
            heat_w: session
                .heat
                .as_ref()
                .map_or_else(|| vec![f64::NAN; steps], |h| h.watts.clone()),
            ambient_c: session
                .ambient_c
                .clone()
                .unwrap_or_else(|| vec![f64::NAN; steps]),
            stints: session.drive.stints.clone(),
            surprise: vec![f64::NAN; steps],
        },
    }
}

fn regimes_s(session: &Prepared) -> BTreeMap<Regime, f64> {
    let mut seconds = BTreeMap::new();
    for &regime in &session.drive.regime {
        *seconds.entry(regime).or_default() += STEP_S;
    }
    seconds
}

/// The balance with the thermostat taken as fully open throughout.
fn as_if_open(session: &Prepared) -> Result<JointFit, String> {
    if session.heat.is_none() || session.ambient_c.is_none() {
        return Err("needs ambient and heat input".to_owned());
    }
    if session.drive.stints.is_empty() {
        return Err("no hot running long enough for a heat balance".to_owned());
    }
    let mut open = session.clone();
    open.opening.fill(1.0);
    fit_converged(&[&open])
}

/// What the conductance is at least. Less than all coolant went through the radiator, so the
/// radiator is worth at least what the balance as if open says.
fn lower_bound(joint: &JointFit, scale_log_sd: f64) -> Estimate {
    let half = log_g_half_width(joint, 0)
        .unwrap_or(0.0)
        .hypot(NORMAL_FACTOR * scale_log_sd);
    log_interval(
        joint.sessions[0].log_g,
        half,
        "heat balance with the thermostat taken as open: a lower bound; scale uncertainty included"
            .to_owned(),
    )
}

fn log_interval(log: f64, half: f64, method: String) -> Estimate {
    Estimate::between(log.exp(), (log - half).exp(), (log + half).exp(), method)
}

fn shared_estimate(joint: &JointFit, i: usize) -> Estimate {
    let (value, sd, prior) = (joint.shared[i], joint.shared_sd(i), PRIORS[i]);
    let from_prior = 100.0 * (sd / prior.sd).powi(2).min(1.0);
    let method = format!(
        "windows of the session and the prior ({}); {from_prior:.0} % of what is known is the prior",
        prior.stated
    );
    Estimate::symmetric(value, NORMAL_FACTOR * sd, method)
}

fn limiting_ambient(
    session: &Prepared,
    joint: &JointFit,
    car: &CarModel,
    relative_half: f64,
) -> Estimate {
    let Some(limit_c) = session.car.limit_coolant_c else {
        return Estimate::unknown("no limit: give limit_coolant_c in the car sheet");
    };
    let Some(drive) = ReferenceDrive::of(session, joint) else {
        return Estimate::unknown("no stint to drive");
    };
    let at = |log_shift: f64| drive.limiting_ambient_c(&car.shifted(log_shift), limit_c);
    match (at(0.0), at(-relative_half), at(relative_half)) {
        (Some(middle), Some(low), Some(high)) => Estimate::between(
            middle,
            low,
            high,
            "session's longest stint repeated until settled, thermostat open, peak at the limit; no gusts; conductance at its ends, and 1.1 % (1 sd, by simulation, not from this log) for what differs from one session to the next",
        ),
        _ => Estimate::unknown("outside -40 to 80 °C"),
    }
}

fn residual(sd_k: Option<f64>, state: &StateFit) -> Residual {
    let test = state.whiteness;
    Residual {
        sd_k,
        white: test.map(|t| t.p >= 0.05),
        test: format!(
            "Ljung-Box, {WHITENESS_LAGS} lags of {FILTER_STEP_S:.0} s, on the surprises over hot running"
        ),
        p: test.map(|t| t.p),
        widens_by: Some(state.repeats_widen_by),
    }
}

fn scale_text(session: &Prepared, state: Option<&StateFit>) -> String {
    let Some(HeatInput {
        source,
        assumes,
        scale_log_sd,
        ..
    }) = &session.heat
    else {
        return "none: no heat input".to_owned();
    };
    let mut text = format!(
        "heat input from {}: {assumes} (±{:.0} %, 1 sd)",
        source.label(),
        100.0 * scale_log_sd
    );
    if let Some(state) = state {
        let from = if session.capacity_assumed {
            "partly assumed"
        } else {
            "from the car sheet"
        };
        text += &format!(
            "; by heat capacity ({from}, {:.0} kJ/K) the same balance fits at {:.2} of it",
            session.capacity_j_per_k / 1000.0,
            state.log_capacity().0.exp()
        );
    }
    text
}

#[cfg(test)]
mod tests;
