//! The book: one folder that keeps everything.
//!
//! ```text
//! catalogue.sqlite                        cars, setups, sessions, fits, exclusions, history, looks
//! catalogue.v1.sqlite                     what stood there before it was brought up to date
//! channels/session=s3/part-0.parquet      t_s and one column a role, in the units used inside;
//!                                         raw_ROLE beside it where cleaning took values out
//! staging/                                an import under way
//! ```
//!
//! An import is all or nothing. It takes the catalogue's write lock, writes the channels into
//! `staging`, syncs them, inserts the rows, renames the folder into `channels`, syncs that, and
//! commits. The row decides: killed before the commit, an import leaves at most a folder that no
//! row knows, and the next write removes it. Reading never waits for the disk of a writer for
//! longer than a commit takes.

mod amend;
mod answers;
mod backup;
mod catalogue;
mod channels;
mod error;
mod export;
mod rows;
mod seal;
#[cfg(test)]
mod tests;
mod verify;

use std::path::{Path, PathBuf};

use rayon::prelude::*;
use rusqlite::{Connection, Transaction};

pub use amend::{Change, HistoryEntry};
pub use answers::{KeptPlan, fit_key};
pub use backup::Backup;
pub use channels::Encoded;
pub use error::{BookError, Result};
pub use export::{Exported, Format};
pub use verify::{Fault, Verified};

use crate::session::{Session, SessionMeta};

/// Sessions held in memory at a time where one passes through many.
const AT_A_TIME: usize = 16;

/// The catalogue's file name.
const CATALOGUE: &str = "catalogue.sqlite";

/// An open book.
#[derive(Debug)]
pub struct Book {
    dir: PathBuf,
    conn: Connection,
}

/// What became of a session that was to be added.
#[derive(Debug, Clone, PartialEq)]
pub enum Added {
    /// It is in the book now, as this.
    New(SessionMeta),
    /// The same bytes were imported before; nothing changed. The session as it is stored.
    Duplicate(SessionMeta),
}

impl Book {
    /// Where the book is unless the user says otherwise: `heatbook` in the platform's folder for
    /// the user's data on this machine. `None`: the platform names no such folder.
    pub fn default_dir() -> Option<PathBuf> {
        directories::BaseDirs::new().map(|dirs| dirs.data_local_dir().join("heatbook"))
    }

    /// Opens the book in `dir`; makes the folder and an empty book where there is none. A book
    /// that cannot be written to is opened for reading.
    ///
    /// # Errors
    /// A folder that cannot be made, a file that is no catalogue, a later schema version.
    pub fn open(dir: &Path) -> Result<Self> {
        Ok(Self {
            dir: dir.to_owned(),
            conn: catalogue::open(dir)?,
        })
    }

    /// Opens an existing book for reading only; makes and changes nothing.
    ///
    /// # Errors
    /// As [`Book::open`]; and [`BookError::NoBook`] where there is none.
    pub fn open_read_only(dir: &Path) -> Result<Self> {
        Ok(Self {
            dir: dir.to_owned(),
            conn: catalogue::open_read_only(dir)?,
        })
    }

    /// Opens an existing book; makes none. One of an older version is brought up to date, and a
    /// change that was cut short is undone, where this process may write.
    ///
    /// # Errors
    /// As [`Book::open`]; and [`BookError::NoBook`] where there is none.
    pub fn open_existing(dir: &Path) -> Result<Self> {
        match Self::open_read_only(dir) {
            Ok(_) | Err(BookError::ReadOnly { .. } | BookError::Unfinished { .. }) => {
                Self::open(dir)
            }
            Err(error) => Err(error),
        }
    }

    /// The book's folder.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// Adds a session, all or nothing, and gives it an id. Whatever id it brings is ignored.
    ///
    /// # Errors
    /// A book that cannot be written; channels that do not fit into Parquet.
    pub fn add(&mut self, session: Session) -> Result<Added> {
        match self.with_hash(&session.meta.sha256)? {
            Some(stored) => Ok(Added::Duplicate(stored)),
            None => self.add_encoded(session.meta.clone(), &Encoded::of(&session)?),
        }
    }

