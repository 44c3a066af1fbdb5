//! Processes that die in the midst of an import, and processes that import at once.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Barrier;
use std::time::{Duration, Instant};

use super::super::{Added, Book};
use super::{DIE_AT, coolant, left_behind, names, same, session};
use crate::session::Role;

const DIR: &str = "HEATBOOK_TEST_DIR";
const FROM: &str = "HEATBOOK_TEST_FROM";
const COUNT: &str = "HEATBOOK_TEST_COUNT";

/// What the other processes do: import `COUNT` sessions into the book in `DIR`, each with the
/// book opened anew. After the first, a file tells that imports are under way.
#[test]
#[ignore = "run by the other tests in a process of its own"]
fn child() {
    let var = |name| std::env::var(name).ok();
    let (Some(dir), Some(from), Some(count)) = (var(DIR), var(FROM), var(COUNT)) else {
        return;
    };
    let from: u32 = from.parse().unwrap();
    for hash in from..from + count.parse::<u32>().unwrap() {
        Book::open(Path::new(&dir))
            .unwrap()
            .add(session(hash))
            .unwrap();
        std::fs::write(started(Path::new(&dir), from), "").unwrap();
    }
}

fn started(dir: &Path, from: u32) -> PathBuf {
    dir.join(format!("started-{from}"))
}

fn importing(dir: &Path, from: u32, count: u32) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command
        .args([
            "--exact",
            "book::tests::crash::child",
            "--ignored",
            "--test-threads=1",
        ])
        .env(DIR, dir)
        .env(FROM, from.to_string())
        .env(COUNT, count.to_string())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    command
}

fn spawn(dir: &Path, from: u32, count: u32) -> Child {
    let child = importing(dir, from, count).spawn().unwrap();
    let deadline = Instant::now() + Duration::from_secs(60);
    while !started(dir, from).exists() {
        assert!(Instant::now() < deadline, "the other process did not start");
        std::thread::sleep(Duration::from_micros(200));
    }
    child
}

/// Every session of the book has the channels that belong to its hash.
fn assert_whole(dir: &Path) -> usize {
    let book = Book::open(dir).unwrap();
    let metas = book.sessions().unwrap();
    for meta in &metas {
        let hash = u32::from_str_radix(&meta.sha256, 16).unwrap();
        let back = book.session(&meta.id).unwrap();
        assert!(
            same(&back.channel(Role::Coolant).unwrap(), &coolant(hash)),
            "{}",
            meta.id
        );
        assert_eq!(book.history(Some(&meta.id)).unwrap().len(), 1);
    }
    metas.len()
}

#[test]
fn killed_at_any_moment_the_book_holds_whole_sessions_only() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    let mut orphans = 0;
    for round in 0..40u32 {
        let mut child = spawn(dir, 1 + round * 10_000, 9_000);
        // Spread over the length of some imports, at another phase each time.
        std::thread::sleep(Duration::from_micros(u64::from(round * 7919 % 40_000)));
        child.kill().unwrap();
        child.wait().unwrap();

        let kept = assert_whole(dir);
        orphans += left_behind(dir).len();
        let Added::New(next) = Book::open(dir)
            .unwrap()
            .add(session((round + 1) * 10_000))
            .unwrap()
        else {
            panic!("a session that was never added is a duplicate");
        };
        assert_eq!(next.id, format!("s{}", kept + 1));
        assert_eq!(left_behind(dir), [""; 0]);
    }
    assert!(assert_whole(dir) >= 80);
    assert!(orphans > 0, "no kill hit an import: this has shown nothing");
}

#[test]
fn the_commit_decides_whether_the_session_is_there() {
    for (step, whole, staged, placed) in [
        ("staged", 0, 1, 0),
        ("placed", 0, 0, 1),
        ("committed", 1, 0, 1),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let dir = folder.path();
        let status = importing(dir, 1, 1).env(DIE_AT, step).status().unwrap();
        assert!(!status.success(), "{step}: it did not die");
        assert_eq!(assert_whole(dir), whole, "{step}");
        // What other engines read never holds half a file: it is written whole elsewhere.
        assert_eq!(names(&dir.join("staging")).len(), staged, "{step}");
        assert_eq!(names(&dir.join("channels")).len(), placed, "{step}");
        Book::open(dir)
            .unwrap()
            .count_look("a", "b", "any write will do")
            .unwrap();
        assert!(left_behind(dir).is_empty(), "{step}");
        Book::open(dir).unwrap().add(session(1)).unwrap();
        assert_eq!(assert_whole(dir), 1, "{step}");
    }
}

#[test]
fn what_is_not_ours_is_not_swept() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    for name in [
        "channels/session=s9",
        "channels/session=old",
        "channels/notes",
    ] {
        std::fs::create_dir_all(dir.join(name)).unwrap();
    }
    Book::open(dir).unwrap().add(session(1)).unwrap();
    let left: Vec<String> = names(&dir.join("channels")).into_iter().collect();
    assert_eq!(left, ["notes", "session=old", "session=s1"]);
}

#[test]
fn two_processes_import_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    // Both make the book, and hashes 8 to 11 are imported by both.
    let both = [importing(dir, 0, 12), importing(dir, 8, 12)];
    for mut child in both.map(|mut command| command.spawn().unwrap()) {
        assert!(child.wait().unwrap().success());
    }
    assert_eq!(assert_whole(dir), 20);
    assert!(left_behind(dir).is_empty());
}

#[test]
fn the_same_bytes_imported_twice_at_once_make_one_session() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    let together = Barrier::new(2);
    let import = |hash| {
        let mut book = Book::open(dir).unwrap();
        // Both look for the hash before either has taken the lock.
        together.wait();
        matches!(book.add(session(hash)).unwrap(), Added::New(_))
    };
    for hash in 0..20 {
        let new = std::thread::scope(|scope| {
            let other = scope.spawn(|| import(hash));
            (import(hash), other.join().unwrap())
        });
        assert!(new.0 != new.1, "{new:?}");
    }
    assert_eq!(assert_whole(dir), 20);
}
