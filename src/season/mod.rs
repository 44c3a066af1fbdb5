//! A car's season: all its sessions in time order, their conductance at the same conditions, and whether it
//! drifts.
//!
//! Inner modules do the work: one fit of all sessions of the car (`compare::CarFit`), so that heat capacity and
//! law of heat are shared and cancel; `drift` asks whether the conductance changes as the season goes on.

mod drift;
mod words;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, NaiveDateTime};
use serde::Serialize;

use crate::compare::{CarFit, Eligible, by_car};
use crate::estimate::log_g_half_width;
use crate::estimate::simulate::{CarModel, ReferenceDrive};
use crate::session::{Session, SessionMeta};
use crate::stats::{Estimate, mean};
use crate::thermal::air::STANDARD_DENSITY_KG_M3;
use crate::thermal::conductance::REFERENCE_SPEED_KMH;
use crate::warning::Warning;
use crate::words::quoted;
use drift::{ALPHA, Tried};

pub use drift::Form;
pub use words::{how_tested, sentences};

/// The document of `heatbook season`.
#[derive(Debug, Clone, Serialize)]
pub struct SeasonAnswer {
    /// One a car.
    pub cars: Vec<CarSeason>,
    /// What the reader must know besides.
    pub warnings: Vec<Warning>,
}

/// One car's season. Field names are the machine interface.
#[derive(Debug, Clone, Serialize)]
pub struct CarSeason {
    /// Its name in the car sheet.
    pub car: Option<String>,
    /// In time order.
    pub sessions: Vec<SeasonSession>,
    /// Whether its conductance drifts.
    pub drift: Drift,
    /// Ambient at which sessions are told as settled coolant, °C.
    pub at_ambient_c: Option<f64>,
    /// Speed at which conductances are told, km/h.
    pub at_speed_kmh: f64,
    /// Density at which they are told, kg/m³.
    pub at_air_density_kg_m3: f64,
}

/// A session of a season.
#[derive(Debug, Clone, Serialize)]
pub struct SeasonSession {
    /// The session's id.
    pub id: String,
    /// Its setup.
    pub setup: String,
    /// Its day.
    pub day: Option<NaiveDate>,
    /// Its first row.
    pub start: Option<NaiveDateTime>,
    /// Conductance over the mean of the car's sessions, at the same conditions.
    pub conductance: Estimate,
    /// Where coolant would settle with it, on one drive at one ambient.
    pub settled_c: Estimate,
    /// Where the drift that was found (or, where none was, the mean of the setup) puts `conductance`.
    pub expected: Option<f64>,
    /// Why it has no conductance.
    pub why: Option<String>,
}

/// Whether the conductance drifts.
#[derive(Debug, Clone, Serialize)]
pub struct Drift {
    /// `None`: cannot tell.
    pub shown: Option<bool>,
    /// How; `None` where none is shown.
    pub form: Option<Form>,
    /// Conductance at the last session over that at the first, parts set aside.
    pub conductance_ratio: Estimate,
    /// The same as a change of settled coolant, K.
    pub coolant_change_k: Estimate,
    /// Of a step: the last session before it and the first after.
    pub between: Option<[String; 2]>,
    /// Of the likelier form, corrected for all that was tried.
    pub p: Option<f64>,
    /// Sessions that count.
    pub sessions: usize,
    /// Their days.
    pub days: usize,
    /// Why nothing can be said.
    pub why: Option<String>,
}

impl Drift {
    fn unknown(why: impl Into<String>, sessions: usize, days: usize) -> Self {
        let why = why.into();
        Self {
            shown: None,
            form: None,
            conductance_ratio: Estimate::unknown(&why),
            coolant_change_k: Estimate::unknown(&why),
            between: None,
            p: None,
            sessions,
            days,
            why: Some(why),
        }
    }
}

/// The season of every car. `sessions`: the book in time order.
pub fn season(sessions: &[Session]) -> SeasonAnswer {
    let cars: Vec<CarSeason> = by_car(sessions)
        .into_iter()
        .map(|(car, sessions)| of_car(car, &sessions))
        .collect();
    SeasonAnswer {
        warnings: cars.iter().flat_map(warnings).collect(),
        cars,
    }
}

/// Fewer days hardly tell drift from the weather and the sensors of a day.
const FEWEST_DAYS: usize = 3;

