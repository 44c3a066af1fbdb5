//! Real road logs, where `HEATBOOK_REAL_LOGS` names a folder of them.
#![allow(clippy::print_stdout)]

use super::book::Book;

/// Every file imports with no map; driving on the thermostat is declined with a reason.
#[test]
fn real_road_logs_are_read_without_help_and_declined() {
    let Some(folder) = std::env::var_os("HEATBOOK_REAL_LOGS") else {
        println!("skipped: HEATBOOK_REAL_LOGS names no folder of real logs");
        return;
    };
    let mut files: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "csv"))
        .map(|path| path.to_str().expect("UTF-8").to_owned())
        .collect();
    files.sort();
    assert!(!files.is_empty(), "there is no *.csv in that folder");
    let book = Book::empty();
    let mut call = vec!["import", "--setup", "road"];
    call.extend(files.iter().map(String::as_str));
    let imported = book.answer(&call);
    let sessions = imported["sessions"].as_array().unwrap();
    assert_eq!(sessions.len(), files.len(), "{:#}", imported["failed"]);
    for session in sessions {
        for role in ["coolant", "speed", "ambient", "intake", "rpm", "air_flow"] {
            let channel = &session["channels"][role];
            assert!(channel.is_object(), "{}: no {role}", session["file"]);
            assert_ne!(channel["unit_from"], "user");
        }
    }
    let fits = book.answer(&["fit"]);
    assert_eq!(fits["sessions"].as_array().unwrap().len(), files.len());
    for fit in fits["sessions"].as_array().unwrap() {
        assert_eq!(fit["assessable"], false, "{fit:#}");
        assert!(fit["open_s"].is_number());
        assert!(fit["ua_w_per_k"]["estimate"].is_null());
        assert!(fit["why"].as_str().unwrap().contains("thermostat"));
        // A lower bound, or why there is not even that.
        let bound = &fit["ua_lower_bound_w_per_k"];
        assert!(bound["estimate"].is_number() || bound["why"].is_string());
    }
}
