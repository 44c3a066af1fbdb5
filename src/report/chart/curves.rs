//! Coolant against ambient: curves with their bands, sessions as points.

use std::ops::Range;

use crate::quantity::{Measure, Units};
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

/// How far beyond the sessions' own ambients the curves are drawn, K.
const BEYOND_K: f64 = 3.0;

/// What the chart draws.
pub struct CurveChart<'a> {
    /// What stands upright, without its unit.
    pub what: &'a str,
    /// Ambient of the curves' values, °C, rising.
    pub ambient_c: &'a [f64],
    /// The curves.
    pub sides: Vec<Curve<'a>>,
    /// The sessions.
    pub sessions: Vec<Dot<'a>>,
    /// Ambient to be marked, °C, and the word for it.
    pub marked: Option<(f64, &'a str)>,
    /// The limit, °C.
    pub limit_c: Option<f64>,
    /// The units it is drawn in.
    pub units: Units,
}

/// What a chart spans, and in whose colours it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    ambient_c: Range<f64>,
    coolant_c: Range<f64>,
    /// Whether each chart has a setup by itself, which then is neither side of a comparison.
    alone: bool,
}

impl Frame {
    fn ink(&self, of: Of) -> Ink {
        if self.alone { Ink::Alone } else { of.ink() }
    }

    fn band(&self, of: Of) -> Ink {
        match self.alone {
            true => Ink::AloneBand,
            false => of.band(),
        }
    }
}

/// A curve with its name.
pub struct Curve<'a> {
    /// How it looks.
    pub of: Of,
    /// Its value at each ambient, °C.
    pub values: &'a [Estimate],
    /// What it is in a word: before, after.
    pub role: &'a str,
    /// Name of its setup.
    pub name: &'a str,
}

/// A session.
pub struct Dot<'a> {
    /// How it looks.
    pub of: Of,
    /// Its id.
    pub id: &'a str,
    /// Its ambient, °C.
    pub ambient_c: f64,
    /// Its coolant, °C.
    pub coolant_c: f64,
}

