//! A sheet to draw on, in CSS pixels, and panels with axes upon it.

use std::ops::Range;

use plotters::coord::Shift;
use plotters::coord::ranged1d::{BoldPoints, Ranged};
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::ReportError;
use super::ink::{Ink, restyle};
use super::number;

/// Whether a mark could be drawn.
pub type Drawn = Result<(), ReportError>;

/// Drawing units in a CSS pixel: the drawing library knows whole units only.
const UNITS: f64 = 2.0;

/// Width of a character of chart text, CSS pixels, on the wide side.
pub const CHARACTER: f64 = 6.9;

/// A place on the sheet, CSS pixels from its upper left corner.
pub type At = (f64, f64);

/// Which end of a text its place names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// It starts there.
    Start,
    /// Its middle is there.
    Middle,
    /// It ends there.
    End,
}

/// The shape of a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Marker {
    /// A disc.
    Disc,
    /// A square standing on a corner.
    Diamond,
    /// An upright bar.
    Bar,
}

/// A sheet of a given size.
pub struct Sheet<'a> {
    root: DrawingArea<SVGBackend<'a>, Shift>,
}

/// A panel: a rectangle of the sheet with a scale in x and in y.
pub struct Panel<'a, 's> {
    sheet: &'s Sheet<'a>,
    area: DrawingArea<SVGBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>,
    /// Left edge, CSS pixels.
    pub left: f64,
    /// Right edge.
    pub right: f64,
    /// Upper edge.
    pub top: f64,
    /// Lower edge.
    pub bottom: f64,
    /// What the width stands for.
    pub x: Range<f64>,
    /// What the height stands for.
    pub y: Range<f64>,
}

/// Draws a chart; `alt` says what it shows to those who cannot see it.
///
/// # Errors
/// A drawing that failed.
pub fn draw(
    size: (f64, f64),
    alt: &str,
    paint: impl FnOnce(&Sheet<'_>) -> Drawn,
) -> Result<String, ReportError> {
    let mut svg = String::new();
    {
        let units = (units(size.0).unsigned_abs(), units(size.1).unsigned_abs());
        let sheet = Sheet {
            root: SVGBackend::with_string(&mut svg, units).into_drawing_area(),
        };
        paint(&sheet)?;
        sheet.root.present()?;
    }
    Ok(restyle(&svg, alt))
}

fn units(pixels: f64) -> i32 {
    (pixels * UNITS).round() as i32
}

fn place(at: At) -> (i32, i32) {
    (units(at.0), units(at.1))
}

impl<'a> Sheet<'a> {
    /// A text whose middle line is at that height.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn text(&self, at: At, anchor: Anchor, ink: Ink, text: &str) -> Drawn {
        let horizontal = match anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        let colour = ink.placeholder();
        let style = TextStyle::from(("sans-serif", 12).into_font())
            .color(&colour)
            .pos(Pos::new(horizontal, VPos::Center));
        Ok(self
            .root
            .draw(&Text::new(text.to_owned(), place(at), style))?)
    }

    /// A straight line.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn line(&self, from: At, to: At, ink: Ink) -> Drawn {
        let points = vec![place(from), place(to)];
        Ok(self
            .root
            .draw(&PathElement::new(points, ink.placeholder().stroke_width(1)))?)
    }

    /// A filled rectangle between two corners.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn fill(&self, from: At, to: At, ink: Ink) -> Drawn {
        let corners = [place(from), place(to)];
        Ok(self
            .root
            .draw(&Rectangle::new(corners, ink.placeholder().filled()))?)
    }

    /// A point.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn mark(&self, at: At, marker: Marker, ink: Ink) -> Drawn {
        let style = ink.placeholder().filled();
        let (x, y) = place(at);
        match marker {
            Marker::Disc => Ok(self.root.draw(&Circle::new((x, y), units(4.5), style))?),
            Marker::Diamond => {
                let r = units(5.8);
                let corners = vec![(x, y - r), (x + r, y), (x, y + r), (x - r, y)];
                Ok(self.root.draw(&Polygon::new(corners, style))?)
            }
            Marker::Bar => self.fill((at.0 - 1.5, at.1 - 7.0), (at.0 + 1.5, at.1 + 7.0), ink),
        }
    }

    /// An interval across: a line with a foot at each end and a point on it.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn whisker(&self, low: f64, high: f64, at: At, marker: Marker, ink: Ink) -> Drawn {
        self.line((low, at.1), (high, at.1), ink)?;
        for end in [low, high] {
            self.line((end, at.1 - 4.0), (end, at.1 + 4.0), ink)?;
        }
        self.mark(at, marker, ink)
    }

    /// A panel between two corners.
    pub fn panel<'s>(
        &'s self,
        upper_left: At,
        lower_right: At,
        x: Range<f64>,
        y: Range<f64>,
    ) -> Panel<'a, 's> {
        let (x, y) = (wide_enough(x), wide_enough(y));
        let (left, top) = upper_left;
        let (right, bottom) = lower_right;
        let across = units(left)..units(right);
        let upward = units(bottom)..units(top);
        let spec = Cartesian2d::new(x.clone(), y.clone(), (across, upward));
        Panel {
            sheet: self,
            area: self.root.apply_coord_spec(spec),
            left,
            right,
            top,
            bottom,
            x,
            y,
        }
    }
}

