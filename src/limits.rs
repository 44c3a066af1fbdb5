//! Which sessions came near a limit.

use serde::{Deserialize, Serialize};

use crate::session::Role;
use crate::stats::Estimate;
use crate::warning::Warning;

/// How near a session came to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// Never within the margin.
    Clear,
    /// Within the margin, never at the limit.
    Approached,
    /// At or over the limit.
    Exceeded,
}

/// One session against a limit. Field names are the machine interface.
#[derive(Debug, Clone, Serialize)]
pub struct SessionLimit {
    /// The session's id.
    pub id: String,
    /// The channel judged.
    pub channel: Role,
    /// The limit it is judged against, if there is one.
    pub limit_c: Option<f64>,
    /// Largest reading. `None`: the session has no such channel.
    pub peak_c: Option<f64>,
    /// Limit minus peak, negative when over.
    pub closest_k: Option<f64>,
    /// Seconds at or above limit minus margin.
    pub seconds_within_margin: Option<f64>,
    /// Seconds at or above the limit.
    pub seconds_over: Option<f64>,
    /// From the readings.
    pub state: Option<State>,
    /// Allowing for the reading's resolution and lag.
    pub possible_state: Option<State>,
    /// Whether the reading was still rising when the session (or its hot running) ended.
    pub still_rising_at_end: Option<bool>,
    /// Where it would have settled.
    pub would_have_settled_c: Estimate,
    /// Ambient at which the same drive settles at the limit, by the 1:1 rule.
    pub limiting_ambient_c: Estimate,
    /// Why there are nulls, if there are.
    pub why: Option<String>,
}

/// The document of `heatbook limits`.
#[derive(Debug, Clone, Serialize)]
pub struct LimitsAnswer {
    /// One a session, in time order.
    pub sessions: Vec<SessionLimit>,
    /// The margin used, K.
    pub margin_k: f64,
    /// What the reader must know besides.
    pub warnings: Vec<Warning>,
}
