//! Heat into the coolant from the best channel there is.
//!
//! Best first: fuel flow; engine air flow; manifold pressure times engine speed; load times engine
//! speed; throttle times engine speed; tractive power from the speed trace.
//!
//! From fuel: `Q = share · ṁ_fuel · LHV`, coolant share 0.22 of the fuel's energy (Heywood,
//! Internal Combustion Engine Fundamentals, table 12.1: 17 to 26 % at full power, spark ignition;
//! quoted from memory), LHV 44.0 MJ/kg and stoichiometric air/fuel ratio 14.6 (ibid., appendix D,
//! from memory), petrol of 745 kg/m³ (EN 228 allows 720 to 775). From power at the crank:
//! `Q = 0.8 P` (the same table: coolant 17 to 26 % against 25 to 28 % brake).
//!
//! Manifold pressure times engine speed is a volume of charge; its mass, which is what burns, goes
//! with `1 / T` of the charge (ideal gas; Heywood, ibid., equation 2.27, from memory). The charge
//! behind a cooler, or drawn through a cool inlet, follows the outside air, while an intake sensor
//! soaks in slow running: so `T` is that of the outside air, mean of the session. Without this a day
//! 3 K cooler, which burns 1 % more at the same pressure, would be taken for a worse radiator.
//!
//! On overrun the injection is cut off: air still flows and the manifold still has a pressure, but nothing burns
//! (common practice, no source). Else a driver who is on the throttle for less of the lap would seem to make more
//! heat than he does, and his car to be the cooler one. Of the charge of a revolution c, in a step in which the car
//! slows, burns
//!
//! ```text
//! c_b = c_t (c - c_o) / (c_t - c_o)     0 at c_o, all of it at c_t
//! ```
//!
//! c_o the charge on overrun, the tenth part from below of steps that slow; c_t that under power, the twentieth from
//! above of all. A step that is half overrun counts half, so that it does not matter how fast a logger writes. An
//! engine whose charge on overrun is no small part of that under power is not throttled, and nothing is taken out.
//!
//! Tractive power: `P = v (1.03 m dv/dt + ρ/2 CdA v² + Crr m g) / η`, never below zero: braking
//! heat does not go to the coolant. 3 % of the mass stands for rotating parts (UN GTR 15 annex 4,
//! from memory). Gradient and wind unknown.
//!
//! The scale, as a standard deviation: the published range of the share taken as ±2 sd, 10.6 %; the gain of the
//! channel, 5 % (common practice, no source; the rules for fuel meters on board allow ±5 % at most: Regulation (EU)
//! 2017/1151, annex XXII, from memory). From fuel flow also the energy of a litre, 2.7 %: 720 to 775 kg/m³ and 41.5
//! (10 % ethanol) to 44 MJ/kg, all alike. From air flow also what a kilogram of air burns, 5.8 %: 10 % more or less
//! than at 14.6, all alike, for a rich mixture at full load (common practice, no source). Together 12 and 13 %.
//!
//! Whatever is uncertain in the common factor is `scale_log_sd`; it cancels in a ratio of two
//! sessions with the same source.

use crate::car::CarSheet;
use crate::quantity::{MS_PER_KMH, kelvin};
use crate::session::{Grid, Role, mostly_read};
use crate::stats::quantile;
use crate::thermal::air;

const COOLANT_SHARE_OF_FUEL: f64 = 0.22;
const COOLANT_OVER_BRAKE_POWER: f64 = 0.8;
/// Standard deviations of logarithms; see above.
const SHARE_LOG_SD: f64 = 0.106;
const GAIN_LOG_SD: f64 = 0.05;
const LITRE_LOG_SD: f64 = 0.027;
const MIXTURE_LOG_SD: f64 = 0.058;
const LOWER_HEATING_VALUE_J_PER_G: f64 = 44.0e3;
const AIR_FUEL_RATIO: f64 = 14.6;
const PETROL_G_PER_L: f64 = 745.0;
const ROTATING_MASS_FACTOR: f64 = 1.03;
const GRAVITY_MS2: f64 = 9.806_65;

