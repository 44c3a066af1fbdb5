//! The first answer: both fitted cars driven through the same drive at the same ambient.
//!
//! The contrast of `log g` (see `contrast`) with its half-width: Student's t on the scatter of
//! sessions (or days), plus what the shared parameters leave open where the two sides were driven
//! differently, joined by Satterthwaite's degrees of freedom. The change of coolant follows from
//! the ratio of conductances by driving the car; both are monotone in each other, so the ends of
//! the interval go through the same drive.

use super::answer::{Borrowed, Curves, Effect, SessionRow};
use super::contrast::{Contrast, Observation, Scatter, Unit};
use crate::estimate::joint::JointFit;
use crate::estimate::prepare::Prepared;
use crate::estimate::simulate::{CarModel, ReferenceDrive, Settled};
use crate::estimate::{car_model, log_g_half_width};
use crate::stats::{Estimate, mean, satterthwaite_df, t_factor};
use crate::thermal::thermostat::Thermostat;

/// Both cars, the drive, and the contrast between them.
pub struct Standard<'a> {
    /// The joint fit.
    pub joint: &'a JointFit,
    /// The car before, thermostat held open.
    pub before: CarModel,
    /// The thermostat as it works.
    pub thermostat: Thermostat,
    /// The drive.
    pub drive: ReferenceDrive,
    /// Air outside, °C.
    pub ambient_c: f64,
    /// After minus before.
    pub contrast: Contrast,
    /// Scatter learned elsewhere in the book.
    pub borrowed: Scatter,
    /// How much was learned where, if anything.
    pub borrowed_from: Option<Borrowed>,
}

/// Half-width of a contrast at the given scatter. `None` without degrees of freedom.
pub fn half_width(joint: &JointFit, contrast: &Contrast, scatter: Scatter) -> Option<f64> {
    let sampling = scatter.variance()? * contrast.factor;
    let shared = joint.shared_variance(&contrast.weights);
    let df = satterthwaite_df(&[(sampling, scatter.df), (shared, f64::INFINITY)]);
    Some(t_factor(df)? * (sampling + shared).sqrt())
}

