//! Settled coolant against ambient, both setups.

use crate::compare::{Curves, SessionRow};
use crate::report::ReportError;
use crate::report::canvas::{Anchor, At, Drawn, Sheet, draw};
use crate::report::chart::Of;
use crate::report::figure::Layout;
use crate::report::ink::Ink;
use crate::report::number;
use crate::report::panel::Panel;
use crate::report::room::{CHARACTER, fitted, span, spread};
use crate::stats::Estimate;

/// How far above everything else a limit may lie and still be drawn, K.
const LIMIT_IN_SIGHT_K: f64 = 25.0;

/// What the chart draws.
pub struct CurveChart<'a> {
    /// The two curves.
    pub curves: &'a Curves,
    /// The sessions used, with the setup each belongs to.
    pub sessions: Vec<(Of, &'a SessionRow)>,
    /// Name of the setup before.
    pub before: &'a str,
    /// Name of the setup after.
    pub after: &'a str,
}

impl CurveChart<'_> {
    /// The limit, if it lies near enough to be drawn.
    pub fn limit_in_sight(&self) -> Option<f64> {
        let highest = self.highs().fold(f64::NEG_INFINITY, f64::max);
        self.curves
            .limit_c
            .filter(|limit| limit - highest < LIMIT_IN_SIGHT_K)
    }

    /// Whether there is any curve to draw.
    pub fn has_curves(&self) -> bool {
        self.known().next().is_some()
    }

    fn sides(&self) -> [(Of, &[Estimate], &str); 2] {
        [
            (Of::Before, &self.curves.before, self.before),
            (Of::After, &self.curves.after, self.after),
        ]
    }

    fn known(&self) -> impl Iterator<Item = &crate::stats::Interval> {
        self.curves
            .before
            .iter()
            .chain(&self.curves.after)
            .filter_map(Estimate::known)
    }

    fn highs(&self) -> impl Iterator<Item = f64> {
        let points = self
            .sessions
            .iter()
            .map(|(_, row)| row.settled_at_own_ambient_c);
        self.known()
            .map(|i| i.high)
            .chain(points)
            .filter(|v| v.is_finite())
    }

    /// The drawing.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn draw(&self, alt: &str, layout: Layout) -> Result<String, ReportError> {
        let top = layout.pick(26.0, 62.0);
        let (left, right) = (44.0, layout.pick(548.0, 344.0));
        let bottom = top + layout.pick(330.0, 270.0);
        draw((layout.width(), bottom + 44.0), alt, |sheet| {
            let ambients = self.curves.ambient_c.iter().copied();
            let own = self.sessions.iter().map(|(_, row)| row.ambient_c);
            let lows = self.known().map(|i| i.low);
            let heights = self.highs().chain(lows).chain(self.limit_in_sight());
            let panel = Panel::on(
                sheet,
                (left, top),
                (right, bottom),
                span(ambients.chain(own), 0.02),
                span(heights, 0.07),
            );
            panel.axis_x(true)?;
            panel.axis_y()?;
            for (of, side, _) in self.sides() {
                self.bands(&panel, of, side)?;
            }
            for (of, side, _) in self.sides() {
                self.lines(&panel, of, side)?;
            }
            self.limit(sheet, &panel)?;
            self.points(sheet, &panel)?;
            self.names(sheet, &panel, layout)?;
            sheet.text((0.0, 8.0), Anchor::Start, Ink::Text, "settled coolant, °C")?;
            let middle = (left + right) / 2.0;
            sheet.text(
                (middle, bottom + 32.0),
                Anchor::Middle,
                Ink::Text,
                "ambient, °C",
            )
        })
    }

    fn bands(&self, panel: &Panel<'_, '_>, of: Of, side: &[Estimate]) -> Drawn {
        for run in runs(&self.curves.ambient_c, side) {
            let upper: Vec<_> = run.iter().map(|(x, i)| (*x, i.high)).collect();
            let lower: Vec<_> = run.iter().map(|(x, i)| (*x, i.low)).collect();
            panel.band(&upper, &lower, of.band())?;
        }
        Ok(())
    }

    fn lines(&self, panel: &Panel<'_, '_>, of: Of, side: &[Estimate]) -> Drawn {
        for run in runs(&self.curves.ambient_c, side) {
            let line: Vec<_> = run.iter().map(|(x, i)| (*x, i.estimate)).collect();
            panel.series(&line, of.ink())?;
        }
        Ok(())
    }

    fn limit(&self, sheet: &Sheet<'_>, panel: &Panel<'_, '_>) -> Drawn {
        let Some(limit) = self.limit_in_sight() else {
            return Ok(());
        };
        panel.level(limit, Ink::Limit)?;
        let (_, height) = panel.at(panel.x.start, limit);
        let text = format!("limit {} °C", number::fixed(limit, 0));
        sheet.text(
            (panel.left + 8.0, height - 9.0),
            Anchor::Start,
            Ink::Limit,
            &text,
        )
    }

    fn points(&self, sheet: &Sheet<'_>, panel: &Panel<'_, '_>) -> Drawn {
        let places: Vec<(Of, &str, At)> = self
            .sessions
            .iter()
            .filter(|(_, r)| r.ambient_c.is_finite() && r.settled_at_own_ambient_c.is_finite())
            .map(|(of, r)| {
                (
                    *of,
                    r.id.as_str(),
                    panel.at(r.ambient_c, r.settled_at_own_ambient_c),
                )
            })
            .collect();
        for (of, _, at) in &places {
            sheet.mark(*at, of.marker(), of.ink())?;
        }
        let mut taken: Vec<Space> = places.iter().map(|(_, _, at)| Space::around(*at)).collect();
        for (_, id, at) in &places {
            let width = id.chars().count() as f64 * CHARACTER;
            let choices = [
                (10.0, 0.0),
                (-10.0 - width, 0.0),
                (-width / 2.0, -15.0),
                (-width / 2.0, 15.0),
            ];
            let free = choices
                .into_iter()
                .map(|(dx, dy)| (at.0 + dx, at.1 + dy))
                .find(|start| {
                    let space = Space::of_text(*start, width);
                    space.inside(panel) && !taken.iter().any(|t| t.meets(&space))
                });
            if let Some(start) = free {
                taken.push(Space::of_text(start, width));
                sheet.text(start, Anchor::Start, Ink::Muted, id)?;
            }
        }
        Ok(())
    }

    fn names(&self, sheet: &Sheet<'_>, panel: &Panel<'_, '_>, layout: Layout) -> Drawn {
        let wanted: Vec<f64> = self
            .sides()
            .iter()
            .map(|(_, side, _)| {
                let last = side.iter().rev().find_map(Estimate::point);
                last.map_or(panel.top, |y| panel.at(panel.x.end, y).1)
            })
            .collect();
        let heights = match layout {
            Layout::Wide => spread(&wanted, 42.0, panel.top + 6.0..panel.bottom - 24.0),
            Layout::Narrow => vec![panel.top - 34.0, panel.top - 16.0],
        };
        let start = layout.pick(panel.right + 10.0, 0.0);
        for ((of, _, name), y) in self.sides().into_iter().zip(heights) {
            sheet.line((start, y), (start + 30.0, y), of.ink())?;
            sheet.mark((start + 15.0, y), of.marker(), of.ink())?;
            let role = match of {
                Of::Before => "before",
                Of::After => "after",
            };
            let after_key = start + 38.0;
            match layout {
                Layout::Wide => {
                    sheet.text((after_key, y), Anchor::Start, Ink::Strong, role)?;
                    let name = fitted(name, layout.width() - start);
                    sheet.text((start, y + 17.0), Anchor::Start, Ink::Text, &name)?;
                }
                Layout::Narrow => {
                    let text = fitted(&format!("{role}: {name}"), layout.width() - after_key);
                    sheet.text((after_key, y), Anchor::Start, Ink::Text, &text)?;
                }
            }
        }
        Ok(())
    }
}

/// Stretches of a side that are known throughout.
fn runs<'a>(x: &[f64], side: &'a [Estimate]) -> Vec<Vec<(f64, &'a crate::stats::Interval)>> {
    let mut out = vec![Vec::new()];
    for (x, value) in x.iter().zip(side) {
        match value.known() {
            Some(interval) => {
                let last = out.len() - 1;
                out[last].push((*x, interval));
            }
            None => out.push(Vec::new()),
        }
    }
    out.retain(|run| run.len() > 1);
    out
}

/// A rectangle that no label may cover.
struct Space {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

impl Space {
    fn around(at: At) -> Self {
        Self {
            left: at.0 - 7.0,
            right: at.0 + 7.0,
            top: at.1 - 7.0,
            bottom: at.1 + 7.0,
        }
    }

    fn of_text(start: At, width: f64) -> Self {
        Self {
            left: start.0,
            right: start.0 + width,
            top: start.1 - 7.0,
            bottom: start.1 + 7.0,
        }
    }

    fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    fn inside(&self, panel: &Panel<'_, '_>) -> bool {
        self.left >= panel.left
            && self.right <= panel.right
            && self.top >= panel.top
            && self.bottom <= panel.bottom
    }
}