/// Outside air at which the charge of a filled cylinder gives the car's largest power, K: 25 °C of
/// the power standards (ISO 1585, from memory).
const RATED_AIR_K: f64 = 298.15;

/// Gaps in a polled channel up to this long are bridged, s.
const BRIDGE_S: f64 = 10.0;

/// A car that slows by more than this is not driven by its engine, m/s² (common practice, no source).
const OVERRUN_SLOWING_MS2: f64 = 0.5;

/// Charge of a revolution on overrun over that under power, at most: 25 to 35 kPa in the manifold of a warm engine, of
/// 95 kPa without a charger (common practice, no source).
const OVERRUN_CHARGE_SHARE: f64 = 0.4;

/// Where the heat input is taken from, best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HeatSource {
    /// Fuel flow.
    FuelRate,
    /// Engine air mass flow.
    AirFlow,
    /// Manifold pressure times engine speed.
    ManifoldPressure,
    /// Load times engine speed.
    Load,
    /// Throttle times engine speed.
    Throttle,
    /// Road load and acceleration from the speed trace.
    TractivePower,
}

/// Heat into the coolant, and what it assumes.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatInput {
    /// Where it is taken from.
    pub source: HeatSource,
    /// W, one a step; `NaN` where a channel is missing.
    pub watts: Vec<f64>,
    /// Standard deviation of the logarithm of the common factor.
    pub scale_log_sd: f64,
    /// What is assumed, one sentence.
    pub assumes: String,
}

impl HeatSource {
    /// Every source, best first.
    pub const ALL: [HeatSource; 6] = [
        Self::FuelRate,
        Self::AirFlow,
        Self::ManifoldPressure,
        Self::Load,
        Self::Throttle,
        Self::TractivePower,
    ];

