//! A file and those of other devices, read into the sessions that it holds.

use std::collections::BTreeMap;
use std::path::Path;

use chrono::Timelike;
use sha2::{Digest, Sha256};

use super::align;
use super::ambient_given::take_ambient;
use super::ambient_sense;
use super::coolant_sense;
use super::error::IngestError;
use super::needed::{needed_channels, told_if_short};
use super::options::{self, MappedRole, Mapping, ReadOptions};
use super::recording::Recording;
use super::unit_taken::LABEL_DOUBTED;
use crate::hex::hex;
use crate::session::{Session, SessionMeta};
use crate::warning::Warning;
use crate::words::quoted;

/// Reads the sessions of a file and of those of [`ReadOptions::with`]; most files hold one.
///
/// # Errors
/// A file that cannot be read, or lacks a clock, coolant or speed.
pub fn read_sessions(path: &Path, options: &ReadOptions) -> Result<Vec<Session>, IngestError> {
    let main = read_file(path)?;
    let mut others = Vec::new();
    for path in &options.with {
        others.push((file_name(path), read_file(path)?));
    }
    let others: Vec<(&str, &[u8])> = others
        .iter()
        .map(|(name, bytes)| (name.as_str(), bytes.as_slice()))
        .collect();
    read_sessions_bytes(&file_name(path), &main, &others, options)
}

/// The same from memory; `with` holds the files of other devices, and the paths of
/// [`ReadOptions::with`] are not looked at.
///
/// # Errors
/// As [`read_sessions`].
pub fn read_sessions_bytes(
    name: &str,
    bytes: &[u8],
    with: &[(&str, &[u8])],
    options: &ReadOptions,
) -> Result<Vec<Session>, IngestError> {
    let read = || Recording::read(name, bytes, options);
    let (parts, hash) = rayon::join(read, || sha256(bytes, with));
    let parts = parts?;
    let mut others = Vec::new();
    for (name, bytes) in with {
        others.push(Recording::read_whole(name, bytes, options)?);
    }
    every_map_is_used(&parts[0], &others, options)?;
    every_offset_is_used(with, options)?;
    if parts.len() == 1 {
        let part = parts
            .into_iter()
            .map(|main| session(main, &others, &hash, options));
        return part.collect();
    }
    let flag = match (options.start, others.is_empty()) {
        (Some(_), _) => Some("--start"),
        (None, false) => Some("--with"),
        (None, true) => None,
    };
    if let Some(flag) = flag {
        return one(parts, flag).map(|_| Vec::new());
    }
    several(parts, &hash, options)
}

/// The session of a file that holds one.
///
/// # Errors
/// As [`read_sessions`]; and a file that holds several.
pub fn read_session_bytes(
    name: &str,
    bytes: &[u8],
    with: &[(&str, &[u8])],
    options: &ReadOptions,
) -> Result<Session, IngestError> {
    let mut sessions = read_sessions_bytes(name, bytes, with, options)?;
    match (sessions.len(), sessions.pop()) {
        (1, Some(session)) => Ok(session),
        (count, _) => Err(IngestError::SeveralSessions {
            file: name.to_owned(),
            count,
            lines: Vec::new(),
            flag: "this call",
        }),
    }
}

/// The only part, where a flag belongs to one session.
fn one(mut parts: Vec<Recording>, flag: &'static str) -> Result<Recording, IngestError> {
    if let (1, Some(part)) = (parts.len(), parts.pop()) {
        return Ok(part);
    }
    // The last part was taken off above; the lines are those at which the others end.
    Err(IngestError::SeveralSessions {
        file: parts[0].table.source().to_owned(),
        count: parts.len() + 1,
        lines: parts
            .iter()
            .map(|part| part.table.last_line() + 1)
            .collect(),
        flag,
    })
}

/// The sessions of a file that holds several; parts too short to be one are left out.
fn several(
    parts: Vec<Recording>,
    hash: &str,
    options: &ReadOptions,
) -> Result<Vec<Session>, IngestError> {
    let mut sessions = Vec::new();
    let mut left_out = Vec::new();
    for (n, part) in parts.into_iter().enumerate() {
        match session(part, &[], &format!("{hash}#{n}"), options) {
            Ok(session) => sessions.push(session),
            Err(error @ IngestError::TooShort { .. }) => left_out.push(error),
            Err(error) => return Err(error),
        }
    }
    let Some(first) = sessions.first_mut() else {
        return Err(left_out.remove(0));
    };
    let told = |error: &IngestError| Warning::caution("part-left-out", error.message());
    first.meta.warnings.extend(left_out.iter().map(told));
    Ok(sessions)
}

