//! What `verify` finds, copies and exports.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use rusqlite::Connection;

use super::super::{Book, BookError, CATALOGUE, Change, Format};
use super::{book_of_two, cached_fit, coolant, keep_fit, names, same, session};
use crate::session::Role;

fn faults(book: &Book) -> Vec<(&'static str, Option<String>)> {
    let found = book.verify().faults;
    found.into_iter().map(|f| (f.id, f.session)).collect()
}

#[test]
fn a_sound_book_has_no_fault_after_every_kind_of_write() {
    let (_folder, mut book) = book_of_two();
    assert_eq!(faults(&book), []);
    keep_fit(&mut book, "s1", "k", "{}").unwrap();
    book.count_look("a", "b", "x").unwrap();
    book.keep_plan(["a", "b"], 6, 3).unwrap();
    for change in [
        Change::Setup("vented".into()),
        Change::Day(Some("2031-05-17".parse().unwrap())),
        Change::Exclude("rain".into()),
        Change::Include,
        Change::Note(Some("n".into())),
    ] {
        book.amend("s2", &change).unwrap();
        assert_eq!(faults(&book), [], "{change:?}");
    }
    book.replace("s1", session(9), ("imported", None, None))
        .unwrap();
    let found = book.verify();
    assert_eq!((found.sessions, found.faults.len()), (2, 0));
    assert!(found.bytes > 0 && found.left_behind.is_empty());
}

#[test]
fn a_changed_file_is_named_and_the_other_session_is_sound() {
    let (folder, book) = book_of_two();
    let name = "channels/session=s1/part-0.parquet";
    let file = folder.path().join(name);
    let whole = fs::read(&file).unwrap();
    for at in [0, whole.len() / 3, whole.len() - 1] {
        let mut flipped = whole.clone();
        flipped[at] ^= 1 << (at % 8);
        fs::write(&file, flipped).unwrap();
        assert_eq!(faults(&book), [("channels-changed", Some("s1".to_owned()))]);
    }
    fs::write(&file, &whole[..whole.len() / 2]).unwrap();
    let found = book.verify().faults;
    assert_eq!(
        (found[0].id, found[0].file.as_str()),
        ("channels-changed", name)
    );
    fs::remove_file(&file).unwrap();
    assert_eq!(faults(&book), [("channels-missing", Some("s1".to_owned()))]);
    fs::write(&file, &whole).unwrap();
    assert_eq!(faults(&book), []);
}

#[test]
fn what_lies_about_is_told_and_is_no_fault() {
    let (folder, book) = book_of_two();
    for name in [
        "channels/session=s9",
        "channels/notes",
        "staging/session=s3",
    ] {
        fs::create_dir_all(folder.path().join(name)).unwrap();
    }
    let found = book.verify();
    assert!(found.faults.is_empty());
    assert_eq!(
        found.left_behind,
        [
            "channels/notes",
            "channels/session=s9",
            "staging/session=s3"
        ]
    );
}

/// SQLite's own check passes over a value that reads like another value.
#[test]
fn a_changed_value_is_named_by_its_seal() {
    for (change, id, session) in [
        (
            "UPDATE sessions SET day = '2031-05-18' WHERE n = 1",
            "catalogue-changed",
            Some("s1"),
        ),
        (
            "UPDATE channels SET mean = 80.6 WHERE session = 2",
            "catalogue-changed",
            Some("s2"),
        ),
        (
            "UPDATE exclusions SET reason = 'sain'",
            "catalogue-changed",
            Some("s2"),
        ),
        (
            "UPDATE history SET new_value = 'x' WHERE session = 1",
            "catalogue-changed",
            Some("s1"),
        ),
        ("UPDATE looks SET evidence = 'y'", "catalogue-changed", None),
        ("UPDATE fits SET answer = '[]'", "fit-changed", Some("s1")),
        (
            "PRAGMA foreign_keys = OFF; DELETE FROM cars",
            "catalogue-damaged",
            None,
        ),
    ] {
        let (folder, mut book) = book_of_two();
        keep_fit(&mut book, "s1", "k", "{}").unwrap();
        book.amend("s2", &Change::Exclude("rain".into())).unwrap();
        book.count_look("a", "b", "x").unwrap();
        assert_eq!(faults(&book), []);
        Connection::open(folder.path().join(CATALOGUE))
            .unwrap()
            .execute_batch(change)
            .unwrap();
        let found = faults(&book);
        assert!(
            found.contains(&(id, session.map(str::to_owned))),
            "{change}: {found:?}"
        );
    }
}

