//! The columns of a recording, brought into the units inside.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::channel::{Channel, finish};
use super::evidence::{against_positions, gps_ratio, hardest_braking, labelled_ratio};
use super::positions::to_degrees;
use super::table::Table;
use super::timeline::Timeline;
use super::unit_taken::{ASSUMED, coolant_label_doubted, unit_of};
use super::unit_values::Context;
use super::written::Written;
use crate::quantity::{Quantity, Unit};
use crate::session::{Role, UnitFrom};
use crate::stats::median;
use crate::warning::Warning;

/// Converts the columns, those with sure units first, so that the others can lean on them.
pub(super) fn channels(
    table: &Table,
    written: Vec<Written>,
    timeline: &Timeline,
    warnings: &mut Vec<Warning>,
) -> (BTreeMap<Role, Channel>, Option<f64>) {
    let t_s = timeline.t_s.as_slice();
    let mut written = without_gauge(table, written, warnings);
    warnings.extend(to_degrees(table, timeline, &mut written));
    let find = |role: Role| written.iter().find(|w| w.role == role);
    let mut context = Context {
        duration_s: t_s.last().copied().unwrap_or(0.0),
        ..Context::default()
    };
    if let Some(speed) = find(Role::Speed) {
        context.hardest_braking = hardest_braking(t_s, &speed.values);
        if let (Some(lat), Some(lon)) = (find(Role::Latitude), find(Role::Longitude)) {
            context.gps_ratio = gps_ratio(t_s, &speed.values, &lat.values, &lon.values);
        }
        context.speed_ratio = labelled_ratio(table, &timeline.rows, speed);
    }
    if let Some(coolant) = find(Role::Coolant) {
        context.coolant_label_doubted = coolant_label_doubted(coolant, context);
    }
    for column in written
        .iter()
        .filter(|w| w.role.quantity() == Quantity::Temperature)
    {
        let (unit, from, warning) = unit_of(table, column, Context::default());
        let sure = from != UnitFrom::Values || warning.is_some_and(|w| w.id != ASSUMED);
        context.fahrenheit_elsewhere |= sure && unit == Unit::Fahrenheit;
        context.celsius_elsewhere |= sure && unit == Unit::Celsius;
    }
    if let (Some(speed), Some(intake)) = (find(Role::Speed), find(Role::Intake)) {
        let (unit, ..) = unit_of(table, intake, context);
        context.intake_at_speed_c = at_speed(speed, intake).map(|v| unit.to_inside(v));
    }
    let mut speed_factor = None;
    let mut units = Vec::new();
    for column in &written {
        let (unit, from, warning) = unit_of(table, column, context);
        warnings.extend(warning);
        let role = column.role;
        if role == Role::Speed {
            speed_factor = context
                .gps_ratio
                .map(|ratio| unit.to_inside(1.0) / 3.6 / ratio);
            let name = &table.columns[column.choice.column].name;
            warnings.extend(speed_factor.and_then(|f| against_positions(name, unit, f)));
        }
        units.push((unit, from));
    }
    let finished: Vec<(Role, Channel, Vec<Warning>)> = written
        .into_par_iter()
        .zip(units)
        .map(|(column, unit)| {
            let (role, mut told) = (column.role, Vec::new());
            let channel = finish(table, column, unit, t_s, &mut told);
            (role, channel, told)
        })
        .collect();
    let mut channels = BTreeMap::new();
    for (role, channel, told) in finished {
        channels.insert(role, channel);
        warnings.extend(told);
    }
    (channels, speed_factor)
}

/// Leaves out pressures that are often below zero: they count from the air outside.
fn without_gauge(
    table: &Table,
    written: Vec<Written>,
    warnings: &mut Vec<Warning>,
) -> Vec<Written> {
    let is_gauge = |w: &Written| {
        let low = w.sorted.get(w.sorted.len() / 20);
        w.role.quantity() == Quantity::Pressure && low.is_some_and(|low| *low < 0.0)
    };
    let (gauge, kept): (Vec<_>, Vec<_>) = written.into_iter().partition(is_gauge);
    warnings.extend(gauge.iter().map(|w| {
        let column = &table.columns[w.choice.column].name;
        let message = format!(
            "{}: column `{column}` reads below zero, so it is pressure against the air outside, not absolute: not taken",
            w.role.name()
        );
        Warning::caution("gauge-pressure", message)
    }));
    kept
}

/// The median of a channel over the rows at which the car drives at more than half its top speed,
/// as written; whatever the speed's unit.
fn at_speed(speed: &Written, channel: &Written) -> Option<f64> {
    let top = speed.sorted.last()?;
    let rows = speed.values.iter().zip(&channel.values);
    let fast = rows.filter(|(v, value)| **v > top / 2.0 && !value.is_nan());
    median(fast.map(|(_, value)| *value).collect())
}
