//! Is everything in the book as it was written: the catalogue's pages, every value in it, every
//! Parquet file.

use std::collections::HashSet;
use std::path::Path;

use rusqlite::Connection;

use super::error::BookError;
use super::{Book, CATALOGUE, channels, rows, seal};

/// Something in a book that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Stable id: `catalogue-damaged`, `catalogue-changed`, `channels-missing`,
    /// `channels-changed`, `fit-changed`.
    pub id: &'static str,
    /// The file, from the book's folder on, with `/`.
    pub file: String,
    /// The session it belongs to, if it is one's.
    pub session: Option<String>,
    /// What is wrong, one sentence.
    pub message: String,
}

/// What was looked at, and what was found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Verified {
    /// Sessions looked at.
    pub sessions: usize,
    /// Bytes of channels read.
    pub bytes: u64,
    /// What is not as it was written.
    pub faults: Vec<Fault>,
    /// What lies in the book's folders and belongs to no session: left by an import that was
    /// killed (the next write removes it), or put there by somebody.
    pub left_behind: Vec<String>,
}

impl Book {
    /// Looks at every page, value and file. Faults are no error: what can be read is looked at.
    pub fn verify(&self) -> Verified {
        let mut found = Verified {
            faults: pages(&self.conn),
            ..Verified::default()
        };
        // In steps of their own: whoever writes meanwhile is not kept waiting.
        let ids = match rows::ids(&self.conn) {
            Ok(ids) => ids,
            Err(error) => {
                found
                    .faults
                    .push(catalogue("catalogue-damaged", None, &error.to_string()));
                return found;
            }
        };
        for id in &ids {
            found.sessions += 1;
            // Again, should it have been replaced between the look at its row and that at its file.
            let fault = self.session_fault(id, &mut found.bytes);
            if fault.is_some()
                && let Some(fault) = self.session_fault(id, &mut 0)
            {
                found.faults.push(fault);
            }
        }
        if !matches!(seal::pairs_hold(&self.conn), Ok(true)) {
            let what = "looks and plans are not those that were written";
            found
                .faults
                .push(catalogue("catalogue-changed", None, what));
        }
        found.left_behind = left_behind(self.dir(), &ids.into_iter().collect());
        found
    }

    fn session_fault(&self, id: &str, bytes: &mut u64) -> Option<Fault> {
        let n = super::number(id)?;
        let changed = |what: &str| Some(catalogue("catalogue-changed", Some(id), what));
        match self.read(|conn| seal::holds(conn, n)) {
            Ok(true) => {}
            Ok(false) => return changed("what the catalogue says of it is not what was written"),
            Err(error) => return changed(&format!("the catalogue cannot be read: {error}")),
        }
        if let Err(error) = self.meta(id) {
            return changed(&error.to_string());
        }
        match self.read(|conn| rows::parquet(conn, n)) {
            Ok(written) => match channels::bytes(self.dir(), id, &written) {
                Ok(read) => {
                    *bytes += read.len() as u64;
                    if let Err(error) = channels::check(self.dir(), id, &read, &written) {
                        return Some(channels_fault(id, &error));
                    }
                }
                Err(error) => return Some(channels_fault(id, &error)),
            },
            Err(error) => return changed(&error.to_string()),
        }
        match self.read(|conn| super::answers::kept_fits_hold(conn, n)) {
            Ok(true) => None,
            _ => Some(catalogue(
                "fit-changed",
                Some(id),
                "a kept fit is not as it was written; it is not used, and fit makes it again",
            )),
        }
    }
}

/// What SQLite's own check of pages, indexes and references finds.
fn pages(conn: &Connection) -> Vec<Fault> {
    let says = |pragma: &str, column: usize| -> rusqlite::Result<Vec<String>> {
        conn.prepare(pragma)?
            .query_map([], |row| row.get(column))?
            .collect()
    };
    let mut words = match says("PRAGMA integrity_check(20)", 0) {
        Ok(words) => words,
        Err(error) => vec![error.to_string()],
    };
    words.retain(|word| word != "ok");
    match says("PRAGMA foreign_key_check", 0) {
        Ok(tables) => words.extend(
            tables
                .iter()
                .map(|t| format!("table {t} refers to nothing")),
        ),
        Err(error) => words.push(error.to_string()),
    }
    words
        .iter()
        .map(|word| catalogue("catalogue-damaged", None, word))
        .collect()
}

fn catalogue(id: &'static str, session: Option<&str>, message: &str) -> Fault {
    Fault {
        id,
        file: CATALOGUE.to_owned(),
        session: session.map(str::to_owned),
        message: message.to_owned(),
    }
}

fn channels_fault(id: &str, error: &BookError) -> Fault {
    let (kind, message) = match error {
        BookError::Damaged { why, .. } => ("channels-changed", why.clone()),
        BookError::Io { source, .. } if source.kind() == std::io::ErrorKind::NotFound => {
            ("channels-missing", "there is no such file".to_owned())
        }
        other => ("channels-missing", other.to_string()),
    };
    Fault {
        id: kind,
        file: channels::name_in_book(id),
        session: Some(id.to_owned()),
        message,
    }
}

/// What lies among the channels and belongs to no session. Never an error: it harms no answer.
fn left_behind(dir: &Path, known: &HashSet<String>) -> Vec<String> {
    let mut left = channels::strangers(dir, known);
    left.sort();
    left
}
