//! What a comparison answers. Field names are the machine interface.

use serde::{Serialize, Serializer};

use super::by_day::ByDay;
use super::plain::PlainTest;
use super::predicted::Predicted;
use super::sensitivity::Rerun;
use crate::stats::Estimate;
use crate::warning::Warning;

/// The document of `heatbook compare`.
#[derive(Debug, Clone, Serialize)]
pub struct Comparison {
    /// The setup before.
    pub before: Side,
    /// The setup after.
    pub after: Side,
    /// What both cars are driven through.
    pub reference: Reference,
    /// Change of mean coolant over the reference drive, thermostat fully open. Negative: cooler.
    pub coolant_change_k: Effect,
    /// Change of peak coolant over the same.
    pub coolant_peak_change_k: Effect,
    /// Change of mean coolant with the thermostat working.
    pub coolant_change_regulated_k: Effect,
    /// Conductance after over before.
    pub conductance_ratio: Effect,
    /// Scatter borrowed from the rest of the book, if any.
    pub borrowed: Option<Borrowed>,
    /// The second answer: stints alike in ambient, density and pace.
    pub matched: Matched,
    /// Whether both answers agree. `None`: there is no second answer.
    pub answers_agree: Option<bool>,
    /// What sessions that ran on the thermostat prove, if any.
    pub regulated_evidence: Option<Bound>,
    /// The answer with the sessions that were set aside. `None`: none was.
    pub with_excluded: Option<Lifted>,
    /// Exponent of heat on load, after minus before: a part that leaves the engine's heat alone
    /// leaves it at zero.
    pub load_response_change: Estimate,
    /// Intake air less ambient, after minus before within days, K: a part that leaves both alone leaves it at zero.
    pub intake_gap_change_k: Estimate,
    /// Before against before, after against after.
    pub placebo: Vec<Placebo>,
    /// What tests say that a doubter knows by name. Empty: there is no answer to set them beside.
    pub plain: Vec<PlainTest>,
    /// The change on each day with both setups, and whether the days agree.
    pub by_day: ByDay,
    /// The judgement.
    pub verdict: Verdict,
    /// Why the interval alone does not decide. `None`: it does, or is too wide to.
    pub denied_by: Option<Denied>,
    /// The smallest change that matters.
    pub threshold_k: f64,
    /// The smallest threshold these data could exclude. `None`: no interval, or one that is denied.
    pub smallest_excludable_k: Option<f64>,
    /// What an answer would take. `None`: there is one, or more sessions alone would not give it.
    pub what_it_would_take: Option<WhatItWouldTake>,
    /// How often this pair of setups has been looked at with other data.
    pub looks: u32,
    /// A change that was predicted, beside the measured one, which the verdict does not know. `None`:
    /// none was given.
    pub predicted: Option<Predicted>,
    /// The comparison run again with one assumption replaced at a time; made for pages and tables.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sensitivity: Vec<Rerun>,
    /// What the reader must know besides.
    pub warnings: Vec<Warning>,
    /// For the page: each session's own line.
    #[serde(skip)]
    pub rows: Vec<SessionRow>,
    /// For the page: settled coolant against ambient. `None`: the change is not known.
    #[serde(skip)]
    pub curves: Option<Curves>,
}

/// One setup's sessions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Side {
    /// The setup.
    pub setup: String,
    /// Sessions used, by id.
    pub sessions: Vec<String>,
    /// Sessions of that setup left out.
    pub left_out: Vec<LeftOut>,
    /// Number of days the used sessions were run on.
    pub days: usize,
    /// Whole laps of hot running in the used sessions, where laps can be told.
    pub laps: usize,
    /// How many of them the car was held up on (slower in one place, as behind another car): they are left out.
    pub laps_held_up: usize,
}

impl Comparison {
    /// Whether a figure is unknown for the reason that the change itself is, which the verdict gives.
    pub fn unknown_as_said(&self, value: &Estimate) -> bool {
        value.known().is_none() && *value == self.coolant_change_k.main
    }
}

