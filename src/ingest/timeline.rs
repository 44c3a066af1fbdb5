//! From raw instants to time that never falls: midnight, steps back, jumps, duplicates, gaps.

use super::reordered::{in_order, without_repeats};
use super::repairs::{Gap, Repairs, warnings};
use super::straighten::straighten;
use super::ticks::{drop_duplicates, spread, spread_where_it_stood};
use crate::stats::median;
use crate::warning::Warning;

/// The rows kept, and when they were.
#[derive(Debug, Clone)]
pub(super) struct Timeline {
    /// Indices of the rows kept.
    pub rows: Vec<usize>,
    /// Seconds from the first row kept, never falling.
    pub t_s: Vec<f64>,
    /// What the clock showed, or should have shown, at the first row kept.
    pub start_raw_s: f64,
    pub median_step_s: f64,
    /// Rows whose clock shows less than the row before.
    pub back_steps: usize,
    /// Rows left out because the file has them before.
    pub copies: usize,
    pub gaps: Vec<Gap>,
    pub warnings: Vec<Warning>,
}

/// A gap is a step beyond this, and beyond `GAP_STEPS` median steps.
pub(super) const GAP_S: f64 = 5.0;
pub(super) const GAP_STEPS: f64 = 20.0;

/// Orders rows by their clock. `is_wall` says whether it is local time, `same(a, b)` whether two
/// rows are equal in every cell.
pub(super) fn order(
    seconds: &[Option<f64>],
    wraps_s: Option<f64>,
    is_wall: bool,
    same: impl Fn(usize, usize) -> bool,
) -> Timeline {
    let timed = timed_rows(seconds);
    let timed = match wraps_s {
        Some(period) => unwrap_period(&timed, period),
        None => timed,
    };
    let mut repairs = Repairs::default();
    let timed = in_order(timed, &mut repairs);
    let timed = without_repeats(timed, &same, &mut repairs);
    let (mut rows, mut t_s, start_raw_s) = straighten(&timed, is_wall, &mut repairs);
    let zero_steps = t_s.windows(2).filter(|pair| pair[1] <= pair[0]).count();
    // Rows of one tick that are not copies, nor put there because they came a step too late.
    let apart = |at: &usize| t_s[*at] <= t_s[at - 1] && !same(rows[*at], rows[at - 1]);
    let told_apart = match zero_steps {
        0 => 0,
        _ => (1..rows.len()).filter(apart).count(),
    };
    let coarse = 2 * zero_steps > t_s.len()
        || 5 * told_apart.saturating_sub(repairs.jitter) >= 2 * t_s.len();
    if coarse {
        spread(&mut t_s);
    } else if zero_steps > 0 {
        drop_duplicates(&mut rows, &mut t_s, same, &mut repairs);
        repairs.stood = spread_where_it_stood(&mut t_s);
    }
    let first = t_s.first().copied().unwrap_or(0.0);
    t_s.iter_mut().for_each(|t| *t = microseconds(*t - first));
    let median_step_s = median_step(t_s.iter().copied());
    let gaps: Vec<Gap> = t_s
        .windows(2)
        .filter(|pair| pair[1] - pair[0] > GAP_S.max(GAP_STEPS * median_step_s))
        .map(|pair| Gap {
            at_s: pair[0],
            length_s: microseconds(pair[1] - pair[0]),
        })
        .collect();
    let untimed = seconds.iter().filter(|s| s.is_none()).count();
    let warnings = warnings(&repairs, untimed, coarse, &gaps);
    Timeline {
        rows,
        t_s,
        start_raw_s,
        median_step_s,
        back_steps: repairs.back_steps,
        copies: repairs.duplicates + repairs.repeated,
        gaps,
        warnings,
    }
}

/// The rows that have a time, each with it, s.
pub(super) fn timed_rows(seconds: &[Option<f64>]) -> Vec<(usize, f64)> {
    let rows = seconds.iter().enumerate();
    rows.filter_map(|(row, s)| Some((row, (*s)?))).collect()
}

/// The clock before and after each step from one row with a time to the next.
pub(super) fn steps(seconds: &[Option<f64>]) -> impl Iterator<Item = (f64, f64)> + '_ {
    let timed = || seconds.iter().flatten().copied();
    timed().zip(timed().skip(1))
}

/// Adds a period each time the clock starts again, unless a single row is astray.
pub(super) fn unwrap_period(timed: &[(usize, f64)], period: f64) -> Vec<(usize, f64)> {
    let mut turns = 0.0;
    let mut last = f64::NEG_INFINITY;
    let mut unwrapped = Vec::with_capacity(timed.len());
    for (at, &(row, raw)) in timed.iter().enumerate() {
        if raw < last - period / 2.0 {
            let next = timed.get(at + 1).map_or(raw, |&(_, next)| next);
            if (next - raw).abs() < period / 2.0 {
                turns += 1.0;
                last = raw;
            }
        } else {
            last = raw;
        }
        unwrapped.push((row, raw + turns * period));
    }
    unwrapped
}

/// Whether a local clock was put on or back by one hour, at a full hour.
pub(super) fn is_summer_time(before_s: f64, step_s: f64) -> bool {
    const WITHIN_S: f64 = 5.0;
    let past_hour = before_s.rem_euclid(3600.0);
    let at_hour = past_hour.min(3600.0 - past_hour) <= WITHIN_S;
    at_hour && (step_s.abs() - 3600.0).abs() <= WITHIN_S
}

