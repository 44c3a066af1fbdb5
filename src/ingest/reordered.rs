//! Rows that are not where their time is: written out of order, or written again.

use std::collections::HashMap;

use super::repairs::Repairs;
use super::straighten::JUMP_BACK_S;
use super::timeline::median_step;

/// Rows that were written out of order, put where their time is: then they come at an even pace. A
/// clock that stumbles back would bring rows of two moments together, and is left as it is.
pub(super) fn in_order(timed: Vec<(usize, f64)>, repairs: &mut Repairs) -> Vec<(usize, f64)> {
    const LEAST_BACK: usize = 20;
    const CROWDED_SHARE: f64 = 0.01;
    let back = |pair: &&[(usize, f64)]| pair[1].1 < pair[0].1;
    let far = |pair: &[(usize, f64)]| pair[1].1 < pair[0].1 - JUMP_BACK_S;
    if timed.windows(2).filter(back).count() < LEAST_BACK || timed.windows(2).any(far) {
        return timed;
    }
    let mut sorted = timed.clone();
    sorted.sort_by(|a, b| a.1.total_cmp(&b.1));
    let step_s = median_step(sorted.iter().map(|(_, s)| *s));
    let crowded = |pair: &&[(usize, f64)]| pair[1].1 - pair[0].1 < step_s / 2.0;
    if sorted.windows(2).filter(crowded).count() as f64 > CROWDED_SHARE * sorted.len() as f64 {
        return timed;
    }
    let moved = |(was, is): &(&(usize, f64), &(usize, f64))| was.0 != is.0;
    repairs.sorted = timed.iter().zip(&sorted).filter(moved).count();
    sorted
}

/// Leaves out rows that are there before, time and all: a logger that writes a block again. Only
/// rows after a step back are looked at.
pub(super) fn without_repeats(
    timed: Vec<(usize, f64)>,
    same: impl Fn(usize, usize) -> bool,
    repairs: &mut Repairs,
) -> Vec<(usize, f64)> {
    const MOST_OF_A_TICK: usize = 64;
    let steps_back = |pair: &[(usize, f64)]| pair[1].1 < pair[0].1 - JUMP_BACK_S;
    let Some(back) = timed.windows(2).position(steps_back) else {
        return timed;
    };
    let mut seen: HashMap<u64, Vec<usize>> = HashMap::new();
    let mut kept = Vec::with_capacity(timed.len());
    let mut latest = f64::NEG_INFINITY;
    for (at, (row, s)) in timed.into_iter().enumerate() {
        let before = seen.entry(s.to_bits()).or_default();
        if at > back && s <= latest && before.iter().any(|other| same(row, *other)) {
            repairs.repeated += 1;
            continue;
        }
        latest = latest.max(s);
        if before.len() < MOST_OF_A_TICK {
            before.push(row);
        }
        kept.push((row, s));
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::super::timeline::{ids, ordered};

    /// One row in five was lost.
    #[test]
    fn rows_written_out_of_order_are_sorted() {
        let shuffled: Vec<f64> = (0..400).map(|i| 0.5 * f64::from(i ^ 3)).collect();
        let line = ordered(&shuffled, None);
        assert_eq!((line.rows.len(), line.back_steps), (400, 0));
        assert_eq!((line.rows[0], line.t_s[399]), (3, 199.5));
        assert_eq!(ids(&line), ["rows-sorted"]);
        // A clock that falls back three seconds every twenty stays as it is.
        let stumbles: Vec<f64> = (0..800)
            .map(|i| 0.5 * f64::from(i) - 3.0 * f64::from(i / 40))
            .collect();
        assert!(!ids(&ordered(&stumbles, None)).contains(&"rows-sorted"));
    }
}
