//! What `inspect` says of a file: how it was read, without keeping anything.

use std::collections::BTreeMap;
use std::path::Path;

use chrono::{NaiveDate, NaiveDateTime};
use serde::Serialize;

use super::ambient_given::told_above;
use super::clock::Clock;
use super::error::IngestError;
use super::needed::needed_channels;
use super::options::{ReadOptions, map_flag};
use super::recording::{Recording, find_clock, forwards, parted, with_clock_unit};
use super::repairs::Gap;
use super::shape;
use super::table::Table;
use super::{cell::Mark, file_name};
use crate::session::{ChannelInfo, Grid, Role, UnitFrom};
use crate::warning::{Severity, Warning};

/// How a file was read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FileReport {
    /// The file's name, without folders.
    pub file: String,
    /// Whether it is a table of delimited text with a clock.
    pub readable: bool,
    /// The text's encoding. `None`: it is no table.
    pub encoding: Option<String>,
    /// What stands between two columns.
    pub delimiter: Option<String>,
    /// The usual decimal mark.
    pub decimal_mark: Option<String>,
    /// Lines above the first data row.
    pub header_lines: Option<usize>,
    /// The clock. `None`: no column is one.
    pub time: Option<TimeReport>,
    /// The recognised channels.
    pub channels: BTreeMap<Role, ChannelReport>,
    /// Columns that are no channel.
    pub unused_columns: Vec<String>,
    /// The channels in steps of half a second, to look at.
    #[serde(skip)]
    pub trace: Option<Grid>,
    /// What was noticed.
    pub warnings: Vec<Warning>,
    /// Why an import of this file alone would refuse it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub message: Option<String>,
    /// What to do about that.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hint: Option<String>,
}

/// How a file's clock was read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimeReport {
    /// The column, or the date's and the time's.
    pub column: String,
    /// How times are written.
    pub form: String,
    /// Median step from row to row, s.
    pub median_step_s: f64,
    /// Rows whose clock shows less than the row before.
    pub back_steps: usize,
    /// Pauses of the logger.
    pub gaps: Vec<Gap>,
    /// Local time of the first row kept, where the file tells it.
    pub start: Option<NaiveDateTime>,
    /// The day, where the file tells it.
    pub day: Option<NaiveDate>,
    /// From the first row kept to the last, s.
    pub duration_s: f64,
    /// Data rows in the file.
    pub rows_read: usize,
    /// Those that can be used.
    pub rows_kept: usize,
}

/// How a channel was read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChannelReport {
    /// The column's name.
    pub column: String,
    /// The unit it is written in.
    pub unit: String,
    /// Where that unit was read.
    pub unit_from: UnitFrom,
    /// The smallest step between different values, in the inside unit.
    pub resolution: Option<f64>,
    /// Median time between two refreshes, s.
    pub median_refresh_s: Option<f64>,
    /// Share of rows without a value.
    pub missing_fraction: f64,
}

impl FileReport {
    /// Says what an import of this file alone would say.
    fn refused(&mut self, error: &IngestError) {
        let lacks = |w: &Warning| w.severity == Severity::Disqualifies && w.id != "no-ambient";
        if !self.warnings.iter().any(lacks) {
            let message = format!("{}; {}", error.message(), error.hint());
            let warning = Warning::disqualifies("import-refuses", message);
            self.warnings.push(warning);
        }
        self.message = Some(error.message());
        self.hint = Some(error.hint());
    }
}

impl From<&ChannelInfo> for ChannelReport {
    fn from(info: &ChannelInfo) -> Self {
        Self {
            column: info.column.clone(),
            unit: info.unit.clone(),
            unit_from: info.unit_from,
            resolution: info.resolution,
            median_refresh_s: info.median_refresh_s,
            missing_fraction: info.missing_fraction,
        }
    }
}

/// Looks at a file; a report for each session in it. Never fails: a file that cannot be read is a
/// report that says why.
pub fn inspect(path: &Path, options: &ReadOptions) -> Vec<FileReport> {
    let file = file_name(path);
    match std::fs::read(path) {
        Ok(bytes) => inspect_bytes(&file, &bytes, options),
        Err(error) => {
            let why = error.to_string();
            vec![unreadable(
                &file,
                &IngestError::Unreadable {
                    file: file.clone(),
                    why,
                },
            )]
        }
    }
}

