//! One file, read through: table, clock, channels. The common ground of `inspect` and import.

use std::collections::BTreeMap;

use super::assign::assign;
use super::channel::{Channel, describe};
use super::clock::{self, Clock};
use super::clock_read::Origin;
use super::clock_steps::runs_back;
use super::convert::channels;
use super::drives_on;
use super::error::IngestError;
use super::frozen;
use super::lap_clock;
use super::likely::likely_column;
use super::options::{MappedRole, ReadOptions};
use super::preamble::Start;
use super::shape;
use super::stacked;
use super::starts::start;
use super::table::Table;
use super::timeline::{Timeline, order};
use super::unit_said::Unusable;
use super::written::{has_numbers, read_written};
use crate::car::CarSheet;
use crate::quantity::Unit;
use crate::session::{Grid, Role, Session, SessionMeta};
use crate::warning::Warning;

const TRACE_STEP_S: f64 = 0.5;

/// A file read through.
#[derive(Debug, Clone)]
pub(super) struct Recording {
    pub table: Table,
    pub time_column: String,
    pub time_form: &'static str,
    pub timeline: Timeline,
    pub start: Start,
    pub channels: BTreeMap<Role, Channel>,
    /// Speed as read over speed by the logged positions, where there are any.
    pub speed_factor: Option<f64>,
    pub unused: Vec<String>,
    /// Columns left out for their unit.
    pub unusable: Vec<Unusable>,
    pub warnings: Vec<Warning>,
}

impl Recording {
    /// Reads `bytes`, one recording a session; mapped columns that this file lacks are passed over.
    pub fn read(file: &str, bytes: &[u8], options: &ReadOptions) -> Result<Vec<Self>, IngestError> {
        let (table, clock) = clocked(file, bytes, options)?;
        Self::parts(table, clock, options)
    }

    /// Reads `bytes` as one recording, whatever pauses it has: a second device, a weather file.
    pub fn read_whole(
        file: &str,
        bytes: &[u8],
        options: &ReadOptions,
    ) -> Result<Self, IngestError> {
        let (table, clock) = clocked(file, bytes, options)?;
        Self::long_enough(table, clock, options)
    }

    /// The sessions of a table, each a recording.
    fn parts(table: Table, clock: Clock, options: &ReadOptions) -> Result<Vec<Self>, IngestError> {
        parted(table, clock, options)
            .into_iter()
            .map(|part| {
                let (table, clock) = part?;
                Self::long_enough(table, clock, options)
            })
            .collect()
    }

    fn long_enough(table: Table, clock: Clock, options: &ReadOptions) -> Result<Self, IngestError> {
        let recording = Self::from_table(table, clock, options)?;
        if recording.timeline.rows.len() < 2 {
            let rows = recording.timeline.rows.len();
            return Err(IngestError::TooShort {
                file: recording.table.file.clone(),
                rows,
                of: recording.table.rows_read,
                what: "rows have a time that can be used",
            });
        }
        Ok(recording)
    }

    /// Reads the channels of a table whose clock is known.
    pub fn from_table(
        table: Table,
        clock: Clock,
        options: &ReadOptions,
    ) -> Result<Self, IngestError> {
        let is_wall = clock.origin != Origin::Running;
        let mut timeline = order(&clock.seconds, clock.wraps_s, is_wall, |a, b| {
            table.rows.same(a, b)
        });
        let mut warnings = table.warnings.clone();
        warnings.extend(clock.warnings.iter().cloned());
        warnings.extend(timeline.warnings.iter().cloned());
        let start = start(&table, &clock, &timeline, &mut warnings);
        let is_clock = |at| clock.columns.contains(&at);
        let assignment = assign(&table, &options.all_maps(), is_clock, |at| {
            has_numbers(&table, at)
        })?;
        warnings.extend(assignment.warnings);
        if let Some(choice) = assignment.chosen.get(&Role::Speed) {
            warnings.extend(frozen::cut(
                &table,
                &mut timeline,
                &clock.columns,
                choice.column,
            ));
        }
        let unused = (0..table.columns.len())
            .filter(|at| !is_clock(*at) && !assignment.chosen.values().any(|c| c.column == *at))
            .map(|at| table.columns[at].name.clone())
            .collect();
        let written = read_written(&table, assignment.chosen, &timeline.rows);
        let (channels, speed_factor) = channels(&table, written, &timeline, &mut warnings);
        Ok(Self {
            time_column: clock.column,
            time_form: clock.form,
            table,
            timeline,
            start,
            channels,
            speed_factor,
            unused,
            unusable: assignment.unusable,
            warnings,
        })
    }

