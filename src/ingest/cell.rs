//! One cell: a number in either decimal mark, a placeholder for nothing, or text.

use super::time_text::{DateOrder, parse_stamp};
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
    // Most cells: neither unit, groups nor another sign is to be looked for.
    let plain = |b: u8| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+');
    if mark == Mark::Point
        && let Ok(value) = cell.parse::<f64>()
    {
        return Some(value).filter(|v| v.is_finite());
    }
    let bare = |b: u8| plain(b) || b == b',';
    if cell.bytes().all(bare) && !cell.ends_with(['-', '+']) {
        return figure(cell, mark);
    }
    let signed = negative(cell.trim());
    let cell = signed.as_deref().unwrap_or(cell);
    let (digits, rest) = split_unit(cell.trim())?;
    // `92 °C`: a logger that repeats the unit in every cell.
    if !rest.is_empty() && Unit::parse(rest).is_none() {
        return None;
    }
    let grouped = without_groups(digits);
    figure(grouped.as_deref().unwrap_or(digits), mark)
}

/// The number that digits with these marks are.
fn figure(digits: &str, mark: Mark) -> Option<f64> {
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

/// A negative number with another sign than a hyphen before it: `−5`, `–5`, `5-`, `(5)`.
fn negative(cell: &str) -> Option<String> {
    let digit = |c: char| c.is_ascii_digit() || c == '.' || c == ',';
    if let Some(rest) = cell.strip_prefix(['−', '–']) {
        let rest = rest.trim_start();
        return rest.starts_with(digit).then(|| format!("-{rest}"));
    }
    let enclosed = || cell.strip_prefix('(')?.strip_suffix(')');
    let inner = cell.strip_suffix(['-', '−']).or_else(enclosed)?;
    let plain = !inner.is_empty() && inner.chars().all(digit);
    plain.then(|| format!("-{inner}"))
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
pub(super) fn is_grouped(digits: &str, mark: char) -> bool {
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
    if cell.len() > 40 || !cell.starts_with(|c: char| c.is_ascii_digit() || "+-.,−–(".contains(c))
    {
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
            || number(cell, Mark::Point).is_some()
            || parse_stamp(cell, DateOrder::DayFirst).is_some())
}

/// The decimal mark of a column, from its cells; `usual` is what the rest of the file has.
pub(super) fn mark_of<'a>(cells: impl Iterator<Item = &'a str>, usual: Mark) -> Mark {
    let (mut commas, mut points) = (Groups::default(), Groups::default());
    let mut plain = Plain::default();
    for cell in cells {
        let bytes = cell.as_bytes();
        match (bytes.contains(&b','), bytes.contains(&b'.')) {
            (true, false) => commas.add(cell, ','),
            (false, true) => points.add(cell, '.'),
            (true, true) => {
                // The last of the two is the decimal mark.
                return if cell.rfind(',') > cell.rfind('.') {
                    Mark::Comma
                } else {
                    Mark::Point
                };
            }
            (false, false) => plain.add(cell),
        }
    }
    match (commas.seen > 0, points.seen > 0) {
        (false, false) | (true, true) => usual,
        (true, false) if commas.part_thousands(&plain, usual == Mark::Point) => Mark::Point,
        (true, false) => Mark::Comma,
        (false, true) if points.part_thousands(&plain, usual == Mark::Comma) => Mark::Comma,
        (false, true) => Mark::Point,
    }
}

/// Cells with one of the marks.
#[derive(Default)]
struct Groups {
    seen: usize,
    thousands: usize,
}

/// Whole numbers without any mark.
#[derive(Default)]
struct Plain {
    seen: usize,
    hundreds: usize,
    thousands: usize,
}

impl Groups {
    fn add(&mut self, cell: &str, mark: char) {
        self.seen += 1;
        self.thousands += usize::from(is_grouped(cell, mark));
    }

    /// Whether the mark parts thousands: `1.234` beside `850`. `other`: it is not the file's
    /// decimal mark. If it is, whole numbers must reach into the hundreds, and none be longer:
    /// a column of decimals is not whole below 1000 and in groups of three above.
    fn part_thousands(&self, plain: &Plain, other: bool) -> bool {
        let whole = plain.hundreds > 0 && plain.thousands == 0;
        self.seen == self.thousands && plain.seen > 0 && (other || whole)
    }
}

impl Plain {
    fn add(&mut self, cell: &str) {
        let digits = cell.trim_start_matches(['+', '-']);
        if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return;
        }
        self.seen += 1;
        self.hundreds += usize::from(digits.len() == 3);
        self.thousands += usize::from(digits.len() > 3);
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
        assert_eq!(number("850 1/min", Mark::Point), Some(850.0));
        assert_eq!(number("8501/min", Mark::Point), Some(850.0));
        assert_eq!(number("835,5/min", Mark::Comma), Some(835.5));
        assert_eq!(number("1 331,5", Mark::Comma), Some(1331.5));
        assert_eq!(number("12\u{202f}000", Mark::Point), Some(12_000.0));
        assert_eq!(number("4'343.5", Mark::Point), Some(4343.5));
        for minus in ["−5.5", "–5.5", "5.5-", "(5.5)"] {
            assert_eq!(number(minus, Mark::Point), Some(-5.5), "{minus}");
        }
        assert_eq!(number("1.5e-3", Mark::Point), Some(0.0015));
        for text in [
            "", "-", "nan", "inf", "1e999", "a1", "12:30", "4 of 5", "4 5", "1-2",
        ] {
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
        // The mark of decimals elsewhere parts thousands here.
        assert_eq!(mark(&["850", "1.234"], Mark::Point), Mark::Comma);
        assert_eq!(mark(&["850", "1,234"], Mark::Comma), Mark::Point);
        assert_eq!(mark(&["12", "1.234"], Mark::Point), Mark::Point);
        assert_eq!(mark(&["850", "1.234", "0.500"], Mark::Point), Mark::Point);
        assert_eq!(mark(&["12,5", "1"], Mark::Point), Mark::Comma);
        assert_eq!(mark(&["48.5", "48.25"], Mark::Comma), Mark::Point);
        assert_eq!(mark(&["1.234,5"], Mark::Point), Mark::Comma);
    }
}
