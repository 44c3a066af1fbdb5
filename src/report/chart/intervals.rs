//! Intervals in rows: effects, sessions, peaks against a limit.

use std::ops::Range;

use crate::quantity::{Measure, Units};
use crate::report::ReportError;
use crate::report::canvas::{Anchor, Drawn, Marker, Sheet, draw};
use crate::report::figure::Layout;
use crate::report::ink::Ink;
use crate::report::panel::Panel;
use crate::report::room::{CHARACTER, fitted, span};
use crate::stats::{Estimate, Interval};

/// One row.
#[derive(Debug, Clone)]
pub struct Row {
    /// A heading above it: the first row of a group.
    pub heading: Option<String>,
    /// What the row is.
    pub label: String,
    /// Its figure in words.
    pub value: String,
    /// The point; `None`: nothing to draw, the value says why.
    pub point: Option<f64>,
    /// The interval around the point, if it has one.
    pub interval: Option<(f64, f64)>,
    /// Shape of the point.
    pub marker: Marker,
    /// Ink of point and interval.
    pub ink: Ink,
    /// A second figure in the same row, drawn with an upright bar.
    pub second: Option<Interval>,
}

impl Row {
    /// A row for an estimate.
    pub fn of(
        label: impl Into<String>,
        value: &Estimate,
        text: String,
        marker: Marker,
        ink: Ink,
    ) -> Self {
        Self {
            heading: None,
            label: label.into(),
            value: text,
            point: value.point(),
            interval: value.known().map(|i| (i.low, i.high)),
            marker,
            ink,
            second: None,
        }
    }
}

impl Row {
    /// The row in the units of its scale.
    fn told(&self, back: &Backdrop) -> Self {
        let told = |v: f64| back.units.of(back.measure, v);
        Self {
            point: self.point.map(told),
            interval: self.interval.map(|(low, high)| (told(low), told(high))),
            second: self.second.as_ref().map(|i| Interval {
                estimate: told(i.estimate),
                low: told(i.low),
                high: told(i.high),
                ..i.clone()
            }),
            ..self.clone()
        }
    }
}

/// What lies behind the rows.
#[derive(Debug, Clone, Default)]
pub struct Backdrop {
    /// What the scale measures, with its unit.
    pub axis: String,
    /// How its figures convert; rows, zones and lines are given in the unit inside.
    pub measure: Measure,
    /// The units it is drawn in.
    pub units: Units,
    /// Shaded stretches with what they mean.
    pub zones: Vec<(Range<f64>, Ink, String)>,
    /// Upright lines with what they mean.
    pub lines: Vec<(f64, Ink, String)>,
}

impl Backdrop {
    /// The same in the units it is drawn in.
    fn told(&self) -> Self {
        let told = |v: f64| self.units.of(self.measure, v);
        let zones = self.zones.iter();
        let lines = self.lines.iter();
        Self {
            zones: zones
                .map(|(zone, ink, text)| (told(zone.start)..told(zone.end), *ink, text.clone()))
                .collect(),
            lines: lines
                .map(|(at, ink, text)| (told(*at), *ink, text.clone()))
                .collect(),
            ..self.clone()
        }
    }
}

struct Measures {
    left: f64,
    right: f64,
    row: f64,
    row_lead: f64,
}

/// What a label takes that has a line of its own.
const LABEL: f64 = 17.0;
const HEADING: f64 = 24.0;
const KEY: f64 = 17.0;
const FOOT: f64 = 42.0;

impl Measures {
    fn of(layout: Layout) -> Self {
        match layout {
            Layout::Wide => Self {
                left: 208.0,
                right: 580.0,
                row: 28.0,
                row_lead: 14.0,
            },
            Layout::Narrow => Self {
                left: 12.0,
                right: 344.0,
                row: 44.0,
                row_lead: 31.0,
            },
        }
    }

    /// Whether the label needs a line of its own above the row's mark and figure.
    fn label_is_long(&self, row: &Row, layout: Layout) -> bool {
        let characters = |text: &str| text.chars().count() as f64 * CHARACTER;
        let room = match layout {
            Layout::Wide => self.left - 14.0,
            Layout::Narrow => layout.width() - characters(&row.value) - 12.0,
        };
        characters(&row.label) > room
    }

    /// Height of a row.
    fn row(&self, row: &Row, layout: Layout) -> f64 {
        let label = if self.label_is_long(row, layout) {
            LABEL
        } else {
            0.0
        };
        self.row + label
    }
}

