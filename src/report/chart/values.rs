//! The values of lines over time, written small, so that on screen a zoomed chart is drawn from them and read off them.
//!
//! `STEP|LINE|LINE…`: STEP is the length of a step, minutes. A line is `panel;class;decimals;stretches`: its panel
//! counted from 0 at the top, the class of its ink, the decimals that its numbers leave out the point of, and its
//! stretches without a gap, parted by `/`. A stretch is `steps:value` parted by commas, both counted from the point
//! before (the first: from step 0 and value 0); `value` alone is one step on.

use std::fmt::Write as _;
use std::ops::Range;

use crate::report::ink::Ink;
use crate::report::thin::{Stretch, stretches, thin};

/// One line over minutes.
pub struct Line<'a> {
    /// Its panel, counted from 0 at the top.
    pub panel: usize,
    /// How it is drawn.
    pub ink: Ink,
    /// Minutes and values; `NaN` is no value.
    pub points: &'a [(f64, f64)],
    /// The scale of its panel.
    pub scale: Range<f64>,
}

/// Columns below which nothing is thinned any more.
const FEWEST: usize = 24;

/// The lines, thinned until they take no more than `bytes` or only [`FEWEST`] columns are left.
pub fn written(lines: &[Line<'_>], step_min: f64, longest_gap_min: f64, bytes: usize) -> String {
    let last_min = (lines.iter().filter_map(|line| line.points.last())).map(|p| p.0);
    let length_min = last_min.fold(step_min, f64::max);
    let mut columns = (length_min / step_min).ceil() as usize;
    loop {
        // Where every step has a column of its own none may share one by rounding.
        let column = length_min / columns as f64 * 0.999;
        let mut out = format!("{step_min}");
        for line in lines {
            let stretches = stretches(line.points.iter().copied(), longest_gap_min);
            let thinned: Vec<Stretch> = stretches.iter().map(|s| thin(s, column)).collect();
            push_line(&mut out, line, &thinned, step_min);
        }
        if out.len() <= bytes || columns <= FEWEST {
            return out;
        }
        columns = (columns * 3 / 4).max(FEWEST);
    }
}

fn push_line(out: &mut String, line: &Line<'_>, stretches: &[Stretch], step_min: f64) {
    let decimals = decimals(&line.scale);
    let unit = 10_f64.powi(i32::from(decimals));
    let class = line.ink.class();
    let _ = write!(out, "|{};{class};{decimals};", line.panel);
    for (i, stretch) in stretches.iter().enumerate() {
        let (mut step, mut value) = (0, 0);
        for (j, point) in stretch.iter().enumerate() {
            let at = (point.0 / step_min).floor() as i64;
            let told = (point.1 * unit).round() as i64;
            match (i, j) {
                (0, 0) => {}
                (_, 0) => out.push('/'),
                _ => out.push(','),
            }
            if at - step != 1 {
                let _ = write!(out, "{}:", at - step);
            }
            let _ = write!(out, "{}", told - value);
            (step, value) = (at, told);
        }
    }
}

/// Decimals that part a scale into some thousand steps.
fn decimals(scale: &Range<f64>) -> u8 {
    (3.3 - (scale.end - scale.start).log10())
        .floor()
        .clamp(0.0, 6.0) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the page makes of it.
    fn read(text: &str) -> Vec<Vec<Vec<(f64, f64)>>> {
        let mut parts = text.split('|');
        let step: f64 = parts.next().unwrap().parse().unwrap();
        let line = |part: &str| {
            let fields: Vec<&str> = part.split(';').collect();
            let unit = 10_f64.powi(fields[2].parse().unwrap());
            let stretch = |text: &str| {
                let (mut at, mut value) = (0_i64, 0_i64);
                let point = |token: &str| {
                    let (steps, by) = token.split_once(':').unwrap_or(("1", token));
                    at += steps.parse::<i64>().unwrap();
                    value += by.parse::<i64>().unwrap();
                    ((at as f64 + 0.5) * step, value as f64 / unit)
                };
                text.split(',').map(point).collect()
            };
            fields[3].split('/').map(stretch).collect()
        };
        parts.map(line).collect()
    }

    fn line(points: &[(f64, f64)]) -> Line<'_> {
        Line {
            panel: 0,
            ink: Ink::Measured,
            points,
            scale: 60.0..120.0,
        }
    }

    #[test]
    fn all_values_come_back_where_there_is_room() {
        let step = 1.0 / 60.0;
        let value = |i: usize| match i {
            100..120 => f64::NAN,
            _ => 80.0 + (i * 7 % 23) as f64 * 0.5,
        };
        let points: Vec<(f64, f64)> = (0..900)
            .map(|i| ((i as f64 + 0.5) * step, value(i)))
            .collect();
        let told = read(&written(&[line(&points)], step, 10.0 / 60.0, 100_000));
        assert_eq!(told[0].len(), 2, "cut at the gap");
        let told: Vec<(f64, f64)> = told[0].concat();
        let known: Vec<(f64, f64)> = points.into_iter().filter(|p| !p.1.is_nan()).collect();
        assert_eq!(told.len(), known.len());
        for (told, known) in told.iter().zip(&known) {
            assert!((told.0 - known.0).abs() < 1e-9 && (told.1 - known.1).abs() < 1e-9);
        }
    }

    #[test]
    fn where_there_is_no_room_the_peaks_stay() {
        let mut points: Vec<(f64, f64)> = (0..5_000)
            .map(|i| (f64::from(i) + 0.5, 80.0 + f64::from(i % 5)))
            .collect();
        points[3_333].1 = 117.0;
        let text = written(&[line(&points)], 1.0, 10.0, 2_000);
        assert!(text.len() <= 2_000, "{}", text.len());
        let told = read(&text)[0].concat();
        assert!(told.len() > 200, "{}", told.len());
        assert!(told.contains(&(3_333.5, 117.0)));
    }
}
