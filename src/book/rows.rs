//! A session's rows in the catalogue: written once, read back, amended.
//!
//! Sheets are kept as TOML, the form in which their owner wrote them, and exact to the last digit.

use std::collections::HashMap;
use std::error::Error;

use chrono::NaiveDateTime;
use rusqlite::types::Type;
use rusqlite::{Connection, OptionalExtension, Result, Row, params};
use serde::de::value::{Error as WordError, StrDeserializer};
use serde::de::{DeserializeOwned, IntoDeserializer};
use serde::{Deserialize, Serialize};

use super::channels::{Encoded, Written};
use crate::car::{CarSheet, SetupSheet};
use crate::session::{Aligned, ChannelInfo, SessionMeta};
use crate::warning::Warning;

/// Time order; what has no day comes last, as does, within a day, what has no start.
const IN_TIME_ORDER: &str = "ORDER BY s.day IS NULL, s.day, s.start IS NULL, s.start, s.n";

const SELECT: &str = "
    SELECT s.n, f.name, f.sha256, u.name, c.sheet, u.sheet, s.start, s.day, s.duration_s,
           s.rows_read, s.rows_kept, s.driver, s.note, e.reason
    FROM sessions s
    JOIN files f ON f.session = s.n
    JOIN setups u ON u.n = s.setup
    JOIN cars c ON c.n = s.car
    LEFT JOIN exclusions e ON e.session = s.n";

/// Writes a new session and returns its number.
pub(super) fn insert(conn: &Connection, meta: &SessionMeta, parquet: &Encoded) -> Result<i64> {
    conn.prepare_cached(
        "INSERT INTO sessions (car, setup, duration_s, rows_read, rows_kept, parquet_bytes,
                               parquet_sha256)
         VALUES (?, ?, ?, ?, ?, ?, ?)",
    )?
    .execute(params![
        car(conn, meta)?,
        setup(conn, meta)?,
        meta.duration_s,
        meta.rows_read as i64,
        meta.rows_kept as i64,
        parquet.bytes.len() as i64,
        parquet.sha256,
    ])?;
    let n = conn.last_insert_rowid();
    conn.execute(
        "INSERT INTO files (sha256, name, session) VALUES (?, ?, ?)",
        params![meta.sha256, meta.file, n],
    )?;
    update(conn, n, meta)?;
    insert_channels(conn, n, meta)?;
    insert_alignments(conn, n, meta)?;
    insert_warnings(conn, n, meta)?;
    Ok(n)
}

/// Writes another session's channels and findings under a number that is there already.
pub(super) fn replace(
    conn: &Connection,
    n: i64,
    meta: &SessionMeta,
    parquet: &Encoded,
) -> Result<()> {
    conn.execute(
        "UPDATE sessions SET duration_s = ?, rows_read = ?, rows_kept = ?, parquet_bytes = ?,
                             parquet_sha256 = ? WHERE n = ?",
        params![
            meta.duration_s,
            meta.rows_read as i64,
            meta.rows_kept as i64,
            parquet.bytes.len() as i64,
            parquet.sha256,
            n
        ],
    )?;
    conn.execute(
        "UPDATE files SET sha256 = ?, name = ? WHERE session = ?",
        params![meta.sha256, meta.file, n],
    )?;
    for table in ["channels", "alignments", "warnings", "fits"] {
        conn.execute(&format!("DELETE FROM {table} WHERE session = ?"), [n])?;
    }
    update(conn, n, meta)?;
    insert_channels(conn, n, meta)?;
    insert_alignments(conn, n, meta)?;
    insert_warnings(conn, n, meta)
}

