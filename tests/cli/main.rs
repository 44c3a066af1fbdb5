//! The program as a user runs it, and the project's own numbers against published ones.

mod again;
mod book;
mod demo;
mod errors;
mod faults;
mod invariance;
mod pages;
mod reading;
mod real;
mod reference;
mod regressions;
mod stack;
mod verbs;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The repository's folder.
fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A file of the sample logs.
fn sample(name: &str) -> PathBuf {
    root().join("sample_logs").join(name)
}

/// Runs the program on a book; exit code, stdout, stderr.
fn run<A: AsRef<std::ffi::OsStr>>(book: &Path, arguments: &[A]) -> (i32, String, String) {
    let Output {
        status,
        stdout,
        stderr,
    } = Command::new(env!("CARGO_BIN_EXE_heatbook"))
        .arg("--book")
        .arg(book)
        .args(arguments)
        .output()
        .expect("the program starts");
    (
        status.code().unwrap_or(-1),
        String::from_utf8(stdout).expect("UTF-8"),
        String::from_utf8(stderr).expect("UTF-8"),
    )
}

/// The same with `--json`: exit code and the document, which must be all that stdout holds.
fn json(book: &Path, arguments: &[&str]) -> (i32, serde_json::Value) {
    let (code, stdout, stderr) = run(book, &[&["--json"], arguments].concat());
    let answer = serde_json::from_str(&stdout).unwrap_or_else(|e| panic!("{e}: {stdout} {stderr}"));
    (code, answer)
}
