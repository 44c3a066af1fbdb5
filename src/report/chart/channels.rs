//! A session's channels above one another on one time axis, with what the car was doing.

use crate::estimate::Trace;
use crate::quantity::{Measure, Units};
use crate::regime::Regime;
use crate::report::ReportError;
use crate::report::canvas::{Anchor, Drawn, Sheet, draw};
use crate::report::chart::trace::{LONGEST_GAP_S, line, over_time, residuals, stints, surprises};
use crate::report::chart::values::{Line, written};
use crate::report::figure::Layout;
use crate::report::ink::Ink;
use crate::report::panel::Panel;
use crate::report::room::{span, wide_enough};
use crate::session::{Grid, Role};

/// Channels drawn where present, from above.
pub const DRAWN: [Role; 5] = [
    Role::Coolant,
    Role::Ambient,
    Role::Intake,
    Role::Speed,
    Role::Rpm,
];

const LANE: f64 = 27.0;
const HEAD: f64 = 24.0;
const LEFT: f64 = 48.0;

const REGIMES: [(Regime, Ink); 7] = [
    (Regime::ColdStart, Ink::Cold),
    (Regime::Regulating, Ink::Regulating),
    (Regime::Open, Ink::Open),
    (Regime::Slow, Ink::Slow),
    (Regime::Standing, Ink::Standing),
    (Regime::Soak, Ink::Soak),
    (Regime::NoData, Ink::Gap),
];

/// The drawing, and its scales for the read-off on screen: `left;right;minutes`, then for each
/// panel `|top;bottom;low;high;step;zero`: what is measured reads `zero` and whole steps from there, of any
/// size where the step is 0. Edges are in CSS pixels.
pub struct Channels {
    /// The drawing.
    pub svg: String,
    /// Its scales.
    pub scale: String,
}

/// What one panel holds.
struct Strip {
    title: String,
    height: f64,
    lines: Vec<(Vec<(f64, f64)>, Ink)>,
    zero: bool,
    /// Step of the sensor, and a reading that it has, as printed; a step of 0: not known.
    steps: (f64, f64),
}

/// A session's regimes and channels. `None` when it has nothing to draw. `step`: that of a channel's sensor, in the
/// unit used inside, if it is known.
///
/// # Errors
/// A drawing that failed.
pub fn channels(
    grid: &Grid,
    trace: &Trace,
    step: &dyn Fn(Role) -> Option<f64>,
    columns: usize,
    alt: &str,
    layout: Layout,
    units: Units,
) -> Result<Option<Channels>, ReportError> {
    let strips = strips(grid, trace, step, layout, units);
    if strips.is_empty() {
        return Ok(None);
    }
    let lanes: Vec<(Regime, Ink)> = REGIMES
        .into_iter()
        .filter(|(regime, _)| trace.regime.contains(regime))
        .collect();
    let steps = grid.len as f64 * grid.step_s;
    let minutes = steps.max(trace.regime.len() as f64 * trace.step_s) / 60.0;
    let panels: f64 = strips.iter().map(|s| s.height + HEAD).sum();
    let size = (layout.width(), lanes.len() as f64 * LANE + panels + 44.0);
    let right = layout.width() - 8.0;
    let mut upper = lanes.len() as f64 * LANE;
    let panels: String = strips
        .iter()
        .map(|strip| {
            let top = upper + HEAD;
            upper = top + strip.height;
            let scale = wide_enough(strip.scale());
            let (low, high) = (scale.start, scale.end);
            let (step, zero) = strip.steps;
            format!("|{top};{upper};{low:.2};{high:.2};{step};{zero}")
        })
        .collect();
    let scale = format!("{LEFT};{right};{minutes:.4}{panels}");
    let svg = draw(size, alt, |sheet| {
        let mut y = 0.0;
        for (regime, ink) in &lanes {
            let panel = Panel::on(
                sheet,
                (LEFT, y + 15.0),
                (right, y + 23.0),
                0.0..minutes,
                0.0..1.0,
            );
            lane(sheet, &panel, trace, *regime, *ink)?;
            y += LANE;
        }
        for (i, strip) in strips.iter().enumerate() {
            let upper = y + HEAD;
            y = upper + strip.height;
            let scale = strip.scale();
            let panel = Panel::on(sheet, (LEFT, upper), (right, y), 0.0..minutes, scale);
            shade(&panel, trace)?;
            strip.paint(sheet, &panel, columns, i + 1 == strips.len())?;
        }
        sheet.text((right, y + 32.0), Anchor::End, Ink::Text, "time, min")
    })?;
    Ok(Some(Channels { svg, scale }))
}

