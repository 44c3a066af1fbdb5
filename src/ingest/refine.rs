//! Offset and drift of one speed trace against another, by least squares.
//!
//! `a(t) = alpha + beta b(tau) + e`, `tau = (t - lag) / (1 + stretch)`: the main trace's readings
//! against straight lines between the other's. Gauss-Newton on `alpha`, `beta`, a shift `u` and a
//! stretch `w` of `tau` about its mean,
//!
//! ```text
//! a ~ alpha + beta b(tau) + beta u b'(tau) + beta w (tau - mean) b'(tau)
//! ```
//!
//! The errors follow themselves (two sensors filter differently), so the standard deviation of the
//! stretch is the one robust to errors correlated within blocks of time: Liang and Zeger,
//! Biometrika 73 (1986) 13, with blocks as clusters. From memory.

use nalgebra::{Matrix4, Vector4};

use super::correlate::Trace;

/// Where the other trace lies on the main clock: `t_main = lag_s + (1 + stretch) t_other`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placed {
    pub lag_s: f64,
    pub stretch: f64,
    /// Standard deviation of the stretch.
    pub stretch_sd: f64,
}

const STEPS: usize = 10;
/// Steps after which readings that fit badly (a spin, a dropout) are left out.
const TRIM_AFTER: usize = 3;
const TRIM_SD: f64 = 4.0;
const BLOCKS: usize = 20;
const LEAST_READINGS: usize = 200;
/// No quartz is off by more.
const MOST_STRETCH: f64 = 2e-3;

/// One reading of the main trace and what the other trace has there.
struct Reading {
    a: f64,
    tau: f64,
    row: Vector4<f64>,
}

/// Places `other` on the clock of `main`, from a lag that is right to a second or so.
pub(super) fn refine(main: &Trace, other: &Trace, lag_s: f64) -> Option<Placed> {
    let (mut lag_s, mut stretch, mut widest) = (lag_s, 0.0, f64::INFINITY);
    let mut stretch_sd = f64::INFINITY;
    for step in 0..STEPS {
        let (readings, mean) = readings(main, other, lag_s, stretch)?;
        let all = solve(&readings, widest)?;
        let beta = all.x[1];
        if beta <= 0.0 {
            return None;
        }
        let (u, w) = (all.x[2] / beta, all.x[3] / beta);
        let stretched = (1.0 + stretch) / (1.0 + w) - 1.0;
        lag_s -= (u - w * mean) * (1.0 + stretched);
        stretch = stretched;
        if stretch.abs() > MOST_STRETCH || !lag_s.is_finite() {
            return None;
        }
        if step >= TRIM_AFTER {
            widest = TRIM_SD * all.sd;
        }
        stretch_sd = all.stretch_sd / beta;
    }
    Some(Placed {
        lag_s,
        stretch,
        stretch_sd,
    })
}

/// The readings in the overlap, with the regressors, and the mean of `tau`.
fn readings(main: &Trace, other: &Trace, lag_s: f64, stretch: f64) -> Option<(Vec<Reading>, f64)> {
    let half_s = (other.median_step_s() / 2.0).max(0.25);
    let mut found: Vec<Reading> = main
        .t_s
        .iter()
        .zip(&main.values)
        .filter_map(|(t, a)| {
            let tau = (t - lag_s) / (1.0 + stretch);
            let slope = (other.at(tau + half_s)? - other.at(tau - half_s)?) / (2.0 * half_s);
            let row = Vector4::new(1.0, other.at(tau)?, slope, slope);
            Some(Reading { a: *a, tau, row })
        })
        .collect();
    if found.len() < LEAST_READINGS {
        return None;
    }
    let mean = found.iter().map(|r| r.tau).sum::<f64>() / found.len() as f64;
    for reading in &mut found {
        reading.row[3] *= reading.tau - mean;
    }
    Some((found, mean))
}

/// Coefficients, standard deviation of the errors, and that of the last coefficient.
struct Solved {
    x: Vector4<f64>,
    sd: f64,
    stretch_sd: f64,
}

/// Solves for the coefficients; readings whose error is beyond `widest` are left out of them.
fn solve(readings: &[Reading], widest: f64) -> Option<Solved> {
    let normal = |used: &[bool]| {
        let mut matrix = Matrix4::zeros();
        let mut right = Vector4::zeros();
        for (reading, _) in readings.iter().zip(used).filter(|(_, used)| **used) {
            matrix += reading.row * reading.row.transpose();
            right += reading.row * reading.a;
        }
        let inverse = matrix.try_inverse()?;
        Some((inverse, inverse * right))
    };
    let mut used = vec![true; readings.len()];
    let (mut inverse, mut x) = normal(&used)?;
    let error = |x: &Vector4<f64>, r: &Reading| r.a - r.row.dot(x);
    if widest.is_finite() {
        used = readings
            .iter()
            .map(|r| error(&x, r).abs() <= widest)
            .collect();
        (inverse, x) = normal(&used)?;
    }
    let (mut squares, mut count) = (0.0, 0.0);
    let mut blocks = vec![Vector4::zeros(); BLOCKS];
    for (i, (reading, _)) in readings
        .iter()
        .zip(&used)
        .enumerate()
        .filter(|(_, (_, u))| **u)
    {
        let e = error(&x, reading);
        squares += e * e;
        count += 1.0;
        blocks[i * BLOCKS / readings.len()] += reading.row * e;
    }
    let scores = blocks
        .iter()
        .fold(Matrix4::zeros(), |sum, s| sum + s * s.transpose());
    let factor = BLOCKS as f64 / (BLOCKS - 1) as f64;
    let covariance = inverse * scores * inverse * factor;
    Some(Solved {
        x,
        sd: (squares / f64::max(count - 4.0, 1.0)).sqrt(),
        stretch_sd: covariance[(3, 3)].max(0.0).sqrt(),
    })
}
