//! Before against after: which sessions can be compared, two answers, one verdict.

mod answer;
mod contrast;
mod eligible;
mod matched;
mod placebo;
mod standardised;
pub mod verdict;

pub use answer::{
    Balance, Borrowed, Comparison, Curves, Effect, LeftOut, Matched, Placebo, Reference,
    SessionRow, Side, Verdict, WhatItWouldTake,
};
pub use matched::CALIPERS;

use std::collections::BTreeSet;

use crate::car::Affects;
use crate::estimate::joint::{JointFit, fit_jointly};
use crate::estimate::prepare::{Prepared, STEP_S};
use crate::estimate::simulate::ReferenceDrive;
use crate::estimate::{ASSUMED_SESSION_LOG_SD, car_model};
use crate::session::{Session, SessionMeta};
use crate::stats::mean;
use crate::thermal::heat_input::HeatSource;
use crate::warning::Warning;
use contrast::{Contrast, Observation, Unit, contrast, scatter_of_others};
use eligible::{CommonSource, WhyLeftOut, common_source, hardware_differences, overlap};
use placebo::placebos;
use standardised::{Standard, mean_log_g, median_session};

/// Mean lengths of hot running that differ by more than this, as a logarithm, are said.
const LENGTHS_DIFFER: f64 = 0.25;

/// Mean heat inputs that differ by more than this, as a logarithm, are said.
const PACES_DIFFER: f64 = 0.03;

/// What to compare.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// The setup before.
    pub before: String,
    /// The setup after.
    pub after: String,
    /// The smallest change that matters, K.
    pub threshold_k: f64,
    /// Air outside for the standardised answer, °C; `None`: the mean of the sessions'.
    pub ambient_c: Option<f64>,
    /// How often this pair has been looked at with other data, this time included.
    pub looks: u32,
}

/// Compares two setups. `sessions` is the whole book: sessions of other setups of the same car
/// lend their scatter.
pub fn compare(sessions: &[Session], request: &Request) -> Comparison {
    let mut draft = Draft::new(sessions, request);
    if let Some(why) = draft.not_comparable() {
        draft
            .warnings
            .push(Warning::disqualifies("not-comparable", why.clone()));
        return draft.without_answer(Verdict::NotComparable, &why);
    }
    let used = draft.usable();
    let borrowing = draft.borrowing();
    let after: Vec<bool> = used.iter().map(|s| s.setup == request.after).collect();
    if let Some(why) = draft.empty_side(&after) {
        return draft.without_answer(Verdict::CannotTell, &why);
    }
    let everybody: Vec<&Prepared> = used.iter().chain(&borrowing).collect();
    match fit_jointly(&everybody) {
        Ok(joint) if joint.converged => draft.answer(&everybody, &after, &joint),
        Ok(joint) => {
            let why = format!("the joint fit did not converge: {}", joint.termination);
            draft.without_answer(Verdict::CannotTell, &why)
        }
        Err(no_fit) => draft.without_answer(Verdict::CannotTell, &no_fit.0),
    }
}

/// A comparison in the making.
struct Draft<'a> {
    request: &'a Request,
    sessions: &'a [Session],
    source: Option<HeatSource>,
    before: Side,
    after: Side,
    warnings: Vec<Warning>,
    /// Sessions left out because they ran on the thermostat, before and after.
    regulated: [usize; 2],
}

impl<'a> Draft<'a> {
    fn new(sessions: &'a [Session], request: &'a Request) -> Self {
        let side = |setup: &str| Side {
            setup: setup.to_owned(),
            sessions: Vec::new(),
            left_out: Vec::new(),
            days: 0,
        };
        let CommonSource { source, given_up } = common_source(sessions, request);
        let mut warnings = Vec::new();
        if let (Some(used), Some((better, id))) = (source, given_up) {
            warnings.push(Warning::note(
                "heat-source-shared",
                format!(
                    "heat input for all sessions from {}: {id} has no {}",
                    used.label(),
                    better.label()
                ),
            ));
        }
        Self {
            source,
            before: side(&request.before),
            after: side(&request.after),
            request,
            sessions,
            warnings,
            regulated: [0, 0],
        }
    }

