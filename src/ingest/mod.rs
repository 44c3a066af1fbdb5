//! From a logger's file to a [`Session`].
//!
//! ```text
//! bytes -> decode -> dialect -> table -> clock -> timeline
//!                                    \-> assign (roles) -> channel (units, clean) -> recording
//! recording + recordings of other devices -> align -> session
//! ```
//!
//! Nothing is guessed silently: whatever a file does not say is judged from its values, and a
//! warning names the evidence and the flag that overrules it.

mod align;
mod assign;
mod cell;
mod channel;
mod clean;
mod clock;
mod clock_read;
mod correlate;
mod decode;
mod dialect;
mod error;
mod evidence;
mod inspect;
mod options;
mod preamble;
mod profile;
mod recording;
mod repairs;
mod role_words;
mod roles;
mod table;
mod time_text;
mod timeline;
mod unit_text;
mod unit_values;
mod unpack;
mod words;

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;
use std::path::Path;

use chrono::Timelike;
use sha2::{Digest, Sha256};

pub use error::IngestError;
pub use inspect::{ChannelReport, FileReport, TimeReport, inspect, inspect_bytes};
pub use options::{MapError, MappedRole, Mapping, ReadOptions};
pub use profile::{Profile, is_rate};
pub use repairs::Gap;
pub use time_text::{DateOrder, is_plausible};

use channel::{Channel, describe};
use recording::Recording;

use crate::quantity::Unit;
use crate::session::{Role, Session, SessionMeta, UnitFrom};
use crate::warning::Warning;

/// Reads a session from a file and those of [`ReadOptions::with`].
///
/// # Errors
/// A file that cannot be read, or lacks a clock, coolant or speed.
pub fn read_session(path: &Path, options: &ReadOptions) -> Result<Session, IngestError> {
    let main = read_file(path)?;
    let mut others = Vec::new();
    for path in &options.with {
        others.push((file_name(path), read_file(path)?));
    }
    let others: Vec<(&str, &[u8])> = others
        .iter()
        .map(|(name, bytes)| (name.as_str(), bytes.as_slice()))
        .collect();
    read_session_bytes(&file_name(path), &main, &others, options)
}

/// The same from memory; `with` holds the files of other devices, and the paths of
/// [`ReadOptions::with`] are not looked at.
///
/// # Errors
/// As [`read_session`].
pub fn read_session_bytes(
    name: &str,
    bytes: &[u8],
    with: &[(&str, &[u8])],
    options: &ReadOptions,
) -> Result<Session, IngestError> {
    let mut main = Recording::read(name, bytes, options)?;
    let mut others = Vec::new();
    for (name, bytes) in with {
        others.push(Recording::read(name, bytes, options)?);
    }
    every_map_is_used(&main, &others, options)?;
    take_start(&mut main, options);
    let mut aligned = Vec::new();
    for other in &others {
        aligned.push(align::add(&mut main, other)?);
        let file = &other.table.file;
        main.warnings
            .extend(other.warnings.iter().map(|warning| Warning {
                message: format!("{file}: {}", warning.message),
                ..warning.clone()
            }));
    }
    needed_channels(&mut main)?;
    told_if_short(&mut main);
    take_ambient(&mut main, options);
    if main.start.day.is_none() {
        main.warnings.push(Warning::caution(
            "day-unknown",
            "no file says which day it was: give it with --day YYYY-MM-DD",
        ));
    }
    let meta = SessionMeta {
        id: String::new(),
        file: name.to_owned(),
        sha256: sha256(bytes, with),
        setup: options.setup.clone(),
        car: options.car.clone(),
        setup_sheet: options.setup_sheet.clone(),
        start: main.start.local(),
        day: main.start.day,
        duration_s: main.duration_s(),
        rows_read: main.table.rows_read,
        rows_kept: main.timeline.rows.len(),
        driver: options.driver.clone(),
        note: options.note.clone(),
        excluded: None,
        channels: main
            .channels
            .iter()
            .map(|(role, c)| (*role, c.info.clone()))
            .collect(),
        aligned,
        warnings: main.warnings,
    };
    let values: BTreeMap<Role, Vec<f64>> = main
        .channels
        .into_iter()
        .map(|(role, channel)| (role, channel.values))
        .collect();
    Session::from_columns(meta, &main.timeline.t_s, &values).map_err(|error| IngestError::Frame {
        file: name.to_owned(),
        why: error.to_string(),
    })
}

fn read_file(path: &Path) -> Result<Vec<u8>, IngestError> {
    std::fs::read(path).map_err(|error| IngestError::Unreadable {
        file: path.display().to_string(),
        why: error.to_string(),
    })
}

