//! The verbs on the sample logs, with what is known of them from elsewhere: the index, the
//! simulator's truth, and the files themselves read by the test.

use serde_json::Value;
use sha2::Digest;

use super::book::{Book, index, truth};
use super::{json, root, run, sample};

const COMPARE: [&str; 5] = [
    "compare",
    "--before",
    "open-ducts",
    "--after",
    "sealed-ducts",
];

fn list<'a>(answer: &'a Value, key: &str) -> &'a Vec<Value> {
    answer[key].as_array().unwrap()
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

/// Whether an estimate's interval holds a value.
fn holds(estimate: &Value, value: f64) -> bool {
    number(&estimate["low"]) <= value && value <= number(&estimate["high"])
}

fn warned(answer: &Value, id: &str) -> bool {
    list(answer, "warnings").iter().any(|w| w["id"] == id)
}

#[test]
fn every_sample_log_is_listed_as_the_index_says() {
    let book = Book::of_sample_logs();
    let listed = book.answer(&["sessions"]);
    let sessions = list(&listed, "sessions");
    let index = index();
    assert_eq!(sessions.len(), index.len());
    for (session, entry) in sessions.iter().zip(&index) {
        assert_eq!(session["file"], entry.file.as_str());
        assert_eq!(session["setup"], entry.setup.as_str());
        // Day and time are in the files' names: 0517_0946 is 17 May, 09:46.
        let (day, clock) = entry.file.split_at(5);
        let start = session["start"].as_str().unwrap();
        let said = format!("2031-{}-{}", &day[..2], &day[2..4]);
        assert_eq!(session["day"], said.as_str());
        assert!(
            start.starts_with(&format!("{said}T{}:{}:", &clock[..2], &clock[2..4])),
            "{start}: {}",
            entry.file
        );
        assert_eq!(session["assessable"], true, "{session:#}");
        assert!(session["excluded"].is_null());
    }
}

/// What a column of a plain comma file says: the mean and the largest of its numbers.
fn column(file: &str, name: &str) -> Vec<f64> {
    let text = std::fs::read_to_string(sample(file)).unwrap();
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().unwrap().split(',').collect();
    let at = header.iter().position(|h| *h == name).unwrap();
    lines
        .map(|line| line.split(',').nth(at).unwrap().parse().unwrap())
        .collect()
}

#[test]
fn an_import_says_what_is_in_the_file() {
    let book = Book::empty();
    let entry = &index()[0];
    let answer = book.import(entry);
    let session = &answer["sessions"][0];
    let coolant = column(&entry.file, "Coolant temperature (°C)");
    assert_eq!(session["rows_read"], coolant.len());
    assert_eq!(session["rows_kept"], coolant.len());
    for (role, name) in [
        ("coolant", "Coolant temperature (°C)"),
        ("speed", "Vehicle speed (km/h)"),
        ("ambient", "Ambient temperature (°C)"),
        ("fuel_rate", "Fuel rate (L/h)"),
    ] {
        let values = column(&entry.file, name);
        let channel = &session["channels"][role];
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let max = values.iter().copied().fold(f64::MIN, f64::max);
        assert_eq!(channel["column"], name);
        assert!(
            (number(&channel["mean"]) - mean).abs() < 1e-9 * mean,
            "{role}"
        );
        assert_eq!(number(&channel["max"]), max, "{role}");
    }
}

