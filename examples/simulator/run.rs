//! One session in truth: driver, weather, engine and cooling circuit stepped together.

use std::collections::BTreeMap;

use heatbook::session::Role;

use super::circuit::Circuit;
use super::cooling::{Cooling, Drive};
use super::drive::{Moment, Plan};
use super::engine::{EngineState, Gearbox, Surroundings};
use super::exchanger::RadiatorInput;
use super::noise::{Noise, Wander};
use super::weather::{DayAir, Wind, density_kg_m3};

/// Step of the simulation, s.
pub const DT_S: f64 = 0.1;

/// What makes a session.
pub struct Conditions {
    /// How it is driven.
    pub plan: Plan,
    /// The day's air; its temperature at `start_hour` on.
    pub day: DayAir,
    /// Hour of the day at the first row; `None`: the air stays as at noon.
    pub start_hour: Option<f64>,
    /// Slow wandering of the air temperature, K.
    pub ambient_wander_k: f64,
    /// The wind.
    pub wind: Wind,
    /// The cooling circuit at the start.
    pub cooling: Cooling,
}

/// A session as it was, every [`DT_S`].
pub struct Truth {
    /// Channels by role, before any sensor.
    pub channels: BTreeMap<Role, Vec<f64>>,
    /// Whether the driver was at pace.
    pub hot: Vec<bool>,
    /// Thermostat opening, 0 to 1.
    pub opening: Vec<f64>,
    /// Heat from the radiator to the air, W.
    pub radiator_w: Vec<f64>,
    /// What the radiator met; `None`: the engine stood.
    pub radiator: Vec<Option<RadiatorInput>>,
    /// Heat into coolant and metal, W.
    pub heat_in_w: Vec<f64>,
}

impl Truth {
    /// Number of instants.
    pub fn len(&self) -> usize {
        self.hot.len()
    }

    /// A channel; every channel of [`run`] is there.
    pub fn channel(&self, role: Role) -> &[f64] {
        self.channels.get(&role).map_or(&[], Vec::as_slice)
    }
}

/// Intake air: warms under the bonnet at standstill, recovers on the move.
struct Intake {
    temp_c: f64,
}

impl Intake {
    fn step(&mut self, moment: &Moment, cooling: &Cooling, ambient_c: f64) -> f64 {
        let share = 0.30 + 0.60 * (-moment.speed_ms / 6.0).exp();
        let target = ambient_c + share * (cooling.bonnet_c - ambient_c);
        let tau_s = if moment.speed_ms > 3.0 { 14.0 } else { 80.0 };
        self.temp_c += DT_S * (target - self.temp_c) / tau_s;
        self.temp_c
    }
}

