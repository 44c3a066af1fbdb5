//! Adding, ordering, amending, counting.

use chrono::{NaiveDate, Utc};

use super::super::{Added, Book, BookError, Change, fit_key};
use super::{cached_fit, coolant, keep_fit, left_behind, meta, same, session, with_meta};
use crate::car::{CarSheet, SetupSheet};
use crate::session::{Role, SessionMeta};

fn book_of(hashes: std::ops::Range<u32>) -> (tempfile::TempDir, Book) {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(&folder.path().join("made/as needed")).unwrap();
    for hash in hashes {
        book.add(session(hash)).unwrap();
    }
    (folder, book)
}

fn day(text: &str) -> Option<NaiveDate> {
    Some(text.parse().unwrap())
}

#[test]
fn the_same_bytes_make_no_second_session() {
    let (_folder, mut book) = book_of(0..2);
    book.amend("s1", &Change::Note(Some("wet".into()))).unwrap();
    let renamed = SessionMeta {
        file: "other.csv".into(),
        setup: "vented".into(),
        ..meta(0)
    };
    let Added::Duplicate(stored) = book.add(with_meta(renamed, 0)).unwrap() else {
        panic!("a second session was made");
    };
    assert_eq!(
        (stored.id.as_str(), stored.file.as_str()),
        ("s1", "run_0.csv")
    );
    assert_eq!(
        (stored.setup.as_str(), stored.note.as_deref()),
        ("stock", Some("wet"))
    );
    assert_eq!(book.sessions().unwrap().len(), 2);
    assert_eq!(book.with_hash(&meta(1).sha256).unwrap().unwrap().id, "s2");
    assert_eq!(book.with_hash("none").unwrap(), None);
    assert!(left_behind(book.dir()).is_empty());
}

#[test]
fn sessions_stand_in_time_order_with_the_unknown_day_last() {
    let (_folder, mut book) = book_of(0..0);
    for (hash, day_run, start) in [
        (1, None, None),
        (2, day("2026-05-03"), None),
        (3, day("2026-05-03"), Some("2026-05-03T09:00:00.5")),
        (4, day("2026-05-03"), Some("2026-05-03T09:00:00")),
        (5, day("2025-11-30"), None),
        (6, day("2026-05-03"), None),
    ] {
        let start = start.map(|text: &str| text.parse().unwrap());
        let meta = SessionMeta {
            day: day_run,
            start,
            ..meta(hash)
        };
        book.add(with_meta(meta, hash)).unwrap();
    }
    let ids: Vec<String> = book
        .sessions()
        .unwrap()
        .into_iter()
        .map(|meta| meta.id)
        .collect();
    assert_eq!(ids, ["s5", "s4", "s3", "s2", "s6", "s1"]);
}

#[test]
fn an_unknown_id_names_those_like_it() {
    let (_folder, mut book) = book_of(0..12);
    let error = book.session("s13").unwrap_err();
    assert!(error.to_string().contains("`s13`"), "{error}");
    let BookError::UnknownSession { nearest, .. } = &error else {
        panic!("{error}")
    };
    assert!(
        nearest.contains(&"s3".to_owned()) && nearest.len() == 3,
        "{nearest:?}"
    );
    assert!(error.hint().contains("`heatbook sessions`"));
    for id in ["", "s", "s01", "s+1", "3", "s0", "s-1"] {
        assert!(
            matches!(book.meta(id), Err(BookError::UnknownSession { .. })),
            "{id}"
        );
    }
    assert!(book.amend("s13", &Change::Include).is_err());
    assert!(keep_fit(&mut book, "s13", "k", "{}").is_err());
    assert!(book.history(Some("s13")).is_err());

    let (_folder, empty) = book_of(0..0);
    let error = empty.session("s1").unwrap_err();
    assert!(error.to_string().ends_with("the book is empty"), "{error}");
    assert!(error.hint().contains("heatbook import"));
}

