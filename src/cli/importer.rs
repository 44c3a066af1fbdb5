//! Puts what was read into the book, and gathers what is to be said of it.

use std::path::Path;

use super::failure::Failure;
use super::fit::assess_new;
use super::import::{Document, Imported};
use super::judged::judge_new;
use super::reading::Reading;
use crate::book::{Added, Book};
use crate::ingest::{IngestError, ReadOptions, ambient_doubts};
use crate::laps::Laps;
use crate::session::{Session, SessionMeta};
use crate::warning::Warning;
use crate::words::quoted;

/// Laps are looked for in steps of this length, s.
const LAP_STEP_S: f64 = 0.5;

/// An import under way.
pub struct Importer<'a> {
    /// Opened at the first log that can be read: a call that imports nothing makes no book.
    book: Option<Book>,
    dir: &'a Path,
    known: Vec<SessionMeta>,
    options: &'a ReadOptions,
    replace: Option<&'a str>,
    reading: &'a Reading,
    unassessed: Vec<Session>,
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
            unassessed: Vec::new(),
            document,
        }
    }

    /// Takes the sessions of a file into the book.
    pub fn take(
        &mut self,
        path: &Path,
        read: Result<Vec<Session>, IngestError>,
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

    /// Fits and judges what was added since: the listing wants to know at once whether a session says
    /// anything, and limits are asked for more often than logs are imported.
    pub fn assess(&mut self) -> Result<(), Failure> {
        match &mut self.book {
            Some(book) => {
                let new = std::mem::take(&mut self.unassessed);
                assess_new(book, &new)?;
                judge_new(book, &new)
            }
            None => Ok(()),
        }
    }

    fn put(&mut self, book: &mut Book, path: &Path, mut session: Session) -> Result<(), Failure> {
        let (laps, missed) = self.reading.laps(&session.grid(LAP_STEP_S));
        session.meta.warnings.extend(missed);
        if let Some(id) = self.replace {
            let frame = session.frame().clone();
            let meta = replace(book, id, session, &self.known)?;
            self.added(Session::from_frame(meta, frame), laps);
            return Ok(());
        }
        let doubts = ambient_doubts(&session.meta, &self.known);
        session.meta.warnings.extend(doubts);
        let frame = session.frame().clone();
        match book.add(session)? {
            Added::New(meta) => {
                self.tell_of_same_drive(&meta);
                self.added(Session::from_frame(meta, frame), laps);
            }
            Added::Duplicate(meta) => self.duplicate(path, meta),
        }
        Ok(())
    }

    fn added(&mut self, session: Session, laps: Option<Laps>) {
        let meta = session.meta.clone();
        let named = |warning: &Warning| Warning {
            message: format!("{}: {}", meta.id, warning.message),
            ..warning.clone()
        };
        let document = &mut self.document;
        document.warnings.extend(meta.warnings.iter().map(named));
        document.aligned.extend(meta.aligned.iter().cloned());
        self.unassessed.push(session);
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
    mut session: Session,
    known: &[SessionMeta],
) -> Result<SessionMeta, Failure> {
    let old = book.meta(id)?;
    let new = &mut session.meta;
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
    let doubts = ambient_doubts(new, known);
    new.warnings.extend(doubts);
    let file = new.file.clone();
    Ok(book.replace(id, session, ("imported", Some(&old.file), Some(&file)))?)
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
