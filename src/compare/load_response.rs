//! Whether both setups answer the load alike.
//!
//! All sessions share one exponent b of heat on load. A part that changes the heat input (a
//! charge-air cooler, an oil cooler) may change it, and a shared exponent would hide that. In a
//! session whose exponent is off by β the balance misses its windows by
//! `r_w ≈ -β (u H_w / F_w) (ln P_w - mean ln P)`, P the heat input in the window; β of each session is
//! the slope, and after minus before is judged on sessions (Welch). What windows lag behind is the
//! same on both sides and cancels.

use super::Request;
use crate::estimate::joint::{JointFit, SessionBalance};
use crate::estimate::prepare::Prepared;
use crate::stats::{Estimate, LEVEL, Summary, mean, welch};

/// Exponent of heat on load, after minus before.
pub(super) fn load_response_change(
    used: &[&Prepared],
    joint: &JointFit,
    request: &Request,
) -> Estimate {
    let of = |setup: &str| -> Vec<f64> {
        let sessions = used.iter().zip(&joint.sessions);
        let slopes = sessions.filter(|(s, _)| s.setup == setup);
        slopes.filter_map(|(_, balance)| slope(balance)).collect()
    };
    let sides = [&request.before, &request.after].map(|setup| Summary::of(&of(setup)));
    let [Ok(before), Ok(after)] = sides else {
        return Estimate::unknown("takes two sessions with each setup, each with several windows");
    };
    let test = welch(after, before).ok();
    match test.and_then(|t| Some((t.difference, t.ends(LEVEL)?))) {
        Some((change, (low, high))) => Estimate::between(
            change,
            low,
            high,
            "slope of what the balance misses on the logarithm of load, by session; Welch",
        ),
        None => Estimate::unknown("the slopes do not scatter"),
    }
}

/// How far a session's exponent is off. `None`: too few windows, or all of one load.
fn slope(balance: &SessionBalance) -> Option<f64> {
    let logs: Vec<f64> = balance.loads_k.iter().map(|l| l.ln()).collect();
    let centre = mean(&logs);
    let x: Vec<f64> = (balance.loads_k.iter().zip(&logs))
        .map(|(load, log)| load * (log - centre))
        .collect();
    let squares: f64 = x.iter().map(|x| x * x).sum();
    let product: f64 = x.iter().zip(&balance.residuals_k).map(|(x, r)| x * r).sum();
    (x.len() > 2 && squares > 0.0).then(|| -product / squares)
}