/// A session from its recording and those of other devices.
fn session(
    mut main: Recording,
    others: &[Recording],
    hash: &str,
    options: &ReadOptions,
) -> Result<Session, IngestError> {
    take_start(&mut main, options);
    let mut aligned = Vec::new();
    for other in others {
        let file = &other.table.file;
        aligned.push(align::add(&mut main, other, options.offset_s(file))?);
        main.warnings
            .extend(other.warnings.iter().map(|warning| Warning {
                message: format!("{}: {}", quoted(file), warning.message),
                ..warning.clone()
            }));
    }
    needed_channels(&mut main, options)?;
    told_if_short(&mut main);
    take_ambient(&mut main, options);
    let doubts = ambient_sense::within(&main.channels, main.timeline.median_step_s);
    main.warnings.extend(doubts);
    main.warnings
        .extend(coolant_sense::ends_swapped(&main.channels));
    if !main.warnings.iter().any(|w| w.id == LABEL_DOUBTED) {
        let step_s = main.timeline.median_step_s;
        main.warnings
            .extend(coolant_sense::never_warm(&main.channels, step_s));
    }
    if main.start.day.is_none() {
        main.warnings.push(Warning::caution(
            "day-unknown",
            "no file says which day it was: give it with --day YYYY-MM-DD",
        ));
    }
    let file = main.table.file.clone();
    let meta = SessionMeta {
        id: String::new(),
        file: file.clone(),
        sha256: hash.to_owned(),
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
    let (mut values, mut raw) = (BTreeMap::new(), BTreeMap::new());
    for (role, channel) in main.channels {
        values.insert(role, channel.values);
        raw.extend(channel.raw.map(|before| (role, before)));
    }
    Session::from_columns(meta, &main.timeline.t_s, values)
        .and_then(|session| session.with_raw(raw))
        .map_err(|error| IngestError::Frame {
            file,
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
pub(super) fn file_name(path: &Path) -> String {
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
    hex(&hash.finalize())
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
            wrong_unit(main, others, map)?;
            let columns = main.table.names();
            let names = columns.iter().map(String::as_str);
            return Err(IngestError::NoColumn {
                file: main.table.file.clone(),
                column: map.column.clone(),
                role: map.role.name().to_owned(),
                nearest: options::meant(&map.column, names).unwrap_or_else(|| "COLUMN".to_owned()),
                columns,
            });
        }
    }
    Ok(())
}

/// Whether what was typed is a column of a file and a unit that nobody knows.
fn wrong_unit(main: &Recording, others: &[Recording], map: &Mapping) -> Result<(), IngestError> {
    let (Some((column, unit)), MappedRole::Role(role)) = (map.column.rsplit_once(':'), map.role)
    else {
        return Ok(());
    };
    let mut all = std::iter::once(main).chain(others);
    match all.find(|recording| recording.table.column(column.trim()).is_some()) {
        Some(recording) => Err(IngestError::MapUnit {
            file: recording.table.file.clone(),
            role,
            column: column.trim().to_owned(),
            unit: unit.trim().to_owned(),
            known: role.quantity().known_units(),
        }),
        None => Ok(()),
    }
}

/// An offset for a file that was not named is a mistake of the user's too.
fn every_offset_is_used(with: &[(&str, &[u8])], options: &ReadOptions) -> Result<(), IngestError> {
    for (file, _) in &options.offsets_s {
        if !with.iter().any(|(name, _)| name == file) {
            return Err(IngestError::OffsetForNoFile {
                file: file.clone(),
                files: with.iter().map(|(name, _)| (*name).to_owned()).collect(),
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
        // Which half of the day it was is said now.
        main.warnings.retain(|w| w.id != "twelve-hour-clock");
    }
    if let Some(day) = options.day {
        main.start.day = Some(day);
    }
}