fn warnings(car: &CarSeason) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let name = car
        .car
        .as_deref()
        .map_or_else(|| "the car".to_owned(), quoted);
    if car.drift.shown.is_some() && car.drift.days < FEWEST_DAYS {
        warnings.push(Warning::caution(
            "few-days",
            format!(
                "{name}: its sessions are of {} alone, so drift can hardly be told from the weather and the sensors of a day",
                if car.drift.days == 1 { "one day" } else { "two days" }
            ),
        ));
    }
    let dayless: Vec<&str> = (car.sessions.iter())
        .filter(|s| s.day.is_none())
        .map(|s| s.id.as_str())
        .collect();
    if let Some(first) = dayless.first() {
        warnings.push(Warning::caution(
            "day-unknown",
            format!(
                "{}: not in the search for drift, its place in the season is not known: heatbook amend {first} --day DATE",
                dayless.join(", ")
            ),
        ));
    }
    warnings
}

fn of_car(car: Option<&str>, sessions: &[&Session]) -> CarSeason {
    let rows: Vec<SeasonSession> = sessions.iter().map(|s| blank(&s.meta)).collect();
    let mut season = CarSeason {
        car: car.map(str::to_owned),
        sessions: rows,
        drift: Drift::unknown("not computed", 0, 0),
        at_ambient_c: None,
        at_speed_kmh: REFERENCE_SPEED_KMH,
        at_air_density_kg_m3: STANDARD_DENSITY_KG_M3,
    };
    let (dated, dayless): (Vec<&Session>, Vec<&Session>) =
        sessions.iter().copied().partition(|s| s.meta.day.is_some());
    for session in dayless {
        season.leave_out(&session.meta.label(), "its day is not known");
    }
    let placed = in_order(&dated);
    let dated: Vec<&Session> = placed.iter().map(|(_, s)| *s).collect();
    let eligible = Eligible::of(&dated);
    for left in &eligible.left_out {
        season.leave_out(&left.id, &left.why);
    }
    let used = eligible.used.len();
    let days = eligible
        .used
        .iter()
        .map(|s| s.day)
        .collect::<BTreeSet<_>>()
        .len();
    match eligible.fit() {
        Ok(fit) => {
            let places: BTreeMap<String, f64> = (placed.iter())
                .map(|(place, s)| (s.meta.label(), *place))
                .collect();
            let order: Vec<f64> = fit.used.iter().map(|s| places[&s.id]).collect();
            season.fill(&fit, &order, days);
        }
        Err(why) => season.drift = Drift::unknown(why, used, days),
    }
    season
}

/// The sessions in the order of the season, each with its place, counted from zero. One whose start is not
/// known stands in the middle of its day.
fn in_order<'a>(sessions: &[&'a Session]) -> Vec<(f64, &'a Session)> {
    let middle_of = |day: Option<NaiveDate>| {
        let of_day = (sessions.iter().enumerate()).filter(|(_, s)| s.meta.day == day);
        mean(&of_day.map(|(i, _)| i as f64).collect::<Vec<_>>())
    };
    let placed = sessions.iter().enumerate().map(|(i, session)| {
        let known = session.meta.start.is_some();
        let place = if known {
            i as f64
        } else {
            middle_of(session.meta.day)
        };
        (place, *session)
    });
    let mut placed: Vec<(f64, &Session)> = placed.collect();
    placed.sort_by(|a, b| a.0.total_cmp(&b.0));
    placed
}

fn blank(meta: &SessionMeta) -> SeasonSession {
    SeasonSession {
        id: meta.label(),
        setup: meta.setup.clone(),
        day: meta.day,
        start: meta.start,
        conductance: Estimate::unknown("not fitted"),
        settled_c: Estimate::unknown("not fitted"),
        expected: None,
        why: None,
    }
}

/// A car, the drive it is driven through, and the air outside.
struct Reference {
    car: CarModel,
    drive: ReferenceDrive,
    ambient_c: f64,
}

impl Reference {
    /// Where coolant settles with the conductance off by `shift`, a logarithm.
    fn settled_c(&self, shift: f64) -> f64 {
        let car = self.car.shifted(shift);
        self.drive.settle(&car, self.ambient_c).mean_c
    }
}

