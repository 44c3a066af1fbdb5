//! A decoded file as columns with names, and rows that remember their line.

use std::borrow::Cow;

use super::blanks::{tabbed, unquoted};
use super::cell::{Mark, mark_of};
use super::decode::{decode, repair_double_encoding};
use super::dialect::{Dialect, detect};
use super::error::IngestError;
use super::heads::{Column, columns, preamble};
use super::limit_rows::without_limits;
use super::no_table::{no_rows, no_table};
use super::parting::{Line, read_lines};
use super::rows::Rows;
use super::second_table::one_table;
use super::stacked::Border;
use super::time_text::DateOrder;
use super::unpack::unpack;
use super::whole_rows::{starts_with_value, whole_rows};
use crate::warning::Warning;

/// A file as rows and columns of text.
#[derive(Debug, Clone)]
pub(super) struct Table {
    pub file: String,
    pub encoding: &'static str,
    pub delimiter: char,
    pub mark: Mark,
    /// Lines above the first data row.
    pub header_lines: usize,
    pub columns: Vec<Column>,
    pub rows: Rows,
    /// `name; value` pairs above the header.
    pub preamble: Vec<(String, String)>,
    /// Lines of text between the data rows.
    pub asides: Vec<Line>,
    /// Which of how many sessions of the file this is, where there are several.
    pub part: Option<(usize, usize)>,
    /// The preamble is of this session, not of the first of the file.
    pub own_preamble: bool,
    /// Which of day and month comes first, where the user says so.
    pub date_order: Option<DateOrder>,
    /// Data rows in the file, the unusable ones included.
    pub rows_read: usize,
    pub warnings: Vec<Warning>,
}

/// A text that no delimiter parts, as one that a delimiter does, how, and what parted it.
fn otherwise(text: &str) -> Option<(Cow<'_, str>, Dialect, char)> {
    let read = |text: String, delimiter: Option<char>| {
        let dialect = detect(&text)?;
        let delimiter = delimiter.unwrap_or(dialect.delimiter);
        Some((Cow::Owned(text), dialect, delimiter))
    };
    let quoted = unquoted(text).and_then(|text| read(text, None));
    quoted.or_else(|| read(tabbed(text)?, Some(' ')))
}

/// Id of the note that a file holds several sessions.
const SEVERAL: &str = "several-sessions";

/// Rows that a column's decimal mark is judged from.
const MOST_JUDGED: usize = 20_000;

impl Table {
    /// Reads `bytes` as a table.
    pub fn read(
        file: &str,
        bytes: &[u8],
        date_order: Option<DateOrder>,
    ) -> Result<Self, IngestError> {
        let mut warnings = Vec::new();
        let bytes = unpack(file, bytes, &mut warnings)?;
        if bytes.iter().all(u8::is_ascii_whitespace) {
            return Err(IngestError::Empty {
                file: file.to_owned(),
            });
        }
        let decoded = decode(&bytes);
        if decoded.damaged_lines > 0 {
            let all_lines = decoded.text.lines().count();
            if 2 * decoded.damaged_lines > all_lines {
                return Err(no_table(file, "it holds binary data"));
            }
            warnings.push(Warning::caution(
                "damaged-lines",
                format!(
                    "{} of {all_lines} lines held binary debris and were left out",
                    decoded.damaged_lines
                ),
            ));
        }
        let (text, dialect, delimiter) = match detect(&decoded.text) {
            Some(dialect) => {
                let delimiter = dialect.delimiter;
                (decoded.text, dialect, delimiter)
            }
            None => otherwise(&decoded.text).ok_or_else(|| no_rows(file, &decoded.text))?,
        };
        if text.len() > u32::MAX as usize {
            return Err(no_table(file, "it is larger than 4 GiB"));
        }
        let (all, rows) = read_lines(&text, dialect.delimiter, dialect.data);
        if rows.len() == 0 {
            return Err(no_table(file, "there are no data rows"));
        }
        drop(text);
        let columns = columns(&all, &dialect);
        let preamble = preamble(all[..dialect.header.first().copied().unwrap_or(all.len())].iter());
        let rows_read = rows.len();
        let (rows, columns) = one_table(rows, columns, &mut warnings);
        if rows.len() == 0 {
            return Err(no_table(file, "there are no data rows"));
        }
        let header_lines = rows.number(0) - 1;
        let (rows, asides) = whole_rows(file, rows, columns.len(), &mut warnings)?;
        let rows = without_limits(rows, columns.len(), dialect.mark, &mut warnings);
        Ok(Self {
            file: file.to_owned(),
            encoding: decoded.encoding,
            delimiter,
            mark: dialect.mark,
            header_lines,
            columns,
            rows,
            preamble,
            asides,
            part: None,
            own_preamble: true,
            date_order,
            rows_read,
            warnings,
        })
    }

