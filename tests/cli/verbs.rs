//! The verbs on the sample logs, and on real road logs where there are any.
#![allow(clippy::print_stdout)]

use std::path::Path;

use super::{json, sample};

fn path(name: &str) -> String {
    sample(name).to_str().unwrap().to_owned()
}

/// A book with one session before and one after, of the same day.
fn book(folder: &Path) {
    let car = path("car.toml");
    let before = path("0517_0946_open.csv");
    let (code, _) = json(
        folder,
        &["import", &before, "--setup", "open-ducts", "--car", &car],
    );
    assert_eq!(code, 0);
    let (after, second) = (
        path("0517_1100_sealed.csv"),
        path("0517_1100_sealed_second.csv"),
    );
    let (code, answer) = json(
        folder,
        &[
            "import",
            &after,
            "--with",
            &second,
            "--setup",
            "sealed-ducts",
        ],
    );
    assert_eq!(code, 0);
    // The second device's clock was set 128.6 s ahead by the simulator.
    let offset = answer["aligned"][0]["offset_s"].as_f64().unwrap();
    assert!((offset + 128.6).abs() < 0.5, "{offset}");
}

#[test]
fn the_whole_job_by_hand() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    book(dir);
    let (_, again) = json(
        dir,
        &["import", &path("0517_0946_open.csv"), "--setup", "x"],
    );
    assert_eq!(again["sessions"][0]["duplicate"], true);
    let (_, listed) = json(dir, &["sessions"]);
    assert_eq!(listed["sessions"].as_array().unwrap().len(), 2);
    let (_, fits) = json(dir, &["fit"]);
    assert!(fits["sessions"][0]["ua_relative"]["low"].as_f64().unwrap() < 1.0);
    let call = [
        "compare",
        "--before",
        "open-ducts",
        "--after",
        "sealed-ducts",
    ];
    let (_, two) = json(dir, &call);
    // One session a side leave no scatter to judge by.
    assert_eq!(two["verdict"], "cannot_tell");
    assert!(two["coolant_change_k"]["estimate"].is_null());
    let (code, _) = json(dir, &["limits", "--limit-c", "99", "--fail-on", "exceeded"]);
    assert_eq!(code, 3);
    let (code, _) = json(
        dir,
        &["limits", "--limit-c", "150", "--fail-on", "approached"],
    );
    assert_eq!(code, 0);
    let (code, _) = json(dir, &["amend", "s1", "--exclude", "hose came off"]);
    assert_eq!(code, 0);
    let (_, left) = json(dir, &call);
    assert_eq!(
        left["before"]["left_out"][0]["why"],
        "excluded: hose came off"
    );
    let (_, history) = json(dir, &["history", "s1"]);
    assert_eq!(history["changes"].as_array().unwrap().len(), 2);
}

/// Real road logs: every file imports with no map, and regulated driving is declined.
#[test]
fn real_road_logs_are_declined_with_a_reason() {
    let Ok(logs) = std::env::var("HEATBOOK_REAL_LOGS") else {
        println!("skipped: HEATBOOK_REAL_LOGS names no folder of real logs");
        return;
    };
    let mut files: Vec<String> = std::fs::read_dir(logs)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "csv"))
        .map(|path| path.to_str().unwrap().to_owned())
        .collect();
    files.sort();
    assert!(!files.is_empty());
    let folder = tempfile::tempdir().unwrap();
    let mut call = vec!["import", "--setup", "road"];
    call.extend(files.iter().map(String::as_str));
    let (code, answer) = json(folder.path(), &call);
    assert_eq!(code, 0);
    for session in answer["sessions"].as_array().unwrap() {
        for role in ["coolant", "speed", "ambient", "intake", "rpm", "air_flow"] {
            assert!(session["channels"][role].is_object(), "{role}");
        }
    }
    let (_, fits) = json(folder.path(), &["fit"]);
    for fit in fits["sessions"].as_array().unwrap() {
        assert_eq!(fit["assessable"], false);
        assert!(fit["open_s"].is_number() && fit["ua_w_per_k"]["estimate"].is_null());
        assert!(fit["why"].as_str().unwrap().contains("thermostat"));
    }
}
