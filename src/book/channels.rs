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
use crate::session::{Session, TIME};

const CHANNELS: &str = "channels";
const STAGING: &str = "staging";
const PART: &str = "part-0.parquet";

/// A session's channels as Parquet bytes.
#[derive(Debug)]
pub struct Encoded {
    /// The file's bytes.
    pub(super) bytes: Vec<u8>,
    /// Their SHA-256, hexadecimal.
    pub(super) sha256: String,
}

impl Encoded {
    /// Of a session.
    ///
    /// # Errors
    /// Channels that do not fit into Parquet.
    pub fn of(session: &Session) -> Result<Self> {
        encode(session.frame()).map_err(|error| BookError::Encode {
            file: session.meta.file.clone(),
            why: error.to_string(),
        })
    }
}

/// What a session's Parquet file was when it was written.
pub(super) struct Written {
    /// Its size.
    pub bytes: u64,
    /// Its SHA-256, hexadecimal.
    pub sha256: String,
    /// Rows that the session has.
    pub rows: u64,
}

/// A session has no more values than this, 2 GB: twelve channels over a day at 200 Hz.
const MOST_VALUES: u64 = 250_000_000;

/// Writes a frame as Parquet, in memory: a session is some megabytes, and so the write lock is
/// held for copying them only.
fn encode(frame: &DataFrame) -> PolarsResult<Encoded> {
    let values = (frame.height() * frame.width()) as u64;
    polars_ensure!(values <= MOST_VALUES, ComputeError: "{values} values, more than a session may have");
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes)
        .with_compression(ParquetCompression::Zstd(None))
        .set_parallel(false)
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

/// Puts a session's file into the folder of a copy, where nobody reads yet.
pub(super) fn put_copy(dir: &Path, id: &str, encoded: &Encoded) -> Result<()> {
    let placed = dir.join(CHANNELS).join(partition(id));
    fs::create_dir_all(&placed).map_err(BookError::io(&placed, "make this folder"))?;
    let part = placed.join(PART);
    write_synced(&part, &encoded.bytes).map_err(BookError::io(&part, "write"))?;
    sync_folder(&placed)
}

/// Puts another Parquet file in the place of a session's. The old one stays in `staging` until the
/// commit has decided; [`restore`] brings it back if that never came. The write lock must be held.
pub(super) fn exchange(dir: &Path, id: &str, encoded: &Encoded) -> Result<()> {
    let placed = dir.join(CHANNELS).join(partition(id));
    let aside = aside(dir, id);
    let staging = dir.join(STAGING);
    fs::create_dir_all(&staging).map_err(BookError::io(&staging, "make this folder"))?;
    fs::rename(&placed, &aside).map_err(BookError::io(&placed, "put the channels aside"))?;
    super::step("aside");
    put(dir, id, encoded)
}

/// Brings back what an exchange that was killed had put aside: the file is the one that the
/// catalogue knows. The write lock must be held.
pub(super) fn restore(dir: &Path, id: &str, sha256_written: &str) -> Result<()> {
    let aside = aside(dir, id);
    let known = |folder: &Path| {
        fs::read(folder.join(PART)).is_ok_and(|bytes| sha256(&bytes) == sha256_written)
    };
    let placed = dir.join(CHANNELS).join(partition(id));
    if !aside.exists() || known(&placed) || !known(&aside) {
        return Ok(());
    }
    let _ = fs::remove_dir_all(&placed);
    fs::rename(&aside, &placed).map_err(BookError::io(&placed, "bring the channels back"))
}

/// The sessions whose channels lie aside.
pub(super) fn set_aside(dir: &Path) -> Vec<String> {
    entries(&dir.join(STAGING))
        .filter_map(|entry| {
            let name = entry.file_name();
            Some(name.to_str()?.strip_prefix("aside-")?.to_owned())
        })
        .collect()
}

/// Removes what was put aside, now that the commit has decided. What cannot be removed now is left
/// to the next write.
pub(super) fn forget_aside(dir: &Path, id: &str) {
    let _ = fs::remove_dir_all(aside(dir, id));
}

/// Where the channels of a session lie while others take their place.
fn aside(dir: &Path, id: &str) -> PathBuf {
    dir.join(STAGING).join(format!("aside-{id}"))
}

/// Reads a session's channels back; a file that is not as it was written is refused.
pub(super) fn get(dir: &Path, id: &str, written: &Written) -> Result<DataFrame> {
    let read = bytes(dir, id, written)?;
    parsed(&read, written.rows, |reader| reader.finish())
        .and_then(|frame| match is_a_session(&frame) {
            true => Ok(frame),
            false => Err("its columns are not those of a session".to_owned()),
        })
        .map_err(|why| damaged(dir, id, why))
}

/// Whether the bytes of a session's file say of themselves that they are one, without decoding them.
pub(super) fn check(dir: &Path, id: &str, read: &[u8], written: &Written) -> Result<()> {
    parsed(read, written.rows, |_| Ok(())).map_err(|why| damaged(dir, id, why))
}

fn damaged(dir: &Path, id: &str, why: String) -> BookError {
    BookError::Damaged {
        file: dir.join(name_in_book(id)),
        id: id.to_owned(),
        why,
    }
}

