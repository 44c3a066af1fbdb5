//! The core as two coolant sensors see it.
//!
//! `ε = (T_in - T_out) / (T_in - T_air)`: T_in coolant leaving the engine, T_out coolant leaving
//! the radiator, means over windows of about a lap. Neither heat input nor heat capacity enters; the
//! coolant's flow does, and it goes with engine speed on a belt pump. So over the windows
//!
//! `ln ε = a + n ln(air flow / reference) + m ln(rpm / reference) + e`
//!
//! with n and m known beforehand as [`SPEED`] and [`RPM`]: laps of one session are much alike and say
//! little of either. Errors e follow each other ([`super::lap_means`]).
//! With the thermostat partly closed the flow is not the pump's, so such a session is declined.

use super::answer::{EffectivenessAtReference, Observed, Outlet};
use super::assess::assess_running;
use super::lap_means::{FEWEST, LapMeans, OverLaps, SENSORS_K, interval};
use super::prepare::Prepared;
use super::soak::step_c;
use crate::session::Role;
use crate::stats::curve::{Anchor, Posterior};
use crate::stats::{Estimate, NORMAL_FACTOR, mean};
use crate::thermal::air::STANDARD_DENSITY_KG_M3;
use crate::thermal::conductance::REFERENCE_SPEED_KMH;

/// Engine speed at which an effectiveness is stated, 1/min.
const REFERENCE_RPM: f64 = 5000.0;

/// Exponent on the mass flow of air, centre and standard deviation: that of the conductance.
const SPEED: (f64, f64) = (0.50, 0.15);

/// Exponent on engine speed: the heat given goes a little with the coolant's flow, the drop against
/// it (common practice, no source).
const RPM: (f64, f64) = (-0.75, 0.25);

/// Usual scatter of `ln ε` from window to window: gusts (common practice, no source).
const USUAL_SCATTER: f64 = 0.015;

const BRIDGE_S: f64 = 10.0;

/// What the sensor at the radiator's outlet tells.
pub fn outlet(session: &Prepared) -> Observed<Outlet> {
    let Some(out_c) = session.grid.bridged(Role::RadiatorOut, BRIDGE_S) else {
        return Observed::missing("no radiator_out channel");
    };
    let Some(air_c) = session.ambient_c.as_deref() else {
        return Observed::missing("needs ambient");
    };
    if let Err(why) = assess_running(session) {
        return Observed::missing(why.to_string());
    }
    let laps = LapMeans::of(session, &[&out_c, &session.coolant_c, air_c]);
    if laps.len() < FEWEST {
        return Observed::missing(format!(
            "{} laps or parts of hot running with all readings; {FEWEST} are needed",
            laps.len()
        ));
    }
    Observed::Seen(tell(session, &laps, &out_c, air_c))
}

fn tell(session: &Prepared, laps: &LapMeans, out_c: &[f64], air_c: &[f64]) -> Outlet {
    let [inlet, outlet, air] = [&session.coolant_c, out_c, air_c].map(|c| laps.means(c));
    let less = |a: &[f64], b: &[f64]| -> Vec<f64> { a.iter().zip(b).map(|(a, b)| a - b).collect() };
    let (drop, excess) = (less(&inlet, &outlet), less(&inlet, &air));
    let rpm = session.rpm.as_ref().map(|rpm| laps.means(rpm));
    let as_driven = |value: f64, sd_k: f64, sensors: &str| {
        Estimate::symmetric(
            value,
            NORMAL_FACTOR * sd_k,
            format!("mean of hot running as driven; interval: {sensors} ±{sd_k:.1} K (1 sd)"),
        )
    };
    // A reading may be rounded or cut off: half a step more or less.
    let reading_k = SENSORS_K.hypot(step_c(&session.grid, Role::RadiatorOut) / 2.0);
    let law = if drop.iter().chain(&excess).all(|k| *k > 0.0) {
        let logs: Vec<f64> = drop
            .iter()
            .zip(&excess)
            .map(|(d, e)| (d / e).ln())
            .collect();
        let log_air = laps.means(&session.log_air_flow);
        PowerLaw::of(&laps.times_s(), &logs, log_air, rpm.as_deref())
    } else {
        None
    };
    let none = || Estimate::unknown("the outlet reads as hot as the inlet, or colder than the air");
    let told = |of: &dyn Fn(&PowerLaw) -> Estimate| law.as_ref().map_or_else(none, of);
    Outlet {
        drop_k: as_driven(mean(&drop), SENSORS_K, "sensors"),
        return_c: as_driven(mean(&outlet), reading_k, "sensor and step"),
        effectiveness: EffectivenessAtReference {
            value: told(&|law| law.at_reference(NORMAL_FACTOR * SENSORS_K / mean(&drop))),
            at_speed_kmh: REFERENCE_SPEED_KMH,
            at_air_density_kg_m3: STANDARD_DENSITY_KG_M3,
            at_rpm: rpm.as_ref().map(|_| REFERENCE_RPM),
        },
        effectiveness_relative: told(&PowerLaw::relative),
        speed_exponent: told(&|law| law.exponent(1, SPEED)),
        rpm_exponent: match rpm {
            Some(_) => told(&|law| law.exponent(2, RPM)),
            None => Estimate::unknown("no engine speed"),
        },
    }
}

