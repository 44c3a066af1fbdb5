//! The committed pages are what the program writes.

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
