//! `stats::pool` on the trials of a vaccine.

use super::near;
use heatbook::stats::{Between, Estimate, Pooled, pool};

/// Colditz et al. 1994, Journal of the American Medical Association 271, 698: thirteen trials of
/// the BCG vaccine, as in Viechtbauer 2010, Journal of Statistical Software 36(3), table 1:
/// tuberculosis yes and no with vaccine, yes and no without.
const BCG: [[f64; 4]; 13] = [
    [4.0, 119.0, 11.0, 128.0],
    [6.0, 300.0, 29.0, 274.0],
    [3.0, 228.0, 11.0, 209.0],
    [62.0, 13536.0, 248.0, 12619.0],
    [33.0, 5036.0, 47.0, 5761.0],
    [180.0, 1361.0, 372.0, 1079.0],
    [8.0, 2537.0, 10.0, 619.0],
    [505.0, 87886.0, 499.0, 87892.0],
    [29.0, 7470.0, 45.0, 7232.0],
    [17.0, 1699.0, 65.0, 1600.0],
    [186.0, 50448.0, 141.0, 27197.0],
    [5.0, 2493.0, 3.0, 2338.0],
    [27.0, 16886.0, 29.0, 17825.0],
];

/// Log risk ratios with their large-sample variances.
fn trials(between: Between) -> Pooled {
    let (effects, variances): (Vec<f64>, Vec<f64>) = BCG
        .iter()
        .map(|[a, b, c, d]| {
            let (n, m) = (a + b, c + d);
            let variance = 1.0 / a - 1.0 / n + 1.0 / c - 1.0 / m;
            ((a / n / (c / m)).ln(), variance)
        })
        .unzip();
    pool(&effects, &variances, between).unwrap()
}

fn ends(estimate: &Estimate, low: f64, high: f64, tolerance: f64) {
    let interval = estimate.known().unwrap();
    near(interval.low, low, tolerance);
    near(interval.high, high, tolerance);
}

/// R's metafor 3.8.1 and statsmodels `combine_effects`.
#[test]
fn dersimonian_laird_on_the_bcg_trials() {
    let pooled = trials(Between::DerSimonianLaird);
    near(pooled.estimate, -0.714117222073, 1e-9);
    near(pooled.standard_error, 0.178742089535, 1e-9);
    ends(&pooled.normal(), -1.06444528, -0.36378916, 1e-7);
    near(pooled.tau2, 0.308760262862, 1e-9);
    near(pooled.q, 152.233008082, 1e-9);
    near(100.0 * pooled.i_squared(), 92.1173468546, 1e-9);
    assert!(pooled.q_p(f64::INFINITY).unwrap() < 1e-20);
}

/// metafor with `test = "knha"`; statsmodels with t; t with 12 df. The prediction interval is
/// metafor's alone.
#[test]
fn hartung_knapp_on_the_bcg_trials() {
    let pooled = trials(Between::DerSimonianLaird);
    let mean = pooled.hartung_knapp();
    ends(&mean, -1.10782135417, -0.32041308998, 1e-9);
    ends(&pooled.prediction(), -1.98720696, 0.55897252, 1e-7);
}

/// metafor, which stops when τ² moves by less than 1e-5; the slope of the restricted likelihood is
/// zero here to the last digits, so ours lies nearer to the maximum.
#[test]
fn reml_on_the_bcg_trials() {
    let pooled = trials(Between::Reml);
    near(pooled.estimate, -0.714532348, 1e-6);
    near(pooled.standard_error, 0.179781532, 1e-6);
    near(pooled.tau2, 0.313243326, 1e-6);
}