#[test]
fn the_second_device_is_brought_onto_the_main_clock() {
    let book = Book::empty();
    let entry = index()
        .into_iter()
        .find(|e| !e.with.is_empty())
        .expect("one session has a second file");
    let answer = book.import(&entry);
    let aligned = &answer["aligned"][0];
    assert_eq!(aligned["file"], entry.with[0].as_str());
    // The simulator set that clock 128.6 s ahead and let it gain 30 ppm. Both speeds are logged
    // every 0.5 s, one in whole km/h: a tenth of a second is what they can tell, at either end of
    // 30 minutes.
    let (offset, drift) = (number(&aligned["offset_s"]), number(&aligned["drift_ppm"]));
    assert!((offset + 128.6).abs() < 0.1, "{offset}");
    assert!((drift - 30.0).abs() < 0.2 / 1800.0 * 1e6, "{drift}");
    assert!(number(&aligned["correlation"]) > 0.999);
    assert!(warned(&answer, "clocks-disagree"));
    // The temperatures come from that file only.
    let coolant = &answer["sessions"][0]["channels"]["coolant"];
    assert_eq!(coolant["column"], "Coolant [°C]");
    assert!(number(&coolant["missing_fraction"]) < 0.01);
    // A reader of the page can check both files: `cat FIRST SECOND | sha256sum`.
    let page = book.folder().join("fit.html");
    book.answer(&["fit", "--html", page.to_str().unwrap()]);
    let page = std::fs::read_to_string(page).unwrap();
    let both = [&entry.file, &entry.with[0]].map(|file| std::fs::read(sample(file)).unwrap());
    let hash: String = (sha2::Sha256::digest(both.concat()).iter())
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let names = format!("{}, then {}", entry.file, entry.with[0]);
    assert!(
        page.contains(&names) && page.contains(&hash),
        "{names}: {hash}"
    );
}

#[test]
fn the_same_bytes_make_no_second_session() {
    let book = Book::empty();
    let entry = &index()[0];
    book.import(entry);
    let again = book.import(entry);
    assert_eq!(again["sessions"][0]["id"], "s1");
    assert_eq!(again["sessions"][0]["duplicate"], true);
    assert!(warned(&again, "duplicate"));
    assert_eq!(list(&book.answer(&["sessions"]), "sessions").len(), 1);
    // A copy under another name is the same session too.
    let copy = book.folder().join("copy.csv");
    std::fs::copy(sample(&entry.file), &copy).unwrap();
    let copied = book.answer(&["import", copy.to_str().unwrap(), "--setup", "other"]);
    assert_eq!(copied["sessions"][0]["setup"], entry.setup.as_str());
    assert_eq!(list(&book.answer(&["sessions"]), "sessions").len(), 1);
}

#[test]
fn an_ambient_that_no_file_has_can_be_given() {
    let fixture = root().join("tests/fixtures/ingest/no_ambient_column.csv");
    let call = ["import", fixture.to_str().unwrap(), "--setup", "stock"];
    let without = Book::empty();
    assert!(warned(&without.answer(&call), "no-ambient"));
    let given = Book::empty();
    let answer = given.answer(&[&call[..], &["--ambient-c", "-3.5"]].concat());
    assert!(!warned(&answer, "no-ambient"));
    let ambient = |book: &Book| book.answer(&["sessions"])["sessions"][0]["ambient_c"].clone();
    assert!(ambient(&without).is_null());
    assert_eq!(ambient(&given), -3.5);
}

#[test]
fn every_fit_answers_or_says_why() {
    let book = Book::of_sample_logs();
    let fits = book.answer(&["fit"]);
    assert_eq!(list(&fits, "sessions").len(), 8);
    for fit in list(&fits, "sessions") {
        assert_eq!(fit["assessable"], true, "{}", fit["why"]);
        assert!(number(&fit["open_s"]) > 600.0, "{}", fit["open_s"]);
        let (ua, relative) = (&fit["ua_w_per_k"], &fit["ua_relative"]);
        assert!(number(&ua["estimate"]) > 0.0);
        assert!(holds(ua, number(&ua["estimate"])));
        assert!(holds(relative, number(&relative["estimate"])));
        // The scale is not known as well as the session against another one.
        let width = |e: &Value| (number(&e["high"]) - number(&e["low"])) / number(&e["estimate"]);
        assert!(width(ua) > width(relative));
    }
    // One session by its name is the same as among all.
    let one = book.answer(&["fit", "s3"]);
    assert_eq!(one["sessions"][0], fits["sessions"][2]);
}

