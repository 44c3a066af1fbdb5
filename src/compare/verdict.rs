//! The judgement: one rule, one wording.
//!
//! In this order: the setups cannot be compared; the two answers disagree: cannot tell; the whole
//! interval inside ± the smallest change that matters: no practical change; wholly below zero:
//! improved; wholly above: worsened; else cannot tell. A wide interval over zero is no proof of no
//! effect.

use super::ambient_shift::{self, looks_hotter};
use super::answer::{Bound, Comparison, Side, Verdict, WhatItWouldTake};
use super::held_up::{self, held_up_more};
use crate::quantity::{Measure, Units};
use crate::stats::{Estimate, Interval, sessions_needed};
use crate::words::signed;

/// Power at which a test is sized.
const POWER: f64 = 0.8;

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
    /// Pairs of stints alike. Without any the answer leans on the model alone, and none stands.
    pub pairs: usize,
    /// What those sessions prove for themselves.
    pub bound: Option<&'a Bound>,
}

/// Judges a change, and says whether the bound of regulated sessions decided.
pub fn judge(evidence: &Evidence) -> (Verdict, bool) {
    let verdict = of_points(evidence);
    let open = verdict == Verdict::CannotTell && evidence.answers_agree != Some(false);
    match evidence.bound.filter(|_| open) {
        Some(bound) if bound.shows_cooler() => (Verdict::Improved, true),
        Some(bound) if bound.shows_hotter() => (Verdict::Worsened, true),
        _ => (verdict, false),
    }
}

fn of_points(evidence: &Evidence) -> Verdict {
    if evidence.pairs == 0 {
        return Verdict::CannotTell;
    }
    let verdict = of_interval(
        evidence.change_k,
        evidence.threshold_k,
        evidence.answers_agree,
    );
    let ambient_moved = looks_hotter(
        verdict,
        evidence.change_k,
        evidence.threshold_k,
        evidence.intake_gap_change_k,
    );
    let regulated = evidence.regulated.map(|sessions| sessions > 0);
    let sides = [regulated, evidence.held_up_more, ambient_moved];
    if sides.into_iter().any(|side| leans(verdict, side)) {
        Verdict::CannotTell
    } else {
        verdict
    }
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

/// What is said where a verdict leans on an ambient reading that moved.
fn ambient_moved(verdict: Verdict, comparison: &Comparison, units: Units) -> Option<String> {
    let gap_k = &comparison.intake_gap_change_k;
    let change_k = &comparison.coolant_change_k.main;
    let moved = looks_hotter(verdict, change_k, comparison.threshold_k, gap_k);
    leans(verdict, moved).then(|| ambient_shift::in_words(gap_k, units))
}

/// Why the verdict that the interval alone would give does not stand; `ambient_moved`: that it leans on the ambient
/// reading.
fn leaning(of_interval: Verdict, sides: [&Side; 2], ambient_moved: Option<String>) -> String {
    ambient_moved.unwrap_or_else(|| {
        if leans(of_interval, held_up_more(sides)) {
            held_up::in_words(sides)
        } else {
            "sessions that ran on the thermostat had to be left out".to_owned()
        }
    })
}

pub(super) fn of_interval(
    change_k: &Estimate,
    threshold_k: f64,
    answers_agree: Option<bool>,
) -> Verdict {
    match change_k.known() {
        None => Verdict::CannotTell,
        Some(_) if answers_agree == Some(false) => Verdict::CannotTell,
        Some(i) if range_inside(i, threshold_k) => Verdict::NoPracticalChange,
        Some(i) if i.high < 0.0 => Verdict::Improved,
        Some(i) if i.low > 0.0 => Verdict::Worsened,
        Some(_) => Verdict::CannotTell,
    }
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
    Some(WhatItWouldTake {
        sessions_per_setup,
        days,
        sought_k,
    })
}

impl Verdict {
    /// The verdict in two or three words.
    pub fn label(self) -> &'static str {
        match self {
            Self::Improved => "improved",
            Self::Worsened => "worsened",
            Self::NoPracticalChange => "no practical change",
            Self::CannotTell => "cannot tell",
            Self::NotComparable => "not comparable",
        }
    }
}

