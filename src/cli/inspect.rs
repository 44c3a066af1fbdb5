//! `heatbook inspect`: how files would be read.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::failure::Failure;
use super::output::{count, number, table};
use super::reading::Reading;
use super::{Context, Outcome, trace_text};
use crate::ingest::{FileReport, inspect};
use crate::laps::Laps;
use crate::quantity::Units;
use crate::warning::Warning;

/// Arguments of `inspect`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Log files
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    #[command(flatten)]
    reading: Reading,
}

/// A file's report, and the laps in it.
#[derive(Debug, Serialize)]
struct Looked {
    #[serde(flatten)]
    report: FileReport,
    laps: Option<Laps>,
}

#[derive(Debug, Serialize)]
struct Document {
    files: Vec<Looked>,
    warnings: Vec<Warning>,
}

/// Looks at every file; changes nothing.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let options = arguments.reading.options()?;
    let files: Vec<FileReport> = arguments
        .files
        .iter()
        .flat_map(|path| inspect(path, &options))
        .collect();
    let unreadable = files.iter().filter(|f| no_table(f)).count();
    if unreadable == files.len() {
        let first = &files[0];
        return Err(Failure::new(
            first
                .message
                .clone()
                .unwrap_or_else(|| format!("{}: cannot be read", first.file)),
            first
                .hint
                .clone()
                .unwrap_or_else(|| "name a CSV file".to_owned()),
        ));
    }
    for file in files.iter().filter(|f| no_table(f)) {
        context.output.complaint(&Failure::new(
            file.message.clone().unwrap_or_default(),
            file.hint.clone().unwrap_or_default(),
        ));
    }
    arguments.reading.save(&options)?;
    let look = |mut report: FileReport| {
        let trace = report.trace.as_ref();
        let (laps, missed) = trace.map_or((None, None), |trace| arguments.reading.laps(trace));
        report.warnings.extend(missed);
        Looked { report, laps }
    };
    let document = Document {
        warnings: Vec::new(),
        files: files.into_iter().map(look).collect(),
    };
    context.output.answer(&document, || {
        let files = document.files.iter();
        files.map(|file| text(file, context.units)).collect()
    })?;
    Ok(if unreadable > 0 {
        Outcome::Partly
    } else {
        Outcome::Done
    })
}

/// Whether there is nothing to show of a file.
fn no_table(file: &FileReport) -> bool {
    file.encoding.is_none()
}

fn text(looked: &Looked, units: Units) -> String {
    let file = &looked.report;
    let mut text = format!("{}\n", file.file);
    if no_table(file) {
        return text + "  cannot be read (see above)\n\n";
    }
    let or_none = |value: &Option<String>| value.clone().unwrap_or_else(|| "none".to_owned());
    text += &format!(
        "  {}, delimiter {}, decimal mark {}, {} above the data\n",
        or_none(&file.encoding),
        spoken(&file.delimiter),
        spoken(&file.decimal_mark),
        count(file.header_lines.unwrap_or(0), "line"),
    );
    if let Some(time) = &file.time {
        text += &format!(
            "  time `{}` ({}), a row every {:.3} s, {}, {}\n",
            time.column,
            time.form,
            time.median_step_s,
            count(time.back_steps, "back step"),
            count(time.gaps.len(), "gap"),
        );
        let day = time
            .day
            .map_or_else(|| "day unknown".to_owned(), |day| day.to_string());
        let start = time
            .start
            .map(|start| start.format(" %H:%M:%S").to_string());
        text += &format!(
            "  {day}{}, {:.1} min, {} of {} kept\n",
            start.unwrap_or_default(),
            time.duration_s / 60.0,
            time.rows_kept,
            count(time.rows_read, "row"),
        );
    }
    if let Some(trace) = &file.trace {
        text += &trace_text::plot(trace, units);
    }
    if let Some(found) = &looked.laps {
        text += &format!("  {}\n", trace_text::laps(found));
    }
    let rows = file
        .channels
        .iter()
        .map(|(role, channel)| {
            vec![
                role.name().to_owned(),
                channel.column.clone(),
                format!(
                    "{} ({})",
                    channel.unit,
                    format!("{:?}", channel.unit_from).to_lowercase()
                ),
                number(channel.resolution, 3),
                format!("{:.1} %", 100.0 * channel.missing_fraction),
            ]
        })
        .collect();
    text += &table(
        &["channel", "column", "unit (from)", "step", "missing"],
        rows,
    );
    if !file.unused_columns.is_empty() {
        text += &format!("  not used: {}\n", file.unused_columns.join(", "));
    }
    for warning in &file.warnings {
        text += &format!(
            "  {}: {} [{}]\n",
            format!("{:?}", warning.severity).to_lowercase(),
            warning.message,
            warning.id
        );
    }
    text + "\n"
}

/// A mark by its name: a comma in a list of commas is hard to see.
fn spoken(mark: &Option<String>) -> &str {
    match mark.as_deref() {
        Some(",") => "comma",
        Some(";") => "semicolon",
        Some("\t") => "tab",
        Some("|") => "pipe",
        Some(" ") => "blanks",
        Some(".") => "point",
        Some(other) => other,
        None => "none",
    }
}
