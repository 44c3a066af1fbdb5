//! The unit that a column's name, or a row of units, says it is written in.

use super::words::{fold, has_any};
use crate::quantity::{Quantity, Unit};
use crate::session::Role;

/// What a column's name says of its unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Written {
    /// Nothing.
    Nothing,
    /// A unit this program knows.
    Known(Unit),
    /// A unit of something no role measures.
    Foreign,
    /// What must be a unit, and is not known.
    Unknown(String),
}

/// What stands in brackets, or in a row of units, and is no unit.
const REMARKS: &str = "=gps|=gnss|=obd|=obd2|=ecu|=ems|=can|=raw|=avg|=mean|=max|=min|=filt|^filter|^corr|=cal|\
    ^calc|=est|^sens|=bank|=left|=right|=front|=rear|=in|=out|=inlet|=outlet|=engine|=head|=block|=main|\
    =aux|=ext|=int|=top|=bottom|=l|=r|=fl|=fr|=rl|=rr|=adc|=pid|=imu|=float|=double|=string|=text|=bool|\
    =enum|=state|=none|=na|=iat|=ect|=clt|=maf|=map|=tps|=ht|=lt|=nt|=pre|=post|=pos|=off|=on";

/// Words that are, or are part of, a unit.
const UNIT_WORDS: &str = "=hg|=mmhg|=bar|=psi|=pa|=kpa|=mpa|=hpa|=mbar|=grad|=grados|=gradi|=deg|=degree|\
    =degrees|=celsius|=fahrenheit|=kelvin|=rankine|=mile|=miles|=mph|=kmh|=kph|=metre|=metres|=meter|\
    =meters|=feet|=foot|=ft|=knot|=knots|=inch|=inches|=torr|=atm|=rpm|=rps|=lb|=lbs|=pounds|=kg|=kgf|\
    =gallons|=litre|=litres|=liter|=liters|=hour|=hours|=second|=seconds|=minute|=minutes";

/// What a unit is divided by.
const BELOW_SLASH: &str =
    "=h|=hr|=hour|=std|=s|=sec|=second|=min|=minute|=cm2|=in2|=m2|=mm2|=km|=u";

/// Whether a text is a unit, known or not. In square brackets hardly anything else stands.
fn looks_like_unit(text: &str, square: bool) -> bool {
    let folded = fold(text);
    if has_any(&folded, UNIT_WORDS) || text.contains(['°', 'º', '˚', '·', '²', '³', '⁻', '^'])
    {
        return true;
    }
    if let Some((above, below)) = text.rsplit_once('/') {
        return !above.is_empty() && has_any(&fold(below), BELOW_SLASH);
    }
    // `0.1 C`, `x10`: a unit with a factor.
    let scaled = text.trim_start_matches(['x', '×', '*', ' ']);
    let number = scaled.trim_start_matches(|c: char| c.is_ascii_digit() || ".,".contains(c));
    let letters = text.chars().any(char::is_alphabetic);
    if scaled.starts_with(|c: char| c.is_ascii_digit()) && letters && !number.contains([':', '-']) {
        return true;
    }
    let short = text.chars().count() <= 8 && !text.contains(' ');
    square && short && letters && !has_any(&folded, REMARKS)
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

/// Whether a text says how times are written: `HH:MM:SS.ss`, `mm:ss`.
fn is_clock_pattern(text: &str) -> bool {
    let pattern = |c: char| matches!(c.to_ascii_lowercase(), 'h' | 'm' | 's' | 'f' | 'z' | '0');
    text.contains(':')
        && text
            .split([':', '.', ','])
            .all(|part| !part.is_empty() && part.chars().all(pattern))
}

/// Whether a cell of a header row is a unit.
pub(super) fn is_unit_text(cell: &str) -> bool {
    matches!(read_unit(cell), Written::Known(_) | Written::Foreign)
        || Unit::parse(without_brackets(cell)).is_some()
}

fn without_brackets(text: &str) -> &str {
    let text = text.trim();
    // `kPa(a)` keeps its own.
    let whole = text.starts_with(['[', '(', '{', '<']);
    let inner = if whole { &text[1..] } else { text };
    if whole && inner.ends_with([']', ')', '}', '>']) {
        inner[..inner.len() - 1].trim()
    } else {
        inner.trim()
    }
}

/// Reads a text that is a unit or nothing, from a row of units or from square brackets.
pub(super) fn read_unit(text: &str) -> Written {
    unit_or_remark(without_brackets(text), true)
}

fn unit_or_remark(inner: &str, square: bool) -> Written {
    if inner.is_empty() {
        return Written::Nothing;
    }
    match Unit::parse(inner) {
        // A dash, a number sign or a bare 1 says that there is no unit, or counts sensors.
        Some(Unit::Number | Unit::Ratio) if !inner.eq_ignore_ascii_case("ratio") => {
            Written::Nothing
        }
        Some(unit) => Written::Known(unit),
        None if FOREIGN.contains(&inner.to_lowercase().as_str()) || is_clock_pattern(inner) => {
            Written::Foreign
        }
        None if inner.contains('%') => Written::Known(Unit::Percent),
        None if Unit::parse_gauge(inner).is_some() || looks_like_unit(inner, square) => {
            Written::Unknown(inner.to_owned())
        }
        None => Written::Nothing,
    }
}

/// The brackets of a name, outermost ones, the last first: where each opens and closes.
fn brackets(name: &str) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut open: Vec<(usize, char)> = Vec::new();
    for (at, c) in name.char_indices() {
        match c {
            '[' | '(' | '{' | '<' => open.push((at, c)),
            ']' | ')' | '}' | '>' => {
                let pair = ["[]", "()", "{}", "<>"]
                    .iter()
                    .find(|pair| pair.ends_with(c));
                let opens = pair.and_then(|pair| pair.chars().next());
                if let Some(place) = open.iter().rposition(|(_, other)| Some(*other) == opens) {
                    let (start, _) = open[place];
                    open.truncate(place);
                    if open.is_empty() {
                        found.push((start, at));
                    }
                }
            }
            _ => {}
        }
    }
    found.reverse();
    found
}

