//! The first answer: both fitted cars driven through the same drive at the same ambient.
//!
//! The contrast of `log g` (see `contrast`) with its ends: the scatter of sessions and days, and
//! what the shared parameters leave open where the two sides were driven differently. The change of
//! coolant follows from the ratio of conductances by driving the car; both are monotone in each
//! other, so the ends of the interval go through the same drive.

use super::answer::{Curves, Effect, SessionRow};
use super::contrast::{Contrast, Layout, NoInterval, Unit};
use crate::estimate::joint::JointFit;
use crate::estimate::log_g_half_width;
use crate::estimate::prepare::Prepared;
use crate::estimate::simulate::{CarModel, ReferenceDrive, Settled};
use crate::stats::Estimate;
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
    /// After minus before, as all sessions of the book show it.
    pub contrast: Result<Contrast, NoInterval>,
    /// The same from the sessions of these two setups alone.
    pub alone: Result<Contrast, NoInterval>,
    /// How many comparisons hold the level together.
    pub family: u32,
}

/// The ends of a contrast of `log g`: scatter, stated scatter of days, and what the shared parameters
/// leave open.
pub fn ends(joint: &JointFit, contrast: &Contrast, family: u32) -> Option<(f64, f64)> {
    let shared = joint.shared_variance(&contrast.value.weights);
    let known = contrast.stated_variance + shared;
    contrast.value.interval_of(known, family)
}

impl Standard<'_> {
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

    /// Another contrast of the same sessions as a change of mean coolant.
    pub fn change_of(&self, contrast: &Result<Contrast, NoInterval>) -> Estimate {
        let reference = self.settle(0.0, None).mean_c;
        self.estimate(contrast, |d| self.settle(d, None).mean_c - reference)
    }

    /// Change of mean coolant for a ratio of conductances, given as its logarithm, K.
    pub fn change_k(&self, log_ratio: f64) -> f64 {
        self.settle(log_ratio, None).mean_c - self.settle(0.0, None).mean_c
    }

    fn change(&self, thermostat: Option<Thermostat>, of: impl Fn(Settled) -> f64) -> Effect {
        let reference = of(self.settle(0.0, thermostat));
        self.effect(|log_ratio| of(self.settle(log_ratio, thermostat)) - reference)
    }

    fn settle(&self, log_ratio: f64, thermostat: Option<Thermostat>) -> Settled {
        let car = CarModel {
            thermostat,
            ..self.before.shifted(log_ratio)
        };
        self.drive.settle(&car, self.ambient_c)
    }

    fn effect(&self, of_log_ratio: impl Fn(f64) -> f64) -> Effect {
        let main = self.estimate(&self.contrast, &of_log_ratio);
        let alone = self.estimate(&self.alone, &of_log_ratio);
        Effect {
            main,
            alone: alone.known().is_some().then_some(alone),
        }
    }

    fn estimate(
        &self,
        contrast: &Result<Contrast, NoInterval>,
        of: impl Fn(f64) -> f64,
    ) -> Estimate {
        let contrast = match contrast {
            Ok(contrast) => contrast,
            Err(none) => return Estimate::unknown(none.why()),
        };
        match ends(self.joint, contrast, self.family) {
            Some((low, high)) => {
                let centre = of(contrast.value.estimate);
                Estimate::between(centre, of(low), of(high), self.method(contrast))
            }
            None => Estimate::unknown("the interval could not be computed"),
        }
    }

    fn method(&self, contrast: &Contrast) -> String {
        let unit = match (contrast.unit, contrast.stated_variance > 0.0) {
            (_, true) => "sessions, scatter of days as stated",
            (Unit::Session, _) => "sessions within days",
            (Unit::Day, _) => "days",
        };
        let family = match self.family {
            0 | 1 => String::new(),
            n => format!("; one of {n} that hold the level together (Bonferroni)"),
        };
        format!(
            "contrast of {unit}: t on {:.0} df averaged over the ratio of day to session scatter, shared parameters by the delta method{family}",
            contrast.value.df
        )
    }

    /// Settled mean coolant against ambient for both setups, with the interval of each setup's
    /// mean, scatter of days included.
    pub fn curves(&self, layout: &Layout, sides: [&str; 2], limit_c: Option<f64>) -> Curves {
        let ambient_c: Vec<f64> = (0..=8).map(|i| 5.0 * f64::from(i)).collect();
        let [before, after] = sides.map(|setup| {
            let of_setup = layout.mean_of(setup).and_then(|mean| {
                let shared = self.joint.shared_variance(&mean.weights);
                Some((mean.estimate, mean.interval(shared)?))
            });
            let curve = ambient_c.iter().map(|&ambient_c| match of_setup {
                Some((centre, (low, high))) => {
                    let settle = |log_g: f64| self.settled_c(log_g, ambient_c);
                    let method = "mean of the setup, scatter of sessions and days";
                    Estimate::between(settle(centre), settle(low), settle(high), method)
                }
                None => Estimate::unknown("too few sessions to see how much they scatter"),
            });
            curve.collect()
        });
        Curves {
            before,
            after,
            ambient_c,
            limit_c,
        }
    }

    /// Where a car of this `log g` settles on the drive, thermostat open, °C.
    fn settled_c(&self, log_g: f64, ambient_c: f64) -> f64 {
        let car = CarModel {
            g_w_per_k: log_g.exp(),
            ..self.before
        };
        self.drive.settle(&car, ambient_c).mean_c
    }

    /// One session's own line.
    pub fn row(&self, session: &Prepared, index: usize) -> SessionRow {
        let balance = &self.joint.sessions[index];
        let half = log_g_half_width(self.joint, index).unwrap_or(f64::INFINITY);
        let settled = |shift: f64, ambient_c| self.settled_c(balance.log_g + shift, ambient_c);
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
            laps: session.windows.laps(),
            laps_held_up: session.windows.laps_left_out(),
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
    let heats = sessions
        .iter()
        .map(|s| s.mean_in_stints(&joint.heat_at_reference_w(s)));
    let heats: Vec<f64> = heats.collect();
    let mut order: Vec<usize> = (0..sessions.len()).collect();
    order.sort_by(|&a, &b| heats[a].total_cmp(&heats[b]));
    order[order.len() / 2]
}

impl NoInterval {
    fn why(self) -> &'static str {
        match self {
            Self::TooFew => "too few sessions to see how much they scatter",
            Self::DayOrPart => {
                "no day has both setups, so the part cannot be told from the day, and the book has no other days from which day-to-day scatter could be learned"
            }
        }
    }
}