impl Standard<'_> {
    /// Scatter with what was borrowed.
    pub fn pooled(&self) -> Scatter {
        self.contrast.scatter.pooled(self.borrowed)
    }

    /// Conductance after over before.
    pub fn conductance_ratio(&self) -> Effect {
        self.effect(f64::exp)
    }

    /// Change of mean coolant, thermostat fully open.
    pub fn mean_change(&self) -> Effect {
        self.change(None, |s| s.mean_c)
    }

    /// Change of peak coolant, thermostat fully open.
    pub fn peak_change(&self) -> Effect {
        self.change(None, |s| s.peak_c)
    }

    /// Change of mean coolant with the thermostat working.
    pub fn regulated_change(&self) -> Effect {
        self.change(Some(self.thermostat), |s| s.mean_c)
    }

    /// The estimate of another contrast of the same sessions as a change of mean coolant.
    pub fn change_of(&self, contrast: &Contrast, scatter: Scatter) -> Estimate {
        let reference = self.settle(0.0, None).mean_c;
        self.estimate(contrast, scatter, |d| {
            self.settle(d, None).mean_c - reference
        })
    }

    fn change(&self, thermostat: Option<Thermostat>, of: impl Fn(Settled) -> f64) -> Effect {
        let reference = of(self.settle(0.0, thermostat));
        self.effect(|log_ratio| of(self.settle(log_ratio, thermostat)) - reference)
    }

    fn settle(&self, log_ratio: f64, thermostat: Option<Thermostat>) -> Settled {
        let g_w_per_k = self.before.g_w_per_k * log_ratio.exp();
        let car = CarModel {
            g_w_per_k,
            thermostat,
            ..self.before
        };
        self.drive.settle(&car, self.ambient_c)
    }

    fn effect(&self, of_log_ratio: impl Fn(f64) -> f64) -> Effect {
        let main = self.estimate(&self.contrast, self.pooled(), &of_log_ratio);
        let alone = self.estimate(&self.contrast, self.contrast.scatter, &of_log_ratio);
        Effect {
            main,
            alone: alone.known().is_some().then_some(alone),
        }
    }

    fn estimate(&self, contrast: &Contrast, scatter: Scatter, of: impl Fn(f64) -> f64) -> Estimate {
        let Some(half) = half_width(self.joint, contrast, scatter) else {
            return Estimate::unknown(self.no_scatter());
        };
        let d = contrast.estimate;
        let unit = match contrast.unit {
            Unit::Session => "sessions within days",
            Unit::Day => "days within setups",
        };
        let method = format!(
            "contrast of {unit}, t on {:.0} df of scatter, shared parameters by the delta method",
            scatter.df
        );
        Estimate::between(of(d), of(d - half), of(d + half), method)
    }

    fn no_scatter(&self) -> String {
        match self.contrast.unit {
            Unit::Session => "too few sessions to see how much they scatter".to_owned(),
            Unit::Day => "no day has both setups, so the part cannot be told from the day, and the book has no other days from which day-to-day scatter could be learned".to_owned(),
        }
    }

    /// Settled mean coolant against ambient for both setups, with the interval of each setup's
    /// mean from the scatter of its sessions.
    pub fn curves(&self, sessions: &[Observation], after: &[bool], limit_c: Option<f64>) -> Curves {
        let ambients: Vec<f64> = (0..=8).map(|i| 5.0 * f64::from(i)).collect();
        let of_side = |side: bool| {
            let members: Vec<usize> = (0..after.len()).filter(|&i| after[i] == side).collect();
            let mut weights = vec![0.0; self.joint.sessions.len()];
            for &i in &members {
                weights[i] = 1.0 / members.len() as f64;
            }
            let centre = if side { self.contrast.estimate } else { 0.0 };
            let own = Contrast {
                estimate: centre,
                weights,
                unit: self.contrast.unit,
                factor: 1.0 / self.units(sessions, &members) as f64,
                scatter: self.contrast.scatter,
            };
            let at = |ambient_c: f64| {
                let settle = |d: f64| {
                    let g_w_per_k = self.before.g_w_per_k * d.exp();
                    self.drive
                        .settle(
                            &CarModel {
                                g_w_per_k,
                                ..self.before
                            },
                            ambient_c,
                        )
                        .mean_c
                };
                self.estimate(&own, self.pooled(), settle)
            };
            ambients.iter().map(|&a| at(a)).collect::<Vec<_>>()
        };
        Curves {
            before: of_side(false),
            after: of_side(true),
            ambient_c: ambients,
            limit_c,
        }
    }

    fn units(&self, sessions: &[Observation], members: &[usize]) -> usize {
        match self.contrast.unit {
            Unit::Session => members.len(),
            Unit::Day => {
                let mut days: Vec<_> = members.iter().map(|&i| sessions[i].day).collect();
                days.sort_unstable();
                days.dedup();
                days.len()
            }
        }
    }

    /// One session's own line.
    pub fn row(&self, session: &Prepared, index: usize) -> SessionRow {
        let balance = &self.joint.sessions[index];
        let half = log_g_half_width(self.joint, index).unwrap_or(f64::INFINITY);
        let own = car_model(session, self.joint, balance.log_g);
        let settled = |shift: f64, ambient_c: f64| {
            let g_w_per_k = own.g_w_per_k * shift.exp();
            self.drive
                .settle(
                    &CarModel {
                        g_w_per_k,
                        ..self.before
                    },
                    ambient_c,
                )
                .mean_c
        };
        let ambient_c = session.mean_in_stints(session.ambient_c.as_deref().unwrap_or_default());
        let heat = self.joint.heat_w(session);
        let method = "this session's windows alone";
        let log_relative = balance.log_g - self.before.g_w_per_k.ln();
        SessionRow {
            id: session.id.clone(),
            setup: session.setup.clone(),
            day: session.day,
            ambient_c,
            coolant_c: session.mean_in_stints(&session.coolant_c),
            speed_kmh: session.mean_in_stints(&session.speed_kmh),
            heat_kw: session.mean_in_stints(&heat) / 1000.0,
            used_s: session.stint_s(),
            relative_conductance: Estimate::between(
                log_relative.exp(),
                (log_relative - half).exp(),
                (log_relative + half).exp(),
                method,
            ),
            settled_c: Estimate::between(
                settled(0.0, self.ambient_c),
                settled(half, self.ambient_c),
                settled(-half, self.ambient_c),
                method,
            ),
            settled_at_own_ambient_c: settled(0.0, ambient_c),
        }
    }
}

/// The used session whose pace is the median, and its place.
pub fn median_session(sessions: &[&Prepared], joint: &JointFit) -> usize {
    let heats = sessions.iter().map(|s| s.mean_in_stints(&joint.heat_w(s)));
    let heats: Vec<f64> = heats.collect();
    let mut order: Vec<usize> = (0..sessions.len()).collect();
    order.sort_by(|&a, &b| heats[a].total_cmp(&heats[b]));
    order[order.len() / 2]
}

/// Mean `log g` of the sessions of one side.
pub fn mean_log_g(sessions: &[Observation], after: &[bool], side: bool) -> f64 {
    let values: Vec<f64> = sessions
        .iter()
        .zip(after)
        .filter(|(_, a)| **a == side)
        .map(|(s, _)| s.log_g)
        .collect();
    mean(&values)
}
