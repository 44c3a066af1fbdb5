//! Rows put on a time that never falls, whatever their clock did.

use super::repairs::Repairs;
use super::timeline::{GAP_S, GAP_STEPS, is_summer_time, median_step};

/// A step forward beyond this is a clock being set, not a pause.
const JUMP_FORWARD_S: f64 = 4.0 * 3600.0;
/// A step back beyond this is a clock being set; a lesser one is a stumble.
pub(super) const JUMP_BACK_S: f64 = 10.0;

/// Rows an hour apart step by an hour each time, s.
const LONG_STEP_S: f64 = 1800.0;

/// Makes time that never falls. Returns the rows kept, their times, and the clock at the first.
pub(super) fn straighten(
    timed: &[(usize, f64)],
    is_wall: bool,
    repairs: &mut Repairs,
) -> (Vec<usize>, Vec<f64>, f64) {
    let step = median_step(timed.iter().map(|(_, s)| *s));
    let mut rows = Vec::with_capacity(timed.len());
    let mut t_s: Vec<f64> = Vec::with_capacity(timed.len());
    let mut shift = 0.0;
    let mut catching_up = false;
    // Rows and shift of every stretch between two settings of the clock.
    let mut stretches = vec![(0usize, 0.0)];
    for (at, &(row, raw)) in timed.iter().enumerate() {
        let changed = at > 0
            && is_wall
            && step < LONG_STEP_S
            && is_summer_time(timed[at - 1].1, raw - timed[at - 1].1);
        if at > 0 && raw < timed[at - 1].1 && !changed {
            repairs.back_steps += 1;
        }
        let Some(&last) = t_s.last() else {
            // A first row far ahead of the second is astray.
            let next = timed.get(1).map_or(raw, |next| next.1);
            let after = timed.get(2).map_or(next, |after| after.1);
            if (next - raw).abs() > JUMP_FORWARD_S
                && (after - next).abs() < JUMP_BACK_S
                && raw > next
            {
                repairs.outliers += 1;
                continue;
            }
            rows.push(row);
            t_s.push(raw);
            stretches[0].0 += 1;
            continue;
        };
        if changed {
            repairs.summer_time += 1;
            shift = last + step - raw;
        }
        let mut t = raw + shift;
        let ahead = t - last;
        let next_ahead = timed.get(at + 1).map(|next| next.1 + shift - last);
        // What the clock does after the last row nobody knows: a jump there brings one row only.
        let returns = next_ahead.is_none_or(|n| (0.0..=ahead.abs().min(GAP_S)).contains(&n));
        let far = if next_ahead.is_none() {
            JUMP_FORWARD_S
        } else {
            GAP_S.max(GAP_STEPS * step)
        };
        let astray = ahead > far || ahead < -JUMP_BACK_S;
        if astray && returns {
            repairs.outliers += 1;
            continue;
        }
        if ahead < 0.0 {
            if !catching_up && -ahead <= 1.5 * step {
                repairs.jitter += 1;
                t = last;
            } else if -ahead <= JUMP_BACK_S {
                repairs.stepped_back += 1;
                catching_up = true;
                continue;
            }
        }
        catching_up = false;
        if !(-JUMP_BACK_S..=JUMP_FORWARD_S).contains(&ahead) {
            repairs.jumps.push(ahead);
            t = last + step;
            shift = t - raw;
            stretches.push((0, shift));
        }
        if let Some(stretch) = stretches.last_mut() {
            stretch.0 += 1;
        }
        rows.push(row);
        t_s.push(t);
    }
    // The longest stretch has the true clock.
    let shift = stretches
        .iter()
        .max_by_key(|stretch| stretch.0)
        .map_or(0.0, |stretch| stretch.1);
    let start_raw_s = t_s.first().copied().unwrap_or(0.0) - shift;
    (rows, t_s, start_raw_s)
}
