//! The thermostat: how much of the coolant goes through the radiator.
//!
//! `φ(T) = clamp((T - T_opens) / (T_full - T_opens), 0, 1)`, a straight line between the two
//! temperatures of its rating; its lag (some 10 to 30 s, common practice, no source) is left out,
//! which matters only while it moves.

use crate::car::CarSheet;

/// Opening range taken when the car sheet has none, °C: wide and high on purpose, so that a
/// session is called open only where most thermostats are (common practice, no source).
pub const DEFAULT_RANGE_C: (f64, f64) = (85.0, 100.0);

/// How far beside its rating a thermostat may open, K (1 to 2; common practice, no source).
pub const RATING_TOLERANCE_K: f64 = 1.0;

/// A thermostat's opening range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thermostat {
    /// Coolant temperature at which it starts to open, °C.
    pub opens_c: f64,
    /// Coolant temperature at which it is fully open, °C.
    pub full_open_c: f64,
    /// Whether the range is the default and not the owner's.
    pub assumed: bool,
}

impl Thermostat {
    /// The thermostat of a car sheet. With one end given, the other is taken 12 K away (common
    /// practice, no source).
    pub fn of(car: &CarSheet) -> Self {
        const SPAN_K: f64 = 12.0;
        let (opens_c, full_open_c) = match (car.thermostat_opens_c, car.thermostat_full_open_c) {
            (Some(opens), Some(full)) => (opens, full),
            (Some(opens), None) => (opens, opens + SPAN_K),
            (None, Some(full)) => (full - SPAN_K, full),
            (None, None) => DEFAULT_RANGE_C,
        };
        let assumed = car.thermostat_full_open_c.is_none();
        Self {
            opens_c,
            full_open_c,
            assumed,
        }
    }

    /// Opening at `coolant_c`, 0 to 1.
    pub fn opening(&self, coolant_c: f64) -> f64 {
        ((coolant_c - self.opens_c) / (self.full_open_c - self.opens_c)).clamp(0.0, 1.0)
    }

    /// Whether it is fully open at `coolant_c` beyond the tolerance of its rating.
    pub fn surely_open(&self, coolant_c: f64) -> bool {
        coolant_c >= self.full_open_c + RATING_TOLERANCE_K
    }

    /// The range in words.
    pub fn describe(&self) -> String {
        let from = if self.assumed { ", assumed" } else { "" };
        format!(
            "opens {:.0} °C, fully open {:.0} °C{from}",
            self.opens_c, self.full_open_c
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_opens_in_a_straight_line() {
        let car = CarSheet {
            thermostat_opens_c: Some(80.0),
            thermostat_full_open_c: Some(90.0),
            ..CarSheet::default()
        };
        let thermostat = Thermostat::of(&car);
        assert_eq!(thermostat.opening(79.0), 0.0);
        assert_eq!(thermostat.opening(85.0), 0.5);
        assert_eq!(thermostat.opening(95.0), 1.0);
        assert!(!thermostat.assumed);
        assert!(Thermostat::of(&CarSheet::default()).assumed);
    }
}
