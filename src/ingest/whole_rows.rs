//! The rows that fit the header. The others are left out, and that is said.

use rayon::prelude::*;

use super::cell::looks_like_value;
use super::error::IngestError;
use super::parting::Line;
use super::rows::Rows;
use crate::warning::Warning;
use crate::words::{count, quoted};

/// Short rows are torn ones where they are rarer than this; else the logger leaves blanks out.
const TORN_SHARE: f64 = 0.05;

/// Leaves out rows that do not fit the header, and says how many. Lines of text among them are
/// handed back.
pub(super) fn whole_rows(
    file: &str,
    rows: Rows,
    width: usize,
    warnings: &mut Vec<Warning>,
) -> Result<(Rows, Vec<Line>), IngestError> {
    let is_long = |row: &usize| {
        rows.width(*row) > width && rows.cells(*row).skip(width).any(|cell| !cell.is_empty())
    };
    let mut asides: Vec<usize> = (0..rows.len())
        .into_par_iter()
        .filter(|row| is_aside(&rows, *row, width))
        .collect();
    // Where they are many, rows begin with a word.
    if asides.len() as f64 >= TORN_SHARE * rows.len() as f64 {
        asides.clear();
    }
    let is_aside = |row: &usize| asides.binary_search(row).is_ok();
    let is_short = |row: &usize| rows.width(*row) < width && !is_aside(row);
    let all = || (0..rows.len()).into_par_iter();
    let (long, short) = (
        all().filter(is_long).count(),
        all().filter(is_short).count(),
    );
    let keep_short = short as f64 >= TORN_SHARE * rows.len() as f64 && rows.len() > 20;
    if 2 * long > rows.len()
        && let Some(first) = all().find_first(is_long)
    {
        return Err(IngestError::Ragged {
            file: file.to_owned(),
            line: rows.number(first),
            expected: width,
            found: rows.width(first),
        });
    }
    if let Some(&first) = asides.first() {
        let text: String = rows.cell(first, 0).chars().take(40).collect();
        warnings.push(Warning::note(
            "text-lines",
            format!(
                "left out: {} of text between the data rows, the first ({}) on line {}",
                count(asides.len(), "line"),
                quoted(&text),
                rows.number(first)
            ),
        ));
    }
    let mut told = |id: &str, count: usize, what: &str, example: Option<usize>| {
        if let Some(example) = example {
            let at = rows.number(example);
            warnings.push(Warning::note(
                id,
                match count {
                    1 => format!("1 row {what} (line {at}) was left out"),
                    _ => format!("{count} rows {what} (the first on line {at}) were left out"),
                },
            ));
        }
    };
    let what = "with more fields than the header";
    told("rows-too-long", long, what, all().find_first(is_long));
    if !keep_short {
        told(
            "rows-too-short",
            short,
            "cut short",
            all().find_first(is_short),
        );
    }
    let line = |row: &usize| Line {
        number: rows.number(*row),
        fields: rows.cells(*row).collect(),
    };
    let lines = asides.iter().map(line).collect();
    if long == 0 && asides.is_empty() && (keep_short || short == 0) {
        return Ok((rows, lines));
    }
    let kept = |row: usize| !is_aside(&row) && !is_long(&row) && (keep_short || !is_short(&row));
    Ok((rows.filtered(kept), lines))
}

/// Whether a row is a line of text, such as a remark, `Lap 3` or `Date,2031-05-18`: it begins with
/// a word, and holds hardly more. A table of two or three columns has no room for that.
fn is_aside(rows: &Rows, row: usize, width: usize) -> bool {
    let first = rows.cell(row, 0);
    if width < 4 || first.is_empty() || starts_with_value(first) {
        return false;
    }
    let filled = rows.cells(row).filter(|cell| !cell.is_empty()).count();
    // A remark may hold the delimiter.
    filled <= 2 || (first.starts_with(['#', '%']) || first.starts_with("//"))
}

/// Whether a row that begins with this cell can be one of data.
pub(super) fn starts_with_value(first: &str) -> bool {
    match first.as_bytes().first() {
        None => true,
        Some(b) if b.is_ascii_digit() || b"+-.,".contains(b) => true,
        Some(b) if b.is_ascii_alphabetic() || b"#%/".contains(b) => false,
        Some(_) => looks_like_value(first),
    }
}
