//! The channels of each session: `channels/session=s3/part-0.parquet`, zstd, one row an instant.
//!
//! The layout is the usual one of partitioned data sets, so that any engine that reads Parquet
//! reads the whole folder as one table, with `session` as a column.

use std::collections::HashSet;
use std::fs::{self, File};
use std::io::{Cursor, Write};
use std::path::{Path, PathBuf};

use polars::prelude::*;
use sha2::{Digest, Sha256};

use super::error::{BookError, Result};

const CHANNELS: &str = "channels";
const STAGING: &str = "staging";
const PART: &str = "part-0.parquet";

/// A session's channels as Parquet bytes.
pub(super) struct Encoded {
    /// The file's bytes.
    pub bytes: Vec<u8>,
    /// Their SHA-256, hexadecimal.
    pub sha256: String,
}

/// Writes a frame as Parquet, in memory: a session is some megabytes, and so the write lock is
/// held for copying them only.
pub(super) fn encode(frame: &DataFrame) -> PolarsResult<Encoded> {
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes)
        .with_compression(ParquetCompression::Zstd(None))
        .finish(&mut frame.clone())?;
    let sha256 = sha256(&bytes);
    Ok(Encoded { bytes, sha256 })
}

/// Puts a session's Parquet file in place, whole or not at all, and on the disk for good.
/// The write lock must be held.
pub(super) fn put(dir: &Path, id: &str, encoded: &Encoded) -> Result<()> {
    let channels = dir.join(CHANNELS);
    let staged = dir.join(STAGING).join(partition(id));
    let placed = channels.join(partition(id));
    for folder in [&channels, &staged] {
        fs::create_dir_all(folder).map_err(BookError::io(folder, "make this folder"))?;
    }
    let part = staged.join(PART);
    write_synced(&part, &encoded.bytes).map_err(BookError::io(&part, "write"))?;
    sync_folder(&staged)?;
    super::step("staged");
    fs::rename(&staged, &placed).map_err(BookError::io(&placed, "put the channels in place"))?;
    super::step("placed");
    sync_folder(&channels)?;
    sync_folder(dir)
}

/// Reads a session's channels back; a file that is not as it was written is refused.
pub(super) fn get(dir: &Path, id: &str, bytes: u64, sha256_written: &str) -> Result<DataFrame> {
    let file = dir.join(CHANNELS).join(partition(id)).join(PART);
    let read = fs::read(&file).map_err(BookError::io(&file, "read"))?;
    let damaged = |why: String| BookError::Damaged {
        file: file.clone(),
        id: id.to_owned(),
        why,
    };
    if read.len() as u64 != bytes {
        return Err(damaged(format!(
            "{} bytes long instead of {bytes}",
            read.len()
        )));
    }
    if sha256(&read) != sha256_written {
        return Err(damaged(
            "its bytes are not those that were written".to_owned(),
        ));
    }
    ParquetReader::new(Cursor::new(read))
        .finish()
        .map_err(|e| damaged(e.to_string()))
}

/// Removes what an import that was killed left behind. The write lock must be held: then whatever
/// is staged, and every session's folder without a row among `known`, belongs to nobody.
///
/// What cannot be removed now is left to the next write; an import in whose way it lies fails on
/// the rename, and says so.
pub(super) fn sweep(dir: &Path, known: &HashSet<String>) {
    for entry in entries(&dir.join(STAGING)) {
        let _ = fs::remove_dir_all(entry.path());
    }
    for entry in entries(&dir.join(CHANNELS)) {
        let name = entry.file_name();
        let id = name.to_str().and_then(|name| name.strip_prefix("session="));
        if id.is_some_and(|id| super::number(id).is_some() && !known.contains(id)) {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

fn entries(folder: &Path) -> impl Iterator<Item = fs::DirEntry> {
    fs::read_dir(folder).into_iter().flatten().flatten()
}

fn partition(id: &str) -> PathBuf {
    PathBuf::from(format!("session={id}"))
}

fn sha256(bytes: &[u8]) -> String {
    super::hex(&Sha256::digest(bytes))
}

fn write_synced(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// Makes the names in a folder outlast a power cut. Only Unix lets a program do so.
fn sync_folder(folder: &Path) -> Result<()> {
    if cfg!(unix) {
        File::open(folder)
            .and_then(|folder| folder.sync_all())
            .map_err(BookError::io(folder, "write this folder to the disk"))?;
    }
    Ok(())
}
