//! The car of a session: the one whose sheet is right, or one drawn with its owner's errors.
//!
//! What is drawn is what the fit says it does not know, as widely as it says so, so that an interval
//! that means what it says holds the truth in 95 %:
//!
//! Coolant share of the fuel's energy: Heywood, Internal Combustion Engine Fundamentals, table
//! 12.1, 17 to 26 % for spark ignition at full power (from memory), taken as two standard
//! deviations either side of a lognormal's middle. Energy of a litre of petrol, gain of the channel
//! and mixture: as `thermal::heat_input` has them. Air side: power of the air flow so drawn that
//! the whole radiator's power of the speed is the prior of `estimate::joint`; heat capacities and
//! couplings of block and oil: within the factor of 1.5 of its priors. A control unit rounds the
//! coolant or cuts it off, as likely. The owner's errors are our choice.

use heatbook::car::CarSheet;
use heatbook::thermal::heat_input::HeatSource;

use super::scale::Scales;
use crate::simulator::cooling::{Build, Cooling, Front};
use crate::simulator::exchanger::AIR_EXPONENT;
use crate::simulator::library::car_sheet;
use crate::simulator::noise::Noise;

/// Published range of the coolant's share of the fuel's energy.
const SHARE: (f64, f64) = (0.17, 0.26);
/// Standard deviation of the energy of a litre of petrol.
const LITRE_LOG_SD: f64 = 0.027;
/// Standard deviation of the gain of fuel flow and air flow, beyond what the simulator's sensor leans.
const GAIN_LOG_SD: f64 = 0.05;
/// Standard deviation of the fuel burned with a kilogram of air.
const MIXTURE_LOG_SD: f64 = 0.058;
/// Power of the air flow that the air side goes with, and its standard deviation. With the next, the
/// radiator's power of the speed is 0.50 ± 0.09.
const DRAWN_AIR_EXPONENT: (f64, f64) = (0.577, 0.115);
/// Standard deviation of the power of the speed that the air through the core goes with.
const RAM_POWER_SD: f64 = 0.13;
/// Standard deviation of the logarithm of what tells one block and its oil from another.
const BUILD_LOG_SD: f64 = 0.40;
/// Largest error of the coolant's volume, as a share; all up to it are alike, as for the next three.
const COOLANT_ERROR: f64 = 0.05;
/// Largest error of the metal's heat capacity, as a share.
const METAL_ERROR: f64 = 0.20;
/// Largest error of the glycol, percent by volume.
const GLYCOL_ERROR: f64 = 5.0;
/// Largest error of both ends of the thermostat's range together, K.
const THERMOSTAT_ERROR_K: f64 = 1.0;

/// What was drawn, for the table's text.
pub fn drawn_in_words() -> String {
    let percent = |share: f64| 100.0 * share;
    format!(
        "coolant's share of the fuel's energy lognormal with {:.0} to {:.0} % as ±2 sd (sd {:.1} %), \
         gain of fuel flow and air flow with sd {:.0} %, energy of a litre of petrol {:.1} % (fuel flow), \
         mixture {:.1} % (air flow), air side with the {:.2} ± {:.2} power (sd) of the air flow and that with the \
         {:.2} ± {RAM_POWER_SD} power of the speed (together: conductance with 0.50 ± 0.09), heat \
         capacities and couplings of block and oil within a factor of {:.1} (sd), coolant rounded or cut off \
         as likely; on the sheet, all alike within: coolant ±{:.0} %, metal heat capacity ±{:.0} %, glycol \
         ±{GLYCOL_ERROR:.0} points, thermostat range shifted by ±{THERMOSTAT_ERROR_K:.0} K",
        percent(SHARE.0),
        percent(SHARE.1),
        percent(share_log_sd()),
        percent(GAIN_LOG_SD),
        percent(LITRE_LOG_SD),
        percent(MIXTURE_LOG_SD),
        DRAWN_AIR_EXPONENT.0,
        DRAWN_AIR_EXPONENT.1,
        Front::NOMINAL.ram_power,
        BUILD_LOG_SD.exp(),
        percent(COOLANT_ERROR),
        percent(METAL_ERROR),
    )
}

fn share_log_sd() -> f64 {
    (SHARE.1 / SHARE.0).ln() / 4.0
}

/// Which cars drive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Driven {
    /// One car, whose sheet is right.
    One,
    /// A car drawn for each session, with its owner's errors on the sheet.
    Drawn,
}

/// A car and its sheet.
#[derive(Debug, Clone)]
pub struct Car {
    /// Heat that reaches coolant and oil over the simulated car's.
    pub heat_share_factor: f64,
    /// Gain of the heat input's channel beyond what the simulator's sensor leans.
    pub channel_gain: f64,
    /// How air comes to its core.
    pub front: Front,
    /// Power of the air flow that the core's air side goes with.
    pub air_exponent: f64,
    /// Its block and oil.
    pub build: Build,
    /// Whether its control unit rounds the coolant; else it cuts it off.
    pub rounds_coolant: bool,
    /// What its owner wrote.
    pub sheet: CarSheet,
}

impl Car {
    /// The car in the middle, with the right sheet.
    pub fn middle(driven: Driven) -> Self {
        Self {
            heat_share_factor: 1.0,
            channel_gain: 1.0,
            air_exponent: match driven {
                Driven::One => AIR_EXPONENT,
                Driven::Drawn => DRAWN_AIR_EXPONENT.0,
            },
            front: Front::NOMINAL,
            build: Build::NOMINAL,
            rounds_coolant: false,
            sheet: car_sheet(),
        }
    }

    /// A car of which only the published ranges are known, its sheet with its owner's errors.
    pub fn draw(source: HeatSource, scales: &Scales, noise: &mut Noise) -> Self {
        let middle = (SHARE.0 * SHARE.1).sqrt();
        let share = middle * noise.normal(0.0, share_log_sd()).exp();
        let gain_log_sd = GAIN_LOG_SD.hypot(match source {
            HeatSource::AirFlow => MIXTURE_LOG_SD,
            _ => LITRE_LOG_SD,
        });
        let channel_gain = noise.normal(0.0, gain_log_sd).exp();
        let air_exponent = noise.normal(DRAWN_AIR_EXPONENT.0, DRAWN_AIR_EXPONENT.1);
        let front = Front {
            ram_power: Front::NOMINAL.ram_power + noise.normal(0.0, RAM_POWER_SD),
            ..Front::NOMINAL
        };
        let build = Build::draw(BUILD_LOG_SD, noise);
        let rounds_coolant = noise.chance(0.5);
        Self {
            heat_share_factor: share / scales.true_share,
            channel_gain,
            front,
            air_exponent,
            build,
            rounds_coolant,
            sheet: sheet_with_errors(noise),
        }
    }

    /// Its cooling circuit, warmed through.
    pub fn cooling(&self, coolant_c: f64, ambient_c: f64) -> Cooling {
        let mut cooling = Cooling::warm(coolant_c, ambient_c);
        cooling.heat_share_factor = self.heat_share_factor;
        cooling.front = self.front;
        cooling.air_exponent = self.air_exponent;
        cooling.build = self.build;
        cooling
    }
}

fn sheet_with_errors(noise: &mut Noise) -> CarSheet {
    let mut within = |largest: f64| noise.uniform(-largest, largest);
    let right = car_sheet();
    let shift_k = within(THERMOSTAT_ERROR_K);
    CarSheet {
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
    }
}
