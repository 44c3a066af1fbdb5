//! What the program answers keeps the schemas, with known figures and without.

use std::path::Path;

use schema_check::{heatbook, kind_of, must_hold, sample_logs, tests_dir};
use serde_json::Value;

/// Runs a call in the folder of the sample logs and holds its document to the schema of its verb,
/// or to that of errors.
fn checked(book: &Path, expected_code: i32, arguments: &[&str]) -> Value {
    let answer = heatbook(&sample_logs(), book, arguments);
    let kind = kind_of(arguments, expected_code);
    assert_eq!(
        answer.code, expected_code,
        "{arguments:?}: {:#}",
        answer.document
    );
    must_hold(kind, &answer.document);
    answer.document
}

/// A log from the fixtures of the reader.
fn fixture(name: &str) -> String {
    let path = tests_dir().join("fixtures/ingest").join(name);
    path.to_str().expect("UTF-8").to_owned()
}

#[test]
fn a_car_sheet_and_a_day_fill_the_answers() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book");
    let import = |setup: &str, files: &[&str], expected: i32| {
        let head = ["import", "--setup", setup, "--car", "car.toml"];
        checked(&book, expected, &[&head, files].concat())
    };
    let second = "0517_1100_sealed_second.csv";
    import(
        "open-ducts",
        &["0517_0946_open.csv", "0517_1346_open.csv"],
        0,
    );
    let with = import(
        "sealed-ducts",
        &["0517_1100_sealed.csv", "--with", second],
        0,
    );
    assert_eq!(with["aligned"][0]["file"], second);
    import("sealed-ducts", &["0517_1225_sealed.csv"], 0);
    import(
        "open-ducts",
        &["0524_0946_open.csv", "--day", "2031-05-24"],
        0,
    );
    import(
        "sealed-ducts",
        &["0524_1105_sealed.csv", "--day", "2031-05-24"],
        0,
    );
    let again = import("sealed-ducts", &["0517_1225_sealed.csv"], 0);
    assert_eq!(again["sessions"][0]["duplicate"], true);
    let partly = import("sealed-ducts", &["0524_1230_sealed.csv", "nowhere.csv"], 1);
    assert_eq!(partly["failed"][0]["file"], "nowhere.csv");
    import("open-ducts", &["nowhere.csv"], 2);

    checked(&book, 0, &["sessions"]);
    let fits = checked(&book, 0, &["fit"]);
    assert!(fits["sessions"][0]["ua_w_per_k"]["estimate"].is_number());
    let checked_fit = checked(&book, 0, &["fit", "s1", "--self-check", "3"]);
    assert_eq!(checked_fit["sessions"][0]["self_check"]["fitted"], 3);
    let compare = [
        "compare",
        "--before",
        "open-ducts",
        "--after",
        "sealed-ducts",
    ];
    let compared = checked(&book, 0, &compare);
    assert!(compared["coolant_change_k"]["estimate"].is_number());
    checked(
        &book,
        0,
        &[&compare[..], &["--ambient-c", "-5", "--threshold-k", "9"]].concat(),
    );
    let computed = checked(&book, 0, &["stack", "stack.toml", "--setup", "open-ducts"]);
    assert!(computed["radiator_ua_from"]["radiator_ua_w_per_k"]["estimate"].is_number());
    let held = ["stack", "stack.toml", "--coolant-c", "100", "--load", "1"];
    let held = checked(&book, 0, &held);
    assert_eq!(held["sweep"].as_array().unwrap().len(), 0);
    let plan = checked(&book, 0, &["plan", "--effect-k", "1.5"]);
    assert!(plan["days_needed"].is_number());
    checked(&book, 0, &["plan", "--effect-k", "0.02", "--days", "1"]);
    let limits = checked(&book, 0, &["limits"]);
    assert!(limits["sessions"][0]["state"].is_string());
    let season = checked(&book, 0, &["season"]);
    assert!(season["cars"][0]["drift"]["sessions"].is_u64());
    checked(
        &book,
        0,
        &["limits", "--channel", "oil", "--limit-c", "120"],
    );
    let over = ["limits", "--limit-c", "90", "--fail-on", "exceeded"];
    checked(&book, 3, &over);

    checked(
        &book,
        0,
        &["amend", "s1", "s2", "--note", "new tyres", "--driver", "B"],
    );
    checked(&book, 0, &["amend", "s1", "--exclude", "hose came off"]);
    let listed = checked(&book, 0, &["sessions"]);
    assert_eq!(listed["sessions"][0]["excluded"], "hose came off");
    let left = checked(&book, 0, &compare);
    assert_eq!(left["before"]["left_out"][0]["id"], "s1");
    checked(&book, 0, &["history"]);
    checked(&book, 0, &["history", "s1"]);
    checked(&book, 0, &["sessions", "--ids"]);
    assert_eq!(checked(&book, 0, &["verify"])["sound"], true);
    let to = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    checked(&book, 0, &["backup", &to("copy")]);
    checked(&book, 2, &["backup", &to("copy")]);
    checked(&book, 0, &["export", &to("tables"), "--format", "csv"]);
    checked(&book, 0, &["install-files", &to("files")]);
    let part = folder.path().join("copy/channels/session=s2/part-0.parquet");
    std::fs::write(part, "x").unwrap();
    let copy = folder.path().join("copy");
    let damaged = checked(&copy, 1, &["verify"]);
    assert_eq!(damaged["faults"][0]["session"], "s2");
    for call in [&["limits", "--afresh"][..], &["fit", "--afresh"], &compare, &["plan", "--effect-k", "1.5"]] {
        let answer = checked(&copy, 1, call);
        assert_eq!(answer["warnings"][0]["id"], "channels-damaged", "{call:?}");
    }
    let rest = checked(&copy, 1, &["export", &to("rest")]);
    assert!(!rest["failed"].as_array().unwrap().is_empty());
    let out = folder.path().join("pages");
    checked(&book, 0, &["demo", "--out", out.to_str().unwrap()]);
}

