//! A copy of a book while it is in use.
//!
//! The catalogue is copied by SQLite (`VACUUM INTO`: one snapshot, whatever others write). A
//! session's file changes only when it is replaced, so the files are copied after it and held to
//! the hashes of the copied catalogue; where one does not fit any more, the catalogue is copied
//! again. It gets its name last: a copy that was cut short is no book.

use std::fs;
use std::path::Path;

use rusqlite::Connection;

use super::channels::{self, Encoded};
use super::error::{BookError, Result};
use super::{Book, CATALOGUE, rows};

/// Copies of the catalogue, before it is said that the book does not stand still.
const TRIES: usize = 5;

/// A copy that was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Backup {
    /// Sessions in it.
    pub sessions: usize,
    /// Bytes of catalogue and channels.
    pub bytes: u64,
}

impl Book {
    /// Copies the book into `to`, an empty folder or none yet.
    ///
    /// # Errors
    /// A folder that holds something; a disk that is full; channels that are damaged, for a copy
    /// must be whole.
    pub fn backup(&self, to: &Path) -> Result<Backup> {
        empty_folder(to)?;
        let unnamed = to.join("catalogue.part");
        let mut fault = None;
        for _ in 0..TRIES {
            match self.copy_into(to, &unnamed) {
                Ok(made) => {
                    let catalogue = to.join(CATALOGUE);
                    fs::rename(&unnamed, &catalogue).map_err(BookError::io(&catalogue, "write"))?;
                    channels::sync_folder(to)?;
                    return Ok(made);
                }
                Err(error @ BookError::Damaged { .. }) => {
                    // Damaged, or replaced since: the second look tells.
                    let again = fault.replace(error.to_string()) == Some(error.to_string());
                    if again {
                        return Err(error);
                    }
                }
                Err(error) => return Err(error),
            }
        }
        Err(BookError::Restless {
            dir: self.dir().to_owned(),
        })
    }

    fn copy_into(&self, to: &Path, unnamed: &Path) -> Result<Backup> {
        if unnamed.exists() {
            fs::remove_file(unnamed).map_err(BookError::io(unnamed, "remove"))?;
        }
        self.conn
            .execute("VACUUM INTO ?", [unnamed.to_string_lossy()])
            .map_err(BookError::sql(self.dir()))?;
        let copied = fs::OpenOptions::new().write(true).open(unnamed);
        copied
            .and_then(|file| file.sync_all())
            .map_err(BookError::io(unnamed, "write"))?;
        let copy = Connection::open(unnamed).map_err(BookError::sql(to))?;
        let ids = rows::ids(&copy).map_err(BookError::sql(to))?;
        let size = fs::metadata(unnamed).map_err(BookError::io(unnamed, "read"))?;
        let mut made = Backup {
            sessions: ids.len(),
            bytes: size.len(),
        };
        for id in &ids {
            let Some(n) = super::number(id) else { continue };
            let written = rows::parquet(&copy, n).map_err(BookError::sql(to))?;
            if channels::bytes(to, id, &written).is_err() {
                let bytes = channels::bytes(self.dir(), id, &written)?;
                let sha256 = written.sha256;
                channels::put_copy(to, id, &Encoded { bytes, sha256 })?;
            }
            made.bytes += written.bytes;
        }
        Ok(made)
    }
}

/// Makes the folder, or takes it if it is empty.
pub(super) fn empty_folder(dir: &Path) -> Result<()> {
    fs::create_dir_all(dir).map_err(BookError::io(dir, "make this folder"))?;
    let mut entries = fs::read_dir(dir).map_err(BookError::io(dir, "read this folder"))?;
    match entries.next() {
        None => Ok(()),
        Some(_) => Err(BookError::NotEmpty {
            dir: dir.to_owned(),
        }),
    }
}
