//! Random numbers: one seed, many streams, so that one disturbance can be switched off without
//! moving the others.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// A stream of random numbers.
pub struct Noise {
    rng: ChaCha8Rng,
}

impl Noise {
    /// The stream number `stream` of `seed`.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self { rng }
    }

    /// A normal deviate.
    pub fn normal(&mut self, mean: f64, sd: f64) -> f64 {
        let z: f64 = StandardNormal.sample(&mut self.rng);
        mean + sd * z
    }

    /// A number between `low` and `high`, all alike.
    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        self.rng.random_range(low..high)
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.uniform(0.0, 1.0) < p
    }
}

/// An Ornstein-Uhlenbeck process: noise that remembers for `tau_s`.
pub struct Wander {
    sd: f64,
    tau_s: f64,
    value: f64,
}

impl Wander {
    /// A process already in its stationary state.
    pub fn new(sd: f64, tau_s: f64, noise: &mut Noise) -> Self {
        let value = noise.normal(0.0, 1.0) * sd;
        Self { sd, tau_s, value }
    }

    /// The value after another `dt_s`.
    pub fn step(&mut self, dt_s: f64, noise: &mut Noise) -> f64 {
        let keep = (-dt_s / self.tau_s).exp();
        let fresh = self.sd * (1.0 - keep * keep).sqrt();
        self.value = keep * self.value + fresh * noise.normal(0.0, 1.0);
        self.value
    }
}