impl CurveChart<'_> {
    /// The limit, if it lies near enough to be drawn.
    pub fn limit_in_sight(&self) -> Option<f64> {
        self.limit_over(&self.ambients())
    }

    fn limit_over(&self, ambients: &Range<f64>) -> Option<f64> {
        let highest = self.highs(ambients).fold(f64::NEG_INFINITY, f64::max);
        self.limit_c
            .filter(|limit| limit - highest < LIMIT_IN_SIGHT_K)
    }

    /// The frame that all of these charts fit in, each of a setup by itself.
    pub fn shared_frame(charts: &[Self]) -> Frame {
        let ambients = charts.iter().map(Self::ambients);
        let ambient_c = hull(ambients);
        let heights = charts.iter().map(|chart| chart.heights(&ambient_c));
        Frame {
            coolant_c: hull(heights),
            ambient_c,
            alone: true,
        }
    }

    /// The temperatures drawn over these ambients, °C.
    fn heights(&self, ambients: &Range<f64>) -> Range<f64> {
        let lows = self.drawn(ambients).map(|point| point.low);
        let all = self.highs(ambients).chain(lows);
        hull(all.chain(self.limit_over(ambients)).map(|c| c..c))
    }

    /// The ambients drawn: those driven in and the one the change is told at, and a little more.
    fn ambients(&self) -> Range<f64> {
        let own = self.sessions.iter().map(|dot| dot.ambient_c);
        let driven = span(own.chain(self.marked.map(|(c, _)| c)), 0.0);
        let known = span(self.ambient_c.iter().copied(), 0.0);
        (driven.start - BEYOND_K).max(known.start)..(driven.end + BEYOND_K).min(known.end)
    }

    /// A temperature in the units it is drawn in.
    fn printed_c(&self, inside_c: f64) -> f64 {
        self.units.of(Measure::Temperature, inside_c)
    }

    fn told(&self, range: Range<f64>) -> Range<f64> {
        self.printed_c(range.start)..self.printed_c(range.end)
    }

    /// A point of ambient and coolant in the units it is drawn in.
    fn place(&self, ambient_c: f64, coolant_c: f64) -> (f64, f64) {
        (self.printed_c(ambient_c), self.printed_c(coolant_c))
    }

    /// The stretches of a side that are known, as far as the ambients drawn.
    fn runs(&self, side: &[Estimate], ambients: &Range<f64>) -> Vec<Vec<Point>> {
        runs(self.ambient_c, side)
            .iter()
            .map(|run| cut(run, ambients))
            .filter(|run| run.len() > 1)
            .collect()
    }

    /// Whether there is any curve to draw.
    pub fn has_curves(&self) -> bool {
        self.drawn(&self.ambients()).next().is_some()
    }

    fn drawn(&self, ambients: &Range<f64>) -> impl Iterator<Item = Point> {
        (self.sides.iter())
            .flat_map(|side| self.runs(side.values, ambients))
            .flatten()
    }

    fn highs(&self, ambients: &Range<f64>) -> impl Iterator<Item = f64> {
        let points = self.sessions.iter().map(|dot| dot.coolant_c);
        self.drawn(ambients)
            .map(|point| point.high)
            .chain(points)
            .filter(|v| v.is_finite())
    }

    /// The drawing.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn draw(&self, alt: &str, layout: Layout) -> Result<String, ReportError> {
        let ambient_c = self.ambients();
        let coolant_c = self.heights(&ambient_c);
        let own = Frame {
            ambient_c,
            coolant_c,
            alone: false,
        };
        self.draw_in(&own, alt, layout)
    }

    /// The drawing in a frame that it shares with others.
    ///
    /// # Errors
    /// As [`CurveChart::draw`].
    pub fn draw_in(&self, frame: &Frame, alt: &str, layout: Layout) -> Result<String, ReportError> {
        let over = &frame.ambient_c;
        let top = layout.pick(26.0, 62.0);
        let (left, right) = (44.0, layout.pick(548.0, 344.0));
        let bottom = top + layout.pick(330.0, 270.0);
        draw((layout.width(), bottom + 44.0), alt, |sheet| {
            let heights = [frame.coolant_c.start, frame.coolant_c.end];
            let panel = Panel::on(
                sheet,
                (left, top),
                (right, bottom),
                self.told(over.clone()),
                span(heights.into_iter().map(|c| self.printed_c(c)), 0.07),
            );
            panel.axis_x(true)?;
            panel.axis_y()?;
            self.mark(sheet, &panel)?;
            for side in &self.sides {
                self.bands(&panel, side, frame)?;
            }
            for side in &self.sides {
                self.lines(&panel, side, frame)?;
            }
            self.limit(sheet, &panel, over)?;
            self.points(sheet, &panel, frame)?;
            self.names(sheet, &panel, layout, frame)?;
            let celsius = self.units.symbol(Measure::Temperature);
            let upright = format!("{}, {celsius}", self.what);
            sheet.text((0.0, 8.0), Anchor::Start, Ink::Text, &upright)?;
            let middle = (left + right) / 2.0;
            sheet.text(
                (middle, bottom + 32.0),
                Anchor::Middle,
                Ink::Text,
                &format!("ambient, {celsius}"),
            )
        })
    }

    /// The ambient that is marked.
    fn mark(&self, sheet: &Sheet<'_>, panel: &Panel<'_, '_>) -> Drawn {
        let Some((ambient_c, word)) = self.marked else {
            return Ok(());
        };
        let at = self.printed_c(ambient_c);
        panel.upright(at, Ink::Axis)?;
        let value = number::told(self.units, Measure::Temperature, ambient_c, 1);
        let text = format!("{word} {value}");
        let half = text.chars().count() as f64 * CHARACTER / 2.0;
        let across = panel.across(at);
        let middle = across.clamp(panel.left + half, panel.right - half);
        let height = panel.bottom - 10.0;
        sheet.text((middle, height), Anchor::Middle, Ink::Muted, &text)
    }

    fn bands(&self, panel: &Panel<'_, '_>, side: &Curve<'_>, frame: &Frame) -> Drawn {
        for run in self.runs(side.values, &frame.ambient_c) {
            let upper: Vec<_> = run.iter().map(|p| self.place(p.x, p.high)).collect();
            let lower: Vec<_> = run.iter().map(|p| self.place(p.x, p.low)).collect();
            panel.band(&upper, &lower, frame.band(side.of))?;
        }
        Ok(())
    }

    fn lines(&self, panel: &Panel<'_, '_>, side: &Curve<'_>, frame: &Frame) -> Drawn {
        for run in self.runs(side.values, &frame.ambient_c) {
            let line: Vec<_> = run.iter().map(|p| self.place(p.x, p.estimate)).collect();
            panel.series(&line, frame.ink(side.of))?;
        }
        Ok(())
    }

    fn limit(&self, sheet: &Sheet<'_>, panel: &Panel<'_, '_>, over: &Range<f64>) -> Drawn {
        let Some(limit) = self.limit_over(over) else {
            return Ok(());
        };
        let at = self.printed_c(limit);
        panel.level(at, Ink::Limit)?;
        let (_, height) = panel.at(panel.x.start, at);
        let value = number::told(self.units, Measure::Temperature, limit, 0);
        let text = format!("limit {value}");
        sheet.text(
            (panel.left + 8.0, height - 9.0),
            Anchor::Start,
            Ink::Limit,
            &text,
        )
    }

    fn points(&self, sheet: &Sheet<'_>, panel: &Panel<'_, '_>, frame: &Frame) -> Drawn {
        let places: Vec<(Of, &str, At)> = self
            .sessions
            .iter()
            .filter(|dot| dot.ambient_c.is_finite() && dot.coolant_c.is_finite())
            .map(|dot| {
                let (x, y) = self.place(dot.ambient_c, dot.coolant_c);
                (dot.of, dot.id, panel.at(x, y))
            })
            .collect();
        for (of, _, at) in &places {
            sheet.mark(*at, of.marker(), frame.ink(*of))?;
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

    fn names(
        &self,
        sheet: &Sheet<'_>,
        panel: &Panel<'_, '_>,
        layout: Layout,
        frame: &Frame,
    ) -> Drawn {
        let wanted: Vec<f64> = self
            .sides
            .iter()
            .map(|side| {
                let last = self
                    .runs(side.values, &frame.ambient_c)
                    .last()
                    .and_then(|run| run.last().copied());
                last.map_or(panel.top, |point| {
                    panel.at(panel.x.end, self.printed_c(point.estimate)).1
                })
            })
            .collect();
        let heights = match layout {
            Layout::Wide => spread(&wanted, 42.0, panel.top + 6.0..panel.bottom - 24.0),
            Layout::Narrow => vec![panel.top - 34.0, panel.top - 16.0],
        };
        let start = layout.pick(panel.right + 10.0, 0.0);
        for (side, y) in self.sides.iter().zip(heights) {
            let Curve { of, role, name, .. } = side;
            sheet.line((start, y), (start + 30.0, y), frame.ink(*of))?;
            sheet.mark((start + 15.0, y), of.marker(), frame.ink(*of))?;
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

/// From the least to the greatest of some ranges.
fn hull(ranges: impl Iterator<Item = Range<f64>>) -> Range<f64> {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for range in ranges {
        (low, high) = (low.min(range.start), high.max(range.end));
    }
    low..high
}

/// A curve at one ambient.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Point {
    x: f64,
    estimate: f64,
    low: f64,
    high: f64,
}

impl Point {
    /// The place on the straight line from here to `other`.
    fn toward(&self, other: &Self, x: f64) -> Self {
        let share = (x - self.x) / (other.x - self.x);
        let between = |a: f64, b: f64| a + share * (b - a);
        Self {
            x,
            estimate: between(self.estimate, other.estimate),
            low: between(self.low, other.low),
            high: between(self.high, other.high),
        }
    }
}

/// Stretches of a side that are known throughout.
fn runs(x: &[f64], side: &[Estimate]) -> Vec<Vec<Point>> {
    let mut out = vec![Vec::new()];
    for (&x, value) in x.iter().zip(side) {
        match value.known() {
            Some(i) => {
                let last = out.len() - 1;
                out[last].push(Point {
                    x,
                    estimate: i.estimate,
                    low: i.low,
                    high: i.high,
                });
            }
            None => out.push(Vec::new()),
        }
    }
    out
}

/// A stretch cut off at both ends of a range.
fn cut(run: &[Point], range: &Range<f64>) -> Vec<Point> {
    let mut out: Vec<Point> = Vec::new();
    for pair in run.windows(2) {
        let (from, to) = (pair[0].x.max(range.start), pair[1].x.min(range.end));
        if from >= to {
            continue;
        }
        let ends = [from, to].map(|x| pair[0].toward(&pair[1], x));
        if out.last() != Some(&ends[0]) {
            out.push(ends[0]);
        }
        out.push(ends[1]);
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_is_cut_at_the_ambients_drawn() {
        let point = |x: f64| Point {
            x,
            estimate: 2.0 * x,
            low: x,
            high: 3.0 * x,
        };
        let run: Vec<Point> = [0.0, 5.0, 10.0, 15.0].map(point).to_vec();
        let drawn = cut(&run, &(4.0..11.0));
        let x: Vec<f64> = drawn.iter().map(|p| p.x).collect();
        assert_eq!(x, [4.0, 5.0, 10.0, 11.0]);
        assert!(drawn.iter().all(|p| (p.estimate - 2.0 * p.x).abs() < 1e-12));
        assert!(cut(&run, &(20.0..30.0)).is_empty());
    }
}
