//! The unit that a column's name, or a row of units, says it is written in.

use crate::quantity::{Quantity, Unit};
use crate::session::Role;

/// What a column's name says of its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Written {
    /// Nothing.
    Nothing,
    /// A unit this program knows.
    Known(Unit),
    /// A unit of something no role measures.
    Foreign,
}

/// Units that rule a column out, in lower case.
const FOREIGN: &[&str] = &[
    "v",
    "mv",
    "volt",
    "volts",
    "a",
    "ma",
    "amp",
    "nm",
    "lbft",
    "lb-ft",
    "hz",
    "khz",
    "kw",
    "w",
    "hp",
    "ps",
    "s",
    "sec",
    "ms",
    "us",
    "µs",
    "min",
    "h",
    "hh:mm:ss",
    "g",
    "km",
    "mi",
    "mile",
    "miles",
    "l",
    "gal",
    "kg",
    "lb",
    "l/100km",
    "mpg",
    "km/l",
    "lambda",
    "λ",
    "ohm",
    "rad/s",
    "deg/s",
    "°/s",
    "m/s2",
    "m/s^2",
    "m/s²",
    "°btdc",
    "degca",
    "°ca",
    "crk",
    "bit",
    "hex",
    "mg/stroke",
    "mg/hub",
    "date",
    "time",
    "w/m2",
    "w/m²",
    "mm",
    "cm",
    "mg/cyl",
    "afr",
    "bpm",
];

/// Whether a cell of a header row is a unit.
pub(super) fn is_unit_text(cell: &str) -> bool {
    let inner = cell
        .trim()
        .trim_matches(['[', ']', '(', ')', '{', '}', '<', '>']);
    Unit::parse(inner).is_some() || FOREIGN.contains(&inner.to_lowercase().as_str())
}

/// Reads a text that is a unit or nothing.
pub(super) fn read_unit(text: &str) -> Written {
    let inner = text
        .trim()
        .trim_matches(['[', ']', '(', ')', '{', '}', '<', '>']);
    if inner.is_empty() {
        return Written::Nothing;
    }
    match Unit::parse(inner) {
        // A dash, a number sign or a bare 1 says that there is no unit, or counts sensors.
        Some(Unit::Number | Unit::Ratio) if !inner.eq_ignore_ascii_case("ratio") => {
            Written::Nothing
        }
        Some(unit) => Written::Known(unit),
        None if FOREIGN.contains(&inner.to_lowercase().as_str()) => Written::Foreign,
        None => Written::Nothing,
    }
}

/// A column's name without a unit in brackets, and that unit. Of several brackets the last that
/// holds a unit counts: `Speed (GPS)(km/h)`.
pub(super) fn split_brackets(name: &str) -> (String, Written) {
    let opens = name.char_indices().rev().filter_map(|(at, c)| {
        let close = match c {
            '[' => ']',
            '(' => ')',
            '{' => '}',
            '<' => '>',
            _ => return None,
        };
        name[at..].find(close).map(|length| (at, at + length))
    });
    for (start, end) in opens {
        let inside = &name[start + 1..end];
        // Here it is the receiver, not gallons or grams per second.
        if inside.trim() == "GPS" {
            continue;
        }
        let written = read_unit(inside);
        if written != Written::Nothing {
            let bare = format!("{} {}", &name[..start], &name[end + 1..]);
            return (bare.trim().to_owned(), written);
        }
    }
    (name.trim().to_owned(), Written::Nothing)
}

/// The unit a name ends in, such as `coolant_c` or `Speed km/h`, if it measures `quantity`.
pub(super) fn suffix_unit(name: &str, quantity: Quantity) -> Option<Unit> {
    if quantity == Quantity::Count {
        return None;
    }
    let parts: Vec<&str> = name
        .split(['_', ' ', ',', '-', '.'])
        .filter(|p| !p.is_empty())
        .collect();
    let last = *parts.last()?;
    let pair = (parts.len() > 2).then(|| &parts[parts.len() - 2..]);
    let mut tries = vec![last.to_owned()];
    if let Some(pair) = pair {
        tries.insert(0, pair.concat());
        tries.insert(0, pair.join("/"));
    }
    tries
        .iter()
        .filter(|_| parts.len() > 1 || quantity == Quantity::RotationalSpeed)
        .filter_map(|text| Unit::parse(text))
        .find(|unit| unit.quantity() == quantity && *unit != Unit::Ratio)
}

/// Whether a role may be written in that unit.
pub(super) fn fits(role: Role, unit: Unit) -> bool {
    let degrees = role.quantity() == Quantity::Temperature && unit == Unit::Degree;
    let switch = matches!(role, Role::Fan | Role::AirConditioning) && unit == Unit::Percent;
    unit.quantity() == role.quantity() || degrees || switch
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_in_names_are_found() {
        for (name, bare, unit) in [
            (
                "Engine Coolant Temperature [°C]",
                "Engine Coolant Temperature",
                Written::Known(Unit::Celsius),
            ),
            (
                "Speed (km/h)",
                "Speed",
                Written::Known(Unit::KilometrePerHour),
            ),
            ("Battery [V]", "Battery", Written::Foreign),
            ("Temp (bank 1)", "Temp (bank 1)", Written::Nothing),
            (
                "Temp (1) [°F]",
                "Temp (1)",
                Written::Known(Unit::Fahrenheit),
            ),
        ] {
            assert_eq!(split_brackets(name), (bare.to_owned(), unit), "{name}");
        }
        assert_eq!(
            suffix_unit("coolant_c", Quantity::Temperature),
            Some(Unit::Celsius)
        );
        assert_eq!(
            suffix_unit("coolant_deg_f", Quantity::Temperature),
            Some(Unit::Fahrenheit)
        );
        assert_eq!(
            suffix_unit("speed_km_h", Quantity::Speed),
            Some(Unit::KilometrePerHour)
        );
        assert_eq!(
            suffix_unit("GPS Speed mph", Quantity::Speed),
            Some(Unit::MilePerHour)
        );
        assert_eq!(suffix_unit("coolant_k", Quantity::Speed), None);
        assert_eq!(suffix_unit("coolant", Quantity::Temperature), None);
    }
}
