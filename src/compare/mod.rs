//! Before against after: which sessions can be compared, two answers, one verdict.

mod ambient_response;
mod ambient_shift;
mod answer;
mod bound;
mod by_day;
mod car_fit;
mod cautions;
mod contrast;
mod eligible;
mod gather;
mod held_up;
mod in_common;
mod load_response;
mod matched;
mod pace;
mod placebo;
mod plain;
mod predicted;
mod scatter;
mod sensitivity;
mod standardised;
pub mod verdict;

pub use answer::{
    Balance, Borrowed, Bound, Comparison, Curves, Denied, Effect, LeftOut, Lifted, Matched,
    Placebo, Reference, SessionRow, Side, Verdict, WhatItWouldTake,
};
pub use by_day::{Agreement, ByDay, DayChange};
pub use car_fit::{CarFit, Eligible, by_car};
pub use cautions::own_fit_fails;
pub use contrast::{Contrast, Layout, NoInterval, Observation, Unit};
pub use in_common::in_common;
pub use matched::CALIPERS;
pub use placebo::SEED as PLACEBO_SEED;
pub use plain::PlainTest;
pub use predicted::{BesideMeasured, Predicted};
pub use scatter::BookScatter;
pub use sensitivity::{Assumed, Rerun, sensitivity};

use std::collections::BTreeMap;

use crate::estimate::ASSUMED_SESSION_LOG_SD;
use crate::estimate::joint::{JointFit, fit_converged};
use crate::estimate::prepare::{Prepared, STEP_S};
use crate::estimate::simulate::{CarModel, ReferenceDrive};
use crate::session::{Session, SessionMeta};
use crate::stats::{Estimate, mean};
use crate::warning::Warning;
use gather::{Gathered, not_comparable};
use held_up::held_up_more;
use standardised::{Standard, median_session};
use verdict::Evidence;

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
    /// The session whose drive both cars are driven through; `None`: the one of median heat input.
    pub drive: Option<String>,
    /// Whether that drive was chosen for several comparisons in common.
    pub drive_in_common: bool,
    /// Day-to-day scatter of coolant that the user states, as a standard deviation, K. It counts
    /// where no day has both setups.
    pub day_scatter_k: Option<f64>,
    /// How many comparisons are asked at once: their intervals hold the level together.
    pub family: u32,
    /// How often this pair has been looked at with other data, this time included.
    pub looks: u32,
    /// Sessions with each setup that a plan in the book stops at.
    pub planned: Option<u32>,
    /// What the heat input is taken as.
    pub assumed: Assumed,
}

impl Request {
    /// Two setups, everything else as usual.
    pub fn of(before: &str, after: &str) -> Self {
        Self {
            before: before.to_owned(),
            after: after.to_owned(),
            threshold_k: 0.5,
            ambient_c: None,
            drive: None,
            drive_in_common: false,
            day_scatter_k: None,
            family: 1,
            looks: 1,
            planned: None,
            assumed: Assumed::default(),
        }
    }

    /// Whether a setup is one of the two.
    fn names(&self, setup: &String) -> bool {
        [&self.before, &self.after].contains(&setup)
    }

    /// Whether the channels of a session have a say in this comparison: it is of one of the two
    /// setups, or of their car and lends its scatter. `metas` is the whole book.
    pub fn bears_on(&self, meta: &SessionMeta, metas: &[SessionMeta]) -> bool {
        let first = metas.iter().find(|m| self.names(&m.setup));
        self.names(&meta.setup) || first.is_some_and(|f| f.car.name == meta.car.name)
    }

    /// Whether a session is of one of the two setups.
    fn compares(&self, session: &Session) -> bool {
        self.names(&session.meta.setup)
    }

    /// The stated scatter of days as a standard deviation of `log g`.
    fn day_log_sd(&self, joint: &JointFit) -> Option<f64> {
        self.day_scatter_k.map(|k| k / mean_excess_k(joint))
    }
}

/// Compares two setups. `sessions` is the whole book: sessions of other setups of the same car
/// lend their scatter.
pub fn compare(sessions: &[Session], request: &Request) -> Comparison {
    let mut comparison = compared(sessions, request, false);
    comparison.with_excluded = with_excluded(sessions, request);
    comparison
}

