//! Where words go: answers to stdout, the rest to stderr.

#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::io::Write;
use std::path::{Path, PathBuf};

use chrono::{NaiveDate, NaiveDateTime};
use comfy_table::{CellAlignment, ContentArrangement, Table, presets};
use serde::Serialize;

use super::failure::Failure;
use super::{csv_charts, csv_tables};
use crate::quantity::{Measure, Units};
use crate::report::SessionPart;
use crate::stack::Prediction;
pub use crate::words::count;

use crate::stats::Estimate;
use crate::warning::{Severity, Warning};

/// Widest table where the width of the terminal is not known.
const WIDTH: u16 = 80;

/// The two streams, and whether stdout holds JSON.
pub struct Output {
    json: bool,
    units: Units,
    csv: Option<PathBuf>,
}

impl Output {
    /// Output as JSON or as text, in these units.
    ///
    /// `csv`: the folder that gets the answer's tables.
    pub fn new(json: bool, units: Units, csv: Option<PathBuf>) -> Self {
        Self { json, units, csv }
    }

    /// The answer: the document as JSON, or the text that `text` makes of it.
    pub fn answer<T: Serialize>(
        &self,
        document: &T,
        text: impl FnOnce() -> String,
    ) -> Result<(), Failure> {
        if let Some(folder) = &self.csv {
            let document = serde_json::to_value(document).map_err(|e| not_json(&e))?;
            csv_tables::write(folder, &csv_tables::tables(&document))?;
            self.say(&format!("tables: {}", folder.display()));
        }
        let out = if self.json {
            let json = serde_json::to_string_pretty(document).map_err(|e| not_json(&e))?;
            format!("{json}\n")
        } else {
            text()
        };
        // A reader that went away (`| head`) is no failure.
        let _ = std::io::stdout().write_all(out.as_bytes());
        Ok(())
    }

    /// Whether tables were asked for.
    pub fn wants_tables(&self) -> bool {
        self.csv.is_some()
    }

    /// More tables beside the answer's, where those were asked for.
    pub fn beside<T: Serialize>(&self, document: &T) -> Result<(), Failure> {
        let Some(folder) = &self.csv else {
            return Ok(());
        };
        let document = serde_json::to_value(document).map_err(|e| not_json(&e))?;
        let mut tables = csv_tables::tables(&document);
        tables.retain(|table| !table.is_answer());
        csv_tables::write(folder, &tables)
    }

    /// The numbers of the channel charts, beside the answer's tables where those were asked for.
    pub fn traces(&self, parts: &[SessionPart<'_>]) -> Result<(), Failure> {
        match &self.csv {
            Some(folder) => {
                let tables = [
                    csv_tables::traces(parts),
                    csv_charts::autocorrelations(parts),
                ];
                csv_tables::write(folder, &tables)
            }
            None => Ok(()),
        }
    }

    /// The numbers of a stack's maps, beside the answer's tables where those were asked for.
    pub fn maps(&self, prediction: &Prediction) -> Result<(), Failure> {
        match &self.csv {
            Some(folder) => csv_tables::write(folder, &[csv_charts::maps(prediction)]),
            None => Ok(()),
        }
    }

    /// A failure: as JSON on stdout when that was asked for, and always on stderr.
    pub fn failure(&self, failure: &Failure) {
        if self.json {
            let document = serde_json::json!({
                "error": { "message": failure.message, "hint": failure.hint }
            });
            println!("{document:#}");
        }
        self.complaint(failure);
    }

    /// A failure that does not end the verb, on stderr.
    pub fn complaint(&self, failure: &Failure) {
        eprintln!("error: {}\n\nhint: {}", failure.message, failure.hint);
    }

    /// Warnings, on stderr; notes only when there is nothing worse to drown.
    pub fn warnings(&self, warnings: &[Warning]) {
        for warning in warnings {
            let word = match warning.severity {
                Severity::Note => "note",
                Severity::Caution => "caution",
                Severity::Disqualifies => "disqualifies",
            };
            let message = self.units.prose(&warning.message);
            eprintln!("{word}: {message} [{}]", warning.id);
        }
    }

    /// A word on what is going on, on stderr.
    pub fn say(&self, text: &str) {
        eprintln!("{text}");
    }
}

fn not_json(error: &serde_json::Error) -> Failure {
    Failure::new(
        format!("the answer cannot be written as JSON: {error}"),
        "please report it",
    )
}

/// A plain table: no lines, columns apart by two blanks, numbers to the right.
pub fn table(header: &[&str], rows: Vec<Vec<String>>) -> String {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_header(header.to_vec());
    table.set_content_arrangement(ContentArrangement::Dynamic);
    if table.width().is_none() {
        table.set_width(WIDTH);
    }
    let numeric: Vec<bool> = (0..header.len())
        .map(|i| {
            rows.iter()
                .all(|row| row.get(i).is_none_or(|cell| is_figure(cell)))
        })
        .collect();
    table.add_rows(rows);
    for (i, column) in table.column_iter_mut().enumerate() {
        column.set_padding((0, 2));
        if numeric[i] {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
        .lines()
        .map(|line| format!("{}\n", line.trim_end()))
        .collect()
}

fn is_figure(cell: &str) -> bool {
    cell == "-" || cell.starts_with(|c: char| c.is_ascii_digit() || "+-−".contains(c))
}

/// A figure with its interval, or a dash.
pub fn figure(estimate: &Estimate, decimals: usize) -> String {
    match estimate.known() {
        Some(i) => format!(
            "{:.decimals$} ({:.decimals$}..{:.decimals$})",
            i.estimate, i.low, i.high
        ),
        None => "-".to_owned(),
    }
}

/// The same in the units printed.
pub fn told(units: Units, measure: Measure, estimate: &Estimate, decimals: usize) -> String {
    match estimate.known() {
        Some(i) => {
            let [middle, low, high] = [i.estimate, i.low, i.high].map(|v| units.of(measure, v));
            format!("{middle:.decimals$} ({low:.decimals$}..{high:.decimals$})")
        }
        None => "-".to_owned(),
    }
}

/// A number, or a dash.
pub fn number(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |v| format!("{v:.decimals$}"))
}

/// A session's day and the time of its first row, as lists have them.
pub fn day_and_start(day: Option<NaiveDate>, start: Option<NaiveDateTime>) -> [String; 2] {
    [
        day.map_or_else(|| "unknown".to_owned(), |d| d.to_string()),
        start.map_or_else(|| "-".to_owned(), |t| t.format("%H:%M").to_string()),
    ]
}

/// Writes a file, with the folders it needs.
pub fn write_file(path: &Path, text: &str) -> Result<(), Failure> {
    if let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder).map_err(|e| Failure::file("make", folder, &e))?;
    }
    std::fs::write(path, text).map_err(|e| Failure::file("write", path, &e))
}

/// Sentences in lines of up to 78 characters.
pub fn wrapped(text: &str) -> String {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let line = lines.len() - 1;
        if lines[line].chars().count() + word.chars().count() > 77 {
            lines.push(word.to_owned());
        } else {
            if !lines[line].is_empty() {
                lines[line].push(' ');
            }
            lines[line].push_str(word);
        }
    }
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_plain_and_numbers_stand_to_the_right() {
        let text = table(
            &["session", "peak, °C"],
            vec![
                vec!["s1".into(), "101.0".into()],
                vec!["s12".into(), "99.5".into()],
            ],
        );
        assert_eq!(
            text,
            "session  peak, °C\ns1          101.0\ns12          99.5\n"
        );
    }
}
