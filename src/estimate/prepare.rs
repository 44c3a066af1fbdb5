//! A session made ready for the heat balance: equal steps, heat input, regimes.

use chrono::NaiveDate;

use super::hot_windows::HotWindows;
use crate::car::CarSheet;
use crate::regime::{Channels, Drive};
use crate::session::{Grid, Role, Session, mostly_read};
use crate::stats::mean;
use crate::thermal::air;
use crate::thermal::balance::lagged;
use crate::thermal::conductance::log_air_flow;
use crate::thermal::coolant;
use crate::thermal::heat_input::{HeatInput, HeatSource};
use crate::thermal::thermostat::Thermostat;
use crate::warning::Warning;

/// Length of a step of the balance, s.
pub const STEP_S: f64 = 1.0;

/// Metal to coolant, s (5 to 10; common practice, no source).
pub const METAL_LAG_S: f64 = 7.0;

/// Coolant to reading, s (3 to 10; common practice, no source).
pub const SENSOR_LAG_S: f64 = 6.0;

/// Gaps up to this long are bridged, s.
const BRIDGE_S: f64 = 10.0;

/// Gaps in slow channels (ambient, pressure) up to this long are bridged, s.
const BRIDGE_SLOW_S: f64 = 300.0;

const DEFAULT_COOLANT_L: f64 = 7.0;
/// Share of glycol where the car sheet does not say, percent by volume.
pub const DEFAULT_GLYCOL_PERCENT: f64 = 40.0;
const DEFAULT_METAL_J_PER_K: f64 = 50_000.0;

/// Temperature at which the coolant's heat capacity is taken, °C.
const HOT_COOLANT_C: f64 = 95.0;

/// A session ready for the heat balance. All vectors have one value a step of [`STEP_S`].
#[derive(Debug, Clone)]
pub struct Prepared {
    /// The session's id (its file before it has one).
    pub id: String,
    /// Its setup.
    pub setup: String,
    /// The day it was run, if known.
    pub day: Option<NaiveDate>,
    /// The car's sheet under this setup.
    pub car: CarSheet,
    /// The thermostat.
    pub thermostat: Thermostat,
    /// Coolant as read, short gaps bridged, °C.
    pub coolant_c: Vec<f64>,
    /// Air outside, °C; `None` when nothing tells it.
    pub ambient_c: Option<Vec<f64>>,
    /// Speed, km/h.
    pub speed_kmh: Vec<f64>,
    /// Engine speed, 1/min, where it is there in at least 80 % of the steps.
    pub rpm: Option<Vec<f64>>,
    /// Pressure of the air, kPa.
    pub pressure_kpa: f64,
    /// Logarithm of relative air flow.
    pub log_air_flow_now: Vec<f64>,
    /// The same, lagged as the sensor lags.
    pub log_air_flow: Vec<f64>,
    /// Heat input; `None` when no source is there.
    pub heat: Option<HeatInput>,
    /// Opening of the thermostat, 0 to 1.
    pub opening: Vec<f64>,
    /// Regimes and stints.
    pub drive: Drive,
    /// The stints in windows.
    pub windows: HotWindows,
    /// Smallest step of the coolant's reading, °C; 0 where it is not known.
    pub coolant_step_c: f64,
    /// Heat capacity of the coolant alone by the car sheet, J/K.
    pub coolant_j_per_k: f64,
    /// Heat capacity of coolant and metal by the car sheet, J/K.
    pub capacity_j_per_k: f64,
    /// Whether that heat capacity is partly assumed.
    pub capacity_assumed: bool,
    /// What was assumed or is doubtful.
    pub warnings: Vec<Warning>,
    /// The session's channels in the steps of the balance.
    pub grid: Grid,
}

/// Makes a session ready, with the heat input from `source`, or from the best there is.
pub fn prepare(session: &Session, source: Option<HeatSource>) -> Prepared {
    let car = session.meta.car_as_run();
    let grid = session.grid(STEP_S);
    let empty = || vec![f64::NAN; grid.len];
    let coolant_c = grid.bridged(Role::Coolant, BRIDGE_S).unwrap_or_else(empty);
    let speed_kmh = grid.bridged(Role::Speed, BRIDGE_S).unwrap_or_else(empty);
    let ambient_c = grid.bridged(Role::Ambient, BRIDGE_SLOW_S);
    let thermostat = Thermostat::of(&car);
    let (pressure_kpa, pressure_assumed) = pressure(&grid, &car);
    let mean_ambient_c = ambient_c
        .as_deref()
        .map(mean_of_readings)
        .filter(|mean| !mean.is_nan())
        .unwrap_or(15.0);
    let source = source.or_else(|| HeatSource::available(&grid).first().copied());
    let heat = source.and_then(|s| s.heat_input(&grid, &car, mean_ambient_c, pressure_kpa));
    let rpm = grid.bridged(Role::Rpm, BRIDGE_S);
    let channels = Channels {
        step_s: STEP_S,
        coolant_c: &coolant_c,
        speed_kmh: &speed_kmh,
        ambient_c: ambient_c.as_deref(),
        rpm: rpm.as_deref(),
        heat_w: heat.as_ref().map(|h| h.watts.as_slice()),
    };
    let drive = Drive::tell(&channels, &thermostat);
    let log_air_flow_now = air_flow(&speed_kmh, ambient_c.as_deref(), pressure_kpa);
    let opening = coolant_c.iter().map(|&c| thermostat.opening(c)).collect();
    let (coolant_j_per_k, metal_j_per_k, capacity_assumed) = capacity(&car);
    let warnings = assumptions(
        &thermostat,
        pressure_assumed,
        &missing_for_capacity(&car),
        heat.as_ref(),
    );
    Prepared {
        id: session.meta.label(),
        setup: session.meta.setup.clone(),
        day: session.meta.day,
        car,
        thermostat,
        coolant_c,
        ambient_c,
        rpm: rpm.filter(|rpm| mostly_read(rpm)),
        pressure_kpa,
        log_air_flow: lagged(&log_air_flow_now, SENSOR_LAG_S, STEP_S),
        log_air_flow_now,
        heat,
        opening,
        windows: HotWindows::of(&drive.stints, &speed_kmh),
        drive,
        speed_kmh,
        coolant_step_c: session
            .meta
            .channels
            .get(&Role::Coolant)
            .and_then(|channel| channel.resolution)
            .unwrap_or(0.0),
        coolant_j_per_k,
        capacity_j_per_k: coolant_j_per_k + metal_j_per_k,
        capacity_assumed,
        warnings,
        grid,
    }
}

