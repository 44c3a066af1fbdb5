//! What an import settled, settled again: ambient given later, the log imported in its place.

use super::book::Book;
use super::{json, root};

fn fixture() -> String {
    let path = root().join("tests/fixtures/ingest/no_ambient_column.csv");
    path.to_str().unwrap().to_owned()
}

fn ambient(book: &Book) -> serde_json::Value {
    book.answer(&["sessions"])["sessions"][0]["ambient_c"].clone()
}

#[test]
fn ambient_is_given_later() {
    let book = Book::empty();
    book.answer(&["import", &fixture(), "--setup", "a", "--day", "2031-05-17"]);
    assert!(ambient(&book).is_null());
    book.answer(&["amend", "s1", "--ambient-c", "18.5"]);
    assert_eq!(ambient(&book), 18.5);
    // Given once more it changes; the history has both.
    book.answer(&["amend", "s1", "--ambient-c", "19"]);
    assert_eq!(ambient(&book), 19.0);
    let history = book.answer(&["history", "s1"]);
    let changes = history["changes"].as_array().unwrap();
    let given: Vec<_> = changes
        .iter()
        .filter(|c| c["field"] == "ambient_c")
        .collect();
    assert_eq!(given.len(), 2);
    assert_eq!(
        (given[1]["old"].as_str(), given[1]["new"].as_str()),
        (Some("18.5"), Some("19"))
    );
}

#[test]
fn an_ambient_from_the_file_is_not_overwritten() {
    let book = Book::of_sample_logs();
    let (code, answer) = json(&book.dir(), &["amend", "s1", "--ambient-c", "18.5"]);
    assert_eq!(code, 2);
    let hint = answer["error"]["hint"].as_str().unwrap();
    assert!(hint.contains("--replace s1"), "{hint}");
}

#[test]
fn a_log_is_imported_again_in_its_place() {
    let book = Book::empty();
    book.answer(&[
        "import",
        &fixture(),
        "--setup",
        "a",
        "--day",
        "2031-05-17",
        "--note",
        "dry",
    ]);
    book.answer(&["amend", "s1", "--exclude", "hose came off"]);
    let weather = book.folder().join("weather.csv");
    std::fs::write(&weather, "Time [s],Temperature [°C]\n0,20\n3,20.5\n6,21\n").unwrap();
    let call = [
        "import",
        &fixture(),
        "--setup",
        "b",
        "--replace",
        "s1",
        "--with",
    ];
    let offset = ["--offset-s", "weather.csv=0"];
    let call = [&call[..], &[weather.to_str().unwrap()], &offset].concat();
    let answer = book.answer(&call);
    assert_eq!(answer["sessions"][0]["id"], "s1");
    let listed = book.answer(&["sessions"]);
    let session = &listed["sessions"][0];
    assert_eq!(listed["sessions"].as_array().unwrap().len(), 1);
    assert_eq!(session["setup"], "b");
    assert_eq!(session["day"], "2031-05-17");
    assert_eq!(session["excluded"], "hose came off");
    assert!(session["ambient_c"].as_f64().unwrap() >= 20.0);
}