#[test]
fn every_amendment_is_kept_and_the_history_holds_what_stood_there() {
    // History keeps whole seconds.
    let before = Utc::now() - chrono::TimeDelta::seconds(1);
    let (_folder, mut book) = book_of(0..2);
    let car = CarSheet {
        mass_kg: Some(1250.0),
        ..CarSheet::default()
    };
    let sheet = SetupSheet::from_toml("coolant_l = 8", "setup.toml").unwrap();
    let changes = [
        Change::Setup("vented".into()),
        Change::Day(day("2026-05-03")),
        Change::Start(Some("2026-05-03T14:05:00".parse().unwrap())),
        Change::Driver(Some("A".into())),
        Change::Note(Some("traffic".into())),
        Change::Exclude("pit fire drill".into()),
        Change::Exclude("hose came off".into()),
        Change::Car(car.clone()),
        Change::SetupSheet(sheet.clone()),
    ];
    for change in &changes {
        book.amend("s2", change).unwrap();
        // The same again changes nothing, so it must leave no trace.
        book.amend("s2", change).unwrap();
    }
    let expected = SessionMeta {
        id: "s2".into(),
        setup: "vented".into(),
        day: day("2026-05-03"),
        start: Some("2026-05-03T14:05:00".parse().unwrap()),
        driver: Some("A".into()),
        note: Some("traffic".into()),
        excluded: Some("hose came off".into()),
        car,
        setup_sheet: sheet,
        ..meta(1)
    };
    assert_eq!(book.meta("s2").unwrap(), expected);
    book.amend("s2", &Change::Include).unwrap();
    book.amend("s2", &Change::Day(None)).unwrap();

    let history = book.history(Some("s2")).unwrap();
    assert!(
        history
            .iter()
            .all(|entry| entry.at >= before && entry.at <= Utc::now())
    );
    let lines: Vec<(&str, Option<&str>, Option<&str>)> = history
        .iter()
        .map(|entry| {
            (
                entry.field.as_str(),
                entry.old.as_deref(),
                entry.new.as_deref(),
            )
        })
        .collect();
    assert_eq!(
        lines,
        [
            ("imported", None, Some("run_1.csv")),
            ("setup", Some("stock"), Some("vented")),
            ("day", None, Some("2026-05-03")),
            ("start", None, Some("2026-05-03T14:05:00")),
            ("driver", None, Some("A")),
            ("note", None, Some("traffic")),
            ("excluded", None, Some("pit fire drill")),
            ("excluded", Some("pit fire drill"), Some("hose came off")),
            (
                "car",
                Some("mass_kg = 1310.5\n"),
                Some("mass_kg = 1250.0\n")
            ),
            ("setup_sheet", Some(""), Some("coolant_l = 8\n")),
            ("excluded", Some("hose came off"), None),
            ("day", Some("2026-05-03"), None),
            ("start", Some("2026-05-03T14:05:00"), None),
        ]
    );
    assert_eq!(book.history(None).unwrap().len(), lines.len() + 1);
    assert_eq!(
        book.meta("s1").unwrap(),
        SessionMeta {
            id: "s1".into(),
            ..meta(0)
        }
    );
    assert!(same(
        &book.session("s2").unwrap().channel(Role::Coolant).unwrap(),
        &coolant(1)
    ));
}

#[test]
fn a_session_moved_to_a_known_setup_takes_its_sheet() {
    let (_folder, mut book) = book_of(0..2);
    let sheet = SetupSheet::from_toml("coolant_l = 8.5", "setup.toml").unwrap();
    let vented = SessionMeta {
        setup: "vented".into(),
        setup_sheet: sheet.clone(),
        ..meta(7)
    };
    book.add(with_meta(vented, 7)).unwrap();
    book.amend("s1", &Change::Setup("vented".into())).unwrap();
    assert_eq!(book.meta("s1").unwrap().setup_sheet, sheet);
    let fields: Vec<String> = book
        .history(Some("s1"))
        .unwrap()
        .into_iter()
        .map(|entry| entry.field)
        .collect();
    assert_eq!(fields, ["imported", "setup", "setup_sheet"]);
    // A name the book does not know is a correction of the name only.
    book.amend("s1", &Change::Setup("louvred".into())).unwrap();
    assert_eq!(book.meta("s1").unwrap().setup_sheet, sheet);
}

#[test]
fn a_reason_or_setup_that_says_nothing_is_refused() {
    let (_folder, mut book) = book_of(0..1);
    for change in [Change::Exclude(" ".into()), Change::Setup(String::new())] {
        assert!(matches!(
            book.amend("s1", &change),
            Err(BookError::Blank { .. })
        ));
    }
    assert_eq!(book.history(None).unwrap().len(), 1);
}

#[test]
fn a_fit_is_kept_until_a_change_touches_it() {
    let (_folder, mut book) = book_of(0..2);
    let keep = |book: &mut Book| {
        keep_fit(book, "s1", "a", "{\"x\":1}").unwrap();
        keep_fit(book, "s2", "a", "{\"x\":2}").unwrap();
    };
    let car = CarSheet {
        mass_kg: Some(1250.0),
        ..CarSheet::default()
    };
    keep(&mut book);
    keep_fit(&mut book, "s1", "a", "{\"x\":3}").unwrap();
    assert_eq!(cached_fit(&book, "s1", "a").as_deref(), Some("{\"x\":3}"));
    assert_eq!(cached_fit(&book, "s1", "b"), None);
    for (change, kept) in [
        (Change::Note(Some("n".into())), true),
        (Change::Driver(Some("d".into())), true),
        (Change::Exclude("e".into()), true),
        (Change::Include, true),
        (Change::Setup("stock".into()), true),
        (Change::Setup("vented".into()), false),
        (Change::Car(car), false),
        (
            Change::SetupSheet(SetupSheet::from_toml("mass_kg = 1300", "s").unwrap()),
            false,
        ),
        (Change::Day(day("2026-05-03")), false),
        (
            Change::Start(Some("2026-05-03T14:05:00".parse().unwrap())),
            false,
        ),
    ] {
        keep(&mut book);
        book.amend("s1", &change).unwrap();
        assert_eq!(cached_fit(&book, "s1", "a").is_some(), kept, "{change:?}");
        assert!(cached_fit(&book, "s2", "a").is_some());
    }
}