/// The answer with the sessions that were set aside. `None`: none was.
fn with_excluded(sessions: &[Session], request: &Request) -> Option<Lifted> {
    let excluded = sessions.iter().filter(|s| request.compares(s));
    let excluded: Vec<String> = excluded
        .filter(|s| s.meta.excluded.is_some())
        .map(|s| s.meta.label())
        .collect();
    (!excluded.is_empty()).then(|| {
        let lifted = compared(sessions, request, true);
        Lifted {
            verdict: lifted.verdict,
            coolant_change_k: lifted.coolant_change_k.main,
            sessions: excluded,
        }
    })
}

fn compared(sessions: &[Session], request: &Request, lift: bool) -> Comparison {
    if let Some(why) = not_comparable(sessions, request) {
        let mut draft = Draft::new(Gathered::empty(request), request);
        let warning = Warning::disqualifies("not-comparable", why.clone());
        draft.gathered.warnings.push(warning);
        return draft.without_answer(Verdict::NotComparable, &why);
    }
    let mut gathered = Gathered::of(sessions, request, lift);
    let cautions = cautions::of_sessions(&gathered, sessions, request);
    gathered.warnings.extend(cautions);
    let draft = Draft::new(gathered, request);
    if draft.gathered.used.is_empty() {
        let why = draft.gathered.nothing_to_compare().unwrap_or_default();
        return draft.without_answer(Verdict::CannotTell, &why);
    }
    let fitted: Vec<&Prepared> = draft.gathered.fitted().collect();
    match fit_converged(&fitted) {
        Ok(joint) => draft.answer(&joint),
        Err(why) => draft.without_answer(Verdict::CannotTell, &why),
    }
}

/// A comparison in the making.
struct Draft<'a> {
    gathered: Gathered,
    request: &'a Request,
}

impl<'a> Draft<'a> {
    fn new(gathered: Gathered, request: &'a Request) -> Self {
        Self { gathered, request }
    }

