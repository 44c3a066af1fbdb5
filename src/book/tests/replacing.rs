//! A session put in the place of another.

use super::super::{Book, BookError};
use super::{
    book_of_two, cached_fit, coolant, keep_fit, left_behind, meta, same, session, with_meta,
};
use crate::session::{Role, SessionMeta};

const WHY: (&str, Option<&str>, Option<&str>) = ("imported", Some("run_1.csv"), Some("again.csv"));

fn has_coolant_of(book: &Book, id: &str, hash: u32) -> bool {
    let read = book.session(id).unwrap().channel(Role::Coolant).unwrap();
    same(&read, &coolant(hash))
}

#[test]
fn the_new_channels_stand_under_the_old_id_and_the_history_says_so() {
    let (_folder, mut book) = book_of_two();
    keep_fit(&mut book, "s1", "key", "{}").unwrap();
    let again = SessionMeta {
        file: "again.csv".into(),
        ..meta(3)
    };
    book.replace("s1", with_meta(again, 3), WHY).unwrap();
    assert!(has_coolant_of(&book, "s1", 3) && has_coolant_of(&book, "s2", 2));
    assert_eq!(book.meta("s1").unwrap().file, "again.csv");
    assert_eq!(book.with_hash(&meta(3).sha256).unwrap().unwrap().id, "s1");
    assert_eq!(book.with_hash(&meta(1).sha256).unwrap(), None);
    assert_eq!(cached_fit(&book, "s1", "key"), None);
    let history = book.history(Some("s1")).unwrap();
    assert_eq!(history[1].old.as_deref(), Some("run_1.csv"));
    assert!(left_behind(book.dir()).is_empty());
    // The same bytes again, and those of another session.
    book.replace("s1", session(3), WHY).unwrap();
    let error = book.replace("s1", session(2), WHY).unwrap_err();
    assert!(matches!(error, BookError::Imported { .. }), "{error}");
}

/// Killed after the old channels were put aside, and after the new ones were placed, but before
/// the commit: the catalogue still knows the old ones.
#[test]
fn an_exchange_that_was_killed_is_undone() {
    for new_is_placed in [false, true] {
        let (folder, mut book) = book_of_two();
        let placed = folder.path().join("channels/session=s1");
        let aside = folder.path().join("staging/aside-s1");
        std::fs::create_dir_all(folder.path().join("staging")).unwrap();
        std::fs::rename(&placed, &aside).unwrap();
        if new_is_placed {
            std::fs::create_dir(&placed).unwrap();
            let other = folder.path().join("channels/session=s2/part-0.parquet");
            std::fs::copy(other, placed.join("part-0.parquet")).unwrap();
        }
        // Reading finds the old channels at once; the next write puts them back.
        assert!(has_coolant_of(&book, "s1", 1));
        book.add(session(5)).unwrap();
        assert!(placed.exists() && !aside.exists());
        assert!(has_coolant_of(&book, "s1", 1));
        assert!(left_behind(book.dir()).is_empty());
    }
}
