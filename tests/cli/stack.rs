//! `heatbook stack` on the sample sheet: what it says, and how it goes on into `plan` and `compare`.

use serde_json::Value;

use super::book::Book;
use super::{json, run, sample};

fn sheet() -> String {
    sample("stack.toml").to_str().unwrap().to_owned()
}

fn car() -> String {
    sample("car.toml").to_str().unwrap().to_owned()
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

fn computed(more: &[&str]) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let (sheet, car) = (sheet(), car());
    let call = [&["stack", &sheet, "--car", &car][..], more].concat();
    let (code, answer) = json(folder.path(), &call);
    assert_eq!(code, 0, "{answer:#}");
    // A sheet needs no book, and none is made.
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    answer
}

/// Sealing cools, a larger charge-air cooler costs coolant temperature and cools the charge air.
#[test]
fn the_what_ifs_have_the_sense_that_physics_gives_them() {
    let answer = computed(&[]);
    let [sealed, larger] = [0, 1].map(|i| &answer["changes"][i]);
    assert!(number(&sealed["coolant_change_k"]["high"]) < 0.0);
    assert!(number(&larger["coolant_change_k"]["low"]) > 0.0);
    assert!(number(&larger["charge_air_change_k"]["high"]) < 0.0);
    assert_eq!(sealed["what_if"], "sealed-ducts");
    // What matters most to sealing is how much leaked.
    assert_eq!(sealed["influences"][0]["input"], "air.leakage");
    for exchanger in answer["stacks"][0]["exchangers"].as_array().unwrap() {
        assert!(number(&exchanger["grid_step_k"]) < 0.02, "{exchanger:#}");
    }
}

/// Coolant held at the temperature at which it settles: the radiator rejects the engine's heat.
#[test]
fn heat_in_and_temperature_in_agree() {
    let radiator = |answer: &Value| answer["stacks"][0]["exchangers"][1].clone();
    let settled = radiator(&computed(&[]));
    let held = computed(&["--coolant-c", &settled["in_c"]["estimate"].to_string()]);
    let (a, b) = (
        number(&settled["heat_w"]["estimate"]),
        number(&radiator(&held)["heat_w"]["estimate"]),
    );
    assert!((a / b - 1.0).abs() < 1e-9, "{a} {b}");
    assert!(held["sweep"].as_array().unwrap().is_empty());
    // With the heat given its interval is the engine's own: 95 to 178 of 126 kW at full load.
    let heat = |end: &str| number(&settled["heat_w"][end]) / a;
    assert!((heat("low") - 0.75).abs() < 1e-6 && (heat("high") - 0.85 / 0.6).abs() < 1e-6);
}

/// The flags move the working point, and the sweep holds the same figures there.
#[test]
fn flags_and_sweep_agree() {
    let answer = computed(&["--ambient-c", "30", "--load", "0.8"]);
    let sweep = answer["sweep"].as_array().unwrap();
    let point = sweep
        .iter()
        .find(|p| p["ambient_c"] == 30.0 && p["load"] == 0.8)
        .unwrap();
    let settled = number(&answer["stacks"][0]["exchangers"][1]["in_c"]["estimate"]);
    let swept = number(&point["stacks"][0]["coolant_c"]["estimate"]);
    // The sweep is on a coarser grid.
    assert!((settled - swept).abs() < 0.1, "{settled} {swept}");
}

/// The printed command plans the test.
#[test]
fn the_plan_can_be_typed() {
    let answer = computed(&[]);
    let plan = answer["changes"][0]["plan"].as_str().unwrap();
    let words: Vec<&str> = plan.split(' ').skip(1).collect();
    let folder = tempfile::tempdir().unwrap();
    let (code, planned) = json(&folder.path().join("book"), &words);
    assert_eq!(code, 0, "{planned:#}");
    let change = number(&answer["changes"][0]["coolant_change_k"]["estimate"]);
    assert!((number(&planned["effect_k"]) + change).abs() < 0.01);
    assert_eq!(planned["after"], "sealed-ducts");
}

