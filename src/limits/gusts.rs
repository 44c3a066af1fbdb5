//! Gusts of the draws: an Ornstein-Uhlenbeck process of unit scatter for each draw, the same for every session, and
//! so made once.

use std::sync::OnceLock;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::ahead::{DRAWS, SEED};
use crate::estimate::prepare::STEP_S;

/// Correlation time of gusts, s (some minute; common practice, no source).
const GUST_S: f64 = 60.0;

/// Length of a step, s.
pub(super) const GUST_STEP_S: f64 = 2.0 * STEP_S;

/// Steps that are kept; a longer drive has those beyond drawn as it goes.
const KEPT: usize = 1800;

/// The gusts of one draw.
pub(super) struct Gusts {
    /// The first steps.
    kept: Vec<f64>,
    /// How it goes on.
    then: Walk,
}

#[derive(Clone)]
struct Walk {
    gust: f64,
    rng: ChaCha8Rng,
}

impl Walk {
    fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.rng)
    }
}

impl Iterator for Walk {
    type Item = f64;

    /// The mean over a step of two.
    fn next(&mut self) -> Option<f64> {
        let keep = (-STEP_S / GUST_S).exp();
        let mut sum = 0.0;
        for _ in 0..2 {
            self.gust = keep * self.gust + (1.0 - keep * keep).sqrt() * self.normal();
            sum += self.gust;
        }
        Some(sum / 2.0)
    }
}

impl Gusts {
    /// Of draw number `i`.
    pub fn of(i: usize) -> &'static Self {
        static ALL: OnceLock<Vec<Gusts>> = OnceLock::new();
        &ALL.get_or_init(|| (0..DRAWS).map(Self::draw).collect())[i]
    }

    fn draw(i: usize) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        rng.set_stream(1 + i as u64);
        let mut then = Walk { gust: 0.0, rng };
        then.gust = then.normal();
        let kept = then.by_ref().take(KEPT).collect();
        Self { kept, then }
    }

    /// Step by step, without end.
    pub fn walk(&self) -> impl Iterator<Item = f64> {
        self.kept.iter().copied().chain(self.then.clone())
    }
}

/// Standard deviation of the mean of gusts over `length_s`, over that of the gusts.
pub(super) fn mean_of_gusts(length_s: f64) -> f64 {
    let share = GUST_S / length_s;
    (2.0 * (share - share * share * -(-1.0 / share).exp_m1())).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::mean;

    /// Unit scatter, and the mean of 600 s as scattered as the closed form has it; what lies beyond the kept
    /// steps goes on as they do.
    #[test]
    fn they_scatter_as_the_closed_form_says() {
        let mean_square = |values: &[f64]| mean(&values.iter().map(|v| v * v).collect::<Vec<_>>());
        for from in [0, KEPT - 150] {
            let all = (0..DRAWS).map(|i| Gusts::of(i).walk().skip(from).take(300));
            let walks: Vec<Vec<f64>> = all.map(Iterator::collect).collect();
            let scatter = mean(&walks.iter().map(|w| mean_square(w)).collect::<Vec<_>>());
            assert!((scatter - 1.0).abs() < 0.1, "{scatter}");
            let means: Vec<f64> = walks.iter().map(|w| mean(w)).collect();
            let over = mean_square(&means).sqrt() / mean_of_gusts(600.0);
            assert!((over - 1.0).abs() < 0.15, "{over}");
        }
    }
}