/// `ln ε` as a linear function of `[1, ln air flow, ln rpm]`.
struct PowerLaw {
    posterior: Posterior,
    /// Mean of the regressors.
    as_driven: Vec<f64>,
    windows: usize,
}

impl PowerLaw {
    fn of(times_s: &[f64], logs: &[f64], log_air: Vec<f64>, rpm: Option<&[f64]>) -> Option<Self> {
        let log_rpm = rpm.map(|rpm| rpm.iter().map(|r| (r / REFERENCE_RPM).ln()).collect());
        let regressors: Vec<Vec<f64>> = [Some(vec![1.0; logs.len()]), Some(log_air), log_rpm]
            .into_iter()
            .flatten()
            .collect();
        let anchors = [SPEED, RPM][..regressors.len() - 1]
            .iter()
            .enumerate()
            .map(|(i, &(value, sd))| Anchor {
                coefficient: i + 1,
                value,
                sd,
            })
            .collect();
        let as_driven = regressors.iter().map(|r| mean(r)).collect();
        let posterior = OverLaps {
            times_s,
            values: logs,
            regressors,
            anchors,
            usual_sd: USUAL_SCATTER,
        }
        .posterior()?;
        Some(Self {
            posterior,
            as_driven,
            windows: logs.len(),
        })
    }

    fn method(&self) -> String {
        format!(
            "log-linear over {} windows of about a lap, errors that follow themselves integrated out",
            self.windows
        )
    }

    /// At reference conditions, `sensors` the half-width of the logarithm from the sensors.
    fn at_reference(&self, sensors: f64) -> Estimate {
        let mut weights = vec![0.0; self.as_driven.len()];
        weights[0] = 1.0;
        let [low, middle, high] = interval(&self.posterior, &weights);
        Estimate::between(
            middle.exp(),
            (middle - (middle - low).hypot(sensors)).exp(),
            (middle + (high - middle).hypot(sensors)).exp(),
            format!("{}; sensors ±{SENSORS_K} K (1 sd)", self.method()),
        )
    }

    /// Over its own value, at the conditions driven.
    fn relative(&self) -> Estimate {
        let [low, middle, high] = interval(&self.posterior, &self.as_driven);
        Estimate::between(
            1.0,
            (low - middle).exp(),
            (high - middle).exp(),
            format!("{}; as driven", self.method()),
        )
    }

    fn exponent(&self, j: usize, (centre, sd): (f64, f64)) -> Estimate {
        let mut weights = vec![0.0; self.as_driven.len()];
        weights[j] = 1.0;
        let [low, middle, high] = interval(&self.posterior, &weights);
        Estimate::between(
            middle,
            low,
            high,
            format!(
                "{}; known beforehand as {centre:.2} ± {sd:.2}",
                self.method()
            ),
        )
    }
}

#[cfg(test)]
mod tests;