/// The values of the same lines, written small, in no more than `bytes` where that can be: what a zoomed drawing is
/// made of.
pub fn values(grid: &Grid, trace: &Trace, units: Units, bytes: usize) -> String {
    let strips = strips(grid, trace, &|_| None, Layout::Wide, units);
    let lines: Vec<Line<'_>> = (strips.iter().enumerate())
        .flat_map(|(panel, strip)| {
            strip.lines.iter().map(move |(points, ink)| Line {
                panel,
                ink: *ink,
                points,
                scale: wide_enough(strip.scale()),
            })
        })
        .collect();
    written(&lines, grid.step_s / 60.0, LONGEST_GAP_S / 60.0, bytes)
}

fn strips(
    grid: &Grid,
    trace: &Trace,
    step: &dyn Fn(Role) -> Option<f64>,
    layout: Layout,
    units: Units,
) -> Vec<Strip> {
    let mut out = Vec::new();
    for role in DRAWN {
        let Some(values) = grid.bridged(role, LONGEST_GAP_S) else {
            continue;
        };
        if !values.iter().any(|v| v.is_finite()) {
            continue;
        }
        let inside = role.quantity().inside_unit().symbol();
        let measure = Measure::of_symbol(inside);
        let unit = match measure {
            Measure::Plain => inside,
            told => units.symbol(told),
        };
        let told = |(t, v): (f64, f64)| (t, units.of(measure, v));
        let measured = over_time(grid.step_s, &values).map(told);
        let mut lines = vec![(measured.collect(), Ink::Measured)];
        let is_coolant = role == Role::Coolant;
        let modelled = trace.modelled_c.iter().any(|v| v.is_finite());
        if is_coolant && modelled {
            lines.push((
                over_time(trace.step_s, &trace.modelled_c)
                    .map(told)
                    .collect(),
                Ink::Model,
            ));
        }
        let height = if is_coolant {
            layout.pick(130.0, 120.0)
        } else {
            66.0
        };
        out.push(Strip {
            title: format!("{}, {unit}", role.description()),
            height,
            lines,
            zero: false,
            steps: printed_steps(step(role), measure, units),
        });
        if is_coolant {
            out.extend(strips_of_fit(trace, modelled, units));
        }
    }
    out
}

/// What the fit has over time besides its coolant.
fn strips_of_fit(trace: &Trace, modelled: bool, units: Units) -> Vec<Strip> {
    let strip = |title: String, line: Vec<(f64, f64)>, zero: bool| Strip {
        title,
        height: 56.0,
        lines: vec![(line, Ink::Residual)],
        zero,
        steps: (0.0, 0.0),
    };
    let mut out = Vec::new();
    if modelled {
        let kelvin = units.symbol(Measure::Difference);
        let told = |(t, k): (f64, f64)| (t, units.of(Measure::Difference, k));
        out.push(strip(
            format!("coolant, measured minus model, {kelvin}"),
            residuals(trace).map(told).collect(),
            true,
        ));
    }
    if trace.surprise.iter().any(|v| v.is_finite()) {
        out.push(strip(
            "surprise of each reading, standard deviations".to_owned(),
            surprises(trace).collect(),
            true,
        ));
    }
    if trace.heat_w.iter().any(|v| v.is_finite()) {
        let told = |(t, w): (f64, f64)| (t, units.of(Measure::Power, w / 1e3));
        out.push(strip(
            format!("heat input, {}", units.symbol(Measure::Power)),
            over_time(trace.step_s, &trace.heat_w).map(told).collect(),
            false,
        ));
    }
    out
}

