//! What a wrong call or a bad file says.

use super::{run, sample};

/// Exit code and stderr of a call in a fresh folder that holds `file` with `text`.
fn failing(file: &str, text: &[u8], arguments: &[&str]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(file);
    std::fs::write(&path, text).unwrap();
    let filled: Vec<String> = arguments
        .iter()
        .map(|a| a.replace("FILE", path.to_str().unwrap()))
        .collect();
    let (code, _, stderr) = run(&folder.path().join("book"), &filled);
    let stderr = stderr.replace(folder.path().to_str().unwrap(), "DIR");
    format!("exit {code}\n{stderr}")
}

fn import(text: &[u8]) -> String {
    failing("log.csv", text, &["import", "FILE", "--setup", "stock"])
}

#[test]
fn every_failure_names_a_way_out() {
    let log = b"time_s,coolant_c,speed_kmh\n0,80,10\n1,81,12\n2,82,14\n";
    let calls = [
        import(b""),
        import(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x01\x00"),
        import(b"time_s,speed_kmh\n0,1\n1,2\n2,3\n"),
        import(b"coolant_c,speed_kmh\n80,1\n81,2\n82,3\n"),
        failing(
            "car.toml",
            b"coolant_litres = 7",
            &["import", "x.csv", "--setup", "a", "--car", "FILE"],
        ),
        failing(
            "car.toml",
            b"mass_kg = -3",
            &["import", "x.csv", "--setup", "a", "--car", "FILE"],
        ),
        failing("x", b"", &["import", "nowhere.csv", "--setup", "a"]),
        failing(
            "log.csv",
            log,
            &[
                "import",
                "FILE",
                "FILE",
                "--setup",
                "a",
                "--day",
                "2031-05-17",
            ],
        ),
        failing("x", b"", &["sessions"]),
        failing("x", b"", &["compare", "--before", "a", "--after", "b"]),
    ];
    for said in &calls {
        assert!(said.starts_with("exit 2\n"), "{said}");
        assert!(
            said.contains("error: ") && said.contains("\n\nhint: "),
            "{said}"
        );
    }
    assert!(calls[4].contains("`coolant_l`"), "{}", calls[4]);
    assert!(calls[2].contains("--map coolant="), "{}", calls[2]);
    assert!(calls[7].contains("--day"), "{}", calls[7]);
}

#[test]
fn a_bad_file_does_not_stop_the_others() {
    let folder = tempfile::tempdir().unwrap();
    let bad = folder.path().join("bad.csv");
    std::fs::write(&bad, b"").unwrap();
    let good = sample("0517_0946_open.csv");
    let book = folder.path().join("book");
    let call = [
        "--json",
        "import",
        bad.to_str().unwrap(),
        good.to_str().unwrap(),
        "--setup",
        "a",
    ];
    let (code, stdout, _) = run(&book, &call);
    let answer: serde_json::Value = serde_json::from_str(&stdout).unwrap();
    assert_eq!(code, 1);
    assert_eq!(answer["sessions"].as_array().unwrap().len(), 1);
    assert_eq!(answer["failed"].as_array().unwrap().len(), 1);
}

#[test]
fn with_json_a_failure_is_a_document() {
    let folder = tempfile::tempdir().unwrap();
    for call in [
        &["--json", "sessions"][..],
        &["--json", "compare", "--before", "a"][..],
    ] {
        let (code, stdout, _) = run(&folder.path().join("none"), call);
        let answer: serde_json::Value = serde_json::from_str(&stdout).unwrap();
        assert_eq!(code, 2);
        assert!(answer["error"]["message"].is_string() && answer["error"]["hint"].is_string());
    }
}