    /// The source in words.
    pub fn label(self) -> &'static str {
        match self {
            Self::FuelRate => "fuel flow",
            Self::AirFlow => "engine air flow",
            Self::ManifoldPressure => "manifold pressure times engine speed",
            Self::Load => "load times engine speed",
            Self::Throttle => "throttle times engine speed",
            Self::TractivePower => "tractive power from the speed trace",
        }
    }

    /// Whether the source follows the engine poorly, so that answers must say so.
    pub fn is_poor(self) -> bool {
        matches!(self, Self::Throttle | Self::TractivePower)
    }

    /// The channels it needs.
    pub fn needs(self) -> &'static [Role] {
        match self {
            Self::FuelRate => &[Role::FuelRate],
            Self::AirFlow => &[Role::AirFlow],
            Self::ManifoldPressure => &[Role::ManifoldPressure, Role::Rpm],
            Self::Load => &[Role::Load, Role::Rpm],
            Self::Throttle => &[Role::Throttle, Role::Rpm],
            Self::TractivePower => &[Role::Speed],
        }
    }

    /// The sources whose channels have a reading in at least 80 % of the steps, best first.
    pub fn available(grid: &Grid) -> Vec<Self> {
        let usable = |role: &Role| {
            grid.bridged(*role, BRIDGE_S)
                .is_some_and(|values| mostly_read(&values))
        };
        Self::ALL
            .into_iter()
            .filter(|source| source.needs().iter().all(usable))
            .collect()
    }

    /// The heat input of a session from this source, in outside air of this mean temperature and
    /// pressure. `None`: a channel is missing.
    pub fn heat_input(
        self,
        grid: &Grid,
        car: &CarSheet,
        air_c: f64,
        pressure_kpa: f64,
    ) -> Option<HeatInput> {
        let channel = |role| grid.bridged(role, BRIDGE_S);
        let share = 100.0 * COOLANT_SHARE_OF_FUEL;
        let (mut watts, scale_log_sd, assumes) = match self {
            Self::FuelRate => (
                scaled(
                    &channel(Role::FuelRate)?,
                    fuel_heat_w_per_g_s() * PETROL_G_PER_L / 3600.0,
                ),
                known_to(LITRE_LOG_SD),
                format!("{share:.0} % of the fuel's energy goes to the coolant"),
            ),
            Self::AirFlow => (
                scaled(
                    &channel(Role::AirFlow)?,
                    fuel_heat_w_per_g_s() / AIR_FUEL_RATIO,
                ),
                known_to(MIXTURE_LOG_SD),
                format!(
                    "{share:.0} % of the fuel's energy goes to the coolant, fuel from air at {AIR_FUEL_RATIO}:1"
                ),
            ),
            Self::ManifoldPressure => from_rpm(
                &channel(Role::ManifoldPressure)?,
                180.0 * kelvin(air_c) / RATED_AIR_K,
                &channel(Role::Rpm)?,
                car,
            ),
            Self::Load => from_rpm(&channel(Role::Load)?, 100.0, &channel(Role::Rpm)?, car),
            Self::Throttle => from_rpm(&channel(Role::Throttle)?, 100.0, &channel(Role::Rpm)?, car),
            Self::TractivePower => {
                let density = air::density_kg_m3(air_c, pressure_kpa);
                tractive(&channel(Role::Speed)?, grid.step_s, car, density)
            }
        };
        if let (Some(charge), Some(speed_kmh)) = (self.charge(grid), channel(Role::Speed)) {
            take_out_overrun(&mut watts, &charge, &slowing(&speed_kmh, grid.step_s));
        }
        Some(HeatInput {
            source: self,
            watts,
            scale_log_sd,
            assumes,
        })
    }

    /// Charge of a revolution, in whatever unit, where the source counts one that does not burn on overrun.
    fn charge(self, grid: &Grid) -> Option<Vec<f64>> {
        let channel = |role| grid.bridged(role, BRIDGE_S);
        match self {
            Self::ManifoldPressure => channel(Role::ManifoldPressure),
            Self::AirFlow => {
                let (air, rpm) = (channel(Role::AirFlow)?, channel(Role::Rpm)?);
                Some(air.iter().zip(&rpm).map(|(a, n)| a / n).collect())
            }
            _ => None,
        }
    }
}

fn fuel_heat_w_per_g_s() -> f64 {
    COOLANT_SHARE_OF_FUEL * LOWER_HEATING_VALUE_J_PER_G
}

/// Standard deviation of the logarithm of the common factor, `own` being what the channel adds.
fn known_to(own: f64) -> f64 {
    SHARE_LOG_SD.hypot(GAIN_LOG_SD).hypot(own)
}

fn scaled(values: &[f64], factor: f64) -> Vec<f64> {
    values.iter().map(|v| v.max(0.0) * factor).collect()
}

/// Power goes with `load` times engine speed and reaches the car's largest at full load and
/// 6500 1/min. The same factor for every session of a car, so that it cancels between them.
fn from_rpm(load: &[f64], full_load: f64, rpm: &[f64], car: &CarSheet) -> (Vec<f64>, f64, String) {
    const RPM_AT_MAX_POWER: f64 = 6500.0;
    let (max_power_kw, log_sd, from) = match car.max_power_kw {
        Some(kw) => (kw, 0.35, "from the car sheet"),
        None => (150.0, 0.60, "assumed"),
    };
    let factor = COOLANT_OVER_BRAKE_POWER * max_power_kw * 1000.0 / (full_load * RPM_AT_MAX_POWER);
    let watts = load
        .iter()
        .zip(rpm)
        .map(|(l, r)| l.max(0.0) * r.max(0.0) * factor)
        .collect();
    (
        watts,
        log_sd,
        format!("heat goes with load times engine speed up to {max_power_kw:.0} kW ({from})"),
    )
}

