//! A change that was predicted, beside the measured one. It has no say in the verdict.

use serde::Serialize;

use crate::stats::Estimate;

/// How a predicted and a measured interval lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BesideMeasured {
    /// They have values in common.
    Overlap,
    /// They have none.
    Apart,
    /// There is no measured interval.
    NotMeasured,
}

impl BesideMeasured {
    /// What it means, one sentence.
    pub fn sentence(self) -> &'static str {
        match self {
            Self::Overlap => {
                "The two intervals overlap: the logs do not contradict the prediction, which does not prove it."
            }
            Self::Apart => {
                "The two intervals lie apart: the prediction, its inputs or the test is wrong somewhere."
            }
            Self::NotMeasured => "There is no measured interval to hold it against.",
        }
    }
}

/// A predicted change of coolant beside the measured one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Predicted {
    /// Lower end of the prediction, K.
    pub low_k: f64,
    /// Upper end, K.
    pub high_k: f64,
    /// How the two lie.
    pub agreement: BesideMeasured,
}

impl Predicted {
    /// The prediction beside what was measured.
    pub fn beside((low_k, high_k): (f64, f64), measured: &Estimate) -> Self {
        let agreement = match measured.known() {
            None => BesideMeasured::NotMeasured,
            Some(i) if low_k <= i.high && i.low <= high_k => BesideMeasured::Overlap,
            Some(_) => BesideMeasured::Apart,
        };
        Self {
            low_k,
            high_k,
            agreement,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_that_touch_overlap() {
        let measured = Estimate::between(-2.0, -3.0, -1.0, "t");
        let lies = |ends| Predicted::beside(ends, &measured).agreement;
        assert_eq!(lies((-1.0, 0.0)), BesideMeasured::Overlap);
        assert_eq!(lies((-9.0, 9.0)), BesideMeasured::Overlap);
        assert_eq!(lies((-0.9, 0.0)), BesideMeasured::Apart);
        assert_eq!(lies((-9.0, -3.1)), BesideMeasured::Apart);
        let none = Predicted::beside((0.0, 1.0), &Estimate::unknown("t"));
        assert_eq!(none.agreement, BesideMeasured::NotMeasured);
    }
}