/// A sensor's step and a reading that it has, as they are printed: whole degrees Celsius lie 1.8 °F apart, from 32 °F
/// on.
fn printed_steps(step: Option<f64>, measure: Measure, units: Units) -> (f64, f64) {
    let zero = units.of(measure, 0.0);
    // Off by less than a reading is printed with.
    let round = |v: f64| (v * 1e4).round() / 1e4;
    let printed = step.map_or(0.0, |step| units.of(measure, step) - zero);
    (round(printed), round(zero))
}

fn lane(
    sheet: &Sheet<'_>,
    panel: &Panel<'_, '_>,
    trace: &Trace,
    regime: Regime,
    ink: Ink,
) -> Drawn {
    sheet.text(
        (LEFT, panel.top - 8.0),
        Anchor::Start,
        Ink::Text,
        regime.label(),
    )?;
    sheet.line(
        (panel.left, panel.bottom),
        (panel.right, panel.bottom),
        Ink::Grid,
    )?;
    for (first, end, _) in runs(&trace.regime).filter(|run| run.2 == regime) {
        let from = panel.across(first as f64 * trace.step_s / 60.0);
        let to = panel
            .across(end as f64 * trace.step_s / 60.0)
            .max(from + 0.5);
        sheet.fill((from, panel.top), (to, panel.bottom), ink)?;
    }
    Ok(())
}

/// Light shades behind the lines: what the conductance was told from, and where the car stood.
fn shade(panel: &Panel<'_, '_>, trace: &Trace) -> Drawn {
    stints(panel, trace)?;
    for (first, end, regime) in runs(&trace.regime) {
        if matches!(regime, Regime::Standing | Regime::Soak) {
            let minutes = |step: usize| step as f64 * trace.step_s / 60.0;
            panel.shade(minutes(first)..minutes(end), Ink::Zone)?;
        }
    }
    Ok(())
}

/// Runs of one regime: first step, one past the last, regime.
fn runs(regimes: &[Regime]) -> impl Iterator<Item = (usize, usize, Regime)> + '_ {
    let mut start = 0;
    regimes.chunk_by(|a, b| a == b).map(move |run| {
        let first = start;
        start += run.len();
        (first, start, run[0])
    })
}

impl Strip {
    fn scale(&self) -> std::ops::Range<f64> {
        let values = self
            .lines
            .iter()
            .flat_map(|(line, _)| line.iter().map(|p| p.1));
        if self.zero {
            let most = values
                .filter(|v| v.is_finite())
                .fold(1.0, |most: f64, v| most.max(v.abs()));
            -most * 1.05..most * 1.05
        } else {
            span(values, 0.05)
        }
    }

    fn paint(&self, sheet: &Sheet<'_>, panel: &Panel<'_, '_>, columns: usize, last: bool) -> Drawn {
        panel.axis_x(last)?;
        panel.axis_y()?;
        if self.zero {
            panel.level(0.0, Ink::Zero)?;
        }
        for (points, ink) in &self.lines {
            line(panel, points.iter().copied(), columns, *ink)?;
        }
        let y = panel.top - 9.0;
        sheet.text((LEFT, y), Anchor::Start, Ink::Text, &self.title)?;
        if self.lines.len() > 1 {
            let right = panel.right;
            sheet.line((right - 66.0, y), (right - 46.0, y), Ink::Model)?;
            sheet.text((right, y), Anchor::End, Ink::Text, "model")?;
        }
        Ok(())
    }
}
