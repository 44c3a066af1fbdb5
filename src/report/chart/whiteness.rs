//! Whether the surprises of the readings repeat each other: their autocorrelation.

use crate::estimate::Whiteness;
use crate::report::ReportError;
use crate::report::canvas::{Anchor, draw};
use crate::report::ink::Ink;
use crate::report::panel::Panel;

/// Width and height, CSS pixels: small enough for a phone.
const SIZE: (f64, f64) = (356.0, 168.0);

/// Autocorrelation of the surprises over the lag.
///
/// # Errors
/// A drawing that failed.
pub fn whiteness(found: &Whiteness, alt: &str) -> Result<String, ReportError> {
    let (bars, chance) = (&found.by_lag, found.chance);
    let first_s = bars.first().map_or(1.0, |b| b.0);
    let last_s = bars.last().map_or(0.0, |b| b.0);
    let most = bars
        .iter()
        .fold(2.0 * chance, |most, b| most.max(b.1.abs()));
    let right = SIZE.0 - 8.0;
    draw(SIZE, alt, |sheet| {
        let panel = Panel::on(
            sheet,
            (48.0, 24.0),
            (right, 120.0),
            0.0..last_s + first_s,
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
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bars_are_drawn_and_named() {
        let found = Whiteness {
            by_lag: vec![(2.0, 0.4), (4.0, -0.1)],
            sd: 0.6,
            chance: 0.14,
        };
        let svg = whiteness(&found, "").unwrap();
        assert!(
            svg.contains("autocorrelation") && svg.contains("measured"),
            "{svg}"
        );
    }
}
