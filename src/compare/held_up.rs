//! Laps on which the car was held up, setup by setup.
//!
//! Behind another car less air comes through the core, and no channel tells how much. Laps slowed in one place are
//! left out (`estimate::windows`); who meets many of them follows other cars on laps that show nothing, too. So the
//! side held up on clearly more of its laps looks hotter than it is, and only a verdict against that lean stands.
//! Clearly: shares [`APART`] apart or more, and `z = (p1 - p2) / √(p (1 - p) (1/n1 + 1/n2))` above [`CLEARLY`] (the
//! usual test of two proportions).

use super::answer::Side;
use crate::warning::Warning;
use crate::words::quoted;

/// Shares of laps that are no closer than this matter.
const APART: f64 = 0.15;

/// And are not chance: 99 % two-sided.
const CLEARLY: f64 = 2.576;

/// Which of the two sides was held up on clearly more of its laps: the first or the second.
pub fn held_up_more(sides: [&Side; 2]) -> [bool; 2] {
    let [(held1, n1), (held2, n2)] = sides.map(|s| (s.laps_held_up as f64, s.laps as f64));
    if n1 == 0.0 || n2 == 0.0 {
        return [false; 2];
    }
    let apart = held1 / n1 - held2 / n2;
    let share = (held1 + held2) / (n1 + n2);
    let error = (share * (1.0 - share) * (1.0 / n1 + 1.0 / n2)).sqrt();
    if apart.abs() < APART || apart.abs() <= CLEARLY * error {
        return [false; 2];
    }
    [apart > 0.0, apart < 0.0]
}

/// What was counted, in words.
pub fn in_words([before, after]: [&Side; 2]) -> String {
    format!(
        "the car was held up on {} of {} laps with {} and on {} of {} with {}",
        before.laps_held_up,
        before.laps,
        quoted(&before.setup),
        after.laps_held_up,
        after.laps,
        quoted(&after.setup)
    )
}

/// The caution where one side was held up more.
pub fn caution(sides: [&Side; 2]) -> Option<Warning> {
    let more = held_up_more(sides).iter().position(|more| *more)?;
    Some(Warning::caution(
        "held-up-unevenly",
        format!(
            "{}: those laps are left out, but following another car takes air from the core on other laps too, so {} looks hotter than it is; run both setups in like traffic",
            in_words(sides),
            quoted(&sides[more].setup)
        ),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn side(laps_held_up: usize, laps: usize) -> Side {
        Side {
            setup: "a".to_owned(),
            sessions: Vec::new(),
            left_out: Vec::new(),
            days: 1,
            laps,
            laps_held_up,
        }
    }

    fn more(one: (usize, usize), two: (usize, usize)) -> [bool; 2] {
        held_up_more([&side(one.0, one.1), &side(two.0, two.1)])
    }

    #[test]
    fn clearly_more_laps_held_up_are_told() {
        assert_eq!(more((3, 33), (14, 33)), [false, true]);
        assert_eq!(more((14, 33), (3, 33)), [true, false]);
    }

    /// 5 of 33 against 9 of 33 is what chance brings; so are few laps; and one lap in ten is no matter however sure.
    #[test]
    fn what_chance_brings_is_not() {
        for (one, two) in [
            ((5, 33), (9, 33)),
            ((0, 4), (2, 4)),
            ((0, 500), (50, 500)),
            ((0, 0), (9, 20)),
        ] {
            assert_eq!(more(one, two), [false, false], "{one:?} {two:?}");
        }
    }
}
