//! The report: self-contained pages that present answers and compute none.
//!
//! A page is one HTML file: style sheet and drawings inside, nothing fetched. A few lines of
//! script of its own let the channel charts be zoomed and read off; without them the page is whole.
//! The same input gives the same bytes.

mod canvas;
mod cautions;
mod chart;
mod figure;
mod ink;
mod number;
mod page;
mod panel;
mod room;
mod table;
mod thin;

#[cfg(test)]
mod tests;

use thiserror::Error;

pub use cautions::CAUTIONS;

use crate::compare::Comparison;
use crate::estimate::SessionFit;
use crate::limits::LimitsAnswer;
use crate::plan::Plan;
use crate::quantity::Units;
use crate::season::SeasonAnswer;
use crate::session::{Grid, SessionMeta};
use crate::stack::Prediction;
use crate::stats::Estimate;

/// Why a page could not be made.
#[derive(Debug, Error)]
pub enum ReportError {
    /// A chart could not be drawn.
    #[error("a chart could not be drawn: {0}")]
    Chart(String),
    /// A page could not be put together.
    #[error("a page could not be put together: {0}")]
    Page(#[from] askama::Error),
}

impl<E: std::error::Error + Send + Sync> From<plotters::drawing::DrawingAreaErrorKind<E>>
    for ReportError
{
    fn from(error: plotters::drawing::DrawingAreaErrorKind<E>) -> Self {
        Self::Chart(error.to_string())
    }
}

/// All that a page shows of one session.
#[derive(Debug, Clone, Copy)]
pub struct SessionPart<'a> {
    /// What is known of it.
    pub meta: &'a SessionMeta,
    /// Its channels in equal steps.
    pub grid: &'a Grid,
    /// Its fit.
    pub fit: &'a SessionFit,
}

/// Where a page comes from, so that it can be made again.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Provenance {
    /// Version of this program.
    pub tool_version: String,
    /// The command that made the page.
    pub command: String,
    /// Sheets with their keys, and files read, each with its SHA-256.
    pub files: Vec<(String, String)>,
    /// Settings, each with its value.
    pub settings: Vec<(String, String)>,
    /// Seed of the random numbers, if any were drawn.
    pub seed: Option<u64>,
    /// Units that the page is written in.
    pub units: Units,
}

/// What is true of simulated data, to be held against the answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// The true change of settled coolant, K.
    pub coolant_change_k: f64,
    /// How it was had, one sentence.
    pub how: String,
}

/// What a comparison measured of a what-if, to be set beside the prediction.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The what-if.
    pub what_if: String,
    /// The measured change of settled coolant, K.
    pub coolant_change_k: Estimate,
}

/// The page of a comparison: the answer, the picture, then the evidence.
///
/// `family` are the comparisons asked at once, with the names of their pages. `sessions` are those that the
/// comparison used; others are passed over. `other_pages` are titles and addresses to link to.
///
/// # Errors
/// A chart or the page could not be made, which is a defect of this program.
pub fn comparison_page(
    comparison: &Comparison,
    family: &[(&Comparison, String)],
    sessions: &[SessionPart<'_>],
    provenance: &Provenance,
    truth: Option<&Truth>,
    verdict_sentences: &str,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    page::comparison::render(
        comparison,
        family,
        sessions,
        provenance,
        truth,
        verdict_sentences,
        other_pages,
    )
}

/// The page of sessions: what was read, what the car was doing, how the model follows.
///
/// # Errors
/// As [`comparison_page`].
pub fn sessions_page(
    sessions: &[SessionPart<'_>],
    provenance: &Provenance,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    page::sessions::render(sessions, provenance, other_pages)
}

/// The page of limits: which sessions came near one.
///
/// `sessions` say with which setup and on which day each was run.
///
/// # Errors
/// As [`comparison_page`].
pub fn limits_page(
    answer: &LimitsAnswer,
    sessions: &[SessionMeta],
    provenance: &Provenance,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    page::limits::render(answer, sessions, provenance, other_pages)
}

/// The page of a season: every session's conductance in time order, and whether it drifts.
///
/// # Errors
/// As [`comparison_page`].
pub fn season_page(
    answer: &SeasonAnswer,
    provenance: &Provenance,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    page::season::render(answer, provenance, other_pages)
}

/// The sheet of a planned test; `summary` is the plan in a few sentences.
///
/// # Errors
/// As [`comparison_page`].
pub fn plan_page(
    plan: &Plan,
    summary: &str,
    provenance: &Provenance,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    page::plan::render(plan, summary, provenance, other_pages)
}

/// The page of a computed stack; `summary` is the prediction in a few sentences.
///
/// # Errors
/// As [`comparison_page`].
pub fn stack_page(
    prediction: &Prediction,
    summary: &str,
    measured: Option<&Measured>,
    provenance: &Provenance,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    page::stack::render(prediction, summary, measured, provenance, other_pages)
}