/// The same for a file in memory.
pub fn inspect_bytes(file: &str, bytes: &[u8], options: &ReadOptions) -> Vec<FileReport> {
    let table = match Table::read(file, bytes, options.date_order) {
        Ok(table) => with_clock_unit(shape::wide(table, options), options),
        Err(error) => return vec![unreadable(file, &error)],
    };
    let told = |recording: Result<Recording, IngestError>, no_clock: Option<IngestError>| {
        let mut recording = match recording {
            Ok(recording) => recording,
            Err(error) => return unreadable(file, &error),
        };
        let mut report = report(&recording, no_clock.as_ref());
        report
            .warnings
            .extend(maps_unused(&recording.table, options));
        // Looked for last: it takes out channels without a value.
        let refusal = no_clock.or_else(|| needed_channels(&mut recording, options).err());
        if let Some(error) = refusal {
            report.refused(&error);
        }
        report
    };
    let clock = match find_clock(&table, options) {
        Ok(clock) => clock,
        Err(error) => return vec![told(Recording::without_clock(table, options), Some(error))],
    };
    let (table, clock) = match forwards(table, clock, options) {
        Ok(clocked) => clocked,
        Err(error) => return vec![unreadable(file, &error)],
    };
    let recording = |part: Result<(Table, Clock), IngestError>| {
        let (table, clock) = part?;
        Recording::from_table(table, clock, options)
    };
    parted(table, clock, options)
        .into_iter()
        .map(|part| told(recording(part), None))
        .collect()
}

/// Mappings to columns that this file does not have.
fn maps_unused(table: &Table, options: &ReadOptions) -> Vec<Warning> {
    let unused = options.maps.iter();
    let unused = unused.filter(|map| table.column(&map.column).is_none());
    let told = unused.map(|map| {
        let flag = map_flag(map.role.name(), &map.column);
        Warning::caution("map-unused", format!("{flag}: no such column here"))
    });
    told.collect()
}

fn unreadable(file: &str, error: &IngestError) -> FileReport {
    FileReport {
        file: file.to_owned(),
        readable: false,
        encoding: None,
        delimiter: None,
        decimal_mark: None,
        header_lines: None,
        time: None,
        channels: BTreeMap::new(),
        unused_columns: Vec::new(),
        trace: None,
        warnings: Vec::new(),
        message: Some(error.message()),
        hint: Some(error.hint()),
    }
}

fn report(recording: &Recording, no_clock: Option<&IngestError>) -> FileReport {
    let table = &recording.table;
    let mut warnings = recording.warnings.clone();
    if let Some(error) = no_clock {
        let message = format!("{}; {}", error.message(), error.hint());
        warnings.push(Warning::disqualifies("no-time", message));
    }
    warnings.extend(lacking(recording));
    let time = no_clock.is_none().then(|| TimeReport {
        column: recording.time_column.clone(),
        form: recording.time_form.to_owned(),
        median_step_s: (recording.timeline.median_step_s * 1e6).round() / 1e6,
        back_steps: recording.timeline.back_steps,
        gaps: recording.timeline.gaps.clone(),
        start: recording.start.local(),
        day: recording.start.day,
        duration_s: recording.duration_s(),
        rows_read: table.rows_read,
        rows_kept: recording.timeline.rows.len(),
    });
    let mark = match table.mark {
        Mark::Point => ".",
        Mark::Comma => ",",
    };
    FileReport {
        file: table.file.clone(),
        readable: no_clock.is_none(),
        encoding: Some(table.encoding.to_owned()),
        delimiter: Some(table.delimiter.to_string()),
        decimal_mark: Some(mark.to_owned()),
        header_lines: Some(table.header_lines),
        time,
        channels: recording
            .channels
            .iter()
            .map(|(role, c)| (*role, (&c.info).into()))
            .collect(),
        unused_columns: recording.unused.clone(),
        trace: no_clock.is_none().then(|| recording.trace()).flatten(),
        warnings,
        message: None,
        hint: None,
    }
}

/// What an import of this file alone would lack.
fn lacking(recording: &Recording) -> Vec<Warning> {
    let missing = |role: Role| !recording.channels.contains_key(&role);
    let mut warnings = Vec::new();
    for role in [Role::Coolant, Role::Speed] {
        if missing(role) {
            let likely = recording.likely_column(role);
            warnings.push(Warning::disqualifies(
                &format!("no-{}", role.name()),
                format!(
                    "no {}: name its column with {}, or add its file with --with",
                    role.description(),
                    map_flag(role.name(), &likely)
                ),
            ));
        }
    }
    if missing(Role::Ambient) && told_above(&recording.table).is_none() {
        warnings.push(no_ambient());
    }
    warnings
}

/// No file has the outside temperature.
pub(super) fn no_ambient() -> Warning {
    Warning::disqualifies(
        "no-ambient",
        "no outside temperature: give it with --ambient-c T, or add a file that has it with --with FILE",
    )
}
