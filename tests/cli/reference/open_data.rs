//! Measured thermal records under an open licence, fitted through the project's own exact step and
//! least squares. The published fits are two programs' (scipy, and a closed form for the
//! regression); the point of the records is their residuals, which no first-order model leaves
//! white.

use super::{columns, near};
use heatbook::stats::{Nonlinear, autocorrelation, linear, ljung_box, nonlinear};
use heatbook::thermal::balance::step_c;
use nalgebra::{DMatrix, DVector};

const HOUR_S: f64 = 3600.0;

/// What a reference fit listed.
struct Listed<'a> {
    parameters: &'a [f64],
    residual_sum_of_squares: f64,
    first_lag: f64,
}

impl Listed<'_> {
    /// No worse a fit, the same parameters, and residuals that follow each other.
    fn holds(&self, fit: &Nonlinear) {
        assert!(fit.converged, "{}", fit.termination);
        let sum = fit.residual_sum_of_squares();
        assert!(sum <= self.residual_sum_of_squares * (1.0 + 1e-6), "{sum}");
        assert_eq!(fit.parameters.len(), self.parameters.len());
        for (found, listed) in fit.parameters.iter().zip(self.parameters) {
            near(*found, *listed, 1e-4);
        }
        let residuals = fit.residuals.as_slice();
        let first_lag = autocorrelation(residuals, 1).unwrap();
        assert!(first_lag > 0.75, "{first_lag}");
        near(first_lag, self.first_lag, 5e-3);
        let test = ljung_box(residuals, 10).unwrap();
        assert!(test.p < 1e-6, "{test:?}");
    }
}

/// `T_i` from a start, by one exact step an interval: each gives air, heat into the node and the
/// conductance, with capacity = conductance · τ.
fn driven(
    start_c: f64,
    tau_s: f64,
    step_s: f64,
    steps: impl Iterator<Item = [f64; 3]>,
) -> Vec<f64> {
    let rest = steps.scan(start_c, |temp_c, [air_c, heat, conductance]| {
        *temp_c = step_c(
            *temp_c,
            air_c,
            heat,
            conductance,
            conductance * tau_s,
            step_s,
        );
        Some(*temp_c)
    });
    std::iter::once(start_c).chain(rest).collect()
}

fn minus(found: Vec<f64>, measured: &[f64]) -> Vec<f64> {
    found
        .into_iter()
        .zip(measured)
        .map(|(a, b)| a - b)
        .collect()
}

/// A building in winter: heating power (relative), indoor and outdoor temperature, 792 h (example
/// data of darkgreybox 0.3.2). One resistance, one capacity, and an offset of the outdoor
/// temperature for what else heats it: time constant in h, K per unit of heating, K, start in °C.
#[test]
fn building_by_simulation_and_by_regression() {
    let [heating, indoor, outdoor] = columns("building_hourly.csv", ["Ph", "Ti", "Ta"]);
    assert_eq!(indoor.len(), 792);
    let residuals = |b: &[f64]| {
        let inputs = outdoor.iter().zip(&heating);
        let steps = inputs.map(|(air, heat)| [air + b[2], *heat, 1.0 / b[1]]);
        let found = driven(b[3], b[0] * HOUR_S, HOUR_S, steps.take(indoor.len() - 1));
        minus(found, &indoor)
    };
    Listed {
        parameters: &[182.665_08, 0.439_999_29, 3.460_295_4, 18.563_205],
        residual_sum_of_squares: 436.151_89,
        first_lag: 0.988,
    }
    .holds(&nonlinear(residuals, &[60.0, 0.1, 5.0, 18.0]));

    // The same model by one-step regression: it believes each reading, and finds 142 h for 183 h.
    let steps = indoor.len() - 1;
    let x = DMatrix::from_fn(steps, 3, |i, j| {
        [indoor[i] - outdoor[i], heating[i], 1.0][j]
    });
    let y = DVector::from_fn(steps, |i, _| indoor[i + 1] - outdoor[i]);
    let fit = linear(&x, &y).unwrap();
    for (found, listed) in fit
        .coefficients
        .iter()
        .zip([0.992_960_17, 0.004_304_19, -0.000_543_17])
    {
        near(*found, listed, 1e-4);
    }
    near(-1.0 / fit.coefficients[0].ln(), 141.548_2, 1e-4);
    near(fit.residual_variance().unwrap().sqrt(), 0.102_173, 1e-4);
}

/// A solar inverter, 480 steps of 15 min: power in and out, temperature (example data of pvanalytics
/// 0.2.2). Heated by its loss (mean of both ends of a step, never below zero) it is one pole: time
/// constant in h, K per kW, temperature around it and at the start in °C.
#[test]
fn inverter_heated_by_its_loss() {
    let names = [
        "inv2_dc_power__1135",
        "inv2_ac_power_w__1047",
        "inv2_temp__1050",
    ];
    let [into_w, out_w, temp_c] = columns("inverter_15min.csv", names);
    assert_eq!(temp_c.len(), 480);
    let rows = into_w.iter().zip(&out_w);
    let loss_kw: Vec<f64> = rows.map(|(a, b)| (a - b).max(0.0) / 1000.0).collect();
    let listed = Listed {
        parameters: &[0.945_294_94, 6.086_764_6, 22.322_06, 18.847_088],
        residual_sum_of_squares: 2_934.074_6,
        first_lag: 0.875,
    };
    listed.holds(&nonlinear(
        |b| one_pole(b, &loss_kw, &temp_c),
        &[1.0, 5.0, 20.0, 20.0],
    ));
}

/// The same driven by all its power: a worse model, and found to be.
#[test]
fn inverter_heated_by_its_power() {
    let [into_w, temp_c] = columns(
        "inverter_15min.csv",
        ["inv2_dc_power__1135", "inv2_temp__1050"],
    );
    let power_kw: Vec<f64> = into_w.iter().map(|w| w / 1000.0).collect();
    let fit = nonlinear(|b| one_pole(b, &power_kw, &temp_c), &[1.0, 0.5, 20.0, 20.0]);
    assert!(fit.converged, "{}", fit.termination);
    near(fit.parameters[0], 1.233_460_7, 1e-4);
    near(fit.parameters[1], 0.605_109_23, 1e-4);
    let sum = fit.residual_sum_of_squares();
    assert!(sum <= 22_505.848 * (1.0 + 1e-6), "{sum}");
}

fn one_pole(b: &[f64], heat_kw: &[f64], temp_c: &[f64]) -> Vec<f64> {
    let steps = heat_kw
        .windows(2)
        .map(|w| [b[2], (w[0] + w[1]) / 2.0, 1.0 / b[1]]);
    minus(driven(b[3], b[0] * HOUR_S, HOUR_S / 4.0, steps), temp_c)
}
