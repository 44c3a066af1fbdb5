//! The first model that comes to mind, as a floor to beat: every second a sample, lags ignored.
//!
//! `dT/dt = a P_fuel + b n - g_s (v rho)^0.45 (T - T_air)`, a and b shared by all sessions, one
//! g a session; least squares, then Welch on the sessions' settled coolant.

use heatbook::stats::mean;
use nalgebra::{DMatrix, DVector};

use super::estimators::{Answer, welch};
use super::prepare::Hot;

const EXPONENT: f64 = 0.45;
/// Slope of the reading over this long either way, s.
const REACH_S: usize = 5;

/// The first model's answer.
pub fn first_model(sessions: &[Hot]) -> Option<Answer> {
    let coefficients = fit(sessions)?;
    let (fuel, rpm) = (coefficients[0], coefficients[1]);
    let all = |figure: fn(&Hot) -> f64| mean(&sessions.iter().map(figure).collect::<Vec<_>>());
    let heat = fuel * all(|hot| mean(&hot.fuel_w)) / 1e5 + rpm * all(|hot| mean(&hot.rpm)) / 1e3;
    let flow = all(|hot| mean(&hot.flow(EXPONENT)));
    let settled: Vec<f64> = (0..sessions.len())
        .map(|s| heat / (coefficients[2 + s] * flow) * 100.0)
        .collect();
    settled
        .iter()
        .all(|t| t.is_finite())
        .then(|| welch(sessions, &settled))?
}

/// a (per 100 kW), b (per 1000/min), then g of each session (per 100 s).
fn fit(sessions: &[Hot]) -> Option<DVector<f64>> {
    let size = 2 + sessions.len();
    let mut normal = DMatrix::<f64>::zeros(size, size);
    let mut right = DVector::<f64>::zeros(size);
    for (s, hot) in sessions.iter().enumerate() {
        let slopes = hot.coolant_c.windows(2 * REACH_S + 1);
        let samples = hot
            .fuel_w
            .iter()
            .zip(&hot.rpm)
            .zip(hot.flow_excess(EXPONENT));
        for (window, ((fuel_w, rpm), loss)) in slopes.zip(samples.skip(REACH_S)) {
            let slope = (window[2 * REACH_S] - window[0]) / (2 * REACH_S) as f64;
            let row = [(0, fuel_w / 1e5), (1, rpm / 1e3), (2 + s, -loss / 100.0)];
            for (j, x) in row {
                right[j] += x * slope;
                for (k, y) in row {
                    normal[(j, k)] += x * y;
                }
            }
        }
    }
    normal.lu().solve(&right)
}
