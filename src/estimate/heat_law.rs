//! Heat into the coolant from heat at nominal share.
//!
//! `Q = P̄ (P/P̄)^b (N/N̄)^m`: P heat at nominal share (see `thermal::heat_input`), W; N engine speed,
//! 1/min; P̄ and N̄ their means over the stints of all sessions fitted together; b the exponent on
//! load; m the exponent on engine speed at the same load. The engine's friction at high speed goes
//! to the coolant, and a faster pump carries it away better: m is what is left of both. Without
//! engine speed in every session m has no say.

use super::prepare::Prepared;
use crate::stats::mean;

/// Slower than this the engine idles and friction no longer goes with speed, 1/min.
const IDLE_RPM: f64 = 800.0;

/// Means on which the exponents turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pivot {
    /// Mean heat at nominal share over all stints, W.
    pub heat_w: f64,
    /// Mean engine speed over all stints, 1/min; `None`: not every session has it.
    pub rpm: Option<f64>,
}

impl Pivot {
    /// The means over the stints of `sessions`.
    pub fn of(sessions: &[&Prepared]) -> Self {
        let over = |of: &dyn Fn(&Prepared) -> Option<f64>| -> Option<f64> {
            let means: Option<Vec<f64>> = sessions.iter().map(|s| of(s)).collect();
            means.map(|m| mean(&m)).filter(|m| *m > 0.0)
        };
        let heat = |s: &Prepared| s.heat.as_ref().map(|h| s.mean_in_stints(&h.watts));
        Self {
            heat_w: over(&heat).unwrap_or(f64::NAN),
            rpm: over(&|s| s.rpm.as_deref().map(|rpm| s.mean_in_stints(rpm))),
        }
    }

    /// Heat into the coolant of a session, W, one value a step; empty without a heat input.
    pub fn heat_w(&self, session: &Prepared, load_exponent: f64, rpm_exponent: f64) -> Vec<f64> {
        let watts = session.heat.as_ref().map_or(&[][..], |h| &h.watts);
        let at_load = watts.iter().map(|&w| match w {
            w if w <= 0.0 => 0.0,
            w => self.heat_w * (w / self.heat_w).powf(load_exponent),
        });
        match (self.rpm, session.rpm.as_deref()) {
            (Some(mean_rpm), Some(rpm)) => at_load
                .zip(rpm)
                .map(|(w, &n)| match n {
                    n if n.is_nan() => w,
                    n => w * (n.max(IDLE_RPM) / mean_rpm).powf(rpm_exponent),
                })
                .collect(),
            _ => at_load.collect(),
        }
    }
}
