//! Whether conductance follows the weather, as it does not with the thermostat fully open.
//!
//! While the thermostat regulates, coolant hardly moves with ambient, so that heat over coolant minus ambient falls on
//! a cool day by one part in the excess: some 1.3 % a kelvin at 75 K. A sheet that has the thermostat fully open at too
//! low a temperature lets such running count. Among sessions of one setup
//!
//! ```text
//! b = Σ (a - ā)(log g - mean) / Σ (a - ā)²,  a mean ambient of the session; means by setup
//! ```
//!
//! with a t interval on n - setups - 1 degrees of freedom. log g is told at equal air density, which is taken out
//! before.

use std::collections::BTreeMap;

use crate::estimate::joint::JointFit;
use crate::estimate::prepare::Prepared;
use crate::stats::{Estimate, mean, t_factor};
use crate::warning::Warning;

/// A third of what regulating does, 1/K: less may be the day or a sensor.
const MATTERS_PER_K: f64 = 0.004;

/// The caution where it does.
pub(super) fn caution(sessions: &[&Prepared], joint: &JointFit) -> Option<Warning> {
    let slope = slope(sessions, joint);
    let rise = slope
        .known()
        .filter(|i| i.low > 0.0 && i.estimate > MATTERS_PER_K)?;
    let [by, low, high] = [rise.estimate, rise.low, rise.high].map(|v| 100.0 * v);
    let full_open_c = sessions.first()?.thermostat.full_open_c;
    Some(Warning::caution(
        "conductance-follows-ambient",
        format!(
            "among sessions of one setup the conductance rises by {by:.1} % with each kelvin of ambient ({low:.1} to {high:.1}): so it does while the thermostat still regulates; if it is fully open only above the {full_open_c:.0} °C that are reckoned with, the change is too small here: check thermostat_full_open_c of the car sheet"
        ),
    ))
}

/// Slope of log conductance on ambient among sessions of one setup, 1/K.
fn slope(sessions: &[&Prepared], joint: &JointFit) -> Estimate {
    let mut setups: BTreeMap<&str, Vec<(f64, f64)>> = BTreeMap::new();
    for (session, balance) in sessions.iter().zip(&joint.sessions) {
        if let Some(ambient_c) = &session.ambient_c {
            let seen = (session.mean_in_stints(ambient_c), balance.log_g);
            setups.entry(&session.setup).or_default().push(seen);
        }
    }
    let centred: Vec<(f64, f64)> = setups.values().flat_map(|seen| about_means(seen)).collect();
    let squares: f64 = centred.iter().map(|(a, _)| a * a).sum();
    let df = centred.len() as f64 - setups.len() as f64 - 1.0;
    let Some(t) = t_factor(df).filter(|_| squares > 0.0) else {
        return Estimate::unknown("too few sessions of one setup in different weather");
    };
    let b = centred.iter().map(|(a, g)| a * g).sum::<f64>() / squares;
    let misses: f64 = centred.iter().map(|(a, g)| (g - b * a).powi(2)).sum();
    Estimate::symmetric(
        b,
        t * (misses / df / squares).sqrt(),
        "regression within setups, t",
    )
}

fn about_means(seen: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let [a, g] = [|s: &(f64, f64)| s.0, |s: &(f64, f64)| s.1]
        .map(|of| mean(&seen.iter().map(of).collect::<Vec<_>>()));
    seen.iter().map(|s| (s.0 - a, s.1 - g)).collect()
}

#[cfg(test)]
mod tests {
    use crate::compare::{Eligible, Request, compare};
    use crate::estimate::synthetic::{self, Truth};
    use crate::session::Session;

    /// Sessions of two setups in weather of three kinds; `regulated`: the coolant is the same in all.
    fn sessions(g_at: impl Fn(f64) -> f64) -> Vec<Session> {
        let weather = [12.0, 18.0, 24.0, 13.0, 19.0, 25.0];
        let of = |(i, ambient_c): (usize, f64)| {
            let wobble = [1.0, 1.004, 0.997, 1.003, 0.999, 1.001][i];
            let mut session = synthetic::session(&Truth {
                ambient_c,
                g_w_per_k: g_at(ambient_c) * wobble,
                ..Truth::default()
            });
            session.meta.id = format!("s{i}");
            session.meta.setup = ["before", "after"][i % 2].to_owned();
            session
        };
        weather.into_iter().enumerate().map(of).collect()
    }

    fn said(sessions: &[Session]) -> bool {
        let eligible = Eligible::of(&sessions.iter().collect::<Vec<_>>());
        assert_eq!(eligible.used.len(), 6);
        let comparison = compare(sessions, &Request::of("before", "after"));
        let ids = comparison.warnings.iter().map(|w| w.id.as_str());
        ids.into_iter()
            .any(|id| id == "conductance-follows-ambient")
    }

    #[test]
    fn a_conductance_that_follows_the_weather_is_told() {
        let g = Truth::default().g_w_per_k;
        assert!(said(&sessions(
            |ambient_c| g * (1.0 + 0.012 * (ambient_c - 18.0))
        )));
    }

    #[test]
    fn scatter_of_half_a_percent_is_not() {
        assert!(!said(&sessions(|_| Truth::default().g_w_per_k)));
    }
}