    fn of_setup(&self, setup: &str) -> impl Iterator<Item = &'a Session> {
        let setup = setup.to_owned();
        self.sessions.iter().filter(move |s| s.meta.setup == setup)
    }

    /// Why the two setups cannot be compared at all, if they cannot.
    fn not_comparable(&self) -> Option<String> {
        if self.request.before == self.request.after {
            return Some("a setup cannot be compared with itself".to_owned());
        }
        let first = self.of_setup(&self.request.before).next()?;
        for other in self.sessions.iter().filter(|s| self.is_compared(s)) {
            if other.meta.car.name != first.meta.car.name {
                return Some(format!(
                    "{} and {} are of different cars ({} and {})",
                    first.meta.label(),
                    other.meta.label(),
                    first.meta.car.name.as_deref().unwrap_or("no name"),
                    other.meta.car.name.as_deref().unwrap_or("no name"),
                ));
            }
            let keys = hardware_differences(first, other);
            if !keys.is_empty() {
                return Some(format!(
                    "the car sheets of {} and {} differ in {}: put what a setup changes into its setup sheet",
                    first.meta.label(),
                    other.meta.label(),
                    keys.join(", "),
                ));
            }
        }
        None
    }

    fn is_compared(&self, session: &Session) -> bool {
        [&self.request.before, &self.request.after].contains(&&session.meta.setup)
    }

    /// The compared sessions that can be used; the others are noted with their reasons.
    fn usable(&mut self) -> Vec<Prepared> {
        let mut used = Vec::new();
        let mut kept: Vec<&SessionMeta> = Vec::new();
        let compared: Vec<&Session> = self
            .sessions
            .iter()
            .filter(|s| self.is_compared(s))
            .collect();
        for session in compared {
            let id = session.meta.label();
            let (side, regulated) = if session.meta.setup == self.request.before {
                (&mut self.before, &mut self.regulated[0])
            } else {
                (&mut self.after, &mut self.regulated[1])
            };
            let twin = kept.iter().find(|meta| overlap(meta, &session.meta));
            let usable = match twin {
                Some(twin) => Err(WhyLeftOut::Overlaps(twin.label())),
                None => eligible::usable(session, self.source),
            };
            match usable {
                Ok(prepared) => {
                    side.sessions.push(id);
                    kept.push(&session.meta);
                    used.push(prepared);
                }
                Err(why) => {
                    *regulated += usize::from(why.is_regulated());
                    let why = why.to_string();
                    side.left_out.push(LeftOut { id, why });
                }
            }
        }
        for side in [&mut self.before, &mut self.after] {
            let days: BTreeSet<_> = used
                .iter()
                .filter(|s| s.setup == side.setup)
                .map(|s| s.day)
                .collect();
            side.days = days.len();
        }
        self.note_assumptions(&used);
        used
    }

    /// Sessions of other setups of the same car: they lend their scatter.
    fn borrowing(&self) -> Vec<Prepared> {
        let Some(first) = self.of_setup(&self.request.before).next() else {
            return Vec::new();
        };
        self.sessions
            .iter()
            .filter(|s| !self.is_compared(s))
            .filter(|s| s.meta.car.name == first.meta.car.name)
            .filter(|s| hardware_differences(first, s).is_empty())
            .filter_map(|s| eligible::usable(s, self.source).ok())
            .collect()
    }

    fn note_assumptions(&mut self, used: &[Prepared]) {
        let mut seen = BTreeSet::new();
        for warning in used.iter().flat_map(|s| &s.warnings) {
            if seen.insert(warning.id.clone()) {
                self.warnings.push(warning.clone());
            }
        }
        let unknown: Vec<&str> = used
            .iter()
            .filter(|s| s.day.is_none())
            .map(|s| s.id.as_str())
            .collect();
        if !unknown.is_empty() {
            self.warnings.push(Warning::caution(
                "day-unknown",
                format!(
                    "the day of {} is not known, so it counts as a day of its own: heatbook amend ID --day DATE",
                    unknown.join(", ")
                ),
            ));
        }
        self.note_left_out();
        let heat = self
            .sessions
            .iter()
            .filter(|s| self.is_compared(s))
            .any(|s| s.meta.setup_sheet.affects.contains(&Affects::Heat));
        if heat {
            self.warnings.push(Warning::caution(
                "part-affects-heat",
                "a setup sheet says that the heat input is affected: the change of coolant holds, but the conductance ratio mixes heat and conductance",
            ));
        }
        if self.request.looks > 1 {
            self.warnings.push(Warning::caution(
                "repeated-looks",
                format!(
                    "this pair has been looked at {} times with different data: stopping when the answer pleases makes wrong answers likelier than the interval says",
                    self.request.looks
                ),
            ));
        }
    }

    /// Regulated sessions fall out because they ran cool: that selects on the response.
    fn note_left_out(&mut self) {
        for (side, regulated) in [&self.before, &self.after].into_iter().zip(self.regulated) {
            if regulated > 0 {
                self.warnings.push(Warning::caution(
                    "regulated-left-out",
                    format!(
                        "{regulated} of the sessions with {} ran on the thermostat and are left out; they were the cool ones, so {} looks worse than it is",
                        side.setup, side.setup
                    ),
                ));
            }
        }
    }

    fn empty_side(&self, after: &[bool]) -> Option<String> {
        let missing = match (after.contains(&false), after.contains(&true)) {
            (true, true) => return None,
            (false, true) => &self.before,
            (true, false) => &self.after,
            (false, false) => {
                return Some("neither setup has a session that can be assessed".to_owned());
            }
        };
        let why = missing
            .left_out
            .first()
            .map_or("there is none", |l| l.why.as_str());
        Some(format!(
            "no session with {} can be assessed ({why})",
            missing.setup
        ))
    }

    fn answer(mut self, everybody: &[&Prepared], after: &[bool], joint: &JointFit) -> Comparison {
        let (used, others) = everybody.split_at(after.len());
        let observed = |sessions: &[&Prepared], from: usize| -> Vec<Observation> {
            sessions
                .iter()
                .enumerate()
                .map(|(i, s)| Observation {
                    log_g: joint.sessions[from + i].log_g,
                    setup: s.setup.clone(),
                    day: s.day,
                })
                .collect()
        };
        let observations = observed(used, 0);
        let Some(contrast) = contrast(&observations, after) else {
            return self.without_answer(Verdict::CannotTell, "one side is empty");
        };
        self.note_confounding(&contrast);
        self.note_stint_lengths(used);
        self.note_pace(used, joint);
        let (borrowed, sessions, days) =
            scatter_of_others(&observed(others, used.len()), contrast.unit);
        let median = median_session(used, joint);
        let Some(drive) = ReferenceDrive::of(used[median], joint) else {
            return self.without_answer(Verdict::CannotTell, "no stint to drive");
        };
        let standard = Standard {
            before: car_model(used[median], joint, mean_log_g(&observations, after, false)),
            thermostat: used[median].thermostat,
            ambient_c: self.request.ambient_c.unwrap_or_else(|| mean_ambient(used)),
            borrowed_from: (borrowed.df > 0.0).then_some(Borrowed { sessions, days }),
            drive,
            joint,
            contrast,
            borrowed,
        };
        self.note_few(&standard);
        self.finish(&standard, used, &observations, after, median)
    }

    /// Two sessions that agree by luck make a narrow interval; over many tests it keeps its word,
    /// in one test it may look stronger than it is.
    fn note_few(&mut self, standard: &Standard) {
        let df = standard.pooled().df;
        if df > 0.0 && df <= 2.0 {
            self.warnings.push(Warning::caution(
                "few-sessions",
                format!("the scatter is judged from {df:.0} degrees of freedom only: another day would tell whether it holds"),
            ));
        }
    }

    /// A change of pace goes through the model, and the model through its priors.
    fn note_pace(&mut self, used: &[&Prepared], joint: &JointFit) {
        let of = |setup: &str| {
            let heats = used.iter().filter(|s| s.setup == setup);
            mean(
                &heats
                    .map(|s| s.mean_in_stints(&joint.heat_w(s)))
                    .collect::<Vec<_>>(),
            )
        };
        let apart = (of(&self.request.after) / of(&self.request.before)).ln();
        if apart.abs() > PACES_DIFFER {
            self.warnings.push(Warning::caution(
                "pace-differs",
                format!(
                    "mean heat input with {} is {:+.1} % off that with {}: how coolant follows pace is known only roughly, and the change leans on it",
                    self.request.after,
                    100.0 * apart.exp_m1(),
                    self.request.before
                ),
            ));
        }
    }

    /// Heat that oil and block still take up counts as conductance in a short session.
    fn note_stint_lengths(&mut self, used: &[&Prepared]) {
        let of = |setup: &str| {
            let lengths = used.iter().filter(|s| s.setup == setup);
            mean(&lengths.map(|s| s.stint_s()).collect::<Vec<_>>())
        };
        let (before, after) = (of(&self.request.before), of(&self.request.after));
        if (before / after).ln().abs() > LENGTHS_DIFFER {
            self.warnings.push(Warning::caution(
                "stint-lengths-differ",
                format!(
                    "hot running lasted {before:.0} s with {} and {after:.0} s with {}: short sessions look better than long ones, so let both setups run alike",
                    self.request.before, self.request.after
                ),
            ));
        }
    }

    fn note_confounding(&mut self, contrast: &Contrast) {
        if contrast.unit == Unit::Day {
            self.warnings.push(Warning::caution(
                "days-confounded",
                "no day has both setups: fuel, sensors, wind and driver of the day are in the change; run both setups on each day (A B B A)",
            ));
        }
    }

    fn finish(
        self,
        standard: &Standard,
        used: &[&Prepared],
        observations: &[Observation],
        after: &[bool],
        median: usize,
    ) -> Comparison {
        let request = self.request;
        let coolant_change_k = standard.mean_change();
        let matched = matched::matched(used, standard.joint, after, standard.contrast.unit);
        let answers_agree = agree(&coolant_change_k, &matched);
        let verdict = verdict::judge(
            &coolant_change_k.main,
            request.threshold_k,
            answers_agree,
            self.regulated,
            matched.pairs,
        );
        let take = (verdict == Verdict::CannotTell)
            .then(|| {
                outlook(
                    standard,
                    observations,
                    after,
                    request.threshold_k,
                    &coolant_change_k,
                )
            })
            .flatten();
        let limit_c = used[median].car.limit_coolant_c;
        Comparison {
            reference: Reference {
                ambient_c: standard.ambient_c,
                drive: format!(
                    "longest stint of {} ({:.0} s, the session of median pace), repeated until settled; heat input from {}",
                    used[median].id,
                    standard.drive.heat_w.len() as f64 * STEP_S,
                    used[median]
                        .heat
                        .as_ref()
                        .map_or("nothing", |h| h.source.label()),
                ),
                thermostat: used[median].thermostat.describe(),
            },
            coolant_peak_change_k: standard.peak_change(),
            coolant_change_regulated_k: standard.regulated_change(),
            conductance_ratio: standard.conductance_ratio(),
            borrowed: standard.borrowed_from.clone(),
            answers_agree,
            placebo: placebos(standard, observations, after),
            verdict,
            threshold_k: request.threshold_k,
            smallest_excludable_k: verdict::smallest_excludable_k(&coolant_change_k.main),
            what_it_would_take: take,
            looks: request.looks,
            rows: used
                .iter()
                .enumerate()
                .map(|(i, s)| standard.row(s, i))
                .collect(),
            curves: Some(standard.curves(observations, after, limit_c)),
            coolant_change_k,
            matched,
            before: self.before,
            after: self.after,
            warnings: self.warnings,
        }
    }

    fn without_answer(self, verdict: Verdict, why: &str) -> Comparison {
        let (change, threshold_k) = (Effect::unknown(why), self.request.threshold_k);
        Comparison {
            before: self.before,
            after: self.after,
            reference: Reference {
                ambient_c: self.request.ambient_c.unwrap_or(20.0),
                drive: format!("none: {why}"),
                thermostat: "not applied".to_owned(),
            },
            coolant_change_k: change,
            coolant_peak_change_k: Effect::unknown(why),
            coolant_change_regulated_k: Effect::unknown(why),
            conductance_ratio: Effect::unknown(why),
            borrowed: None,
            matched: Matched {
                pairs: 0,
                coolant_change_k: crate::stats::Estimate::unknown(why),
                balance: Vec::new(),
            },
            answers_agree: None,
            placebo: Vec::new(),
            verdict,
            threshold_k,
            smallest_excludable_k: None,
            what_it_would_take: None,
            looks: self.request.looks,
            warnings: self.warnings,
            rows: Vec::new(),
            curves: None,
        }
    }
}

