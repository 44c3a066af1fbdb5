//! What a wrong call or a bad file says: exit code, stdout and stderr, each as a snapshot in
//! `snapshots/`. After a change that is meant: `INSTA_UPDATE=always cargo test --release --test
//! cli`, then read what changed.

use std::path::Path;
use std::sync::LazyLock;

use super::{json, run, sample};

/// Rows that import, with every column that is needed.
static LOG: LazyLock<String> = LazyLock::new(|| {
    let row = |i: u32| format!("{i},{},{},20\n", 80 + i / 5, 10 + 2 * (i % 9));
    let head = "time_s,coolant_c,speed_kmh,ambient_c\n".to_owned();
    head + &(0..90).map(row).collect::<String>()
});

/// A fresh folder with files in it; calls run on the book `book` of that folder.
struct Case(tempfile::TempDir);

impl Case {
    fn new(files: &[(&str, &[u8])]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        for (name, bytes) in files {
            std::fs::write(folder.path().join(name), bytes).unwrap();
        }
        Self(folder)
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    /// Exit code, stdout and stderr of a call; `DIR/` in an argument is this folder.
    fn says(&self, call: &str) -> String {
        let folder = self.path().to_str().unwrap();
        let arguments: Vec<String> = call
            .split(' ')
            .map(|word| word.replace("DIR", folder).replace('~', " "))
            .collect();
        let (code, stdout, stderr) = run(&self.path().join("book"), &arguments);
        format!("heatbook {call}\nexit {code}\n--- stdout\n{stdout}--- stderr\n{stderr}")
            .replace(folder, "DIR")
    }
}

/// Ninety rows, nine of them with a coolant temperature.
fn hardly_any_coolant() -> Vec<u8> {
    let row = |i: u32| match i % 10 {
        0 => format!("{i},80,10,20\n"),
        _ => format!("{i},-,12,20\n"),
    };
    let head = "time_s,coolant_c,speed_kmh,ambient_c\n".to_owned();
    (head + &(0..90).map(row).collect::<String>()).into_bytes()
}

/// What importing a file of these bytes says.
fn import(bytes: &[u8]) -> String {
    Case::new(&[("log.csv", bytes)]).says("import DIR/log.csv --setup stock")
}

/// What importing a good file with this car sheet says.
fn car(sheet: &str) -> String {
    Case::new(&[("log.csv", LOG.as_bytes()), ("car.toml", sheet.as_bytes())])
        .says("import DIR/log.csv --setup stock --car DIR/car.toml")
}

/// What computing a stack sheet of this text says.
fn stack(sheet: &str) -> String {
    Case::new(&[("stack.toml", sheet.as_bytes())]).says("stack DIR/stack.toml")
}

macro_rules! snapshots {
    ($( $(#[$doc:meta])* $name:ident: $said:expr; )*) => { $(
        $(#[$doc])*
        #[test]
        fn $name() {
            insta::assert_snapshot!(stringify!($name), $said);
        }
    )* };
}

snapshots! {
    file_not_there: Case::new(&[]).says("import DIR/nowhere.csv --setup stock");
    file_not_there_json: Case::new(&[]).says("--json import DIR/nowhere.csv --setup stock");
    empty_file: import(b"");
    /// A log of five rows.
    five_rows: import(LOG.lines().take(6).map(|line| format!("{line}\n")).collect::<String>().as_bytes());
    /// A long log of which a handful of rows can be read.
    hardly_a_row_with_a_coolant: import(&hardly_any_coolant());
    zip_archive: import(b"PK\x03\x04\x14\x00");
    nothing_like_a_coolant_column: import(b"time_s,speed_kmh,q\n0,1,80\n1,2,81\n2,3,82\n");
    nothing_like_a_clock: import(b"coolant_c,speed_kmh\n80,1\n81,2\n80,3\n");
    date_order_that_is_none: Case::new(&[("a.csv", LOG.as_bytes())])
        .says("import DIR/a.csv --setup stock --date-order year-last");
    day_of_the_year_0: Case::new(&[("a.csv", LOG.as_bytes())])
        .says("import DIR/a.csv --setup stock --day 0000-05-17");
    misspelt_key_in_a_profile: Case::new(&[("a.csv", LOG.as_bytes()), ("p.toml", b"maps = []\n")])
        .says("import DIR/a.csv --setup stock --profile DIR/p.toml");
    /// The first bytes of a picture.
    binary_file: import(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x01\x00\x00\x00\x01\x00\x08\x06");
    no_coolant_column: import(b"time_s,speed_kmh,T1\n0,1,80\n1,2,81\n2,3,82\n");
    no_speed_column: import(b"time_s,coolant_c,v\n0,80,1\n1,81,2\n2,82,3\n");
    no_time_column: import(b"coolant_c,speed_kmh,n\n80,1,a\n81,2,a\n82,3,a\n");
    /// Decimal commas with a comma between columns.
    ragged_file: import(b"time_s,coolant_c,speed_kmh\n0,5,80,5,10,2\n1,0,81,0,12,4\n1,5,82,1,14,7\n");
    clock_that_stands_still: import(b"time_s,coolant_c,speed_kmh\n7,80,10\n7,81,12\n7,82,14\n");
    unit_in_the_header_cannot_be: import(b"time_s,coolant [kPa],speed_kmh\n0,80,10\n1,81,12\n2,82,14\n");
    unit_in_a_map_cannot_be: Case::new(&[("log.csv", LOG.as_bytes())])
        .says("import DIR/log.csv --setup stock --map coolant=coolant_c:kPa");
    role_in_a_map_is_unknown: Case::new(&[("log.csv", LOG.as_bytes())])
        .says("import DIR/log.csv --setup stock --map coolent=coolant_c");
    column_in_a_map_is_not_there: Case::new(&[("log.csv", LOG.as_bytes())])
        .says("import DIR/log.csv --setup stock --map coolant=coolant_x");
    misspelt_key_in_a_car_sheet: car("mass_kg = 1320\ncoolant_litres = 7\n");
    key_in_a_car_sheet_unlike_any: car("wheels = 4\n");
    setup_sheet_of_another_setup: Case::new(&[("a.csv", LOG.as_bytes()), ("alt.toml", b"name = \"alt\"\n")])
        .says("import DIR/a.csv --setup neu --setup-sheet DIR/alt.toml");
    value_in_a_car_sheet_cannot_be: car("mass_kg = -3\n");
    text_in_a_car_sheet_where_a_number_belongs: car("mass_kg = \"heavy\"\n");
    day_for_two_files: Case::new(&[("a.csv", LOG.as_bytes()), ("b.csv", LOG.as_bytes())])
        .says("import DIR/a.csv DIR/b.csv --setup stock --day 2031-05-17");
    day_that_is_none: Case::new(&[("a.csv", LOG.as_bytes())])
        .says("import DIR/a.csv --setup stock --day 17.05.2031");
    no_setup_named: Case::new(&[("a.csv", LOG.as_bytes())]).says("import DIR/a.csv");
    every_file_is_bad: Case::new(&[("a.csv", b""), ("b.csv", b"")])
        .says("import DIR/a.csv DIR/b.csv --setup stock");
    no_book: Case::new(&[]).says("sessions");
    no_book_json: Case::new(&[]).says("--json sessions");
    wrong_call_json: Case::new(&[]).says("--json compare --before stock");
    unknown_verb: Case::new(&[]).says("campare");
    misspelt_key_in_a_stack_sheet: stack("[air]\nleekage = 0.1\n[[exchanger]]\nkind = \"radiator\"\n");
    misspelt_section_of_a_stack_sheet: stack("[airs]\nleakage = 0.1\n");
    misspelt_kind_of_exchanger: stack("[[exchanger]]\nkind = \"radiater\"\n");
    way_of_a_fluid_that_is_none: stack("[[exchanger]]\nkind = \"radiator\"\nflow = \"left to rigth\"\n");
    stack_without_exchangers: stack("[air]\nleakage = 0.1\n");
    two_radiators: stack("[[exchanger]]\nkind = \"radiator\"\n[[exchanger]]\nkind = \"radiator\"\nname = \"second\"\n");
    interval_beside_its_value: stack("[air]\nleakage = { value = 0.3, low = 0.1, high = 0.2 }\n");
    value_in_a_stack_sheet_cannot_be: stack("[air]\nleakage = 1.2\n");
    what_if_of_another_exchanger: stack("[[exchanger]]\nkind = \"radiator\"\n[[what_if]]\nname = \"x\"\n[[what_if.exchanger]]\nname = \"radiatr\"\n");
    what_if_without_a_name: stack("[[exchanger]]\nkind = \"radiator\"\n[[what_if]]\nair.leakage = 0.1\n");
    range_that_is_none: Case::new(&[]).says("compare --before a --after b --predicted-k 3");
    channel_that_is_no_temperature: Case::new(&[]).says("limits --channel speed");
}

/// A book with one session of setup `stock`.
fn with_session() -> Case {
    let case = Case::new(&[("log.csv", LOG.as_bytes())]);
    let said = case.says("import DIR/log.csv --setup stock --day 2031-05-17");
    assert!(said.contains("\nexit 0\n"), "{said}");
    case
}

snapshots! {
    unknown_setup: with_session().says("compare --before stok --after stock");
    unknown_setup_unlike_any: with_session().says("compare --before stock --after xyz");
    setup_against_itself: with_session().says("compare --before stock --after stock");
    setup_sheet_of_another_setup_in_amend: {
        let case = with_session();
        std::fs::write(case.path().join("alt.toml"), "name = \"alt\"\n").unwrap();
        case.says("amend s1 --setup-sheet DIR/alt.toml")
    };
    unknown_session: with_session().says("fit s7");
    unknown_session_to_amend: with_session().says("amend s1 s7 --note x");
    nothing_to_amend: with_session().says("amend s1");
    blank_reason_to_exclude: with_session().says("amend s1 --exclude ~");
    season_of_an_unknown_car: with_session().says("season --car none");
    no_session_of_that_day: with_session().says("limits --day 2031-05-18");
    stack_of_a_setup_without_fits: {
        let case = with_session();
        std::fs::write(case.path().join("stack.toml"), "[[exchanger]]\nkind = \"radiator\"\n").unwrap();
        case.says("stack DIR/stack.toml --setup stock")
    };
    page_where_a_file_stands: with_session().says("limits --limit-c 100 --html DIR/log.csv/page.html");
}

/// A book whose schema version is one that this program does not know.
#[test]
fn book_newer_than_the_program() {
    let case = with_session();
    let catalogue = std::fs::read_dir(case.path().join("book"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.extension().is_some_and(|e| e == "sqlite" || e == "db"))
        .expect("the catalogue");
    let sql = rusqlite::Connection::open(catalogue).unwrap();
    sql.pragma_update(None, "user_version", 99).unwrap();
    drop(sql);
    let said = case.says("import DIR/log.csv --setup stock");
    insta::assert_snapshot!("book_newer_than_the_program", said);
    let said = case.says("--json sessions");
    insta::assert_snapshot!("book_newer_than_the_program_json", said);
}

/// The good ones of several files are imported, the bad one is told, and the exit code remembers.
#[test]
fn one_bad_file_of_three() {
    let other = LOG.replace("0,80,10", "0,79,10");
    let case = Case::new(&[
        ("a.csv", LOG.as_bytes()),
        ("bad.csv", b""),
        ("c.csv", other.as_bytes()),
    ]);
    let said = case.says("import DIR/a.csv DIR/bad.csv DIR/c.csv --setup stock");
    insta::assert_snapshot!("one_bad_file_of_three", said);
    let (_, listed) = json(&case.path().join("book"), &["sessions"]);
    assert_eq!(listed["sessions"].as_array().unwrap().len(), 2);
}

/// A failure with `--json` is one document with message and hint, whatever went wrong.
#[test]
fn with_json_a_failure_is_a_document() {
    let case = with_session();
    let book = case.path().join("book");
    let good = sample("0517_0946_open.csv");
    let good = good.to_str().unwrap();
    for call in [
        &["fit", "s7"][..],
        &["compare", "--before", "stok", "--after", "stock"],
        &["compare", "--before", "stock"],
        &["import", "nowhere.csv", "--setup", "stock"],
        &[
            "import",
            good,
            good,
            "--setup",
            "stock",
            "--day",
            "2031-05-17",
        ],
        &["import", good, "--setup", "stock", "--map", "coolent=T1"],
        &["inspect", "nowhere.csv"],
        &["limits", "--setup", "none"],
        &["amend", "s1"],
        &["no-such-verb"],
    ] {
        let (code, answer) = json(&book, call);
        assert_eq!(code, 2, "{call:?}");
        let keys: Vec<&String> = answer.as_object().unwrap().keys().collect();
        assert_eq!(keys, ["error"], "{call:?}");
        for key in ["message", "hint"] {
            let text = answer["error"][key].as_str().unwrap();
            assert!(!text.trim().is_empty(), "{call:?}: no {key}");
        }
    }
    // Nothing of it was done.
    let (_, listed) = json(&book, &["sessions"]);
    assert_eq!(listed["sessions"].as_array().unwrap().len(), 1);
}