impl Side {
    /// The side with the laps of its sessions counted.
    pub(super) fn with_laps(&self, rows: &[SessionRow]) -> Self {
        let own = || rows.iter().filter(|row| row.setup == self.setup);
        Self {
            laps: own().map(|row| row.laps).sum(),
            laps_held_up: own().map(|row| row.laps_held_up).sum(),
            ..self.clone()
        }
    }
}

/// A session left out of a comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeftOut {
    /// The session.
    pub id: String,
    /// The reason.
    pub why: String,
}

/// What both fitted cars are driven through.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reference {
    /// Air outside, °C.
    pub ambient_c: f64,
    /// The drive, in words.
    pub drive: String,
    /// The thermostat, in words.
    pub thermostat: String,
    /// The session whose drive it is; empty: none.
    #[serde(skip)]
    pub session: String,
}

/// An effect, and the same from these sessions alone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Effect {
    /// With whatever scatter was borrowed.
    #[serde(flatten)]
    pub main: Estimate,
    /// From these sessions alone; `None` when they alone give no interval.
    #[serde(serialize_with = "known_or_null")]
    pub alone: Option<Estimate>,
}

fn known_or_null<S: Serializer>(
    alone: &Option<Estimate>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    match alone {
        Some(Estimate::Known(interval)) => interval.serialize(serializer),
        _ => serializer.serialize_none(),
    }
}

impl Comparison {
    /// How many placebos have an interval, and how many of these hold zero.
    pub fn placebos_holding_zero(&self) -> (usize, usize) {
        let known = || {
            self.placebo
                .iter()
                .filter_map(|p| p.coolant_change_k.known())
        };
        (known().count(), known().filter(|i| i.contains(0.0)).count())
    }
}

impl Effect {
    /// An effect that cannot be had, with the reason.
    pub fn unknown(why: impl Into<String>) -> Self {
        Self {
            main: Estimate::unknown(why),
            alone: None,
        }
    }
}

/// What sessions that ran on the thermostat prove: the radiator is worth at least what they show,
/// so with it open the coolant would have run no hotter than they say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bound {
    /// The setup they ran with.
    pub setup: String,
    /// The sessions.
    pub sessions: Vec<String>,
    /// They ran with the setup after: the change is no more than this, K.
    pub coolant_change_at_most_k: Option<f64>,
    /// They ran with the setup before: the change is no less than this, K.
    pub coolant_change_at_least_k: Option<f64>,
    /// One-sided level of the bound.
    pub level: f64,
    /// How it was had.
    pub method: String,
    /// Whether the verdict rests on it.
    pub decides: bool,
}

impl Bound {
    /// On which side it bounds the change, in words, and where, K.
    pub fn limit(&self) -> (&'static str, f64) {
        match self.coolant_change_at_most_k {
            Some(k) => ("at most", k),
            None => (
                "at least",
                self.coolant_change_at_least_k.unwrap_or(f64::NAN),
            ),
        }
    }

    /// Whether it shows the setup after to run cooler.
    pub fn shows_cooler(&self) -> bool {
        self.coolant_change_at_most_k.is_some_and(|k| k < 0.0)
    }

    /// Whether it shows the setup after to run hotter.
    pub fn shows_hotter(&self) -> bool {
        self.coolant_change_at_least_k.is_some_and(|k| k > 0.0)
    }
}

/// The answer with all sessions that were set aside.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lifted {
    /// The judgement.
    pub verdict: Verdict,
    /// Change of mean coolant.
    pub coolant_change_k: Estimate,
    /// The sessions that were set aside.
    pub sessions: Vec<String>,
}

/// Where borrowed scatter comes from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Borrowed {
    /// Number of sessions it was learned from.
    pub sessions: usize,
    /// On how many days.
    pub days: usize,
}

