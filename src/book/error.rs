//! What can go wrong with a book, and what to do about it.

use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;
use thiserror::Error;

/// Why the book could not do what it was asked.
#[derive(Debug, Error)]
pub enum BookError {
    /// A file or folder of the book cannot be read or written.
    #[error("{path}: cannot {doing}: {source}", path = path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What was tried.
        doing: &'static str,
        /// What the system said.
        source: std::io::Error,
    },
    /// There is no book in that folder.
    #[error("{dir}: there is no book in this folder", dir = dir.display())]
    NoBook {
        /// The folder.
        dir: PathBuf,
    },
    /// The book was written by a later version of this program.
    #[error(
        "{dir}: this book has schema version {found}; this program knows versions up to {known}",
        dir = dir.display()
    )]
    Newer {
        /// The folder.
        dir: PathBuf,
        /// Version found.
        found: i64,
        /// Latest version known.
        known: i64,
    },
    /// The catalogue file is something else.
    #[error("{file}: this file is no catalogue of heatbook", file = file.display())]
    Foreign {
        /// The file.
        file: PathBuf,
    },
    /// Another process held the book for too long.
    #[error("{dir}: another process is writing to this book and did not finish", dir = dir.display())]
    Busy {
        /// The folder.
        dir: PathBuf,
    },
    /// The book cannot be written to.
    #[error("{dir}: this book can be read but not changed", dir = dir.display())]
    ReadOnly {
        /// The folder.
        dir: PathBuf,
    },
    /// A write was cut short, and undoing it needs leave to write.
    #[error(
        "{dir}: a change to this book was cut short, and it cannot be undone without leave to write",
        dir = dir.display()
    )]
    Unfinished {
        /// The folder.
        dir: PathBuf,
    },
    /// The catalogue is damaged or says what cannot be.
    #[error("{file}: {source}", file = file.display())]
    Catalogue {
        /// The file.
        file: PathBuf,
        /// What SQLite said.
        source: rusqlite::Error,
    },
    /// The bytes that were to take a session's place are another session already.
    #[error("{dir}: {file} is in this book already, as {id}", dir = dir.display())]
    Imported {
        /// The folder.
        dir: PathBuf,
        /// The file.
        file: String,
        /// The session it is.
        id: String,
    },
    /// The channels of a session are damaged.
    #[error("{file}: the channels of session {id} are damaged: {why}", file = file.display())]
    Damaged {
        /// The file.
        file: PathBuf,
        /// The session.
        id: String,
        /// What is wrong.
        why: String,
    },
    /// A folder to write a copy to holds something already.
    #[error("{dir}: this folder is not empty", dir = dir.display())]
    NotEmpty {
        /// The folder.
        dir: PathBuf,
    },
    /// The book changed faster than it could be copied.
    #[error("{dir}: sessions of this book were replaced again and again while it was copied", dir = dir.display())]
    Restless {
        /// The folder.
        dir: PathBuf,
    },
    /// The channels of a session cannot be written as Parquet.
    #[error("{file}: the channels cannot be written as Parquet: {why}")]
    Encode {
        /// The file that was imported.
        file: String,
        /// What is wrong.
        why: String,
    },
    /// No session has that id.
    #[error("there is no session `{id}` in {dir}{}", nearest_words(nearest), dir = dir.display())]
    UnknownSession {
        /// The folder of the book.
        dir: PathBuf,
        /// The id as given.
        id: String,
        /// Ids like it; empty when the book is.
        nearest: Vec<String>,
    },
    /// A text that must say something is empty.
    #[error("the {what} of session {id} cannot be empty")]
    Blank {
        /// The session.
        id: String,
        /// What is empty.
        what: &'static str,
    },
}

/// The result of asking the book.
pub type Result<T> = std::result::Result<T, BookError>;

fn nearest_words(nearest: &[String]) -> String {
    if nearest.is_empty() {
        "; the book is empty".to_owned()
    } else {
        format!("; the nearest are {}", nearest.join(", "))
    }
}

impl BookError {
    /// What to do about it, one sentence.
    pub fn hint(&self) -> String {
        match self {
            Self::Io { source, .. } if source.kind() == std::io::ErrorKind::StorageFull => {
                "free some space on that disk, or keep the book elsewhere with `--book DIR`"
            }
            Self::Io { .. } | Self::ReadOnly { .. } => {
                "check who may write there, or give a folder of your own with `--book DIR`"
            }
            Self::NoBook { .. } => {
                "give the folder of your book with `--book DIR`, or start one with `heatbook import`"
            }
            Self::Newer { .. } => {
                "install the latest heatbook, or give another folder with `--book DIR`"
            }
            Self::Foreign { .. } => "give an empty folder or a book with `--book DIR`",
            Self::Busy { .. } => "wait until the other heatbook is done, then call again",
            Self::Unfinished { .. } => {
                "copy the folder to where you may write and give that with `--book DIR`"
            }
            Self::Catalogue { .. } => {
                "restore the folder from a copy, or import the logs into a new one with `--book DIR`"
            }
            Self::Damaged { .. } => {
                "restore this file from a copy, or import the logs into a new book with `--book DIR`"
            }
            Self::NotEmpty { .. } => "give a folder that is empty or not there yet",
            Self::Restless { .. } => "wait until the other heatbook is done, then call again",
            Self::Encode { .. } => "look at the file with `heatbook inspect FILE`",
            Self::UnknownSession { nearest, .. } if nearest.is_empty() => {
                "fill the book with `heatbook import FILE --setup NAME`"
            }
            Self::UnknownSession { .. } => "`heatbook sessions` lists the sessions",
            Self::Blank { .. } => "say it in a few words",
            Self::Imported { .. } => {
                "correct that one, or leave one of the two out: heatbook amend ID --exclude REASON"
            }
        }
        .to_owned()
    }

    /// For `map_err` on what SQLite said about the catalogue of the book in `dir`.
    pub(super) fn sql(dir: &Path) -> impl Fn(rusqlite::Error) -> Self {
        move |source| {
            let dir = dir.to_owned();
            let extended = source.sqlite_error().map(|e| e.extended_code);
            match source.sqlite_error_code() {
                Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy { dir },
                _ if extended == Some(rusqlite::ffi::SQLITE_READONLY_ROLLBACK) => {
                    Self::Unfinished { dir }
                }
                Some(ErrorCode::DiskFull) => Self::io(&dir.join(super::CATALOGUE), "write")(
                    std::io::ErrorKind::StorageFull.into(),
                ),
                // A folder that takes no journal looks like a file that cannot be opened.
                Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen) => Self::ReadOnly { dir },
                Some(ErrorCode::NotADatabase) => Self::Foreign {
                    file: dir.join(super::CATALOGUE),
                },
                _ => Self::Catalogue {
                    file: dir.join(super::CATALOGUE),
                    source,
                },
            }
        }
    }

    /// For `map_err` on what the system said about `path`.
    pub(super) fn io(path: &Path, doing: &'static str) -> impl Fn(std::io::Error) -> Self {
        move |source| Self::Io {
            path: path.to_owned(),
            doing,
            source,
        }
    }
}
