//! Where two speed traces fit best: offset, drift, correlation.
//!
//! `t_main = lag_s + (1 + stretch) t_other`, both from the first row of their file. The other
//! clock's drift is `-stretch`: a clock that runs fast shows more seconds than went by.

use super::refine::refine;
use crate::stats::median;

/// A trace: seconds from its first row (rising) and values, without missing ones.
#[derive(Debug, Clone, Default)]
pub(super) struct Trace {
    pub t_s: Vec<f64>,
    pub values: Vec<f64>,
}

/// How two traces fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fit {
    /// When the other's first row was, s from the main's first row.
    pub lag_s: f64,
    /// Change of that lag, s per second of the other's clock. `None`: too short to tell.
    pub stretch: Option<f64>,
    pub correlation: f64,
}

/// Straight lines are drawn between readings no further apart than this, s.
const LONGEST_BRIDGE_S: f64 = 3.0;
const FINE_STEP_S: f64 = 0.1;
const SHORTEST_OVERLAP_S: f64 = 60.0;
/// Nobody drives for so long; grids beyond it would fill the memory, s.
const LONGEST_TRACE_S: f64 = 200_000.0;
const DRIFT_FROM_S: f64 = 600.0;
/// A drift known no better than this is not stated.
const MOST_DRIFT_SD: f64 = 50e-6;

impl Trace {
    /// The readings of a channel, without missing ones.
    pub fn new(t_s: &[f64], values: &[f64]) -> Self {
        let (t_s, values) = t_s.iter().zip(values).filter(|(_, v)| !v.is_nan()).unzip();
        Self { t_s, values }
    }

    /// The value at an instant, on the straight line between its neighbours.
    pub fn at(&self, t_s: f64) -> Option<f64> {
        let next = self.t_s.partition_point(|t| *t <= t_s);
        let (here, there) = (next.checked_sub(1)?, next);
        let step = self.t_s.get(there)? - self.t_s[here];
        let share = (t_s - self.t_s[here]) / step;
        let rise = self.values[there] - self.values[here];
        (step > 0.0 && step <= LONGEST_BRIDGE_S).then_some(self.values[here] + share * rise)
    }

    /// The median step from reading to reading, s.
    pub fn median_step_s(&self) -> f64 {
        let steps = self.t_s.windows(2).map(|pair| pair[1] - pair[0]);
        median(steps.collect()).unwrap_or(0.0)
    }

    fn end_s(&self) -> f64 {
        self.t_s.last().copied().unwrap_or(0.0)
    }

    /// The trace in equal steps from `from_s` on, time first mapped by `place`.
    fn grid(&self, from_s: f64, step_s: f64, len: usize, place: impl Fn(f64) -> f64) -> Vec<f64> {
        let mut grid = vec![f64::NAN; len];
        let mut at = 0;
        for (i, value) in grid.iter_mut().enumerate() {
            let t = from_s + i as f64 * step_s;
            while at + 1 < self.t_s.len() && place(self.t_s[at + 1]) <= t {
                at += 1;
            }
            let Some(&here) = self.t_s.get(at) else { break };
            let here = place(here);
            let Some(next) = self.t_s.get(at + 1).map(|n| place(*n)) else {
                if (t - here).abs() < step_s {
                    *value = self.values[at];
                }
                continue;
            };
            if here <= t && next > here && next - here <= LONGEST_BRIDGE_S {
                let share = (t - here) / (next - here);
                *value = self.values[at] + share * (self.values[at + 1] - self.values[at]);
            }
        }
        grid
    }
}

/// Pearson's correlation of `main[i]` with `other[i - lag]` over the rows that have both.
fn correlation(main: &[f64], other: &[f64], lag: isize) -> (f64, usize) {
    let from = lag.max(0) as usize;
    let skip = (-lag).max(0) as usize;
    let (mut n, mut sa, mut sb, mut saa, mut sbb, mut sab) = (0usize, 0.0, 0.0, 0.0, 0.0, 0.0);
    for (a, b) in main.iter().skip(from).zip(other.iter().skip(skip)) {
        if a.is_nan() || b.is_nan() {
            continue;
        }
        n += 1;
        sa += a;
        sb += b;
        saa += a * a;
        sbb += b * b;
        sab += a * b;
    }
    if n < 10 {
        return (0.0, n);
    }
    let count = n as f64;
    let (va, vb) = (saa - sa * sa / count, sbb - sb * sb / count);
    if va <= 1e-9 * saa.max(1.0) || vb <= 1e-9 * sbb.max(1.0) {
        return (0.0, n);
    }
    ((sab - sa * sb / count) / (va * vb).sqrt(), n)
}

