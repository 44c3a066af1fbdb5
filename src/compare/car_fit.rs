//! All sessions of one car fitted together: what a season, a plan and a setup's capability rest on.

use std::collections::BTreeMap;

use super::answer::LeftOut;
use super::contrast::{Layout, Observation};
use super::eligible::{self, WhyLeftOut, common_source, hardware_differences};
use super::standardised::median_session;
use super::{mean_ambient, mean_excess_k, observations};
use crate::estimate::joint::{JointFit, fit_converged};
use crate::estimate::prepare::Prepared;
use crate::estimate::simulate::{CarModel, ReferenceDrive};
use crate::session::{Session, SessionMeta};
use crate::stats::mean;

/// The sessions of one car that say what its radiator can do, in one fit.
pub struct CarFit {
    /// The sessions, in the order they were given.
    pub used: Vec<Prepared>,
    /// Their fit.
    pub joint: JointFit,
    /// One each, of the same order.
    pub seen: Vec<Observation>,
}

/// The sessions of one car, sorted: those that count, and those left out with the reason.
pub struct Eligible {
    /// Made ready, in the order they were given.
    pub used: Vec<Prepared>,
    /// Left out.
    pub left_out: Vec<LeftOut>,
}

impl Eligible {
    /// Sorts the sessions of one car. They share the best heat source that all of them have, and the
    /// hardware of the first; a drive logged twice counts once.
    pub fn of(sessions: &[&Session]) -> Self {
        let source = common_source(sessions.iter().copied(), false).source;
        let (mut used, mut left_out) = (Vec::new(), Vec::new());
        let mut kept: Vec<&SessionMeta> = Vec::new();
        for session in sessions {
            let twin = kept.iter().find(|meta| meta.overlaps(&session.meta));
            let differs = hardware_differences(sessions[0], session);
            let why = match (twin, differs.is_empty()) {
                (Some(twin), _) => WhyLeftOut::Overlaps(twin.label()).to_string(),
                (None, false) => format!(
                    "its car sheet differs from that of {} in {}",
                    sessions[0].meta.label(),
                    differs.join(", ")
                ),
                (None, true) => match eligible::usable(session, source, 1.0, false) {
                    Ok(prepared) => {
                        used.push(prepared);
                        kept.push(&session.meta);
                        continue;
                    }
                    Err(why) => why.to_string(),
                },
            };
            left_out.push(LeftOut {
                id: session.meta.label(),
                why,
            });
        }
        Self { used, left_out }
    }

    /// Fits them.
    ///
    /// # Errors
    /// Why there is no fit.
    pub fn fit(self) -> Result<CarFit, String> {
        if self.used.is_empty() {
            return Err("no session can be used".to_owned());
        }
        let used: Vec<&Prepared> = self.used.iter().collect();
        let joint = fit_converged(&used)?;
        Ok(CarFit {
            seen: observations(&used, &joint),
            used: self.used,
            joint,
        })
    }
}

impl CarFit {
    /// How the sessions fall into setups and days.
    pub fn layout(&self) -> Layout {
        Layout::of(&self.seen)
    }

    /// Coolant minus ambient of hot running, mean over the sessions, K.
    pub fn excess_k(&self) -> f64 {
        mean_excess_k(&self.joint)
    }

    /// Mean ambient of hot running, to the whole degree, °C.
    pub fn ambient_c(&self) -> f64 {
        mean_ambient(&self.used.iter().collect::<Vec<_>>())
    }

    /// The session of median heat input with its longest stint as a drive, and the car with the mean
    /// conductance, thermostat held open. `None`: no stint.
    pub fn reference(&self) -> Option<(&Prepared, ReferenceDrive, CarModel)> {
        let used: Vec<&Prepared> = self.used.iter().collect();
        let driven = used[median_session(&used, &self.joint)];
        let log_g: Vec<f64> = self.seen.iter().map(|s| s.log_g).collect();
        let drive = ReferenceDrive::of(driven, &self.joint)?;
        let car = CarModel::of(driven, &self.joint.shared, mean(&log_g));
        Some((driven, drive, car))
    }
}

/// The sessions by car, each car's in the order they were given.
pub fn by_car(sessions: &[Session]) -> BTreeMap<Option<&str>, Vec<&Session>> {
    let mut cars: BTreeMap<Option<&str>, Vec<&Session>> = BTreeMap::new();
    for session in sessions {
        let name = session.meta.car.name.as_deref();
        cars.entry(name).or_default().push(session);
    }
    cars
}
