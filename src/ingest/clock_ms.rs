//! Clocks whose milliseconds are a count without leading zeros: `12:03:05.7` is 7 ms after the
//! second, as `12:03:05.70` is 70 ms after it. Read as decimal fractions they run back and forth.

use std::borrow::Cow;

use crate::warning::Warning;

/// Fewer steps back are a stumble of the clock.
const LEAST_BACK: usize = 3;

/// A note where the part after the seconds of these cells counts milliseconds: read so the clock
/// runs on, or very nearly; read as a fraction it does not. `seconds` reads a cell.
pub(super) fn counted<'a>(
    cells: impl Iterator<Item = &'a str> + Clone,
    seconds: impl Fn(&str) -> Option<f64>,
    column: &str,
) -> Option<Warning> {
    let parts = || cells.clone().filter_map(part);
    // A fraction has as many digits in every row, or begins with zeros.
    let is_count = |part: &str| part.len() <= 3 && (part == "0" || !part.starts_with('0'));
    let lengths = |length: usize| parts().any(|part| part.len() == length);
    if !lengths(3) || !(lengths(1) || lengths(2)) || !parts().all(is_count) {
        return None;
    }
    let as_fraction = steps_back(cells.clone().filter_map(&seconds));
    let as_count = steps_back(cells.clone().filter_map(|cell| seconds(&padded(cell))));
    if as_fraction < LEAST_BACK || 10 * as_count > as_fraction {
        return None;
    }
    let short = |cell: &&str| part(cell).is_some_and(|part| part.len() < 3 && part != "0");
    let example = cells.clone().find(short)?;
    Some(Warning::note(
        "milliseconds-counted",
        format!(
            "column `{column}`: what stands behind the seconds counts milliseconds (`{example}` is {} ms after the second): read as a fraction, the clock would run back {as_fraction} times",
            part(example)?
        ),
    ))
}

/// The same time with three digits behind the seconds.
pub(super) fn padded(cell: &str) -> Cow<'_, str> {
    match part(cell) {
        Some(part) if part.len() < 3 => {
            let (at, end) = place(cell, part);
            format!("{}{part:0>3}{}", &cell[..at], &cell[end..]).into()
        }
        _ => cell.into(),
    }
}

/// Where a part of a cell stands in it.
fn place(cell: &str, part: &str) -> (usize, usize) {
    let at = part.as_ptr() as usize - cell.as_ptr() as usize;
    (at, at + part.len())
}

/// The digits behind the seconds: those of `05:59.123`, `12:05:59,123 PM` or `12:05:59:123`.
fn part(cell: &str) -> Option<&str> {
    let first = cell.find(':')?;
    let mark = match cell[first..].find(['.', ',']) {
        Some(at) => first + at,
        None if cell.matches(':').count() == 3 => cell.rfind(':')?,
        None => return None,
    };
    let behind = &cell[mark + 1..];
    let end = behind.find(|c: char| !c.is_ascii_digit());
    let digits = &behind[..end.unwrap_or(behind.len())];
    let seconds = cell[..mark].bytes().next_back();
    (!digits.is_empty() && seconds.is_some_and(|b| b.is_ascii_digit())).then_some(digits)
}

fn steps_back(seconds: impl Iterator<Item = f64>) -> usize {
    let mut last = f64::NEG_INFINITY;
    seconds
        .filter(|s| std::mem::replace(&mut last, *s) > *s)
        .count()
}

#[cfg(test)]
mod tests {
    use super::super::clock_text::parse_clock;
    use super::*;

    fn is_counted(cells: &[String]) -> bool {
        let cells = cells.iter().map(String::as_str);
        counted(cells, parse_clock, "t").is_some()
    }

    #[test]
    fn counts_are_told_from_fractions() {
        let step = |form: fn(u32, u32) -> String| -> Vec<String> {
            (0..200)
                .map(|i| form(i * 70 / 1000, i * 70 % 1000))
                .collect()
        };
        assert!(is_counted(&step(|s, ms| format!("12:03:{s:02}.{ms}"))));
        assert!(is_counted(&step(|s, ms| format!("12:03:{s:02}:{ms}"))));
        assert!(!is_counted(&step(|s, ms| format!("12:03:{s:02}.{ms:03}"))));
        let bare = |s: u32, ms: u32| {
            format!("12:03:{s:02}.{ms:03}")
                .trim_end_matches('0')
                .to_owned()
        };
        assert!(!is_counted(&step(bare)));
        // One digit a row: tenths.
        let tenths: Vec<String> = (0..50)
            .map(|i| format!("12:03:{:02}.{}", i / 10, i % 10))
            .collect();
        assert!(!is_counted(&tenths));
    }

    #[test]
    fn only_the_part_behind_the_seconds_is_padded() {
        for (cell, whole) in [
            ("12:03:05.7", "12:03:05.007"),
            ("12:03:05,70", "12:03:05,070"),
            ("12:03:05:7", "12:03:05:007"),
            ("3:05.7", "3:05.007"),
            ("17.05.2031 12:03:05.7", "17.05.2031 12:03:05.007"),
            (
                "2031-05-17T12:03:05.7+02:00",
                "2031-05-17T12:03:05.007+02:00",
            ),
            ("12:03:05.7 PM", "12:03:05.007 PM"),
            ("12:03:05.70 p.m.", "12:03:05.070 p.m."),
            ("12:03:05.123", "12:03:05.123"),
            ("12:03:05", "12:03:05"),
            ("17.05.2031 12:03:05", "17.05.2031 12:03:05"),
            ("", ""),
        ] {
            assert_eq!(padded(cell), whole);
        }
    }
}
