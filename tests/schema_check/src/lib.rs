//! Runs heatbook with `--json`, and holds documents to the schemas in `tests/schemas`.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

/// Every kind of document; the name of its schema and of its example.
pub const KINDS: [&str; 19] = [
    "inspect",
    "import",
    "sessions",
    "fit",
    "compare",
    "compare_several",
    "plan",
    "stack",
    "limits",
    "season",
    "amend",
    "history",
    "verify",
    "backup",
    "export",
    "session_ids",
    "install-files",
    "demo",
    "error",
];

/// The kind of document that a call answers with.
pub fn kind_of<'a>(call: &[&'a str], code: i32) -> &'a str {
    let setups_after = call.iter().filter(|a| **a == "--after").count();
    match (code, call[0]) {
        (2, _) => "error",
        (_, "compare") if setups_after > 1 => "compare_several",
        (_, "sessions") if call.contains(&"--ids") => "session_ids",
        (_, verb) => verb,
    }
}

/// The folder of the repository's tests.
pub fn tests_dir() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("this crate lies in tests")
        .to_owned()
}

/// The folder of the sample logs.
pub fn sample_logs() -> PathBuf {
    tests_dir().with_file_name("sample_logs")
}

/// The program under test: `HEATBOOK_BIN`, else the one that `cargo build --release` makes.
fn program() -> PathBuf {
    let path = std::env::var_os("HEATBOOK_BIN").map_or_else(
        || tests_dir().with_file_name("target/release/heatbook"),
        PathBuf::from,
    );
    assert!(
        path.is_file(),
        "{}: no such file: run `cargo build --release` first, or set HEATBOOK_BIN",
        path.display()
    );
    path
}

/// What a call came to.
pub struct Answer {
    /// The exit code.
    pub code: i32,
    /// The one document on stdout.
    pub document: Value,
}

/// Runs `heatbook --json --book BOOK ARGUMENTS` in `folder`. Fails where stdout holds anything
/// but one document.
pub fn heatbook(folder: &Path, book: &Path, arguments: &[&str]) -> Answer {
    let output = Command::new(program())
        .current_dir(folder)
        .args(["--json", "--book"])
        .arg(book)
        .args(arguments)
        .output()
        .expect("the program starts");
    let stdout = String::from_utf8(output.stdout).expect("UTF-8");
    let document = serde_json::from_str(&stdout).unwrap_or_else(|error| {
        panic!(
            "{arguments:?}: stdout is no single document: {error}\n{stdout}\n{}",
            String::from_utf8_lossy(&output.stderr)
        )
    });
    let code = output.status.code().expect("an exit code");
    Answer { code, document }
}

/// A JSON file of the tests.
pub fn read(path: &Path) -> Value {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// The example document of a kind.
pub fn example_path(kind: &str) -> PathBuf {
    tests_dir().join(format!("schemas/examples/{kind}.json"))
}

/// Where `document` breaks the schema of `kind`; empty when it keeps it.
pub fn faults(kind: &str, document: &Value) -> Vec<String> {
    let schema = read(&tests_dir().join(format!("schemas/{kind}.json")));
    jsonschema::draft202012::meta::validate(&schema).expect("the schema itself is one");
    jsonschema::validator_for(&schema)
        .expect("the schema can be used")
        .iter_errors(document)
        .map(|fault| format!("{}: {fault}", fault.instance_path()))
        .collect()
}

/// Fails where `document` breaks the schema of `kind`.
pub fn must_hold(kind: &str, document: &Value) {
    let faults = faults(kind, document);
    assert!(
        faults.is_empty(),
        "{kind}: {}\n{document:#}",
        faults.join("\n")
    );
}

/// The keys in a document, each with the way to it; what arrays hold is taken together.
pub fn keys(document: &Value) -> BTreeSet<String> {
    fn walk(value: &Value, at: &str, into: &mut BTreeSet<String>) {
        match value {
            Value::Object(map) => {
                for (key, value) in map {
                    let at = format!("{at}.{key}");
                    walk(value, &at, into);
                    into.insert(at);
                }
            }
            Value::Array(items) => {
                for item in items {
                    walk(item, &format!("{at}[]"), into);
                }
            }
            _ => {}
        }
    }
    let mut found = BTreeSet::new();
    walk(document, "", &mut found);
    found
}