#[test]
fn a_kept_fit_that_was_changed_is_not_used() {
    let (folder, mut book) = book_of_two();
    keep_fit(&mut book, "s1", "k", "{\"ua\":900}").unwrap();
    Connection::open(folder.path().join(CATALOGUE))
        .unwrap()
        .execute_batch("UPDATE fits SET answer = '{\"ua\":901}'")
        .unwrap();
    assert_eq!(cached_fit(&book, "s1", "k"), None);
}

/// Each bit in turn would take hours: 400 places, spread over the file.
#[test]
fn a_flipped_bit_of_the_catalogue_is_found_or_changes_no_answer() {
    let (folder, book) = book_of_two();
    let sound = book.sessions().unwrap();
    drop(book);
    let file = folder.path().join(CATALOGUE);
    let whole = fs::read(&file).unwrap();
    let used: Vec<usize> = (0..whole.len()).filter(|&i| whole[i] != 0).collect();
    let mut told = 0;
    for round in 0..400 {
        let at = used[round * used.len() / 400];
        let mut flipped = whole.clone();
        flipped[at] ^= 1 << (round % 8);
        fs::write(&file, &flipped).unwrap();
        match Book::open_read_only(folder.path()) {
            Err(error) => {
                let names_it = error
                    .to_string()
                    .contains(&folder.path().display().to_string());
                assert!(names_it, "{error}");
                told += 1;
            }
            Ok(book) if book.verify().faults.is_empty() => {
                // An unused byte: free space of a page, or a field that nothing reads.
                assert_eq!(book.sessions().unwrap(), sound, "byte {at}");
                assert!(book.session("s1").is_ok() && book.session("s2").is_ok());
            }
            Ok(_) => told += 1,
        }
    }
    assert!(told > 100, "{told} of 400 were told");
}

#[test]
fn a_truncated_catalogue_is_refused_or_named() {
    let (folder, book) = book_of_two();
    drop(book);
    let file = folder.path().join(CATALOGUE);
    let whole = fs::read(&file).unwrap();
    for length in [1, 50, 100, 4096, whole.len() / 2, whole.len() - 1] {
        fs::write(&file, &whole[..length]).unwrap();
        if let Ok(book) = Book::open_read_only(folder.path()) {
            assert!(!book.verify().faults.is_empty(), "{length} bytes pass");
        }
    }
}

#[test]
fn a_copy_is_the_same_book() {
    let (_folder, mut book) = book_of_two();
    keep_fit(&mut book, "s1", "k", "{}").unwrap();
    let to = tempfile::tempdir().unwrap();
    let dir = to.path().join("made/as needed");
    let made = book.backup(&dir).unwrap();
    assert_eq!(made.sessions, 2);
    let mut copy = Book::open_existing(&dir).unwrap();
    assert_eq!(copy.sessions().unwrap(), book.sessions().unwrap());
    assert_eq!(cached_fit(&copy, "s1", "k").as_deref(), Some("{}"));
    assert_eq!(faults(&copy), []);
    copy.add(session(3)).unwrap();
    assert!(matches!(book.backup(&dir), Err(BookError::NotEmpty { .. })));
    assert_eq!(copy.sessions().unwrap().len(), 3);
}

#[test]
fn a_copy_of_a_damaged_book_is_refused_and_is_no_book() {
    let (folder, book) = book_of_two();
    fs::write(
        folder.path().join("channels/session=s1/part-0.parquet"),
        "x",
    )
    .unwrap();
    let to = tempfile::tempdir().unwrap();
    let error = book.backup(to.path()).unwrap_err();
    assert!(matches!(error, BookError::Damaged { .. }), "{error}");
    assert!(matches!(
        Book::open_existing(to.path()),
        Err(BookError::NoBook { .. })
    ));
}

