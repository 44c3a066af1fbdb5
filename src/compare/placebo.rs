//! Each setup against itself: what the comparison says where nothing was changed.
//!
//! The sessions of a setup are parted at random into two halves, day by day as far as that goes, and
//! the halves compared as if they were two setups, everything else as in the comparison. One split
//! more, where it can be had: the sessions with the setup before from ahead of the part's fitting
//! against those from after its removal.

use std::collections::{BTreeMap, BTreeSet};

use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::answer::Placebo;
use super::contrast::{Layout, Observation};
use super::standardised::Standard;

/// Seed of the splits.
pub const SEED: u64 = 20_471_125;

/// Splits of each setup, at most.
const SPLITS: usize = 10;

/// A setup with fewer sessions is not split.
const LEAST_SESSIONS: usize = 4;

/// All placebos of a comparison. `observations` are those of its contrast.
pub(super) fn placebos(
    standard: &Standard,
    observations: &[Observation],
    sides: [&str; 2],
) -> Vec<Placebo> {
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let mut placebos: Vec<Placebo> = returned(observations, sides)
        .map(|second| Placebo {
            setup: sides[0].to_owned(),
            split: format!(
                "after {} was taken off again, against before it was fitted",
                sides[1]
            ),
            coolant_change_k: change(standard, observations, sides[0], &second),
        })
        .into_iter()
        .collect();
    for setup in sides {
        for (number, second) in splits(observations, setup, &mut rng).iter().enumerate() {
            placebos.push(Placebo {
                setup: setup.to_owned(),
                split: format!("random split {}", number + 1),
                coolant_change_k: change(standard, observations, setup, second),
            });
        }
    }
    placebos
}

/// The second part of a setup's sessions against the first.
fn change(
    standard: &Standard,
    observations: &[Observation],
    setup: &str,
    second: &BTreeSet<usize>,
) -> crate::stats::Estimate {
    let (first_name, second_name) = (format!("{setup}\n1"), format!("{setup}\n2"));
    let named: Vec<Observation> = observations
        .iter()
        .enumerate()
        .map(|(i, o)| Observation {
            setup: match (o.setup == setup, second.contains(&i)) {
                (true, true) => second_name.clone(),
                (true, false) => first_name.clone(),
                (false, _) => o.setup.clone(),
            },
            ..o.clone()
        })
        .collect();
    standard.change_of(&Layout::of(&named).contrast(&first_name, &second_name, None))
}

/// Different random halves of a setup's sessions: the members of each second half.
fn splits(observations: &[Observation], setup: &str, rng: &mut ChaCha8Rng) -> Vec<BTreeSet<usize>> {
    let members: Vec<usize> = (0..observations.len())
        .filter(|&i| observations[i].setup == setup)
        .collect();
    if members.len() < LEAST_SESSIONS {
        return Vec::new();
    }
    let mut found: Vec<BTreeSet<usize>> = Vec::new();
    // Few sessions have few splits: a number of draws without a new one ends it.
    for _ in 0..10 * SPLITS {
        let half = half(observations, &members, rng);
        if found.len() < SPLITS && !found.contains(&half) {
            found.push(half);
        }
    }
    found
}

/// Half of the members, of each day as nearly as goes; the first member is never in it, so that a
/// split and its mirror image are one.
fn half(observations: &[Observation], members: &[usize], rng: &mut ChaCha8Rng) -> BTreeSet<usize> {
    let mut days: BTreeMap<_, Vec<usize>> = BTreeMap::new();
    for &i in members {
        days.entry(observations[i].day).or_default().push(i);
    }
    let mut order: Vec<usize> = Vec::new();
    let mut days: Vec<Vec<usize>> = days.into_values().collect();
    days.shuffle(rng);
    for day in &mut days {
        day.shuffle(rng);
        order.extend(day.iter());
    }
    let odd = usize::from(rng.random_bool(0.5));
    let taken = |parity: usize| -> BTreeSet<usize> {
        order.iter().skip(parity).step_by(2).copied().collect()
    };
    let half = taken(odd);
    if half.contains(&members[0]) {
        taken(1 - odd)
    } else {
        half
    }
}

/// Where the part was fitted and removed again: the sessions with the setup before that came after
/// its last day, if some came ahead of its first.
fn returned(observations: &[Observation], sides: [&str; 2]) -> Option<BTreeSet<usize>> {
    let days_of = |setup: &str| -> Vec<(usize, chrono::NaiveDate)> {
        let all = observations.iter().enumerate();
        all.filter(|(_, o)| o.setup == setup)
            .filter_map(|(i, o)| Some((i, o.day?)))
            .collect()
    };
    let part = days_of(sides[1]);
    let (first, last) = (
        part.iter().map(|d| d.1).min()?,
        part.iter().map(|d| d.1).max()?,
    );
    let before = days_of(sides[0]);
    let ahead = before.iter().any(|d| d.1 < first);
    let behind: BTreeSet<usize> = before.iter().filter(|d| d.1 > last).map(|d| d.0).collect();
    (ahead && !behind.is_empty()).then_some(behind)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(setup: &str, day: u32) -> Observation {
        super::super::contrast::at(setup, day, 0.0)
    }

    #[test]
    fn halves_respect_the_days_and_none_comes_twice() {
        let observations: Vec<Observation> = [1, 1, 2, 2, 3, 3, 3, 3].map(|d| at("a", d)).to_vec();
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let splits = splits(&observations, "a", &mut rng);
        assert_eq!(splits.len(), SPLITS);
        for (k, split) in splits.iter().enumerate() {
            assert!(!split.contains(&0) && !splits[..k].contains(split));
            let of_day = |d: &[usize]| d.iter().filter(|i| split.contains(i)).count();
            assert_eq!(
                [of_day(&[0, 1]), of_day(&[2, 3]), of_day(&[4, 5, 6, 7])],
                [1, 1, 2]
            );
        }
    }

    #[test]
    fn two_days_of_two_have_two_splits_and_three_sessions_none() {
        let observations: Vec<Observation> = [1, 1, 2, 2].map(|d| at("a", d)).to_vec();
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        assert_eq!(splits(&observations, "a", &mut rng).len(), 2);
        assert!(splits(&observations[..3], "a", &mut rng).is_empty());
    }

    #[test]
    fn a_part_that_was_taken_off_again_is_seen() {
        let aba = [at("a", 1), at("b", 2), at("a", 3)];
        assert_eq!(returned(&aba, ["a", "b"]), Some(BTreeSet::from([2])));
        assert_eq!(returned(&aba[..2], ["a", "b"]), None);
        assert_eq!(returned(&[at("a", 2), at("b", 2)], ["a", "b"]), None);
    }
}
