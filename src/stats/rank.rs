//! What the rank tests share: midranks, null distributions by counting, order statistics.
//!
//! Ranks are doubled, so that midranks are whole numbers and ties can be counted as exactly as
//! values without.

use statrs::distribution::{ContinuousCDF, Normal};

use super::{Estimate, LEVEL};

/// Twice the rank of each value, ties at their middle rank.
pub(super) fn doubled_midranks(values: &[f64]) -> Vec<usize> {
    values
        .iter()
        .map(|v| {
            let below = values.iter().filter(|w| *w < v).count();
            let equal = values.iter().filter(|w| *w == v).count();
            2 * below + equal + 1
        })
        .collect()
}

/// Numbers of ways to reach each sum, as probabilities.
#[derive(Debug, Clone)]
pub(super) struct Null(Vec<f64>);

impl Null {
    /// Sums of `size` of the `ranks`, all choices alike likely.
    pub fn of_choices(ranks: &[usize], size: usize) -> Self {
        let top: usize = ranks.iter().sum();
        let mut ways = vec![vec![0.0; top + 1]; size + 1];
        ways[0][0] = 1.0;
        for (done, &rank) in ranks.iter().enumerate() {
            for chosen in (1..=size.min(done + 1)).rev() {
                let (fewer, more) = ways.split_at_mut(chosen);
                for sum in (rank..=top).rev() {
                    more[0][sum] += fewer[chosen - 1][sum - rank];
                }
            }
        }
        Self::scaled(ways.swap_remove(size))
    }

    /// Sums of the `ranks`, each in or out with even odds.
    pub fn of_signs(ranks: &[usize]) -> Self {
        let top: usize = ranks.iter().sum();
        let mut ways = vec![0.0; top + 1];
        ways[0] = 1.0;
        for &rank in ranks {
            for sum in (rank..=top).rev() {
                ways[sum] += ways[sum - rank];
            }
        }
        Self::scaled(ways)
    }

    fn scaled(ways: Vec<f64>) -> Self {
        let all: f64 = ways.iter().sum();
        Self(ways.into_iter().map(|w| w / all).collect())
    }

    /// Probability of `sum` or less.
    pub fn up_to(&self, sum: usize) -> f64 {
        self.0.iter().take(sum + 1).sum::<f64>().min(1.0)
    }

    /// Probability of `sum` or more.
    pub fn from(&self, sum: usize) -> f64 {
        self.0.iter().skip(sum).sum::<f64>().min(1.0)
    }
}

/// One-sided and two-sided probabilities of a rank statistic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankP {
    /// Of a statistic as large or larger, if nothing differs.
    pub greater: f64,
    /// Of one as small or smaller.
    pub less: f64,
}

impl RankP {
    pub(super) fn exact(null: &Null, sum: usize) -> Self {
        Self {
            greater: null.from(sum),
            less: null.up_to(sum),
        }
    }

    /// By the normal distribution with continuity correction of half a step.
    pub(super) fn approximate(statistic: f64, mean: f64, variance: f64) -> Self {
        let normal = Normal::standard();
        let away = statistic - mean;
        Self {
            greater: normal.sf((away - 0.5) / variance.sqrt()),
            less: normal.cdf((away + 0.5) / variance.sqrt()),
        }
    }

    /// Twice the smaller of the two, at most 1.
    pub fn two_sided(self) -> f64 {
        (2.0 * self.greater.min(self.less)).min(1.0)
    }
}

/// The median of `sorted` values.
pub(super) fn median(sorted: &[f64]) -> f64 {
    let (low, high) = (sorted[(sorted.len() - 1) / 2], sorted[sorted.len() / 2]);
    f64::midpoint(low, high)
}

/// Median of the sorted pairwise values with the interval between the q-th of either end, where q
/// is the largest for which `tail(q - 1) <= (1 - level)/2`: `tail` is the probability of a
/// statistic that small or smaller without ties. Under ties the interval, ends included, covers at
/// least as often. `too_few` says what is missing where even q = 1 is too much.
pub(super) fn order_interval(
    sorted: &[f64],
    tail: impl Fn(usize) -> f64,
    name: &str,
    too_few: impl Fn(f64) -> String,
) -> Estimate {
    let beyond = (1.0 - LEVEL) / 2.0;
    let q = (0..sorted.len())
        .take_while(|&below| tail(below) <= beyond)
        .count();
    if q == 0 {
        return Estimate::unknown(too_few(1.0 - 2.0 * tail(0)));
    }
    let method = format!(
        "{name}, {} of {} from either end, covers {:.1} %",
        ordinal(q),
        sorted.len(),
        100.0 * (1.0 - 2.0 * tail(q - 1))
    );
    Estimate::between(
        median(sorted),
        sorted[q - 1],
        sorted[sorted.len() - q],
        method,
    )
}

fn ordinal(n: usize) -> String {
    let ending = match (n % 10, n % 100) {
        (1, h) if h != 11 => "st",
        (2, h) if h != 12 => "nd",
        (3, h) if h != 13 => "rd",
        _ => "th",
    };
    format!("{n}{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn midranks_by_hand() {
        assert_eq!(doubled_midranks(&[3.0, 1.0, 3.0, 2.0]), [7, 2, 7, 4]);
    }

    /// By hand: of ranks 1 to 4, two at a time: sums 3, 4, 5, 5, 6, 7 of six choices.
    #[test]
    fn choices_by_hand() {
        let null = Null::of_choices(&[2, 4, 6, 8], 2);
        assert!((null.up_to(6) - 1.0 / 6.0).abs() < 1e-15);
        assert!((null.up_to(10) - 4.0 / 6.0).abs() < 1e-15);
        assert!((null.from(14) - 1.0 / 6.0).abs() < 1e-15);
    }

    /// By hand: of ranks 1 to 3 with signs: sums 0, 1, 2, 3, 3, 4, 5, 6 of eight.
    #[test]
    fn signs_by_hand() {
        let null = Null::of_signs(&[2, 4, 6]);
        assert!((null.from(10) - 2.0 / 8.0).abs() < 1e-15);
        assert!((null.up_to(6) - 5.0 / 8.0).abs() < 1e-15);
    }

    #[test]
    fn ordinals() {
        let said = [1, 2, 3, 4, 11, 12, 21, 112].map(ordinal).join(" ");
        assert_eq!(said, "1st 2nd 3rd 4th 11th 12th 21st 112th");
    }
}