/// With the book the radiator is the one of the fits, and a comparison sets the prediction beside its own
/// answer without a change of it.
#[test]
fn from_the_book_and_back_to_it() {
    let book = Book::of_sample_logs();
    let sheet = sheet();
    let answer = book.answer(&["stack", &sheet, "--setup", "open-ducts"]);
    let from = &answer["radiator_ua_from"];
    assert_eq!(from["sessions"].as_array().unwrap().len(), 4);
    let effective = number(&from["effective_w_per_k"]["estimate"]);
    // The core alone is worth more than the car makes of it.
    assert!(number(&from["radiator_ua_w_per_k"]["estimate"]) > effective);
    let assumed = answer["warnings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|w| w["id"] == "assumed-inputs")
        .unwrap();
    assert!(!assumed["message"].as_str().unwrap().contains("radiator.ua"));

    let compare = [
        "compare",
        "--before",
        "open-ducts",
        "--after",
        "sealed-ducts",
    ];
    let mut plain = book.answer(&compare);
    let mut beside = book.answer(&[&compare[..], &["--predicted-k", "-9..-0.3"]].concat());
    let predicted = beside.as_object_mut().unwrap().remove("predicted").unwrap();
    assert_eq!(
        predicted,
        serde_json::json!({"low_k": -9.0, "high_k": -0.3, "agreement": "overlap"})
    );
    assert!(
        plain
            .as_object_mut()
            .unwrap()
            .remove("predicted")
            .unwrap()
            .is_null()
    );
    assert_eq!(plain, beside);
    let page = book.folder().join("page.html");
    let apart = book.answer(
        &[
            &compare[..],
            &["--predicted-k", "1..2", "--html", page.to_str().unwrap()],
        ]
        .concat(),
    );
    assert_eq!(apart["predicted"]["agreement"], "apart");
    assert_eq!(apart["verdict"], plain["verdict"]);
    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.contains("Predicted before the test") && page.contains("--predicted-k 1..2"));
}

/// The same call gives the same page; names in a sheet are shown as text.
#[test]
fn the_page_is_whole() {
    let folder = tempfile::tempdir().unwrap();
    let evil = "<script>document.title='run'</script>";
    let text = std::fs::read_to_string(sample("stack.toml")).unwrap();
    let text = text.replace("\"larger charge-air cooler\"", &format!("\"{evil}\""));
    let sheet = folder.path().join("stack.toml");
    std::fs::write(&sheet, text).unwrap();
    let page = |name: &str| {
        let page = folder.path().join(name);
        let call = [
            "stack",
            sheet.to_str().unwrap(),
            "--html",
            page.to_str().unwrap(),
        ];
        let (code, _, stderr) = run(folder.path(), &call);
        assert_eq!(code, 0, "{stderr}");
        std::fs::read_to_string(page).unwrap()
    };
    let first = page("a.html");
    assert_eq!(first, page("b.html"));
    assert!(!first.contains(evil));
    for words in [
        "prediction and no measurement",
        "Never open a cap",
        "air heats the fluid",
        "sealed-ducts",
    ] {
        assert!(first.contains(words), "no `{words}`");
    }
}

/// The maps of the page stand in the tables: each cell of each exchanger, those heated by the air
/// marked.
#[test]
fn the_maps_stand_in_the_tables() {
    let folder = tempfile::tempdir().unwrap();
    let tables = folder.path().join("tables");
    let answer = computed(&["--csv", tables.to_str().unwrap()]);
    let mut reader = csv::Reader::from_path(tables.join("maps.csv")).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    for stack in answer["stacks"].as_array().unwrap() {
        for exchanger in stack["exchangers"].as_array().unwrap() {
            let own = (rows.iter())
                .filter(|r| stack["name"] == r[0] && exchanger["name"] == r[1])
                .collect::<Vec<_>>();
            assert_eq!(exchanger["cells"], own.len(), "{exchanger:#}");
            let heated = own.iter().filter(|r| &r[7] == "true").count();
            assert_eq!(exchanger["cells_heated_by_air"], heated, "{exchanger:#}");
        }
    }
}
