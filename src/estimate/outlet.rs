//! The core as two coolant sensors see it.
//!
//! `ε = (T_in - T_out) / (T_in - T_air)`: T_in coolant leaving the engine, T_out coolant leaving
//! the radiator, means over windows of about a lap. Neither heat input nor heat capacity enters; the
//! coolant's flow does, and it goes with engine speed on a belt pump. So over the windows
//!
//! `ln ε = a + n ln(air flow / reference) + m ln(rpm / reference) + e`
//!
//! by least squares with n and m known beforehand as [`SPEED`] and [`RPM`]: laps of one session are
//! much alike and say little of either. Errors are inflated for windows that follow each other.
//! With the thermostat partly closed the flow is not the pump's, so such a session is declined.

use nalgebra::{DMatrix, DVector};

use super::answer::{EffectivenessAtReference, Observed, Outlet};
use super::assess::assess_running;
use super::lap_means::{LapMeans, inflation, scattered};
use super::prepare::Prepared;
use crate::session::Role;
use crate::stats::{Estimate, linear, mean, standard_deviation, t_factor};
use crate::thermal::air::STANDARD_DENSITY_KG_M3;
use crate::thermal::conductance::REFERENCE_SPEED_KMH;

/// Engine speed at which an effectiveness is stated, 1/min.
const REFERENCE_RPM: f64 = 5000.0;

/// Exponent on the mass flow of air, centre and standard deviation: that of the conductance.
const SPEED: (f64, f64) = (0.50, 0.15);

/// Exponent on engine speed: the heat given goes a little with the coolant's flow, the drop against
/// it (common practice, no source).
const RPM: (f64, f64) = (-0.75, 0.25);

/// How far two sensors differ from each other, K (1 sd; common practice, no source). It cancels
/// between sessions of one car.
const SENSORS_K: f64 = 0.6;

/// Normal quantile for a two-sided interval at [`crate::stats::LEVEL`].
const Z: f64 = 1.959_963_985;

/// Least scatter of `ln ε` from window to window: a mean over a lap stands for speeds and flows that
/// swing within it.
const LEAST_SCATTER: f64 = 0.004;

/// Fewest windows from which scatter is told.
const FEWEST: usize = 4;

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
    let (mean_drop, mean_return) = (scattered(&drop), scattered(&outlet));
    let method = format!(
        "mean of {} windows of about a lap; their scatter (t, inflated for autocorrelation); sensors ±{SENSORS_K} K (1 sd)",
        laps.len()
    );
    let with_sensors = |half: f64| half.hypot(Z * SENSORS_K);
    let drop_k = Estimate::symmetric(mean_drop.mean, with_sensors(mean_drop.half_width), &*method);
    let return_c = Estimate::symmetric(
        mean_return.mean,
        with_sensors(mean_return.half_width),
        &*method,
    );
    let rpm = session.rpm.as_ref().map(|rpm| laps.means(rpm));
    let at_reference = |value| EffectivenessAtReference {
        value,
        at_speed_kmh: REFERENCE_SPEED_KMH,
        at_air_density_kg_m3: STANDARD_DENSITY_KG_M3,
        at_rpm: rpm.as_ref().map(|_| REFERENCE_RPM),
    };
    let ratios: Vec<f64> = drop.iter().zip(&excess).map(|(d, e)| d / e).collect();
    let fit = if ratios.iter().all(|r| *r > 0.0) && excess.iter().all(|e| *e > 0.0) {
        power_law(&ratios, &laps.means(&session.log_air_flow), rpm.as_deref())
    } else {
        None
    };
    let Some(law) = fit else {
        let none = Estimate::unknown("the outlet reads as hot as the inlet");
        return Outlet {
            drop_k,
            return_c,
            effectiveness: at_reference(none.clone()),
            effectiveness_relative: none.clone(),
            speed_exponent: none.clone(),
            rpm_exponent: none,
        };
    };
    let sensors = Z * SENSORS_K / mean_drop.mean;
    Outlet {
        drop_k,
        return_c,
        effectiveness: at_reference(law.value(&law.reference(), sensors, true)),
        effectiveness_relative: law.value(&law.as_driven, 0.0, false),
        speed_exponent: law.exponent(1, SPEED),
        rpm_exponent: if rpm.is_some() {
            law.exponent(2, RPM)
        } else {
            Estimate::unknown("no engine speed")
        },
    }
}

