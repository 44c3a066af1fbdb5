//! The charts of a session on the page of sessions.

use super::evidence::residual_words;
use crate::quantity::Units;
use crate::report::chart::channels::{channels, values};
use crate::report::chart::whiteness::whiteness;
use crate::report::figure::{Figure, Layout, Zoom};
use crate::report::{ReportError, SessionPart};
use crate::session::Role;

/// How the charts of all sessions are read.
const CHARTS: &str = "The bars at the top say when the car was doing what. Below them the channels, \
    all on the same time axis. The tinted stretches are the hot running that the conductance was \
    told from; the grey ones are standing and soaking. In the coolant panel the dashed line is the \
    model; where it leaves the solid line for long, do not trust it. The surprises below are each \
    reading minus its forecast from all before it, in standard deviations of that forecast: nearly \
    all should lie within two. The heat input is what the model makes of what the table at the top has \
    under Heat from. A line has the mean of each second, \
    thinned to the lowest and highest in each column of the drawing, so no peak of them is lost. Zoomed, it is drawn \
    from all seconds; on a page of many long sessions from as many as it has room for.";

/// How the bars of all sessions are read.
const BARS: &str = "If the model holds, the surprises are independent, and 95 % of the bars end within \
    the shade. Bars that leave it mean that the model misses something that lasts so long; the \
    interval of the conductance is widened by what they add up to.";

fn explained(explains: bool, text: &str) -> String {
    if explains {
        text.to_owned()
    } else {
        String::new()
    }
}

/// What was logged and what the car was doing. `most`: columns of the drawing's lines.
///
/// # Errors
/// A drawing that failed.
pub fn channels_figure(
    part: &SessionPart<'_>,
    explains: bool,
    most: usize,
    units: Units,
) -> Result<Option<Figure>, ReportError> {
    let label = part.meta.label();
    let alt = format!(
        "{label}: what the car was doing, then coolant, heat input, ambient, intake, speed and engine \
         speed where known, over time. {}",
        residual_words(part, units)
    );
    let step = |role: Role| part.meta.channels.get(&role)?.resolution;
    let draw = |layout: Layout| {
        let columns = layout.pick(most, (most / 2).clamp(24, 300));
        channels(
            part.grid,
            &part.fit.trace,
            &step,
            columns,
            &alt,
            layout,
            units,
        )
    };
    let (Some(wide), Some(narrow)) = (draw(Layout::Wide)?, draw(Layout::Narrow)?) else {
        return Ok(None);
    };
    Ok(Some(Figure {
        title: "What was logged, and what the car was doing".to_owned(),
        wide: wide.svg,
        narrow: narrow.svg,
        zoom: Some(Zoom {
            scales: [wide.scale, narrow.scale],
            values: String::new(),
        }),
        how_to_read: explained(explains, CHARTS),
    }))
}

/// Gives each chart the values of its lines, as many as fit into `left` bytes of all.
pub fn give_values<'a>(
    charts: impl Iterator<Item = (Option<&'a mut Figure>, &'a SessionPart<'a>)>,
    left: usize,
    units: Units,
) {
    let zooms = charts.filter_map(|(figure, part)| Some((figure?.zoom.as_mut()?, part)));
    let zooms: Vec<_> = zooms.collect();
    let room = left / zooms.len().max(1);
    for (zoom, part) in zooms {
        zoom.values = values(part.grid, &part.fit.trace, units, room);
    }
}

/// Whether the surprises repeat each other. `None`: too few of them.
///
/// # Errors
/// A drawing that failed.
pub fn surprises_figure(
    part: &SessionPart<'_>,
    explains: bool,
    units: Units,
) -> Result<Option<Figure>, ReportError> {
    let alt = format!(
        "{}: autocorrelation of the surprises of the coolant readings over hot running, by lag. {}",
        part.meta.label(),
        residual_words(part, units)
    );
    let Some(found) = part.fit.trace.whiteness() else {
        return Ok(None);
    };
    Ok(Some(Figure {
        title: "Whether the surprises repeat each other".to_owned(),
        wide: whiteness(&found, &alt)?,
        narrow: String::new(),
        zoom: None,
        how_to_read: explained(explains, BARS),
    }))
}
