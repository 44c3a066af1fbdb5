//! One test a mended defect.

use super::{json, run, sample};

fn path(name: &str) -> String {
    sample(name).to_str().unwrap().to_owned()
}

fn warnings(answer: &serde_json::Value) -> Vec<&str> {
    let all = answer["warnings"].as_array().unwrap();
    all.iter().map(|w| w["id"].as_str().unwrap()).collect()
}

#[test]
fn a_call_that_imports_nothing_makes_no_book() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book");
    let (code, ..) = run(&book, &["import", "nowhere.csv", "--setup", "a"]);
    assert_eq!(code, 2);
    assert!(!book.exists());
}

#[test]
fn a_blank_setup_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let (code, _, stderr) = run(
        folder.path(),
        &["import", &path("0517_0946_open.csv"), "--setup", " "],
    );
    assert_eq!(code, 2);
    assert!(stderr.contains("expected a name"), "{stderr}");
}

/// One drive under two hashes would count as two sessions.
#[test]
fn a_log_alone_and_with_a_second_device_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let log = path("0517_0946_open.csv");
    let weather = folder.path().join("weather.csv");
    let rows = "Time,Wind speed (m/s)\n2031-05-17 09:40:00,3\n2031-05-17 09:55:00,4\n2031-05-17 10:30:00,5\n";
    std::fs::write(&weather, rows).unwrap();
    let book = folder.path().join("book");
    json(&book, &["import", &log, "--setup", "a"]);
    let call = [
        "import",
        &log,
        "--setup",
        "a",
        "--with",
        weather.to_str().unwrap(),
    ];
    let (_, again) = json(&book, &call);
    assert!(warnings(&again).contains(&"same-log-twice"), "{again}");
}

#[test]
fn flags_that_a_known_log_cannot_take_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let log = path("0517_0946_open.csv");
    json(folder.path(), &["import", &log, "--setup", "a"]);
    let (_, again) = json(
        folder.path(),
        &["import", &log, "--setup", "b", "--ambient-c", "20"],
    );
    let ids = warnings(&again);
    assert!(ids.contains(&"duplicate-flags-unused") && ids.contains(&"duplicate-other-setup"));
}

/// A session that is merely short did not run on the thermostat.
#[test]
fn a_short_session_is_called_short() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(sample("0517_0946_open.csv")).unwrap();
    let cut: String = text.lines().take(900).map(|l| format!("{l}\n")).collect();
    let log = folder.path().join("short.csv");
    std::fs::write(&log, cut).unwrap();
    let book = folder.path().join("book");
    let call = [
        "import",
        log.to_str().unwrap(),
        "--setup",
        "a",
        "--car",
        &path("car.toml"),
    ];
    json(&book, &call);
    let (_, fits) = json(&book, &["fit"]);
    let why = fits["sessions"][0]["why"].as_str().unwrap();
    assert!(
        why.contains("of hot running") && !why.contains("thermostat"),
        "{why}"
    );
}

#[test]
fn a_setup_cannot_turn_the_thermostat_round() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = folder.path().join("setup.toml");
    std::fs::write(&sheet, "thermostat_opens_c = 95").unwrap();
    let call = [
        "import",
        &path("0517_0946_open.csv"),
        "--setup",
        "a",
        "--car",
        &path("car.toml"),
        "--setup-sheet",
        sheet.to_str().unwrap(),
    ];
    let (code, _, stderr) = run(&folder.path().join("book"), &call);
    assert_eq!(code, 2);
    assert!(stderr.contains("thermostat_full_open_c"), "{stderr}");
}