/// Writes what may be amended.
pub(super) fn update(conn: &Connection, n: i64, meta: &SessionMeta) -> Result<()> {
    conn.prepare_cached(
        "UPDATE sessions SET car = ?, setup = ?, start = ?, day = ?, driver = ?, note = ?
         WHERE n = ?",
    )?
    .execute(params![
        car(conn, meta)?,
        setup(conn, meta)?,
        meta.start.map(instant),
        meta.day.map(|day| day.to_string()),
        meta.driver,
        meta.note,
        n
    ])?;
    match &meta.excluded {
        Some(reason) => conn.execute(
            "INSERT INTO exclusions (session, reason) VALUES (?, ?)
             ON CONFLICT (session) DO UPDATE SET reason = excluded.reason",
            params![n, reason],
        )?,
        None => conn.execute("DELETE FROM exclusions WHERE session = ?", [n])?,
    };
    Ok(())
}

/// Every session in time order.
pub(super) fn all(conn: &Connection) -> Result<Vec<SessionMeta>> {
    let mut sheets = Sheets::default();
    let mut metas = conn
        .prepare_cached(&format!("{SELECT} {IN_TIME_ORDER}"))?
        .query_map([], |row| numbered(row, &mut sheets))?
        .collect::<Result<Vec<_>>>()?;
    complete(conn, &mut metas, None)?;
    Ok(metas.into_iter().map(|(_, meta)| meta).collect())
}

/// The session of that number.
pub(super) fn one(conn: &Connection, n: i64) -> Result<Option<SessionMeta>> {
    let found = conn
        .prepare_cached(&format!("{SELECT} WHERE s.n = ?"))?
        .query_row([n], |row| numbered(row, &mut Sheets::default()))
        .optional()?;
    let mut found: Vec<_> = found.into_iter().collect();
    complete(conn, &mut found, Some(n))?;
    Ok(found.pop().map(|(_, meta)| meta))
}

/// The number of the session that was imported from these bytes.
pub(super) fn with_hash(conn: &Connection, sha256: &str) -> Result<Option<i64>> {
    conn.prepare_cached("SELECT session FROM files WHERE sha256 = ?")?
        .query_row([sha256], |row| row.get(0))
        .optional()
}

/// Whether there is a session of that number.
pub(super) fn exists(conn: &Connection, n: i64) -> Result<bool> {
    conn.prepare_cached("SELECT 1 FROM sessions WHERE n = ?")?
        .exists([n])
}

/// The ids of all sessions.
pub(super) fn ids(conn: &Connection) -> Result<Vec<String>> {
    conn.prepare_cached("SELECT n FROM sessions ORDER BY n")?
        .query_map([], |row| row.get(0).map(super::id))?
        .collect()
}

/// What the session's Parquet file was when it was written.
pub(super) fn parquet(conn: &Connection, n: i64) -> Result<Written> {
    conn.prepare_cached(
        "SELECT parquet_bytes, parquet_sha256, rows_kept FROM sessions WHERE n = ?",
    )?
    .query_row([n], |row| {
        Ok(Written {
            bytes: row.get::<_, i64>(0)? as u64,
            sha256: row.get(1)?,
            rows: row.get::<_, i64>(2)? as u64,
        })
    })
}

/// The sheet that the book's latest session under setup `name` has.
pub(super) fn latest_setup_sheet(conn: &Connection, name: &str) -> Result<Option<SetupSheet>> {
    conn.prepare_cached(
        "SELECT u.sheet FROM sessions s JOIN setups u ON u.n = s.setup
         WHERE u.name = ? ORDER BY s.n DESC LIMIT 1",
    )?
    .query_row([name], |row| sheet(row, 0))
    .optional()
}

/// A time as text that sorts, to the nanosecond where there is one.
pub(super) fn instant(at: NaiveDateTime) -> String {
    at.format("%Y-%m-%dT%H:%M:%S%.f").to_string()
}

/// A sheet as TOML.
pub(super) fn toml_text<T: Serialize>(sheet: &T) -> Result<String> {
    toml::to_string(sheet).map_err(|e| rusqlite::Error::ToSqlConversionFailure(Box::new(e)))
}