#[test]
fn only_the_latest_fits_are_kept() {
    let (_folder, mut book) = book_of(0..1);
    for i in 0..20 {
        keep_fit(&mut book, "s1", &format!("key {i}"), "{}").unwrap();
    }
    let kept = |i: i32| cached_fit(&book, "s1", &format!("key {i}")).is_some();
    assert_eq!(
        (0..20).filter(|&i| kept(i)).collect::<Vec<_>>(),
        (4..20).collect::<Vec<_>>()
    );
}

#[test]
fn the_key_of_a_fit_tells_apart_what_a_fit_leans_on() {
    let key = fit_key(&meta(0), "margin 1");
    let other_car = CarSheet {
        mass_kg: Some(1.0),
        ..CarSheet::default()
    };
    for other in [
        fit_key(&meta(0), "margin 2"),
        fit_key(&meta(1), "margin 1"),
        fit_key(
            &SessionMeta {
                car: other_car,
                ..meta(0)
            },
            "margin 1",
        ),
        fit_key(
            &SessionMeta {
                day: day("2026-05-03"),
                ..meta(0)
            },
            "margin 1",
        ),
    ] {
        assert_ne!(key, other);
    }
    let noted = SessionMeta {
        note: Some("wet".into()),
        ..meta(0)
    };
    assert_eq!(key, fit_key(&noted, "margin 1"));
}

#[test]
fn a_look_at_the_same_evidence_counts_once() {
    let (folder, mut book) = book_of(0..0);
    assert_eq!(book.looks("a", "b").unwrap(), 0);
    assert_eq!(book.count_look("a", "b", "x").unwrap(), 1);
    assert_eq!(book.count_look("a", "b", "x").unwrap(), 1);
    assert_eq!(book.count_look("a", "b", "y").unwrap(), 2);
    assert_eq!(book.count_look("b", "a", "y").unwrap(), 2);
    assert_eq!(book.count_look("a", "c", "y").unwrap(), 1);
    drop(book);
    let book = Book::open(&folder.path().join("made/as needed")).unwrap();
    assert_eq!(book.looks("b", "a").unwrap(), 2);
}

#[test]
fn the_default_folder_is_named_after_the_program() {
    // Without a home the platform may name none; a machine that runs tests has one.
    let dir = Book::default_dir().unwrap();
    assert!(dir.is_absolute() && dir.ends_with("heatbook"), "{dir:?}");
}

#[test]
fn a_plan_is_kept_for_a_pair_whichever_comes_first() {
    let (_folder, mut book) = book_of(0..1);
    assert_eq!(book.plan(["a", "b"]).unwrap(), None);
    book.keep_plan(["b", "a"], 6, 3).unwrap();
    book.keep_plan(["a", "b"], 8, 4).unwrap();
    let plan = book.plan(["b", "a"]).unwrap().unwrap();
    assert_eq!((plan.sessions_per_setup, plan.days), (8, 4));
}

/// A book of version 1, as it was before plans and seals.
#[test]
fn an_older_book_is_brought_up_to_date_and_a_copy_kept() {
    let (folder, book) = book_of(0..2);
    drop(book);
    let dir = folder.path().join("made/as needed");
    let catalogue = dir.join("catalogue.sqlite");
    let sql = rusqlite::Connection::open(&catalogue).unwrap();
    sql.execute_batch("DROP TABLE plans; DROP TABLE seals")
        .unwrap();
    sql.pragma_update(None, "user_version", 1).unwrap();
    drop(sql);
    let old = std::fs::read(&catalogue).unwrap();
    let mut book = Book::open(&dir).unwrap();
    assert_eq!(book.sessions().unwrap().len(), 2);
    assert!(book.verify().faults.is_empty());
    book.keep_plan(["a", "b"], 6, 3).unwrap();
    keep_fit(&mut book, "s1", "a", "{}").unwrap();
    assert!(book.verify().faults.is_empty());
    assert_eq!(std::fs::read(dir.join("catalogue.v1.sqlite")).unwrap(), old);
}
