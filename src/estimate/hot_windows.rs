//! Windows of hot running: a lap or so each, and which of them a balance is told from.
//!
//! A window is a whole number of laps where laps can be told, so that every window has the same
//! mix of straights and corners; else an equal part of the stint. Laps on which the car was held up (`laps::held_up`)
//! are not used: behind another car less air comes through the core, and no channel tells how much. Each window
//! has its own stored heat, so that leaving one out leaves the others as they are.

use super::prepare::STEP_S;
use crate::laps::{held_up, lap_borders};

/// Length of a window, s: a lap or so, and twice the minute over which wind is correlated.
const WINDOW_S: f64 = 90.0;

/// Fewer windows than this without a lap held up are not enough: then all are used.
const FEWEST_FREE: usize = 3;

/// The windows of a session, in order. A window is told by its first step and one past its last.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HotWindows(Vec<Part>);

/// A window, and the laps in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Part {
    steps: (usize, usize),
    laps: usize,
    held_up: usize,
}

impl HotWindows {
    /// Those of `stints`, with the speed of each step.
    pub fn of(stints: &[(usize, usize)], speed_kmh: &[f64]) -> Self {
        Self(stints.iter().flat_map(|s| split(*s, speed_kmh)).collect())
    }

    /// All of them.
    pub fn all(&self) -> Vec<(usize, usize)> {
        self.0.iter().map(|part| part.steps).collect()
    }

    /// The same, none left out for laps held up: for what goes on as it was.
    pub fn keeping_all(&self) -> Self {
        let keep = |part: &Part| Part {
            held_up: 0,
            ..*part
        };
        Self(self.0.iter().map(keep).collect())
    }

    /// Those without a lap held up, or all where these are too few.
    pub fn used(&self) -> Vec<(usize, usize)> {
        let used = self
            .0
            .iter()
            .filter(|part| part.held_up == 0 || !self.enough_free());
        used.map(|part| part.steps).collect()
    }

    /// Whole laps in them; none where laps cannot be told.
    pub fn laps(&self) -> usize {
        self.0.iter().map(|part| part.laps).sum()
    }

    /// How many of the laps the car was held up on, and that are left out for it.
    pub fn laps_left_out(&self) -> usize {
        let left_out = self.0.iter().filter(|_| self.enough_free());
        left_out.map(|part| part.held_up).sum()
    }

    fn enough_free(&self) -> bool {
        self.0.iter().filter(|part| part.held_up == 0).count() >= FEWEST_FREE
    }
}

/// A stint in windows: whole laps where laps can be told (what is left of a lap at the ends is
/// not used, so that every window has the same mix of straights and corners), else equal parts as
/// near to [`WINDOW_S`] as goes.
fn split((from, to): (usize, usize), speed_kmh: &[f64]) -> Vec<Part> {
    if let Some(borders) = lap_borders(speed_kmh, (from, to), STEP_S) {
        let laps = (WINDOW_S * 0.6 / STEP_S / mean_lap(&borders))
            .ceil()
            .max(1.0) as usize;
        let held = held_up(speed_kmh, &borders);
        let parts: Vec<Part> = (held.chunks_exact(laps).zip(borders.chunks_exact(laps)))
            .enumerate()
            .map(|(n, (held, starts))| Part {
                steps: (starts[0], borders[(n + 1) * laps]),
                laps,
                held_up: held.iter().filter(|h| **h).count(),
            })
            .collect();
        if parts.len() > 1 {
            return parts;
        }
    }
    let length = to - from;
    let parts = ((length as f64 * STEP_S / WINDOW_S).round() as usize).max(1);
    (0..parts)
        .map(|k| Part {
            steps: (from + length * k / parts, from + length * (k + 1) / parts),
            laps: 0,
            held_up: 0,
        })
        .collect()
}

fn mean_lap(borders: &[usize]) -> f64 {
    (borders[borders.len() - 1] - borders[0]) as f64 / (borders.len() - 1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_part_a_stint_evenly() {
        let no_laps = vec![100.0; 400];
        let steps = |from, to| -> Vec<(usize, usize)> {
            let parts = split((from, to), &no_laps);
            parts.iter().map(|part| part.steps).collect()
        };
        assert_eq!(steps(100, 370), [(100, 190), (190, 280), (280, 370)]);
        assert_eq!(steps(0, 40), [(0, 40)]);
    }
}
