//! Flags that say how a log is to be read, on `inspect` and `import` alike, and the profile that
//! keeps them.

use super::{json, run};

/// A log whose names say nothing and whose dates leave the order of day and month open.
fn log() -> String {
    let row = |i: u32| {
        let (minute, second) = (i / 60, i % 60);
        let speed = 60 + i % 17;
        format!(
            "04/05/2031 10:{minute:02}:{second:02},{},{speed},21\n",
            176 + i / 10
        )
    };
    "stamp,A1,A2,A3\n".to_owned() + &(0..120).map(row).collect::<String>()
}

const MAPS: [&str; 8] = [
    "--map",
    "time=stamp",
    "--map",
    "coolant=A1:°F",
    "--map",
    "speed=A2:mph",
    "--map",
    "ambient=A3:°C",
];

#[test]
fn what_was_said_once_is_kept_and_used_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (log_path, profile, book) = (path("log.csv"), path("my.toml"), folder.path().join("book"));
    std::fs::write(&log_path, log()).unwrap();

    let save = ["--date-order", "month-first", "--save-profile", &profile];
    let call = [&["inspect", &log_path][..], &MAPS, &save].concat();
    let (code, looked) = json(&book, &call);
    assert_eq!(code, 0, "{looked:#}");
    let channels = &looked["files"][0]["channels"];
    assert_eq!(channels["coolant"]["unit_from"], "user");
    assert_eq!(channels["speed"]["unit"], "mph");

    let call = ["import", &log_path, "--setup", "a", "--profile", &profile];
    let (code, answer) = json(&book, &call);
    assert_eq!(code, 0, "{answer:#}");
    let session = &answer["sessions"][0];
    // 176 °F is 80 °C; 04/05 with the month first is the fifth of April.
    assert_eq!(session["channels"]["coolant"]["min"], 80.0);
    assert_eq!(session["day"], "2031-04-05");
    let said: Vec<&str> = answer["warnings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|w| w["id"].as_str().unwrap())
        .collect();
    assert!(!said.contains(&"date-order-ambiguous"), "{said:?}");

    // A flag overrules the profile.
    let over = ["--map", "coolant=A1:°C"];
    let other = path("other.csv");
    std::fs::write(&other, log().replace("176", "76")).unwrap();
    let call = [&["inspect", &other, "--profile", &profile][..], &over].concat();
    let (_, looked) = json(&book, &call);
    assert_eq!(looked["files"][0]["channels"]["coolant"]["unit"], "°C");
    assert_eq!(looked["files"][0]["channels"]["speed"]["unit"], "mph");
}

#[test]
fn a_profile_that_is_not_there_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let call = ["inspect", "x.csv", "--profile", "nowhere.toml"];
    let (code, _, stderr) = run(folder.path(), &call);
    assert_eq!(code, 2);
    assert!(
        stderr.contains("nowhere.toml") && stderr.contains("hint:"),
        "{stderr}"
    );
}