    /// The parts of this table, parted before these rows.
    pub fn split(self, borders: &[Border]) -> Vec<Self> {
        let of = borders.len() + 1;
        let rows = || borders.iter().map(|border| border.row);
        let starts = std::iter::once(0).chain(rows());
        let ends = rows().chain([self.rows.len()]);
        let mut parts = Vec::new();
        for (n, (start, end)) in starts.zip(ends).enumerate() {
            let rows = self.rows.filtered(|row| (start..end).contains(&row));
            let own = if n == 0 {
                Vec::new()
            } else {
                self.told_above(start)
            };
            let (mut warnings, note) = match n.checked_sub(1) {
                None => (self.warnings.clone(), self.told_parts(borders)),
                Some(before) => (Vec::new(), self.told_part(&borders[before], n + 1, of)),
            };
            warnings.push(note);
            parts.push(Self {
                file: format!("{} ({} of {of})", self.file, n + 1),
                columns: self.columns.clone(),
                own_preamble: n == 0 || !own.is_empty(),
                preamble: if own.is_empty() {
                    self.preamble.clone()
                } else {
                    own
                },
                asides: Vec::new(),
                part: Some((n, of)),
                rows_read: rows.len(),
                rows,
                warnings,
                ..self
            });
        }
        parts
    }

    /// What is told of all sessions of the file, with the first of them.
    fn told_parts(&self, borders: &[Border]) -> Warning {
        const SHOWN: usize = 12;
        let told = |border: &Border| {
            let line = self.rows.number(border.row);
            format!("{line} ({})", border.why.words())
        };
        let mut lines: Vec<String> = std::iter::once(self.rows.number(0).to_string())
            .chain(borders.iter().take(SHOWN).map(told))
            .collect();
        if borders.len() > SHOWN {
            lines.push(format!("and {} more", borders.len() - SHOWN));
        }
        let message = format!(
            "the file holds {} sessions, which begin on lines {}",
            borders.len() + 1,
            lines.join(", ")
        );
        Warning::note(SEVERAL, message)
    }

    /// What is told of a further session of the file.
    fn told_part(&self, border: &Border, n: usize, of: usize) -> Warning {
        let (line, why) = (self.rows.number(border.row), border.why.words());
        let message = format!("session {n} of {of} of the file begins on line {line} ({why})");
        Warning::note(SEVERAL, message)
    }

    /// The pairs of name and value that stand right above a row, between the sessions of a file.
    fn told_above(&self, row: usize) -> Vec<(String, String)> {
        let is_text = |row: &usize| !starts_with_value(self.rows.cell(*row, 0));
        let above = (0..row).rev().find(|row| !is_text(row));
        let lines = above.map_or(0, |row| self.rows.number(row))..self.rows.number(row);
        let between = self
            .asides
            .iter()
            .filter(|line| lines.contains(&line.number));
        preamble(between)
    }

    /// The same table with the last row first.
    pub fn reversed(mut self) -> Self {
        self.warnings.push(Warning::caution(
            "rows-reversed",
            "the rows run back in time: they were read from the last to the first",
        ));
        let rows = self.rows.reversed();
        Self { rows, ..self }
    }