    /// The same with channels that were encoded beforehand.
    ///
    /// # Errors
    /// A book that cannot be written.
    pub fn add_encoded(&mut self, mut meta: SessionMeta, parquet: &Encoded) -> Result<Added> {
        self.write(|tx, dir| {
            let sql = BookError::sql(dir);
            // Another process may have added the same bytes in the meantime.
            if let Some(n) = rows::with_hash(tx, &meta.sha256).map_err(&sql)? {
                let stored = rows::one(tx, n).map_err(&sql)?;
                return Ok(Added::Duplicate(stored.unwrap_or(meta)));
            }
            let n = rows::insert(tx, &meta, parquet).map_err(&sql)?;
            meta.id = id(n);
            amend::record(tx, n, "imported", None, Some(&meta.file))
                .and_then(|()| seal::renew(tx, n))
                .map_err(&sql)?;
            channels::put(dir, &meta.id, parquet)?;
            Ok(Added::New(meta))
        })
    }

    /// Puts a session in the place of one that is there, all or nothing: its id, and with it the
    /// history, stays. `field`, `old` and `new` are what the history says of it.
    ///
    /// # Errors
    /// An unknown id; bytes that another session was imported from; a book that cannot be written.
    pub fn replace(
        &mut self,
        id: &str,
        session: Session,
        change: (&str, Option<&str>, Option<&str>),
    ) -> Result<SessionMeta> {
        let parquet = Encoded::of(&session)?;
        self.replace_encoded(id, session.meta, &parquet, change)
    }

    /// The same with channels that were encoded beforehand.
    ///
    /// # Errors
    /// As [`Book::replace`].
    pub fn replace_encoded(
        &mut self,
        id: &str,
        mut meta: SessionMeta,
        parquet: &Encoded,
        (field, old, new): (&str, Option<&str>, Option<&str>),
    ) -> Result<SessionMeta> {
        let n = self.known(id)?;
        if let Some(other) = self.with_hash(&meta.sha256)?.filter(|other| other.id != id) {
            return Err(BookError::Imported {
                dir: self.dir.clone(),
                file: meta.file,
                id: other.id,
            });
        }
        meta.id = id.to_owned();
        self.write(|tx, dir| {
            let sql = BookError::sql(dir);
            rows::replace(tx, n, &meta, parquet).map_err(&sql)?;
            amend::record(tx, n, field, old, new)
                .and_then(|()| seal::renew(tx, n))
                .map_err(&sql)?;
            channels::exchange(dir, id, parquet)
        })?;
        channels::forget_aside(&self.dir, id);
        Ok(meta)
    }

    /// Every session in time order: day, start, id; unknown day last.
    ///
    /// # Errors
    /// A damaged catalogue.
    pub fn sessions(&self) -> Result<Vec<SessionMeta>> {
        self.read(rows::all)
    }

    /// What is known of a session, without its channels.
    ///
    /// # Errors
    /// An unknown id; a damaged catalogue.
    pub fn meta(&self, id: &str) -> Result<SessionMeta> {
        self.read(|conn| match number(id) {
            Some(n) => rows::one(conn, n),
            None => Ok(None),
        })?
        .map_or_else(|| Err(self.unknown(id)?), Ok)
    }

    /// A session with its channels.
    ///
    /// # Errors
    /// An unknown id; a damaged catalogue; a Parquet file that is not as it was written.
    pub fn session(&self, id: &str) -> Result<Session> {
        let meta = self.meta(id)?;
        let n = self.known(id)?;
        let written = self.read(|conn| rows::parquet(conn, n))?;
        let frame = channels::get(&self.dir, id, &written)?;
        Ok(Session::from_frame(meta, frame))
    }

