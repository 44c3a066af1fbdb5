//! How the model follows the reading: a small chart a session, all on the same scale.

use std::ops::Range;

use crate::estimate::Trace;
use crate::quantity::{Measure, Units};
use crate::report::ReportError;
use crate::report::canvas::{Anchor, Drawn, draw};
use crate::report::ink::Ink;
use crate::report::panel::Panel;
use crate::report::room::span;
use crate::report::thin::{stretches, thin};

/// Longest gap that a line crosses, s.
pub const LONGEST_GAP_S: f64 = 10.0;

/// Width and height of a small chart, CSS pixels.
const SIZE: (f64, f64) = (356.0, 244.0);

/// The scale that all small charts of a page share.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedScale {
    /// Minutes.
    pub time_min: Range<f64>,
    /// Coolant, °C.
    pub coolant_c: Range<f64>,
    /// Measured minus modelled, K.
    pub residual_k: Range<f64>,
}

impl SharedScale {
    /// A scale on which all these traces fit.
    pub fn of<'a>(traces: impl Iterator<Item = &'a Trace> + Clone) -> Self {
        let longest_min = traces
            .clone()
            .map(|t| t.measured_c.len() as f64 * t.step_s / 60.0)
            .fold(1.0, f64::max);
        let coolant = traces
            .clone()
            .flat_map(|t| t.measured_c.iter().chain(&t.modelled_c).copied());
        let residual = traces
            .flat_map(|t| residuals(t).map(|(_, r)| r))
            .filter(|r| r.is_finite())
            .fold(1.0, |most: f64, r| most.max(r.abs()));
        Self {
            time_min: 0.0..longest_min,
            coolant_c: span(coolant, 0.04),
            residual_k: -residual * 1.05..residual * 1.05,
        }
    }
}

/// A line over time: minutes against value.
pub fn over_time(step_s: f64, values: &[f64]) -> impl Iterator<Item = (f64, f64)> + '_ {
    values
        .iter()
        .enumerate()
        .map(move |(i, &v)| ((i as f64 + 0.5) * step_s / 60.0, v))
}

/// Measured minus modelled where both are, over minutes.
pub fn residuals(trace: &Trace) -> impl Iterator<Item = (f64, f64)> + '_ {
    over_time(trace.step_s, &trace.measured_c)
        .zip(&trace.modelled_c)
        .map(|((t, measured), modelled)| (t, measured - modelled))
}

/// Surprises over minutes; the steps between the readings of the filter have none.
pub fn surprises(trace: &Trace) -> impl Iterator<Item = (f64, f64)> + '_ {
    over_time(trace.step_s, &trace.surprise).filter(|(_, z)| !z.is_nan())
}

/// Draws a line over minutes, thinned to `columns` columns of the panel.
///
/// # Errors
/// A drawing that failed.
pub fn line(
    panel: &Panel<'_, '_>,
    points: impl Iterator<Item = (f64, f64)>,
    columns: usize,
    ink: Ink,
) -> Drawn {
    let column = (panel.x.end - panel.x.start) / columns as f64;
    for stretch in stretches(points, LONGEST_GAP_S / 60.0) {
        panel.series(&thin(&stretch, column), ink)?;
    }
    Ok(())
}

/// Shades the stints used.
///
/// # Errors
/// A drawing that failed.
pub fn stints(panel: &Panel<'_, '_>, trace: &Trace) -> Drawn {
    for &(first, end) in &trace.stints {
        let minutes = |step: usize| step as f64 * trace.step_s / 60.0;
        panel.shade(minutes(first)..minutes(end), Ink::Stint)?;
    }
    Ok(())
}

/// One session's small chart.
///
/// # Errors
/// A drawing that failed.
pub fn small(
    trace: &Trace,
    scale: &SharedScale,
    columns: usize,
    alt: &str,
    units: Units,
) -> Result<String, ReportError> {
    let told =
        |range: &Range<f64>, measure| units.of(measure, range.start)..units.of(measure, range.end);
    let celsius = |(t, c): (f64, f64)| (t, units.of(Measure::Temperature, c));
    let kelvin = |(t, k): (f64, f64)| (t, units.of(Measure::Difference, k));
    draw(SIZE, alt, |sheet| {
        let (left, right) = (40.0, SIZE.0 - 6.0);
        let upper = Panel::on(
            sheet,
            (left, 20.0),
            (right, 132.0),
            scale.time_min.clone(),
            told(&scale.coolant_c, Measure::Temperature),
        );
        let lower = Panel::on(
            sheet,
            (left, 156.0),
            (right, 208.0),
            scale.time_min.clone(),
            told(&scale.residual_k, Measure::Difference),
        );
        for panel in [&upper, &lower] {
            stints(panel, trace)?;
            panel.axis_y()?;
        }
        upper.axis_x(false)?;
        lower.axis_x(true)?;
        lower.level(0.0, Ink::Zero)?;
        line(
            &upper,
            over_time(trace.step_s, &trace.measured_c).map(celsius),
            columns,
            Ink::Measured,
        )?;
        line(
            &upper,
            over_time(trace.step_s, &trace.modelled_c).map(celsius),
            columns,
            Ink::Model,
        )?;
        line(&lower, residuals(trace).map(kelvin), columns, Ink::Residual)?;
        let title = format!("coolant, {}", units.symbol(Measure::Temperature));
        sheet.text((left, 9.0), Anchor::Start, Ink::Text, &title)?;
        let measured = (right - 150.0, 9.0);
        sheet.line(
            (measured.0 - 26.0, 9.0),
            (measured.0 - 6.0, 9.0),
            Ink::Measured,
        )?;
        sheet.text(measured, Anchor::Start, Ink::Text, "measured")?;
        sheet.line((right - 74.0, 9.0), (right - 54.0, 9.0), Ink::Model)?;
        sheet.text((right - 48.0, 9.0), Anchor::Start, Ink::Text, "model")?;
        sheet.text(
            (left, 145.0),
            Anchor::Start,
            Ink::Text,
            &format!(
                "measured minus model, {}",
                units.symbol(Measure::Difference)
            ),
        )?;
        sheet.text((right, 236.0), Anchor::End, Ink::Text, "time, min")
    })
}