fn tractive(
    speed_kmh: &[f64],
    step_s: f64,
    car: &CarSheet,
    density: f64,
) -> (Vec<f64>, f64, String) {
    let mass = car.mass_kg.unwrap_or(1400.0);
    let drag_area = car.drag_area_m2.unwrap_or(0.70);
    let rolling = car.rolling_resistance.unwrap_or(0.012);
    let efficiency = car.driveline_efficiency.unwrap_or(0.88);
    let largest_w = car.max_power_kw.map_or(f64::INFINITY, |kw| kw * 1000.0);
    let speed_ms: Vec<f64> = speed_kmh.iter().map(|v| v * MS_PER_KMH).collect();
    let watts = slopes(&speed_ms, step_s)
        .into_iter()
        .zip(&speed_ms)
        .map(|(slope, &v)| {
            let force = ROTATING_MASS_FACTOR * mass * slope
                + 0.5 * density * drag_area * v * v
                + rolling * mass * GRAVITY_MS2 * f64::from(v > 0.5);
            let power_w = (force * v / efficiency).clamp(0.0, largest_w);
            COOLANT_OVER_BRAKE_POWER * if slope.is_nan() { f64::NAN } else { power_w }
        })
        .collect();
    let known = [car.mass_kg, car.drag_area_m2, car.max_power_kw]
        .iter()
        .flatten()
        .count();
    let log_sd = if known == 3 { 0.30 } else { 0.50 };
    let assumes = format!(
        "power from speed with {mass:.0} kg, CdA {drag_area:.2} m², rolling resistance {rolling:.3}, no gradient"
    );
    (watts, log_sd, assumes)
}

/// Whether the car slows in each step.
fn slowing(speed_kmh: &[f64], step_s: f64) -> Vec<bool> {
    let last = speed_kmh.len().saturating_sub(1);
    (0..speed_kmh.len())
        .map(|i| {
            let (from, to) = (i.saturating_sub(1), (i + 1).min(last));
            let change_ms = (speed_kmh[to] - speed_kmh[from]) * MS_PER_KMH;
            change_ms < -OVERRUN_SLOWING_MS2 * (to - from) as f64 * step_s
        })
        .collect()
}

/// Takes out what does not burn while the car slows.
fn take_out_overrun(watts: &mut [f64], charge: &[f64], slowing: &[bool]) {
    let known = |only_slowing: bool| {
        let steps = charge.iter().zip(slowing);
        let of = steps.filter(|(c, slows)| c.is_finite() && (**slows || !only_slowing));
        of.map(|(c, _)| *c).collect::<Vec<f64>>()
    };
    let (Some(overrun), Some(power)) = (quantile(known(true), 0.10), quantile(known(false), 0.95))
    else {
        return;
    };
    if overrun > OVERRUN_CHARGE_SHARE * power {
        return;
    }
    for ((watt, charge), slows) in watts.iter_mut().zip(charge).zip(slowing) {
        if *slows && *charge > 0.0 {
            let burnt = power * (charge - overrun) / (power - overrun);
            *watt *= (burnt / charge).clamp(0.0, 1.0);
        }
    }
}

