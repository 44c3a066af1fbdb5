//! The pages: answers turned into text, tables and figures for the templates.

pub mod comparison;
pub mod evidence;
mod fit_tables;
pub mod limits;
mod limits_ahead;
mod plain;
pub mod plan;
pub mod season;
mod session_charts;
pub mod sessions;
mod sessions_overview;
mod soak;
pub mod stack;
pub mod tables;
pub mod temperatures;

use chrono::NaiveDate;

use super::cautions::CAUTIONS;
use super::{Provenance, number};
use crate::quantity::{Measure, Units};
use crate::stats::LEVEL;
use crate::warning::{Severity, Warning};

/// The style sheet of every page.
const STYLE: &str = include_str!("../templates/style.css");

/// Bytes that the lines of a page's charts may take together with the rest of its sessions.
const PAGE_BYTES: usize = 1_300_000;

/// What every page has around its content.
#[derive(Debug)]
pub struct Shell<'a> {
    /// What kind of page it is.
    pub kind: &'static str,
    /// Its title.
    pub title: String,
    /// The title block: names and values.
    pub block: Vec<(&'static str, String)>,
    /// Titles and addresses of other pages.
    pub links: Vec<(&'a str, &'a str)>,
    /// Where the page comes from.
    pub provenance: &'a Provenance,
    /// The style sheet.
    pub style: &'static str,
    /// What every page says about hot coolant.
    pub cautions: &'static [&'static str],
}

impl<'a> Shell<'a> {
    fn new(
        kind: &'static str,
        title: String,
        block: Vec<(&'static str, String)>,
        provenance: &'a Provenance,
        other_pages: &[(&'a str, &'a str)],
    ) -> Self {
        Self {
            kind,
            title,
            block,
            links: other_pages.to_vec(),
            provenance,
            style: STYLE,
            cautions: CAUTIONS,
        }
    }
}

/// A warning as it is printed.
#[derive(Debug)]
pub struct Notice {
    /// How much it weighs, in a word.
    pub weight: &'static str,
    /// Its stable name.
    pub id: String,
    /// What it says.
    pub message: String,
}

/// Warnings as they are printed, the weightiest first.
fn notices<'w>(warnings: impl Iterator<Item = &'w Warning>, units: Units) -> Vec<Notice> {
    let mut sorted: Vec<&Warning> = warnings.collect();
    sorted.sort_by_key(|warning| std::cmp::Reverse(warning.severity));
    sorted
        .into_iter()
        .map(|warning| Notice {
            weight: match warning.severity {
                Severity::Note => "Note",
                Severity::Caution => "Caution",
                Severity::Disqualifies => "Disqualifies",
            },
            id: warning.id.clone(),
            message: units.prose(&warning.message).into_owned(),
        })
        .collect()
}

/// A day, or that it is unknown.
fn day(day: Option<NaiveDate>) -> String {
    day.map_or_else(
        || "day unknown".to_owned(),
        |day| day.format("%Y-%m-%d").to_string(),
    )
}

/// Columns a line may have so that so many sessions, each with `lines` of them and `rest` bytes
/// besides, stay within the page's size.
fn columns(sessions: usize, lines: usize, rest: usize, most: usize) -> usize {
    const BYTES_A_COLUMN: usize = 12;
    let for_lines = PAGE_BYTES.saturating_sub(sessions * rest);
    (for_lines / (BYTES_A_COLUMN * (sessions * lines).max(1))).clamp(24, most)
}

/// What a caption says of the intervals in its table.
fn below() -> String {
    format!(
        "{}\u{a0}% intervals in small print",
        number::fixed(LEVEL * 100.0, 0)
    )
}

/// How a change of temperature, in K, is printed: with its sign, without unit.
fn changes_in(units: Units) -> impl Fn(f64) -> String + Copy {
    move |k| number::signed(units.of(Measure::Difference, k), number::CHANGE)
}

/// How a temperature, in °C, is printed, without unit.
fn temperatures_in(units: Units) -> impl Fn(f64) -> String + Copy {
    move |c| number::fixed(units.of(Measure::Temperature, c), number::TEMPERATURE)
}

/// How a difference of temperatures, in K, is printed, without sign and unit.
fn differences_in(units: Units) -> impl Fn(f64) -> String + Copy {
    move |k| number::fixed(units.of(Measure::Difference, k), number::TEMPERATURE)
}
