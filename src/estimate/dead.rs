//! Channels that stand still in hot running, where what they measure cannot.
//!
//! Over laps the coolant of a car that runs hot moves by a degree or more: its highest reading is
//! held for a minute at most (90 s in steady driving; simulated, with whole degrees). Held for
//! longer, the channel is clipped, frozen, or the coolant boils. A heat input that keeps its value
//! while the speed changes is not being read.

use super::assess::NotAssessable;
use super::prepare::{Prepared, STEP_S};

/// Longest time at the highest reading, s.
const LONGEST_AT_TOP_S: f64 = 100.0;

/// Longest time at any reading, s.
const LONGEST_AT_ANY_S: f64 = 300.0;

/// Longest time at the same heat input, s, in driving whose speed changes by [`LIVELY_KMH`].
const LONGEST_HEAT_S: f64 = 60.0;
const LIVELY_KMH: f64 = 10.0;

/// Whether coolant and heat input move in hot running as they must.
///
/// # Errors
/// The channel that does not.
pub fn alive(session: &Prepared) -> Result<(), NotAssessable> {
    coolant_alive(session)?;
    let stints = &session.drive.stints;
    let heat = session.heat.as_ref().map_or(&[][..], |heat| &heat.watts);
    for run in stints.iter().flat_map(|&s| runs(heat, s)) {
        if run.seconds() > LONGEST_HEAT_S && spread(&session.speed_kmh[run.steps()]) > LIVELY_KMH {
            return Err(NotAssessable::HeatStands {
                seconds: run.seconds(),
            });
        }
    }
    Ok(())
}

/// Whether coolant moves in hot running as it must.
///
/// # Errors
/// Where it stands.
pub fn coolant_alive(session: &Prepared) -> Result<(), NotAssessable> {
    let stints = &session.drive.stints;
    let coolant = || stints.iter().flat_map(|&s| runs(&session.coolant_c, s));
    let top_c = coolant().map(|run| run.value).fold(f64::NAN, f64::max);
    for run in coolant() {
        let at_top = run.value >= top_c && run.seconds() > LONGEST_AT_TOP_S;
        if at_top || run.seconds() > LONGEST_AT_ANY_S {
            return Err(NotAssessable::CoolantStands {
                value_c: run.value,
                seconds: run.seconds(),
            });
        }
    }
    Ok(())
}

/// A stretch at one value.
struct Run {
    value: f64,
    from: usize,
    to: usize,
}

impl Run {
    fn seconds(&self) -> f64 {
        (self.to - self.from) as f64 * STEP_S
    }

    fn steps(&self) -> std::ops::Range<usize> {
        self.from..self.to
    }
}

fn runs(values: &[f64], (from, to): (usize, usize)) -> impl Iterator<Item = Run> + '_ {
    let mut at = from;
    let stretch = values.get(from..to).unwrap_or_default();
    stretch.chunk_by(|a, b| a == b).map(move |run| {
        let from = at;
        at += run.len();
        Run {
            value: run[0],
            from,
            to: at,
        }
    })
}

fn spread(values: &[f64]) -> f64 {
    let most = values.iter().copied().fold(f64::NAN, f64::max);
    most - values.iter().copied().fold(f64::NAN, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::assess;
    use crate::estimate::synthetic::{self, Truth};

    fn prepared() -> Prepared {
        synthetic::prepared(&Truth {
            resolution_c: 1.0,
            ..Truth::default()
        })
    }

    #[test]
    fn a_living_log_passes() {
        assert_eq!(alive(&prepared()), Ok(()));
    }

    /// Clipped at what it nearly always reaches, and frozen altogether.
    #[test]
    fn coolant_that_stands_is_declined() {
        let mut clipped = prepared();
        let mut hot: Vec<f64> = clipped
            .drive
            .stints
            .iter()
            .flat_map(|&(a, b)| clipped.coolant_c[a..b].to_vec())
            .collect();
        hot.sort_by(f64::total_cmp);
        let cap_c = hot[hot.len() / 20];
        for c in &mut clipped.coolant_c {
            *c = c.min(cap_c);
        }
        let declined = assess(&clipped).unwrap_err();
        assert!(
            matches!(declined, NotAssessable::CoolantStands { value_c, .. } if value_c == cap_c)
        );
        let mut frozen = prepared();
        frozen.coolant_c.fill(95.0);
        assert!(matches!(
            assess(&frozen),
            Err(NotAssessable::CoolantStands { .. })
        ));
    }

    #[test]
    fn a_frozen_heat_input_is_declined() {
        let mut session = prepared();
        let (from, _) = session.drive.stints[0];
        let heat = session.heat.as_mut().unwrap();
        let held = heat.watts[from];
        heat.watts[from..from + 200].fill(held);
        assert!(matches!(
            assess(&session),
            Err(NotAssessable::HeatStands { .. })
        ));
    }
}