/// Slope at each step by a straight line through five steps: whole-km/h readings would otherwise
/// turn into kilowatts of noise, which the cut at zero makes into a bias.
fn slopes(values: &[f64], step_s: f64) -> Vec<f64> {
    (0..values.len())
        .map(|i| {
            let from = i.saturating_sub(2);
            let window = &values[from..(i + 3).min(values.len())];
            let centre = (window.len() - 1) as f64 / 2.0;
            let spread: f64 = (0..window.len()).map(|k| (k as f64 - centre).powi(2)).sum();
            let rise: f64 = window
                .iter()
                .enumerate()
                .map(|(k, v)| (k as f64 - centre) * v)
                .sum();
            rise / spread / step_s
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Example of the reference sheet, after Heywood table 12.1 and appendix D: 25 g/s of air at
    /// 14.6:1 is 1.71233 g/s of fuel, 75.342 kW, of which 12.81 to 19.59 kW to the coolant.
    #[test]
    fn air_flow_gives_heat_inside_the_published_range() {
        let heat_w = 25.0 * fuel_heat_w_per_g_s() / AIR_FUEL_RATIO;
        assert!((heat_w / COOLANT_SHARE_OF_FUEL - 75_342.0).abs() < 1.0);
        assert!((12_810.0..19_590.0).contains(&heat_w));
    }

    /// Road load in closed form: 1500 kg, Crr 0.010, CdA 0.66, air 1.2 kg/m³ at steady 130 km/h
    /// takes 23.9593 kW at the wheels.
    #[test]
    fn steady_speed_takes_the_road_load() {
        let car = CarSheet {
            mass_kg: Some(1500.0),
            drag_area_m2: Some(0.66),
            rolling_resistance: Some(0.010),
            driveline_efficiency: Some(1.0),
            ..CarSheet::default()
        };
        let (watts, ..) = tractive(&[130.0; 9], 1.0, &car, 1.2);
        assert!((watts[4] / COOLANT_OVER_BRAKE_POWER / 23_959.3 - 1.0).abs() < 1e-4);
    }

    /// A car on the throttle for 20 s, then slowing for 10 s: the air that flows without fuel heats nothing; an engine
    /// without a throttle, whose charge stays what it was, does.
    #[test]
    fn charge_on_overrun_heats_no_coolant() {
        let speed: Vec<f64> = (0..30)
            .map(|i| {
                if i < 20 {
                    150.0
                } else {
                    150.0 - 10.0 * f64::from(i - 19)
                }
            })
            .collect();
        let drive = |role, at_work: f64, on_overrun: f64| {
            let values = (0..30).map(|i| if i < 20 { at_work } else { on_overrun });
            let rpm = vec![5000.0; 30];
            [
                (Role::Speed, speed.clone()),
                (Role::Rpm, rpm),
                (role, values.collect()),
            ]
            .into()
        };
        for (source, role, at_work, on_overrun, burns) in [
            (
                HeatSource::ManifoldPressure,
                Role::ManifoldPressure,
                180.0,
                30.0,
                false,
            ),
            (
                HeatSource::ManifoldPressure,
                Role::ManifoldPressure,
                180.0,
                90.0,
                true,
            ),
            (HeatSource::AirFlow, Role::AirFlow, 150.0, 20.0, false),
            (HeatSource::AirFlow, Role::AirFlow, 150.0, 90.0, true),
        ] {
            let grid = Grid {
                step_s: 1.0,
                len: 30,
                channels: drive(role, at_work, on_overrun),
            };
            let heat = source
                .heat_input(&grid, &CarSheet::default(), 20.0, 100.0)
                .unwrap();
            assert!(heat.watts[10] > 0.0);
            assert_eq!(heat.watts[25] > 0.0, burns, "{source:?} at {on_overrun}");
        }
    }

    /// Half a step on the throttle and half on overrun is half the heat, whether the logger had it in one row or two.
    #[test]
    fn a_step_half_on_overrun_counts_half() {
        let (charge, slows) = (
            [180.0, 180.0, 105.0, 30.0, 30.0],
            [false, false, true, true, true],
        );
        let mut watts = charge.map(|c| 100.0 * c);
        take_out_overrun(&mut watts, &charge, &slows);
        assert_eq!(
            watts.map(f64::round),
            [18_000.0, 18_000.0, 9_000.0, 0.0, 0.0]
        );
    }

    #[test]
    fn braking_heats_no_coolant_and_standing_takes_no_power() {
        let braking: Vec<f64> = (0..20).map(|i| 200.0 - 10.0 * f64::from(i)).collect();
        let (watts, ..) = tractive(&braking, 1.0, &CarSheet::default(), 1.2);
        assert!(watts.iter().all(|w| *w == 0.0));
        let (watts, ..) = tractive(&[0.0; 5], 1.0, &CarSheet::default(), 1.2);
        assert!(watts.iter().all(|w| *w == 0.0));
    }
}
