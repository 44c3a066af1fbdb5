//! The face of a stack as a grid whose lines run along every edge of an exchanger.

use std::ops::Range;

/// Points nearer than this share of the face are one point.
const SAME: f64 = 1e-9;

/// One direction of the face, 0 to 1, cut into cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    lines: Vec<f64>,
}

impl Axis {
    /// Cells between 0 and 1 with a line through each of `points`; some `cells` of them, each
    /// stretch between two points cut evenly.
    pub fn through(points: impl IntoIterator<Item = f64>, cells: usize) -> Self {
        let mut points: Vec<f64> = points.into_iter().chain([0.0, 1.0]).collect();
        points.sort_by(f64::total_cmp);
        points.dedup_by(|a, b| (*a - *b).abs() < SAME);
        let mut lines = vec![0.0];
        for ends in points.windows(2) {
            let length = ends[1] - ends[0];
            let pieces = ((length * cells as f64).round() as usize).max(1);
            lines.extend((1..=pieces).map(|i| ends[0] + length * i as f64 / pieces as f64));
        }
        Self { lines }
    }

    /// Number of cells.
    pub fn count(&self) -> usize {
        self.lines.len() - 1
    }

    /// Width of a cell.
    pub fn width(&self, cell: usize) -> f64 {
        self.lines[cell + 1] - self.lines[cell]
    }

    /// Middle of a cell.
    pub fn middle(&self, cell: usize) -> f64 {
        (self.lines[cell] + self.lines[cell + 1]) / 2.0
    }

    /// The lines, from 0 to 1.
    pub fn lines(&self) -> &[f64] {
        &self.lines
    }

    /// The cells between two points through which lines run.
    pub fn cells(&self, from: f64, to: f64) -> Range<usize> {
        let line = |at: f64| self.lines.partition_point(|l| *l < at - SAME);
        line(from)..line(to).max(line(from))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_runs_through_every_edge() {
        let axis = Axis::through([0.33, 0.33, 0.9], 40);
        assert_eq!(axis.count(), 13 + 23 + 4);
        let widths: f64 = axis.cells(0.33, 0.9).map(|i| axis.width(i)).sum();
        assert!((widths - 0.57).abs() < 1e-12);
        assert!(axis.cells(0.33, 0.33).is_empty());
        assert_eq!(axis.cells(0.0, 1.0), 0..axis.count());
    }
}
