//! Seals: the SHA-256 of every value that the catalogue has of a session, or of pairs of setups.
//!
//! SQLite tells a damaged page; a changed bit inside a value reads like any other value. Whoever
//! writes renews the seal in the same transaction; `verify` computes it again.

use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension, Result, Row, params};
use sha2::{Digest, Sha256};

/// All that hangs on a session but its fits, which can be computed again.
const OF_SESSION: &[&str] = &[
    "SELECT s.n, c.sheet, u.name, u.sheet, s.start, s.day, s.duration_s, s.rows_read, s.rows_kept,
            s.driver, s.note, s.parquet_bytes, s.parquet_sha256
     FROM sessions s JOIN cars c ON c.n = s.car JOIN setups u ON u.n = s.setup WHERE s.n = ?1",
    "SELECT sha256, name FROM files WHERE session = ?1",
    "SELECT * FROM channels WHERE session = ?1 ORDER BY role",
    "SELECT * FROM alignments WHERE session = ?1 ORDER BY place",
    "SELECT * FROM warnings WHERE session = ?1 ORDER BY place",
    "SELECT reason FROM exclusions WHERE session = ?1",
    "SELECT * FROM history WHERE session = ?1 ORDER BY n",
];

/// What stands on pairs of setups; the number is not asked for.
const OF_PAIRS: &[&str] = &[
    "SELECT * FROM looks WHERE ?1 = 0 ORDER BY one_setup, other_setup, evidence",
    "SELECT * FROM plans WHERE ?1 = 0 ORDER BY one_setup, other_setup",
];

/// The name under which the seal of the pairs is kept.
pub(super) const PAIRS: &str = "pairs";

/// Renews the seal of a session.
pub(super) fn renew(conn: &Connection, n: i64) -> Result<()> {
    keep(conn, &super::id(n), &hash(conn, OF_SESSION, n)?)
}

/// Renews the seal of what stands on pairs of setups.
pub(super) fn renew_pairs(conn: &Connection) -> Result<()> {
    keep(conn, PAIRS, &hash(conn, OF_PAIRS, 0)?)
}

/// Seals a catalogue that has no seals yet.
pub(super) fn renew_all(conn: &Connection) -> Result<()> {
    let numbers: Vec<i64> = conn
        .prepare("SELECT n FROM sessions")?
        .query_map([], |row| row.get(0))?
        .collect::<Result<_>>()?;
    numbers.into_iter().try_for_each(|n| renew(conn, n))?;
    renew_pairs(conn)
}

/// Whether a session is as it was written.
pub(super) fn holds(conn: &Connection, n: i64) -> Result<bool> {
    Ok(kept(conn, &super::id(n))? == Some(hash(conn, OF_SESSION, n)?))
}

/// Whether what stands on pairs of setups is as it was written.
pub(super) fn pairs_hold(conn: &Connection) -> Result<bool> {
    Ok(kept(conn, PAIRS)? == Some(hash(conn, OF_PAIRS, 0)?))
}

/// SHA-256 of a text, as fits carry it.
pub(super) fn of_text(text: &str) -> String {
    crate::hex::hex(&Sha256::digest(text))
}

fn keep(conn: &Connection, what: &str, sha256: &str) -> Result<()> {
    conn.prepare_cached("INSERT OR REPLACE INTO seals (what, sha256) VALUES (?, ?)")?
        .execute(params![what, sha256])?;
    Ok(())
}

fn kept(conn: &Connection, what: &str) -> Result<Option<String>> {
    conn.prepare_cached("SELECT sha256 FROM seals WHERE what = ?")?
        .query_row([what], |row| row.get(0))
        .optional()
}

fn hash(conn: &Connection, queries: &[&str], n: i64) -> Result<String> {
    let mut hash = Sha256::new();
    for query in queries {
        let mut statement = conn.prepare_cached(query)?;
        let columns = statement.column_count();
        let mut rows = statement.query([n])?;
        while let Some(row) = rows.next()? {
            (0..columns).try_for_each(|column| take(&mut hash, row, column))?;
        }
        hash.update(b"\n");
    }
    Ok(crate::hex::hex(&hash.finalize()))
}

/// A value with its type and length, so that no two rows run together to the same bytes.
fn take(hash: &mut Sha256, row: &Row<'_>, column: usize) -> Result<()> {
    let mut put = |kind: u8, bytes: &[u8]| {
        hash.update([kind]);
        hash.update((bytes.len() as u64).to_le_bytes());
        hash.update(bytes);
    };
    match row.get_ref(column)? {
        ValueRef::Null => put(b'n', &[]),
        ValueRef::Integer(value) => put(b'i', &value.to_le_bytes()),
        ValueRef::Real(value) => put(b'r', &value.to_bits().to_le_bytes()),
        ValueRef::Text(text) => put(b't', text),
        ValueRef::Blob(bytes) => put(b'b', bytes),
    }
    Ok(())
}