impl Panel<'_, '_> {
    /// Where a point lies, CSS pixels.
    pub fn at(&self, x: f64, y: f64) -> At {
        let (x, y) = self.area.map_coordinate(&(x, y));
        (f64::from(x) / UNITS, f64::from(y) / UNITS)
    }

    /// Where `x` lies across the sheet, held within the panel.
    pub fn across(&self, x: f64) -> f64 {
        self.at(x, self.y.start).0.clamp(self.left, self.right)
    }

    /// A line through points.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn series(&self, points: &[(f64, f64)], ink: Ink) -> Drawn {
        if let [only] = points {
            return self.sheet.mark(self.at(only.0, only.1), Marker::Bar, ink);
        }
        let style = ink.placeholder().stroke_width(1);
        Ok(self.area.draw(&PathElement::new(points.to_vec(), style))?)
    }

    /// A filled shape: the upper side from left to right, and the lower side back.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn band(&self, upper: &[(f64, f64)], lower: &[(f64, f64)], ink: Ink) -> Drawn {
        let outline: Vec<(f64, f64)> = upper.iter().chain(lower.iter().rev()).copied().collect();
        Ok(self
            .area
            .draw(&Polygon::new(outline, ink.placeholder().filled()))?)
    }

    /// A shaded stretch of x over the full height.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn shade(&self, x: Range<f64>, ink: Ink) -> Drawn {
        self.sheet.fill(
            (self.across(x.start), self.top),
            (self.across(x.end), self.bottom),
            ink,
        )
    }

    /// An upright line over the full height.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn upright(&self, x: f64, ink: Ink) -> Drawn {
        let across = self.across(x);
        self.sheet
            .line((across, self.top), (across, self.bottom), ink)
    }

    /// A level line over the full width.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn level(&self, y: f64, ink: Ink) -> Drawn {
        let height = self.at(self.x.start, y).1;
        self.sheet
            .line((self.left, height), (self.right, height), ink)
    }

    /// Grid lines and figures along x, and the axis itself.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn axis_x(&self, with_figures: bool) -> Drawn {
        let figures = ticks(&self.x, ((self.right - self.left) / 64.0) as usize);
        for (value, text) in figures {
            let (across, _) = self.at(value, self.y.start);
            self.sheet
                .line((across, self.top), (across, self.bottom), Ink::Grid)?;
            if with_figures {
                self.sheet.text(
                    (across, self.bottom + 12.0),
                    Anchor::Middle,
                    Ink::Muted,
                    &text,
                )?;
            }
        }
        self.sheet.line(
            (self.left, self.bottom),
            (self.right, self.bottom),
            Ink::Axis,
        )
    }

    /// Grid lines and figures along y.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn axis_y(&self) -> Drawn {
        let most = ((self.bottom - self.top) / 24.0) as usize;
        for (value, text) in ticks(&self.y, most.clamp(3, 10)) {
            let (_, height) = self.at(self.x.start, value);
            self.sheet
                .line((self.left, height), (self.right, height), Ink::Grid)?;
            self.sheet
                .text((self.left - 6.0, height), Anchor::End, Ink::Muted, &text)?;
        }
        Ok(())
    }
}