    fn answer(mut self, joint: &JointFit) -> Comparison {
        let (gathered, request) = (&self.gathered, self.request);
        let used: Vec<&Prepared> = gathered.used.iter().collect();
        let fitted: Vec<&Prepared> = gathered.fitted().collect();
        let seen = observations(&fitted, joint);
        let of_used = &seen[..used.len()];
        let (layout, alone) = (Layout::of(&seen), Layout::of(of_used));
        let Some((driven, drive)) = reference_drive(&used, joint, request) else {
            return self.without_answer(Verdict::CannotTell, "no stint to drive");
        };
        let standard = Standard {
            before: CarModel::of(
                used[driven],
                &joint.shared,
                reference_log_g(&used, joint, request),
            ),
            thermostat: used[driven].thermostat,
            ambient_c: request.ambient_c.unwrap_or_else(|| mean_ambient(&used)),
            drive,
            joint,
            contrast: layout.contrast(&request.before, &request.after, request.day_log_sd(joint)),
            alone: alone.contrast(&request.before, &request.after, None),
            family: request.family,
        };
        let change = standard.mean_change();
        let after: Vec<bool> = used.iter().map(|s| s.setup == request.after).collect();
        let unit = layout.unit(&request.before, &request.after);
        let matched = matched::matched(&used, joint, &after, unit);
        let mut bound = bound::bound(gathered, &standard, &layout, request);
        let answers_agree = agree(&change, &matched);
        let rows: Vec<SessionRow> = (used.iter().enumerate())
            .map(|(i, s)| standard.row(s, i))
            .collect();
        let sides_run = [&gathered.before, &gathered.after].map(|side| side.with_laps(&rows));
        let intake_gap_change_k = ambient_shift::intake_gap_change(&used, request);
        let heat_apart = pace::apart(&used, joint, request);
        let judged = verdict::judge(&Evidence {
            change_k: &change.main,
            threshold_k: request.threshold_k,
            answers_agree,
            regulated: gathered.regulated_count(),
            held_up_more: held_up_more(sides_run.each_ref()),
            intake_gap_change_k: &intake_gap_change_k,
            pairs: matched.pairs,
            pace_lean_k: pace::lean_k(heat_apart, joint),
            used: sides_run.each_ref().map(|side| side.sessions.len()),
            bound: bound.as_ref(),
        });
        if let Some(bound) = &mut bound {
            bound.decides = judged.by_bound;
        }
        let take = verdict::more_sessions_help(&judged)
            .then(|| outlook(&standard, gathered, request, &change))
            .flatten();
        let mut cautions = cautions::of_answer(&standard, &used, heat_apart, request);
        cautions.extend(held_up::caution(sides_run.each_ref()));
        cautions.extend(ambient_shift::caution(&used, &intake_gap_change_k, request));
        cautions.extend(ambient_response::caution(&used, joint));
        let sides = [request.before.as_str(), request.after.as_str()];
        let limit_c = used[driven].car.limit_coolant_c;
        let change_k = |log_ratio: f64| standard.change_k(log_ratio);
        let [before, after] = sides_run;
        let comparison = Comparison {
            plain: plain::plain(
                &used,
                &plain::Asked {
                    observations: of_used,
                    sides,
                    threshold_k: request.threshold_k,
                    change_k: &change_k,
                },
            ),
            by_day: by_day::by_day(&seen, sides, &change_k),
            reference: self.reference(&standard, used[driven]),
            coolant_peak_change_k: standard.peak_change(),
            coolant_change_regulated_k: standard.regulated_change(),
            conductance_ratio: standard.conductance_ratio(),
            borrowed: borrowed(gathered, &standard),
            answers_agree,
            regulated_evidence: bound,
            with_excluded: None,
            load_response_change: load_response::load_response_change(&used, joint, request),
            intake_gap_change_k,
            placebo: placebo::placebos(&standard, &seen, sides),
            verdict: judged.verdict,
            denied_by: judged.denied_by,
            threshold_k: request.threshold_k,
            smallest_excludable_k: verdict::smallest_excludable_k(&change.main)
                .filter(|_| judged.denied_by.is_none()),
            what_it_would_take: take,
            looks: request.looks,
            predicted: None,
            sensitivity: Vec::new(),
            rows,
            curves: (change.main.known()).map(|_| standard.curves(&layout, sides, limit_c)),
            coolant_change_k: change,
            matched,
            before,
            after,
            warnings: Vec::new(),
        };
        self.gathered.warnings.extend(cautions);
        self.gathered.warnings.extend(comparison.by_day.caution());
        self.gathered
            .warnings
            .extend(cautions::of_result(&comparison, request));
        Comparison {
            warnings: self.gathered.warnings,
            ..comparison
        }
    }

    fn reference(&self, standard: &Standard, driven: &Prepared) -> Reference {
        let is_named = self.request.drive.as_ref() == Some(&driven.id);
        let chosen = match (is_named, self.request.drive_in_common) {
            (true, true) => "the session before of median heat input, for all setups compared",
            (true, false) => "as asked for",
            (false, _) => "the session of median heat input",
        };
        let source = driven.heat.as_ref().map_or("nothing", |h| h.source.label());
        Reference {
            ambient_c: standard.ambient_c,
            drive: format!(
                "longest stint of {} ({:.0} s, {chosen}), repeated until settled; heat input from {source}",
                driven.id,
                standard.drive.steps() as f64 * STEP_S,
            ),
            thermostat: driven.thermostat.describe(),
            session: driven.id.clone(),
        }
    }

    fn without_answer(self, verdict: Verdict, why: &str) -> Comparison {
        let unknown = || Effect::unknown(why);
        Comparison {
            reference: Reference {
                ambient_c: self.request.ambient_c.unwrap_or(20.0),
                drive: format!("none: {why}"),
                thermostat: "not applied".to_owned(),
                session: String::new(),
            },
            coolant_change_k: unknown(),
            coolant_peak_change_k: unknown(),
            coolant_change_regulated_k: unknown(),
            conductance_ratio: unknown(),
            borrowed: None,
            matched: Matched {
                pairs: 0,
                mean_k: None,
                coolant_change_k: Estimate::unknown(why),
                balance: Vec::new(),
            },
            answers_agree: None,
            regulated_evidence: None,
            with_excluded: None,
            load_response_change: Estimate::unknown(why),
            intake_gap_change_k: Estimate::unknown(why),
            placebo: Vec::new(),
            plain: Vec::new(),
            by_day: ByDay::none(why),
            verdict,
            denied_by: None,
            threshold_k: self.request.threshold_k,
            smallest_excludable_k: None,
            what_it_would_take: None,
            looks: self.request.looks,
            predicted: None,
            sensitivity: Vec::new(),
            rows: Vec::new(),
            curves: None,
            before: self.gathered.before,
            after: self.gathered.after,
            warnings: self.gathered.warnings,
        }
    }
}

