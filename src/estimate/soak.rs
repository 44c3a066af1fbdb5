//! Heat-soak constants: what temperatures do when the car stands, and after.
//!
//! Intake standing: `T = T0 + A (1 - exp(-t/τ))`; on the move again and coolant after its peak:
//! `T = T_end + A exp(-t/τ)`. Least squares; standard errors inflated by the residuals'
//! first-order autocorrelation, and the residual variance never below that of the reading's steps
//! (step²/12). Rise and time to peak of the coolant are read off the record: their intervals are
//! the step of the reading and the width of its top.

use super::answer::Soak;
use crate::regime::Regime;
use crate::session::{Grid, Role};
use crate::stats::{Estimate, autocorrelation, nonlinear, t_factor, variance_inflation};

/// Shortest phase worth a fit, s.
const SHORTEST_S: f64 = 60.0;

/// Longest part of a phase that is fitted, s: later, other things act.
const LONGEST_S: f64 = 420.0;

const NOT_OBSERVED: &str = "not observed: the log lacks that phase";

/// Heat-soak constants from the session's grid and regimes.
pub fn soak_constants(grid: &Grid, regime: &[Regime]) -> Soak {
    let standing = |r: Regime| matches!(r, Regime::Standing | Regime::Soak);
    let moving = |r: Regime| !matches!(r, Regime::Standing | Regime::Soak | Regime::NoData);
    let (intake_rise_still_k, intake_tau_still_s) = intake(grid, regime, standing, |_| true);
    let after_standing = |from: usize| {
        let before = &regime[from.saturating_sub(SHORTEST_S as usize)..from];
        before.len() as f64 >= SHORTEST_S && before.iter().all(|r| standing(*r))
    };
    let (_, intake_tau_moving_s) = intake(grid, regime, moving, after_standing);
    let (coolant_rise_after_stop_k, coolant_time_to_peak_s, coolant_decay_tau_s) =
        coolant(grid, regime);
    Soak {
        intake_rise_still_k,
        intake_tau_still_s,
        intake_tau_moving_s,
        coolant_rise_after_stop_k,
        coolant_time_to_peak_s,
        coolant_decay_tau_s,
    }
}

fn intake(
    grid: &Grid,
    regime: &[Regime],
    wanted: impl Fn(Regime) -> bool,
    start_ok: impl Fn(usize) -> bool,
) -> (Estimate, Estimate) {
    let Some(values) = grid.bridged(Role::Intake, 10.0) else {
        let none = Estimate::unknown("there is no intake channel");
        return (none.clone(), none);
    };
    match longest_phase(regime, wanted, start_ok) {
        None => (
            Estimate::unknown(NOT_OBSERVED),
            Estimate::unknown(NOT_OBSERVED),
        ),
        Some((from, to)) => {
            let to = to.min(from + (LONGEST_S / grid.step_s) as usize);
            fit_exponential(&values[from..to], grid.step_s)
        }
    }
}

/// The longest run of wanted regimes of at least [`SHORTEST_S`].
fn longest_phase(
    regime: &[Regime],
    wanted: impl Fn(Regime) -> bool,
    start_ok: impl Fn(usize) -> bool,
) -> Option<(usize, usize)> {
    let mut best: Option<(usize, usize)> = None;
    let mut from = 0;
    for i in 0..=regime.len() {
        if i < regime.len() && wanted(regime[i]) {
            continue;
        }
        let longer = best.is_none_or(|(a, b)| i - from > b - a);
        if (i - from) as f64 >= SHORTEST_S && longer && start_ok(from) {
            best = Some((from, i));
        }
        from = i + 1;
    }
    best
}

