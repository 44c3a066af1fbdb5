//! What a session says of another day: whether it still rose, where it would have settled, on how hot a
//! day it would have met a limit, and where its coolant boils.

use super::readings::Readings;
use crate::estimate::joint::fit_converged;
use crate::estimate::prepare::{DEFAULT_GLYCOL_PERCENT, Prepared, STEP_S};
use crate::estimate::simulate::{CarModel, ReferenceDrive};
use crate::estimate::{NotAssessable, car_model, log_g_half_width};
use crate::session::Role;
use crate::stats::{Estimate, mean};
use crate::thermal::boiling;

/// Rising by more than this at the end of hot running is still rising, K/s (half a kelvin a minute).
const STILL_RISING_K_PER_S: f64 = 0.5 / 60.0;

/// Length over which a slope is taken, s.
const SLOPE_S: f64 = 60.0;

/// Whether the channel still rose over the last minute of hot running. `None`: there was none.
pub(super) fn rising_at_end(role: Role, prepared: &Prepared) -> Option<bool> {
    let &(from, to) = prepared.drive.stints.last()?;
    let values = prepared.grid.bridged(role, 10.0)?;
    let length = ((SLOPE_S / STEP_S) as usize).min((to - from) / 2);
    let half = length / 2;
    let late = mean(&values[to - half..to]);
    let early = mean(&values[to - length..to - half]);
    let slope = (late - early) / (half as f64 * STEP_S);
    slope.is_finite().then_some(slope > STILL_RISING_K_PER_S)
}

/// The fitted car and the drive of its longest stint.
pub(super) struct Outlook {
    drive: ReferenceDrive,
    car: CarModel,
    half_width: f64,
    ambient_c: f64,
}

impl Outlook {
    /// From one session and what its assessment said. `Err`: why there is none.
    pub fn of(
        role: Role,
        prepared: &Prepared,
        assessed: &Result<(), NotAssessable>,
    ) -> Result<Self, String> {
        if role != Role::Coolant {
            return Err("only coolant has a model".to_owned());
        }
        assessed.clone().map_err(|why| why.to_string())?;
        let joint = fit_converged(&[prepared])?;
        let (Some(drive), Some(half_width)) = (
            ReferenceDrive::of(prepared, &joint),
            log_g_half_width(&joint, 0),
        ) else {
            return Err("too little hot running".to_owned());
        };
        let ambient = prepared.ambient_c.as_deref().unwrap_or_default();
        Ok(Self {
            drive,
            car: car_model(prepared, &joint, joint.sessions[0].log_g),
            half_width,
            ambient_c: prepared.mean_in_stints(ambient),
        })
    }

    /// Where coolant would have settled had that stint gone on: peak, thermostat open.
    pub fn would_have_settled_c(&self) -> Estimate {
        let settled = |shift| {
            self.drive
                .settle(&self.car.shifted(shift), self.ambient_c)
                .peak_c
        };
        Estimate::between(
            settled(0.0),
            settled(self.half_width),
            settled(-self.half_width),
            "longest stint repeated until settled, peak; conductance of the session at its ends",
        )
    }

    /// Ambient at which that stint, repeated until settled, peaks at `limit_c`.
    pub fn limiting_ambient_c(&self, limit_c: f64) -> Estimate {
        let at = |shift| {
            self.drive
                .limiting_ambient_c(&self.car.shifted(shift), limit_c)
        };
        match (at(0.0), at(-self.half_width), at(self.half_width)) {
            (Some(middle), Some(low), Some(high)) => Estimate::between(
                middle,
                low,
                high,
                "model: longest stint repeated until settled, peak at the limit; conductance of the session at its ends",
            ),
            _ => Estimate::unknown("outside -40 to 80 °C"),
        }
    }
}

/// Tolerance of a cap's opening pressure, kPa (common practice, no source).
const CAP_KPA: f64 = 10.0;

/// Where the session's coolant boils under its cap: the mix and the cap of the car sheet, the pressure of
/// the air of the day.
pub(super) fn boiling_c(prepared: &Prepared) -> Estimate {
    let Some(cap_bar) = prepared.car.cap_pressure_bar_gauge else {
        return Estimate::unknown("no cap pressure: give cap_pressure_bar_gauge in the car sheet");
    };
    let assumed = prepared.car.glycol_volume_percent.is_none();
    let glycol = prepared
        .car
        .glycol_volume_percent
        .unwrap_or(DEFAULT_GLYCOL_PERCENT);
    let pressure_kpa = prepared.pressure_kpa + 100.0 * cap_bar;
    let at = |off_kpa: f64| boiling::boiling_c(pressure_kpa + off_kpa, glycol);
    let (Some(middle), Some(low), Some(high)) = (at(0.0), at(-CAP_KPA), at(CAP_KPA)) else {
        return Estimate::unknown("outside 20 to 200 °C");
    };
    let half = ((high - low) / 2.0).hypot(boiling::MIX_K);
    let mix = if assumed { " (assumed)" } else { "" };
    Estimate::symmetric(
        middle,
        half,
        format!(
            "Raoult's law at {pressure_kpa:.0} kPa absolute, {glycol:.0} % glycol{mix}; cap ± {:.1} bar, mix ± {:.0} K",
            CAP_KPA / 100.0,
            boiling::MIX_K
        ),
    )
}

/// Limiting ambient by the 1:1 rule.
pub(super) fn one_to_one(prepared: &Prepared, readings: &Readings, limit_c: f64) -> Estimate {
    let Some(ambient) = &prepared.ambient_c else {
        return Estimate::unknown("no ambient temperature");
    };
    let in_stints = prepared.mean_in_stints(ambient);
    let read: Vec<f64> = ambient.iter().copied().filter(|v| !v.is_nan()).collect();
    let ambient_c = if in_stints.is_nan() {
        mean(&read)
    } else {
        in_stints
    };
    let at = |peak_c: f64| limit_c - (peak_c - ambient_c);
    Estimate::between(
        at(readings.peak_c),
        at(readings.possible_peak_c()),
        at(readings.peak_c),
        "1:1 rule: limit minus (peak minus ambient); interval: step and lag of the reading only",
    )
}
