//! The judgement: one rule, one wording (`words`).
//!
//! In this order: the setups cannot be compared; something other than the part may have made the answer (`Denied`):
//! cannot tell; the whole interval inside ± the smallest change that matters: no practical change; wholly below zero:
//! improved; wholly above: worsened; else cannot tell. A wide interval over zero is no proof of no
//! effect.

mod words;

use super::ambient_shift::{looks_hotter, may_come_of_ambient};
use super::answer::{Bound, Denied, Verdict, WhatItWouldTake};
use crate::stats::{Estimate, Interval, sessions_needed};

pub use words::sentences;

/// Power at which a test is sized.
const POWER: f64 = 0.8;

/// A test of more days than this is none.
pub const MOST_DAYS: u32 = 60;

/// What a verdict rests on.
#[derive(Debug, Clone, Copy)]
pub struct Evidence<'a> {
    /// The change.
    pub change_k: &'a Estimate,
    /// The smallest change that matters.
    pub threshold_k: f64,
    /// Whether the standardised and the matched answer agree.
    pub answers_agree: Option<bool>,
    /// Sessions before and after that were left out because they ran on the thermostat: they were
    /// the cool ones, so their side looks worse than it is, and only a verdict against that lean
    /// stands.
    pub regulated: [usize; 2],
    /// Whether the car was held up on clearly more laps before, or after: that side looks hotter than it is, too.
    pub held_up_more: [bool; 2],
    /// By how much intake air less ambient differs with the part, K: the ambient reading may have moved by it.
    pub intake_gap_change_k: &'a Estimate,
    /// By how much the change may lean on how heat follows pace, K.
    pub pace_lean_k: f64,
    /// Sessions used before and after.
    pub used: [usize; 2],
    /// Pairs of stints alike. Without any the answer leans on the model alone, and none stands.
    pub pairs: usize,
    /// What those sessions prove for themselves.
    pub bound: Option<&'a Bound>,
}

/// A judgement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Judged {
    /// The verdict.
    pub verdict: Verdict,
    /// Why the interval alone does not decide.
    pub denied_by: Option<Denied>,
    /// Whether the bound of regulated sessions decided.
    pub by_bound: bool,
}

/// Judges a change.
pub fn judge(evidence: &Evidence) -> Judged {
    let of_interval = of_interval(evidence.change_k, evidence.threshold_k);
    let denied_by = denied(evidence, of_interval);
    let verdict = match denied_by {
        Some(_) => Verdict::CannotTell,
        None => of_interval,
    };
    let open = verdict == Verdict::CannotTell && denied_by != Some(Denied::AnswersDisagree);
    let bound = evidence.bound.filter(|_| open);
    match bound.map(|bound| judge_bound(evidence, bound)) {
        Some(Ok(verdict)) => Judged {
            verdict,
            denied_by: None,
            by_bound: true,
        },
        Some(Err(Some(why))) => Judged {
            verdict: Verdict::CannotTell,
            denied_by: Some(why),
            by_bound: false,
        },
        Some(Err(None)) | None => Judged {
            verdict,
            denied_by,
            by_bound: false,
        },
    }
}

/// What a bound shows by itself. `Err`: why it does not stand, or `None` where it shows nothing.
fn judge_bound(evidence: &Evidence, bound: &Bound) -> Result<Verdict, Option<Denied>> {
    let verdict = if bound.shows_cooler() {
        Verdict::Improved
    } else if bound.shows_hotter() {
        Verdict::Worsened
    } else {
        return Err(None);
    };
    if may_come_of_ambient(bound.limit().1, evidence.intake_gap_change_k) {
        return Err(Some(Denied::AmbientMoved));
    }
    match leans(verdict, evidence.held_up_more) {
        true => Err(Some(Denied::HeldUp)),
        false => Ok(verdict),
    }
}