/// A name that looks like a figure is a name: `--units us` wrote the setup `82 °C thermostat` as
/// 180 °F in warnings, and so a file's name and the reason of an exclusion.
#[test]
fn names_that_the_user_gave_are_not_converted() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book");
    let call = |arguments: &[&str]| {
        let (_, stdout, stderr) = run(&book, &[&["--units", "us"], arguments].concat());
        (stdout, stderr)
    };
    let setup = "82 °C thermostat";
    let entry = super::book::index()
        .into_iter()
        .find(|e| !e.with.is_empty())
        .unwrap();
    let second = folder.path().join("box 40 °C.csv");
    std::fs::copy(sample(&entry.with[0]), &second).unwrap();
    let car = ["--car", &path("car.toml"), "--day"];
    let day = entry.day.as_deref().unwrap_or("2031-05-17");
    let with = ["--with", second.to_str().unwrap(), "--setup", setup];
    let (out, err) = call(&[&["import", &path(&entry.file)], &car[..], &[day], &with].concat());
    assert!(
        (out.clone() + &err).contains("`box 40 °C.csv`: the clocks are"),
        "{out}{err}"
    );
    let id = json(&book, &["sessions"]).1["sessions"][0]["id"].clone();
    call(&["amend", id.as_str().unwrap(), "--exclude", "read 10 K low"]);
    call(&[
        "import",
        &path("0517_0946_open.csv"),
        "--car",
        &path("car.toml"),
        "--setup",
        "other",
    ]);
    let page = folder.path().join("page.html");
    let html = ["--html", page.to_str().unwrap(), "--before", setup];
    let (out, err) = call(&[&["compare", "--after", "other"], &html[..]].concat());
    let html = std::fs::read_to_string(&page).unwrap();
    for told in [&(out + &err), &html] {
        let said = told.split_whitespace().collect::<Vec<_>>().join(" ");
        for name in [setup, "excluded: `read 10 K low`"] {
            assert!(said.contains(name), "{name}: {said}");
        }
        assert!(
            !said.contains("180 °F") && !said.contains("18 °F low"),
            "{said}"
        );
        // Figures are converted: sensors of ±0.5 K, the threshold or the ambient.
        assert!(said.contains("°F"), "{said}");
    }
}

/// The start kept the old day: lists in time order and overlaps were wrong.
#[test]
fn another_day_moves_the_start() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path();
    json(
        book,
        &["import", &path("0517_0946_open.csv"), "--setup", "a"],
    );
    let start = || {
        let (_, sessions) = json(book, &["sessions"]);
        sessions["sessions"][0]["start"]
            .as_str()
            .unwrap()
            .to_owned()
    };
    let (day, time) = (start()[..10].to_owned(), start()[10..].to_owned());
    assert_ne!(day, "2031-07-04");
    json(book, &["amend", "s1", "--day", "2031-07-04"]);
    assert_eq!(start(), format!("2031-07-04{time}"));
}

/// Without a day the book keeps no time of day, which the file may have.
#[test]
fn a_day_for_a_session_without_a_start_says_how_to_get_one() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("clock.csv");
    let row = |i: u32| format!("09:{:02}:{:02},80,{},20\n", 46 + i / 60, i % 60, 10 + i % 9);
    let head = "time,coolant_c,speed_kmh,ambient_c\n".to_owned();
    std::fs::write(&log, head + &(0..180).map(row).collect::<String>()).unwrap();
    let (book, log) = (folder.path().join("book"), log.to_str().unwrap());
    json(&book, &["import", log, "--setup", "a"]);
    let (_, amended) = json(&book, &["amend", "s1", "--day", "2031-07-04"]);
    assert_eq!(warnings(&amended), ["time-of-day-unknown"]);
    let call = [
        "import",
        log,
        "--setup",
        "a",
        "--day",
        "2031-07-04",
        "--replace",
        "s1",
    ];
    let (_, again) = json(&book, &call);
    assert_eq!(again["sessions"][0]["start"], "2031-07-04T09:46:00");
}