/// A column's name without a unit in brackets, and that unit. Of several brackets the last that
/// holds a unit counts: `Speed (GPS)(km/h)`.
pub(super) fn split_brackets(name: &str) -> (String, Written) {
    for (start, end) in brackets(name) {
        let inside = name[start + 1..end].trim();
        // Here it is the receiver, not gallons or grams per second.
        if inside == "GPS" {
            continue;
        }
        // `MAP kPa(a)`: the bracket belongs to the unit before it.
        let word = name[..start].rfind([' ', '_']).map_or(0, |at| at + 1);
        let with_word = &name[word..=end];
        if word > 0
            && word < start
            && let Some(unit) = Unit::parse(with_word)
        {
            return (name[..word].trim().to_owned(), Written::Known(unit));
        }
        let written = unit_or_remark(inside, name[start..].starts_with('['));
        if written != Written::Nothing {
            let bare = format!("{} {}", &name[..start], &name[end + 1..]);
            return (bare.trim().to_owned(), written);
        }
    }
    (name.trim().to_owned(), Written::Nothing)
}

/// The unit a name ends in, such as `coolant_c`, `Speed km/h`, `SpeedMph` or `Speed/mph`, if it
/// measures `quantity`; or what must be one.
pub(super) fn tail_unit(name: &str, quantity: Quantity) -> Written {
    if quantity == Quantity::Count {
        return Written::Nothing;
    }
    let of_quantity = |text: &str| {
        Unit::parse(text).filter(|unit| unit.quantity() == quantity && *unit != Unit::Ratio)
    };
    let slash = name
        .match_indices('/')
        .find_map(|(at, _)| of_quantity(&name[at + 1..]));
    let parts: Vec<&str> = name
        .split(['_', ' ', ',', '-', '.'])
        .filter(|p| !p.is_empty())
        .collect();
    let Some(&last) = parts.last() else {
        return Written::Nothing;
    };
    let mut tries = vec![last.to_owned()];
    if parts.len() > 2 {
        let pair = &parts[parts.len() - 2..];
        tries.insert(0, pair.concat());
        tries.insert(0, pair.join("/"));
    }
    let named = parts.len() > 1 || quantity == Quantity::RotationalSpeed;
    let found = tries
        .iter()
        .filter(|_| named)
        .find_map(|text| of_quantity(text));
    match found
        .or(slash)
        .or_else(|| camel_tail(last).and_then(of_quantity))
    {
        Some(unit) => Written::Known(unit),
        None if named
            && Unit::parse(last).is_none()
            && last.contains('/')
            && looks_like_unit(last, false) =>
        {
            Written::Unknown(last.to_owned())
        }
        None => Written::Nothing,
    }
}

/// The last part of a word such as `SpeedMph`.
fn camel_tail(word: &str) -> Option<&str> {
    let letters: Vec<(usize, char)> = word.char_indices().collect();
    let at = letters
        .windows(2)
        .rposition(|pair| pair[0].1.is_lowercase() && pair[1].1.is_uppercase())?;
    Some(&word[letters[at + 1].0..])
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
        use Quantity::{Speed, Temperature};
        for (name, quantity, unit) in [
            ("coolant_c", Temperature, Unit::Celsius),
            ("coolant_deg_f", Temperature, Unit::Fahrenheit),
            ("speed_km_h", Speed, Unit::KilometrePerHour),
            ("GPS Speed mph", Speed, Unit::MilePerHour),
            ("Speed/mph", Speed, Unit::MilePerHour),
            ("SpeedMph", Speed, Unit::MilePerHour),
            ("Speed ft/s", Speed, Unit::FootPerSecond),
            ("Coolant/°C", Temperature, Unit::Celsius),
        ] {
            assert_eq!(tail_unit(name, quantity), Written::Known(unit), "{name}");
        }
        assert_eq!(tail_unit("coolant_k", Speed), Written::Nothing);
        assert_eq!(tail_unit("coolant", Temperature), Written::Nothing);
    }

    #[test]
    fn what_must_be_a_unit_is_not_passed_over() {
        for text in [
            "0.1 °C",
            "parsec/h",
            "miles per day",
            "bar g",
            "x10",
            "cubits/s",
        ] {
            let (bare, written) = split_brackets(&format!("Speed ({text})"));
            assert_eq!(
                (bare.as_str(), written),
                ("Speed", Written::Unknown(text.to_owned()))
            );
        }
        let (_, square) = split_brackets("Speed [vs]");
        assert_eq!(square, Written::Unknown("vs".to_owned()));
        for text in ["ECU", "bank 1", "L/R", "engine out", "OBD2", "1"] {
            assert_eq!(
                split_brackets(&format!("Speed ({text})")).1,
                Written::Nothing,
                "{text}"
            );
            assert_eq!(
                split_brackets(&format!("Speed [{text}]")).1,
                Written::Nothing,
                "{text}"
            );
        }
        let (bare, written) = split_brackets("MAP kPa(a)");
        assert_eq!(
            (bare.as_str(), written),
            ("MAP", Written::Known(Unit::Kilopascal))
        );
        assert_eq!(
            split_brackets("MAP (kPa(a))").1,
            Written::Known(Unit::Kilopascal)
        );
        assert_eq!(
            tail_unit("Speed cubits/s", Quantity::Speed),
            Written::Unknown("cubits/s".to_owned())
        );
    }
}
