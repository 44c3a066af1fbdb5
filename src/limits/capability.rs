//! What a setup can stand: what its sessions say of another session of the kind.
//!
//! Each session says one figure by its own drive. Setups of a car are cells, days groups, sessions scatter within
//! them (`stats::grouped`); the interval is one for another session on another day, so that it holds the scatter
//! of sessions and of days, not only the doubt about a mean. Sessions of one day alone do not tell how far days
//! differ: then it is one for another session of that day, and a caution says so. By the model a session says the
//! middle of its draws of gusts; another session has gusts of its own, so what one drive's peak scatters by beyond its
//! level (`√(h² - h²)` of the half-widths of both, mean square over sessions: the level's scatter is in that of the
//! sessions) goes in besides, half-widths added as squares. By the 1:1 rule a session says the peak that it read, gusts
//! in it. Assumption: it is driven as these were. How often the intervals hold is counted by `examples/would_have`.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::SessionLimit;
use crate::session::SessionMeta;
use crate::stats::grouped::{BETWEEN_GROUPS, Grouped, Known};
use crate::stats::{Estimate, Interval};
use crate::warning::Warning;
use crate::words::quoted;

/// Ambients at which peaks are told, °C.
pub(super) const AMBIENTS_C: [f64; 10] = [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0];

/// Sessions scatter by this at the least, K (by simulation): a few that agree by luck do not make a narrow
/// interval.
const USUAL_SESSION_SD_K: f64 = 0.75;

/// Scale of the prior on the scatter of days where it is left out.
const NO_GROUPS: f64 = 1e-9;

/// A peak at an ambient.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct OverAmbient {
    /// Ambient, °C.
    pub ambient_c: f64,
    /// Peak of the drive gone on, °C.
    pub peak_c: Estimate,
}

/// What a setup can stand. Field names are the machine interface.
#[derive(Debug, Clone, Serialize)]
pub struct SetupLimit {
    /// The car, as its sheet names it.
    pub car: Option<String>,
    /// The setup.
    pub setup: String,
    /// Sessions that the model can say something of.
    pub sessions: usize,
    /// Their days; a session whose day is not known counts as a day of its own.
    pub days: usize,
    /// Limiting ambient by the 1:1 rule.
    pub limiting_ambient_c: Estimate,
    /// By the model, sustained.
    pub limiting_ambient_model_c: Estimate,
    /// By the model, for the laps asked for.
    pub limiting_ambient_laps_c: Estimate,
    /// By the model, in the wake asked for.
    pub limiting_ambient_wake_c: Estimate,
    /// Air-to-boil by the 1:1 rule.
    pub air_to_boil_c: Estimate,
    /// Peak of the drive gone on, over ambient.
    pub peak_over_ambient: Vec<OverAmbient>,
    /// Whether all sessions of the car that say something are of one day.
    #[serde(skip)]
    pub one_day: bool,
}

/// A session with its setup's place among those of its car, and its day's.
struct Placed<'a> {
    session: &'a SessionLimit,
    setup: usize,
    day: usize,
}

/// What each setup of each car can stand, in the order in which they were first run.
pub(super) fn capability(judged: &[SessionLimit], metas: &[SessionMeta]) -> Vec<SetupLimit> {
    let by_id: BTreeMap<&str, &SessionLimit> = judged.iter().map(|s| (s.id.as_str(), s)).collect();
    let mut cars: Vec<(Option<&str>, Vec<&SessionMeta>)> = Vec::new();
    for meta in metas {
        let name = meta.car.name.as_deref();
        match cars.iter_mut().find(|(car, _)| *car == name) {
            Some((_, of_car)) => of_car.push(meta),
            None => cars.push((name, vec![meta])),
        }
    }
    (cars.iter())
        .flat_map(|(car, metas)| of_car(*car, metas, &by_id))
        .collect()
}