/// `(end minus start, time constant)` of an exponential approach.
fn fit_exponential(values: &[f64], step_s: f64) -> (Estimate, Estimate) {
    let declined = |why: String| (Estimate::unknown(why.clone()), Estimate::unknown(why));
    let points: Vec<(f64, f64)> = values
        .iter()
        .enumerate()
        .filter(|(_, v)| !v.is_nan())
        .map(|(i, v)| (i as f64 * step_s, *v))
        .collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return declined(NOT_OBSERVED.to_owned());
    };
    let length_s = last.0 - first.0;
    let step_c = smallest_step(values);
    if (last.1 - first.1).abs() < 3.0 * step_c {
        return declined("the temperature moved less than three steps of its reading".to_owned());
    }
    let residuals = |p: &[f64]| -> Vec<f64> {
        let tau = p[2].exp();
        points
            .iter()
            .map(|(t, v)| p[0] + p[1] * (-(t - first.0) / tau).exp() - v)
            .collect()
    };
    let start = [last.1, first.1 - last.1, (length_s / 3.0).ln()];
    let fit = nonlinear(residuals, &start);
    let tau_s = fit.parameters[2].exp();
    if !fit.converged || tau_s > 2.0 * length_s || tau_s < 2.0 * step_s {
        return declined(format!(
            "the phase of {length_s:.0} s does not determine a time constant"
        ));
    }
    let (Some(covariance), Some(variance)) = (&fit.unscaled_covariance, fit.residual_variance())
    else {
        return declined("the fit leaves a constant undetermined".to_owned());
    };
    let r1 = autocorrelation(fit.residuals.as_slice(), 1).unwrap_or(0.0);
    // Residuals of a slow exponential are nearly a walk: what is left of n observations.
    let inflation = variance_inflation(r1);
    let variance = variance.max(step_c * step_c / 12.0) * inflation;
    let df = (points.len() as f64 / inflation - 3.0).max(1.0);
    let Some(t) = t_factor(df) else {
        return declined("too few readings".to_owned());
    };
    let method = "exponential by least squares, errors inflated for autocorrelation";
    let half = |i: usize| t * (variance * covariance[(i, i)]).sqrt();
    (
        Estimate::symmetric(-fit.parameters[1], half(1), method),
        Estimate::between(
            tau_s,
            tau_s * (-half(2)).exp(),
            tau_s * half(2).exp(),
            method,
        ),
    )
}

fn coolant(grid: &Grid, regime: &[Regime]) -> (Estimate, Estimate, Estimate) {
    let declined = |why: &str| {
        let none = Estimate::unknown(why);
        (none.clone(), none.clone(), none)
    };
    if grid.get(Role::Rpm).is_none() {
        return declined("not told: without engine speed the log does not say when it stops");
    }
    let Some(values) = grid.bridged(Role::Coolant, 10.0) else {
        return declined(NOT_OBSERVED);
    };
    let Some((from, to)) = longest_phase(regime, |r| r == Regime::Soak, |from| from > 0) else {
        return declined(NOT_OBSERVED);
    };
    let phase = &values[from..to];
    let step_c = smallest_step(&values);
    let at_stop = values[from - 1];
    let Some(peak) = phase
        .iter()
        .copied()
        .filter(|v| !v.is_nan())
        .max_by(f64::total_cmp)
    else {
        return declined(NOT_OBSERVED);
    };
    let top: Vec<usize> = (0..phase.len())
        .filter(|&i| phase[i] >= peak - step_c / 2.0)
        .collect();
    let (first, last) = (top[0], top[top.len() - 1]);
    let seconds = |i: usize| i as f64 * grid.step_s;
    let read_off = "read off the record; interval: step of the reading";
    let rise = Estimate::symmetric(peak - at_stop, step_c, read_off);
    let time_to_peak = if last + 1 == phase.len() {
        Estimate::unknown("still at its peak when the log ended")
    } else {
        Estimate::between(
            f64::midpoint(seconds(first), seconds(last)),
            seconds(first),
            seconds(last + 1),
            "read off the record; interval: time at the top reading",
        )
    };
    let decay = &phase[last..];
    let tau = if seconds(decay.len()) < 2.0 * SHORTEST_S {
        Estimate::unknown("the log ends before the coolant has cooled")
    } else {
        fit_exponential(decay, grid.step_s).1
    };
    (rise, time_to_peak, tau)
}

/// The smallest step between different readings; 0 when the reading never changes.
fn smallest_step(values: &[f64]) -> f64 {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| !v.is_nan()).collect();
    sorted.sort_by(f64::total_cmp);
    let steps = sorted.windows(2).map(|w| w[1] - w[0]).filter(|d| *d > 1e-3);
    steps.min_by(f64::total_cmp).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exponential_in_whole_degrees_gives_its_constant_back() {
        let values: Vec<f64> = (0..300)
            .map(|i| (60.0 - 25.0 * (-f64::from(i) / 80.0).exp()).round())
            .collect();
        let (rise, tau) = fit_exponential(&values, 1.0);
        assert!(tau.known().unwrap().contains(80.0), "{tau:?}");
        assert!(rise.known().unwrap().contains(25.0), "{rise:?}");
    }

    #[test]
    fn a_flat_or_straight_phase_is_declined_with_a_reason() {
        assert!(fit_exponential(&[40.0; 200], 1.0).1.why().is_some());
        let straight: Vec<f64> = (0..100).map(|i| 40.0 + 0.1 * f64::from(i)).collect();
        assert!(fit_exponential(&straight, 1.0).1.why().is_some());
    }
}