/// Rounded to a microsecond: what lies below is left over from large numbers of seconds.
fn microseconds(t_s: f64) -> f64 {
    (t_s * 1e6).round() / 1e6
}

/// The median of the steps that go forward; zero where none does.
pub(super) fn median_step(t_s: impl Iterator<Item = f64>) -> f64 {
    let mut last = None;
    let steps = t_s.filter_map(|t| last.replace(t).map(|before| t - before));
    median(steps.filter(|step| *step > 0.0).collect()).unwrap_or(0.0)
}

#[cfg(test)]
pub(super) fn ordered(seconds: &[f64], wraps_s: Option<f64>) -> Timeline {
    let seconds: Vec<Option<f64>> = seconds.iter().map(|s| Some(*s)).collect();
    order(&seconds, wraps_s, false, |_, _| false)
}

#[cfg(test)]
pub(super) fn ids(timeline: &Timeline) -> Vec<&str> {
    timeline.warnings.iter().map(|w| w.id.as_str()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_of_day_passes_midnight() {
        let line = ordered(&[86_398.0, 86_399.0, 0.0, 1.0], Some(86_400.0));
        assert_eq!(line.t_s, [0.0, 1.0, 2.0, 3.0]);
        assert_eq!((line.back_steps, line.start_raw_s), (0, 86_398.0));
    }

    #[test]
    fn a_stumble_back_loses_the_rows_until_it_is_caught_up() {
        let mut seconds: Vec<f64> = (0..20).map(f64::from).collect();
        for s in &mut seconds[10..] {
            *s -= 3.0;
        }
        let line = ordered(&seconds, None);
        assert_eq!(line.back_steps, 1);
        // 0..9, then 7, 8 are left out and 9 is kept beside 9.
        assert_eq!(line.rows.len(), 18);
        assert!(line.t_s.windows(2).all(|pair| pair[1] >= pair[0]));
        assert_eq!(ids(&line), ["clock-steps-back"]);
    }

    #[test]
    fn jitter_keeps_the_order_of_rows() {
        let line = ordered(&[0.0, 0.1, 0.3, 0.2, 0.4, 0.5, 0.6], None);
        assert_eq!((line.rows.len(), line.back_steps), (7, 1));
    }

    #[test]
    fn a_clock_set_once_is_joined_and_the_long_stretch_is_right() {
        // From boot time to true time.
        let mut seconds = vec![10.0, 11.0, 12.0];
        seconds.extend((0..10).map(|i| 1_714_816_800.0 + f64::from(i)));
        let line = ordered(&seconds, None);
        assert_eq!(line.t_s, (0..13).map(f64::from).collect::<Vec<_>>());
        assert_eq!(line.start_raw_s, 1_714_816_797.0);
        assert_eq!(ids(&line), ["clock-jump"]);
    }

    #[test]
    fn a_single_stray_row_is_left_out() {
        let line = ordered(&[0.0, 1.0, 5000.0, 3.0, 4.0, -900.0, 6.0, 7.0], None);
        assert_eq!(line.t_s, [0.0, 1.0, 3.0, 4.0, 6.0, 7.0]);
        assert_eq!(line.gaps, []);
        let day = ordered(
            &[80_000.0, 80_001.0, 0.0, 80_003.0, 80_004.0],
            Some(86_400.0),
        );
        assert_eq!(day.t_s, [0.0, 1.0, 3.0, 4.0]);
    }

    #[test]
    fn summer_time_is_no_jump_and_no_pause() {
        for change in [3600.0, -3600.0] {
            let seconds: Vec<Option<f64>> = (0..60)
                .map(|i| 7170.0 + f64::from(i) + if i < 30 { 0.0 } else { change })
                .map(Some)
                .collect();
            let line = order(&seconds, None, true, |_, _| false);
            assert_eq!(line.t_s, (0..60).map(f64::from).collect::<Vec<_>>());
            assert_eq!(
                (ids(&line), line.start_raw_s),
                (vec!["summer-time"], 7170.0)
            );
        }
    }

    #[test]
    fn a_block_written_again_is_no_new_time() {
        let seconds: Vec<Option<f64>> = (0..100)
            .chain(60..100)
            .map(|i| Some(f64::from(i)))
            .collect();
        let line = order(&seconds, None, false, |a, b| a == b + 40);
        assert_eq!((line.t_s.len(), line.t_s[99]), (100, 99.0));
        assert_eq!(ids(&line), ["repeated-rows"]);
        // Other values at the same times are no copy.
        let line = order(&seconds, None, false, |_, _| false);
        assert_eq!(ids(&line), ["clock-steps-back", "clock-jump"]);
    }

    #[test]
    fn a_pause_is_a_gap() {
        let mut seconds: Vec<f64> = (0..100).map(|i| f64::from(i) * 0.1).collect();
        seconds.extend((0..100).map(|i| 260.9 + f64::from(i) * 0.1));
        let line = ordered(&seconds, None);
        assert_eq!(line.gaps.len(), 1);
        assert!((line.gaps[0].length_s - 251.0).abs() < 1e-9);
    }

    #[test]
    fn a_coarse_clock_is_spread_and_true_duplicates_dropped() {
        let line = ordered(&[0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0], None);
        assert_eq!(line.t_s, [0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75]);
        let seconds = [Some(0.0), Some(1.0), Some(1.0), Some(2.0), Some(3.0), None];
        let line = order(&seconds, None, false, |_, _| true);
        assert_eq!(line.rows, [0, 1, 3, 4]);
        assert_eq!(ids(&line), ["rows-without-time", "duplicate-rows"]);
    }
}
