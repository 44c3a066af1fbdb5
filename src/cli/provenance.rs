//! Where a page's numbers come from.

use crate::quantity::Units;
use crate::report::Provenance;
use crate::session::SessionMeta;

/// Provenance of a page: program, command, files by content.
pub fn provenance(
    command: &str,
    sessions: &[&SessionMeta],
    settings: Vec<(String, String)>,
    units: Units,
) -> Provenance {
    Provenance {
        tool_version: env!("CARGO_PKG_VERSION").to_owned(),
        command: match units {
            Units::Metric => command.to_owned(),
            Units::Us => format!("{command} --units us"),
        },
        files: sessions
            .iter()
            .map(|s| (s.file.clone(), s.sha256.clone()))
            .collect(),
        settings,
        seed: None,
        units,
    }
}