/// No car sheet, no ambient, no day, and logs of half a minute: nothing can be estimated.
#[test]
fn what_is_not_known_keeps_the_schemas_too() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book");
    for (file, setup) in [
        ("no_ambient_column.csv", "before"),
        ("whole_seconds_at_10_hz.csv", "before"),
        ("fahrenheit_unlabelled.csv", "after"),
    ] {
        checked(&book, 0, &["import", &fixture(file), "--setup", setup]);
    }
    let listed = checked(&book, 0, &["sessions"]);
    assert!(listed["sessions"][0]["day"].is_null());
    let fits = checked(&book, 0, &["fit"]);
    for fit in fits["sessions"].as_array().unwrap() {
        assert!(fit["ua_w_per_k"]["estimate"].is_null(), "{fit:#}");
    }
    let compared = checked(
        &book,
        0,
        &["compare", "--before", "before", "--after", "after"],
    );
    assert!(compared["coolant_change_k"]["estimate"].is_null());
    let plan = checked(&book, 0, &["plan", "--effect-k", "1.5"]);
    assert!(plan["days_needed"].is_number());
    checked(&book, 0, &["plan", "--effect-k", "0.02", "--days", "1"]);
    let limits = checked(&book, 0, &["limits"]);
    assert!(limits["sessions"][0]["state"].is_null());
    let season = checked(&book, 0, &["season"]);
    assert!(season["cars"][0]["drift"]["shown"].is_null());
    let no_core = folder.path().join("no_core.toml");
    std::fs::write(&no_core, "[[exchanger]]\nkind = \"radiator\"\nright = 0\n").unwrap();
    let stuck = checked(&book, 0, &["stack", no_core.to_str().unwrap()]);
    assert!(stuck["stacks"][0]["why"].is_string());
    let missing = checked(
        &book,
        0,
        &["limits", "--channel", "charge_in", "--limit-c", "60"],
    );
    assert!(missing["sessions"][0]["peak_c"].is_null());
}

#[test]
fn every_fixture_is_inspected_or_refused_within_the_schema() {
    let folder = tempfile::tempdir().unwrap();
    let mut files: Vec<_> = std::fs::read_dir(tests_dir().join("fixtures/ingest"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "csv"))
        .collect();
    files.sort();
    assert!(files.len() > 30);
    let mut readable = 0;
    for file in &files {
        let name = file.to_str().unwrap();
        let answer = heatbook(folder.path(), folder.path(), &["inspect", name]);
        let kind = if answer.code == 2 { "error" } else { "inspect" };
        must_hold(kind, &answer.document);
        readable += i32::from(answer.code == 0);
    }
    assert!(readable > 20, "{readable} of {} are readable", files.len());
    let empty = folder.path().join("empty.csv");
    std::fs::write(&empty, "").unwrap();
    let both = [
        "inspect",
        empty.to_str().unwrap(),
        files[0].to_str().unwrap(),
    ];
    let partly = checked(folder.path(), 1, &both);
    assert_eq!(partly["files"][0]["readable"], false);
}

/// What was asked wrongly is one document too, whatever the verb, and no book is made for it.
#[test]
fn every_verb_refuses_in_the_same_form() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("none");
    for call in [
        &["inspect", "nowhere.csv"][..],
        &["inspect"],
        &["import", "nowhere.csv"],
        &[
            "import",
            "0517_0946_open.csv",
            "--setup",
            "a",
            "--map",
            "coolent=x",
        ],
        &["sessions"],
        &["verify"],
        &["backup", "copy"],
        &["export", "tables"],
        &["install-files", "car.toml/files"],
        &["fit", "s1"],
        &["compare", "--before", "a", "--after", "b"],
        &["compare", "--before", "a"],
        &["limits", "--channel", "speed"],
        &["amend", "s1"],
        &["amend", "s1", "--note", "x"],
        &["history", "s9"],
        &["stack", "nowhere.toml"],
        &["stack", "car.toml"],
        &["stack", "stack.toml", "--setup", "a"],
        &["demo", "--out", "car.toml/pages"],
    ] {
        checked(&book, 2, call);
    }
    assert!(!book.exists());
}
