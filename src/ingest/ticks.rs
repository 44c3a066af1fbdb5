//! Rows of one tick of the clock: spread over it, or left out as copies.

use super::repairs::Repairs;
use super::timeline::median_step;

/// A clock in whole seconds under faster rows: rows of one tick are spread evenly over it.
pub(super) fn spread(t_s: &mut [f64]) {
    let tick = median_step(t_s.iter().copied());
    let mut from = 0;
    while from < t_s.len() {
        let start = t_s[from];
        let to = from + t_s[from..].iter().take_while(|t| **t == start).count();
        let length = t_s.get(to).map_or(tick, |next| (next - start).min(tick));
        let count = (to - from) as f64;
        for (k, t) in t_s[from..to].iter_mut().enumerate() {
            *t = start + length * k as f64 / count;
        }
        from = to;
    }
}

/// A clock that stands for many rows and then shows what it would had it run: they are spread evenly
/// over that time. Returns how many.
pub(super) fn spread_where_it_stood(t_s: &mut [f64]) -> usize {
    const LEAST_ROWS: usize = 10;
    const AGREE: f64 = 0.2;
    let step_s = median_step(t_s.iter().copied());
    let (mut from, mut stood) = (0, 0);
    while from < t_s.len() {
        let start = t_s[from];
        let rows = t_s[from..].iter().take_while(|t| **t == start).count();
        let to = from + rows;
        let length_s = t_s.get(to).map_or(0.0, |next| next - start);
        if rows >= LEAST_ROWS && (length_s / (rows as f64 * step_s) - 1.0).abs() < AGREE {
            for (k, t) in t_s[from..to].iter_mut().enumerate() {
                *t = start + length_s * k as f64 / rows as f64;
            }
            stood += rows;
        }
        from = to;
    }
    stood
}

pub(super) fn drop_duplicates(
    rows: &mut Vec<usize>,
    t_s: &mut Vec<f64>,
    same: impl Fn(usize, usize) -> bool,
    repairs: &mut Repairs,
) {
    let keep: Vec<bool> = (0..rows.len())
        .map(|i| i == 0 || t_s[i] > t_s[i - 1] || !same(rows[i], rows[i - 1]))
        .collect();
    repairs.duplicates = keep.iter().filter(|k| !**k).count();
    let mut kept = keep.iter();
    rows.retain(|_| kept.next() == Some(&true));
    let mut kept = keep.iter();
    t_s.retain(|_| kept.next() == Some(&true));
}

#[cfg(test)]
mod tests {
    use super::super::timeline::{ids, ordered};

    /// It was a pause of 400 s.
    #[test]
    fn a_clock_that_stood_is_spread_over_its_rows() {
        let stands = |i: i32| if (1000..1400).contains(&i) { 1000 } else { i };
        let line = ordered(
            &(0..2000).map(|i| f64::from(stands(i))).collect::<Vec<_>>(),
            None,
        );
        assert!(line.gaps.is_empty());
        assert_eq!((line.t_s[1200], line.rows.len()), (1200.0, 2000));
        assert_eq!(ids(&line), ["clock-stood"]);
    }
}
