//! The pages in a browser: from disk, with no network. Says that it is skipped where there is no
//! Chromium.
#![allow(clippy::print_stdout)]

use std::path::Path;
use std::process::Command;

use super::book::{Book, index};
use super::demo::committed;
use super::sample;

const NAMES: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];

/// What a headless browser makes of a page: its DOM, and what it wrote to its console.
struct Shown {
    dom: String,
    console: String,
}

/// Opens a page; `None`: there is no browser.
fn open(page: &Path) -> Option<Shown> {
    let profile = tempfile::tempdir().unwrap();
    let output = NAMES.iter().find_map(|name| {
        Command::new(name)
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-quic",
            ])
            .args(["--no-first-run", "--disable-background-networking"])
            .args(["--disable-component-update", "--disable-sync"])
            // Errors of scripts and refused loads go to stderr as `CONSOLE`.
            .args(["--enable-logging=stderr", "--v=0"])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .args(["--dump-dom", &format!("file://{}", page.display())])
            .output()
            .ok()
    });
    let Some(output) = output else {
        println!("skipped: there is no Chromium on this machine");
        return None;
    };
    let stderr = String::from_utf8_lossy(&output.stderr);
    Some(Shown {
        dom: String::from_utf8_lossy(&output.stdout).into_owned(),
        console: stderr
            .lines()
            .filter(|line| line.contains("CONSOLE"))
            .collect(),
    })
}

/// The text of a page without its markup, styles and scripts.
fn words(dom: &str) -> String {
    let mut text = String::new();
    let mut rest = dom;
    while let Some((before, tag)) = rest.split_once('<') {
        text += before;
        let end = ["style", "script", "title"]
            .iter()
            .find(|name| tag.starts_with(**name))
            .map_or(">".to_owned(), |name| format!("</{name}>"));
        rest = tag.split_once(&end).map_or("", |(_, after)| after);
    }
    text + rest
}

/// The console of the test's own eye: a page with a broken script must be seen.
#[test]
fn a_broken_script_would_be_seen() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("broken.html");
    std::fs::write(&page, "<p>x</p><script>nowhere.to.be.found()</script>").unwrap();
    if let Some(shown) = open(&page) {
        assert!(shown.console.contains("nowhere"), "{}", shown.console);
    }
}

#[test]
fn the_demo_pages_open_from_disk() {
    for page in committed() {
        let name = page.file_name().unwrap().to_str().unwrap().to_owned();
        let Some(shown) = open(&page) else { return };
        assert!(shown.console.is_empty(), "{name}: {}", shown.console);
        let words = words(&shown.dom);
        let expected: &[&str] = match name.as_str() {
            "comparison.html" => &["Improved", "95 %", "sealed-ducts", "open-ducts"],
            "plan.html" => &["Running order", "sealed-ducts", "Compare once", "Abandon"],
            "stack.html" => &[
                "Predicted, not measured",
                "air leaving",
                "no measurement",
                "sealed-ducts",
            ],
            _ => &["s1", "s8"],
        };
        for word in expected {
            assert!(words.contains(word), "{name}: no `{word}` in its text");
        }
        // The plan is words and tables.
        assert!(
            name == "plan.html" || shown.dom.contains("<svg"),
            "{name}: no chart"
        );
        // Each chart that the file has was parsed as one.
        let source = std::fs::read_to_string(&page).unwrap();
        let charts = |text: &str| text.matches("<svg").count();
        assert_eq!(charts(&shown.dom), charts(&source), "{name}");
        // Nothing is fetched from anywhere.
        for from in [
            "src=\"http",
            "href=\"http",
            "src=\"//",
            "@import",
            "url(http",
        ] {
            assert!(!source.contains(from), "{name}: {from}");
        }
    }
}

/// Names come from users and files; a page shows them as text.
#[test]
fn a_name_with_markup_is_shown_as_text() {
    let evil = "<script>document.title='run'</script>";
    let image = "<img src=x onerror=\"document.title='run'\">";
    let book = Book::empty();
    for (entry, setup) in index().iter().zip([evil, "plain", "plain", evil]) {
        let file = sample(&entry.file);
        let mut call = vec!["import", file.to_str().unwrap(), "--setup", setup];
        let with: Vec<_> = entry.with.iter().map(|name| sample(name)).collect();
        for path in &with {
            call.extend(["--with", path.to_str().unwrap()]);
        }
        let car = sample("car.toml");
        call.extend([
            "--car",
            car.to_str().unwrap(),
            "--driver",
            image,
            "--note",
            image,
        ]);
        book.answer(&call);
    }
    book.answer(&["amend", "s4", "--exclude", image]);
    let page = |name: &str| book.folder().join(name);
    let html = |name: &str| page(name).to_str().unwrap().to_owned();
    book.answer(&[
        "compare",
        "--before",
        evil,
        "--after",
        "plain",
        "--html",
        &html("c.html"),
    ]);
    book.answer(&["fit", "--html", &html("f.html")]);
    book.answer(&["limits", "--html", &html("l.html")]);
    book.answer(&["season", "--html", &html("s.html")]);
    for name in ["c.html", "f.html", "l.html", "s.html"] {
        let source = std::fs::read_to_string(page(name)).unwrap();
        assert!(!source.contains(evil) && !source.contains(image), "{name}");
        let Some(shown) = open(&page(name)) else {
            return;
        };
        assert!(
            !shown.dom.contains("<title>run</title>"),
            "{name}: the script ran"
        );
        assert!(shown.console.is_empty(), "{name}: {}", shown.console);
        let text = words(&shown.dom).replace("&lt;", "<").replace("&gt;", ">");
        assert!(
            text.contains("<script>document.title"),
            "{name}: the name is not shown"
        );
    }
}