#[test]
fn the_comparison_finds_what_the_simulator_put_in() {
    let book = Book::of_sample_logs();
    let truth = truth();
    let ambient = truth.reference_ambient_c.to_string();
    let answer = book.answer(&[&COMPARE[..], &["--ambient-c", &ambient]].concat());
    assert_eq!(answer["verdict"], "improved");
    assert!(holds(&answer["coolant_change_k"], truth.mean_change_k));
    assert!(holds(&answer["conductance_ratio"], truth.conductance_ratio));
    assert_eq!(answer["before"]["days"], 2);
    assert_eq!(list(&answer["after"], "sessions").len(), 4);
    assert_eq!(answer["threshold_k"], 0.5);
    assert_eq!(answer["reference"]["ambient_c"], truth.reference_ambient_c);
    // Nothing was changed within a setup.
    for placebo in list(&answer, "placebo") {
        assert!(holds(&placebo["coolant_change_k"], 0.0), "{placebo:#}");
    }
    // The plain tests on the conductance hold it too, and both days do.
    let plain = list(&answer, "plain");
    for test in plain
        .iter()
        .filter(|t| t["name"].as_str().unwrap().starts_with("conductance"))
    {
        assert!(
            holds(&test["coolant_change_k"], truth.mean_change_k),
            "{test:#}"
        );
        // Two days make one degree of freedom: by them alone nothing is shown.
        let over_days = test["name"].as_str().unwrap().ends_with("over days");
        assert!(over_days || number(&test["p"]) < 0.05, "{test:#}");
    }
    assert_eq!(plain.len(), 5);
    let by_day = &answer["by_day"];
    let days: Vec<&Value> = list(by_day, "days").iter().map(|d| &d["day"]).collect();
    assert_eq!(days, ["2031-05-17", "2031-05-24"]);
    // The logs are one draw: of the second day alone the interval misses the truth by 0.04 K.
    let held = |day: &&Value| holds(&day["coolant_change_k"], truth.mean_change_k);
    assert_eq!(list(by_day, "days").iter().filter(held).count(), 1);
    assert!(holds(&by_day["coolant_change_k"], truth.mean_change_k));
    assert!(!warned(&answer, "days-disagree"));
    // The other way round is the other sign.
    let back = [
        "compare",
        "--before",
        "sealed-ducts",
        "--after",
        "open-ducts",
    ];
    let back = book.answer(&[&back[..], &["--ambient-c", &ambient]].concat());
    assert_eq!(back["verdict"], "worsened");
    assert!(holds(&back["coolant_change_k"], -truth.mean_change_k));
    // What is larger than the change makes it one of no weight.
    let wide = book.answer(&[&COMPARE[..], &["--threshold-k", "6"]].concat());
    assert_eq!(wide["verdict"], "no_practical_change");
}

#[test]
fn a_look_is_counted_once_for_the_same_sessions() {
    let book = Book::of_sample_logs();
    assert_eq!(book.answer(&COMPARE)["looks"], 1);
    assert_eq!(book.answer(&COMPARE)["looks"], 1);
    book.answer(&["amend", "s8", "--exclude", "rain"]);
    assert_eq!(book.answer(&COMPARE)["looks"], 2);
}

#[test]
fn an_excluded_session_changes_the_comparison_and_comes_back_unchanged() {
    let book = Book::of_sample_logs();
    let all = book.answer(&COMPARE);
    book.answer(&["amend", "s4", "--exclude", "hose came off"]);
    let less = book.answer(&COMPARE);
    let left = &less["before"]["left_out"];
    assert_eq!(left[0]["id"], "s4");
    assert!(left[0]["why"].as_str().unwrap().contains("hose came off"));
    assert_eq!(list(&less["before"], "sessions").len(), 3);
    let estimate = |answer: &Value| number(&answer["coolant_change_k"]["estimate"]);
    assert!((estimate(&less) - estimate(&all)).abs() > 0.01);
    book.answer(&["amend", "s4", "--include"]);
    let again = book.answer(&COMPARE);
    assert_eq!(again["coolant_change_k"], all["coolant_change_k"]);
    assert_eq!(again["before"], all["before"]);
}

