//! What was computed from the sessions and is worth keeping: fits, and how often was looked.

use rusqlite::{Connection, OptionalExtension, Result, params};
use sha2::{Digest, Sha256};

use super::rows::{instant, toml_text};
use crate::session::SessionMeta;

/// Cached fits kept for one session; the oldest go first. Some settings are tried in turn, but a
/// book should not grow with every one.
const FITS_KEPT: i64 = 16;

/// The key of a session's fit: this program's version, the settings, and all of the session that
/// a fit may lean on. A fit that was begun before an amendment cannot be taken for one after it.
pub fn fit_key(meta: &SessionMeta, settings: &str) -> String {
    let sheet = |text: Result<String>| text.unwrap_or_default();
    let parts = [
        env!("CARGO_PKG_VERSION").to_owned(),
        settings.to_owned(),
        meta.sha256.clone(),
        meta.setup.clone(),
        sheet(toml_text(&meta.car)),
        sheet(toml_text(&meta.setup_sheet)),
        meta.day.map(|day| day.to_string()).unwrap_or_default(),
        meta.start.map(instant).unwrap_or_default(),
        // A session may be imported again in its place, with other columns or another ambient.
        serde_json::to_string(&meta.channels).unwrap_or_default(),
    ];
    let mut hash = Sha256::new();
    for part in parts {
        // With lengths, so that no two lists of parts run together to the same text.
        hash.update((part.len() as u64).to_le_bytes());
        hash.update(part);
    }
    crate::hex::hex(&hash.finalize())
}

/// The answer kept under `key`.
pub(super) fn cached_fit(conn: &Connection, n: i64, key: &str) -> Result<Option<String>> {
    conn.prepare_cached("SELECT answer FROM fits WHERE session = ? AND key = ?")?
        .query_row(params![n, key], |row| row.get(0))
        .optional()
}

/// Keeps an answer under `key`, in the place of what was there.
pub(super) fn keep_fit(conn: &Connection, n: i64, key: &str, json: &str) -> Result<()> {
    conn.execute(
        "INSERT OR REPLACE INTO fits (session, key, answer) VALUES (?, ?, ?)",
        params![n, key, json],
    )?;
    conn.execute(
        "DELETE FROM fits WHERE session = ?1 AND n NOT IN
            (SELECT n FROM fits WHERE session = ?1 ORDER BY n DESC LIMIT ?2)",
        params![n, FITS_KEPT],
    )?;
    Ok(())
}

/// Notes that a pair of setups was compared on some evidence; the same again adds nothing.
pub(super) fn add_look(conn: &Connection, before: &str, after: &str, evidence: &str) -> Result<()> {
    conn.execute(
        "INSERT OR IGNORE INTO looks (one_setup, other_setup, evidence) VALUES (?, ?, ?)",
        params![before.min(after), before.max(after), evidence],
    )?;
    Ok(())
}

/// A test that was planned for a pair of setups.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptPlan {
    /// Sessions with each setup, after which to look.
    pub sessions_per_setup: u32,
    /// Days.
    pub days: u32,
    /// When it was kept, UTC.
    pub at_utc: String,
}

/// Keeps a plan in the place of an earlier one.
pub(super) fn keep_plan(conn: &Connection, [a, b]: [&str; 2], plan: &KeptPlan) -> Result<()> {
    conn.execute(
        "INSERT OR REPLACE INTO plans (one_setup, other_setup, sessions_per_setup, days, at_utc)
            VALUES (?, ?, ?, ?, ?)",
        params![
            a.min(b),
            a.max(b),
            plan.sessions_per_setup,
            plan.days,
            plan.at_utc
        ],
    )?;
    Ok(())
}

/// The plan for a pair of setups, if one was kept.
pub(super) fn plan(conn: &Connection, [a, b]: [&str; 2]) -> Result<Option<KeptPlan>> {
    conn.query_row(
        "SELECT sessions_per_setup, days, at_utc FROM plans
            WHERE one_setup = ? AND other_setup = ?",
        params![a.min(b), a.max(b)],
        |row| {
            Ok(KeptPlan {
                sessions_per_setup: row.get(0)?,
                days: row.get(1)?,
                at_utc: row.get(2)?,
            })
        },
    )
    .optional()
}

/// On how many bodies of evidence a pair of setups was compared.
pub(super) fn looks(conn: &Connection, before: &str, after: &str) -> Result<u32> {
    conn.query_row(
        "SELECT count(*) FROM looks WHERE one_setup = ? AND other_setup = ?",
        params![before.min(after), before.max(after)],
        |row| row.get(0),
    )
}
