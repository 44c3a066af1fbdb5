//! Opening the catalogue: one SQLite file, its schema version, and the write lock.
//!
//! The catalogue keeps a rollback journal, not a write-ahead log. Both survive a crash; but a
//! write-ahead log needs two more files beside the catalogue even to be read, which a read-only
//! medium refuses and a copying program may leave behind. `synchronous = EXTRA` makes a commit
//! outlast a power cut: the folder is synced after the journal is gone.

use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags, Transaction, TransactionBehavior};

use super::CATALOGUE;
use super::error::{BookError, Result};

/// What brings a catalogue from one schema version to the next; their count is the version.
const MIGRATIONS: &[&str] = &[
    include_str!("schema_v1.sql"),
    include_str!("schema_v2.sql"),
    include_str!("schema_v3.sql"),
];

/// The schema version that this program writes.
pub(super) const VERSION: i64 = MIGRATIONS.len() as i64;

/// Marks the SQLite file as ours: "heat".
const APPLICATION_ID: i64 = 0x6865_6174;

/// How long to wait for another process's write. An import holds the lock for some 10 ms.
const PATIENCE: Duration = Duration::from_secs(60);

/// Opens the catalogue in `dir` for writing, or for reading where it cannot be written.
pub(super) fn open(dir: &Path) -> Result<Connection> {
    std::fs::create_dir_all(dir).map_err(BookError::io(dir, "make this folder"))?;
    let mut conn = connect(
        dir,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE,
    )?;
    if version(&conn, dir)? < VERSION {
        migrate(&mut conn, dir)?;
    }
    Ok(conn)
}

/// Opens the catalogue in `dir` for reading; creates and changes nothing.
pub(super) fn open_read_only(dir: &Path) -> Result<Connection> {
    let no_book = || BookError::NoBook {
        dir: dir.to_owned(),
    };
    if !dir.join(CATALOGUE).is_file() {
        return Err(no_book());
    }
    let conn = connect(dir, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    match version(&conn, dir)? {
        0 => Err(no_book()),
        VERSION => Ok(conn),
        // Only a writer can bring an older book up to date.
        _ => Err(BookError::ReadOnly {
            dir: dir.to_owned(),
        }),
    }
}

fn connect(dir: &Path, flags: OpenFlags) -> Result<Connection> {
    let conn =
        Connection::open_with_flags(dir.join(CATALOGUE), flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
            .map_err(|e| match e.sqlite_error_code() {
            // What SQLite calls so may have many causes; its own words are all there is to say.
            Some(ErrorCode::CannotOpen) => {
                BookError::io(&dir.join(CATALOGUE), "open")(std::io::Error::other(e.to_string()))
            }
            _ => BookError::sql(dir)(e),
        })?;
    conn.busy_timeout(PATIENCE)
        .and_then(|()| conn.pragma_update(None, "foreign_keys", true))
        .and_then(|()| conn.pragma_update(None, "synchronous", "EXTRA"))
        .map_err(BookError::sql(dir))?;
    Ok(conn)
}

/// The schema version of an open catalogue, 0 for an empty file.
fn version(conn: &Connection, dir: &Path) -> Result<i64> {
    let pragma = |name| {
        conn.pragma_query_value(None, name, |row| row.get::<_, i64>(0))
            .map_err(BookError::sql(dir))
    };
    // Schema and marks in one snapshot: another process may be creating them.
    let snapshot = conn.unchecked_transaction().map_err(BookError::sql(dir))?;
    let tables: i64 = snapshot
        .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
        .map_err(BookError::sql(dir))?;
    let found = pragma("user_version")?;
    if tables > 0 && pragma("application_id")? != APPLICATION_ID {
        return Err(BookError::Foreign {
            file: dir.join(CATALOGUE),
        });
    }
    if found > VERSION {
        return Err(BookError::Newer {
            dir: dir.to_owned(),
            found,
            known: VERSION,
        });
    }
    Ok(found)
}

/// Brings an older (or empty) catalogue up to date, all or nothing. Of an older one a copy is kept
/// beside it, named by its version.
fn migrate(conn: &mut Connection, dir: &Path) -> Result<()> {
    let tx = lock(conn, dir)?;
    // Another process may have done it while this one waited for the lock.
    let found: i64 = tx
        .pragma_query_value(None, "user_version", |row| row.get(0))
        .map_err(BookError::sql(dir))?;
    if (1..VERSION).contains(&found) {
        let copy = dir.join(format!("catalogue.v{found}.sqlite"));
        // Nothing is written yet and nobody else can: the file is whole.
        std::fs::copy(dir.join(CATALOGUE), &copy).map_err(BookError::io(&copy, "write"))?;
    }
    for script in MIGRATIONS.iter().skip(found.try_into().unwrap_or(0)) {
        tx.execute_batch(script).map_err(BookError::sql(dir))?;
    }
    super::seal::renew_all(&tx).map_err(BookError::sql(dir))?;
    tx.pragma_update(None, "application_id", APPLICATION_ID)
        .and_then(|()| tx.pragma_update(None, "user_version", VERSION))
        .and_then(|()| tx.commit())
        .map_err(BookError::sql(dir))
}

/// Takes the write lock: from here to the commit no other process writes to this book.
pub(super) fn lock<'a>(conn: &'a mut Connection, dir: &Path) -> Result<Transaction<'a>> {
    conn.transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(BookError::sql(dir))
}
