//! One cell: a number in either decimal mark, a placeholder for nothing, or text.

use crate::quantity::Unit;

/// The decimal mark of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    /// `1.5`
    Point,
    /// `1,5`
    Comma,
}

/// Whether the cell says that there is no value. Infinities count: no sensor reads one.
pub(super) fn is_blank(cell: &str) -> bool {
    let cell = cell.trim();
    if cell.is_empty()
        || cell
            .chars()
            .all(|c| matches!(c, '-' | '–' | '—' | '*' | '?' | '.' | '_'))
    {
        return true;
    }
    if cell.len() > 12 || !cell.starts_with(|c: char| c.is_alphabetic() || "#+-<1∞".contains(c)) {
        return false;
    }
    let lower = cell.trim_start_matches(['+', '-']).to_lowercase();
    matches!(
        lower.as_str(),
        "n/a"
            | "na"
            | "n.a."
            | "nan"
            | "null"
            | "none"
            | "nil"
            | "inf"
            | "infinity"
            | "∞"
            | "#n/a"
            | "#nv"
            | "#value!"
            | "#div/0!"
            | "1.#inf"
            | "1.#qnan"
            | "1.#ind"
            | "-1.#ind"
            | "no data"
            | "nodata"
            | "err"
            | "error"
            | "invalid"
            | "<null>"
            | "undefined"
    )
}

/// A cell's number. `None`: a blank, or text.
pub(super) fn number(cell: &str, mark: Mark) -> Option<f64> {
    // Most cells: neither a unit nor another mark is to be looked for.
    let bare = |b: u8| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+');
    if mark == Mark::Point && cell.bytes().all(bare) {
        return cell.parse().ok().filter(|v: &f64| v.is_finite());
    }
    let (digits, rest) = split_unit(cell.trim())?;
    // `92 °C`: a logger that repeats the unit in every cell.
    if !rest.is_empty() && Unit::parse(rest).is_none() {
        return None;
    }
    let grouped = without_groups(digits);
    let digits = grouped.as_deref().unwrap_or(digits);
    let (other, own) = match mark {
        Mark::Point => (',', '.'),
        Mark::Comma => ('.', ','),
    };
    let has = |mark: char| digits.as_bytes().contains(&(mark as u8));
    if !has(other) {
        return match mark {
            Mark::Comma if has(own) => finite(&digits.replacen(own, ".", 1)),
            _ => finite(digits),
        };
    }
    // The other mark parts thousands, unless it stands alone where no thousand can end.
    let thousands = digits.contains(own) || is_grouped(digits, other);
    let plain = if digits.contains(other) && !thousands {
        digits.replace(other, ".")
    } else {
        digits.replace(other, "").replace(own, ".")
    };
    finite(&plain)
}

/// Parts a cell where its number ends: `92 °C`, `850 1/min`, `8501/min`.
fn split_unit(cell: &str) -> Option<(&str, &str)> {
    let end = cell.find(|c: char| c.is_alphabetic() || "°%/\"º˚".contains(c));
    let end = match end.map(|at| (at, &cell[at..])) {
        None => cell.len(),
        // The exponent of a number is no unit.
        Some((_, rest)) if rest.starts_with(['e', 'E']) => cell.len(),
        // The 1 of `1/min` belongs to the unit.
        Some((at, rest)) if rest.starts_with('/') && cell[..at].ends_with('1') => at - 1,
        Some((at, _)) => at,
    };
    let digits = cell[..end].trim_end();
    digits
        .ends_with(|c: char| c.is_ascii_digit() || c == '.' || c == ',')
        .then(|| (digits, cell[end..].trim()))
}

/// The unit behind the number of a cell.
pub(super) fn unit_of_cell(cell: &str) -> Option<Unit> {
    let (digits, rest) = split_unit(cell.trim())?;
    digits
        .starts_with(|c: char| c.is_ascii_digit() || "+-.,".contains(c))
        .then(|| Unit::parse(rest))
        .flatten()
}

/// What parts thousands besides point and comma.
const GROUP_MARKS: [char; 5] = [' ', '\u{a0}', '\u{202f}', '\'', '’'];

/// Digits without blanks or apostrophes between groups of three: `1 331,5`, `12'000`.
fn without_groups(digits: &str) -> Option<String> {
    let mark = GROUP_MARKS
        .into_iter()
        .find(|mark| digits.contains(*mark))?;
    let whole = digits.split(['.', ',']).next().unwrap_or_default();
    (is_grouped(whole, mark) && digits[whole.len()..].find(mark).is_none())
        .then(|| digits.replace(mark, ""))
}

/// Whether `mark` stands where thousands are parted: `1,234`.
fn is_grouped(digits: &str, mark: char) -> bool {
    let mut parts = digits.trim().trim_start_matches(['+', '-']).split(mark);
    let head = parts.next().unwrap_or_default();
    (1..=3).contains(&head.len())
        && !head.starts_with('0')
        && head.bytes().all(|b| b.is_ascii_digit())
        && parts.all(|part| part.len() == 3 && part.bytes().all(|b| b.is_ascii_digit()))
}