/// Another process imports and replaces sessions the whole time.
#[test]
fn a_copy_made_while_others_write_is_whole() {
    let (folder, book) = book_of_two();
    let dir = folder.path().to_owned();
    let stop = std::sync::atomic::AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut other = Book::open(&dir).unwrap();
            for hash in 10.. {
                if stop.load(std::sync::atomic::Ordering::SeqCst) {
                    break;
                }
                other.add(session(hash)).unwrap();
                other
                    .replace("s1", session(hash + 100_000), ("imported", None, None))
                    .unwrap();
                std::thread::sleep(std::time::Duration::from_millis(30));
            }
        });
        for round in 0..5 {
            let to = tempfile::tempdir().unwrap();
            let made = book.backup(to.path());
            let sound = made.map(|_| faults(&Book::open_existing(to.path()).unwrap()));
            stop.store(
                round == 4 || sound.is_err(),
                std::sync::atomic::Ordering::SeqCst,
            );
            assert_eq!(sound.unwrap(), []);
        }
    });
}

fn files(folder: &Path) -> BTreeSet<String> {
    let mut all = names(folder);
    for sub in names(&folder.join("channels")) {
        let inside = names(&folder.join("channels").join(&sub));
        all.extend(inside.into_iter().map(|name| format!("{sub}/{name}")));
    }
    all
}

#[test]
fn an_export_has_every_session_with_the_same_columns() {
    let (folder, mut book) = book_of_two();
    let t_s = [0.0, 1.0, 2.5];
    let oil = std::collections::BTreeMap::from([(Role::Oil, vec![90.0, f64::NAN, 91.5])]);
    let mut meta = super::meta(3);
    meta.setup = "=cmd".into();
    meta.channels = [(Role::Oil, super::info(91.5))].into();
    let odd = crate::session::Session::from_columns(meta, &t_s, oil).unwrap();
    book.add(odd).unwrap();
    let metas = book.sessions().unwrap();
    let to = tempfile::tempdir().unwrap();
    let parquet = to.path().join("parquet");
    let done = book.export(&metas, &parquet, Format::Parquet).unwrap();
    assert_eq!(done.sessions, ["s1", "s2", "s3"]);
    assert_eq!(
        files(&parquet).into_iter().collect::<Vec<_>>(),
        [
            "channels",
            "session=s1/part-0.parquet",
            "session=s2/part-0.parquet",
            "session=s3/part-0.parquet",
            "sessions.parquet"
        ]
    );
    let csv = to.path().join("csv");
    book.export(&metas[2..], &csv, Format::Csv).unwrap();
    let channels = fs::read_to_string(csv.join("channels/s3.csv")).unwrap();
    assert_eq!(channels, "t_s,oil\n0,90\n1,\n2.5,91.5\n");
    let table = fs::read_to_string(csv.join("sessions.csv")).unwrap();
    assert!(table.contains(",'=cmd,"), "{table}");

    fs::remove_file(folder.path().join("channels/session=s2/part-0.parquet")).unwrap();
    let rest = book
        .export(&metas, &to.path().join("rest"), Format::Parquet)
        .unwrap();
    assert_eq!((rest.sessions.len(), rest.damaged.len()), (2, 1));
}

#[test]
fn one_damaged_session_leaves_the_others_usable() {
    let (folder, book) = book_of_two();
    fs::write(
        folder.path().join("channels/session=s1/part-0.parquet"),
        "x",
    )
    .unwrap();
    let metas = book.sessions().unwrap();
    let read = book
        .map(&metas, |session| session.channel(Role::Coolant).unwrap())
        .unwrap();
    assert!(matches!(read[0], Err(BookError::Damaged { .. })));
    assert!(same(read[1].as_ref().unwrap(), &coolant(2)));
}