    /// The same table in another shape, with a note that says so.
    pub fn reshaped(mut self, columns: Vec<Column>, rows: Rows, note: Warning) -> Self {
        self.warnings.push(note);
        Self {
            columns,
            rows_read: rows.len(),
            rows,
            ..self
        }
    }

    /// The file's name, without which of its sessions this is.
    pub fn source(&self) -> &str {
        match self.part {
            Some(_) => self
                .file
                .rsplit_once(" (")
                .map_or(&self.file, |(name, _)| name),
            None => &self.file,
        }
    }

    /// The file's line that the last row stands on.
    pub fn last_line(&self) -> usize {
        match self.rows.len() {
            0 => 0,
            rows => self.rows.number(rows - 1),
        }
    }

    /// A cell's text; empty where a row is short.
    pub fn cell(&self, row: usize, column: usize) -> &str {
        self.rows.cell(row, column)
    }

    /// The decimal mark of a column.
    pub fn mark_of(&self, column: usize) -> Mark {
        // Some rows, spread evenly, tell it as well as all.
        let every = self.rows.len() / MOST_JUDGED + 1;
        let rows = (0..self.rows.len()).step_by(every);
        mark_of(rows.map(|row| self.cell(row, column)), self.mark)
    }

    /// The columns' names.
    pub fn names(&self) -> Vec<String> {
        self.columns
            .iter()
            .map(|column| column.name.clone())
            .collect()
    }

    /// The column of that name, whatever the case and however the degree sign is encoded.
    pub fn column(&self, name: &str) -> Option<usize> {
        let wanted = plain(name);
        let exact = self
            .columns
            .iter()
            .position(|column| column.name == name.trim());
        exact.or_else(|| {
            self.columns
                .iter()
                .position(|column| plain(&column.name) == wanted)
        })
    }
}

fn plain(name: &str) -> String {
    repair_double_encoding(name.trim()).to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn torn_rows_are_left_out_and_lines_remembered() {
        let table = Table::read(
            "a.csv",
            b"t,v,T\n0,1,80\n1,2,80\n2,9,9,9\n3,1,80\n\n4,1,80\n5,1",
            None,
        )
        .unwrap();
        let numbers: Vec<usize> = (0..table.rows.len())
            .map(|row| table.rows.number(row))
            .collect();
        assert_eq!(numbers, [2, 3, 5, 7]);
        let ids: Vec<&str> = table.warnings.iter().map(|w| w.id.as_str()).collect();
        assert_eq!(ids, ["rows-too-long", "rows-too-short"]);
        assert_eq!(table.rows_read, 6);
    }

    #[test]
    fn trailing_delimiters_make_no_column() {
        let table = Table::read("a.csv", b"t;v;T;\n0;1;80;\n1;2;80;\n2;3;80;\n", None).unwrap();
        assert_eq!(table.names(), ["t", "v", "T"]);
        let rows_only = Table::read("a.csv", b"t;v;T\n0;1;80;\n1;2;80;\n2;3;80;\n", None).unwrap();
        assert_eq!(rows_only.names(), ["t", "v", "T"]);
    }

    #[test]
    fn groups_prefix_names_that_are_not_unique() {
        let text =
            "Engine;;Outside;\nTime;Temp;Wind;Temp\ns;°C;m/s;°C\n0;80;1;20\n1;80;2;20\n2;81;2;20\n";
        let table = Table::read("a.csv", text.as_bytes(), None).unwrap();
        assert_eq!(
            table.names(),
            ["Time", "Engine Temp", "Wind", "Outside Temp"]
        );
        assert_eq!(table.columns[1].unit_text.as_deref(), Some("°C"));
        assert_eq!(table.header_lines, 3);
    }

    #[test]
    fn commas_for_both_purposes_are_refused_with_advice() {
        let text = "t,v,T\n0,0,10,5,80,1\n0,1,10,5,80,1\n0,2,10,5,80,1\n";
        let error = Table::read("a.csv", text.as_bytes(), None).unwrap_err();
        assert!(
            matches!(
                error,
                IngestError::Ragged {
                    line: 2,
                    expected: 3,
                    found: 6,
                    ..
                }
            ),
            "{error}"
        );
    }
}