    /// Reads the channels of a table that has no clock: rows stand for seconds.
    pub fn without_clock(table: Table, options: &ReadOptions) -> Result<Self, IngestError> {
        let clock = clock::stated(&table, 1.0);
        let mut recording = Self::from_table(table, clock, options)?;
        for channel in recording.channels.values_mut() {
            channel.info.median_refresh_s = None;
        }
        Ok(recording)
    }

    /// The column most like a role that was not found, for a hint.
    pub fn likely_column(&self, role: Role) -> String {
        let unused: Vec<String> = self
            .unused
            .iter()
            .filter(|name| {
                self.table
                    .column(name)
                    .is_some_and(|at| has_numbers(&self.table, at))
            })
            .cloned()
            .collect();
        likely_column(&unused, role, &self.time_column)
    }

    /// The channels in steps of half a second.
    pub fn trace(&self) -> Option<Grid> {
        let meta = SessionMeta::bare(&self.table.file, "", CarSheet::default());
        let values = self.channels.iter().map(|(r, c)| (*r, c.values.clone()));
        let session = Session::from_columns(meta, &self.timeline.t_s, values.collect());
        Some(session.ok()?.grid(TRACE_STEP_S))
    }

    /// Seconds from the first row to the last.
    pub fn duration_s(&self) -> f64 {
        self.timeline.t_s.last().copied().unwrap_or(0.0)
    }
}

/// A table with its clock.
type Clocked = (Table, Clock);

/// A file's table with its clock.
fn clocked(file: &str, bytes: &[u8], options: &ReadOptions) -> Result<Clocked, IngestError> {
    let table = Table::read(file, bytes, options.date_order)?;
    let table = with_clock_unit(shape::wide(table, options), options);
    let clock = find_clock(&table, options)?;
    forwards(table, clock, options)
}

/// The table with the unit that the user says its clock counts in.
pub(super) fn with_clock_unit(mut table: Table, options: &ReadOptions) -> Table {
    let maps = options.all_maps();
    let told = maps.iter().find(|map| map.role == MappedRole::Time);
    if let Some(map) = told
        && let (Some(at), Some(unit)) = (table.column(&map.column), &map.clock_unit)
    {
        table.columns[at].unit_text = Some(unit.clone());
    }
    table
}

/// The same with time going on, if the file is written from the end to the beginning.
pub(super) fn forwards(
    table: Table,
    clock: Clock,
    options: &ReadOptions,
) -> Result<Clocked, IngestError> {
    if !runs_back(&clock) {
        return Ok((table, clock));
    }
    let table = table.reversed();
    let clock = find_clock(&table, options)?;
    Ok((table, clock))
}

/// The sessions of a table, each with its clock.
pub(super) fn parted(
    table: Table,
    clock: Clock,
    options: &ReadOptions,
) -> Vec<Result<Clocked, IngestError>> {
    let borders = stacked::borders(&table, &clock);
    if borders.is_empty() {
        return vec![Ok((table, clock))];
    }
    let clocked = |part: Table| find_clock(&part, options).map(|clock| (part, clock));
    table.split(&borders).into_iter().map(clocked).collect()
}

/// Finds the clock, in the user's column if this file has it; where there is none, the stated
/// rate of rows is one.
pub(super) fn find_clock(table: &Table, options: &ReadOptions) -> Result<Clock, IngestError> {
    let mut found = clock::find(table, named_clock(table, options).as_deref());
    if let Ok(clock) = &mut found {
        lap_clock::chain(table, clock);
        drives_on::mend(table, clock, options);
    }
    match (found, options.rate_hz) {
        (Ok(mut clock), Some(_)) => {
            clock.warnings.push(Warning::note(
                "rate-hz-unused",
                format!("the clock `{}` was used, not --rate-hz", clock.column),
            ));
            Ok(clock)
        }
        (Err(_), Some(rate_hz)) => Ok(clock::stated(table, rate_hz)),
        (found, None) => found,
    }
}

/// The column that the user says is the clock, if this table has it.
pub(super) fn named_clock(table: &Table, options: &ReadOptions) -> Option<String> {
    let maps = options.all_maps();
    let named = maps.iter().find(|map| map.role == MappedRole::Time)?;
    table.column(&named.column)?;
    Some(named.column.clone())
}

/// A channel brought onto other rows: what is known of it there.
pub(super) fn moved(
    channel: &Channel,
    t_s: &[f64],
    values: Vec<f64>,
    raw: Option<Vec<f64>>,
) -> Channel {
    let unit = Unit::parse(&channel.info.unit).unwrap_or(Unit::Number);
    let there = describe(
        channel.info.column.clone(),
        unit,
        channel.info.unit_from,
        t_s,
        &values,
    );
    let info = crate::session::ChannelInfo {
        unit: channel.info.unit.clone(),
        // How finely it was read is a property of its own file.
        resolution: channel.info.resolution,
        median_refresh_s: channel.info.median_refresh_s,
        ..there
    };
    Channel { info, values, raw }
}