/// Why a verdict of the interval does not stand.
fn denied(evidence: &Evidence, of_interval: Verdict) -> Option<Denied> {
    // A side of which all sessions ran on the thermostat has nothing else to say.
    let hidden = evidence.used.iter().zip(evidence.regulated);
    if hidden
        .clone()
        .any(|(used, regulated)| *used == 0 && regulated > 0)
    {
        return Some(Denied::Regulated);
    }
    let change = evidence.change_k.known()?;
    if evidence.pairs == 0 {
        return Some(Denied::NoStintsAlike);
    }
    if evidence.answers_agree == Some(false) {
        return Some(Denied::AnswersDisagree);
    }
    let ambient_moved = looks_hotter(
        of_interval,
        evidence.change_k,
        evidence.threshold_k,
        evidence.intake_gap_change_k,
    );
    let sides = [
        (ambient_moved, Denied::AmbientMoved),
        (evidence.held_up_more, Denied::HeldUp),
        (evidence.regulated.map(|n| n > 0), Denied::Regulated),
    ];
    let leaning = sides
        .into_iter()
        .find(|(side, _)| leans(of_interval, *side));
    let wider = Estimate::between(
        change.estimate,
        change.low - evidence.pace_lean_k,
        change.high + evidence.pace_lean_k,
        "with the lean on pace",
    );
    let stands = self::of_interval(&wider, evidence.threshold_k) == of_interval;
    let by_pace = (!stands).then_some(Denied::PaceDiffers);
    leaning.map(|(_, why)| why).or(by_pace)
}

/// Whether a verdict may come from a side, before or after, that looks hotter than it is.
fn leans(verdict: Verdict, looks_hotter: [bool; 2]) -> bool {
    match verdict {
        Verdict::Improved => looks_hotter[0],
        Verdict::Worsened => looks_hotter[1],
        Verdict::NoPracticalChange => looks_hotter != [false; 2],
        Verdict::CannotTell | Verdict::NotComparable => false,
    }
}

/// What the interval alone says.
pub(super) fn of_interval(change_k: &Estimate, threshold_k: f64) -> Verdict {
    match change_k.known() {
        None => Verdict::CannotTell,
        Some(i) if range_inside(i, threshold_k) => Verdict::NoPracticalChange,
        Some(i) if i.high < 0.0 => Verdict::Improved,
        Some(i) if i.low > 0.0 => Verdict::Worsened,
        Some(_) => Verdict::CannotTell,
    }
}

/// Whether the whole interval is too small to matter.
fn range_inside(i: &Interval, threshold_k: f64) -> bool {
    -threshold_k < i.low && i.high < threshold_k
}

/// The smallest threshold that the interval would lie inside.
pub fn smallest_excludable_k(change_k: &Estimate) -> Option<f64> {
    change_k.known().map(|i| i.low.abs().max(i.high.abs()))
}

/// What an answer would take, for a session scatter of `session_sd_k`, in a design with both
/// setups on each day: enough to find the change if it is as estimated, or to show that it is
/// inside the threshold if it is that small, whichever is asked for by the estimate.
pub fn what_it_would_take(
    change_k: &Estimate,
    threshold_k: f64,
    session_sd_k: f64,
    sessions_per_setup_and_day: u32,
) -> Option<WhatItWouldTake> {
    let sought_k = match change_k.point().map(f64::abs) {
        Some(size) if size > threshold_k => size,
        Some(size) => threshold_k.max(1e-3) - size.min(threshold_k / 2.0),
        None => threshold_k.max(0.5),
    };
    let sessions_per_setup = sessions_needed(session_sd_k, sought_k, POWER)?.max(3);
    let days = sessions_per_setup
        .div_ceil(sessions_per_setup_and_day.max(1))
        .max(2);
    (days <= MOST_DAYS).then_some(WhatItWouldTake {
        sessions_per_setup,
        days,
        sought_k,
        scatter_assumed: false,
    })
}

/// Whether more sessions of the same kind are what an answer takes.
pub fn more_sessions_help(judged: &Judged) -> bool {
    let lean = [
        Denied::HeldUp,
        Denied::AmbientMoved,
        Denied::PaceDiffers,
        Denied::Regulated,
    ];
    let leans = judged.denied_by.is_some_and(|why| lean.contains(&why));
    judged.verdict == Verdict::CannotTell && !leans
}