/// The verdict in two sentences: the answer with its numbers, and what it does not prove.
pub fn sentences(comparison: &Comparison, units: Units) -> String {
    let (before, after) = (&comparison.before.setup, &comparison.after.setup);
    let change = &comparison.coolant_change_k.main;
    let ambient = ambient(comparison, units);
    let threshold_k = comparison.threshold_k;
    let kelvin = units.symbol(Measure::Difference);
    let told = |k: f64| units.of(Measure::Difference, k);
    let threshold = told(threshold_k);
    let signed = |k: f64| signed(told(k), 1);
    let range = |i: &Interval| range(i, units);
    if let Some(bound) = comparison.regulated_evidence.as_ref().filter(|b| b.decides) {
        return of_bound(comparison, bound, units);
    }
    match (comparison.verdict, change) {
        (Verdict::NotComparable, _) => {
            format!(
                "{after} cannot be compared with {before}: {}.",
                reason(comparison, units)
            )
        }
        (_, Estimate::Unknown { why }) => {
            format!(
                "Nobody can tell from these sessions whether {after} runs cooler than {before}: {}. {}",
                units.prose(why),
                outlook(comparison, units)
            )
        }
        (Verdict::Improved | Verdict::Worsened, Estimate::Known(i)) => {
            let way = if comparison.verdict == Verdict::Improved {
                "cooler"
            } else {
                "hotter"
            };
            format!(
                "With {after} the coolant runs {:.1} {kelvin} {way} than with {before} ({}), over the same drive at {ambient} ambient with the thermostat fully open. This holds for this car and this kind of running, and does not prove the cause: whatever else differed between the setups is in the number.",
                told(i.estimate.abs()),
                range(i),
            )
        }
        (Verdict::NoPracticalChange, Estimate::Known(i)) => format!(
            "{after} changes the coolant by less than the {threshold:.1} {kelvin} that matter against {before} ({} {kelvin}, {}), over the same drive at {ambient} ambient. This does not prove that there is no effect, only that it is smaller than that here.",
            signed(i.estimate),
            range(i),
        ),
        (Verdict::CannotTell, Estimate::Known(i)) => {
            let denied = of_interval(change, threshold_k, comparison.answers_agree);
            let why = if comparison.answers_agree == Some(false) {
                let matched = comparison.matched.coolant_change_k.point();
                format!(
                    "the two answers disagree (standardised {} {kelvin}, matched {} {kelvin}; each must lie inside the other's interval)",
                    signed(i.estimate),
                    matched.map_or_else(|| "none".to_owned(), signed)
                )
            } else if comparison.matched.pairs == 0 {
                format!(
                    "no stints of the two are alike in ambient, density and pace, so the change of {} {kelvin} ({}) leans on the model alone",
                    signed(i.estimate),
                    range(i)
                )
            } else if denied != Verdict::CannotTell {
                let what = leaning(
                    denied,
                    [&comparison.before, &comparison.after],
                    ambient_moved(denied, comparison, units),
                );
                format!(
                    "the change is {} {kelvin} ({}), but {what}, which leans the same way",
                    signed(i.estimate),
                    range(i)
                )
            } else {
                format!(
                    "the change is {} {kelvin}, with a {}",
                    signed(i.estimate),
                    range(i)
                )
            };
            format!(
                "These sessions cannot tell whether {after} runs cooler than {before}: {why}, at {ambient} ambient. {}",
                outlook(comparison, units)
            )
        }
    }
}