/// The matched comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Matched {
    /// Number of pairs of stints.
    pub pairs: usize,
    /// Mean over the pairs, whether or not an interval can be had.
    #[serde(skip)]
    pub mean_k: Option<f64>,
    /// Change of coolant, settled, at matched ambient.
    pub coolant_change_k: Estimate,
    /// How alike the two sides are, before and after matching.
    pub balance: Vec<Balance>,
}

/// How alike the two sides are in one covariate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Balance {
    /// The covariate, with its unit.
    pub covariate: String,
    /// Mean of all stints before.
    pub mean_before: Option<f64>,
    /// Mean of all stints after.
    pub mean_after: Option<f64>,
    /// Difference over pooled standard deviation, all stints.
    pub standardised_difference_all: Option<f64>,
    /// The same in the matched pairs.
    pub standardised_difference_matched: Option<f64>,
}

/// A comparison of a setup with itself.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Placebo {
    /// The setup that is held against itself.
    pub setup: String,
    /// Which sessions against which.
    pub split: String,
    /// Its "effect": should hold zero.
    pub coolant_change_k: Estimate,
}

/// The judgement on a comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The whole interval is below zero.
    Improved,
    /// The whole interval is above zero.
    Worsened,
    /// The whole interval is inside ± the smallest change that matters.
    NoPracticalChange,
    /// None of these.
    CannotTell,
    /// The two setups cannot be compared.
    NotComparable,
}

/// Why the verdict that the interval alone would give does not stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Denied {
    /// No stints of the two are alike: the answer leans on the model alone.
    NoStintsAlike,
    /// The standardised and the matched answer disagree.
    AnswersDisagree,
    /// The side that looks hotter was held up on clearly more laps.
    HeldUp,
    /// The ambient reading may have moved with the part.
    AmbientMoved,
    /// The sides were driven at another pace, and with heat following it a little otherwise the change may be none.
    PaceDiffers,
    /// The cool sessions of the side that looks hotter had to be left out: they ran on the thermostat.
    Regulated,
}

/// What an answer would take.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct WhatItWouldTake {
    /// Sessions with each setup.
    pub sessions_per_setup: u32,
    /// Days, each with both setups.
    pub days: u32,
    /// The change it could find, K.
    #[serde(skip)]
    pub sought_k: f64,
    /// Whether the scatter is the usual one, because these sessions do not tell theirs.
    #[serde(skip)]
    pub scatter_assumed: bool,
}

/// One session's line on the comparison page.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SessionRow {
    /// The session.
    pub id: String,
    /// Its setup.
    pub setup: String,
    /// The day, if known.
    pub day: Option<chrono::NaiveDate>,
    /// Mean ambient over hot running, °C.
    pub ambient_c: f64,
    /// Mean coolant over hot running, °C.
    pub coolant_c: f64,
    /// Mean speed over hot running, km/h.
    pub speed_kmh: f64,
    /// Mean heat into the coolant over hot running, kW.
    pub heat_kw: f64,
    /// Seconds of hot running.
    pub used_s: f64,
    /// Whole laps in it, where laps can be told.
    pub laps: usize,
    /// How many of them the car was held up on, and that are left out.
    pub laps_held_up: usize,
    /// Conductance over the mean of the setup before, at reference conditions.
    pub relative_conductance: Estimate,
    /// Where this session's car would settle on the reference drive at the reference ambient, °C.
    pub settled_c: Estimate,
    /// Where this session's car would settle on the reference drive at its own ambient, °C.
    pub settled_at_own_ambient_c: f64,
}

/// Settled mean coolant against ambient on the reference drive, thermostat open.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Curves {
    /// Ambient, °C, rising.
    pub ambient_c: Vec<f64>,
    /// Setup before: settled coolant at each ambient, °C.
    pub before: Vec<Estimate>,
    /// Setup after.
    pub after: Vec<Estimate>,
    /// The limit, if the car sheet has one, °C.
    pub limit_c: Option<f64>,
}
