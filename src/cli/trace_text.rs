//! A channel through time, in one line of text; laps in a sentence.

use crate::laps::{LapSource, Laps};
use crate::quantity::Units;
use crate::session::{Grid, Role};

const BARS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
/// Characters in a line.
const WIDTH: usize = 52;

/// Coolant and speed, each a line: range and course.
pub fn plot(grid: &Grid, units: Units) -> String {
    [(Role::Coolant, "°C"), (Role::Speed, "km/h")]
        .into_iter()
        .filter_map(|(role, unit)| {
            let values = grid.get(role)?;
            let present = || values.iter().copied().filter(|v| !v.is_nan());
            let (low, high) = present().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
                (l.min(v), h.max(v))
            });
            let range = format!("{low:.0}..{high:.0} {unit}");
            let range = units.prose(&range);
            (high > low).then(|| {
                format!(
                    "  {:<8} {range:<14}{}\n",
                    role.name(),
                    line(values, low, high)
                )
            })
        })
        .collect()
}

/// Means of equal pieces as bars; a blank where there is no reading.
fn line(values: &[f64], low: f64, high: f64) -> String {
    let width = WIDTH.min(values.len());
    let bar = |k: usize| {
        let piece = &values[k * values.len() / width..(k + 1) * values.len() / width];
        let present = || piece.iter().filter(|v| !v.is_nan());
        let count = present().count();
        if count == 0 {
            return ' ';
        }
        let share = (present().sum::<f64>() / count as f64 - low) / (high - low);
        BARS[((share * 8.0) as usize).min(7)]
    };
    let text: String = (0..width).map(bar).collect();
    text.trim_end().to_owned()
}

/// What is known of the laps.
pub fn laps(laps: &Laps) -> String {
    let source = match laps.source {
        LapSource::Line => "positions crossing the line given",
        LapSource::Column => "the lap column",
        LapSource::Positions => "positions crossing a line",
        LapSource::Speed => "the speed trace, which repeats",
    };
    format!(
        "{} laps of {}:{:04.1} (median), from {source} (from lap to lap it is alike by {:.2})",
        laps.times_s.len(),
        (laps.median_s / 60.0) as u32,
        laps.median_s % 60.0,
        laps.alike
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ramp_is_a_stair() {
        let ramp: Vec<f64> = (0..800).map(f64::from).collect();
        let text = line(&ramp, 0.0, 799.0);
        assert_eq!(text.chars().count(), WIDTH);
        assert!(text.starts_with('▁') && text.ends_with('█'));
        assert!(text.chars().zip(text.chars().skip(1)).all(|(a, b)| a <= b));
    }
}
