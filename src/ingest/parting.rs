//! A text parted into lines and fields, a long one in pieces at once.

use csv::{ReaderBuilder, StringRecord};
use rayon::prelude::*;

use super::rows::{Piece, Rows};

/// A line of the file, parted into fields.
#[derive(Debug, Clone)]
pub(super) struct Line {
    /// Its number in the file, from 1.
    pub number: usize,
    /// Its fields.
    pub fields: StringRecord,
}

/// Lines looked at to find out how the file is written.
const SAMPLE_LINES: usize = 400;
/// Bytes of the pieces that are parted at once.
const PIECE: usize = 1 << 22;

/// Parts `text` at `delimiter`. Blank lines are left out; line numbers are those of the file.
pub(super) fn lines(text: &str, delimiter: char) -> Vec<Line> {
    read_lines(text, delimiter, usize::MAX).0
}

/// The same, of which only the first `above` are lines of their own.
pub(super) fn read_lines(text: &str, delimiter: char, above: usize) -> (Vec<Line>, Rows) {
    // A heading may be broken over two lines within quotes. But a quote that never closes (an
    // inch mark, say) swallows whole lines: then quotes mean nothing.
    let quotes = text.contains('"');
    if quotes && let Some((lines, rows)) = records(text, delimiter, Quotes::Heeded, above) {
        return (lines, rows.into());
    }
    let quotes = if quotes { Quotes::Void } else { Quotes::Absent };
    // Every line is a record now, so that pieces of the text can be parted at once.
    let read: Vec<_> = pieces(text)
        .into_par_iter()
        .enumerate()
        .map(|(n, piece)| {
            let above = if n == 0 { above } else { 0 };
            // Only heeded quotes swallow lines.
            let read = records(piece, delimiter, quotes, above);
            let (lines, rows) = read.unwrap_or_else(|| (Vec::new(), Piece::of_text(0)));
            (lines, rows, line_ends(piece))
        })
        .collect();
    let (mut lines, mut pieces) = (Vec::new(), Vec::new());
    for (above, rows, line_ends) in read {
        lines.extend(above);
        pieces.push((rows, line_ends));
    }
    (lines, Rows::of(pieces))
}

/// `text` in pieces that end with a line; the lines above the data are in the first.
fn pieces(text: &str) -> Vec<&str> {
    let mut pieces = Vec::new();
    let (mut rest, mut least) = (text, sample(text).len().max(PIECE));
    while let Some(end) = rest.as_bytes().get(least..).and_then(first_line_end) {
        let (piece, after) = rest.split_at(least + end + 1);
        pieces.push(piece);
        (rest, least) = (after, PIECE);
    }
    pieces.push(rest);
    pieces
}

fn first_line_end(bytes: &[u8]) -> Option<usize> {
    bytes.iter().position(|b| *b == b'\n')
}

fn line_ends(text: &str) -> usize {
    text.bytes().map(|b| usize::from(b == b'\n')).sum()
}

/// The lines that tell how the file is written.
pub(super) fn sample(text: &str) -> &str {
    let mut ends = text.match_indices('\n');
    let end = ends.nth(SAMPLE_LINES).map_or(text.len(), |(at, _)| at);
    &text[..end]
}

/// What quotes are in a text.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Quotes {
    /// Around fields.
    Heeded,
    /// There, but without a meaning.
    Void,
    /// Not there.
    Absent,
}

