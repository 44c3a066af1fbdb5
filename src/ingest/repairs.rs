//! What was repaired on a clock, and how it is told.

use serde::{Deserialize, Serialize};

use crate::warning::Warning;

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
            format!("{untimed} rows without a readable time were left out"),
        ));
    }
    if repairs.back_steps > 0 {
        all.push(Warning::note(
            "clock-steps-back",
            format!(
                "the clock steps back {}; {} rows were left out until it caught up, {} within one step were kept in order",
                times(repairs.back_steps), repairs.stepped_back, repairs.jitter
            ),
        ));
    }
    if repairs.outliers > 0 {
        all.push(Warning::note(
            "clock-outliers",
            format!(
                "{} single rows with a stray time were left out",
                repairs.outliers
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
                "{} rows are there before, time and all, and were left out",
                repairs.repeated
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
                "{} rows repeat the row before in time and values and were left out",
                repairs.duplicates
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

fn times(count: usize) -> String {
    if count == 1 {
        "once".to_owned()
    } else {
        format!("{count} times")
    }
}