fn car(conn: &Connection, meta: &SessionMeta) -> Result<i64> {
    let sheet = toml_text(&meta.car)?;
    conn.prepare_cached("INSERT INTO cars (sheet) VALUES (?) ON CONFLICT DO NOTHING")?
        .execute([&sheet])?;
    conn.prepare_cached("SELECT n FROM cars WHERE sheet = ?")?
        .query_row([&sheet], |row| row.get(0))
}

fn setup(conn: &Connection, meta: &SessionMeta) -> Result<i64> {
    let sheet = toml_text(&meta.setup_sheet)?;
    conn.prepare_cached("INSERT INTO setups (name, sheet) VALUES (?, ?) ON CONFLICT DO NOTHING")?
        .execute([&meta.setup, &sheet])?;
    conn.prepare_cached("SELECT n FROM setups WHERE name = ? AND sheet = ?")?
        .query_row([&meta.setup, &sheet], |row| row.get(0))
}

fn insert_channels(conn: &Connection, n: i64, meta: &SessionMeta) -> Result<()> {
    let mut statement =
        conn.prepare_cached("INSERT INTO channels VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)")?;
    for (role, info) in &meta.channels {
        statement.execute(params![
            n,
            role.name(),
            info.column,
            info.unit,
            word(&info.unit_from)?,
            info.resolution,
            info.median_refresh_s,
            info.missing_fraction,
            info.min,
            info.max,
            info.mean,
        ])?;
    }
    Ok(())
}

fn insert_alignments(conn: &Connection, n: i64, meta: &SessionMeta) -> Result<()> {
    let mut statement = conn.prepare_cached("INSERT INTO alignments VALUES (?, ?, ?, ?, ?, ?)")?;
    for (place, it) in meta.aligned.iter().enumerate() {
        let place = place as i64;
        statement.execute(params![
            n,
            place,
            it.file,
            it.offset_s,
            it.drift_ppm,
            it.correlation
        ])?;
    }
    Ok(())
}

fn insert_warnings(conn: &Connection, n: i64, meta: &SessionMeta) -> Result<()> {
    let mut statement = conn.prepare_cached("INSERT INTO warnings VALUES (?, ?, ?, ?, ?)")?;
    for (place, it) in meta.warnings.iter().enumerate() {
        let severity = word(&it.severity)?;
        statement.execute(params![n, place as i64, it.id, severity, it.message])?;
    }
    Ok(())
}

/// Sheets that were read before: many sessions share one, and reading TOML takes time.
#[derive(Default)]
struct Sheets {
    cars: HashMap<String, CarSheet>,
    setups: HashMap<String, SetupSheet>,
}

/// A session's own row, with its number; what hangs on other tables is still empty.
fn numbered(row: &Row<'_>, sheets: &mut Sheets) -> Result<(i64, SessionMeta)> {
    let n = row.get(0)?;
    let meta = SessionMeta {
        id: super::id(n),
        file: row.get(1)?,
        sha256: row.get(2)?,
        setup: row.get(3)?,
        car: shared(&mut sheets.cars, row, 4)?,
        setup_sheet: shared(&mut sheets.setups, row, 5)?,
        start: parsed(row, 6)?,
        day: parsed(row, 7)?,
        duration_s: row.get(8)?,
        rows_read: row.get::<_, i64>(9)? as usize,
        rows_kept: row.get::<_, i64>(10)? as usize,
        driver: row.get(11)?,
        note: row.get(12)?,
        excluded: row.get(13)?,
        channels: Default::default(),
        aligned: Vec::new(),
        warnings: Vec::new(),
    };
    Ok((n, meta))
}

/// A sheet, read once.
fn shared<T: DeserializeOwned + Clone>(
    known: &mut HashMap<String, T>,
    row: &Row<'_>,
    column: usize,
) -> Result<T> {
    let text: String = row.get(column)?;
    if let Some(sheet) = known.get(&text) {
        return Ok(sheet.clone());
    }
    let read: T = sheet(row, column)?;
    known.insert(text, read.clone());
    Ok(read)
}

