//! Figures as they are printed: one way for the whole report.
//!
//! A true minus sign, a fixed number of decimals, no `-0.0`, and a word where there is no number.

pub use crate::words::{UNKNOWN, count, fixed, signed};

use crate::quantity::{Measure, Units};
use crate::stats::Interval;

/// Decimals of a temperature.
pub const TEMPERATURE: usize = 1;

/// Decimals of a change of temperature.
pub const CHANGE: usize = 2;

/// A figure with its unit: `23.0 °C`. `inside` is in the unit used inside.
pub fn told(units: Units, measure: Measure, inside: f64, decimals: usize) -> String {
    let figure = fixed(units.of(measure, inside), decimals);
    format!("{figure}\u{a0}{}", units.symbol(measure))
}

/// A number with three significant digits; whole digits are never cut, and below 1 there are three
/// decimals.
pub fn significant(value: f64) -> String {
    fixed(value, decimals_for(value))
}

/// The same without the zeros that end it: a step of 1 is not a step of 1.000.
pub fn trimmed(value: f64) -> String {
    let text = significant(value);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// Decimals that show three significant digits; no more than three decimals.
pub fn decimals_for(value: f64) -> usize {
    match value.abs() {
        size if size >= 100.0 || !size.is_finite() => 0,
        size if size >= 10.0 => 1,
        size if size >= 1.0 => 2,
        _ => 3,
    }
}

/// Seconds as minutes, or as seconds when there are few.
pub fn duration(seconds: f64) -> String {
    duration_beside(seconds)(seconds)
}

/// The same in the unit that `largest_s` is told in, so that the ends of an interval have one unit.
pub fn duration_beside(largest_s: f64) -> impl Fn(f64) -> String {
    move |seconds| {
        if !seconds.is_finite() {
            UNKNOWN.to_owned()
        } else if largest_s < 120.0 {
            format!("{}\u{a0}s", fixed(seconds, 0))
        } else {
            format!("{}\u{a0}min", fixed(seconds / 60.0, 1))
        }
    }
}

/// The ends of an interval: `−3.60 to −1.02`.
pub fn ends(interval: &Interval, number: impl Fn(f64) -> String) -> String {
    format!("{} to {}", number(interval.low), number(interval.high))
}

/// The level of an interval in percent: `95 %`.
pub fn level(interval: &Interval) -> String {
    format!("{}\u{a0}%", fixed(interval.level * 100.0, 0))
}

/// A probability of a test: `0.031`, or that it is below a thousandth.
pub fn p(value: f64) -> String {
    if value < 0.001 {
        "below 0.001".to_owned()
    } else {
        fixed(value, 3)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minus_is_a_minus_sign_and_zero_has_none() {
        assert_eq!(fixed(-2.345, 2), "\u{2212}2.35");
        assert_eq!(fixed(-0.001, 2), "0.00");
        assert_eq!(signed(0.001, 2), "0.00");
        assert_eq!(signed(0.4, 1), "+0.4");
        assert_eq!(signed(-0.4, 1), "\u{2212}0.4");
        assert_eq!(
            [6.298, 13.9, 0.95].map(significant),
            ["6.30".to_owned(), "13.9".into(), "0.950".into()]
        );
        assert_eq!(
            (trimmed(1.0), trimmed(0.25), trimmed(100.0)),
            ("1".into(), "0.25".into(), "100".into())
        );
    }

    #[test]
    fn what_is_no_number_is_a_word() {
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(fixed(value, 2), "unknown");
            assert_eq!(signed(value, 2), "unknown");
            assert_eq!(duration(value), "unknown");
            assert_eq!(significant(value), "unknown");
            assert_eq!(trimmed(value), "unknown");
        }
    }

    #[test]
    fn the_ends_of_a_time_have_one_unit() {
        let told = duration_beside(138.0);
        assert_eq!(
            [told(65.0), told(138.0)],
            ["1.1\u{a0}min".to_owned(), "2.3\u{a0}min".into()]
        );
        assert_eq!(duration(65.0), "65\u{a0}s");
    }

    #[test]
    fn an_interval_is_said_by_its_ends_and_level() {
        let known = crate::stats::Estimate::between(-2.4, -3.6, -1.2, "t");
        let interval = known.known().unwrap();
        assert_eq!(
            ends(interval, |v| signed(v, 1)),
            "\u{2212}3.6 to \u{2212}1.2"
        );
        assert_eq!(level(interval), "95\u{a0}%");
        assert_eq!(
            (count(1, "day"), count(3, "day")),
            ("1 day".to_owned(), "3 days".to_owned())
        );
    }
}