impl CarSeason {
    fn leave_out(&mut self, id: &str, why: &str) {
        for session in self.sessions.iter_mut().filter(|s| s.id == id) {
            session.conductance = Estimate::unknown(why);
            session.settled_c = Estimate::unknown(why);
            session.why = Some(why.to_owned());
        }
    }

    /// `order`: the place of each session of the fit in the season, rising; `days`: how many they are of.
    fn fill(&mut self, fit: &CarFit, order: &[f64], days: usize) {
        let Some((_, drive, car)) = fit.reference() else {
            self.drift = Drift::unknown("no stint to drive", fit.used.len(), days);
            return;
        };
        let ambient_c = fit.ambient_c();
        let reference = Reference {
            car,
            drive,
            ambient_c,
        };
        self.at_ambient_c = Some(ambient_c);
        let tried = drift::tried(fit, order);
        let likeliest = tried.iter().min_by(|a, b| a.p.total_cmp(&b.p));
        let found = likeliest.filter(|t| t.p < ALPHA);
        let expected = expected(fit, found);
        for (i, session) in fit.used.iter().enumerate() {
            let half = log_g_half_width(&fit.joint, i).unwrap_or(f64::INFINITY);
            let log = fit.seen[i].log_g - reference.car.g_w_per_k.ln();
            let method = "this session's windows alone";
            for row in self.sessions.iter_mut().filter(|row| row.id == session.id) {
                row.conductance =
                    Estimate::between(log.exp(), (log - half).exp(), (log + half).exp(), method);
                row.settled_c = Estimate::between(
                    reference.settled_c(log),
                    reference.settled_c(log + half),
                    reference.settled_c(log - half),
                    method,
                );
                row.expected = Some((expected[i] - reference.car.g_w_per_k.ln()).exp());
            }
        }
        let ids: Vec<&str> = fit.used.iter().map(|s| s.id.as_str()).collect();
        self.drift = match (found.or(tried.first()), likeliest) {
            (Some(told), Some(likeliest)) => {
                let shown = found.is_some();
                Drift {
                    p: Some(likeliest.p),
                    ..drift_of(told, shown, &ids, &reference, days)
                }
            }
            _ => Drift::unknown(
                "too few sessions: it takes at least two more than there are setups",
                ids.len(),
                days,
            ),
        };
    }
}

/// `log g` of each session by what was found: its setup's mean, and the drift.
fn expected(fit: &CarFit, found: Option<&Tried>) -> Vec<f64> {
    let drift: Vec<f64> = match found {
        Some(t) => t.course.iter().map(|x| x * t.change.estimate).collect(),
        None => vec![0.0; fit.seen.len()],
    };
    let mut of_setup: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for (seen, drift) in fit.seen.iter().zip(&drift) {
        let levels = of_setup.entry(&seen.setup).or_default();
        levels.push(seen.log_g - drift);
    }
    let pairs = fit.seen.iter().zip(&drift);
    pairs
        .map(|(seen, drift)| mean(&of_setup[seen.setup.as_str()]) + drift)
        .collect()
}

fn drift_of(told: &Tried, shown: bool, ids: &[&str], reference: &Reference, days: usize) -> Drift {
    let method = match told.form {
        Form::Steady => {
            "trend over the order of sessions at equal setups, days scatter: t averaged over the ratio of scatters"
        }
        Form::Step => {
            "step at equal setups, days scatter: t averaged over the ratio of scatters, held for all steps tried (Bonferroni)"
        }
    };
    let (ratio, coolant) = match told.ends() {
        None => {
            let none = Estimate::unknown("the interval could not be computed");
            (none.clone(), none)
        }
        Some((low, high)) => {
            let zero = reference.settled_c(0.0);
            let change = |log: f64| reference.settled_c(log) - zero;
            let centre = told.change.estimate;
            (
                Estimate::between(centre.exp(), low.exp(), high.exp(), method),
                Estimate::between(change(centre), change(high), change(low), method),
            )
        }
    };
    Drift {
        shown: Some(shown),
        form: shown.then_some(told.form),
        conductance_ratio: ratio,
        coolant_change_k: coolant,
        between: (told.place().filter(|_| shown))
            .map(|place| [ids[place - 1].to_owned(), ids[place].to_owned()]),
        p: None,
        sessions: ids.len(),
        days,
        why: None,
    }
}

#[cfg(test)]
mod tests;