/// The sessions of a fit as a comparison sees them.
fn observations(sessions: &[&Prepared], joint: &JointFit) -> Vec<Observation> {
    let pairs = sessions.iter().zip(&joint.sessions);
    pairs
        .map(|(session, balance)| Observation {
            log_g: balance.log_g,
            own_se: balance.log_g_se,
            setup: session.setup.clone(),
            day: session.day,
        })
        .collect()
}

/// The session whose drive is the reference, by place, and that drive.
fn reference_drive(
    used: &[&Prepared],
    joint: &JointFit,
    request: &Request,
) -> Option<(usize, ReferenceDrive)> {
    let asked = request.drive.as_ref();
    let driven = asked
        .and_then(|id| used.iter().position(|s| s.id == *id))
        .unwrap_or_else(|| median_session(used, joint));
    Some((driven, ReferenceDrive::of(used[driven], joint)?))
}

/// Mean `log g` of the sessions before, or of those after where there are none.
fn reference_log_g(used: &[&Prepared], joint: &JointFit, request: &Request) -> f64 {
    let of = |setup: &str| -> Vec<f64> {
        let pairs = used.iter().zip(&joint.sessions);
        let of_setup = pairs.filter(|(s, _)| s.setup == setup);
        of_setup.map(|(_, balance)| balance.log_g).collect()
    };
    let before = of(&request.before);
    mean(&if before.is_empty() {
        of(&request.after)
    } else {
        before
    })
}

/// Where scatter was learned besides, if it makes a difference.
fn borrowed(gathered: &Gathered, standard: &Standard) -> Option<Borrowed> {
    let more = match (&standard.contrast, &standard.alone) {
        (Ok(all), Ok(alone)) => all.value.df > alone.value.df,
        (Ok(_), Err(_)) => !gathered.others.is_empty(),
        _ => false,
    };
    more.then(|| {
        let days = gathered.others.iter().map(|s| s.day);
        Borrowed {
            sessions: gathered.others.len(),
            days: days.collect::<std::collections::BTreeSet<_>>().len(),
        }
    })
}

/// Mean ambient of the sessions' hot running, to the whole degree.
fn mean_ambient(used: &[&Prepared]) -> f64 {
    let ambients: Vec<f64> = used
        .iter()
        .filter_map(|s| s.ambient_c.as_ref().map(|a| s.mean_in_stints(a)))
        .collect();
    mean(&ambients).round()
}

fn mean_excess_k(joint: &JointFit) -> f64 {
    mean(
        &joint
            .sessions
            .iter()
            .map(|s| s.excess_k)
            .collect::<Vec<_>>(),
    )
}

/// Each answer inside the other's interval. `None`: one of them has no interval.
fn agree(standardised: &Effect, matched: &Matched) -> Option<bool> {
    let (a, b) = (
        standardised.main.known()?,
        matched.coolant_change_k.known()?,
    );
    Some(a.contains(b.estimate) && b.contains(a.estimate))
}

/// What an answer would take, with as many sessions a day as there were.
fn outlook(
    standard: &Standard,
    gathered: &Gathered,
    request: &Request,
    change: &Effect,
) -> Option<WhatItWouldTake> {
    let contrast = standard.contrast.as_ref().ok();
    let log_sd = contrast.map_or(ASSUMED_SESSION_LOG_SD, |c| c.session_sd);
    let sd_k = log_sd * mean_excess_k(standard.joint);
    let mut cells: BTreeMap<_, u32> = BTreeMap::new();
    for session in &gathered.used {
        *cells
            .entry((session.setup.as_str(), session.day))
            .or_default() += 1;
    }
    let per_day = cells.values().copied().max().unwrap_or(2).clamp(2, 4);
    let take = verdict::what_it_would_take(&change.main, request.threshold_k, sd_k, per_day)?;
    Some(WhatItWouldTake {
        scatter_assumed: contrast.is_none(),
        ..take
    })
}
