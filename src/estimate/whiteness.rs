//! Whether the surprises of the readings repeat each other: their autocorrelation.

use super::answer::Trace;
use super::thermal_state::FILTER_STEP_S;
use crate::stats::{NORMAL_FACTOR, autocorrelation, sample_variance};

/// Lags told.
pub const LAGS: usize = 30;

/// Autocorrelation of the surprises over hot running.
#[derive(Debug, Clone, PartialEq)]
pub struct Whiteness {
    /// Lag, s, and autocorrelation, -1 to 1.
    pub by_lag: Vec<(f64, f64)>,
    /// Standard deviation of the surprises: 1 if the forecasts are as sure as they say, less if they are careful.
    pub sd: f64,
    /// 95 % of the lags lie within plus and minus this if the surprises are independent.
    pub chance: f64,
}

impl Trace {
    /// Autocorrelation of the surprises over hot running. `None` with fewer than twice as many
    /// as there are lags.
    pub fn whiteness(&self) -> Option<Whiteness> {
        let stints = self.stints.iter();
        // The readings between those of the filter have no surprise.
        let surprises: Vec<f64> = stints
            .filter_map(|&(a, b)| self.surprise.get(a..b))
            .flatten()
            .copied()
            .filter(|z| !z.is_nan())
            .collect();
        (surprises.len() >= 2 * LAGS).then(|| Whiteness {
            by_lag: (1..=LAGS)
                .filter_map(|lag| {
                    let r = autocorrelation(&surprises, lag)?;
                    Some((lag as f64 * FILTER_STEP_S, r))
                })
                .collect(),
            sd: sample_variance(&surprises).map_or(f64::NAN, f64::sqrt),
            chance: NORMAL_FACTOR / (surprises.len() as f64).sqrt(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(surprise: Vec<f64>) -> Trace {
        Trace {
            stints: vec![(0, surprise.len())],
            surprise,
            ..Trace::default()
        }
    }

    #[test]
    fn a_short_record_tells_nothing_and_a_long_one_does() {
        assert_eq!(trace(vec![0.5; 10]).whiteness(), None);
        // A surprise that turns its sign each time: -1 at odd lags, +1 at even ones.
        let turning = (0..200).map(|i| if i % 2 == 0 { 1.0 } else { -1.0 });
        let found = trace(turning.collect()).whiteness().unwrap();
        assert_eq!(found.by_lag.len(), LAGS);
        assert!((found.chance - 1.96 / 200_f64.sqrt()).abs() < 1e-4);
        let (first, second) = (found.by_lag[0], found.by_lag[1]);
        assert!(first.1 < -0.98 && second.1 > 0.98, "{found:?}");
        assert_eq!((first.0, second.0), (FILTER_STEP_S, 2.0 * FILTER_STEP_S));
    }
}
