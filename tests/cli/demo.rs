//! The committed pages are what the program writes.
#![allow(clippy::print_stdout)]

use super::{root, run};

#[test]
fn the_committed_demo_is_what_the_program_writes() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("demo");
    let (code, stdout, _) = run(folder.path(), &["demo", "--out", out.to_str().unwrap()]);
    assert_eq!(code, 0);
    assert!(stdout.contains("true change is -2.50 K"), "{stdout}");
    for page in ["comparison.html", "sessions.html", "limits.html"] {
        let written = std::fs::read(out.join(page)).unwrap();
        let committed = std::fs::read(root().join("reports/demo").join(page)).unwrap();
        assert!(
            written == committed,
            "{page} differs: remake the pages with `cargo run --release -- demo`"
        );
    }
}

/// The committed page opens from disk, with no network, in a browser.
#[test]
fn the_page_opens_in_a_browser() {
    let names = ["chromium", "chromium-browser"];
    let profile = tempfile::tempdir().unwrap();
    let page = root().join("reports/demo/comparison.html");
    let shown = names.iter().find_map(|name| {
        std::process::Command::new(name)
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-quic",
            ])
            .args(["--no-first-run", "--disable-background-networking"])
            .args(["--disable-component-update", "--disable-sync"])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .args(["--dump-dom", &format!("file://{}", page.display())])
            .output()
            .ok()
    });
    let Some(shown) = shown else {
        println!("skipped: there is no Chromium on this machine");
        return;
    };
    let dom = String::from_utf8_lossy(&shown.stdout);
    assert!(
        dom.contains("Improved") && dom.contains("<svg"),
        "{dom:.300}"
    );
}
