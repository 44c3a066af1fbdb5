//! A sheet to draw on, in CSS pixels.

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::ReportError;
use super::ink::{Ink, restyle};

/// Whether a mark could be drawn.
pub type Drawn = Result<(), ReportError>;

/// Drawing units in a CSS pixel: the drawing library knows whole units only.
pub const UNITS: f64 = 2.0;

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
    pub(super) root: DrawingArea<SVGBackend<'a>, Shift>,
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

pub(super) fn units(pixels: f64) -> i32 {
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
}
