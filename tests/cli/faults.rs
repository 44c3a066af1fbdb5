//! What may befall a book: processes killed at any moment, a full disk, a medium that takes no
//! write, two imports at once, damaged files. Afterwards it opens, `verify` finds nothing wrong
//! that was not done on purpose, and no session is lost.

#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

use super::{json, run};

/// A log of ninety rows, no two alike.
fn log(i: usize) -> String {
    let row = |r: usize| {
        let speed = 10 + 2 * ((r + i) % 9);
        format!("{r},{},{speed}.{:03},20\n", 80 + r / 5, i % 1000)
    };
    let head = format!("# drive {i}\ntime_s,coolant_c,speed_kmh,ambient_c\n");
    head + &(0..90).map(row).collect::<String>()
}

/// A folder with a book of some sessions, and logs that are not in it yet.
struct Case {
    folder: tempfile::TempDir,
    logs: usize,
}

impl Case {
    fn new() -> Self {
        let mut case = Self {
            folder: tempfile::tempdir().unwrap(),
            logs: 0,
        };
        let call = case.import(3);
        assert_eq!(run(&case.book(), &call).0, 0);
        case
    }

    fn book(&self) -> PathBuf {
        self.folder.path().join("book")
    }

    /// The call that imports so many new logs.
    fn import(&mut self, count: usize) -> Vec<String> {
        let mut call = vec!["import".to_owned()];
        for _ in 0..count {
            self.logs += 1;
            let path = self.folder.path().join(format!("{}.csv", self.logs));
            std::fs::write(&path, log(self.logs)).unwrap();
            call.push(path.to_str().unwrap().to_owned());
        }
        call.extend(["--setup", "stock"].map(str::to_owned));
        call
    }

    fn sessions(&self) -> BTreeSet<String> {
        ids(&self.book())
    }
}

fn ids(book: &Path) -> BTreeSet<String> {
    let (code, answer) = json(book, &["sessions", "--ids"]);
    assert_eq!(code, 0, "{answer:#}");
    let ids = answer["sessions"].as_array().unwrap().iter();
    ids.map(|id| id.as_str().unwrap().to_owned()).collect()
}

fn assert_sound(book: &Path) -> Value {
    let (code, answer) = json(book, &["verify"]);
    assert_eq!(
        (code, &answer["sound"]),
        (0, &Value::Bool(true)),
        "{answer:#}"
    );
    answer
}