#[test]
fn a_correction_is_made_and_the_old_value_kept() {
    let book = Book::empty();
    for entry in &index()[..2] {
        book.import(entry);
    }
    let change = [
        "--setup",
        "taped",
        "--start",
        "2031-06-01T08:15",
        "--driver",
        "B",
    ];
    book.answer(&[&["amend", "s1", "s2"][..], &change].concat());
    for session in list(&book.answer(&["sessions"]), "sessions") {
        assert_eq!(session["setup"], "taped");
        assert_eq!(session["day"], "2031-06-01");
        assert_eq!(session["start"], "2031-06-01T08:15:00");
        assert_eq!(session["driver"], "B");
    }
    let history = book.answer(&["history", "s1"]);
    let of = |field: &str| {
        let line = list(&history, "changes")
            .iter()
            .find(|c| c["field"] == field);
        line.map(|c| (c["old"].clone(), c["new"].clone()))
            .unwrap_or_else(|| panic!("{field}: {history:#}"))
    };
    assert_eq!(of("setup"), ("open-ducts".into(), "taped".into()));
    assert_eq!(of("day"), ("2031-05-17".into(), "2031-06-01".into()));
    assert_eq!(of("driver"), (Value::Null, "B".into()));
    assert!(of("start").0.as_str().unwrap().starts_with("2031-05-17"));
    // Nobody but s1 and s2 is in the whole history, and both imports are.
    let whole = book.answer(&["history"]);
    let imported = list(&whole, "changes")
        .iter()
        .filter(|c| c["field"] == "imported");
    assert_eq!(imported.count(), 2);
}

/// A wrong id among good ones: nothing of the call is done.
#[test]
fn a_correction_is_made_for_all_or_for_none() {
    let book = Book::empty();
    book.import(&index()[0]);
    let (code, _) = json(&book.dir(), &["amend", "s1", "s9", "--setup", "taped"]);
    assert_eq!(code, 2);
    let listed = book.answer(&["sessions"]);
    assert_eq!(listed["sessions"][0]["setup"], "open-ducts");
}

#[test]
fn limits_count_what_the_file_shows() {
    let book = Book::empty();
    let entry = &index()[0];
    book.import(entry);
    let coolant = column(&entry.file, "Coolant temperature (°C)");
    let peak = coolant.iter().copied().fold(f64::MIN, f64::max);
    // The file has a row every 0.5 s.
    let seconds = |from: f64| 0.5 * coolant.iter().filter(|c| **c >= from).count() as f64;
    let limit = peak - 1.0;
    let limit_text = limit.to_string();
    let call = ["limits", "--limit-c", &limit_text, "--margin-k", "3"];
    let answer = book.answer(&call);
    let session = &answer["sessions"][0];
    assert_eq!(number(&session["peak_c"]), peak);
    assert_eq!(number(&session["closest_k"]), -1.0);
    assert_eq!(session["state"], "exceeded");
    assert!((number(&session["seconds_over"]) - seconds(limit)).abs() <= 1.0);
    let near = number(&session["seconds_within_margin"]);
    assert!((near - seconds(limit - 3.0)).abs() <= 1.0, "{near}");
}

#[test]
fn a_condition_asked_for_is_the_exit_code() {
    let book = Book::empty();
    let entry = &index()[0];
    book.import(entry);
    let peak = column(&entry.file, "Coolant temperature (°C)")
        .into_iter()
        .fold(f64::MIN, f64::max);
    let code = |above_peak: f64, condition: &str| {
        let limit = (peak + above_peak).to_string();
        let call = [
            "limits",
            "--margin-k",
            "5",
            "--limit-c",
            &limit,
            "--fail-on",
            condition,
        ];
        json(&book.dir(), &call).0
    };
    assert_eq!(code(20.0, "approached"), 0);
    assert_eq!(code(3.0, "approached"), 3);
    assert_eq!(code(3.0, "exceeded"), 0);
    assert_eq!(code(0.0, "exceeded"), 3);
    assert_eq!(code(0.0, "approached"), 3);
    // Without the condition the same finding is an answer.
    let limit = (peak - 2.0).to_string();
    assert_eq!(json(&book.dir(), &["limits", "--limit-c", &limit]).0, 0);
}