fn of_car(
    car: Option<&str>,
    metas: &[&SessionMeta],
    by_id: &BTreeMap<&str, &SessionLimit>,
) -> Vec<SetupLimit> {
    let (mut setups, mut days) = (Vec::new(), Vec::new());
    let mut placed: Vec<Placed> = Vec::new();
    for meta in metas {
        let Some(session) = by_id.get(meta.label().as_str()).copied() else {
            continue;
        };
        if session.would_have_peaked_c.known().is_none() {
            continue;
        }
        let day = meta.day.map_or_else(|| meta.label(), |day| day.to_string());
        placed.push(Placed {
            session,
            setup: place(&mut setups, meta.setup.clone()),
            day: place(&mut days, day),
        });
    }
    let one_day = days.len() == 1;
    (setups.iter().enumerate())
        .map(|(setup, name)| {
            let own = placed.iter().filter(|p| p.setup == setup);
            let mut own_days: Vec<usize> = own.clone().map(|p| p.day).collect();
            let sessions = own_days.len();
            own_days.sort_unstable();
            own_days.dedup();
            let by_rule = |of: &dyn Fn(&SessionLimit) -> Option<Estimate>| {
                another(&placed, (setup, one_day), of, None)
            };
            let by_model = |of: &dyn Fn(&SessionLimit) -> Option<Estimate>| {
                another(
                    &placed,
                    (setup, one_day),
                    of,
                    Some((GUSTS, &SessionLimit::gusts_square_k2)),
                )
            };
            let in_wake = |of: &dyn Fn(&SessionLimit) -> Option<Estimate>| {
                let square = |s: &SessionLimit| s.gusts_square_k2() + s.wake_square_k2();
                another(
                    &placed,
                    (setup, one_day),
                    of,
                    Some((GUSTS_AND_EXPONENT, &square)),
                )
            };
            SetupLimit {
                car: car.map(str::to_owned),
                setup: name.clone(),
                sessions,
                days: own_days.len(),
                limiting_ambient_c: by_rule(&|s| Some(s.limiting_ambient_c.clone())),
                limiting_ambient_model_c: by_model(&|s| Some(s.limiting_ambient_model_c.clone())),
                limiting_ambient_laps_c: by_model(&|s| Some(s.limiting_ambient_laps_c.clone())),
                limiting_ambient_wake_c: in_wake(&|s| Some(s.limiting_ambient_wake_c.clone())),
                air_to_boil_c: by_rule(&|s| Some(s.air_to_boil_c.clone())),
                peak_over_ambient: (AMBIENTS_C.iter().enumerate())
                    .map(|(i, &ambient_c)| OverAmbient {
                        ambient_c,
                        peak_c: by_model(&|s| Some(s.peak_over_ambient.get(i)?.peak_c.clone())),
                    })
                    .collect(),
                one_day,
            }
        })
        .collect()
}

/// A caution for the setups that are told from one day only.
pub(super) fn of_one_day(setups: &[SetupLimit]) -> Option<Warning> {
    let told = setups
        .iter()
        .filter(|setup| setup.one_day && setup.limiting_ambient_c.known().is_some());
    let names: Vec<String> = told.map(|setup| quoted(&setup.setup)).collect();
    (!names.is_empty()).then(|| {
        Warning::caution(
            "one-day",
            format!(
                "what {} can stand is told for another session of the same day: one day does not tell how far days differ",
                names.join(", ")
            ),
        )
    })
}

/// The place of `name` in `names`, where it is put if it is not there.
fn place<T: PartialEq>(names: &mut Vec<T>, name: T) -> usize {
    names.iter().position(|n| *n == name).unwrap_or_else(|| {
        names.push(name);
        names.len() - 1
    })
}

/// What goes into the interval besides the scatter of what sessions say: its name, and a session's squared half-width.
type Besides<'a> = (&'static str, &'a dyn Fn(&SessionLimit) -> f64);

const GUSTS: &str = "the gusts of one drive";
const GUSTS_AND_EXPONENT: &str = "the gusts of one drive and the exponent on air speed";

/// What another session of the setup would say; of the same day where all are of `one_day`.
fn another(
    placed: &[Placed],
    (setup, one_day): (usize, bool),
    of: &dyn Fn(&SessionLimit) -> Option<Estimate>,
    besides: Option<Besides<'_>>,
) -> Estimate {
    let known: Vec<(&Placed, Interval)> = (placed.iter())
        .filter_map(|p| Some((p, of(p.session)?.known()?.clone())))
        .collect();
    if !known.iter().any(|(p, _)| p.setup == setup) {
        let whys = placed.iter().filter(|p| p.setup == setup);
        let why = whys
            .filter_map(|p| of(p.session)?.why().map(str::to_owned))
            .next();
        return Estimate::unknown(why.unwrap_or_else(|| "no session says".to_owned()));
    }
    let (mut cells, mut groups) = (Vec::new(), Vec::new());
    let (mut cell, mut group, mut value) = (vec![], vec![], vec![]);
    for (p, own) in &known {
        cell.push(place(&mut cells, p.setup));
        group.push(place(&mut groups, p.day));
        value.push(own.estimate);
    }
    let prior = Known {
        prior_ratio: if one_day { NO_GROUPS } else { BETWEEN_GROUPS },
        least_variance: USUAL_SESSION_SD_K.powi(2),
    };
    let asked = place(&mut cells, setup);
    let Some(fit) = Grouped::new(&value, &cell, &group, prior) else {
        return Estimate::unknown("one session a setup: nothing tells the scatter of sessions");
    };
    let next = fit.another(asked);
    let Some((low, high)) = next.interval(0.0) else {
        return Estimate::unknown("the sessions do not tell their scatter");
    };
    let method = match one_day {
        true => {
            "another session on the same day, driven as these were: Student's t over the setup's sessions"
        }
        false => {
            "another session on another day, driven as these were: Student's t over the setup's sessions, days as groups"
        }
    };
    let scatter = Estimate::between(next.estimate, low, high, method);
    let Some((name, square_k2)) = besides else {
        return scatter;
    };
    let squares = known.iter().map(|(p, _)| square_k2(p.session));
    let half_k = (squares.sum::<f64>() / known.len() as f64).sqrt();
    let wider = |end: f64| (next.estimate - end).hypot(half_k);
    Estimate::between(
        next.estimate,
        next.estimate - wider(low),
        next.estimate + wider(high),
        format!("{method}, and {name}"),
    )
}
