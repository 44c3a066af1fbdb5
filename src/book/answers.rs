//! What was computed from the sessions and is worth keeping: fits, and how often was looked.

use rusqlite::{Connection, OptionalExtension, Result, params};
use sha2::{Digest, Sha256};

use super::rows::{instant, toml_text};
use super::seal::{of_text, renew_pairs};
use crate::session::SessionMeta;

/// Cached fits kept for one session; the oldest go first. Some settings are tried in turn, but a
/// book should not grow with every one.
const FITS_KEPT: i64 = 16;

/// The key of a session's fit: this program's version and source, the settings, and all of the session that
/// a fit may lean on. A fit that was begun before an amendment cannot be taken for one after it.
pub fn fit_key(meta: &SessionMeta, settings: &str) -> String {
    let sheet = |text: Result<String>| text.unwrap_or_default();
    let parts = [
        env!("CARGO_PKG_VERSION").to_owned(),
        env!("HEATBOOK_SOURCE").to_owned(),
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

/// The answer kept under `key`; one that is not as it was written is none.
pub(super) fn cached_fit(conn: &Connection, n: i64, key: &str) -> Result<Option<String>> {
    let kept: Option<(String, String)> = conn
        .prepare_cached("SELECT answer, sha256 FROM fits WHERE session = ? AND key = ?")?
        .query_row(params![n, key], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    Ok(kept
        .filter(|(answer, sha256)| of_text(answer) == *sha256)
        .map(|(answer, _)| answer))
}

/// Whether every answer kept for a session is as it was written.
pub(super) fn kept_fits_hold(conn: &Connection, n: i64) -> Result<bool> {
    let kept: Vec<(String, String)> = conn
        .prepare_cached("SELECT answer, sha256 FROM fits WHERE session = ?")?
        .query_map([n], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Result<_>>()?;
    Ok(kept
        .iter()
        .all(|(answer, sha256)| of_text(answer) == *sha256))
}

/// Keeps an answer under `key`, in the place of what was there.
pub(super) fn keep_fit(conn: &Connection, n: i64, key: &str, json: &str) -> Result<()> {
    conn.prepare_cached(
        "INSERT OR REPLACE INTO fits (session, key, answer, sha256) VALUES (?, ?, ?, ?)",
    )?
    .execute(params![n, key, json, of_text(json)])?;
    conn.prepare_cached(
        "DELETE FROM fits WHERE session = ?1 AND n NOT IN
            (SELECT n FROM fits WHERE session = ?1 ORDER BY n DESC LIMIT ?2)",
    )?
    .execute(params![n, FITS_KEPT])?;
    Ok(())
}

/// Notes that a pair of setups was compared on some evidence; the same again adds nothing.
pub(super) fn add_look(conn: &Connection, before: &str, after: &str, evidence: &str) -> Result<()> {
    conn.execute(
        "INSERT OR IGNORE INTO looks (one_setup, other_setup, evidence) VALUES (?, ?, ?)",
        params![before.min(after), before.max(after), evidence],
    )?;
    renew_pairs(conn)
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
    renew_pairs(conn)
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