/// The chart.
///
/// # Errors
/// A drawing that failed.
pub fn intervals(
    rows: &[Row],
    back: &Backdrop,
    alt: &str,
    layout: Layout,
) -> Result<String, ReportError> {
    let measures = Measures::of(layout);
    let rows: Vec<Row> = rows.iter().map(|row| row.told(back)).collect();
    let (rows, back) = (&rows[..], &back.told());
    let keys = back.zones.len() + back.lines.len();
    let top = keys as f64 * KEY + 6.0;
    let headings = rows.iter().filter(|r| r.heading.is_some()).count() as f64;
    let heights = rows.iter().map(|row| measures.row(row, layout));
    let bottom = top + headings * HEADING + heights.sum::<f64>() + 4.0;
    draw((layout.width(), bottom + FOOT), alt, |sheet| {
        let panel = Panel::on(
            sheet,
            (measures.left, top),
            (measures.right, bottom),
            scale(rows, back),
            0.0..1.0,
        );
        backdrop(sheet, &panel, back)?;
        let mut y = top + 2.0;
        for row in rows {
            if let Some(heading) = &row.heading {
                // On a phone the heading lies over the rows' backdrop; on a desk beside it.
                let room = heading.chars().count() as f64 * CHARACTER;
                let room = layout.pick(room, layout.width());
                sheet.fill((0.0, y - 3.0), (room, y + HEADING - 2.0), Ink::Paper)?;
                sheet.text(
                    (0.0, y + HEADING * 0.62),
                    Anchor::Start,
                    Ink::Strong,
                    heading,
                )?;
                y += HEADING;
            }
            let own_line = measures.label_is_long(row, layout);
            let label = if own_line { LABEL } else { 0.0 };
            paint(
                sheet,
                &panel,
                row,
                y + label + measures.row_lead,
                own_line,
                layout,
            )?;
            y += measures.row(row, layout);
        }
        let middle = (measures.left + measures.right) / 2.0;
        let axis = fitted(&back.axis, layout.pick(540.0, 356.0));
        text_within(
            sheet,
            middle,
            bottom + 31.0,
            Ink::Text,
            &axis,
            0.0..layout.width(),
        )
    })
}

fn scale(rows: &[Row], back: &Backdrop) -> Range<f64> {
    let of_rows = rows.iter().flat_map(|r| {
        let second = r.second.as_ref().map(|i| [i.low, i.high]);
        let ends = r.interval.map(|(low, high)| [low, high]);
        r.point
            .into_iter()
            .chain(ends.into_iter().flatten())
            .chain(second.into_iter().flatten())
    });
    let of_zones = back
        .zones
        .iter()
        .flat_map(|(zone, ..)| [zone.start, zone.end]);
    let of_lines = back.lines.iter().map(|line| line.0);
    span(of_rows.chain(of_zones).chain(of_lines), 0.06)
}

fn backdrop(sheet: &Sheet<'_>, panel: &Panel<'_, '_>, back: &Backdrop) -> Drawn {
    for (zone, ink, _) in &back.zones {
        panel.shade(zone.clone(), *ink)?;
    }
    panel.axis_x(true)?;
    for (at, ink, _) in &back.lines {
        panel.upright(*at, *ink)?;
    }
    let zones = back
        .zones
        .iter()
        .map(|(zone, _, text)| ((zone.start + zone.end) / 2.0, text));
    let lines = back.lines.iter().map(|(at, _, text)| (*at, text));
    let bounds = panel.left.min(40.0)..panel.right + 120.0;
    for (i, (at, text)) in zones.chain(lines).enumerate() {
        let y = i as f64 * KEY + 8.0;
        let x = panel.across(at);
        text_within(
            sheet,
            x,
            y,
            Ink::Muted,
            text,
            bounds.start..bounds.end.min(sheet_end(panel)),
        )?;
    }
    Ok(())
}

fn sheet_end(panel: &Panel<'_, '_>) -> f64 {
    if panel.left < 100.0 {
        Layout::Narrow.width()
    } else {
        Layout::Wide.width()
    }
}

fn paint(
    sheet: &Sheet<'_>,
    panel: &Panel<'_, '_>,
    row: &Row,
    y: f64,
    own_line: bool,
    layout: Layout,
) -> Drawn {
    let rise = if own_line { LABEL } else { 0.0 };
    let label = fitted(&row.label, layout.width());
    match layout {
        Layout::Wide => {
            sheet.text((0.0, y - rise), Anchor::Start, Ink::Text, &label)?;
            let value = fitted(&row.value, layout.width() - panel.right - 14.0);
            sheet.text((panel.right + 14.0, y), Anchor::Start, Ink::Text, &value)?;
        }
        Layout::Narrow => {
            let value = fitted(&row.value, layout.width());
            sheet.fill(
                (0.0, y - rise - 33.0),
                (layout.width(), y - 10.0),
                Ink::Paper,
            )?;
            sheet.text((0.0, y - rise - 19.0), Anchor::Start, Ink::Text, &label)?;
            sheet.text((layout.width(), y - 19.0), Anchor::End, Ink::Text, &value)?;
        }
    }
    if let Some(second) = &row.second {
        let at = (panel.across(second.estimate), y);
        let (low, high) = (panel.across(second.low), panel.across(second.high));
        sheet.whisker(low, high, at, Marker::Bar, Ink::Second)?;
    }
    let Some(point) = row.point else {
        return Ok(());
    };
    let at = (panel.across(point), y);
    match row.interval {
        Some((low, high)) => sheet.whisker(
            panel.across(low),
            panel.across(high),
            at,
            row.marker,
            row.ink,
        ),
        None => sheet.mark(at, row.marker, row.ink),
    }
}

/// A text centred at `x` as far as the bounds allow.
fn text_within(
    sheet: &Sheet<'_>,
    x: f64,
    y: f64,
    ink: Ink,
    text: &str,
    bounds: Range<f64>,
) -> Drawn {
    let half = text.chars().count() as f64 * CHARACTER / 2.0;
    let (low, high) = (bounds.start + half, bounds.end - half);
    let middle = if low > high {
        (low + high) / 2.0
    } else {
        x.clamp(low, high)
    };
    sheet.text((middle, y), Anchor::Middle, ink, text)
}