impl Prepared {
    /// Mean of `values` over the stints.
    pub fn mean_in_stints(&self, values: &[f64]) -> f64 {
        let used: Vec<f64> = self
            .drive
            .stints
            .iter()
            .flat_map(|&(a, b)| &values[a..b])
            .copied()
            .collect();
        mean_of_readings(&used)
    }

    /// Seconds of hot running.
    pub fn stint_s(&self) -> f64 {
        let steps: usize = self.drive.stints.iter().map(|(a, b)| b - a).sum();
        steps as f64 * STEP_S
    }
}

fn mean_of_readings(values: &[f64]) -> f64 {
    let read: Vec<f64> = values.iter().copied().filter(|v| !v.is_nan()).collect();
    mean(&read)
}

/// Mean barometric pressure if logged, else by the sheet's altitude, else sea level (assumed).
fn pressure(grid: &Grid, car: &CarSheet) -> (f64, bool) {
    let logged = grid.get(Role::BarometricPressure).map(mean_of_readings);
    match (logged.filter(|p| (50.0..110.0).contains(p)), car.altitude_m) {
        (Some(kpa), _) => (kpa, false),
        (None, Some(altitude_m)) => (air::pressure_kpa(altitude_m), false),
        (None, None) => (air::pressure_kpa(0.0), true),
    }
}

fn air_flow(speed_kmh: &[f64], ambient_c: Option<&[f64]>, pressure_kpa: f64) -> Vec<f64> {
    speed_kmh
        .iter()
        .enumerate()
        .map(|(i, &v)| {
            let air_c = ambient_c.map_or(15.0, |a| a[i]);
            log_air_flow(v, air::density_kg_m3(air_c, pressure_kpa))
        })
        .collect()
}

/// Heat capacity of coolant and of metal, J/K, and whether it is partly assumed.
fn capacity(car: &CarSheet) -> (f64, f64, bool) {
    let litres = car.coolant_l.unwrap_or(DEFAULT_COOLANT_L);
    let glycol = car.glycol_volume_percent.unwrap_or(DEFAULT_GLYCOL_PERCENT);
    let metal = car
        .metal_heat_capacity_j_per_k
        .unwrap_or(DEFAULT_METAL_J_PER_K);
    let assumed = !missing_for_capacity(car).is_empty();
    (
        coolant::heat_capacity_j_per_k(litres, HOT_COOLANT_C, glycol),
        metal,
        assumed,
    )
}

/// The keys of the heat capacity that the car sheet lacks.
fn missing_for_capacity(car: &CarSheet) -> Vec<&'static str> {
    let keys = [
        ("coolant_l", car.coolant_l),
        (
            "metal_heat_capacity_j_per_k",
            car.metal_heat_capacity_j_per_k,
        ),
    ];
    let missing = keys.into_iter().filter(|(_, value)| value.is_none());
    missing.map(|(key, _)| key).collect()
}

fn assumptions(
    thermostat: &Thermostat,
    pressure_assumed: bool,
    missing: &[&str],
    heat: Option<&HeatInput>,
) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if thermostat.assumed {
        warnings.push(Warning::caution(
            "thermostat-assumed",
            format!(
                "the thermostat's range is not on the car sheet ({}); give thermostat_full_open_c",
                thermostat.describe()
            ),
        ));
    }
    if pressure_assumed {
        warnings.push(Warning::note(
            "pressure-assumed",
            "no air pressure and no altitude_m on the car sheet: sea level assumed",
        ));
    }
    if !missing.is_empty() {
        warnings.push(Warning::note(
            "heat-capacity-assumed",
            format!(
                "{} on the car sheet: {} assumed",
                match missing {
                    [one] => format!("{one} is not"),
                    _ => format!("{} are not", missing.join(" and ")),
                },
                match missing {
                    [_] => "a usual value",
                    _ => "usual values",
                }
            ),
        ));
    }
    if let Some(heat) = heat.filter(|h| h.source.is_poor()) {
        warnings.push(Warning::caution(
            "heat-input-poor",
            format!(
                "heat input from {}: fuel flow, air flow, or load with engine speed would be better",
                heat.source.label()
            ),
        ));
    }
    warnings
}