/// Mean ambient of the sessions' hot running, to the whole degree.
fn mean_ambient(used: &[&Prepared]) -> f64 {
    let ambients: Vec<f64> = used
        .iter()
        .filter_map(|s| s.ambient_c.as_ref().map(|a| s.mean_in_stints(a)))
        .collect();
    mean(&ambients).round()
}

/// Each answer inside the other's interval. `None`: one of them has no interval.
fn agree(standardised: &Effect, matched: &Matched) -> Option<bool> {
    let (a, b) = (
        standardised.main.known()?,
        matched.coolant_change_k.known()?,
    );
    Some(a.contains(b.estimate) && b.contains(a.estimate))
}

fn outlook(
    standard: &Standard,
    observations: &[Observation],
    after: &[bool],
    threshold_k: f64,
    change: &Effect,
) -> Option<WhatItWouldTake> {
    let log_sd = match standard.contrast.unit {
        Unit::Session => standard.pooled().variance().map(f64::sqrt),
        Unit::Day => None,
    };
    let excess_k = mean(
        &standard.joint.sessions[..after.len()]
            .iter()
            .map(|s| s.excess_k)
            .collect::<Vec<_>>(),
    );
    let sd_k = log_sd.unwrap_or(ASSUMED_SESSION_LOG_SD) * excess_k;
    let mut cells: std::collections::BTreeMap<_, u32> = std::collections::BTreeMap::new();
    for session in observations {
        *cells
            .entry((session.setup.as_str(), session.day))
            .or_default() += 1;
    }
    let per_day = cells.values().copied().max().unwrap_or(2).clamp(2, 4);
    verdict::what_it_would_take(&change.main, threshold_k, sd_k, per_day)
}
