//! The one type in which every figure travels: a value, its interval, and how both were had.

use serde::ser::SerializeMap;
use serde::{Deserialize, Serialize, Serializer};

/// The level of every interval this tool states.
pub const LEVEL: f64 = 0.95;

/// A figure with its interval.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// The point estimate.
    pub estimate: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
    /// Coverage that the interval claims, 0 to 1.
    pub level: f64,
    /// How the interval was made, in words.
    pub method: String,
}

/// A figure with its interval, or the reason why there is none.
///
/// Serialises as `{"estimate": 1.8, "low": 0.4, "high": 3.1, "level": 0.95, "method": "..."}`
/// or `{"estimate": null, "why": "..."}`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum Estimate {
    /// It could be estimated.
    Known(Interval),
    /// It could not, and this is why.
    Unknown {
        /// The reason, one sentence.
        why: String,
    },
}

impl Estimate {
    /// A figure that could not be estimated, with the reason.
    pub fn unknown(why: impl Into<String>) -> Self {
        Self::Unknown { why: why.into() }
    }

    /// A figure with a symmetric interval `estimate ± half_width`.
    ///
    /// A value or half-width that is not finite becomes [`Estimate::Unknown`]: no answer may
    /// carry a number that is none.
    pub fn symmetric(estimate: f64, half_width: f64, method: impl Into<String>) -> Self {
        Self::between(
            estimate,
            estimate - half_width,
            estimate + half_width,
            method,
        )
    }

    /// A figure between two ends, in either order. Not finite: [`Estimate::Unknown`].
    pub fn between(estimate: f64, one_end: f64, other_end: f64, method: impl Into<String>) -> Self {
        if !(estimate.is_finite() && one_end.is_finite() && other_end.is_finite()) {
            return Self::unknown("the computation gave no finite number");
        }
        Self::Known(Interval {
            estimate,
            low: one_end.min(other_end),
            high: one_end.max(other_end),
            level: LEVEL,
            method: method.into(),
        })
    }

    /// The interval, where there is one.
    pub fn known(&self) -> Option<&Interval> {
        match self {
            Self::Known(interval) => Some(interval),
            Self::Unknown { .. } => None,
        }
    }

    /// The point estimate, where there is one.
    pub fn point(&self) -> Option<f64> {
        self.known().map(|interval| interval.estimate)
    }

    /// The reason why there is no figure, where there is none.
    pub fn why(&self) -> Option<&str> {
        match self {
            Self::Known(_) => None,
            Self::Unknown { why } => Some(why),
        }
    }

    /// The estimate with a monotone function applied to the value and to both ends.
    pub fn map(&self, f: impl Fn(f64) -> f64) -> Self {
        match self {
            Self::Known(i) => Self::between(f(i.estimate), f(i.low), f(i.high), i.method.clone()),
            Self::Unknown { .. } => self.clone(),
        }
    }

    /// Where a known `value` lies, in words.
    pub fn place_of(&self, value: f64) -> &'static str {
        match self.known() {
            None => "with no interval to hold it against",
            Some(i) if i.contains(value) => "inside the interval",
            Some(_) => "outside the interval: a miss",
        }
    }
}

impl Interval {
    /// Whether `value` lies inside the interval, ends included.
    pub fn contains(&self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    /// Half the width of the interval.
    pub fn half_width(&self) -> f64 {
        (self.high - self.low) / 2.0
    }
}

impl Serialize for Estimate {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Known(interval) => interval.serialize(serializer),
            Self::Unknown { why } => {
                let mut map = serializer.serialize_map(Some(2))?;
                map.serialize_entry("estimate", &None::<f64>)?;
                map.serialize_entry("why", why)?;
                map.end()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn serialises_as_the_interface_says() {
        let known = serde_json::to_string(&Estimate::symmetric(1.5, 0.5, "t")).unwrap();
        assert_eq!(
            known,
            r#"{"estimate":1.5,"low":1.0,"high":2.0,"level":0.95,"method":"t"}"#
        );
        let unknown = serde_json::to_string(&Estimate::unknown("too short")).unwrap();
        assert_eq!(unknown, r#"{"estimate":null,"why":"too short"}"#);
        let read = |text: &str| serde_json::from_str::<Estimate>(text).unwrap();
        assert_eq!(read(&known), Estimate::symmetric(1.5, 0.5, "t"));
        assert_eq!(read(&unknown), Estimate::unknown("too short"));
    }

    #[test]
    fn a_number_that_is_none_becomes_a_reason() {
        assert!(Estimate::symmetric(f64::NAN, 1.0, "t").known().is_none());
        assert!(
            Estimate::symmetric(1.0, f64::INFINITY, "t")
                .known()
                .is_none()
        );
    }

    #[test]
    fn a_miss_is_a_miss_however_near() {
        let of = Estimate::between(-3.3, -4.05, -2.504, "by hand");
        assert_eq!(of.place_of(-2.504), "inside the interval");
        assert_eq!(of.place_of(-2.5), "outside the interval: a miss");
    }

    #[test]
    fn a_falling_map_keeps_the_ends_in_order() {
        let mapped = Estimate::between(1.0, 0.5, 2.0, "t").map(|x| -x);
        let interval = mapped.known().unwrap();
        assert_eq!((interval.low, interval.high), (-2.0, -0.5));
    }
}