/// Runs a session. `drive_noise` makes the laps, `noise` the gusts and the air's wander.
pub fn run(
    circuit: &Circuit,
    conditions: Conditions,
    drive_noise: &mut Noise,
    noise: &mut Noise,
) -> Truth {
    let Conditions {
        plan,
        day,
        start_hour,
        ambient_wander_k,
        mut wind,
        mut cooling,
    } = conditions;
    let moments = plan.moments(circuit, DT_S, drive_noise);
    let mut truth = Truth {
        channels: BTreeMap::new(),
        hot: Vec::with_capacity(moments.len()),
        opening: Vec::with_capacity(moments.len()),
        radiator_w: Vec::with_capacity(moments.len()),
        radiator: Vec::with_capacity(moments.len()),
        heat_in_w: Vec::with_capacity(moments.len()),
    };
    let mut columns: Vec<(Role, Vec<f64>)> = recorded(&Snapshot::default())
        .iter()
        .map(|(role, _)| (*role, Vec::new()))
        .collect();
    let mut wander = Wander::new(ambient_wander_k, 240.0, noise);
    let mut gearbox = Gearbox::new(plan.shift_factor);
    let mut intake = Intake {
        temp_c: cooling.bonnet_c,
    };
    for (i, moment) in moments.iter().enumerate() {
        let hour = start_hour.map_or(12.0, |h| h + i as f64 * DT_S / 3600.0);
        let ambient_c = day.ambient_c(hour) + wander.step(DT_S, noise);
        let density = density_kg_m3(day.pressure_kpa, ambient_c);
        let wind_now = wind.step(DT_S, noise);
        let air_speed_ms = moment.wake * wind_now.against(moment.speed_ms, moment.heading_deg);
        let air = Surroundings {
            ambient_c,
            pressure_kpa: day.pressure_kpa,
            density_kg_m3: density,
            air_speed_ms,
            intake_c: intake.step(moment, &cooling, ambient_c),
        };
        let engine = gearbox.engine(moment.speed_ms, moment.acceleration_ms2, &air, !moment.hot);
        let drive = Drive {
            engine: moment.running.then_some(engine),
            speed_ms: moment.speed_ms,
            air_speed_ms,
            ambient_c,
            density_kg_m3: density,
        };
        cooling.step(DT_S, &drive);
        let engine = if moment.running {
            engine
        } else {
            stopped(&air)
        };
        let snapshot = Snapshot {
            speed_kmh: moment.speed_ms * 3.6,
            heading_deg: moment.heading_deg,
            lap: moment.lap,
            ambient_c,
            pressure_kpa: day.pressure_kpa,
            intake_c: intake.temp_c,
            coolant_c: cooling.coolant_c,
            radiator_out_c: cooling.radiator_out_c,
            oil_c: cooling.oil_c,
            fan: f64::from(u8::from(cooling.fan_on)),
            wind_kmh: wind_now.speed_ms * 3.6,
            wind_from_deg: wind_now.from_deg,
            engine,
        };
        for ((_, column), (_, value)) in columns.iter_mut().zip(recorded(&snapshot)) {
            column.push(value);
        }
        truth.hot.push(moment.hot);
        truth.opening.push(cooling.opening);
        truth.radiator_w.push(cooling.radiator_w);
        truth.radiator.push(cooling.radiator);
        truth.heat_in_w.push(cooling.heat_in_w);
    }
    truth.channels = columns.into_iter().collect();
    truth
}

fn stopped(air: &Surroundings) -> EngineState {
    EngineState {
        manifold_kpa: air.pressure_kpa,
        charge_in_c: air.intake_c,
        charge_out_c: air.intake_c,
        ..EngineState::default()
    }
}

#[derive(Default)]
struct Snapshot {
    speed_kmh: f64,
    heading_deg: f64,
    lap: f64,
    ambient_c: f64,
    pressure_kpa: f64,
    intake_c: f64,
    coolant_c: f64,
    radiator_out_c: f64,
    oil_c: f64,
    fan: f64,
    wind_kmh: f64,
    wind_from_deg: f64,
    engine: EngineState,
}

fn recorded(now: &Snapshot) -> [(Role, f64); 21] {
    let engine = &now.engine;
    [
        (Role::Coolant, now.coolant_c),
        (Role::Speed, now.speed_kmh),
        (Role::Ambient, now.ambient_c),
        (Role::Intake, now.intake_c),
        (Role::RadiatorOut, now.radiator_out_c),
        (Role::Oil, now.oil_c),
        (Role::ChargeIn, engine.charge_in_c),
        (Role::ChargeOut, engine.charge_out_c),
        (Role::Rpm, engine.rpm),
        (Role::Gear, engine.gear),
        (Role::FuelRate, engine.fuel_l_h),
        (Role::AirFlow, engine.air_g_s),
        (Role::Load, engine.load_percent),
        (Role::Throttle, engine.throttle_percent),
        (Role::ManifoldPressure, engine.manifold_kpa),
        (Role::BarometricPressure, now.pressure_kpa),
        (Role::Lap, now.lap),
        (Role::Heading, now.heading_deg),
        (Role::WindSpeed, now.wind_kmh),
        (Role::WindDirection, now.wind_from_deg),
        (Role::Fan, now.fan),
    ]
}
