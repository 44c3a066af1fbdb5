//! Whether the surprises of the readings repeat each other: their autocorrelation.

use crate::estimate::Trace;
use crate::report::ReportError;
use crate::report::canvas::{Anchor, draw};
use crate::report::ink::Ink;
use crate::report::panel::Panel;
use crate::stats::{NORMAL_FACTOR, autocorrelation};

/// Lags drawn.
pub const LAGS: usize = 30;

/// Width and height, CSS pixels: small enough for a phone.
const SIZE: (f64, f64) = (356.0, 168.0);

/// Surprises over hot running, in order; the readings between have none.
fn hot(trace: &Trace) -> Vec<f64> {
    let stints = trace.stints.iter();
    stints
        .filter_map(|&(a, b)| trace.surprise.get(a..b))
        .flatten()
        .copied()
        .filter(|z| !z.is_nan())
        .collect()
}

/// Autocorrelation of the surprises over the lag, `step_s` seconds apart. `None` with fewer than
/// twice as many as there are lags.
///
/// # Errors
/// A drawing that failed.
pub fn whiteness(trace: &Trace, step_s: f64, alt: &str) -> Result<Option<String>, ReportError> {
    let surprises = hot(trace);
    if surprises.len() < 2 * LAGS {
        return Ok(None);
    }
    let bars: Vec<(f64, f64)> = (1..=LAGS)
        .filter_map(|lag| Some((lag as f64 * step_s, autocorrelation(&surprises, lag)?)))
        .collect();
    let chance = NORMAL_FACTOR / (surprises.len() as f64).sqrt();
    let most = bars
        .iter()
        .fold(2.0 * chance, |most, b| most.max(b.1.abs()));
    let right = SIZE.0 - 8.0;
    draw(SIZE, alt, |sheet| {
        let panel = Panel::on(
            sheet,
            (48.0, 24.0),
            (right, 120.0),
            0.0..(LAGS + 1) as f64 * step_s,
            -1.1 * most..1.1 * most,
        );
        let (_, upper) = panel.at(0.0, chance);
        let (_, lower) = panel.at(0.0, -chance);
        sheet.fill((panel.left, upper), (panel.right, lower), Ink::Zone)?;
        panel.axis_x(true)?;
        panel.axis_y()?;
        panel.level(0.0, Ink::Zero)?;
        // One line for all bars: a page may hold many such charts.
        let up_and_down: Vec<(f64, f64)> = bars
            .iter()
            .flat_map(|&(lag_s, r)| [(lag_s, 0.0), (lag_s, r), (lag_s, 0.0)])
            .collect();
        panel.series(&up_and_down, Ink::Measured)?;
        let title = "autocorrelation of the surprises";
        sheet.text((48.0, 12.0), Anchor::Start, Ink::Text, title)?;
        sheet.text((right, 152.0), Anchor::End, Ink::Text, "lag, s")
    })
    .map(Some)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(surprise: Vec<f64>) -> Trace {
        Trace {
            stints: vec![(0, surprise.len())],
            surprise,
            ..Trace::default()
        }
    }

    #[test]
    fn a_short_record_is_not_drawn_and_a_long_one_is() {
        let short = trace(vec![0.5; 10]);
        assert!(whiteness(&short, 2.0, "").unwrap().is_none());
        let wave = (0..200).map(|i| f64::from(i).sin()).collect();
        let svg = whiteness(&trace(wave), 2.0, "").unwrap().unwrap();
        assert!(
            svg.contains("autocorrelation") && svg.contains("measured"),
            "{svg}"
        );
    }
}