/// `ln ε` as a linear function of `[1, ln air flow, ln rpm]`.
struct PowerLaw {
    coefficients: DVector<f64>,
    covariance: DMatrix<f64>,
    /// Mean of the regressors.
    as_driven: DVector<f64>,
    t: f64,
    windows: usize,
}

fn power_law(ratios: &[f64], log_air: &[f64], rpm: Option<&[f64]>) -> Option<PowerLaw> {
    let n = ratios.len();
    let log_rpm = rpm.map(|rpm| {
        rpm.iter()
            .map(|r| (r / REFERENCE_RPM).ln())
            .collect::<Vec<_>>()
    });
    let mut regressors = vec![vec![1.0; n], log_air.to_vec()];
    regressors.extend(log_rpm);
    let p = regressors.len();
    let logs: Vec<f64> = ratios.iter().map(|r| r.ln()).collect();
    let as_driven = DVector::from_fn(p, |j, _| mean(&regressors[j]));
    // How much a window scatters weighs the readings against what is known beforehand: twice over.
    let mut sd = standard_deviation(&logs)?.max(LEAST_SCATTER);
    let mut solved = None;
    for _ in 0..3 {
        let priors = &[SPEED, RPM][..p - 1];
        let x = DMatrix::from_fn(n + p - 1, p, |i, j| match i.checked_sub(n) {
            None => regressors[j][i],
            Some(k) if k + 1 == j => sd / priors[k].1,
            Some(_) => 0.0,
        });
        let y = DVector::from_fn(n + p - 1, |i, _| match i.checked_sub(n) {
            None => logs[i],
            Some(k) => priors[k].0 * sd / priors[k].1,
        });
        let fit = linear(&x, &y)?;
        let misses: Vec<f64> = (&y - &x * &fit.coefficients)
            .rows(0, n)
            .iter()
            .copied()
            .collect();
        let inflation = inflation(&misses);
        let df = (n as f64 / inflation - 1.0).max(1.0);
        let squares: f64 = misses.iter().map(|m| m * m).sum();
        sd = (squares / (n as f64 - 1.0) * inflation)
            .sqrt()
            .max(LEAST_SCATTER);
        solved = Some((fit, df));
    }
    let (fit, df) = solved?;
    Some(PowerLaw {
        covariance: fit.unscaled_covariance * (sd * sd),
        coefficients: fit.coefficients,
        as_driven,
        t: t_factor(df)?,
        windows: n,
    })
}

impl PowerLaw {
    /// Reference conditions.
    fn reference(&self) -> DVector<f64> {
        DVector::from_fn(self.coefficients.len(), |j, _| f64::from(u8::from(j == 0)))
    }

    fn half_width(&self, at: &DVector<f64>) -> f64 {
        self.t * (at.transpose() * &self.covariance * at)[(0, 0)].sqrt()
    }

    /// The effectiveness at `at`, or (not `absolute`) over its own value.
    fn value(&self, at: &DVector<f64>, besides: f64, absolute: bool) -> Estimate {
        let log = if absolute {
            at.dot(&self.coefficients)
        } else {
            0.0
        };
        let half = self.half_width(at).hypot(besides);
        let what = if absolute {
            "at reference speed and engine speed by the exponents; sensors included"
        } else {
            "as driven"
        };
        Estimate::between(
            log.exp(),
            (log - half).exp(),
            (log + half).exp(),
            format!(
                "log-linear over {} windows of about a lap (t, inflated for autocorrelation), {what}",
                self.windows
            ),
        )
    }

    fn exponent(&self, j: usize, prior: (f64, f64)) -> Estimate {
        let sd = self.covariance[(j, j)].sqrt();
        let from_prior = 100.0 * (sd / prior.1).powi(2).min(1.0);
        Estimate::symmetric(
            self.coefficients[j],
            Z.max(self.t * f64::from(u8::from(from_prior < 50.0))) * sd,
            format!(
                "windows of the session and the prior ({:.2} ± {:.2}); {from_prior:.0} % of what is known is the prior",
                prior.0, prior.1
            ),
        )
    }
}

#[cfg(test)]
mod tests;
