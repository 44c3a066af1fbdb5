//! The fixed scale: what a session's heat input must be multiplied by to be the heat that the
//! radiator gives to the air.
//!
//! One constant a heat source, computed once, without any fit: the simulated car on its reference
//! drive (even laps at pace 1, no wind, air at 23 °C), mean heat from the radiator over the mean
//! of the library's heat input at nominal share, from the channel as the sensor leans, both over
//! settled running.

use anyhow::Context;
use heatbook::session::{Grid, Role, Session, SessionMeta};
use heatbook::stats::mean;
use heatbook::thermal::heat_input::HeatSource;

use super::car::{Car, Driven};
use crate::simulator::circuit::Circuit;
use crate::simulator::drive::Plan;
use crate::simulator::engine::FUEL_J_PER_KG;
use crate::simulator::library::car_sheet;
use crate::simulator::noise::Noise;
use crate::simulator::run::{Conditions, DT_S, Truth, run};
use crate::simulator::sensors::Logger;
use crate::simulator::weather::{DayAir, Wind};

/// Air on the reference drive of the car in the middle, °C.
pub const AMBIENT_C: f64 = 23.0;
/// Hot running left out at the start, s.
const SETTLING_S: f64 = 500.0;
/// Petrol in the simulated tank, kg/L.
const FUEL_KG_PER_L: f64 = 0.746;

/// What a car's reference drive fixes.
#[derive(Debug, Clone, Copy)]
pub struct Scales {
    /// Radiator heat over heat input from fuel flow.
    pub fuel_rate: f64,
    /// Radiator heat over heat input from air flow.
    pub air_flow: f64,
    /// Radiator heat over the fuel's energy: the simulated car's coolant share.
    pub true_share: f64,
    /// Mean coolant minus ambient, K.
    pub excess_k: f64,
}

impl Scales {
    /// The one car's.
    ///
    /// # Errors
    /// A channel is missing, which is a defect of the simulator.
    pub fn of_one_car() -> anyhow::Result<Self> {
        let car = Car::middle(Driven::One);
        Self::of(&car, &reference_drive(&car, AMBIENT_C), AMBIENT_C)
    }

    /// Of this car, which drove the reference drive so at this ambient.
    ///
    /// # Errors
    /// A channel is missing, which is a defect of the simulator.
    pub fn of(car: &Car, truth: &Truth, ambient_c: f64) -> anyhow::Result<Self> {
        let from = truth.hot.iter().position(|&h| h).unwrap_or(0) + (SETTLING_S / DT_S) as usize;
        let to = truth.hot.iter().rposition(|&h| h).unwrap_or(0);
        let settled = |values: &[f64]| mean(&values[from..to]);
        let radiator_w = settled(&truth.radiator_w);
        let l_h = settled(truth.channel(Role::FuelRate));
        let grid = logged(truth)?;
        let scale = |source| {
            let told_w = car.channel_gain * heat_w(&grid, source, from, to)?;
            Ok::<f64, anyhow::Error>(radiator_w / told_w)
        };
        Ok(Self {
            fuel_rate: scale(HeatSource::FuelRate)?,
            air_flow: scale(HeatSource::AirFlow)?,
            true_share: radiator_w / (l_h / 3600.0 * FUEL_KG_PER_L * FUEL_J_PER_KG),
            excess_k: settled(truth.channel(Role::Coolant)) - ambient_c,
        })
    }

    /// Air in which this car settles where the one car does at `ambient_c`, about, °C.
    pub fn ambient_for_c(&self, car: &Car, ambient_c: f64) -> f64 {
        ambient_c + (1.0 - car.heat_share_factor) * self.excess_k
    }

    /// That of a heat source.
    ///
    /// # Panics
    /// A source that no row uses.
    pub fn from(&self, source: HeatSource) -> f64 {
        match source {
            HeatSource::FuelRate => self.fuel_rate,
            HeatSource::AirFlow => self.air_flow,
            other => panic!("no row uses {}", other.label()),
        }
    }
}

/// The channels of the heat sources as logged ten times a second.
fn logged(truth: &Truth) -> anyhow::Result<Grid> {
    let logger = Logger {
        rate_hz: 1.0 / DT_S,
        roles: vec![Role::FuelRate, Role::AirFlow],
        ..Logger::plain()
    };
    let (t_s, channels) = logger.log(truth, 0.0, &mut Noise::new(0, 2));
    let meta = SessionMeta::bare("reference", "as it is", car_sheet());
    Ok(Session::from_columns(meta, &t_s, channels)?.grid(1.0))
}

/// Mean heat input of the library from this source.
fn heat_w(grid: &Grid, source: HeatSource, from: usize, to: usize) -> anyhow::Result<f64> {
    let heat = source
        .heat_input(grid, &car_sheet(), 20.0, 101.325)
        .with_context(|| format!("no heat input from {}", source.label()))?;
    let second = |i: usize| (i as f64 * DT_S) as usize;
    Ok(mean(&heat.watts[second(from)..second(to)]))
}

/// This car through the reference drive at a steady ambient without wind.
pub fn reference_drive(car: &Car, ambient_c: f64) -> Truth {
    let conditions = Conditions {
        plan: Plan::reference(),
        day: DayAir {
            noon_c: ambient_c,
            pressure_kpa: 98.6,
            sensor_bias_k: 0.0,
        },
        start_hour: None,
        ambient_wander_k: 0.0,
        wind: Wind::calm(),
        cooling: car.cooling(85.0, ambient_c),
    };
    // The reference drive draws numbers but uses none of them.
    run(
        &Circuit::new(),
        conditions,
        &mut Noise::new(0, 0),
        &mut Noise::new(0, 1),
    )
}