    /// What `f` makes of each session with its channels, in the order of `metas`, on all cores and
    /// with a few sessions in memory at a time. A session whose channels are missing or damaged is
    /// an error of its own: the rest stays usable.
    ///
    /// # Errors
    /// An unknown id; a damaged catalogue.
    pub fn map<T: Send>(
        &self,
        metas: &[SessionMeta],
        f: impl Fn(Session) -> T + Sync,
    ) -> Result<Vec<Result<T>>> {
        let mut made = Vec::with_capacity(metas.len());
        for some in metas.chunks(AT_A_TIME) {
            let mut written = Vec::with_capacity(some.len());
            for meta in some {
                let n = self.known(&meta.id)?;
                written.push((meta, self.read(|conn| rows::parquet(conn, n))?));
            }
            let dir = self.dir.as_path();
            made.par_extend(
                written
                    .into_par_iter()
                    .with_max_len(1)
                    .map(|(meta, written)| {
                        let frame = channels::get(dir, &meta.id, &written)?;
                        Ok(f(Session::from_frame(meta.clone(), frame)))
                    }),
            );
        }
        Ok(made)
    }

    /// The session that was imported from the bytes of this hash, if any.
    ///
    /// # Errors
    /// A damaged catalogue.
    pub fn with_hash(&self, sha256: &str) -> Result<Option<SessionMeta>> {
        self.read(|conn| match rows::with_hash(conn, sha256)? {
            Some(n) => rows::one(conn, n),
            None => Ok(None),
        })
    }

    /// Corrects a session. The old value is kept in the history; cached fits that the change
    /// touches are dropped.
    ///
    /// # Errors
    /// An unknown id; an empty setup name or reason; a book that cannot be written.
    pub fn amend(&mut self, id: &str, change: &Change) -> Result<()> {
        let n = self.known(id)?;
        let blank = match change {
            Change::Setup(name) => name.trim().is_empty().then_some("setup"),
            Change::Exclude(reason) => reason.trim().is_empty().then_some("reason to exclude"),
            _ => None,
        };
        if let Some(what) = blank {
            return Err(BookError::Blank {
                id: id.to_owned(),
                what,
            });
        }
        self.write(|tx, dir| {
            let sql = BookError::sql(dir);
            match rows::one(tx, n).map_err(&sql)? {
                Some(old) => amend::apply(tx, n, &old, change)
                    .and_then(|()| seal::renew(tx, n))
                    .map_err(&sql),
                None => Ok(()),
            }
        })
    }

    /// The history of one session, or of the whole book, oldest line first.
    ///
    /// # Errors
    /// An unknown id; a damaged catalogue.
    pub fn history(&self, id: Option<&str>) -> Result<Vec<HistoryEntry>> {
        let n = id.map(|id| self.known(id)).transpose()?;
        self.read(|conn| amend::history(conn, n))
    }

    /// The fits of sessions that were kept, each `(id, key)`; `None`: none is kept under that key.
    ///
    /// # Errors
    /// A damaged catalogue.
    pub fn cached_fits(&self, wanted: &[(String, String)]) -> Result<Vec<Option<String>>> {
        self.read(|conn| {
            let kept = |(id, key): &(String, String)| match number(id) {
                Some(n) => answers::cached_fit(conn, n, key),
                None => Ok(None),
            };
            wanted.iter().map(kept).collect()
        })
    }

    /// Keeps fits of sessions, each `(id, key, answer)`; all or none.
    ///
    /// # Errors
    /// An unknown id; a book that cannot be written.
    pub fn keep_fits(&mut self, fits: &[(String, String, String)]) -> Result<()> {
        if fits.is_empty() {
            return Ok(());
        }
        let mut numbers = Vec::with_capacity(fits.len());
        for (id, _, _) in fits {
            numbers.push(self.known(id)?);
        }
        self.write(|tx, dir| {
            let mut each = numbers.iter().zip(fits);
            each.try_for_each(|(n, (_, key, json))| answers::keep_fit(tx, *n, key, json))
                .map_err(BookError::sql(dir))
        })
    }