#[test]
fn a_hint_for_a_missing_ambient_names_what_gives_it() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(sample("0517_0946_open.csv")).unwrap();
    let head = text.lines().next().unwrap();
    let ambient = head
        .split(',')
        .find(|name| name.to_lowercase().contains("ambient"));
    let log = folder.path().join("a.csv");
    std::fs::write(&log, text.replacen(ambient.unwrap(), "unknown thing", 1)).unwrap();
    let book = folder.path().join("book");
    json(&book, &["import", log.to_str().unwrap(), "--setup", "a"]);
    let (_, fits) = json(&book, &["fit"]);
    let why = fits["sessions"][0]["why"].as_str().unwrap();
    assert!(why.contains("amend ID --ambient-c"), "{why}");
}

/// The same drive under another setup was found only by `compare`.
#[test]
fn an_overlap_in_time_is_told_at_import() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(sample("0517_0946_open.csv")).unwrap();
    let log = folder.path().join("again.csv");
    let half = text.lines().take(text.lines().count() / 2);
    std::fs::write(&log, half.map(|l| format!("{l}\n")).collect::<String>()).unwrap();
    let (book, log) = (folder.path().join("book"), log.to_str().unwrap());
    let (_, first) = json(
        &book,
        &["import", &path("0517_0946_open.csv"), "--setup", "a"],
    );
    assert!(!warnings(&first).contains(&"overlaps-in-time"));
    let (_, second) = json(&book, &["import", log, "--setup", "b"]);
    assert!(warnings(&second).contains(&"overlaps-in-time"), "{second}");
}

#[test]
fn only_the_key_that_is_missing_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let car = folder.path().join("car.toml");
    std::fs::write(&car, "coolant_l = 7").unwrap();
    let (book, car) = (folder.path().join("book"), car.to_str().unwrap());
    let log = path("0517_0946_open.csv");
    json(&book, &["import", &log, "--setup", "a", "--car", car]);
    let (_, fits) = json(&book, &["fit"]);
    let told = fits["warnings"].as_array().unwrap().iter();
    let told: Vec<&serde_json::Value> = told
        .filter(|w| w["id"] == "heat-capacity-assumed")
        .collect();
    assert_eq!(
        told[0]["message"],
        "s1: metal_heat_capacity_j_per_k is not on the car sheet: a usual value assumed"
    );
}

/// The page said "byte for byte" of a command without the flags that make it.
#[test]
fn a_page_names_the_flags_that_make_it() {
    let folder = tempfile::tempdir().unwrap();
    let (book, page) = (
        folder.path().join("book"),
        folder.path().join("season.html"),
    );
    json(
        &book,
        &["import", &path("0517_0946_open.csv"), "--setup", "a"],
    );
    json(&book, &["season", "--html", page.to_str().unwrap()]);
    let html = std::fs::read_to_string(&page).unwrap();
    assert!(html.contains("heatbook season --book DIR --html FILE</code>"));
}

/// Each side "looks worse than it is", it said, where neither had a session left to look at.
#[test]
fn sides_without_a_session_lean_nowhere() {
    let folder = tempfile::tempdir().unwrap();
    let car = folder.path().join("car.toml");
    std::fs::write(
        &car,
        "thermostat_opens_c = 85\nthermostat_full_open_c = 106",
    )
    .unwrap();
    let (book, car) = (folder.path().join("book"), car.to_str().unwrap());
    for (log, setup) in [("0517_0946_open.csv", "a"), ("0517_1225_sealed.csv", "b")] {
        json(
            &book,
            &["import", &path(log), "--setup", setup, "--car", car],
        );
    }
    let (_, answer) = json(&book, &["compare", "--before", "a", "--after", "b"]);
    let told = answer["warnings"].as_array().unwrap().iter();
    let told: Vec<&str> = told
        .filter(|w| w["id"] == "regulated-left-out")
        .map(|w| w["message"].as_str().unwrap())
        .collect();
    assert_eq!(told.len(), 2, "{answer}");
    assert!(
        told.iter().all(|message| !message.contains("looks worse")),
        "{told:?}"
    );
    let (_, text, _) = run(&book, &["compare", "--before", "a", "--after", "b"]);
    assert!(text.contains("\nb: no session on 0 days\n"), "{text}");
}
