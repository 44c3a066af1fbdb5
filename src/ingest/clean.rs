//! What no sensor can have read, and what looks read but is not.
//!
//! The bounds are wide: they catch faults, not surprises (common practice, no source, where no
//! source is named).

use std::ops::RangeInclusive;

use super::false_readings::{Run, drop_false, runs};
use crate::quantity::Quantity;
use crate::session::Role;
use crate::warning::Warning;

/// Whether a working sensor can give a value, in the inside unit.
pub(super) fn possible(role: Role, value: f64) -> bool {
    bounds(role).contains(&value)
}

/// Values that a working sensor can give, in the inside unit.
fn bounds(role: Role) -> RangeInclusive<f64> {
    let (low, high) = match role {
        // On-board diagnostics send a temperature as raw value minus 40 (SAE J1979, PID 05):
        // -40 is a raw zero, which is a sensor without signal.
        Role::Coolant | Role::RadiatorOut => (-39.9, 160.0),
        Role::Oil => (-39.9, 200.0),
        Role::Ambient => (-39.9, 65.0),
        Role::Intake => (-39.9, 200.0),
        Role::ChargeIn | Role::ChargeOut => (-39.9, 320.0),
        Role::Speed => (-0.9, 500.0),
        Role::WindSpeed => (0.0, 250.0),
        Role::Rpm => (0.0, 25_000.0),
        Role::Load => (0.0, 400.0),
        Role::Throttle => (-5.0, 110.0),
        Role::ManifoldPressure => (1.0, 700.0),
        Role::BarometricPressure => (40.0, 115.0),
        Role::AirFlow => (0.0, 3000.0),
        Role::FuelRate => (0.0, 1000.0),
        Role::Latitude => (-90.0, 90.0),
        Role::Longitude => (-180.0, 360.0),
        Role::Altitude => (-500.0, 6000.0),
        Role::Heading | Role::WindDirection => (-360.0, 720.0),
        Role::Gear => (-3.0, 20.0),
        Role::Lap => (-1.0, 100_000.0),
        Role::Fan | Role::AirConditioning => (0.0, 100.0),
    };
    low..=high
}

/// A temperature that jumps from zero by more was not read before, K.
const WAKES_K: f64 = 5.0;

/// What cleaning took out of a channel.
#[derive(Debug, Clone, Default)]
pub(super) struct Removed {
    pub impossible: usize,
    pub spikes: usize,
    /// In blocks of one value that no sensor comes to at once.
    pub blocks: usize,
    /// Value and time of the first block.
    pub first_block: Option<(f64, f64)>,
    /// Row and value of each.
    taken: Vec<(usize, f64)>,
}

impl Removed {
    pub(super) fn take(&mut self, row: usize, value: &mut f64) {
        self.taken.push((row, *value));
        *value = f64::NAN;
    }

    /// Takes out the zeros that a temperature reads before its device wakes: exactly zero, then a
    /// jump. Returns how many.
    pub fn take_sleep(&mut self, role: Role, zero: f64, values: &mut [f64]) -> usize {
        let is_zero = |v: &f64| v.is_nan() || (*v - zero).abs() < 1e-9;
        let asleep = values.iter().take_while(|v| is_zero(v)).count();
        let zeros = values[..asleep].iter().filter(|v| !v.is_nan()).count();
        let jumps = values
            .get(asleep)
            .is_some_and(|v| (v - zero).abs() > WAKES_K);
        if role.quantity() != Quantity::Temperature || zeros < 2 || !jumps {
            return 0;
        }
        for (row, value) in values
            .iter_mut()
            .enumerate()
            .take(asleep)
            .filter(|(_, v)| !v.is_nan())
        {
            self.take(row, value);
        }
        zeros
    }

    /// The channel as it was before; `None` where nothing was taken out.
    pub fn before(&self, cleaned: &[f64]) -> Option<Vec<f64>> {
        if self.taken.is_empty() {
            return None;
        }
        let mut raw = cleaned.to_vec();
        for (row, value) in &self.taken {
            raw[*row] = *value;
        }
        Some(raw)
    }
}

/// Turns impossible values and, in temperatures, lone spikes into missing ones.
pub(super) fn clean(role: Role, t_s: &[f64], values: &mut [f64]) -> Removed {
    let mut removed = Removed::default();
    let bounds = bounds(role);
    // Exactly zero is what a receiver writes before it knows where it is.
    let placed = matches!(role, Role::Latitude | Role::Longitude);
    for (row, value) in values.iter_mut().enumerate() {
        if placed && *value == 0.0 {
            removed.take(row, value);
        } else if !value.is_nan() && !bounds.contains(value) {
            removed.take(row, value);
            removed.impossible += 1;
        }
    }
    drop_false(role, t_s, values, &mut removed);
    removed
}

/// Sessions shorter than this may hold a channel still without fault, s.
const STUCK_SESSION_S: f64 = 90.0;
/// A thermostat holds whole degrees for minutes: seen for 10 min on the road.
const STUCK_COOLANT_S: f64 = 900.0;
/// Flows and pressures follow the load; overrun cut is zero and does not count, s.
const STUCK_LOAD_S: f64 = 180.0;
/// Engine speed that stands still (not at zero) for so long is not being read, s.
const STUCK_RPM_S: f64 = 60.0;
/// A cruise control holds whole km/h for minutes: seen for 99 s on the road.
const STUCK_SPEED_S: f64 = 180.0;
/// Readings finer than this, K and km/h, stand no longer than this share of those times.
const FINE_STEP: f64 = 0.3;
const FINE_SHARE: f64 = 0.4;

