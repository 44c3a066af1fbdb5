//! Heat into the coolant from heat at nominal share.
//!
//! `Q = P̄ (P/P̄)^b (N/N̄)^m w(T) / κ`: P heat at nominal share (see `thermal::heat_input`), W; N engine speed,
//! 1/min; P̄ and N̄ their means over the stints of all sessions fitted together; b the exponent on
//! load; m the exponent on engine speed at the same load; κ keeps the mean over those stints, but
//! for w, at P̄, so that a bent law does not move the scale. The engine's friction at high speed goes
//! to the coolant, and a faster pump carries it away better: m is what is left of both. Without
//! engine speed in every session m has no say. w is what the walls take up at the coolant T as it was
//! (`thermal::wall`).

use super::prepare::Prepared;
use crate::stats::mean;
use crate::thermal::wall;

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
}

/// The law with its exponents and κ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatLaw {
    pivot: Pivot,
    load_exponent: f64,
    rpm_exponent: f64,
    /// One over κ.
    keep: f64,
    /// Slopes of `-ln κ` by the exponents on load and on engine speed.
    keep_slopes: [f64; 2],
}

/// Heat into the coolant at a step, W, and its slopes by the exponents on load and on engine speed.
pub type Sloped = [f64; 3];

/// What the law takes, one value a step, as logarithms: they do not change while exponents are sought.
#[derive(Debug, Clone)]
pub struct Logs {
    /// Of the heat at nominal share, W; minus infinity where there is none.
    heat: Vec<f64>,
    /// Of the engine speed, 1/min; `NaN` where it is not known.
    rpm: Option<Vec<f64>>,
    /// What the walls take up (no logarithm); one where the coolant is not known.
    wall: Vec<f64>,
}

impl Logs {
    /// Those of a session.
    pub fn of(session: &Prepared) -> Self {
        let watts = session.heat.as_ref().map_or(&[][..], |h| &h.watts);
        // No heat below zero; what is no number stays none.
        let log = |w: &f64| if *w <= 0.0 { f64::NEG_INFINITY } else { w.ln() };
        let rpm = session.rpm.as_deref();
        Self {
            heat: watts.iter().map(log).collect(),
            rpm: rpm.map(|rpm| rpm.iter().map(|n| at_work(*n).ln()).collect()),
            wall: session.coolant_c.iter().map(|c| take_up(*c)).collect(),
        }
    }
}

fn take_up(coolant_c: f64) -> f64 {
    if coolant_c.is_nan() {
        1.0
    } else {
        wall::heat_share(coolant_c)
    }
}

/// Engine speed, idling no slower than [`IDLE_RPM`]; `NaN` stays.
fn at_work(rpm: f64) -> f64 {
    if rpm.is_nan() { rpm } else { rpm.max(IDLE_RPM) }
}

impl HeatLaw {
    /// The law over `sessions`, and the heat into the coolant of each with its slopes, one a step (empty
    /// without a heat input). `logs` are those of the sessions.
    pub fn over(
        sessions: &[&Prepared],
        logs: &[&Logs],
        pivot: Pivot,
        load_exponent: f64,
        rpm_exponent: f64,
    ) -> (Self, Vec<Vec<Sloped>>) {
        let mut law = Self {
            pivot,
            load_exponent,
            rpm_exponent,
            keep: 1.0,
            keep_slopes: [0.0; 2],
        };
        let mut heats: Vec<Vec<Sloped>> = logs.iter().map(|l| law.before_keeping(l)).collect();
        let pairs = sessions.iter().zip(&heats);
        let means: Vec<Sloped> = pairs.map(|(s, heat)| means_in_stints(s, heat)).collect();
        let over_sessions = |k: usize| mean(&means.iter().map(|m| m[k]).collect::<Vec<_>>());
        let kept = over_sessions(0);
        law.keep = pivot.heat_w / kept;
        law.keep_slopes = [1, 2].map(|k| -over_sessions(k) / kept);
        for (heat, logs) in heats.iter_mut().zip(logs) {
            law.keep_mean(heat, logs);
        }
        (law, heats)
    }

    /// Heat into the coolant of a session the law was not made from, with its slopes.
    pub fn sloped(&self, logs: &Logs) -> Vec<Sloped> {
        let mut heat = self.before_keeping(logs);
        self.keep_mean(&mut heat, logs);
        heat
    }

    /// Heat and slopes at the reference, where κ is one and stays so.
    fn before_keeping(&self, logs: &Logs) -> Vec<Sloped> {
        let (b, m) = (self.load_exponent, self.rpm_exponent);
        let log_mean = self.pivot.heat_w.ln();
        let sloped = |heat: f64, over_mean: f64| {
            let load = heat - log_mean;
            let watt = (log_mean + b * load + m * over_mean).exp();
            // No heat stays none at any exponent.
            let by_load = if watt == 0.0 { 0.0 } else { watt * load };
            [watt, by_load, watt * over_mean]
        };
        match (self.pivot.rpm.map(f64::ln), &logs.rpm) {
            (Some(mean_rpm), Some(rpm)) => (logs.heat.iter().zip(rpm))
                .map(|(&heat, &rpm)| sloped(heat, over_mean(rpm, mean_rpm)))
                .collect(),
            _ => logs.heat.iter().map(|&heat| sloped(heat, 0.0)).collect(),
        }
    }

    /// Brings heat and slopes to κ and to the walls at the coolant as it was.
    fn keep_mean(&self, heat: &mut [Sloped], logs: &Logs) {
        let [by_load, by_rpm] = self.keep_slopes;
        for (heat, wall) in heat.iter_mut().zip(&logs.wall) {
            let scale = self.keep * wall;
            let [watt, load, rpm] = *heat;
            *heat = [watt, load + by_load * watt, rpm + by_rpm * watt].map(|v| v * scale);
        }
    }

    /// Heat into the coolant of a session, W, one value a step; empty without a heat input.
    pub fn heat_w(&self, session: &Prepared) -> Vec<f64> {
        let sloped = self.sloped(&Logs::of(session));
        sloped.into_iter().map(|[watt, ..]| watt).collect()
    }

    /// The same, had the coolant been at [`wall::REFERENCE_C`] throughout.
    pub fn heat_at_reference_w(&self, session: &Prepared) -> Vec<f64> {
        let sloped = self.before_keeping(&Logs::of(session));
        let kept = sloped.into_iter().map(|[watt, ..]| self.keep * watt);
        kept.collect()
    }
}

/// Engine speed over the mean, both as logarithms; none where it is not known.
fn over_mean(rpm: f64, mean_rpm: f64) -> f64 {
    if rpm.is_nan() { 0.0 } else { rpm - mean_rpm }
}

/// Means over the stints of what is known.
fn means_in_stints(session: &Prepared, heat: &[Sloped]) -> Sloped {
    let stints = session.drive.stints.iter();
    let known = |[watt, ..]: &&Sloped| !watt.is_nan();
    let (mut sum, mut steps) = ([0.0; 3], 0.0);
    for heat in stints.flat_map(|&(a, b)| &heat[a..b]).filter(known) {
        sum = std::array::from_fn(|k| sum[k] + heat[k]);
        steps += 1.0;
    }
    sum.map(|s| s / steps)
}
