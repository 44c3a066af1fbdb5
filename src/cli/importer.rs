//! Puts what was read into the book, and gathers what is to be said of it.

use std::path::Path;

use super::failure::Failure;
use super::fit;
use super::import::{Document, Imported};
use super::judged;
use super::reading::Reading;
use super::worked::{Read, Worked};
use crate::book::{Added, Book, Encoded};
use crate::estimate::SessionFit;
use crate::ingest::{IngestError, ReadOptions, ambient_doubts};
use crate::laps::Laps;
use crate::limits::SessionLimit;
use crate::session::SessionMeta;
use crate::warning::Warning;
use crate::words::quoted;

/// An import under way.
pub struct Importer<'a> {
    /// Opened at the first log that can be read: a call that imports nothing makes no book.
    book: Option<Book>,
    dir: &'a Path,
    known: Vec<SessionMeta>,
    options: &'a ReadOptions,
    replace: Option<&'a str>,
    reading: &'a Reading,
    /// Sessions added, and the answers that the book does not keep yet.
    unkept: Vec<(SessionMeta, SessionFit, SessionLimit)>,
    /// What was done so far.
    pub document: &'a mut Document,
}

impl<'a> Importer<'a> {
    /// An import into the book in `dir`, which holds the sessions `known`.
    pub fn new(
        dir: &'a Path,
        known: Vec<SessionMeta>,
        options: &'a ReadOptions,
        (replace, reading): (Option<&'a str>, &'a Reading),
        document: &'a mut Document,
    ) -> Self {
        Self {
            book: None,
            dir,
            known,
            options,
            replace,
            reading,
            unkept: Vec::new(),
            document,
        }
    }

    /// Takes the sessions of a file into the book.
    pub fn take(
        &mut self,
        path: &Path,
        read: Result<Vec<Read>, IngestError>,
    ) -> Result<(), Failure> {
        let sessions = read?;
        if let (Some(_), 2..) = (self.replace, sessions.len()) {
            return Err(Failure::new(
                format!(
                    "{}: --replace takes one session, and the file holds {}",
                    path.display(),
                    sessions.len()
                ),
                "cut the file, and keep the header in each part",
            ));
        }
        let mut book = match self.book.take() {
            Some(book) => book,
            None => Book::open(self.dir)?,
        };
        let done = sessions
            .into_iter()
            .try_for_each(|session| self.put(&mut book, path, session));
        self.book = Some(book);
        done
    }

    /// Keeps what was worked out of the sessions that were added since.
    pub fn keep(&mut self) -> Result<(), Failure> {
        let Some(book) = &mut self.book else {
            return Ok(());
        };
        let new = std::mem::take(&mut self.unkept);
        fit::keep(book, new.iter().map(|(meta, fit, _)| (meta, fit)))?;
        judged::keep_usual(book, new.iter().map(|(meta, _, limit)| (meta, limit)))
    }

    fn put(&mut self, book: &mut Book, path: &Path, read: Read) -> Result<(), Failure> {
        let mut meta = read.session.meta.clone();
        if self.replace.is_none()
            && let Some(stored) = book.with_hash(&meta.sha256)?
        {
            self.duplicate(path, stored);
            return Ok(());
        }
        let of = || Worked::of(&read.session, self.reading);
        let worked = read.worked.unwrap_or_else(of);
        meta.warnings.extend(worked.missed);
        let parquet = worked.parquet?;
        let meta = if let Some(id) = self.replace {
            replace(book, id, (meta, &parquet), &self.known)?
        } else {
            meta.warnings.extend(ambient_doubts(&meta, &self.known));
            match book.add_encoded(meta, &parquet)? {
                Added::New(meta) => {
                    self.tell_of_same_drive(&meta);
                    meta
                }
                Added::Duplicate(meta) => {
                    self.duplicate(path, meta);
                    return Ok(());
                }
            }
        };
        // They were worked out before the session had its id.
        let (mut fit, mut limit) = (worked.fit, worked.limit);
        fit.id.clone_from(&meta.id);
        limit.id.clone_from(&meta.id);
        self.unkept.push((meta.clone(), fit, limit));
        self.added(meta, worked.laps);
        Ok(())
    }

    fn added(&mut self, meta: SessionMeta, laps: Option<Laps>) {
        let named = |warning: &Warning| Warning {
            message: format!("{}: {}", meta.id, warning.message),
            ..warning.clone()
        };
        let document = &mut self.document;
        document.warnings.extend(meta.warnings.iter().map(named));
        document.aligned.extend(meta.aligned.iter().cloned());
        self.known.push(meta.clone());
        document.sessions.push(Imported::new(meta, false, laps));
    }