/// `None`: quotes are heeded and one of them swallows whole lines.
fn records(
    text: &str,
    delimiter: char,
    quotes: Quotes,
    above: usize,
) -> Option<(Vec<Line>, Piece)> {
    let quoting = quotes == Quotes::Heeded;
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter as u8)
        .quoting(quoting)
        .from_reader(text.as_bytes());
    let bytes = text.as_bytes();
    let (mut lines, mut rows) = (Vec::new(), Piece::of_text(text.len()));
    let mut record = StringRecord::new();
    while let Ok(true) = reader.read_record(&mut record) {
        let (mut at, mut number) = record
            .position()
            .map_or((0, 1), |p| (p.byte() as usize, p.line() as usize));
        // The reader's position lies before the blank lines that it skipped.
        while bytes.get(at) == Some(&b'\n') {
            at += 1;
            number += 1;
        }
        let broken = quoting && record.as_slice().contains('\n');
        if broken {
            if record
                .iter()
                .any(|f| f.contains('\n') && f.contains(delimiter))
            {
                return None;
            }
            record = record
                .iter()
                .map(|field| field.replace('\n', " "))
                .collect();
        }
        let clean = |field| trimmed(field, quotes);
        if record.iter().all(|field| clean(field).is_empty()) {
            continue;
        }
        if lines.len() < above {
            let fields = record.iter().map(clean).collect();
            lines.push(Line { number, fields });
        } else if record.iter().all(|field| clean(field).len() == field.len()) {
            rows.push_record(number, &record);
        } else {
            rows.push(number, record.iter().map(clean));
        }
    }
    Some((lines, rows))
}

/// A field without blanks around it, and without quotes that mean nothing.
fn trimmed(field: &str, quotes: Quotes) -> &str {
    let field = match field.as_bytes() {
        [b'=' | b'\'', ..] => undressed(field),
        [first, .., last] if first.is_ascii_graphic() && last.is_ascii_graphic() => field,
        _ => field.trim(),
    };
    match quotes {
        Quotes::Void => field.trim_matches('"'),
        Quotes::Heeded | Quotes::Absent => field,
    }
}

/// A field without what spreadsheets put around a text: `="12.3"`, `'12.3`.
fn undressed(field: &str) -> &str {
    let field = field.trim();
    let formula = field
        .strip_prefix("=\"")
        .and_then(|rest| rest.strip_suffix('"'));
    formula
        .or_else(|| field.strip_prefix('\''))
        .unwrap_or(field)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn line_numbers_survive_blank_lines() {
        let numbers: Vec<usize> = lines("\na,b\n\n\n1,2\n , \n3,4", ',')
            .iter()
            .map(|line| line.number)
            .collect();
        assert_eq!(numbers, [2, 5, 7]);
    }

    /// The rows of a long text are those of its lines, whichever pieces it was parted in.
    #[test]
    fn a_long_text_is_read_in_pieces_as_in_one() {
        let line = |i: usize| match i % 7 {
            0 => String::new(),
            3 => format!("{i}, {}\u{b0}", i * i),
            _ => format!("{i},{},x", "0".repeat(i % 60)),
        };
        let text: String = (0..200_000).map(|i| line(i) + "\n").collect();
        assert!(pieces(&text).len() > 1 && pieces(&text).concat() == text);
        let (above, rows) = read_lines(&text, ',', 2);
        assert_eq!((above.len(), above[1].number), (2, 3));
        let filled: Vec<usize> = (0..200_000).filter(|i| i % 7 != 0).skip(2).collect();
        assert_eq!(rows.len(), filled.len());
        for (row, i) in filled.into_iter().enumerate() {
            assert_eq!(rows.number(row), i + 1);
            let cells: Vec<&str> = rows.cells(row).collect();
            assert_eq!(cells.join(","), line(i).replace(' ', ""));
        }
    }

    #[test]
    fn an_open_quote_swallows_nothing() {
        let text = "t,\"Hg,v\n1,2,3\n4,5,6\n";
        assert_eq!(lines(text, ',').len(), 3);
    }

    #[test]
    fn a_heading_may_be_broken_over_two_lines() {
        let found = lines("t,\"Speed\n(km/h)\",v\n1,2,3\n4,5,6\n", ',');
        assert_eq!((found.len(), found[1].number), (3, 3));
        assert_eq!(&found[0].fields[1], "Speed (km/h)");
    }
}
