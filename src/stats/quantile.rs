//! Places in the order of values: a reading as it was, none between two.

/// The value at `share` (0 to 1) of the order of `values`, nearest rank. `None`: no values. `NaN` counts as the largest.
pub fn quantile(mut values: Vec<f64>, share: f64) -> Option<f64> {
    let at = (share * values.len().checked_sub(1)? as f64).round() as usize;
    Some(*values.select_nth_unstable_by(at, f64::total_cmp).1)
}

/// The middle one of `values`, of an even number the upper of the two.
pub fn median(values: Vec<f64>) -> Option<f64> {
    quantile(values, 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantile_is_one_of_the_values() {
        let of = |share| quantile(vec![4.0, 1.0, 3.0, 2.0, 9.0], share);
        assert_eq!(
            [of(0.0), of(0.5), of(0.8), of(1.0)].map(Option::unwrap),
            [1.0, 3.0, 4.0, 9.0]
        );
        assert_eq!(median(vec![2.0, 1.0]), Some(2.0));
        assert_eq!(median(Vec::new()), None);
    }
}