#[cfg(test)]
mod tests {
    use super::*;

    fn between(low: f64, high: f64) -> Estimate {
        Estimate::between(f64::midpoint(low, high), low, high, "t")
    }

    static NO_INTAKE: Estimate = Estimate::Unknown { why: String::new() };

    /// Nothing but the change, with pairs enough.
    fn of_change(change_k: &Estimate) -> Evidence<'_> {
        Evidence {
            change_k,
            threshold_k: 0.5,
            answers_agree: Some(true),
            regulated: [0, 0],
            held_up_more: [false; 2],
            intake_gap_change_k: &NO_INTAKE,
            pace_lean_k: 0.0,
            used: [3, 3],
            pairs: 9,
            bound: None,
        }
    }

    #[test]
    fn the_rule_in_its_order() {
        for (low, high, answers_agree, expected) in [
            (-0.4, 0.3, Some(true), Verdict::NoPracticalChange),
            (-0.4, -0.1, Some(true), Verdict::NoPracticalChange),
            (-2.0, -0.1, Some(true), Verdict::Improved),
            (-2.0, -0.1, None, Verdict::Improved),
            (-2.0, -0.1, Some(false), Verdict::CannotTell),
            (0.1, 2.0, Some(true), Verdict::Worsened),
            (-3.0, 3.0, Some(true), Verdict::CannotTell),
            (-0.5, 0.4, Some(true), Verdict::CannotTell),
        ] {
            let change_k = between(low, high);
            let judged = judge(&Evidence {
                answers_agree,
                ..of_change(&change_k)
            });
            assert_eq!(judged.verdict, expected, "{low} {high}");
            let disagree = answers_agree == Some(false);
            assert_eq!(
                judged.denied_by,
                disagree.then_some(Denied::AnswersDisagree)
            );
        }
        let nothing = judge(&of_change(&Estimate::unknown("why")));
        assert_eq!(nothing.verdict, Verdict::CannotTell);
        assert!(more_sessions_help(&nothing));
    }

    /// Each side of each lean, before and after: the side that looks hotter than it is makes "improved" (before) or
    /// "worsened" (after) doubtful, and "no practical change" either way.
    #[test]
    fn only_a_verdict_against_a_lean_stands() {
        type Lean = fn(&mut Evidence, [bool; 2]);
        let leans: [(Lean, Denied); 2] = [
            (
                |e, side| e.regulated = side.map(|s| 2 * usize::from(s)),
                Denied::Regulated,
            ),
            (|e, side| e.held_up_more = side, Denied::HeldUp),
        ];
        let (before, after) = ([true, false], [false, true]);
        for (lean, why) in leans {
            for (low, high, side, stands) in [
                (-2.0, -0.6, before, None),
                (-2.0, -0.6, after, Some(Verdict::Improved)),
                (0.6, 2.0, before, Some(Verdict::Worsened)),
                (0.6, 2.0, after, None),
                (-0.2, 0.2, before, None),
                (-0.2, 0.2, after, None),
            ] {
                let change_k = between(low, high);
                let mut evidence = of_change(&change_k);
                lean(&mut evidence, side);
                let judged = judge(&evidence);
                assert_eq!(judged.verdict, stands.unwrap_or(Verdict::CannotTell));
                assert_eq!(judged.denied_by, stands.is_none().then_some(why));
                assert!(!more_sessions_help(&judged));
            }
        }
    }

    #[test]
    fn a_bound_decides_where_points_do_not_and_the_answers_do_not_disagree() {
        let (nothing, change_k) = (Estimate::unknown("none after"), between(-2.0, 0.9));
        let of = |at_most, change_k, answers_agree| {
            let bound = Bound {
                setup: "after".to_owned(),
                sessions: vec!["s4".to_owned()],
                coolant_change_at_most_k: Some(at_most),
                coolant_change_at_least_k: None,
                level: 0.975,
                method: "t".to_owned(),
                decides: false,
            };
            let judged = judge(&Evidence {
                answers_agree,
                regulated: [0, 3],
                bound: Some(&bound),
                ..of_change(change_k)
            });
            (judged.verdict, judged.by_bound)
        };
        assert_eq!(of(-0.8, &nothing, None), (Verdict::Improved, true));
        assert_eq!(of(0.3, &nothing, None), (Verdict::CannotTell, false));
        assert_eq!(of(-0.8, &change_k, Some(true)), (Verdict::Improved, true));
        assert_eq!(
            of(-0.8, &change_k, Some(false)),
            (Verdict::CannotTell, false)
        );
    }

    /// A bound leans on the ambient reading and on traffic as the interval does.
    #[test]
    fn a_bound_that_a_moved_ambient_may_have_made_decides_nothing() {
        let bound = Bound {
            setup: "after".to_owned(),
            sessions: vec!["s4".to_owned()],
            coolant_change_at_most_k: Some(-1.0),
            coolant_change_at_least_k: None,
            level: 0.975,
            method: String::new(),
            decides: false,
        };
        let (change, moved) = (between(-3.0, -0.8), between(-3.6, -0.4));
        let regulated = Evidence {
            regulated: [0, 1],
            pairs: 0,
            bound: Some(&bound),
            ..of_change(&change)
        };
        assert_eq!(judge(&regulated).verdict, Verdict::Improved);
        for (evidence, why) in [
            (
                Evidence {
                    intake_gap_change_k: &moved,
                    ..regulated
                },
                Denied::AmbientMoved,
            ),
            (
                Evidence {
                    held_up_more: [true, false],
                    ..regulated
                },
                Denied::HeldUp,
            ),
        ] {
            let judged = judge(&evidence);
            assert_eq!(judged.verdict, Verdict::CannotTell);
            assert_eq!(judged.denied_by, Some(why));
            assert!(!judged.by_bound);
        }
    }

    /// A driver at another pace takes the verdict that another law of heat might have made, and no other.
    #[test]
    fn a_verdict_must_stand_with_another_law_of_heat() {
        let judged = |low: f64, high: f64| {
            judge(&Evidence {
                pace_lean_k: 0.5,
                ..of_change(&between(low, high))
            })
        };
        assert_eq!(judged(-3.0, -0.6).verdict, Verdict::Improved);
        let near = judged(-3.0, -0.4);
        assert_eq!(near.denied_by, Some(Denied::PaceDiffers));
        assert!(!more_sessions_help(&near));
        assert_eq!(judged(-0.2, 0.2).denied_by, Some(Denied::PaceDiffers));
        assert_eq!(judged(-1.0, 1.0).denied_by, None);
    }

    /// All sessions of a side ran on the thermostat: warmer air is what it takes, not more of the same.
    #[test]
    fn more_sessions_on_the_thermostat_do_not_help() {
        let judged = judge(&Evidence {
            used: [3, 0],
            regulated: [0, 3],
            ..of_change(&NO_INTAKE)
        });
        assert_eq!(judged.denied_by, Some(Denied::Regulated));
        assert!(!more_sessions_help(&judged));
    }

    #[test]
    fn without_stints_alike_no_verdict_stands() {
        let change_k = between(-4.0, -2.0);
        let of = |pairs| {
            judge(&Evidence {
                pairs,
                answers_agree: None,
                ..of_change(&change_k)
            })
        };
        assert_eq!(of(0).denied_by, Some(Denied::NoStintsAlike));
        assert_eq!(of(0).verdict, Verdict::CannotTell);
        assert_eq!(of(1).verdict, Verdict::Improved);
    }

    #[test]
    fn a_test_of_two_seasons_is_none() {
        assert!(what_it_would_take(&between(-0.6, 0.7), 0.1, 0.75, 4).is_none());
    }

    #[test]
    fn a_smaller_effect_takes_more_sessions() {
        let take = |low, high| what_it_would_take(&between(low, high), 0.5, 0.75, 2).unwrap();
        let (large, small) = (take(-5.0, 1.0), take(-2.0, 0.7));
        assert!(large.sessions_per_setup < small.sessions_per_setup);
        assert!(small.days >= 2);
    }
}