/// Words for people go to stderr; a pipe gets one document.
#[test]
fn with_json_nothing_else_is_on_stdout() {
    let book = Book::of_sample_logs();
    let page = book.folder().join("page.html");
    let page = page.to_str().unwrap();
    let log = sample("0524_1230_sealed.csv");
    for call in [
        &["inspect", log.to_str().unwrap()][..],
        &["import", log.to_str().unwrap(), "--setup", "x"],
        &["fit", "--html", page],
        &["limits", "--html", page],
        &["season", "--html", page],
        &[&COMPARE[..], &["--html", page]].concat(),
        &["amend", "s1", "--note", "x"],
        &["history"],
        &["demo", "--out", book.folder().to_str().unwrap()],
    ] {
        let answer = book.answer(call);
        assert!(answer["warnings"].is_array(), "{call:?}");
        // Without it the same call speaks words.
        let (code, words, _) = run(&book.dir(), call);
        assert_eq!(code, 0, "{call:?}");
        assert!(serde_json::from_str::<Value>(&words).is_err() && !words.is_empty());
    }
}

/// What the terminal shows, held word for word.
#[test]
fn the_words_of_the_verbs() {
    let book = Book::of_sample_logs();
    let mut text = String::new();
    let plan = [
        "plan",
        "--effect-k",
        "1",
        "--before",
        "open-ducts",
        "--after",
        "sealed-ducts",
    ];
    for call in [
        &["sessions"][..],
        &["fit"],
        &COMPARE,
        &plan,
        &["limits"],
        &["season"],
    ] {
        let (code, stdout, stderr) = run(&book.dir(), call);
        assert_eq!(code, 0, "{call:?}");
        text += &format!(
            "$ heatbook {}\n{stdout}--- stderr\n{stderr}\n",
            call.join(" ")
        );
    }
    insta::assert_snapshot!("the_words_of_the_verbs", text);
}

/// A plan that is kept: a look at another number of sessions is said to be unplanned.
#[test]
fn a_look_ahead_of_the_plan_is_said() {
    let book = Book::of_sample_logs();
    let setups = ["--before", "open-ducts", "--after", "sealed-ducts"];
    let plan = |days: &str| {
        let call = [
            &["plan", "--effect-k", "1", "--days", days, "--keep"][..],
            &setups,
        ]
        .concat();
        book.answer(&call)
    };
    let six = plan("3");
    assert_eq!(six["sessions_per_setup"], serde_json::json!([6, 6]));
    assert!(warned(&book.answer(&COMPARE), "ahead-of-plan"));
    plan("2");
    let planned = book.answer(&COMPARE);
    assert!(!warned(&planned, "ahead-of-plan") && !warned(&planned, "beyond-plan"));
    plan("1");
    assert!(warned(&book.answer(&COMPARE), "beyond-plan"));
}

/// Several setups against one: each interval is wider than alone, so that they hold together.
#[test]
fn several_setups_hold_their_level_together() {
    let book = Book::of_sample_logs();
    let alone = book.answer(&COMPARE);
    let (code, ..) = run(&book.dir(), &["amend", "s6", "--setup", "taped-ducts"]);
    assert_eq!(code, 0);
    let pair = book.answer(&COMPARE);
    let several = book.answer(&[&COMPARE[..], &["--after", "taped-ducts"]].concat());
    let both = list(&several, "comparisons");
    assert_eq!(both.len(), 2);
    let width =
        |c: &Value| number(&c["coolant_change_k"]["high"]) - number(&c["coolant_change_k"]["low"]);
    assert!(
        width(&both[0]) > width(&pair),
        "{} {}",
        width(&both[0]),
        width(&pair)
    );
    assert!(
        width(&both[1]) > width(&both[0]),
        "one session is told less surely than three"
    );
    let [first, second] = [&both[0]["reference"], &both[1]["reference"]];
    assert_eq!(first, second, "one drive at one ambient for all");
    assert!(
        first["drive"]
            .as_str()
            .unwrap()
            .contains("for all setups compared"),
        "{first}"
    );
    let page = book.dir().with_file_name("all.html");
    let pages = ["--after", "taped-ducts", "--html", page.to_str().unwrap()];
    let (code, ..) = run(&book.dir(), &[&COMPARE[..], &pages].concat());
    assert_eq!(code, 0);
    let page = std::fs::read_to_string(page.with_file_name("all-sealed-ducts.html")).unwrap();
    assert!(
        page.contains("href=\"all-taped-ducts.html\""),
        "each page leads to the others"
    );
    assert!(number(&alone["coolant_change_k"]["estimate"]) < 0.0);
}