fn finite(text: &str) -> Option<f64> {
    // The standard parser would also read words such as `nan`.
    if !text.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)) {
        return None;
    }
    text.trim().parse::<f64>().ok().filter(|v| v.is_finite())
}

/// A switch or gear written as a word: `on` is 1, neutral is 0, reverse is -1.
pub(super) fn word_number(cell: &str) -> Option<f64> {
    match cell.trim().to_lowercase().as_str() {
        "on" | "true" | "yes" | "ein" | "an" | "ja" | "oui" | "si" | "active" => Some(1.0),
        "off" | "false" | "no" | "aus" | "nein" | "non" | "inactive" | "n" | "p" => Some(0.0),
        "r" => Some(-1.0),
        _ => None,
    }
}

/// Whether the cell could be a value of a data row: a number, a date, a time.
pub(super) fn looks_like_value(cell: &str) -> bool {
    let cell = cell.trim();
    if cell.len() > 40 || !cell.starts_with(|c: char| c.is_ascii_digit() || "+-.,".contains(c)) {
        return false;
    }
    let digit = cell.bytes().any(|b| b.is_ascii_digit());
    let plain = cell
        .bytes()
        .all(|b| b.is_ascii_digit() || b"+-.,:/eETZ ".contains(&b));
    let upper = cell.to_ascii_uppercase();
    digit
        && (plain
            || upper.ends_with(" AM")
            || upper.ends_with(" PM")
            || number(cell, Mark::Point).is_some())
}

/// The decimal mark of a column, from its cells; `usual` is what the rest of the file has.
pub(super) fn mark_of<'a>(cells: impl Iterator<Item = &'a str>, usual: Mark) -> Mark {
    let (mut commas, mut points, mut plain) = (Groups::default(), Groups::default(), 0);
    for cell in cells {
        let bytes = cell.as_bytes();
        match (bytes.contains(&b','), bytes.contains(&b'.')) {
            (true, false) => commas.add(cell, ',', usual == Mark::Point),
            (false, true) => points.add(cell, '.', usual == Mark::Comma),
            (true, true) => {
                // The last of the two is the decimal mark.
                return if cell.rfind(',') > cell.rfind('.') {
                    Mark::Comma
                } else {
                    Mark::Point
                };
            }
            (false, false) => plain += 1,
        }
    }
    match (commas.seen > 0, points.seen > 0) {
        (false, false) => usual,
        (true, true) => usual,
        // `1,234` beside `850` in a file with points is a thousand; `1,234` alone may be neither.
        (true, false) if usual == Mark::Point && commas.all_thousands() && plain > 0 => Mark::Point,
        (true, false) => Mark::Comma,
        (false, true) if usual == Mark::Comma && points.all_thousands() && plain > 0 => Mark::Comma,
        (false, true) => Mark::Point,
    }
}

#[derive(Default)]
struct Groups {
    seen: usize,
    thousands: usize,
}

impl Groups {
    /// `ask`: only the mark that is not the usual one may part thousands.
    fn add(&mut self, cell: &str, mark: char, ask: bool) {
        self.seen += 1;
        self.thousands += usize::from(ask && is_grouped(cell, mark));
    }

    fn all_thousands(&self) -> bool {
        self.seen == self.thousands
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_in_their_mark() {
        assert_eq!(number("1,5", Mark::Comma), Some(1.5));
        assert_eq!(number("-1.234,5", Mark::Comma), Some(-1234.5));
        assert_eq!(number("1,234.5", Mark::Point), Some(1234.5));
        assert_eq!(number("12,5", Mark::Point), Some(12.5));
        assert_eq!(number("48.5", Mark::Comma), Some(48.5));
        assert_eq!(number("92 °C", Mark::Point), Some(92.0));
        assert_eq!(number("1.5e-3", Mark::Point), Some(0.0015));
        for text in ["", "-", "nan", "inf", "1e999", "a1", "12:30", "4 of 5"] {
            assert_eq!(number(text, Mark::Point), None, "{text}");
        }
    }

    #[test]
    fn blanks_are_told_from_values() {
        for blank in [
            "",
            "-",
            "---",
            "n/a",
            "NaN",
            "-inf",
            "+Infinity",
            "-∞",
            "1.#INF",
            " ",
        ] {
            assert!(is_blank(blank), "{blank}");
        }
        for value in ["0", "-1", "on", "12:00:00", "1"] {
            assert!(!is_blank(value), "{value}");
        }
    }

    #[test]
    fn the_mark_of_a_column_follows_its_cells() {
        let mark = |cells: &[&str], usual| mark_of(cells.iter().copied(), usual);
        assert_eq!(mark(&["850", "1,234"], Mark::Point), Mark::Point);
        assert_eq!(mark(&["850", "1.234"], Mark::Comma), Mark::Comma);
        assert_eq!(mark(&["12,5", "1"], Mark::Point), Mark::Comma);
        assert_eq!(mark(&["48.5", "48.25"], Mark::Comma), Mark::Point);
        assert_eq!(mark(&["1.234,5"], Mark::Point), Mark::Comma);
    }
}
