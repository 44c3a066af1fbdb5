//! What was repaired on a clock, and how it is told.

use serde::{Deserialize, Serialize};

use crate::warning::Warning;
use crate::words::count;

/// A pause of the logger.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Gap {
    /// When it begins, s from the first row.
    pub at_s: f64,
    /// How long it is, s.
    pub length_s: f64,
}

/// Counts of what was repaired.
#[derive(Default)]
pub(super) struct Repairs {
    pub back_steps: usize,
    pub stepped_back: usize,
    pub jitter: usize,
    pub outliers: usize,
    pub jumps: Vec<f64>,
    pub duplicates: usize,
    pub repeated: usize,
    pub summer_time: usize,
    /// Rows put where their time is.
    pub sorted: usize,
    /// Rows during which the clock stood.
    pub stood: usize,
}

/// The warnings that a repaired clock deserves.
pub(super) fn warnings(
    repairs: &Repairs,
    untimed: usize,
    coarse: bool,
    gaps: &[Gap],
) -> Vec<Warning> {
    let mut all = Vec::new();
    if untimed > 0 {
        all.push(Warning::note(
            "rows-without-time",
            format!(
                "left out: {} without a readable time",
                count(untimed, "row")
            ),
        ));
    }
    if repairs.stood > 0 {
        all.push(Warning::caution(
            "clock-stood",
            format!(
                "the clock stands still for {} and then shows what it would had it run: they were spread evenly over that time",
                count(repairs.stood, "row")
            ),
        ));
    }
    if repairs.sorted > 0 {
        all.push(Warning::note(
            "rows-sorted",
            format!(
                "the rows are written out of order: {} put where their time is",
                count(repairs.sorted, "row")
            ),
        ));
    }
    if repairs.back_steps > 0 {
        all.push(Warning::note(
            "clock-steps-back",
            format!(
                "the clock steps back {}; {} left out until it caught up, {} within one step kept in order",
                times(repairs.back_steps),
                count(repairs.stepped_back, "row"),
                repairs.jitter
            ),
        ));
    }
    if repairs.outliers > 0 {
        all.push(Warning::note(
            "clock-outliers",
            format!(
                "left out: {} with a stray time",
                count(repairs.outliers, "single row")
            ),
        ));
    }
    if !repairs.jumps.is_empty() {
        let by: Vec<String> = repairs
            .jumps
            .iter()
            .take(5)
            .map(|s| format!("{s:+.0} s"))
            .collect();
        all.push(Warning::caution(
            "clock-jump",
            format!(
                "the clock was set while logging ({}); rows were joined there without a pause, and the longest stretch gives the time of day",
                by.join(", ")
            ),
        ));
    }
    if repairs.repeated > 0 {
        all.push(Warning::caution(
            "repeated-rows",
            format!(
                "left out: {} that the file has before, time and all",
                count(repairs.repeated, "row")
            ),
        ));
    }
    if repairs.summer_time > 0 {
        all.push(Warning::note(
            "summer-time",
            "the clock goes on or back one hour at a full hour: read as the change to or from summer time",
        ));
    }
    if repairs.duplicates > 0 {
        all.push(Warning::note(
            "duplicate-rows",
            format!(
                "left out: {} with time and values of the row before",
                count(repairs.duplicates, "row")
            ),
        ));
    }
    if coarse {
        all.push(Warning::note(
            "clock-coarse",
            "the clock is coarser than the rows; rows of one tick were spread evenly over it",
        ));
    }
    if !gaps.is_empty() {
        let longest = gaps.iter().map(|gap| gap.length_s).fold(0.0, f64::max);
        all.push(Warning::note(
            "gaps",
            format!(
                "the log pauses {}, {longest:.0} s at the longest",
                times(gaps.len())
            ),
        ));
    }
    all
}

fn times(n: usize) -> String {
    if n == 1 {
        "once".to_owned()
    } else {
        format!("{n} times")
    }
}