/// The answer with the sessions that were set aside stands beside the answer without.
#[test]
fn an_exclusion_is_shown_with_what_it_changes() {
    let book = Book::of_sample_logs();
    let whole = book.answer(&COMPARE);
    assert!(whole["with_excluded"].is_null());
    let (code, ..) = run(&book.dir(), &["amend", "s5", "--exclude", "hose came off"]);
    assert_eq!(code, 0);
    let less = book.answer(&COMPARE);
    let lifted = &less["with_excluded"];
    assert_eq!(lifted["sessions"], serde_json::json!(["s5"]));
    assert_eq!(
        lifted["coolant_change_k"]["estimate"],
        whole["coolant_change_k"]["estimate"]
    );
    assert_ne!(
        less["coolant_change_k"]["estimate"],
        whole["coolant_change_k"]["estimate"]
    );
}

/// The drive can be named, and one that is not used is said.
#[test]
fn the_reference_drive_can_be_set() {
    let book = Book::of_sample_logs();
    let driven = book.answer(&[&COMPARE[..], &["--drive", "s5"]].concat());
    let drive = driven["reference"]["drive"].as_str().unwrap();
    assert!(drive.starts_with("longest stint of s5 "), "{drive}");
    let (code, _, stderr) = run(&book.dir(), &[&COMPARE[..], &["--drive", "s99"]].concat());
    assert_eq!(code, 2);
    assert!(stderr.contains("no session `s99`"), "{stderr}");
}

/// One day a setup: nothing alone; with a stated scatter of days an interval that says so.
#[test]
fn a_stated_scatter_of_days_gives_an_interval() {
    let book = Book::of_sample_logs();
    // Sealed ducts leave the first day, open ducts the second.
    for id in ["s2", "s3", "s5", "s8"] {
        let (code, ..) = run(&book.dir(), &["amend", id, "--exclude", "test"]);
        assert_eq!(code, 0, "{id}");
    }
    let bare = book.answer(&COMPARE);
    assert!(bare["coolant_change_k"]["estimate"].is_null());
    assert!(warned(&bare, "days-confounded"));
    let stated = |scatter_k| {
        let answer = book.answer(&[&COMPARE[..], &["--day-scatter-k", scatter_k]].concat());
        let change = answer["coolant_change_k"].clone();
        assert!(change["alone"].is_null());
        assert!(change["method"].as_str().unwrap().contains("as stated"));
        number(&change["high"]) - number(&change["low"])
    };
    let (little, much) = (stated("0.2"), stated("2"));
    // Two days a difference, 1.96 √2 · 2 K each way, and the sessions' part on top.
    assert!(little < much && much > 2.0 * 1.96 * 2.0_f64.sqrt() * 2.0 * 0.9);
}