/// The sentences where sessions on the thermostat decide.
fn of_bound(comparison: &Comparison, bound: &Bound, units: Units) -> String {
    let (before, after) = (&comparison.before.setup, &comparison.after.setup);
    let size = units.of(Measure::Difference, bound.limit().1.abs());
    let kelvin = units.symbol(Measure::Difference);
    let way = if bound.shows_cooler() {
        "cooler"
    } else {
        "hotter"
    };
    let number = bound.sessions.len();
    let sessions = if number == 1 { "session" } else { "sessions" };
    format!(
        "With {after} the coolant runs at least {size:.1} {kelvin} {way} than with {before} ({:.1} % one-sided bound), over the same drive at {} ambient with the thermostat fully open. {number} {sessions} with {} ran on the thermostat, which hides how much more it is; and what else differed between the setups is in the number.",
        100.0 * bound.level,
        ambient(comparison, units),
        bound.setup,
    )
}

/// Whether the whole interval is too small to matter.
fn range_inside(i: &Interval, threshold_k: f64) -> bool {
    -threshold_k < i.low && i.high < threshold_k
}

/// The reference ambient with its unit.
fn ambient(comparison: &Comparison, units: Units) -> String {
    let told = units.of(Measure::Temperature, comparison.reference.ambient_c);
    format!("{told:.0} {}", units.symbol(Measure::Temperature))
}

fn range(i: &Interval, units: Units) -> String {
    let told = |k: f64| signed(units.of(Measure::Difference, k), 1);
    format!(
        "{:.0} % interval {} to {} {}",
        100.0 * i.level,
        told(i.low),
        told(i.high),
        units.symbol(Measure::Difference)
    )
}

fn reason(comparison: &Comparison, units: Units) -> String {
    let disqualifying = comparison
        .warnings
        .iter()
        .find(|w| w.severity == crate::warning::Severity::Disqualifies);
    disqualifying.map_or_else(String::new, |w| units.prose(&w.message).into_owned())
}

