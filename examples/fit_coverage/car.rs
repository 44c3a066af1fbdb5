//! The car of a session: the one whose sheet is right, or one drawn with its owner's errors.
//!
//! Coolant share of the fuel's energy: Heywood, Internal Combustion Engine Fundamentals, table
//! 12.1, 17 to 26 % for spark ignition at full power (from memory), taken as two standard
//! deviations either side of a lognormal's middle. The owner's errors are our choice.

use heatbook::car::CarSheet;
use heatbook::thermal::heat_input::HeatSource;

use super::scale::Scales;
use crate::simulator::library::car_sheet;
use crate::simulator::noise::Noise;

/// Published range of the coolant's share of the fuel's energy.
const SHARE: (f64, f64) = (0.17, 0.26);
/// Largest error of the coolant's volume, as a share; all up to it are alike, as for the next three.
const COOLANT_ERROR: f64 = 0.05;
/// Largest error of the metal's heat capacity, as a share.
const METAL_ERROR: f64 = 0.20;
/// Largest error of the glycol, percent by volume.
const GLYCOL_ERROR: f64 = 5.0;
/// Largest error of both ends of the thermostat's range together, K.
const THERMOSTAT_ERROR_K: f64 = 1.0;
/// Standard deviation of the gain of fuel flow, beyond what the simulator's sensor leans.
const FUEL_GAIN_SD: f64 = 0.02;
/// Standard deviation of the gain of air flow, likewise.
const AIR_GAIN_SD: f64 = 0.03;

/// What was drawn, for the table's text.
pub fn drawn_in_words() -> String {
    format!(
        "coolant's share of the fuel's energy lognormal with {:.0} to {:.0} % as ±2 sd (sd {:.1} %), \
         gain of fuel flow and air flow with sd {:.0} and {:.0} %; on the sheet, all alike within: \
         coolant ±{:.0} %, metal heat capacity ±{:.0} %, glycol ±{GLYCOL_ERROR:.0} points, \
         thermostat range shifted by ±{THERMOSTAT_ERROR_K:.0} K",
        100.0 * SHARE.0,
        100.0 * SHARE.1,
        100.0 * share_log_sd(),
        100.0 * FUEL_GAIN_SD,
        100.0 * AIR_GAIN_SD,
        100.0 * COOLANT_ERROR,
        100.0 * METAL_ERROR,
    )
}

fn share_log_sd() -> f64 {
    (SHARE.1 / SHARE.0).ln() / 4.0
}

/// A car and its sheet.
#[derive(Debug, Clone)]
pub struct Car {
    /// Heat that reaches coolant and oil over the simulated car's.
    pub heat_share_factor: f64,
    /// Gain of the heat input's channel beyond what the simulator's sensor leans.
    pub channel_gain: f64,
    /// What its owner wrote.
    pub sheet: CarSheet,
}

impl Car {
    /// The car that the scale was fixed on, with the right sheet.
    pub fn nominal() -> Self {
        Self {
            heat_share_factor: 1.0,
            channel_gain: 1.0,
            sheet: car_sheet(),
        }
    }

    /// A car of which only the published range is known, its sheet with its owner's errors.
    pub fn draw(source: HeatSource, scales: &Scales, noise: &mut Noise) -> Self {
        let middle = (SHARE.0 * SHARE.1).sqrt();
        let share = middle * noise.normal(0.0, share_log_sd()).exp();
        let gain_sd = match source {
            HeatSource::AirFlow => AIR_GAIN_SD,
            _ => FUEL_GAIN_SD,
        };
        let channel_gain = 1.0 + noise.normal(0.0, gain_sd);
        let mut within = |largest: f64| noise.uniform(-largest, largest);
        let right = car_sheet();
        let shift_k = within(THERMOSTAT_ERROR_K);
        let sheet = CarSheet {
            coolant_l: right.coolant_l.map(|l| l * (1.0 + within(COOLANT_ERROR))),
            metal_heat_capacity_j_per_k: right
                .metal_heat_capacity_j_per_k
                .map(|c| c * (1.0 + within(METAL_ERROR))),
            glycol_volume_percent: right
                .glycol_volume_percent
                .map(|g| g + within(GLYCOL_ERROR)),
            thermostat_opens_c: right.thermostat_opens_c.map(|t| t + shift_k),
            thermostat_full_open_c: right.thermostat_full_open_c.map(|t| t + shift_k),
            ..right
        };
        Self {
            heat_share_factor: share / scales.true_share,
            channel_gain,
            sheet,
        }
    }
}