/// Fits `other` to `main`; `near_s` is the lag that the clocks say, if they do.
pub(super) fn fit(main: &Trace, other: &Trace, near_s: Option<f64>) -> Option<Fit> {
    let too_long = main.end_s().max(other.end_s()) > LONGEST_TRACE_S;
    if main.t_s.len() < 10 || other.t_s.len() < 10 || too_long {
        return None;
    }
    let coarse = coarse_lag(main, other)?;
    let anywhere = fine_lag(main, other, coarse, 2.0)?;
    // Laps look alike: where the clocks' own lag fits as well, they are right.
    let near = near_s.and_then(|lag| fine_lag(main, other, lag, 2.5));
    let (lag_s, correlation) = match near {
        Some(near) if near.1 >= anywhere.1 - 0.02 => near,
        _ => anywhere,
    };
    let fit = Fit {
        lag_s,
        stretch: None,
        correlation,
    };
    Some(with_drift(main, other, fit).unwrap_or(fit))
}

/// The lag in whole seconds that fits best, over all lags with enough overlap.
fn coarse_lag(main: &Trace, other: &Trace) -> Option<f64> {
    let longest = main.end_s().max(other.end_s());
    let step_s = (longest / 12_000.0).ceil().max(1.0);
    let cells = |trace: &Trace| (trace.end_s() / step_s) as usize + 1;
    let a = main.grid(0.0, step_s, cells(main), |t| t);
    let b = other.grid(0.0, step_s, cells(other), |t| t);
    let shortest =
        ((0.3 * a.len().min(b.len()) as f64) as usize).max((SHORTEST_OVERLAP_S / step_s) as usize);
    let (first, last) = (
        shortest as isize - b.len() as isize,
        a.len() as isize - shortest as isize,
    );
    (first..=last)
        .filter_map(|lag| {
            let (r, n) = correlation(&a, &b, lag);
            // Fisher's z over its standard error: a long fit weighs more than a lucky short one.
            (n >= shortest).then(|| (r.clamp(-0.9999, 0.9999).atanh() * (n as f64).sqrt(), lag))
        })
        .max_by(|x, y| x.0.total_cmp(&y.0))
        .map(|(_, lag)| lag as f64 * step_s)
}

/// The lag within `reach_s` of `about_s` that fits best, below the step by a parabola, and its
/// correlation.
fn fine_lag(main: &Trace, other: &Trace, about_s: f64, reach_s: f64) -> Option<(f64, f64)> {
    let reach = (reach_s / FINE_STEP_S).ceil() as isize;
    let from_s = (about_s - reach_s).max(0.0);
    let to_s = (about_s + other.end_s() + reach_s).min(main.end_s());
    if to_s - from_s < SHORTEST_OVERLAP_S.min(main.end_s()) * 0.5 {
        return None;
    }
    let len = ((to_s - from_s) / FINE_STEP_S) as usize + 1;
    let a = main.grid(from_s, FINE_STEP_S, len, |t| t);
    // Room on both sides, so that every lag compares the same rows of the main trace.
    let b_from = from_s - reach as f64 * FINE_STEP_S;
    let b = other.grid(b_from, FINE_STEP_S, len + 2 * reach as usize, |t| {
        t + about_s
    });
    let curve: Vec<f64> = (0..=2 * reach)
        .map(|shift| correlation(&a, &b[shift as usize..], 0).0)
        .collect();
    let best = (0..curve.len()).max_by(|x, y| curve[*x].total_cmp(&curve[*y]))?;
    let mut below = 0.0;
    if best > 0 && best + 1 < curve.len() {
        let (l, m, r) = (curve[best - 1], curve[best], curve[best + 1]);
        let bend = l - 2.0 * m + r;
        if bend < 0.0 {
            below = (0.5 * (l - r) / bend).clamp(-0.5, 0.5);
        }
    }
    // Reading `b` further on means that it came earlier on the main clock.
    let shift = reach as f64 - (best as f64 + below);
    Some((about_s + shift * FINE_STEP_S, curve[best]))
}

