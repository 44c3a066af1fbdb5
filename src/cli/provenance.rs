//! Where a page's numbers come from, and the command that makes it again.

use std::fmt::{Display, Write as _};

use serde::Serialize;

use crate::quantity::Units;
use crate::report::Provenance;
use crate::session::SessionMeta;
use crate::words::shell_word;

/// A command as it is typed, each value quoted where a shell would part or change it.
#[derive(Debug, Clone)]
pub struct Command(String);

impl Command {
    /// A verb of this program.
    pub fn new(verb: &str) -> Self {
        Self(format!("heatbook {verb}"))
    }

    /// Values without a flag.
    pub fn values<T: Display>(&mut self, values: impl IntoIterator<Item = T>) {
        for value in values {
            let _ = write!(self.0, " {}", shell_word(&value.to_string()));
        }
    }

    /// A flag with its value, if it has one.
    pub fn flag<T: Display>(&mut self, name: &str, value: Option<T>) {
        if let Some(value) = value {
            let _ = write!(self.0, " --{name} {}", shell_word(&value.to_string()));
        }
    }

    /// The flags that a page takes. Which folder and which file they name is left out: the same
    /// sessions make the same page, wherever they lie.
    pub fn page(mut self, from_book: bool) -> Self {
        self.flag("book", from_book.then_some("DIR"));
        self.flag("html", Some("FILE"));
        self
    }

    /// A flag without a value, if it is given.
    pub fn switch(&mut self, name: &str, given: bool) {
        if given {
            let _ = write!(self.0, " --{name}");
        }
    }
}

/// Files that sessions were read from, each with its hash. Where another device's were added, the hash is that of all
/// of them, one after another.
fn files(sessions: &[&SessionMeta]) -> Vec<(String, String)> {
    let of = |meta: &&SessionMeta| {
        let added = meta.aligned.iter().map(|aligned| aligned.file.as_str());
        let names: Vec<&str> = std::iter::once(meta.file.as_str()).chain(added).collect();
        (names.join(", then "), meta.sha256.clone())
    };
    sessions.iter().map(of).collect()
}

/// The sheets of sessions, each once: what it is of, and its keys.
fn sheets(sessions: &[&SessionMeta]) -> Vec<(String, String)> {
    let mut out: Vec<(String, String)> = Vec::new();
    for meta in sessions {
        let setup = format!("setup sheet of {}", meta.setup);
        let sheets = [
            ("car sheet".to_owned(), in_a_line(&meta.car)),
            (setup, in_a_line(&meta.setup_sheet)),
        ];
        for sheet in sheets {
            if !sheet.1.is_empty() && !out.contains(&sheet) {
                out.push(sheet);
            }
        }
    }
    out
}

/// A sheet as one line of TOML, a comma between keys. Empty: no key is set.
fn in_a_line(sheet: &impl Serialize) -> String {
    let table = toml::Table::try_from(sheet).unwrap_or_default();
    let set = table.iter().filter(|(_, value)| !is_empty(value));
    let keys: Vec<String> = set.map(|(key, value)| format!("{key} = {value}")).collect();
    keys.join(", ")
}

fn is_empty(value: &toml::Value) -> bool {
    match value {
        toml::Value::Table(keys) => keys.is_empty(),
        toml::Value::Array(items) => items.is_empty(),
        _ => false,
    }
}

/// Provenance of a page: program, command, sheets, files by content.
pub fn provenance(
    mut command: Command,
    sessions: &[&SessionMeta],
    settings: Vec<(String, String)>,
    units: Units,
) -> Provenance {
    command.flag("units", (units == Units::Us).then_some("us"));
    Provenance {
        tool_version: env!("CARGO_PKG_VERSION").to_owned(),
        command: command.0,
        files: [sheets(sessions), files(sessions)].concat(),
        settings,
        seed: None,
        units,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The quoting rule of POSIX.1-2017, Shell Command Language, 2.2.2.
    #[test]
    fn a_command_can_be_typed_again() {
        let mut command = Command::new("compare");
        command.flag("before", Some("open ducts"));
        command.flag("after", Some("driver's $HOME"));
        command.flag("threshold-k", Some(0.5));
        command.flag::<f64>("ambient-c", None);
        command.switch("keep", true);
        command.values(["s1"]);
        assert_eq!(
            command.0,
            r"heatbook compare --before 'open ducts' --after 'driver'\''s $HOME' --threshold-k 0.5 --keep s1"
        );
    }
}