/// Round figures along a scale, some `most` of them at most, each with the decimals it needs.
fn ticks(range: &Range<f64>, most: usize) -> Vec<(f64, String)> {
    let scale = RangedCoordf64::from(range.clone());
    let mut values = scale.key_points(BoldPoints(most.max(2)));
    if values.len() < 3 {
        // The library goes down in steps of 2 and 5; one or two figures do not make a scale.
        values = scale.key_points(BoldPoints(most.max(2) + 2));
    }
    let step = values
        .windows(2)
        .map(|w| w[1] - w[0])
        .fold(f64::INFINITY, f64::min);
    let decimals = if step.is_finite() {
        (-step.log10() - 1e-9).ceil().clamp(0.0, 4.0)
    } else {
        1.0
    };
    values
        .into_iter()
        .filter(|v| range.contains(v) || *v == range.end)
        .map(|v| (v, number::fixed(v, decimals as usize)))
        .collect()
}

/// A range that is finite, rises, and has room.
fn wide_enough(range: Range<f64>) -> Range<f64> {
    if !(range.start.is_finite() && range.end.is_finite()) {
        0.0..1.0
    } else if range.end - range.start < 1e-6 {
        range.start - 0.5..range.start + 0.5
    } else {
        range
    }
}

/// From the least to the greatest of some values with a share of room on both sides.
/// Without any value: 0 to 1.
pub fn span(values: impl Iterator<Item = f64>, room: f64) -> Range<f64> {
    let (low, high) = values
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(v), h.max(v))
        });
    if low > high {
        return 0.0..1.0;
    }
    let margin = ((high - low) * room).max(0.05);
    low - margin..high + margin
}

/// Heights for labels that want to be at `wanted`, pushed apart to `gap` and kept within bounds.
pub fn spread(wanted: &[f64], gap: f64, bounds: Range<f64>) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]).then(a.cmp(&b)));
    let mut out = wanted.to_vec();
    let mut floor = bounds.start;
    for &i in &order {
        out[i] = out[i].max(floor);
        floor = out[i] + gap;
    }
    let mut ceiling = bounds.end;
    for &i in order.iter().rev() {
        out[i] = out[i].min(ceiling);
        ceiling = out[i] - gap;
    }
    out
}

/// A text cut to fit a width, CSS pixels, with an ellipsis where it was cut.
pub fn fitted(text: &str, width: f64) -> String {
    let most = (width / CHARACTER).floor().max(2.0) as usize;
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(most - 1).collect();
    short.truncate(short.trim_end().len());
    short.push('…');
    short
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_are_pushed_apart_and_stay_on_the_sheet() {
        let spread = spread(&[50.0, 51.0, 98.0], 14.0, 0.0..100.0);
        assert_eq!(spread, [50.0, 64.0, 98.0]);
        let low = super::spread(&[99.0, 100.0], 14.0, 0.0..100.0);
        assert_eq!(low, [86.0, 100.0]);
    }

    #[test]
    fn ticks_are_round_and_have_the_decimals_they_need() {
        let texts: Vec<String> = ticks(&(-1.0..1.0), 5).into_iter().map(|t| t.1).collect();
        assert!(
            texts.contains(&"0.0".to_owned()) && texts.len() <= 5,
            "{texts:?}"
        );
        let texts: Vec<String> = ticks(&(80.0..120.0), 5).into_iter().map(|t| t.1).collect();
        assert!(texts.contains(&"100".to_owned()), "{texts:?}");
    }

    #[test]
    fn a_long_text_is_cut_with_an_ellipsis() {
        assert_eq!(fitted("short", 100.0), "short");
        assert_eq!(fitted("a rather long setup name", 69.0), "a rather…");
    }

    #[test]
    fn spans_of_nothing_are_drawable() {
        assert_eq!(span([f64::NAN].into_iter(), 0.1), 0.0..1.0);
        assert_eq!(wide_enough(f64::NAN..1.0), 0.0..1.0);
    }
}
