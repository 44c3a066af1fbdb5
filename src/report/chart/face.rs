//! Temperatures over the face of an exchanger: air entering, fluid, air leaving.

use std::ops::Range;

use crate::quantity::{Measure, Units};
use crate::report::ReportError;
use crate::report::canvas::{Anchor, Drawn, Sheet, draw};
use crate::report::figure::Layout;
use crate::report::ink::Ink;
use crate::report::number;
use crate::report::room::wide_enough;
use crate::stack::Axis;

/// Shades from cold to hot, told apart by lightness, so also without colours.
const SHADES: [Ink; 10] = [
    Ink::Heat0,
    Ink::Heat1,
    Ink::Heat2,
    Ink::Heat3,
    Ink::Heat4,
    Ink::Heat5,
    Ink::Heat6,
    Ink::Heat7,
    Ink::Heat8,
    Ink::Heat9,
];

/// All shades together span at least so many degrees, K.
const LEAST_SPAN_K: f64 = 5.0;

/// Shades below this one want light letters.
const DARK: usize = 5;

/// Distance of hatch lines, CSS pixels.
const HATCH: f64 = 6.0;

/// Places of the written temperatures, as shares of what the exchanger covers.
const LABELS_X: [f64; 3] = [0.13, 0.5, 0.87];
const LABELS_Y: [f64; 2] = [0.25, 0.75];

/// Least width and height of what is covered, CSS pixels, that has room for them.
const LABELLED: (f64, f64) = (150.0, 34.0);

const HEAD: f64 = 20.0;
const KEY: f64 = 40.0;

/// One map.
pub struct FaceMap<'a> {
    /// What it shows.
    pub title: String,
    /// Temperature of each cell, °C, row by row from the top; `None`: not covered.
    pub temp_c: Vec<Option<f64>>,
    /// Ends of its scale.
    pub scale_c: Range<f64>,
    /// Cells to be hatched.
    pub hatched: &'a [bool],
}

/// Maps of one face side by side, on a phone below each other.
pub struct FaceMaps<'a> {
    /// Cells from left to right.
    pub columns: &'a Axis,
    /// Cells from top to bottom.
    pub rows: &'a Axis,
    /// Height of the face over its width.
    pub aspect: f64,
    /// The units of the written temperatures.
    pub units: Units,
    /// The maps.
    pub maps: Vec<FaceMap<'a>>,
}

/// Where one map lies on the sheet.
#[derive(Clone, Copy)]
struct Frame {
    left: f64,
    top: f64,
    width: f64,
    height: f64,
}

impl Frame {
    fn at(&self, x: f64, y: f64) -> (f64, f64) {
        (self.left + x * self.width, self.top + y * self.height)
    }
}

impl FaceMaps<'_> {
    /// The drawing.
    ///
    /// # Errors
    /// A drawing that failed.
    pub fn draw(&self, alt: &str, layout: Layout) -> Result<String, ReportError> {
        let width = layout.pick(236.0, 300.0);
        let height = (width * self.aspect).clamp(90.0, 240.0);
        let step = HEAD + height + KEY;
        let stacked = layout == Layout::Narrow;
        let sheet_height = if stacked {
            step * self.maps.len() as f64
        } else {
            step
        };
        draw((layout.width(), sheet_height), alt, |sheet| {
            for (i, map) in self.maps.iter().enumerate() {
                let i = i as f64;
                let (left, top) = if stacked {
                    (0.0, step * i)
                } else {
                    (i * (width + 26.0), 0.0)
                };
                let frame = Frame {
                    left,
                    top: top + HEAD,
                    width,
                    height,
                };
                sheet.text((left, top + 9.0), Anchor::Start, Ink::Strong, &map.title)?;
                self.paint(sheet, map, frame)?;
                key(sheet, map, frame, self.units)?;
            }
            Ok(())
        })
    }

    fn paint(&self, sheet: &Sheet<'_>, map: &FaceMap<'_>, frame: Frame) -> Drawn {
        let band = |cell: usize| map.temp_c[cell].map(|t| shade(t, &map.scale_c));
        for (rows, columns, band) in self.blocks(band) {
            sheet.fill(
                self.corner(frame, rows.start, columns.start),
                self.corner(frame, rows.end, columns.end),
                SHADES[band],
            )?;
        }
        for (rows, columns, _) in self.blocks(|cell| map.hatched[cell].then_some(0)) {
            hatch(
                sheet,
                self.corner(frame, rows.start, columns.start),
                self.corner(frame, rows.end, columns.end),
            )?;
        }
        let (a, b) = (frame.at(0.0, 0.0), frame.at(1.0, 1.0));
        for (from, to) in [
            (a, (b.0, a.1)),
            ((b.0, a.1), b),
            (b, (a.0, b.1)),
            ((a.0, b.1), a),
        ] {
            sheet.line(from, to, Ink::Axis)?;
        }
        self.labels(sheet, map, frame)
    }

    fn corner(&self, frame: Frame, row: usize, column: usize) -> (f64, f64) {
        frame.at(self.columns.lines()[column], self.rows.lines()[row])
    }

    /// Rectangles of cells in the same band: runs along a row, joined with equal runs below.
    fn blocks(
        &self,
        band: impl Fn(usize) -> Option<usize>,
    ) -> Vec<(Range<usize>, Range<usize>, usize)> {
        let width = self.columns.count();
        let mut done: Vec<(Range<usize>, Range<usize>, usize)> = Vec::new();
        let mut open: Vec<(Range<usize>, Range<usize>, usize)> = Vec::new();
        for row in 0..self.rows.count() {
            let mut next = Vec::new();
            let mut start = 0;
            while start < width {
                let here = band(row * width + start);
                let end = (start..width)
                    .find(|c| band(row * width + c) != here)
                    .unwrap_or(width);
                if let Some(here) = here {
                    let above = open
                        .iter()
                        .position(|(_, columns, band)| *columns == (start..end) && *band == here);
                    let first = above.map_or(row, |i| open.remove(i).0.start);
                    next.push((first..row + 1, start..end, here));
                }
                start = end;
            }
            done.append(&mut open);
            open = next;
        }
        done.append(&mut open);
        done
    }

    /// Temperatures written on the map, where there is room.
    fn labels(&self, sheet: &Sheet<'_>, map: &FaceMap<'_>, frame: Frame) -> Drawn {
        let width = self.columns.count();
        let covered = |i: usize| map.temp_c[i].is_some();
        let rows: Vec<usize> = (0..self.rows.count())
            .filter(|r| (0..width).any(|c| covered(r * width + c)))
            .collect();
        let columns: Vec<usize> = (0..width)
            .filter(|c| (0..self.rows.count()).any(|r| covered(r * width + c)))
            .collect();
        let (Some(top), Some(bottom)) = (rows.first(), rows.last()) else {
            return Ok(());
        };
        let (Some(left), Some(right)) = (columns.first(), columns.last()) else {
            return Ok(());
        };
        let (a, b) = (
            self.corner(frame, *top, *left),
            self.corner(frame, bottom + 1, right + 1),
        );
        let pick =
            |share: f64, of: &[usize]| of[((share * of.len() as f64) as usize).min(of.len() - 1)];
        let wide = b.0 - a.0 >= LABELLED.0;
        let high = b.1 - a.1 >= 2.0 * LABELLED.1;
        let xs = if wide { &LABELS_X[..] } else { &[0.5] };
        let ys = if high { &LABELS_Y[..] } else { &[0.5] };
        for y in ys {
            for x in xs {
                let Some(temp_c) = map.temp_c[pick(*y, &rows) * width + pick(*x, &columns)] else {
                    continue;
                };
                let at = (a.0 + x * (b.0 - a.0), a.1 + y * (b.1 - a.1));
                let dark = shade(temp_c, &map.scale_c) < DARK;
                let ink = if dark { Ink::OnDark } else { Ink::OnLight };
                let told = self.units.of(Measure::Temperature, temp_c);
                sheet.text(at, Anchor::Middle, ink, &number::fixed(told, 0))?;
            }
        }
        Ok(())
    }
}

