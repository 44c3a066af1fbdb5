//! The sample logs in a book, as `index.toml` says.

use std::path::{Path, PathBuf};

use serde::Deserialize;
use serde_json::Value;

use super::{json, sample};

/// One line of `index.toml`.
#[derive(Debug, Deserialize)]
pub struct Entry {
    pub file: String,
    pub setup: String,
    pub day: Option<String>,
    #[serde(default)]
    pub with: Vec<String>,
}

/// The sessions of the sample logs in the order they were run.
pub fn index() -> Vec<Entry> {
    #[derive(Deserialize)]
    struct Index {
        session: Vec<Entry>,
    }
    let text = std::fs::read_to_string(sample("index.toml")).unwrap();
    toml::from_str::<Index>(&text).unwrap().session
}

/// What the simulator says of the sample logs.
#[derive(Debug, Deserialize)]
pub struct Truth {
    pub mean_change_k: f64,
    pub reference_ambient_c: f64,
    pub conductance_ratio: f64,
}

pub fn truth() -> Truth {
    toml::from_str(&std::fs::read_to_string(sample("truth.toml")).unwrap()).unwrap()
}

/// A book in a folder that goes when this does.
pub struct Book(tempfile::TempDir);

impl Book {
    pub fn empty() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    /// A book with every sample log.
    pub fn of_sample_logs() -> Self {
        let book = Self::empty();
        for entry in index() {
            book.import(&entry);
        }
        book
    }

    pub fn folder(&self) -> &Path {
        self.0.path()
    }

    pub fn dir(&self) -> PathBuf {
        self.0.path().join("book")
    }

    /// The document of a call that is to end with exit code 0.
    pub fn answer(&self, arguments: &[&str]) -> Value {
        let (code, answer) = json(&self.dir(), arguments);
        assert_eq!(code, 0, "{arguments:?}: {answer:#}");
        answer
    }

    /// Imports one session with all that the index says of it.
    pub fn import(&self, entry: &Entry) -> Value {
        let path = |name: &str| sample(name).to_str().unwrap().to_owned();
        let sheet = path(&format!("setup_{}.toml", entry.setup));
        let mut call = vec!["import".to_owned(), path(&entry.file)];
        let mut flag = |name: &str, value: String| call.extend([name.to_owned(), value]);
        flag("--setup", entry.setup.clone());
        flag("--setup-sheet", sheet);
        flag("--car", path("car.toml"));
        if let Some(day) = &entry.day {
            flag("--day", day.clone());
        }
        for with in &entry.with {
            flag("--with", path(with));
        }
        let call: Vec<&str> = call.iter().map(String::as_str).collect();
        self.answer(&call)
    }
}
