//! What is fitted to a session's record, and what is known of it beforehand.

use crate::stats::posterior::Normal;

/// What is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parameter {
    /// Logarithm of the conductance at reference conditions, W/K.
    Conductance,
    /// Logarithm of the quick heat capacity (coolant and metal) over the car sheet's.
    Capacity,
    /// Logarithm of λ.
    Lag,
    /// Logarithm of σ_w.
    Wander,
    /// Logarithm of τ_w, s.
    WanderTime,
    /// How much lower than the sheet says the thermostat opens, K.
    Thermostat,
    /// Logarithm of the slow heat capacity over the car sheet's.
    Slow,
    /// Logarithm of τ_b, s.
    SlowTime,
}

use Parameter::{Capacity, Conductance, Lag, Slow, SlowTime, Thermostat, Wander, WanderTime};

impl Parameter {
    /// Every parameter, those that a simpler model leaves out last.
    pub const ALL: [Parameter; 8] = [
        Conductance,
        Capacity,
        Lag,
        Wander,
        WanderTime,
        Thermostat,
        Slow,
        SlowTime,
    ];

    /// Its prior. All common practice, no source, and wide: the thermostat's rating ±2 K; gusts
    /// and wakes move the conductance by some 5 % for a minute; a block of cast metal and its oil
    /// hold about half of what coolant and heads do and follow in some minutes.
    pub fn prior(self) -> Normal {
        let (centre, sd) = match self {
            Conductance => (6.5, 3.0),
            Capacity => (0.0, 0.40),
            Lag => (0.0, 0.35),
            Wander => (0.05_f64.ln(), 1.0),
            WanderTime => (60.0_f64.ln(), 0.5),
            Thermostat => (0.0, 2.0),
            Slow => (0.5_f64.ln(), 0.5),
            SlowTime => (150.0_f64.ln(), 0.4),
        };
        Normal { centre, sd }
    }

    /// The parameter in words.
    pub fn label(self) -> &'static str {
        match self {
            Conductance => "conductance",
            Capacity => "heat capacity",
            Lag => "lags",
            Wander => "size of the wander",
            WanderTime => "memory of the wander",
            Thermostat => "thermostat",
            Slow => "slow heat capacity",
            SlowTime => "time of the slow part",
        }
    }
}
