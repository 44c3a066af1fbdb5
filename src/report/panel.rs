//! Panels: rectangles of a sheet with scales, and what is drawn on them.

use std::ops::Range;

use plotters::coord::ranged1d::{BoldPoints, Ranged};
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;

use super::canvas::{Anchor, At, Drawn, Marker, Sheet, UNITS, units};
use super::ink::Ink;
use super::number;
use super::room::wide_enough;

/// A panel: a rectangle of the sheet with a scale in x and in y.
pub struct Panel<'a, 's> {
    /// The sheet it lies on.
    pub(super) sheet: &'s Sheet<'a>,
    /// Its scales.
    pub(super) area: DrawingArea<SVGBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>,
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

impl<'a, 's> Panel<'a, 's> {
    /// A panel of a sheet, between two corners.
    pub fn on(
        sheet: &'s Sheet<'a>,
        upper_left: At,
        lower_right: At,
        x: Range<f64>,
        y: Range<f64>,
    ) -> Self {
        let (x, y) = (wide_enough(x), wide_enough(y));
        let (left, top) = upper_left;
        let (right, bottom) = lower_right;
        let across = units(left)..units(right);
        let upward = units(bottom)..units(top);
        let spec = Cartesian2d::new(x.clone(), y.clone(), (across, upward));
        Self {
            sheet,
            area: sheet.root.apply_coord_spec(spec),
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

#[cfg(test)]
mod tests {
    use super::*;

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
}