fn outlook(comparison: &Comparison, units: Units) -> String {
    let told = |k: f64| units.of(Measure::Difference, k);
    let kelvin = units.symbol(Measure::Difference);
    let test = match comparison.what_it_would_take {
        Some(w) => format!(
            "To find {:.1} {kelvin} takes about {} sessions with each setup, over {} days with both setups on each",
            told(w.sought_k),
            w.sessions_per_setup,
            w.days
        ),
        None if comparison.rows.is_empty() => {
            return "It takes sessions that can be assessed, with both setups on each day."
                .to_owned();
        }
        None => "No test of a practical size could tell".to_owned(),
    };
    match comparison.smallest_excludable_k {
        Some(k) => format!(
            "{test}; what these data do exclude is a change of more than {:.1} {kelvin}.",
            told(k)
        ),
        None => format!("{test}."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn between(low: f64, high: f64) -> Estimate {
        Estimate::between(f64::midpoint(low, high), low, high, "t")
    }

    fn judged(
        change_k: &Estimate,
        answers_agree: Option<bool>,
        regulated: [usize; 2],
        pairs: usize,
    ) -> Verdict {
        let evidence = Evidence {
            change_k,
            threshold_k: 0.5,
            answers_agree,
            regulated,
            held_up_more: [false; 2],
            intake_gap_change_k: &Estimate::unknown("no intake"),
            pairs,
            bound: None,
        };
        judge(&evidence).0
    }

    #[test]
    fn the_rule_in_its_order() {
        for (low, high, agree, expected) in [
            (-0.4, 0.3, Some(true), Verdict::NoPracticalChange),
            (-0.4, -0.1, Some(true), Verdict::NoPracticalChange),
            (-2.0, -0.1, Some(true), Verdict::Improved),
            (-2.0, -0.1, None, Verdict::Improved),
            (-2.0, -0.1, Some(false), Verdict::CannotTell),
            (0.1, 2.0, Some(true), Verdict::Worsened),
            (-3.0, 3.0, Some(true), Verdict::CannotTell),
            (-0.5, 0.4, Some(true), Verdict::CannotTell),
        ] {
            assert_eq!(
                judged(&between(low, high), agree, [0, 0], 9),
                expected,
                "{low} {high}"
            );
        }
        let unknown = Estimate::unknown("why");
        assert_eq!(judged(&unknown, None, [0, 0], 9), Verdict::CannotTell);
    }

    #[test]
    fn only_a_verdict_against_the_lean_of_regulated_sessions_stands() {
        let of = |low, high, regulated| judged(&between(low, high), Some(true), regulated, 9);
        assert_eq!(of(-2.0, -0.6, [0, 2]), Verdict::Improved);
        assert_eq!(of(-2.0, -0.6, [2, 0]), Verdict::CannotTell);
        assert_eq!(of(0.6, 2.0, [2, 0]), Verdict::Worsened);
        assert_eq!(of(0.6, 2.0, [0, 1]), Verdict::CannotTell);
        assert_eq!(of(-0.2, 0.2, [0, 1]), Verdict::CannotTell);
    }

    /// The side held up on more laps looks hotter than it is: against that lean a verdict stands, with it none does.
    #[test]
    fn laps_held_up_on_one_side_leave_only_a_verdict_against_their_lean() {
        let of = |low, high, held_up_more| {
            let evidence = Evidence {
                change_k: &between(low, high),
                threshold_k: 0.5,
                answers_agree: Some(true),
                regulated: [0, 0],
                held_up_more,
                intake_gap_change_k: &Estimate::unknown("no intake"),
                pairs: 9,
                bound: None,
            };
            judge(&evidence).0
        };
        assert_eq!(of(-2.0, -0.6, [true, false]), Verdict::CannotTell);
        assert_eq!(of(-2.0, -0.6, [false, true]), Verdict::Improved);
        assert_eq!(of(0.6, 2.0, [false, true]), Verdict::CannotTell);
        assert_eq!(of(0.6, 2.0, [true, false]), Verdict::Worsened);
        assert_eq!(of(-0.2, 0.2, [false, true]), Verdict::CannotTell);
    }

    /// The reason that is given is the one that leans the same way; laps held up on the other side are none.
    #[test]
    fn the_reason_given_leans_the_same_way() {
        let side = |laps_held_up| Side {
            setup: "a".to_owned(),
            sessions: Vec::new(),
            left_out: Vec::new(),
            days: 2,
            laps: 33,
            laps_held_up,
        };
        let (few, many) = (side(3), side(20));
        let held_up = |of_interval| leaning(of_interval, [&few, &many], None).contains("held up");
        assert!(held_up(Verdict::Worsened) && held_up(Verdict::NoPracticalChange));
        assert!(!held_up(Verdict::Improved));
    }

    #[test]
    fn a_bound_decides_where_points_do_not_and_the_answers_do_not_disagree() {
        let bound = |at_most| Bound {
            setup: "after".to_owned(),
            sessions: vec!["s4".to_owned()],
            coolant_change_at_most_k: Some(at_most),
            coolant_change_at_least_k: None,
            level: 0.975,
            method: "t".to_owned(),
            decides: false,
        };
        let of = |bound: &Bound, agree| {
            let evidence = Evidence {
                change_k: &Estimate::unknown("no session after"),
                threshold_k: 0.5,
                answers_agree: agree,
                regulated: [0, 3],
                held_up_more: [false; 2],
                intake_gap_change_k: &Estimate::unknown("no intake"),
                pairs: 0,
                bound: Some(bound),
            };
            judge(&evidence)
        };
        assert_eq!(of(&bound(-0.8), None), (Verdict::Improved, true));
        assert_eq!(of(&bound(0.3), None), (Verdict::CannotTell, false));
        assert_eq!(of(&bound(-0.8), Some(false)), (Verdict::CannotTell, false));
    }

    #[test]
    fn without_stints_alike_no_verdict_stands() {
        let of = |pairs| judged(&between(-4.0, -2.0), None, [0, 0], pairs);
        assert_eq!((of(0), of(1)), (Verdict::CannotTell, Verdict::Improved));
    }

    #[test]
    fn a_smaller_effect_takes_more_sessions() {
        let take = |low, high| what_it_would_take(&between(low, high), 0.5, 0.75, 2).unwrap();
        let (large, small) = (take(-5.0, 1.0), take(-2.0, 0.7));
        assert!(large.sessions_per_setup < small.sessions_per_setup);
        assert!(small.days >= 2);
    }
}
