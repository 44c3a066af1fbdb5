//! The example documents are what the program writes, and the schemas can refuse.

use std::collections::BTreeMap;
use std::path::Path;

use schema_check::{
    KINDS, example_path, faults, heatbook, keys, kind_of, must_hold, read, sample_logs,
};
use serde_json::Value;

/// The calls that the examples answer, in their order; the last of a kind is the example.
const CALLS: &[&[&str]] = &[
    &["inspect", "0517_0946_open.csv", "0524_0946_open.csv"],
    &[
        "import",
        "0517_0946_open.csv",
        "0517_1346_open.csv",
        "--setup",
        "open-ducts",
    ],
    &[
        "import",
        "0517_1225_sealed.csv",
        "0524_1230_sealed.csv",
        "--setup",
        "sealed-ducts",
    ],
    &[
        "import",
        "0524_0946_open.csv",
        "--setup",
        "open-ducts",
        "--day",
        "2031-05-24",
    ],
    &[
        "import",
        "0517_1100_sealed.csv",
        "--setup",
        "sealed-ducts",
        "--with",
        "0517_1100_sealed_second.csv",
    ],
    &["sessions"],
    &["fit", "s1", "s5"],
    &[
        "compare",
        "--before",
        "open-ducts",
        "--after",
        "sealed-ducts",
        "--predicted-k",
        "-8.7..-0.3",
    ],
    &["limits", "--day", "2031-05-17"],
    &["season"],
    &["amend", "s1", "--note", "new tyres"],
    &["history", "s1"],
    &["verify"],
    &["backup", "copy"],
    &["export", "tables", "s1", "s5", "--format", "csv"],
    &["sessions", "--ids"],
    &["install-files", "files"],
    &["demo", "--out", "pages"],
    &[
        "plan",
        "--effect-k",
        "1.5",
        "--before",
        "open-ducts",
        "--after",
        "sealed-ducts",
    ],
    &["stack", "stack.toml", "--setup", "open-ducts"],
    &["amend", "s1", "--setup", "bare-ducts"],
    &[
        "compare",
        "--before",
        "open-ducts",
        "--after",
        "sealed-ducts",
        "--after",
        "bare-ducts",
    ],
    &["import", "nowhere.csv", "--setup", "open-ducts"],
];

/// The documents of [`CALLS`] by kind.
fn documents() -> BTreeMap<&'static str, Value> {
    let folder = tempfile::tempdir().unwrap();
    for entry in std::fs::read_dir(sample_logs()).unwrap() {
        let entry = entry.unwrap();
        std::fs::copy(entry.path(), folder.path().join(entry.file_name())).unwrap();
    }
    let mut documents = BTreeMap::new();
    for call in CALLS {
        let mut call = call.to_vec();
        if call[0] == "import" {
            call.extend(["--car", "car.toml"]);
        }
        let answer = heatbook(folder.path(), Path::new("book"), &call);
        let kind = kind_of(&call, answer.code);
        // The amendment only makes a third setup.
        if !call.contains(&"bare-ducts") || kind == "compare_several" {
            documents.insert(kind, answer.document);
        }
    }
    documents
}

#[test]
fn the_examples_have_the_keys_that_the_program_writes() {
    let now = documents();
    for kind in KINDS {
        let path = example_path(kind);
        if std::env::var_os("HEATBOOK_REMAKE_EXAMPLES").is_some() {
            std::fs::write(&path, format!("{:#}\n", now[kind])).unwrap();
        }
        assert!(
            keys(&read(&path)) == keys(&now[kind]),
            "{kind}: the example has other keys than the program writes:\n{:#?}\n\
             remake the examples with HEATBOOK_REMAKE_EXAMPLES=1 and read what changed",
            keys(&read(&path))
                .symmetric_difference(&keys(&now[kind]))
                .collect::<Vec<_>>()
        );
    }
}

#[test]
fn the_examples_keep_the_schemas() {
    for kind in KINDS {
        let text = std::fs::read_to_string(example_path(kind)).unwrap();
        assert!(!text.contains("\"/"), "{kind}: a path of some machine");
        must_hold(kind, &read(&example_path(kind)));
    }
}

/// A schema that refuses nothing would hold anything.
#[test]
fn a_missing_or_an_unknown_key_breaks_the_schema() {
    for kind in KINDS {
        let whole = read(&example_path(kind));
        for key in whole.as_object().unwrap().keys() {
            // A margin is in the answer only where there is one.
            if (kind, key.as_str()) == ("limits", "margin_k") {
                continue;
            }
            let mut less = whole.clone();
            less.as_object_mut().unwrap().remove(key);
            assert!(
                !faults(kind, &less).is_empty(),
                "{kind} without {key} is let through"
            );
        }
        let mut more = whole.clone();
        more["no_such_key"] = 1.into();
        assert!(
            !faults(kind, &more).is_empty(),
            "{kind} with no_such_key is let through"
        );
    }
}

/// The schemas' own promises, each broken once.
#[test]
fn a_made_up_number_breaks_the_schema() {
    let broken = |kind: &str, pointer: &str, value: Value| {
        let mut document = read(&example_path(kind));
        *document.pointer_mut(pointer).unwrap() = value;
        assert!(!faults(kind, &document).is_empty(), "{kind}{pointer}");
    };
    broken("compare", "/verdict", "better".into());
    broken(
        "compare",
        "/coolant_change_k",
        serde_json::json!({"estimate": null}),
    );
    broken("compare", "/coolant_change_k/level", 95.into());
    broken("fit", "/sessions/0/ua_w_per_k/at_speed_kmh", Value::Null);
    broken("fit", "/sessions/0/id", 1.into());
    broken(
        "import",
        "/sessions/0/channels/coolant/unit_from",
        "guess".into(),
    );
    broken("import", "/sessions/0/start", "17.05.2031".into());
    broken("limits", "/sessions/0/state", "fine".into());
    broken("history", "/changes/0/at", "yesterday".into());
    broken("verify", "/sound", "yes".into());
    broken("export", "/format", "xlsx".into());
    broken("session_ids", "/sessions/0", "3".into());
    broken("error", "/error/hint", "".into());
}
