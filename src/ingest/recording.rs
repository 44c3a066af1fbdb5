//! One file, read through: table, clock, channels. The common ground of `inspect` and import.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::assign::assign;
use super::channel::{ASSUMED, Channel, describe, finish, unit_of};
use super::clock::{self, Clock};
use super::clock_read::Origin;
use super::clock_steps::runs_back;
use super::drives_on;
use super::error::IngestError;
use super::evidence::{against_positions, gps_ratio, hardest_braking};
use super::frozen;
use super::likely::likely_column;
use super::options::{MappedRole, ReadOptions};
use super::preamble::Start;
use super::shape;
use super::stacked;
use super::starts::start;
use super::table::Table;
use super::timeline::{Timeline, order};
use super::unit_said::Unusable;
use super::unit_values::Context;
use super::written::{Written, has_numbers, read_written};
use crate::car::CarSheet;
use crate::quantity::{Quantity, Unit};
use crate::session::{Grid, Role, Session, SessionMeta, UnitFrom};
use crate::stats::median;
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
        let (channels, speed_factor) = channels(&table, written, &timeline.t_s, &mut warnings);
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
        let session = Session::from_columns(meta, &self.timeline.t_s, &values.collect());
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
    let table = shape::wide(Table::read(file, bytes, options.date_order)?, options);
    let clock = find_clock(&table, options)?;
    forwards(table, clock, options)
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

/// Converts the columns, those with sure units first, so that the others can lean on them.
fn channels(
    table: &Table,
    written: Vec<Written>,
    t_s: &[f64],
    warnings: &mut Vec<Warning>,
) -> (BTreeMap<Role, Channel>, Option<f64>) {
    let written = without_gauge(table, written, warnings);
    let find = |role: Role| written.iter().find(|w| w.role == role);
    let mut context = Context {
        duration_s: t_s.last().copied().unwrap_or(0.0),
        ..Context::default()
    };
    if let Some(speed) = find(Role::Speed) {
        context.hardest_braking = hardest_braking(t_s, &speed.values);
        if let (Some(lat), Some(lon)) = (find(Role::Latitude), find(Role::Longitude)) {
            context.gps_ratio = gps_ratio(t_s, &speed.values, &lat.values, &lon.values);
        }
    }
    for column in written
        .iter()
        .filter(|w| w.role.quantity() == Quantity::Temperature)
    {
        let (unit, from, warning) = unit_of(table, column, Context::default());
        let sure = from != UnitFrom::Values || warning.is_some_and(|w| w.id != ASSUMED);
        context.fahrenheit_elsewhere |= sure && unit == Unit::Fahrenheit;
        context.celsius_elsewhere |= sure && unit == Unit::Celsius;
    }
    if let (Some(speed), Some(intake)) = (find(Role::Speed), find(Role::Intake)) {
        let (unit, ..) = unit_of(table, intake, context);
        context.intake_at_speed_c = at_speed(speed, intake).map(|v| unit.to_inside(v));
    }
    let mut speed_factor = None;
    let mut units = Vec::new();
    for column in &written {
        let (unit, from, warning) = unit_of(table, column, context);
        warnings.extend(warning);
        let role = column.role;
        if role == Role::Speed {
            speed_factor = context
                .gps_ratio
                .map(|ratio| unit.to_inside(1.0) / 3.6 / ratio);
            let name = &table.columns[column.choice.column].name;
            warnings.extend(speed_factor.and_then(|f| against_positions(name, unit, f)));
        }
        units.push((unit, from));
    }
    let finished: Vec<(Role, Channel, Vec<Warning>)> = written
        .into_par_iter()
        .zip(units)
        .map(|(column, unit)| {
            let (role, mut told) = (column.role, Vec::new());
            let channel = finish(table, column, unit, t_s, &mut told);
            (role, channel, told)
        })
        .collect();
    let mut channels = BTreeMap::new();
    for (role, channel, told) in finished {
        channels.insert(role, channel);
        warnings.extend(told);
    }
    (channels, speed_factor)
}

/// Leaves out pressures that are often below zero: they count from the air outside.
fn without_gauge(
    table: &Table,
    written: Vec<Written>,
    warnings: &mut Vec<Warning>,
) -> Vec<Written> {
    let is_gauge = |w: &Written| {
        let low = w.sorted.get(w.sorted.len() / 20);
        w.role.quantity() == Quantity::Pressure && low.is_some_and(|low| *low < 0.0)
    };
    let (gauge, kept): (Vec<_>, Vec<_>) = written.into_iter().partition(is_gauge);
    warnings.extend(gauge.iter().map(|w| {
        let column = &table.columns[w.choice.column].name;
        let message = format!(
            "{}: column `{column}` reads below zero, so it is pressure against the air outside, not absolute: not taken",
            w.role.name()
        );
        Warning::caution("gauge-pressure", message)
    }));
    kept
}

/// The median of a channel over the rows at which the car drives at more than half its top speed,
/// as written; whatever the speed's unit.
fn at_speed(speed: &Written, channel: &Written) -> Option<f64> {
    let top = speed.sorted.last()?;
    let rows = speed.values.iter().zip(&channel.values);
    let fast = rows.filter(|(v, value)| **v > top / 2.0 && !value.is_nan());
    median(fast.map(|(_, value)| *value).collect())
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