/// Fills in what hangs on other tables, for the session `only` or for all.
fn complete(conn: &Connection, metas: &mut [(i64, SessionMeta)], only: Option<i64>) -> Result<()> {
    let place: HashMap<i64, usize> = (metas.iter().enumerate())
        .map(|(i, (n, _))| (*n, i))
        .collect();
    let which = match only {
        Some(_) => "WHERE session = ?1",
        None => "WHERE ?1 IS NULL",
    };
    let mut each = |sql: &str, take: &dyn Fn(&Row<'_>, &mut SessionMeta) -> Result<()>| {
        let mut statement = conn.prepare_cached(&sql.replace("WHICH", which))?;
        let mut rows = statement.query([only])?;
        while let Some(row) = rows.next()? {
            if let Some(&i) = place.get(&row.get(0)?) {
                take(row, &mut metas[i].1)?;
            }
        }
        Ok::<(), rusqlite::Error>(())
    };
    each(
        "SELECT session, role, file_column, unit, unit_from, resolution, median_refresh_s,
                missing_fraction, min, max, mean
         FROM channels WHICH",
        &|row, meta| {
            meta.channels.insert(from_word(row, 1)?, channel(row)?);
            Ok(())
        },
    )?;
    each(
        "SELECT session, file, offset_s, drift_ppm, correlation
         FROM alignments WHICH ORDER BY session, place",
        &|row, meta| {
            meta.aligned.push(Aligned {
                file: row.get(1)?,
                offset_s: row.get(2)?,
                drift_ppm: row.get(3)?,
                correlation: row.get(4)?,
            });
            Ok(())
        },
    )?;
    each(
        "SELECT session, id, severity, message FROM warnings WHICH ORDER BY session, place",
        &|row, meta| {
            meta.warnings.push(Warning {
                id: row.get(1)?,
                severity: from_word(row, 2)?,
                message: row.get(3)?,
            });
            Ok(())
        },
    )
}

fn channel(row: &Row<'_>) -> Result<ChannelInfo> {
    Ok(ChannelInfo {
        column: row.get(2)?,
        unit: row.get(3)?,
        unit_from: from_word(row, 4)?,
        resolution: row.get(5)?,
        median_refresh_s: row.get(6)?,
        missing_fraction: row.get(7)?,
        min: row.get(8)?,
        max: row.get(9)?,
        mean: row.get(10)?,
    })
}

/// The one word that a plain enum serialises to.
fn word<T: Serialize>(value: &T) -> Result<String> {
    serde_json::to_value(value)
        .and_then(serde_json::from_value)
        .map_err(|e| rusqlite::Error::ToSqlConversionFailure(Box::new(e)))
}

fn from_word<T: for<'de> Deserialize<'de>>(row: &Row<'_>, column: usize) -> Result<T> {
    let text: String = row.get(column)?;
    let words: StrDeserializer<'_, WordError> = text.as_str().into_deserializer();
    T::deserialize(words).map_err(|e| bad(column, e))
}

fn sheet<T: DeserializeOwned>(row: &Row<'_>, column: usize) -> Result<T> {
    toml::from_str(&row.get::<_, String>(column)?).map_err(|e| bad(column, e))
}

/// A value read from its text; `None`: null.
pub(super) fn parsed<T>(row: &Row<'_>, column: usize) -> Result<Option<T>>
where
    T: std::str::FromStr<Err: Error + Send + Sync + 'static>,
{
    let text: Option<String> = row.get(column)?;
    text.map(|text| text.parse().map_err(|e| bad(column, e)))
        .transpose()
}

fn bad(column: usize, error: impl Error + Send + Sync + 'static) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, Type::Text, Box::new(error))
}
