//! Room on a sheet: spans of values, labels that keep apart, texts that fit.

use std::ops::Range;

/// Width of a character of chart text, CSS pixels, on the wide side.
pub const CHARACTER: f64 = 6.9;

/// A range that is finite, rises, and has room.
pub fn wide_enough(range: Range<f64>) -> Range<f64> {
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
