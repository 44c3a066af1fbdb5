//! Laps: over a line that is given, from a column, from positions, or told from the speed trace: on a circuit it repeats.
//!
//! The period is the lag at which the trace is most like itself. From the start of a stint, each
//! next border is where the trace around it is most like the trace around the last one, searched
//! near one period on; so the borders follow laps of uneven length. Where the trace does not
//! repeat (a road), there are no laps.

mod crossings;
mod found;
mod held_up;

pub use crossings::Line;
pub use found::{LapSource, Laps, find};
pub use held_up::held_up;

/// Shortest and longest lap looked for, s.
const PERIOD_S: (f64, f64) = (40.0, 400.0);

/// How alike the trace must be to itself one period on, as a correlation.
const ALIKE: f64 = 0.6;

/// How unlike itself the trace must become in between.
const UNLIKE: f64 = 0.3;

/// Half the length of trace that is held against itself at a border, s.
const AROUND_S: f64 = 20.0;

/// By how much a lap may differ from the period, as a fraction.
const UNEVEN: f64 = 0.15;

/// Borders of whole laps within `from..to`, the first at `from`; `None` when the trace does not
/// repeat at least twice there. `speed` in any unit, one value a step, no `NaN` in the range.
pub fn lap_borders(speed: &[f64], (from, to): (usize, usize), step_s: f64) -> Option<Vec<usize>> {
    let steps = |seconds: f64| (seconds / step_s).round() as usize;
    let trace = &speed[from..to];
    let period = period(
        trace,
        steps(PERIOD_S.0),
        steps(PERIOD_S.1).min(trace.len() / 3),
    )?;
    let half = steps(AROUND_S);
    let slack = (period as f64 * UNEVEN) as usize;
    // The first border needs a stretch of trace before it: the walk starts there.
    let mut borders = vec![half.min(period)];
    loop {
        let here = borders[borders.len() - 1];
        let nearest = here + period - slack;
        let farthest = (here + period + slack).min(trace.len().saturating_sub(half + 1));
        let around = |i: usize| &trace[i - half..i + half];
        let best = (nearest..=farthest)
            .map(|i| (correlation(around(here), around(i)), i))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        match best {
            Some((alike, next)) if alike > ALIKE => borders.push(next),
            // A spoiled lap (traffic, a spin) is stepped over by the period.
            Some(_) => borders.push(here + period),
            None => break,
        }
    }
    (borders.len() > 2).then(|| borders.into_iter().map(|b| b + from).collect())
}

/// The shortest lag at which the trace is nearly as much like itself as at the best one.
fn period(trace: &[f64], shortest: usize, longest: usize) -> Option<usize> {
    let at = |lag: usize| correlation(&trace[..trace.len() - lag], &trace[lag..]);
    // Any trace is like itself a moment later: a lap only counts once the likeness was lost.
    let lost = (1..=longest).find(|&lag| at(lag) < UNLIKE)?;
    let alike: Vec<(usize, f64)> = (shortest.max(lost)..=longest)
        .map(|lag| (lag, at(lag)))
        .collect();
    let best = alike.iter().map(|a| a.1).max_by(f64::total_cmp)?;
    if best < ALIKE {
        return None;
    }
    // Two laps are as alike as one: take the first lag that comes close, and climb to its top.
    let first = alike.iter().position(|a| a.1 > 0.9 * best)?;
    let top = alike[first..]
        .windows(2)
        .take_while(|w| w[1].1 >= w[0].1)
        .count();
    Some(alike[first + top].0)
}

/// Pearson's correlation; 0 when one side does not vary.
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().min(b.len()) as f64;
    let [ma, mb] = summed(a, b, |x, y| [x, y]).map(|sum| sum / n);
    let [ab, aa, bb] = summed(a, b, |x, y| {
        let (x, y) = (x - ma, y - mb);
        [x * y, x * x, y * y]
    });
    let spread = (aa * bb).sqrt();
    if spread > 0.0 { ab / spread } else { 0.0 }
}

/// Sums over pairs, in four parts that do not wait for each other: laps are sought at hundreds of lags.
fn summed<const N: usize>(a: &[f64], b: &[f64], of: impl Fn(f64, f64) -> [f64; N]) -> [f64; N] {
    let n = a.len().min(b.len());
    let ((fours_a, rest_a), (fours_b, rest_b)) = (a[..n].as_chunks::<4>(), b[..n].as_chunks::<4>());
    let mut parts = [[0.0; 4]; N];
    for (x, y) in fours_a.iter().zip(fours_b) {
        for part in 0..4 {
            let of = of(x[part], y[part]);
            (parts.iter_mut().zip(of)).for_each(|(sum, value)| sum[part] += value);
        }
    }
    for (x, y) in rest_a.iter().zip(rest_b) {
        (parts.iter_mut().zip(of(*x, *y))).for_each(|(sum, value)| sum[0] += value);
    }
    parts.map(|sum| sum.iter().sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Laps of the given lengths over the same shape of circuit.
    fn circuit(lengths: &[usize]) -> Vec<f64> {
        let shape = |x: f64| {
            let turn = std::f64::consts::TAU * x;
            150.0 + 40.0 * turn.sin() + 25.0 * (3.0 * turn + 1.0).sin() + 10.0 * (5.0 * turn).cos()
        };
        lengths
            .iter()
            .flat_map(|&n| (0..n).map(move |i| shape(i as f64 / n as f64)))
            .collect()
    }

    #[test]
    fn borders_follow_uneven_laps() {
        let lengths = [95, 97, 94, 103, 95, 96, 95];
        let speed = circuit(&lengths);
        let borders = lap_borders(&speed, (0, speed.len()), 1.0).unwrap();
        let found: Vec<usize> = borders.windows(2).map(|w| w[1] - w[0]).collect();
        assert_eq!(found.len(), 6);
        // The border lies 20 s into the lap, so a lap found ends in the next one.
        for (got, want) in found.iter().zip(lengths) {
            assert!(got.abs_diff(want) <= 4, "{found:?}");
        }
    }

    /// By hand: 1, 2, 3, 4, 6 and 2, 1, 4, 3, 7 about their means have products 15.6 and squares 14.8 and 21.2.
    #[test]
    fn a_correlation_by_hand() {
        let (a, b) = ([1.0, 2.0, 3.0, 4.0, 6.0], [2.0, 1.0, 4.0, 3.0, 7.0, 99.0]);
        let by_hand = 15.6 / (14.8_f64 * 21.2).sqrt();
        assert!((correlation(&a, &b) - by_hand).abs() < 1e-12);
        assert_eq!(correlation(&a, &[5.0; 5]), 0.0);
    }

    #[test]
    fn a_road_has_no_laps() {
        let mut state = 1_u64;
        let mut speed = 60.0;
        let road: Vec<f64> = (0..1500)
            .map(|_| {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
                speed += ((state >> 33) as f64 / 2_147_483_648.0 - 0.5) * 6.0;
                speed = f64::clamp(speed, 0.0, 130.0);
                speed
            })
            .collect();
        assert_eq!(lap_borders(&road, (0, 1500), 1.0), None);
        assert_eq!(lap_borders(&[80.0; 900], (0, 900), 1.0), None);
    }
}
