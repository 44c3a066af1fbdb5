//! How a table is written: what parts its columns, where its header ends, its decimal mark.

use csv::StringRecord;

use super::cell::{Mark, is_blank, is_grouped, looks_like_value};
use super::parting::{Line, lines, sample};
use super::unit_text::is_unit_text;

/// How a table is written.
#[derive(Debug, Clone)]
pub(super) struct Dialect {
    /// What stands between two columns.
    pub delimiter: char,
    /// The usual decimal mark.
    pub mark: Mark,
    /// Indices (into the sampled lines) of the header rows; empty where there is no header.
    pub header: Vec<usize>,
    /// Which of the header rows names the columns.
    pub names: Option<usize>,
    /// Which of the header rows holds units.
    pub units: Option<usize>,
    /// Index of the first data row.
    pub data: usize,
    /// Fields in most data rows.
    pub width: usize,
}

const DELIMITERS: [char; 4] = [',', ';', '\t', '|'];
const MOST_HEADER_ROWS: usize = 3;
/// Cells of a row in the long form: time, device, name, value, unit, and one to spare.
const LONG_CELLS: usize = 6;

/// Finds out how `text` is written. `None`: in no way that makes columns of it.
pub(super) fn detect(text: &str) -> Option<Dialect> {
    let sample = sample(text);
    DELIMITERS
        .into_iter()
        .filter(|delimiter| sample.contains(*delimiter))
        .filter_map(|delimiter| {
            let lines = lines(sample, delimiter);
            let (width, score) = score(&lines)?;
            Some((score, delimiter, width, lines))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .and_then(|(_, delimiter, width, lines)| describe(&lines, delimiter, width))
}

/// Fields in most lines, and how much the later lines look like data when parted this way.
fn score(lines: &[Line]) -> Option<(usize, f64)> {
    let tail = &lines[lines.len().saturating_sub(1) / 2..];
    let mut counts = std::collections::BTreeMap::<usize, usize>::new();
    for line in tail {
        *counts.entry(line.fields.len()).or_default() += 1;
    }
    let (&width, &same) = counts
        .iter()
        .filter(|(w, _)| **w >= 2)
        .max_by_key(|(_, n)| **n)?;
    let cells = tail
        .iter()
        .filter(|line| line.fields.len() == width)
        .flat_map(|line| line.fields.iter())
        .filter(|cell| !is_blank(cell));
    let (mut seen, mut values) = (0usize, 0usize);
    for cell in cells {
        seen += 1;
        values += usize::from(looks_like_value(cell));
    }
    let share = values as f64 / seen.max(1) as f64;
    let consistent = same as f64 / tail.len() as f64;
    // More columns decide between readings that are equally good.
    Some((width, share * consistent + 1e-4 * (width as f64).ln()))
}

fn describe(lines: &[Line], delimiter: char, width: usize) -> Option<Dialect> {
    let data = first_data_row(lines, width)?;
    let header = header_rows(&lines[..data], width);
    let units = units_row(lines, &header);
    let names = header
        .iter()
        .copied()
        .filter(|at| Some(*at) != units)
        .max_by_key(|at| (distinct(&lines[*at].fields), std::cmp::Reverse(*at)));
    let mark = usual_mark(&lines[data..]);
    Some(Dialect {
        delimiter,
        mark,
        header,
        names,
        units,
        data,
        width,
    })
}

/// The first of a run of rows that look like data.
fn first_data_row(lines: &[Line], width: usize) -> Option<usize> {
    let is_data: Vec<bool> = lines
        .iter()
        .map(|line| is_data_row(&line.fields, width))
        .collect();
    (0..lines.len()).find(|&at| {
        let next = &is_data[at + 1..is_data.len().min(at + 4)];
        let following = next.iter().filter(|d| **d).count();
        is_data[at] && following >= next.len().min(2)
    })
}

fn is_data_row(fields: &StringRecord, width: usize) -> bool {
    if fields.len() + 1 < width || fields.len() > width + 1 {
        return false;
    }
    let cells: Vec<&str> = fields.iter().filter(|cell| !is_blank(cell)).collect();
    let values = cells.iter().filter(|cell| looks_like_value(cell)).count();
    // One reading a row has its device, its name and its unit beside it.
    let long = cells.len() <= LONG_CELLS && fields.get(0).is_some_and(looks_like_value);
    let enough = values >= 2 && (2 * values >= cells.len() || long);
    values > 0 && (values == cells.len() || enough)
}

/// The rows right above the data that are as wide as the table; what lies above is preamble.
fn header_rows(above: &[Line], width: usize) -> Vec<usize> {
    let mut rows: Vec<usize> = Vec::new();
    let mut named = false;
    let above = without_remark(above, width);
    for (at, line) in above.iter().enumerate().rev().take(MOST_HEADER_ROWS) {
        let below = rows.first().map(|below| &above[*below]);
        if below.is_some_and(|below| below.number != line.number + 1) {
            break;
        }
        let filled = filled(&line.fields);
        let units = line.fields.len() + 1 >= width && is_units_row(&line.fields);
        let wide = filled >= 2 && filled * 10 >= width * 6;
        // Settings may be as wide as the table; names and groups are no numbers.
        let values = line.fields.iter().any(looks_like_value);
        // Words right above the data are its header even where they are too few.
        let words = rows.is_empty() && filled >= 2 && !values;
        // Above the names only a full row, or a padded one that groups the columns, belongs to it.
        let same_width = below.is_some_and(|below| below.fields.len() == line.fields.len());
        let full = same_width && filled == line.fields.len() && !values;
        let groups = same_width
            && width >= 4
            && !values
            && line.fields.iter().skip(2).any(|cell| !cell.is_empty());
        if !(units || if named { full || groups } else { wide || words }) {
            break;
        }
        named |= !units;
        rows.insert(0, at);
    }
    rows
}

/// The lines above the data without a single text between header and data, such as `Lap 1`.
fn without_remark(above: &[Line], width: usize) -> &[Line] {
    match above {
        [head @ .., remark]
            if width > 2
                && filled(&remark.fields) == 1
                && !is_units_row(&remark.fields)
                && head.last().is_some_and(|names| {
                    names.number + 1 == remark.number && filled(&names.fields) * 10 >= width * 6
                }) =>
        {
            head
        }
        _ => above,
    }
}

fn units_row(lines: &[Line], header: &[usize]) -> Option<usize> {
    if header.len() < 2 {
        return None;
    }
    header
        .iter()
        .copied()
        .rev()
        .find(|at| is_units_row(&lines[*at].fields))
}

fn is_units_row(fields: &StringRecord) -> bool {
    let cells: Vec<&str> = fields.iter().filter(|cell| !cell.is_empty()).collect();
    let units = cells.iter().filter(|cell| is_unit_text(cell)).count();
    units >= 1 && 2 * units > cells.len()
}

fn filled(fields: &StringRecord) -> usize {
    fields.iter().filter(|cell| !cell.is_empty()).count()
}

/// Different texts in a row: a row of types or groups repeats itself, a row of names does not.
fn distinct(fields: &StringRecord) -> usize {
    let texts: std::collections::BTreeSet<&str> = fields.iter().filter(|f| !f.is_empty()).collect();
    texts.len()
}

/// The decimal mark that most cells of a sample have. Where a mark could part thousands it
/// counts only if no other cell tells.
fn usual_mark(rows: &[Line]) -> Mark {
    let (mut sure, mut open) = ([0usize; 2], [0usize; 2]);
    for cell in rows.iter().flat_map(|row| row.fields.iter()) {
        let number = cell
            .bytes()
            .all(|b| b.is_ascii_digit() || b"+-.,eE".contains(&b));
        for (at, mark, other) in [(0, ',', '.'), (1, '.', ',')] {
            if number && cell.matches(mark).count() == 1 && !cell.contains(other) {
                let counts = if is_grouped(cell, mark) {
                    &mut open
                } else {
                    &mut sure
                };
                counts[at] += 1;
            }
        }
    }
    let [commas, points] = if sure == [0, 0] { open } else { sure };
    if commas > points {
        Mark::Comma
    } else {
        Mark::Point
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn delimiter_mark_and_header_are_found() {
        let cases = [
            (
                "t;v;T\n0,0;10,5;80,1\n0,1;11,5;80,2\n0,2;12,5;80,3\n",
                ';',
                Mark::Comma,
                1,
            ),
            (
                "t,v,T\n0.0,10.5,80\n0.1,11.5,80\n0.2,12,80\n",
                ',',
                Mark::Point,
                1,
            ),
            (
                "t\tv\tT\n0,0\t10,5\t80\n0,1\t11,5\t80\n",
                '\t',
                Mark::Comma,
                1,
            ),
            ("t|v|T\n0.0|10.5|80\n0.1|11.5|80\n", '|', Mark::Point, 1),
            (
                "Date;04.05.2024\nDriver;A\n\nt;v;T\ns;km/h;°C\n0;1;80\n1;2;80\n2;3;80\n",
                ';',
                Mark::Point,
                2,
            ),
        ];
        for (text, delimiter, mark, header) in cases {
            let found = detect(text).unwrap();
            assert_eq!(
                (found.delimiter, found.mark, found.header.len()),
                (delimiter, mark, header),
                "{text}"
            );
        }
    }

    #[test]
    fn prose_is_no_table() {
        assert!(detect("Dear all,\nplease find the log attached.\nYours, me\n").is_none());
    }
}
