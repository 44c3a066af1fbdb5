//! Books that are damaged, of another version, or not to be written to.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use polars::prelude::{Column, DataFrame, ParquetWriter};
use rusqlite::Connection;

use super::super::{Added, Book, BookError, CATALOGUE, Change, channels, seal};
use super::{book_of_two, keep_fit, meta, names, session};
use crate::session::{Role, Session, SessionMeta};

fn part(dir: &Path, id: &str) -> PathBuf {
    dir.join("channels")
        .join(format!("session={id}"))
        .join("part-0.parquet")
}

#[test]
fn channels_that_are_not_as_written_are_refused_by_name() {
    let (folder, book) = book_of_two();
    let file = part(folder.path(), "s1");
    let whole = fs::read(&file).unwrap();
    let mut flipped = whole.clone();
    flipped[whole.len() / 2] ^= 1;
    for (bytes, what) in [
        (&whole[..whole.len() - 1], "bytes long instead of"),
        (&whole[..0], "0 bytes long"),
        (flipped.as_slice(), "not those that were written"),
    ] {
        fs::write(&file, bytes).unwrap();
        let error = book.session("s1").unwrap_err();
        assert!(matches!(error, BookError::Damaged { .. }));
        let message = error.to_string();
        assert!(message.contains(&file.display().to_string()), "{message}");
        assert!(
            message.contains("s1") && message.contains(what),
            "{message}"
        );
    }
    fs::remove_file(&file).unwrap();
    let message = book.session("s1").unwrap_err().to_string();
    assert!(message.contains(&file.display().to_string()), "{message}");

    assert_eq!(book.sessions().unwrap().len(), 2);
    assert!(book.session("s2").is_ok());
}

/// Found by `examples/fuzz_book`: a file that somebody wrote, with a hash that fits.
#[test]
fn a_file_whose_time_falls_is_no_session() {
    let (_folder, mut book) = book_of_two();
    let channels = BTreeMap::from([(Role::Coolant, vec![90.0; 3])]);
    for time_s in [[0.0, 2136.0, 1.0], [0.0, f64::NAN, 1.0]] {
        let meta = SessionMeta {
            sha256: format!("{:064x}", time_s[1].to_bits()),
            ..meta(3)
        };
        let session = Session::from_columns(meta, &time_s, channels.clone()).unwrap();
        let Added::New(added) = book.add(session).unwrap() else {
            panic!("it is new");
        };
        let error = book.session(&added.id).unwrap_err();
        assert!(matches!(error, BookError::Damaged { .. }), "{error:?}");
    }
}

/// A file of a few kilobytes that stands for 5 million equal values in each of two columns, with a hash that fits.
#[test]
fn a_file_that_unpacks_to_more_than_its_session_is_refused_before_it_is() {
    let (folder, book) = book_of_two();
    let file = part(folder.path(), "s1");
    let many = |name: &str| Column::new(name.into(), [0.0]).new_from_index(0, 5_000_000);
    let mut frame = DataFrame::new(5_000_000, vec![many("t_s"), many("coolant")]).unwrap();
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes).finish(&mut frame).unwrap();
    assert!(bytes.len() < 500_000, "{}", bytes.len());
    fs::write(&file, &bytes).unwrap();
    let catalogue = Connection::open(folder.path().join(CATALOGUE)).unwrap();
    let sql = "UPDATE sessions SET parquet_bytes = ?, parquet_sha256 = ? WHERE n = 1";
    catalogue
        .execute(sql, (bytes.len() as i64, channels::sha256(&bytes)))
        .unwrap();
    seal::renew(&catalogue, 1).unwrap();
    let message = book.session("s1").unwrap_err().to_string();
    assert!(message.contains(&file.display().to_string()), "{message}");
    assert!(message.contains("more than the 2000 rows"), "{message}");
    assert!(book.session("s2").is_ok());
    let faults = book.verify().faults;
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert_eq!(
        (faults[0].id, faults[0].session.as_deref()),
        ("channels-changed", Some("s1"))
    );
    assert!(faults[0].message.contains("more than the 2000 rows"));
}

#[test]
fn a_later_schema_version_is_refused_and_left_alone() {
    let (folder, book) = book_of_two();
    drop(book);
    let file = folder.path().join(CATALOGUE);
    Connection::open(&file)
        .unwrap()
        .pragma_update(None, "user_version", 7)
        .unwrap();
    let before = fs::read(&file).unwrap();
    for opened in [
        Book::open(folder.path()),
        Book::open_read_only(folder.path()),
    ] {
        let error = opened.unwrap_err();
        assert!(error.to_string().contains("schema version 7"), "{error}");
        assert!(error.to_string().contains("up to 3"), "{error}");
        assert!(error.hint().contains("latest heatbook"));
    }
    assert_eq!(fs::read(&file).unwrap(), before);
}

