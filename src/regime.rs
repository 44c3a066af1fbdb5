//! What the car was doing, second by second, told from drive and temperatures.

use serde::{Deserialize, Serialize};

/// One way of running, as far as cooling is concerned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Regime {
    /// Warming up: the thermostat is still closed for the first time.
    ColdStart,
    /// On the move, thermostat between closed and fully open: it sets the temperature.
    Regulating,
    /// On the move under load, thermostat fully open: the radiator sets the temperature.
    Open,
    /// On the move, but slow or with little load: cooling down, pit lane.
    Slow,
    /// Standing with the engine running.
    Standing,
    /// Engine stopped, heat soaking.
    Soak,
    /// No reading.
    NoData,
}

impl Regime {
    /// The regime in words, for charts and tables.
    pub fn label(self) -> &'static str {
        match self {
            Self::ColdStart => "warming up",
            Self::Regulating => "thermostat regulating",
            Self::Open => "thermostat open, under load",
            Self::Slow => "slow or cooling down",
            Self::Standing => "standing, engine running",
            Self::Soak => "engine off, soaking",
            Self::NoData => "no reading",
        }
    }
}