/// The scale as it is drawn: a map of next to one temperature must not look like one of many.
fn drawn(scale_c: &Range<f64>) -> Range<f64> {
    let scale = wide_enough(scale_c.clone());
    let lacking = (LEAST_SPAN_K - (scale.end - scale.start)).max(0.0);
    // A single temperature lies in the middle of a shade, not on the border of two.
    scale.start - 0.45 * lacking..scale.end + 0.55 * lacking
}

fn shade(temp_c: f64, scale_c: &Range<f64>) -> usize {
    let scale = drawn(scale_c);
    let share = (temp_c - scale.start) / (scale.end - scale.start);
    ((share * SHADES.len() as f64).max(0.0) as usize).min(SHADES.len() - 1)
}

/// The shades with the ends of the scale.
fn key(sheet: &Sheet<'_>, map: &FaceMap<'_>, frame: Frame, units: Units) -> Drawn {
    let scale = drawn(&map.scale_c);
    let top = frame.top + frame.height + 6.0;
    let step = frame.width / SHADES.len() as f64;
    for (i, ink) in SHADES.iter().enumerate() {
        let x = frame.left + step * i as f64;
        sheet.fill((x, top), (x + step, top + 7.0), *ink)?;
    }
    let y = top + 18.0;
    sheet.text(
        (frame.left, y),
        Anchor::Start,
        Ink::Muted,
        &number::fixed(units.of(Measure::Temperature, scale.start), 0),
    )?;
    let end = number::told(units, Measure::Temperature, scale.end, 0);
    sheet.text((frame.left + frame.width, y), Anchor::End, Ink::Muted, &end)
}

/// Diagonal lines through a rectangle; those of neighbours meet.
fn hatch(sheet: &Sheet<'_>, from: (f64, f64), to: (f64, f64)) -> Drawn {
    let first = ((from.0 + from.1) / HATCH).ceil() as i64;
    let last = ((to.0 + to.1) / HATCH).floor() as i64;
    for i in first..=last {
        let sum = i as f64 * HATCH;
        let x = ((sum - to.1).max(from.0), (sum - from.1).min(to.0));
        sheet.line((x.0, sum - x.0), (x.1, sum - x.1), Ink::Hatch)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Differences of a hundredth of a kelvin had all shades from cold to hot.
    #[test]
    fn a_map_of_one_temperature_has_one_shade() {
        let scale = drawn(&(40.0..41.0));
        assert!((scale.end - scale.start - LEAST_SPAN_K).abs() < 1e-9);
        assert!(scale.start < 40.0 && scale.end > 41.0);
        assert_eq!(shade(45.0, &(45.0..45.02)), shade(45.02, &(45.0..45.02)));
        assert_eq!(drawn(&(20.0..60.0)), 20.0..60.0);
    }
}
