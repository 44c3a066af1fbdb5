//! The column most like a role that was not found, for hints.

use super::role_words::NO_TEMPERATURE;
use super::roles::meanings_of;
use super::unit_text::{self, split_brackets};
use super::words::{fold, has_any};
use crate::quantity::Quantity;
use crate::session::Role;

/// Whether a name is that of a temperature input without further words: `T1`, `Temp 2`.
fn is_numbered_sensor(bare: &str) -> bool {
    let letters = bare.trim_end_matches(|c: char| !c.is_alphabetic());
    ["t", "tc", "temp", "temperature", "temperatur"].contains(&letters.to_lowercase().as_str())
}

/// Stands for a column where none is likely.
pub(super) const ANY_COLUMN: &str = "COLUMN";

/// Names less alike than this have nothing to do with each other (Jaro-Winkler) ...
const LIKELY: f64 = 0.8;
/// ... or than this where the unit is one of the role.
const LIKELY_IN_UNIT: f64 = 0.65;

/// The column most like `role`: named like it, best in a unit of it, or the only numbered sensor. A
/// hint must not name a column that is nothing like it, or one of several that are alike.
pub(super) fn likely_column(names: &[String], role: Role, time_column: &str) -> String {
    let likeness = |name: &str| {
        let (bare, written) = split_brackets(name);
        let in_unit = match written {
            unit_text::Written::Known(unit) => Some(unit.quantity() == role.quantity()),
            unit_text::Written::Foreign => Some(false),
            unit_text::Written::Nothing | unit_text::Written::Unknown(_) => None,
        };
        let named = strsim::jaro_winkler(&bare.to_lowercase(), role.name());
        let sensor = role.quantity() == Quantity::Temperature && is_numbered_sensor(&bare);
        let is_other = meanings_of(name).iter().any(|meaning| meaning.role != role);
        let is_no_temperature =
            role.quantity() == Quantity::Temperature && has_any(&fold(&bare), NO_TEMPERATURE);
        match in_unit {
            _ if is_other || is_no_temperature => None,
            Some(false) => None,
            _ if sensor => Some(LIKELY),
            Some(true) => (named > LIKELY_IN_UNIT).then_some(1.0 + named),
            None => (named > LIKELY).then_some(named),
        }
    };
    let clock = |name: &str| time_column.split(" + ").any(|clock| clock == name);
    let names = names.iter().map(String::as_str);
    let mut likely: Vec<(f64, &str)> = names
        .filter(|name| !clock(name))
        .filter_map(|name| Some((likeness(name)?, name)))
        .collect();
    likely.sort_by(|a, b| b.0.total_cmp(&a.0));
    match likely[..] {
        [(_, only)] => only,
        [first, second, ..] if first.0 > second.0 => first.1,
        _ => ANY_COLUMN,
    }
    .to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hint_names_no_column_that_may_be_another() {
        let likely = |names: &[&str]| {
            let names: Vec<String> = names.iter().map(|name| (*name).to_owned()).collect();
            likely_column(&names, Role::Coolant, "t")
        };
        assert_eq!(likely(&["t", "T1", "v"]), "T1");
        assert_eq!(likely(&["t", "T1", "T2", "T3"]), "COLUMN");
        assert_eq!(likely(&["t", "Coolnt"]), "Coolnt");
        assert_eq!(likely(&["t", "Ambient [°C]"]), "COLUMN");
        assert_eq!(likely(&["t", "Coolant Press"]), "COLUMN");
        assert_eq!(likely(&["t", "Intercooler Water Temp (°C)"]), "COLUMN");
    }
}