    /// Notes that two setups were compared, and returns on how many different bodies of evidence
    /// they have been by now, this one included. `evidence` stands for what was looked at
    /// (sessions and settings). Exchanging before and after is no new pair.
    ///
    /// # Errors
    /// A book that cannot be written.
    pub fn count_look(&mut self, before: &str, after: &str, evidence: &str) -> Result<u32> {
        self.write(|tx, dir| {
            answers::add_look(tx, before, after, evidence)
                .and_then(|()| answers::looks(tx, before, after))
                .map_err(BookError::sql(dir))
        })
    }

    /// On how many different bodies of evidence two setups have been compared so far.
    ///
    /// # Errors
    /// A damaged catalogue.
    pub fn looks(&self, before: &str, after: &str) -> Result<u32> {
        self.read(|conn| answers::looks(conn, before, after))
    }

    /// Keeps the plan for a pair of setups in the place of an earlier one. Exchanging before and
    /// after is no new pair.
    ///
    /// # Errors
    /// A book that cannot be written.
    pub fn keep_plan(&mut self, setups: [&str; 2], sessions: u32, days: u32) -> Result<()> {
        let plan = KeptPlan {
            sessions_per_setup: sessions,
            days,
            at_utc: chrono::Utc::now().format("%Y-%m-%dT%H:%M:%SZ").to_string(),
        };
        self.write(|tx, dir| answers::keep_plan(tx, setups, &plan).map_err(BookError::sql(dir)))
    }

    /// The plan for a pair of setups, if one was kept.
    ///
    /// # Errors
    /// A damaged catalogue.
    pub fn plan(&self, setups: [&str; 2]) -> Result<Option<KeptPlan>> {
        self.read(|conn| answers::plan(conn, setups))
    }

    /// Reads in one snapshot.
    fn read<T>(&self, f: impl FnOnce(&Connection) -> rusqlite::Result<T>) -> Result<T> {
        self.conn
            .unchecked_transaction()
            .and_then(|snapshot| f(&snapshot))
            .map_err(BookError::sql(&self.dir))
    }

    /// Writes under the write lock, all or nothing; first removes what a killed import left.
    fn write<T>(&mut self, f: impl FnOnce(&Transaction<'_>, &Path) -> Result<T>) -> Result<T> {
        let dir = self.dir.as_path();
        let tx = catalogue::lock(&mut self.conn, dir)?;
        let known = rows::ids(&tx).map_err(BookError::sql(dir))?;
        for id in channels::set_aside(dir) {
            if let (true, Some(n)) = (known.contains(&id), number(&id)) {
                let written = rows::parquet(&tx, n).map_err(BookError::sql(dir))?;
                channels::restore(dir, &id, &written.sha256)?;
            }
        }
        channels::sweep(dir, &known.into_iter().collect());
        let done = f(&tx, dir)?;
        tx.commit().map_err(BookError::sql(dir))?;
        step("committed");
        Ok(done)
    }

    /// The number behind an id that the book has.
    fn known(&self, id: &str) -> Result<i64> {
        let there = |n: &i64| self.read(|conn| rows::exists(conn, *n));
        match number(id) {
            Some(n) if there(&n)? => Ok(n),
            _ => Err(self.unknown(id)?),
        }
    }

    fn unknown(&self, id: &str) -> Result<BookError> {
        let mut nearest = self.read(rows::ids)?;
        nearest.sort_by_key(|known| strsim::damerau_levenshtein(known, id));
        nearest.truncate(3);
        Ok(BookError::UnknownSession {
            dir: self.dir.clone(),
            id: id.to_owned(),
            nearest,
        })
    }
}

/// The id of the session of number `n`.
fn id(n: i64) -> String {
    format!("s{n}")
}

/// The number in an id such as `s3`; `None`: not written as the book writes ids.
fn number(id: &str) -> Option<i64> {
    let n = id.strip_prefix('s')?.parse().ok()?;
    (self::id(n) == id).then_some(n)
}

/// A point at which a test may have this process die.
fn step(_name: &str) {
    #[cfg(test)]
    tests::die_if_told(_name);
}