fn spawn(book: &Path, call: &[String]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_heatbook"))
        .arg("--book")
        .arg(book)
        .args(call)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// What is killed, in turns: an import, one in the place of another, fits being kept, exclusions.
fn call(case: &mut Case, round: usize) -> (&'static str, Vec<String>) {
    let words = |text: &str| text.split(' ').map(str::to_owned).collect();
    match round % 5 {
        0 | 1 => ("import", case.import(3)),
        2 => {
            let mut call = case.import(1);
            call.extend(["--replace".to_owned(), "s2".to_owned()]);
            ("replace", call)
        }
        3 => ("fit", words("fit --afresh")),
        _ => {
            let what = if round.is_multiple_of(2) {
                "--exclude rain"
            } else {
                "--include"
            };
            ("exclude", words(&format!("amend s1 s3 {what}")))
        }
    }
}

/// Ten processes in the usual run. The long one, whose log is in `reports/validation/faults.md`:
///
/// ```sh
/// HEATBOOK_KILLS=200 cargo test --release --test cli faults::killed -- --nocapture
/// ```
#[test]
fn killed_at_any_moment_the_book_is_sound_and_no_session_is_lost() {
    let kills = std::env::var("HEATBOOK_KILLS").ok();
    let kills: usize = kills.map_or(10, |n| n.parse().expect("a number"));
    let mut case = Case::new();
    let mut lengths = [Duration::ZERO; 5];
    let mut seed = 1_u64;
    let (mut hit, mut traces) = (0, 0);
    for round in 0.. {
        if hit == kills {
            break;
        }
        assert!(
            round < 50 + 10 * kills,
            "{hit} of {round} were killed under way"
        );
        let before = case.sessions();
        let (what, call) = call(&mut case, round);
        let started = Instant::now();
        let mut child = spawn(&case.book(), &call);
        // The first of each kind is left alone, and says how long the others may live.
        if round < 5 {
            assert!(child.wait().unwrap().success(), "{what}");
            lengths[round] = started.elapsed();
            continue;
        }
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let share = (seed >> 40) as f64 / (1_u64 << 24) as f64;
        std::thread::sleep(lengths[round % 5].mul_f64(share));
        child.kill().unwrap();
        let killed = child.wait().unwrap().code().is_none();
        let journal = case.book().join("catalogue.sqlite-journal").exists();
        let answer = assert_sound(&case.book());
        let left = answer["warnings"].as_array().unwrap().len();
        let after = case.sessions();
        assert!(
            after.is_superset(&before),
            "round {round}: {before:?} became {after:?}"
        );
        hit += usize::from(killed);
        traces += usize::from(journal || left > 0);
        println!(
            "{round:>4} {what:<8} {} after {:>3.0} % of its time, {} sessions before, {} after{}{}",
            if killed { "killed" } else { "done  " },
            100.0 * share,
            before.len(),
            after.len(),
            if journal { ", a journal to undo" } else { "" },
            if left > 0 {
                ", something left in the folders"
            } else {
                ""
            },
        );
    }
    println!("{hit} killed under way, {traces} of them amid a write");
    // What the last one left is removed by the next write, and the book takes it.
    let call = case.import(1);
    assert_eq!(run(&case.book(), &call).0, 0);
    assert_eq!(
        assert_sound(&case.book())["warnings"]
            .as_array()
            .unwrap()
            .len(),
        0
    );
}

/// What a kill amid a commit leaves: a journal, and pages that are half written.
#[test]
fn a_change_cut_short_is_undone_by_the_next_call() {
    let case = Case::new();
    let copy = case.folder.path().join("copy");
    std::fs::create_dir(&copy).unwrap();
    let conn = rusqlite::Connection::open(case.book().join("catalogue.sqlite")).unwrap();
    conn.pragma_update(None, "cache_size", 2).unwrap();
    let tx = conn.unchecked_transaction().unwrap();
    tx.execute_batch(
        "WITH RECURSIVE i(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM i WHERE n < 5000)
         INSERT INTO looks SELECT 'a', 'b', 'evidence number ' || n FROM i;
         DELETE FROM history;",
    )
    .unwrap();
    for name in ["catalogue.sqlite", "catalogue.sqlite-journal"] {
        std::fs::copy(case.book().join(name), copy.join(name)).unwrap();
    }
    drop(tx);
    assert_eq!(ids(&copy).len(), 3);
    let (_, history) = json(&copy, &["history"]);
    assert_eq!(history["changes"].as_array().unwrap().len(), 3);
}

#[test]
fn two_processes_import_at_once() {
    let mut case = Case::new();
    let one = case.import(5);
    let mut other = case.import(3);
    // Two logs are imported by both.
    other.extend_from_slice(&one[1..3]);
    let both = [one, other].map(|call| spawn(&case.book(), &call));
    for mut child in both {
        assert!(child.wait().unwrap().success());
    }
    assert_eq!(case.sessions().len(), 3 + 5 + 3);
    assert_eq!(
        assert_sound(&case.book())["warnings"],
        serde_json::json!([])
    );
}

/// A file system of its own that holds two megabytes; unmounted when dropped.
struct SmallDisk(PathBuf);

impl SmallDisk {
    /// `None`: this process may not mount.
    fn mount(at: &Path) -> Option<Self> {
        std::fs::create_dir(at).unwrap();
        let disk = Self(at.to_owned());
        disk.call(&["-t", "tmpfs", "-o", "size=2m", "tmpfs"])
            .then_some(disk)
    }

    fn call(&self, arguments: &[&str]) -> bool {
        let mut mount = Command::new("mount");
        mount.args(arguments).arg(&self.0).stderr(Stdio::null());
        mount.status().is_ok_and(|status| status.success())
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

#[test]
fn a_full_disk_and_one_that_takes_no_write() {
    let mut case = Case::new();
    let at = case.folder.path().join("disk");
    let Some(disk) = SmallDisk::mount(&at) else {
        eprintln!("skipped: only an administrator may mount the small disk of this test");
        return;
    };
    let book = at.join("book");
    let mut kept = 0;
    let full = loop {
        let call = case.import(4);
        let call: Vec<&str> = call.iter().map(String::as_str).collect();
        let (code, answer) = json(&book, &call);
        if code != 0 {
            break (code, answer);
        }
        kept += 4;
        assert!(kept < 400, "the disk does not fill");
    };
    let words = full.1.to_string();
    assert!(words.contains("free some space"), "{} {words}", full.0);
    let added = full.1["sessions"].as_array().map_or(0, Vec::len);
    assert_sound(&book);
    assert_eq!(ids(&book).len(), kept + added);
    let (code, limits) = json(&book, &["limits"]);
    assert_eq!(code, 0, "{limits:#}");

    assert!(disk.call(&["-o", "remount,ro"]));
    assert_sound(&book);
    for call in ["sessions", "fit", "limits", "history"] {
        assert_eq!(json(&book, &[call]).0, 0, "{call}");
    }
    let call = case.import(1);
    let (code, _, words) = run(&book, &call);
    assert_eq!(code, 2);
    assert!(words.contains("can be read but not changed"), "{words}");

    assert!(disk.call(&["-o", "remount,rw,size=20m"]));
    assert_eq!(run(&book, &call).0, 0);
    assert_sound(&book);
    assert_eq!(ids(&book).len(), kept + added + 1);
}

/// The same without leave to mount: no file may grow beyond a limit.
#[cfg(unix)]
#[test]
fn a_file_that_may_not_grow() {
    let mut case = Case::new();
    let before = case.sessions();
    let import = case.import(6);
    let status = |blocks: u32| {
        let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"");
        let mut sh = Command::new("sh");
        sh.args(["-c", &script, env!("CARGO_BIN_EXE_heatbook"), "--book"]);
        sh.arg(case.book()).args(&import);
        let output = sh.output().unwrap();
        (
            output.status.code(),
            String::from_utf8(output.stderr).unwrap(),
        )
    };
    for blocks in [1, 8, 40] {
        let (code, words) = status(blocks);
        assert!(matches!(code, Some(0..=2)), "{blocks}: {code:?} {words}");
        assert_sound(&case.book());
        assert!(case.sessions().is_superset(&before));
    }
    let (code, words) = status(1);
    assert!(code != Some(0) || case.sessions().len() == 9, "{words}");
    assert_eq!(run(&case.book(), &import).0, 0);
    assert_eq!(case.sessions().len(), 9);
    assert_sound(&case.book());
}

#[test]
fn damage_is_named_and_the_rest_stays_usable() {
    let case = Case::new();
    let name = "channels/session=s2/part-0.parquet";
    let file = case.book().join(name);
    let whole = std::fs::read(&file).unwrap();
    let mut flipped = whole.clone();
    flipped[whole.len() / 2] ^= 4;
    for (bytes, id) in [
        (&whole[..whole.len() / 2], "channels-changed"),
        (flipped.as_slice(), "channels-changed"),
        (&[], "channels-changed"),
    ] {
        std::fs::write(&file, bytes).unwrap();
        let (code, answer) = json(&case.book(), &["verify"]);
        let fault = &answer["faults"][0];
        assert_eq!(
            (code, &fault["id"], &fault["file"]),
            (1, &id.into(), &name.into())
        );
        assert_eq!(answer["faults"].as_array().unwrap().len(), 1);
        assert_eq!(json(&case.book(), &["sessions"]).0, 0);
        for call in [&["fit", "--afresh"][..], &["limits", "--afresh"]] {
            let (code, answer) = json(&case.book(), call);
            assert_eq!(code, 1, "{call:?}");
            assert_eq!(answer["warnings"][0]["id"], "channels-damaged");
            assert_eq!(answer["sessions"].as_array().unwrap().len(), 3);
            let why = answer["sessions"][1]["why"].as_str().unwrap();
            assert!(why.contains("part-0.parquet"), "{why}");
        }
    }
}

/// What names a session is a number, so no name leads out of the book; a label is text everywhere.
#[test]
fn names_lead_nowhere_and_labels_are_text() {
    let case = Case::new();
    let folder = case.folder.path();
    let conn = rusqlite::Connection::open(case.book().join("catalogue.sqlite")).unwrap();
    for id in [
        "../../x",
        "s1/../s2",
        "s01",
        "s-1",
        "/etc/passwd",
        "s99999999999999999999",
    ] {
        let (code, answer) = json(&case.book(), &["fit", id]);
        assert_eq!(code, 2, "{id}: {answer:#}");
    }
    // As in a book that somebody made.
    let labels = [
        ("files", "name", "../../../outside.csv"),
        ("setups", "name", "=HYPERLINK(\"x\")"),
        ("sessions", "driver", "+cmd|' /C calc'!A0"),
        ("sessions", "note", "@SUM(1)\n\"quoted\", with a comma"),
    ];
    for (table, column, label) in labels {
        conn.execute(&format!("UPDATE {table} SET {column} = ?"), [label])
            .unwrap();
    }
    let to = folder.join("tables");
    let call = ["export", to.to_str().unwrap(), "--format", "csv"];
    assert_eq!(json(&case.book(), &call).0, 0);
    assert!(!folder.join("outside.csv").exists());
    let text = std::fs::read_to_string(to.join("sessions.csv")).unwrap();
    let mut table = csv::Reader::from_reader(text.as_bytes());
    let head = table.headers().unwrap().clone();
    let mut rows = 0;
    for row in table.records() {
        let row = row.unwrap();
        let cell = |name: &str| &row[head.iter().position(|h| h == name).unwrap()];
        assert_eq!(cell("setup"), "'=HYPERLINK(\"x\")");
        assert_eq!(cell("driver"), "'+cmd|' /C calc'!A0");
        assert_eq!(cell("note"), "'@SUM(1)\n\"quoted\", with a comma");
        rows += 1;
    }
    assert_eq!(rows, 3);
    // The seal tells that this is not what was written.
    assert_eq!(json(&case.book(), &["verify"]).0, 1);
}

/// The ids shared out to processes, two at a time, as the README shows it.
#[test]
fn fits_shared_out_to_processes_are_gathered_by_the_book() {
    let mut case = Case::new();
    let call = case.import(6);
    assert_eq!(run(&case.book(), &call).0, 0);
    let alone = json(&case.book(), &["fit", "--afresh"]);
    let conn = rusqlite::Connection::open(case.book().join("catalogue.sqlite")).unwrap();
    conn.execute("DELETE FROM fits", []).unwrap();
    let program = env!("CARGO_BIN_EXE_heatbook");
    let book = case.book();
    let shared = Command::new("sh")
        .arg("-c")
        .arg("\"$0\" sessions --ids --book \"$1\" | xargs -n 2 -P 2 \"$0\" fit --book \"$1\"")
        .arg(program)
        .arg(&book)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .unwrap();
    assert!(shared.success());
    let kept: i64 = conn
        .query_row("SELECT count(*) FROM fits", [], |row| row.get(0))
        .unwrap();
    assert_eq!(kept, 9);
    assert_eq!(json(&book, &["fit"]), alone);
}
