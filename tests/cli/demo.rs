//! The committed pages are what the program writes.

use std::path::{Path, PathBuf};

use super::book::truth;
use super::{json, root, run};

/// The pages in a folder, by name.
fn pages(folder: &Path) -> Vec<PathBuf> {
    let mut pages: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "html"))
        .collect();
    pages.sort();
    pages
}

/// The pages that lie in the repository.
fn committed() -> Vec<PathBuf> {
    pages(&root().join("reports/demo"))
}

#[test]
fn the_committed_demo_is_what_the_program_writes() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("demo");
    let (code, stdout, stderr) = run(folder.path(), &["demo", "--out", out.to_str().unwrap()]);
    assert_eq!(code, 0, "{stderr}");
    assert!(stdout.starts_with("IMPROVED: "), "{stdout}");
    assert!(stdout.contains("95 % interval −"), "{stdout}");
    assert!(
        stdout.contains("the true change is -2.50 K, inside the interval"),
        "{stdout}"
    );
    assert!(
        stdout.contains("Computed from the stack before the test: -"),
        "{stdout}"
    );
    let (written, committed) = (pages(&out), committed());
    let names = |pages: &[PathBuf]| -> Vec<_> {
        pages
            .iter()
            .map(|p| p.file_name().unwrap().to_owned())
            .collect()
    };
    assert_eq!(names(&written), names(&committed));
    assert!(!written.is_empty());
    for (new, old) in written.iter().zip(&committed) {
        assert!(
            std::fs::read(new).unwrap() == std::fs::read(old).unwrap(),
            "{} is not what the program writes: remake the pages with \
             `cargo run --release -- demo`, and look at what changed",
            old.display()
        );
    }
}

/// The document says what the page says; the book that was named is not touched.
#[test]
fn the_demo_as_a_document() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book");
    let out = folder.path().join("demo");
    let (code, answer) = json(&book, &["demo", "--out", out.to_str().unwrap()]);
    assert_eq!(code, 0);
    assert!(!book.exists());
    let truth = truth().mean_change_k;
    assert_eq!(answer["true_coolant_change_k"], truth);
    let change = &answer["coolant_change_k"];
    // The sample logs are one draw, and the truth lies at the end of their interval (0.007 K outside).
    let off = |end: &str| change[end].as_f64().unwrap() - truth;
    assert!(off("low") < 0.0 && off("high") > -0.02, "{change}");
    // The prediction is no better than its interval, which holds the truth here.
    let predicted = &answer["predicted_coolant_change_k"];
    assert!(predicted["low"].as_f64().unwrap() < truth);
    assert!(predicted["high"].as_f64().unwrap() > truth);
    let page = std::fs::read_to_string(out.join("stack.html")).unwrap();
    let measured = change["estimate"].as_f64().unwrap();
    let said = format!("measured \u{2212}{:.2}\u{a0}K", -measured);
    assert!(page.contains(&said), "{said}");
    for page in answer["pages"].as_array().unwrap() {
        assert!(Path::new(page.as_str().unwrap()).is_file());
    }
}
