//! The column most like a role that was not found, for hints.

use super::unit_text::{self, split_brackets};
use crate::quantity::Quantity;
use crate::session::Role;

/// Whether a name is that of a temperature input without further words: `T1`, `Temp 2`.
fn is_numbered_sensor(bare: &str) -> bool {
    let letters = bare.trim_end_matches(|c: char| !c.is_alphabetic());
    ["t", "tc", "temp", "temperature", "temperatur"].contains(&letters.to_lowercase().as_str())
}

/// Names less alike than this have nothing to do with each other (Jaro-Winkler).
const LIKELY: f64 = 0.8;

/// The column most like `role`: one in a unit of it, named like it.
pub(super) fn likely_column(names: &[String], role: Role, time_column: &str) -> String {
    let likeness = |name: &str| {
        let (bare, written) = split_brackets(name);
        let unit = match written {
            unit_text::Written::Known(unit) if unit.quantity() == role.quantity() => 1.0,
            unit_text::Written::Known(_) | unit_text::Written::Foreign => -1.0,
            unit_text::Written::Nothing | unit_text::Written::Unknown(_) => 0.0,
        };
        let named = strsim::jaro_winkler(&bare.to_lowercase(), role.name());
        let sensor = role.quantity() == Quantity::Temperature && is_numbered_sensor(&bare);
        unit + if sensor { 0.9 } else { named }
    };
    names
        .iter()
        .map(String::as_str)
        .filter(|name| !time_column.split(" + ").any(|clock| clock == *name))
        .map(|name| (likeness(name), name))
        // A hint must not name a column that is nothing like it.
        .filter(|(likeness, _)| *likeness > LIKELY)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or("COLUMN", |(_, name)| name)
        .to_owned()
}