/// A path's last part.
fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// Hexadecimal SHA-256 of the main file's bytes, then of the others' in order.
fn sha256(bytes: &[u8], with: &[(&str, &[u8])]) -> String {
    let mut hash = Sha256::new();
    hash.update(bytes);
    for (_, bytes) in with {
        hash.update(bytes);
    }
    hash.finalize()
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// A map that no file can use is a mistake of the user's, not to be passed over.
fn every_map_is_used(
    main: &Recording,
    others: &[Recording],
    options: &ReadOptions,
) -> Result<(), IngestError> {
    for map in &options.maps {
        let mut all = std::iter::once(main).chain(others);
        if !all.any(|recording| recording.table.column(&map.column).is_some()) {
            let columns = main.table.names();
            let names = columns.iter().map(String::as_str);
            return Err(IngestError::NoColumn {
                file: main.table.file.clone(),
                column: map.column.clone(),
                role: map.role.name().to_owned(),
                nearest: options::nearest(&map.column, names).unwrap_or_default(),
                columns,
            });
        }
    }
    Ok(())
}

/// The user's word on day and start overrules the file's.
fn take_start(main: &mut Recording, options: &ReadOptions) {
    if let Some(start) = options.start {
        main.start.day = Some(start.date());
        let second = f64::from(start.time().num_seconds_from_midnight());
        main.start.second_of_day = Some(second + f64::from(start.time().nanosecond()) * 1e-9);
        main.start.utc_offset_s = None;
    }
    if let Some(day) = options.day {
        main.start.day = Some(day);
    }
}

/// Coolant and speed must be there with values; other channels without a value are left out.
fn needed_channels(main: &mut Recording) -> Result<(), IngestError> {
    for role in [Role::Coolant, Role::Speed] {
        let Some(channel) = main.channels.get(&role) else {
            return Err(IngestError::NoRole {
                file: main.table.file.clone(),
                role,
                columns: main.table.names(),
                likely: main.likely_column(role),
            });
        };
        if channel.values.iter().all(|v| v.is_nan()) {
            return Err(no_values(main, role, &channel.info.column));
        }
    }
    for role in [Role::Coolant, Role::Speed] {
        enough_readings(main, role)?;
    }
    let empty: Vec<Role> = main
        .channels
        .iter()
        .filter(|(_, channel)| channel.values.iter().all(|v| v.is_nan()))
        .map(|(role, _)| *role)
        .collect();
    for role in empty {
        if let Some(channel) = main.channels.remove(&role) {
            let column = channel.info.column;
            let message = format!("{}: column `{column}` holds no usable value", role.name());
            main.warnings
                .push(Warning::caution("empty-channel", message));
            main.unused.push(column);
        }
    }
    Ok(())
}

/// A session of fewer readings than this says nothing of a cooling system.
const LEAST_READINGS: usize = 20;
/// A shorter session is imported, and that is said, s.
const SHORT_SESSION_S: f64 = 60.0;

/// A handful of rows is no session, whether the file has no more or they cannot be read.
fn enough_readings(main: &Recording, role: Role) -> Result<(), IngestError> {
    let rows = main.channels[&role]
        .values
        .iter()
        .filter(|v| !v.is_nan())
        .count();
    if rows >= LEAST_READINGS {
        return Ok(());
    }
    Err(IngestError::TooShort {
        file: main.table.file.clone(),
        rows,
        of: main.table.rows_read,
        what: match role {
            Role::Coolant => "rows have a time and a coolant temperature that can be used",
            _ => "rows have a time and a speed that can be used",
        },
    })
}

/// What is short, or was mostly left out, is imported with a word on it.
fn told_if_short(main: &mut Recording) {
    let (kept, read) = (main.timeline.rows.len(), main.table.rows_read);
    if 2 * kept < read {
        main.warnings.push(Warning::caution(
            "rows-mostly-lost",
            format!("only {kept} of {read} rows could be used"),
        ));
    }
    if main.duration_s() < SHORT_SESSION_S {
        main.warnings.push(Warning::caution(
            "short-log",
            format!("the log lasts {:.0} s only", main.duration_s()),
        ));
    }
}

fn no_values(main: &Recording, role: Role, column: &str) -> IngestError {
    let table = &main.table;
    let at = table.column(column).unwrap_or(0);
    let row = (0..table.rows.len())
        .find(|row| !table.cell(*row, at).is_empty())
        .unwrap_or(0);
    IngestError::NoValues {
        file: table.file.clone(),
        line: table.rows[row].number,
        column: column.to_owned(),
        role: role.name().to_owned(),
        value: table.cell(row, at).chars().take(40).collect(),
    }
}

/// `--ambient-c` stands in where no file has the outside temperature.
fn take_ambient(main: &mut Recording, options: &ReadOptions) {
    match (
        main.channels.contains_key(&Role::Ambient),
        options.ambient_c,
    ) {
        (true, Some(_)) => main.warnings.push(Warning::note(
            "ambient-c-unused",
            "the files have an outside temperature, so --ambient-c was not used",
        )),
        (false, None) => main.warnings.push(inspect::no_ambient()),
        (false, Some(ambient_c)) => {
            main.warnings.push(Warning::caution(
                "ambient-constant",
                format!(
                    "the outside temperature was given as {ambient_c} °C for the whole session"
                ),
            ));
            let values = vec![ambient_c; main.timeline.t_s.len()];
            let column = "--ambient-c".to_owned();
            let info = describe(
                column,
                Unit::Celsius,
                UnitFrom::User,
                &main.timeline.t_s,
                &values,
            );
            main.channels
                .insert(Role::Ambient, Channel { info, values });
        }
        (true, None) => {}
    }
}