#[test]
fn completions_and_pages_know_every_verb() {
    let folder = tempfile::tempdir().unwrap();
    let to = folder.path().join("made");
    let (code, answer) = json(
        &folder.path().join("book"),
        &["install-files", to.to_str().unwrap()],
    );
    assert_eq!(code, 0);
    let files = answer["files"].as_array().unwrap();
    for file in files {
        let text = std::fs::read_to_string(file.as_str().unwrap()).unwrap();
        assert!(text.contains("heatbook"), "{file}");
    }
    let completion = to.join("completions/heatbook.bash");
    let checked = std::process::Command::new("bash")
        .arg("-n")
        .arg(&completion)
        .status();
    assert!(checked.is_ok_and(|status| status.success()));
    let bash = std::fs::read_to_string(completion).unwrap();
    for verb in [
        "import",
        "verify",
        "backup",
        "export",
        "season",
        "install-files",
    ] {
        assert!(bash.contains(verb), "{verb}");
        let page = to.join(format!("man/heatbook-{verb}.1"));
        assert!(
            std::fs::read_to_string(page)
                .unwrap()
                .contains(".SH SYNOPSIS"),
            "{verb}"
        );
    }
    // Nothing of it needs a book, and none is made.
    assert!(!folder.path().join("book").exists());
}

/// Each row of the sensitivity is the comparison that the flags would have made.
#[test]
fn sensitivity_is_the_comparison_run_again_and_stands_in_the_tables() {
    let book = Book::of_sample_logs();
    let tables = book.folder().join("tables");
    let csv = ["--csv", tables.to_str().unwrap()];
    let answer = book.answer(&[&COMPARE[..], &["--ambient-c", "20"], &csv].concat());
    let rerun = |instead: &str| {
        let rows = list(&answer, "sensitivity").iter();
        let mut found = rows.filter(|row| row["instead"] == instead);
        found
            .next()
            .unwrap_or_else(|| panic!("no row `{instead}`"))
            .clone()
    };
    for (instead, flags) in [
        ("30.0 °C", ["--ambient-c", "30"]),
        ("1.00 K", ["--threshold-k", "1"]),
    ] {
        let ambient: &[&str] = if flags[0] == "--ambient-c" {
            &[]
        } else {
            &["--ambient-c", "20"]
        };
        let direct = book.answer(&[&COMPARE[..], &flags, ambient].concat());
        let row = rerun(instead);
        assert_eq!(
            row["coolant_change_k"]["estimate"],
            direct["coolant_change_k"]["estimate"]
        );
        assert_eq!(
            row["coolant_change_k"]["low"],
            direct["coolant_change_k"]["low"]
        );
        assert_eq!(row["verdict"], direct["verdict"]);
    }
    // Another heat input is another answer; its scale hardly matters, for it cancels.
    let change = number(&answer["coolant_change_k"]["estimate"]);
    let throttle =
        number(&rerun("from throttle times engine speed")["coolant_change_k"]["estimate"]);
    let larger = number(&rerun("35 % larger throughout")["coolant_change_k"]["estimate"]);
    assert!((throttle - change).abs() > 0.01 && (larger - change).abs() < 0.1);
    let written = |name: &str| std::fs::read_to_string(tables.join(name)).unwrap();
    let first = written("sensitivity.csv")
        .lines()
        .next()
        .unwrap()
        .to_owned();
    assert!(
        first.starts_with("assumption,instead,verdict,coolant_change_k.estimate"),
        "{first}"
    );
    assert!(written("curves.csv").starts_with("ambient_c,before.estimate"));
    assert_eq!(
        written("sessions_used.csv").lines().count(),
        1 + list(&answer["before"], "sessions").len() + list(&answer["after"], "sessions").len()
    );
    assert!(written("trace.csv").lines().count() > 1000);
    // A bar for each of 30 lags of a session, and none larger than the series itself.
    let bars = written("autocorrelation.csv");
    let mut reader = csv::Reader::from_reader(bars.as_bytes());
    let bars: Vec<f64> = (reader.records())
        .map(|row| row.unwrap()[2].parse().unwrap())
        .collect();
    assert!(
        !bars.is_empty() && bars.len().is_multiple_of(30),
        "{}",
        bars.len()
    );
    assert!(bars.iter().all(|r| r.abs() <= 1.0));
    // Without page or tables nothing is run again.
    assert!(book.answer(&COMPARE)["sensitivity"].is_null());
}
