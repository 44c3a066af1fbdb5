//! All that can be worked out of a log before the book is asked, so that it is done for many at once.

use std::collections::HashSet;
use std::path::Path;
use std::sync::Mutex;

use super::judged;
use super::reading::Reading;
use crate::book::{BookError, Encoded};
use crate::estimate::{SessionFit, fit_session};
use crate::ingest::{IngestError, ReadOptions, read_sessions};
use crate::laps::Laps;
use crate::limits::{SessionLimit, judge};
use crate::session::Session;
use crate::warning::Warning;

/// Laps are looked for in steps of this length, s.
const LAP_STEP_S: f64 = 0.5;

/// A session of a log, read.
pub struct Read {
    pub session: Session,
    /// `None`: the book seems to have the session already, or is about to get it from another file of the call.
    pub worked: Option<Worked>,
}

/// What was worked out of a session.
pub struct Worked {
    pub parquet: Result<Encoded, BookError>,
    pub laps: Option<Laps>,
    /// What is to be said of the laps.
    pub missed: Option<Warning>,
    /// Whether it says anything: the listing wants to know at once.
    pub fit: SessionFit,
    /// Limits are asked for more often than logs are imported.
    pub limit: SessionLimit,
}

/// Hashes of the sessions that need no work: those of the book, and those that this call works on already.
pub struct Claimed(Mutex<HashSet<String>>);

impl Claimed {
    /// Those of the book.
    pub fn new(known: HashSet<String>) -> Self {
        Self(Mutex::new(known))
    }

    /// Whether a session is nobody's yet; from now on it is the caller's.
    fn claim(&self, sha256: &str) -> bool {
        let mut hashes = self.0.lock().unwrap_or_else(|held| held.into_inner());
        hashes.insert(sha256.to_owned())
    }
}

/// Reads the sessions of a log; those that are `claimed` are not worked on.
pub fn read(
    path: &Path,
    options: &ReadOptions,
    reading: &Reading,
    claimed: &Claimed,
) -> Result<Vec<Read>, IngestError> {
    let sessions = read_sessions(path, options)?.into_iter();
    let read = sessions.map(|session| Read {
        worked: claimed
            .claim(&session.meta.sha256)
            .then(|| Worked::of(&session, reading)),
        session,
    });
    Ok(read.collect())
}

impl Worked {
    /// Of a session, on all cores.
    pub fn of(session: &Session, reading: &Reading) -> Self {
        let answers = || {
            let laps = || reading.laps(&session.grid(LAP_STEP_S));
            let limit = || judge(session, &judged::usual());
            let said = || rayon::join(limit, laps);
            rayon::join(|| fit_session(session), said)
        };
        let (parquet, (fit, (limit, (laps, missed)))) =
            rayon::join(|| Encoded::of(session), answers);
        Self {
            parquet,
            laps,
            missed,
            fit,
            limit,
        }
    }
}