/// Offset and drift by least squares, where the overlap is long enough for a drift.
fn with_drift(main: &Trace, other: &Trace, fit: Fit) -> Option<Fit> {
    let overlap = |lag_s: f64| (lag_s.max(0.0), (lag_s + other.end_s()).min(main.end_s()));
    let (from, to) = overlap(fit.lag_s);
    if to - from < DRIFT_FROM_S {
        return None;
    }
    let placed = refine(main, other, fit.lag_s)?;
    if placed.stretch_sd > MOST_DRIFT_SD {
        return None;
    }
    let len = ((to - from) / FINE_STEP_S) as usize + 1;
    let a = main.grid(from, FINE_STEP_S, len, |t| t);
    let place = |t| placed.lag_s + (1.0 + placed.stretch) * t;
    let b = other.grid(from, FINE_STEP_S, len, place);
    let correlation = correlation(&a, &b, 0).0;
    // A drift that does not improve the fit is no drift.
    (correlation >= fit.correlation - 1e-4).then_some(Fit {
        lag_s: placed.lag_s,
        stretch: Some(placed.stretch),
        correlation,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A drive with laps that are not quite alike.
    fn speed(t: f64) -> f64 {
        let lap = (t / 97.0 * std::f64::consts::TAU).sin();
        110.0
            + 50.0 * lap
            + 20.0 * (t / 13.0).sin()
            + 12.0 * (t / 41.3 + lap).cos()
            + 5.0 * (t / 333.0).sin()
    }

    fn trace(from: f64, to: f64, step: f64, noise: f64, clock: impl Fn(f64) -> f64) -> Trace {
        let n = ((to - from) / step) as usize;
        let (t_s, values) = (0..n)
            .map(|i| {
                let t = from + i as f64 * step;
                // A cheap noise that is the same on every machine.
                let wobble = ((i as f64 * 12.9898).sin() * 43_758.547).fract();
                (clock(t) - clock(from), (speed(t) + noise * wobble).round())
            })
            .unzip();
        Trace { t_s, values }
    }

    #[test]
    fn offset_and_drift_are_recovered() {
        let main = trace(0.0, 1800.0, 0.1, 0.5, |t| t);
        for (from, ppm) in [(123.456, 0.0), (-200.25, 150.0), (300.0, -80.0)] {
            let other = trace(from, 1900.0, 0.2, 1.0, |t| t * (1.0 + ppm * 1e-6));
            let fit = fit(&main, &other, None).unwrap();
            assert!((fit.lag_s - from).abs() < 0.05, "{from} {ppm}: {fit:?}");
            let drift = -fit.stretch.unwrap() * 1e6;
            assert!((drift - ppm).abs() < 8.0, "{from} {ppm}: {drift}");
            assert!(fit.correlation > 0.99, "{fit:?}");
        }
    }

    #[test]
    fn a_small_drift_is_seen_in_coarse_traces() {
        // Half a second a row, whole km/h, half an hour: 30 ppm are 54 ms, a ninth of a row.
        let main = trace(0.0, 1800.0, 0.5, 0.5, |t| t);
        let other = trace(12.3, 1900.0, 0.5, 1.0, |t| t * (1.0 + 30e-6));
        let fit = fit(&main, &other, None).unwrap();
        let drift = -fit.stretch.unwrap() * 1e6;
        assert!((drift - 30.0).abs() < 15.0, "{drift}");
    }

    #[test]
    fn clocks_decide_between_laps_that_are_alike() {
        let lap = |t: f64| 100.0 + 50.0 * (t / 90.0 * std::f64::consts::TAU).sin();
        let make = |from: f64| {
            let (t_s, values) = (0..6000)
                .map(|i| (f64::from(i) * 0.1, lap(from + f64::from(i) * 0.1)))
                .unzip();
            Trace { t_s, values }
        };
        let fit = fit(&make(0.0), &make(180.0), Some(180.4)).unwrap();
        assert!((fit.lag_s - 180.0).abs() < 0.05, "{fit:?}");
    }

    #[test]
    fn unrelated_traces_do_not_correlate() {
        let main = trace(0.0, 900.0, 0.1, 0.5, |t| t);
        let other = trace(50_000.0, 50_300.0, 0.1, 60.0, |t| t);
        assert!(fit(&main, &other, None).is_none_or(|f| f.correlation < 0.95));
        let flat = Trace {
            t_s: (0..900).map(f64::from).collect(),
            values: vec![50.0; 900],
        };
        assert!(fit(&main, &flat, None).is_none_or(|f| f.correlation < 0.5));
    }
}