/// What `f` makes of a Parquet file that unpacks to no more than a session of `rows` rows does.
fn parsed<'a, T>(
    bytes: &'a [u8],
    rows: u64,
    f: impl FnOnce(ParquetReader<Cursor<&'a [u8]>>) -> PolarsResult<T>,
) -> std::result::Result<T, String> {
    let read = || {
        let mut reader = ParquetReader::new(Cursor::new(bytes));
        bounded(&mut reader, rows)?;
        f(reader).map_err(|e| e.to_string())
    };
    // The library panics on some files that somebody made (found by `examples/fuzz_book`).
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(read))
        .unwrap_or_else(|_| Err("the Parquet library gives up on it".to_owned()))
}

/// Refuses a file that unpacks to more than a session of `rows` rows, as its footer has it: a few bytes may
/// stand for as many equal values as somebody likes.
fn bounded(
    reader: &mut ParquetReader<Cursor<&[u8]>>,
    rows: u64,
) -> std::result::Result<(), String> {
    /// A value, its place in a dictionary, and what pages have besides.
    const MOST_BYTES_A_VALUE: u64 = 16;
    const MOST_BYTES_BESIDES: u64 = 65_536;
    let footer = reader.get_metadata().map_err(|e| e.to_string())?;
    let columns = (footer.row_groups.iter()).flat_map(|group| group.parquet_columns());
    // No number below zero is what it says.
    let (values, unpacked) = columns.fold((0_u64, 0_u64), |(values, unpacked), column| {
        (
            values.saturating_add(column.num_values() as u64),
            unpacked.saturating_add(column.uncompressed_size() as u64),
        )
    });
    let width = footer.schema_descr.columns().len() as u64;
    let most = rows.saturating_mul(width).min(MOST_VALUES);
    if footer.num_rows as u64 > rows || values > most {
        let says = footer.num_rows as u64;
        return Err(format!(
            "it says that it has {says} rows and {values} values, more than the {rows} rows of the session"
        ));
    }
    if unpacked > most * MOST_BYTES_A_VALUE + width * MOST_BYTES_BESIDES {
        return Err(format!(
            "it says that it unpacks to {unpacked} bytes, more than {rows} rows can be"
        ));
    }
    Ok(())
}

/// Whether a frame is what an import writes, whoever wrote this one: numbers, and a time that does
/// not fall.
fn is_a_session(frame: &DataFrame) -> bool {
    let numbers = |column: &Column| column.dtype() == &DataType::Float64;
    let time = frame.column(TIME).ok().filter(|column| numbers(column));
    let Some(time) = time.and_then(|column| column.f64().ok()) else {
        return false;
    };
    let mut last = f64::NEG_INFINITY;
    let rising = time.iter().all(|t| {
        let t = t.unwrap_or(f64::NAN);
        let rises = t.is_finite() && t >= last;
        last = t;
        rises
    });
    rising && frame.columns().iter().all(numbers)
}

/// The bytes of a session's file; one that is not as it was written is refused.
pub(super) fn bytes(dir: &Path, id: &str, written: &Written) -> Result<Vec<u8>> {
    let size = written.bytes;
    let placed = dir.join(CHANNELS).join(partition(id)).join(PART);
    let aside = aside(dir, id).join(PART);
    let whole = |read: &Vec<u8>| sha256(read) == written.sha256;
    // An exchange under way, or killed, has the file that counts put aside.
    let (file, read) = match fs::read(&aside) {
        Ok(read) if whole(&read) => (aside, read),
        _ => {
            let read = fs::read(&placed).map_err(BookError::io(&placed, "read"))?;
            (placed, read)
        }
    };
    let damaged = |why: String| BookError::Damaged {
        file: file.clone(),
        id: id.to_owned(),
        why,
    };
    if read.len() as u64 != size {
        return Err(damaged(format!(
            "{} bytes long instead of {size}",
            read.len()
        )));
    }
    if !whole(&read) {
        return Err(damaged(
            "its bytes are not those that were written".to_owned(),
        ));
    }
    Ok(read)
}

/// A session's file as it is called in the book's folder, with `/`.
pub(super) fn name_in_book(id: &str) -> String {
    format!("{CHANNELS}/session={id}/{PART}")
}

/// What lies among the channels and belongs to no session among `known`, as called in the book's
/// folder.
pub(super) fn strangers(dir: &Path, known: &HashSet<String>) -> Vec<String> {
    let ours = |name: &str| {
        let id = name.strip_prefix("session=");
        id.is_some_and(|id| known.contains(id))
    };
    let among = |folder: &'static str| {
        let inside = dir.join(folder);
        let names = entries(&inside).map(|e| e.file_name().to_string_lossy().into_owned());
        names.map(|name| (folder, name)).collect::<Vec<_>>()
    };
    among(CHANNELS)
        .into_iter()
        .filter(|(_, name)| !ours(name))
        .chain(among(STAGING))
        .map(|(folder, name)| format!("{folder}/{name}"))
        .collect()
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

/// SHA-256, hexadecimal.
pub(super) fn sha256(bytes: &[u8]) -> String {
    crate::hex::hex(&Sha256::digest(bytes))
}

fn write_synced(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// Makes the names in a folder outlast a power cut. Only Unix lets a program do so.
pub(super) fn sync_folder(folder: &Path) -> Result<()> {
    if cfg!(unix) {
        File::open(folder)
            .and_then(|folder| folder.sync_all())
            .map_err(BookError::io(folder, "write this folder to the disk"))?;
    }
    Ok(())
}
