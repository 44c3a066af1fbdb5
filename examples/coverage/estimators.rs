//! The estimators that the tool has to beat, and the form of an answer.

use heatbook::stats::{self, LEVEL, Summary, TTest, mean};

use super::prepare::Hot;
use crate::simulator::Side;

/// An estimator's answer to one campaign.
#[derive(Debug, Clone)]
pub struct Answer {
    /// Change, after minus before, K.
    pub change_k: f64,
    /// Half the width of its 95 % interval, K.
    pub half_width_k: f64,
    /// The verdict, where one is given.
    pub verdict: Option<&'static str>,
}

/// Exponent of the plain heat balance on speed and density.
const EXPONENT: f64 = 0.45;
/// Share of the fuel's heat that reaches the coolant.
const FUEL_SHARE: f64 = 0.22;
/// Friction heat that reaches the coolant, W per 1/min.
const FRICTION_W_PER_RPM: f64 = 1.5;
/// Heat capacity of coolant and metal, J/K.
const CAPACITY_J_PER_K: f64 = 110e3;

/// Mean coolant, Welch on sessions.
pub fn raw_coolant(sessions: &[Hot]) -> Option<Answer> {
    welch(sessions, &per_session(sessions, |hot| mean(&hot.coolant_c)))
}

/// Mean coolant minus mean ambient, Welch on sessions.
pub fn coolant_minus_ambient(sessions: &[Hot]) -> Option<Answer> {
    welch(sessions, &per_session(sessions, excess_k))
}

/// One heat balance a session over its hot running, coefficients held at the same physical
/// values for all, pooled variance.
pub fn heat_balance(sessions: &[Hot]) -> Option<Answer> {
    pooled(sessions, &heat_balance_settled_c(sessions))
}

/// Where each session's car would settle on the mean drive, coolant minus ambient, K.
pub fn heat_balance_settled_c(sessions: &[Hot]) -> Vec<f64> {
    let heat_w = |hot: &Hot| FUEL_SHARE * mean(&hot.fuel_w) + FRICTION_W_PER_RPM * mean(&hot.rpm);
    let reference_heat_w = mean(&per_session(sessions, heat_w));
    let reference_flow = mean(&per_session(sessions, |hot| mean(&hot.flow(EXPONENT))));
    per_session(sessions, |hot| {
        let n = hot.len();
        // Means over a minute at either end: single readings step by 1 °C.
        let rise_k = mean(&hot.coolant_c[n - 60..]) - mean(&hot.coolant_c[..60]);
        let stored_w = CAPACITY_J_PER_K * rise_k / (n - 60) as f64;
        let conductance = (heat_w(hot) - stored_w) / mean(&hot.flow_excess(EXPONENT));
        reference_heat_w / (conductance * reference_flow)
    })
}

/// Mean coolant minus mean ambient of a session, K.
pub fn excess_k(hot: &Hot) -> f64 {
    mean(&hot.coolant_c) - mean(&hot.ambient_c)
}

/// A figure for each session.
pub fn per_session(sessions: &[Hot], figure: impl Fn(&Hot) -> f64) -> Vec<f64> {
    sessions.iter().map(figure).collect()
}

/// Welch's interval on one value a session.
pub fn welch(sessions: &[Hot], values: &[f64]) -> Option<Answer> {
    answer(sessions, values, stats::welch)
}

/// The interval with one variance for both sides.
pub fn pooled(sessions: &[Hot], values: &[f64]) -> Option<Answer> {
    answer(sessions, values, stats::pooled)
}

/// A test of two samples.
type Test = fn(Summary, Summary) -> Result<TTest, String>;

/// What a test of after against before says. `None`: a side has too few values.
fn answer(sessions: &[Hot], values: &[f64], test: Test) -> Option<Answer> {
    let of_side = |side: Side| -> Option<Summary> {
        let own = sessions.iter().zip(values).filter(|(s, _)| s.side == side);
        Summary::of(&own.map(|(_, v)| *v).collect::<Vec<_>>()).ok()
    };
    let test = test(of_side(Side::After)?, of_side(Side::Before)?).ok()?;
    let (low, high) = test.ends(LEVEL)?;
    Some(Answer {
        change_k: test.difference,
        half_width_k: (high - low) / 2.0,
        verdict: None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn empty(side: Side) -> Hot {
        let none = Vec::new;
        Hot {
            side,
            coolant_c: none(),
            ambient_c: none(),
            speed_ms: none(),
            rpm: none(),
            fuel_w: none(),
            density_kg_m3: none(),
        }
    }

    /// Student's sleep data (1908): t -1.8608, 17.776 degrees of freedom, interval -3.3655 to
    /// 0.2055 (R documentation, t.test).
    #[test]
    fn welch_agrees_with_the_sleep_data() {
        let one = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
        let two = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
        let sides =
            std::iter::repeat_n(Side::After, 10).chain(std::iter::repeat_n(Side::Before, 10));
        let sessions: Vec<Hot> = sides.map(empty).collect();
        let values: Vec<f64> = one.iter().chain(&two).copied().collect();
        let answer = welch(&sessions, &values).expect("ten values a side");
        assert!((answer.change_k - answer.half_width_k + 3.365_483_2).abs() < 1e-6);
        assert!((answer.change_k + answer.half_width_k - 0.205_483_2).abs() < 1e-6);
    }
}
