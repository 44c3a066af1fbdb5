//! Corrections to a session, and the history that keeps what stood there before.

use chrono::{DateTime, NaiveDate, NaiveDateTime, SubsecRound, Utc};
use rusqlite::{Connection, Result, Row, params};

use super::rows;
use crate::car::{CarSheet, SetupSheet};
use crate::session::SessionMeta;

/// A correction to a session.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// It was run with another setup. If the book has sessions with a setup of that name, their
    /// sheet is taken; else the sheet stays.
    Setup(String),
    /// The day it was run; its start keeps the time of day.
    Day(Option<NaiveDate>),
    /// Local time of its first row.
    Start(Option<NaiveDateTime>),
    /// Who drove.
    Driver(Option<String>),
    /// A note.
    Note(Option<String>),
    /// Leave it out of every comparison, for this reason.
    Exclude(String),
    /// Leave it out no longer.
    Include,
    /// Another car sheet.
    Car(CarSheet),
    /// Another sheet of its setup.
    SetupSheet(SetupSheet),
}

/// One line of the history: what changed, from what to what, when.
#[derive(Debug, Clone, PartialEq)]
pub struct HistoryEntry {
    /// When, by the clock of the computer.
    pub at: DateTime<Utc>,
    /// The session.
    pub id: String,
    /// What changed: `imported`, `setup`, `setup_sheet`, `car`, `day`, `start`, `driver`, `note`,
    /// `excluded`, `ambient_c`.
    pub field: String,
    /// What stood there before; sheets as TOML. `None`: nothing.
    pub old: Option<String>,
    /// What stands there since. `None`: nothing.
    pub new: Option<String>,
}

/// The fields that a fit may lean on.
const TOUCH_THE_FIT: &[&str] = &["setup", "setup_sheet", "car", "day", "start"];

/// Makes a change, writes the history, and drops cached fits that it touches. A change to what
/// stands already leaves no trace.
pub(super) fn apply(conn: &Connection, n: i64, old: &SessionMeta, change: &Change) -> Result<()> {
    let new = changed(conn, old, change)?;
    rows::update(conn, n, &new)?;
    for (before, after) in fields(old)?.into_iter().zip(fields(&new)?) {
        if before.1 != after.1 {
            record(conn, n, before.0, before.1.as_deref(), after.1.as_deref())?;
            if TOUCH_THE_FIT.contains(&before.0) {
                conn.execute("DELETE FROM fits WHERE session = ?", [n])?;
            }
        }
    }
    Ok(())
}

fn changed(conn: &Connection, old: &SessionMeta, change: &Change) -> Result<SessionMeta> {
    let mut new = old.clone();
    match change.clone() {
        Change::Setup(name) => {
            if name != old.setup
                && let Some(sheet) = rows::latest_setup_sheet(conn, &name)?
            {
                new.setup_sheet = sheet;
            }
            new.setup = name;
        }
        Change::Day(day) => {
            new.day = day;
            new.start = (day.zip(old.start)).map(|(day, start)| day.and_time(start.time()));
        }
        Change::Start(start) => new.start = start,
        Change::Driver(driver) => new.driver = driver,
        Change::Note(note) => new.note = note,
        Change::Exclude(reason) => new.excluded = Some(reason),
        Change::Include => new.excluded = None,
        Change::Car(sheet) => new.car = sheet,
        Change::SetupSheet(sheet) => new.setup_sheet = sheet,
    }
    Ok(new)
}

/// What may be amended, as the history shows it.
fn fields(meta: &SessionMeta) -> Result<[(&'static str, Option<String>); 8]> {
    Ok([
        ("setup", Some(meta.setup.clone())),
        ("setup_sheet", Some(rows::toml_text(&meta.setup_sheet)?)),
        ("car", Some(rows::toml_text(&meta.car)?)),
        ("day", meta.day.map(|day| day.to_string())),
        ("start", meta.start.map(rows::instant)),
        ("driver", meta.driver.clone()),
        ("note", meta.note.clone()),
        ("excluded", meta.excluded.clone()),
    ])
}

/// Adds a line to the history.
pub(super) fn record(
    conn: &Connection,
    n: i64,
    field: &str,
    old: Option<&str>,
    new: Option<&str>,
) -> Result<()> {
    let at = Utc::now().trunc_subsecs(0).to_rfc3339();
    conn.prepare_cached(
        "INSERT INTO history (at_utc, session, field, old_value, new_value) VALUES (?, ?, ?, ?, ?)",
    )?
    .execute(params![at, n, field, old, new])?;
    Ok(())
}

/// The history of one session, or of all, oldest line first.
pub(super) fn history(conn: &Connection, n: Option<i64>) -> Result<Vec<HistoryEntry>> {
    conn.prepare_cached(
        "SELECT at_utc, session, field, old_value, new_value
         FROM history WHERE ?1 IS NULL OR session = ?1 ORDER BY n",
    )?
    .query_map([n], entry)?
    .collect()
}

fn entry(row: &Row<'_>) -> Result<HistoryEntry> {
    Ok(HistoryEntry {
        at: rows::parsed(row, 0)?.unwrap_or_default(),
        id: super::id(row.get(1)?),
        field: row.get(2)?,
        old: row.get(3)?,
        new: row.get(4)?,
    })
}