#[test]
fn a_file_of_another_kind_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join(CATALOGUE);
    Connection::open(&file)
        .unwrap()
        .execute_batch("CREATE TABLE mine (x)")
        .unwrap();
    let database = fs::read(&file).unwrap();
    for bytes in [
        database.as_slice(),
        &b"not a database, but long enough to be one. ".repeat(30),
    ] {
        fs::write(&file, bytes).unwrap();
        let error = Book::open(folder.path()).unwrap_err();
        assert!(matches!(error, BookError::Foreign { .. }), "{error:?}");
        assert!(error.to_string().contains(CATALOGUE), "{error}");
        assert_eq!(fs::read(&file).unwrap(), bytes);
    }
}

#[test]
fn a_folder_that_cannot_be_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("log.csv");
    fs::write(&file, "").unwrap();
    let error = Book::open(&file).unwrap_err();
    assert!(error.to_string().contains("log.csv"), "{error}");
    assert!(error.hint().contains("--book DIR"));

    let missing = folder.path().join("missing");
    assert!(matches!(
        Book::open_read_only(&missing),
        Err(BookError::NoBook { .. })
    ));
    assert!(!missing.exists());
}

#[test]
fn a_book_opened_for_reading_is_read_and_not_changed() {
    let (folder, book) = book_of_two();
    drop(book);
    let before = (
        names(folder.path()),
        fs::read(folder.path().join(CATALOGUE)).unwrap(),
    );
    let mut book = Book::open_read_only(folder.path()).unwrap();
    assert_eq!(book.sessions().unwrap().len(), 2);
    assert_eq!(book.session("s2").unwrap().time_s().len(), 2000);
    assert_eq!(book.history(None).unwrap().len(), 2);
    let note = Change::Note(Some("no".into()));
    for error in [
        book.add(session(3)).unwrap_err(),
        book.amend("s1", &note).unwrap_err(),
        keep_fit(&mut book, "s1", "k", "{}").unwrap_err(),
        book.count_look("a", "b", "x").unwrap_err(),
    ] {
        assert!(matches!(error, BookError::ReadOnly { .. }), "{error:?}");
        assert!(
            error.to_string().contains("can be read but not changed"),
            "{error}"
        );
    }
    let after = (
        names(folder.path()),
        fs::read(folder.path().join(CATALOGUE)).unwrap(),
    );
    assert_eq!(before, after);
}

/// Permissions bind everybody but the system's administrator, for whom only the first half of
/// this test says something.
#[cfg(unix)]
#[test]
fn a_read_only_folder_is_read() {
    use std::os::unix::fs::PermissionsExt;

    let (folder, book) = book_of_two();
    drop(book);
    let dir = folder.path();
    let allow = |dir_mode, file_mode| {
        let set = |path: &Path, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode));
        set(dir, dir_mode).unwrap();
        set(&dir.join(CATALOGUE), file_mode).unwrap();
    };
    // The file itself may be writable: a folder that takes no journal stops a write as well.
    for file_mode in [0o444, 0o644] {
        allow(0o555, file_mode);
        let binds = fs::write(dir.join("probe"), "").is_err();
        let mut book = Book::open(dir).unwrap();
        assert_eq!(book.sessions().unwrap().len(), 2);
        assert_eq!(book.session("s1").unwrap().time_s().len(), 2000);
        if binds {
            let error = book.add(session(3)).unwrap_err();
            assert!(matches!(error, BookError::ReadOnly { .. }), "{error:?}");
        }
        allow(0o755, 0o644);
    }
}

#[test]
fn a_change_cut_short_is_undone_by_whoever_may_write() {
    let (folder, book) = book_of_two();
    // A small cache makes SQLite write to the file before the commit: what a kill leaves behind.
    book.conn.pragma_update(None, "cache_size", 2).unwrap();
    let tx = book.conn.unchecked_transaction().unwrap();
    tx.execute_batch(
        "WITH RECURSIVE i(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM i WHERE n < 5000)
         INSERT INTO looks SELECT 'a', 'b', 'evidence number ' || n FROM i;
         DELETE FROM history;",
    )
    .unwrap();
    let copy = tempfile::tempdir().unwrap();
    for name in names(folder.path())
        .iter()
        .filter(|name| name.starts_with(CATALOGUE))
    {
        fs::copy(folder.path().join(name), copy.path().join(name)).unwrap();
    }
    drop(tx);

    let error = match Book::open_read_only(copy.path()) {
        Ok(_) => panic!("a half-written catalogue was taken for whole"),
        Err(error) => error,
    };
    assert!(matches!(error, BookError::Unfinished { .. }), "{error:?}");
    let book = Book::open(copy.path()).unwrap();
    assert_eq!(book.history(None).unwrap().len(), 2);
    assert_eq!(book.looks("a", "b").unwrap(), 0);
}