    /// Another session that looks like the same drive: the same log, or the same time of the same car.
    fn tell_of_same_drive(&mut self, meta: &SessionMeta) {
        let twin = self.known.iter().find(|other| {
            (&other.file, other.rows_read) == (&meta.file, meta.rows_read)
                && (other.duration_s - meta.duration_s).abs() < 1e-3
        });
        let at_once = || {
            self.known.iter().find(|other| {
                other.excluded.is_none() && other.car.name == meta.car.name && other.overlaps(meta)
            })
        };
        let warning = if let Some(twin) = twin {
            Warning::caution(
                "same-log-twice",
                format!(
                    "{0} looks like the log of {1} (same name, rows and length): one drive must not count twice, so exclude one: heatbook amend {0} --exclude \"as {1}\"",
                    meta.id, twin.id
                ),
            )
        } else if let Some(other) = at_once() {
            Warning::caution(
                "overlaps-in-time",
                format!(
                    "{0} (setup {2}) overlaps {1} (setup {3}) in time, and one car cannot be in two sessions at once: if both are one drive, exclude one: heatbook amend {0} --exclude \"as {1}\"; if a clock is wrong: heatbook amend {0} --start DATETIME",
                    meta.id,
                    other.id,
                    quoted(&meta.setup),
                    quoted(&other.setup)
                ),
            )
        } else {
            return;
        };
        self.document.warnings.push(warning);
    }

    fn duplicate(&mut self, path: &Path, meta: SessionMeta) {
        let warnings = &mut self.document.warnings;
        warnings.push(Warning::note(
            "duplicate",
            format!("{} is in the book already, as {}", path.display(), meta.id),
        ));
        if let Some(flags) = dropped_flags(self.options) {
            warnings.push(Warning::caution(
                "duplicate-flags-unused",
                format!(
                    "{0}: {flags} had no effect on what is in the book; heatbook amend corrects day, start, ambient, driver, note and sheets, and --replace {0} imports the log again in its place",
                    meta.id
                ),
            ));
        }
        if meta.setup != self.options.setup {
            warnings.push(Warning::caution(
                "duplicate-other-setup",
                format!(
                    "{0} stays with setup `{1}`; if it was run with `{2}`: heatbook amend {0} --setup {2}",
                    meta.id, meta.setup, self.options.setup
                ),
            ));
        }
        self.document.sessions.push(Imported::new(meta, true, None));
    }
}

/// Puts a session in the place of one in the book. What was said of that one and is not said now
/// stays: day, start, driver, note, exclusion.
fn replace(
    book: &mut Book,
    id: &str,
    (mut new, parquet): (SessionMeta, &Encoded),
    known: &[SessionMeta],
) -> Result<SessionMeta, Failure> {
    let old = book.meta(id)?;
    new.excluded = old.excluded;
    new.driver = new.driver.take().or(old.driver);
    new.note = new.note.take().or(old.note);
    new.start = new.start.or(old.start);
    new.day = new.day.or(old.day);
    if new.day.is_some() {
        new.warnings.retain(|w| w.id != "day-unknown");
    }
    if new.file != old.file {
        new.warnings.push(Warning::caution(
            "replaced-another-file",
            format!("it took the place of `{}`", old.file),
        ));
    }
    new.id = id.to_owned();
    let doubts = ambient_doubts(&new, known);
    new.warnings.extend(doubts);
    let file = new.file.clone();
    let change = ("imported", Some(old.file.as_str()), Some(file.as_str()));
    Ok(book.replace_encoded(id, new, parquet, change)?)
}

/// Flags that a log already in the book cannot take any more.
fn dropped_flags(options: &ReadOptions) -> Option<String> {
    let given = [
        ("--map", !options.maps.is_empty()),
        ("--profile", !options.profile_maps.is_empty()),
        ("--start", options.start.is_some()),
        ("--day", options.day.is_some()),
        ("--ambient-c", options.ambient_c.is_some()),
        ("--driver", options.driver.is_some()),
        ("--note", options.note.is_some()),
    ];
    let flags: Vec<&str> = given.iter().filter(|g| g.1).map(|g| g.0).collect();
    (!flags.is_empty()).then(|| flags.join(", "))
}
