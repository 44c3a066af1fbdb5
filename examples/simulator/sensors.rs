//! From what was to what a logger wrote: lags, leanings, whole degrees, channels read in turn.

use std::collections::BTreeMap;

use heatbook::session::Role;

use super::noise::Noise;
use super::run::{DT_S, Truth};

/// How a logger reads its channels.
#[derive(Debug, Clone)]
pub struct Logger {
    /// Rows a second.
    pub rate_hz: f64,
    /// When it starts, s from the session's beginning.
    pub first_s: f64,
    /// Length of a round in which each channel is refreshed once, s; `None`: every row.
    pub round_s: Option<f64>,
    /// Step of every temperature, K.
    pub temperature_step_c: f64,
    /// Whether its control unit rounds the coolant's broken degrees; else it cuts them off.
    pub rounds_coolant: bool,
    /// Step of the road speed, km/h.
    pub speed_step_kmh: f64,
    /// The channels it has, in the order they are read.
    pub roles: Vec<Role>,
}

impl Logger {
    /// A plain logger: 2 Hz, whole degrees, what a car's bus offers.
    pub fn plain() -> Self {
        Self {
            rate_hz: 2.0,
            first_s: 0.0,
            round_s: None,
            temperature_step_c: 1.0,
            rounds_coolant: false,
            speed_step_kmh: 1.0,
            roles: vec![
                Role::Coolant,
                Role::Speed,
                Role::Ambient,
                Role::Intake,
                Role::Rpm,
                Role::FuelRate,
                Role::AirFlow,
                Role::Throttle,
                Role::ManifoldPressure,
                Role::BarometricPressure,
            ],
        }
    }

    /// What this logger wrote: seconds from the session's beginning, and its channels.
    pub fn log(
        &self,
        truth: &Truth,
        ambient_bias_k: f64,
        noise: &mut Noise,
    ) -> (Vec<f64>, BTreeMap<Role, Vec<f64>>) {
        let length_s = (truth.len() - 1) as f64 * DT_S - self.first_s;
        let rows = (length_s * self.rate_hz) as usize + 1;
        let time_s: Vec<f64> = (0..rows)
            .map(|i| self.first_s + i as f64 / self.rate_hz)
            .collect();
        let mut channels = BTreeMap::new();
        for (place, &role) in self.roles.iter().enumerate() {
            let sensed = sense(truth, role, ambient_bias_k);
            let slot_s = self
                .round_s
                .map_or(0.0, |r| r * place as f64 / self.roles.len() as f64);
            let mut held: Option<(usize, f64)> = None;
            let column = time_s.iter().map(|&t| {
                let read_s = match self.round_s {
                    None => t,
                    Some(round) => ((t - slot_s) / round).floor() * round + slot_s,
                };
                let i = ((read_s.max(0.0) / DT_S).round() as usize).min(sensed.len() - 1);
                match held {
                    Some((at, value)) if at == i => value,
                    _ => {
                        let value = self.quantise(role, sensed[i] + jitter(role, sensed[i], noise));
                        held = Some((i, value));
                        value
                    }
                }
            });
            channels.insert(role, column.collect());
        }
        (time_s, channels)
    }

    fn quantise(&self, role: Role, value: f64) -> f64 {
        let temperature = self.temperature_step_c;
        match role {
            Role::Coolant | Role::RadiatorOut if !self.rounds_coolant => {
                (value / temperature).floor() * temperature
            }
            Role::Coolant
            | Role::RadiatorOut
            | Role::Ambient
            | Role::Intake
            | Role::Oil
            | Role::ChargeIn
            | Role::ChargeOut => (value / temperature).round() * temperature,
            Role::Speed => (value / self.speed_step_kmh).round() * self.speed_step_kmh,
            Role::Gear | Role::Lap | Role::Fan => value.round(),
            Role::Rpm => (value / 10.0).round() * 10.0,
            Role::FuelRate => (value.max(0.0) / 0.05).round() * 0.05,
            Role::AirFlow | Role::BarometricPressure => (value.max(0.0) * 10.0).round() / 10.0,
            Role::Throttle | Role::Load => (value.clamp(0.0, 100.0) / 0.4).round() * 0.4,
            Role::WindDirection | Role::Heading => value.round().rem_euclid(360.0),
            _ => value.round(),
        }
    }
}

/// A channel as its sensor feels it, every [`DT_S`].
fn sense(truth: &Truth, role: Role, ambient_bias_k: f64) -> Vec<f64> {
    let values = truth.channel(role);
    match role {
        Role::Ambient => behind_the_bumper(values, truth.channel(Role::Speed), ambient_bias_k),
        Role::Coolant => lagged(values, 5.0, 1.0),
        Role::RadiatorOut => lagged(values, 6.0, 1.0),
        Role::Oil => lagged(values, 8.0, 1.0),
        Role::Intake => lagged(values, 4.0, 1.0),
        Role::ChargeIn | Role::ChargeOut => lagged(values, 3.0, 1.0),
        // Control units lean a little in what they compute of fuel and air.
        Role::FuelRate => lagged(values, 0.2, 0.98),
        Role::AirFlow => lagged(values, 0.15, 1.02),
        Role::WindSpeed => lagged(values, 60.0, 1.0),
        _ => values.to_vec(),
    }
}

/// A first-order lag, then a gain.
fn lagged(values: &[f64], tau_s: f64, gain: f64) -> Vec<f64> {
    let share = 1.0 - (-DT_S / tau_s).exp();
    let mut felt = values.first().copied().unwrap_or(0.0);
    values
        .iter()
        .map(|value| {
            felt += share * (value - felt);
            gain * felt
        })
        .collect()
}

/// The ambient sensor: slow, leaning all day, and warmed by the car when air does not move.
fn behind_the_bumper(ambient_c: &[f64], speed_kmh: &[f64], bias_k: f64) -> Vec<f64> {
    let mut warmed_k = 5.0;
    let mut felt = ambient_c.first().copied().unwrap_or(0.0) + warmed_k;
    ambient_c
        .iter()
        .zip(speed_kmh)
        .map(|(&air, &speed)| {
            let target_k = 7.0 * (-speed / 25.0).exp();
            let tau_s = if target_k > warmed_k { 90.0 } else { 30.0 };
            warmed_k += DT_S * (target_k - warmed_k) / tau_s;
            felt += DT_S * (air + warmed_k - felt) / 12.0;
            felt + bias_k
        })
        .collect()
}

/// White noise of a reading.
fn jitter(role: Role, value: f64, noise: &mut Noise) -> f64 {
    let sd = match role {
        // What stands still reads a clean nought.
        Role::Rpm | Role::FuelRate | Role::AirFlow if value < 1e-3 => 0.0,
        Role::Coolant | Role::RadiatorOut | Role::Oil => 0.06,
        Role::Ambient | Role::Intake => 0.05,
        Role::Rpm => 6.0,
        Role::FuelRate => 0.05,
        Role::AirFlow => 0.2,
        Role::Throttle | Role::Load => 0.2,
        Role::ManifoldPressure => 0.4,
        _ => 0.0,
    };
    if sd > 0.0 { noise.normal(0.0, sd) } else { 0.0 }
}