/// Warns of a channel that does not change though what it measures does.
pub(super) fn stuck(
    role: Role,
    column: &str,
    (t_s, values): (&[f64], &[f64]),
    step: Option<f64>,
) -> Option<Warning> {
    let lively = matches!(
        role,
        Role::Coolant
            | Role::Speed
            | Role::Intake
            | Role::Rpm
            | Role::Throttle
            | Role::Load
            | Role::Oil
            | Role::ManifoldPressure
            | Role::AirFlow
            | Role::FuelRate
            | Role::RadiatorOut
            | Role::ChargeIn
            | Role::ChargeOut
    );
    let length = |run: &Run| t_s[run.last] - t_s[run.first];
    let name = role.name();
    let first = values.iter().position(|v| !v.is_nan())?;
    let last = values.iter().rposition(|v| !v.is_nan())?;
    let value = values[first];
    let is_constant = || values.iter().all(|v| v.is_nan() || *v == value);
    if lively && t_s[last] - t_s[first] > STUCK_SESSION_S && is_constant() {
        return Some(Warning::caution(
            "stuck-channel",
            format!(
                "{name}: column `{column}` reads {value} all the time and is not to be trusted"
            ),
        ));
    }
    // Whole degrees and whole km/h stand where finer readings do not.
    let fine = if step.is_some_and(|step| step < FINE_STEP) {
        FINE_SHARE
    } else {
        1.0
    };
    let allowed_s = match role {
        Role::Speed => fine * STUCK_SPEED_S,
        Role::Rpm => STUCK_RPM_S,
        Role::Coolant => fine * STUCK_COOLANT_S,
        Role::FuelRate | Role::AirFlow => STUCK_LOAD_S,
        _ => return None,
    };
    // A car that stands idles at one fuel flow; it moves above 5 km/h.
    let moving = if role == Role::FuelRate { 2.0 } else { 5.0 };
    let longest = runs(t_s, values)
        .filter(|run| run.value > moving)
        .max_by(|a, b| length(a).total_cmp(&length(b)))
        .filter(|run| length(run) > allowed_s)?;
    Some(Warning::caution(
        "stuck-stretch",
        format!(
            "{name}: column `{column}` stands at {} for {:.0} s from {:.0} s on",
            longest.value,
            length(&longest),
            t_s[longest.first]
        ),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seconds(n: usize) -> Vec<f64> {
        (0..n).map(|i| i as f64).collect()
    }

    #[test]
    fn faults_and_spikes_become_missing() {
        let read = vec![90.0, 90.0, -40.0, 91.0, 125.0, 91.0, 215.0, 92.0];
        let mut values = read.clone();
        let removed = clean(Role::Coolant, &seconds(8), &mut values);
        assert_eq!((removed.impossible, removed.spikes), (2, 1));
        assert_eq!(removed.before(&values), Some(read));
        let kept: Vec<f64> = values.into_iter().filter(|v| !v.is_nan()).collect();
        assert_eq!(kept, [90.0, 90.0, 91.0, 91.0, 92.0]);
    }

    #[test]
    fn a_spike_repeated_by_a_polled_log_is_still_one() {
        let t_s: Vec<f64> = (0..30).map(|i| f64::from(i) * 0.1).collect();
        let mut values = vec![90.0; 30];
        values[10..20].fill(20.0);
        assert_eq!(clean(Role::Coolant, &t_s, &mut values).spikes, 10);
    }

    #[test]
    fn a_true_step_is_kept() {
        let mut values: Vec<f64> = vec![20.0, 20.0, 45.0, 46.0, 46.0, 45.0];
        let removed = clean(Role::Intake, &seconds(6), &mut values);
        assert_eq!((removed.spikes, removed.before(&values)), (0, None));
    }

    #[test]
    fn stuck_channels_are_told() {
        let t_s = seconds(400);
        let told =
            |role, values: &[f64], step| stuck(role, "x", (&t_s, values), Some(step)).map(|w| w.id);
        let id = |role, values: &[f64]| told(role, values, 1.0);
        assert_eq!(
            id(Role::Coolant, &[90.0; 400]).as_deref(),
            Some("stuck-channel")
        );
        assert_eq!(id(Role::Ambient, &[20.0; 400]), None);
        let mut speed: Vec<f64> = (0..400).map(|i| f64::from(i % 7) * 10.0).collect();
        assert_eq!(id(Role::Speed, &speed), None);
        speed[100..300].fill(123.0);
        assert_eq!(id(Role::Speed, &speed).as_deref(), Some("stuck-stretch"));
        // Six minutes in whole degrees are a thermostat, in tenths a fault.
        let mut coolant: Vec<f64> = (0..400).map(|i| 85.0 + f64::from(i % 7)).collect();
        coolant[10..390].fill(88.0);
        assert_eq!(told(Role::Coolant, &coolant, 1.0), None);
        let fine = told(Role::Coolant, &coolant, 0.1);
        assert_eq!(fine.as_deref(), Some("stuck-stretch"));
    }
}
