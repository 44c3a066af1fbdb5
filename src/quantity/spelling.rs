//! One spelling for the many in which a unit is written.

/// Words for degrees that stand before the name of a scale.
const DEGREES: [&str; 9] = [
    "degrees", "degrés", "degree", "degré", "grados", "grado", "gradi", "grad", "deg",
];

/// A unit's text in lower case without blanks, brackets and dots of abbreviations, with one sign
/// for each of degree, minus and power, and with one word above and one below its slash:
/// `miles per hour` becomes `mi/h`, `m·s⁻¹` becomes `ms-1`, `Grad Celsius` becomes `°celsius`.
pub(super) fn plain(text: &str) -> String {
    let mut plain = String::new();
    let text = text.replace("&deg;", "°").replace('㎞', "km");
    for c in text.chars().flat_map(char::to_lowercase) {
        match c {
            '²' => plain.push('2'),
            '³' => plain.push('3'),
            '¹' => plain.push('1'),
            '˚' | 'º' | '∘' => plain.push('°'),
            '⁻' | '−' | '–' => plain.push('-'),
            '·' | '⋅' | '∙' | '*' | '_' | '(' | ')' | '[' | ']' => {}
            // A dot after a letter abbreviates.
            '.' if plain.ends_with(char::is_alphabetic) => {}
            c if c.is_whitespace() => {}
            c => plain.push(c),
        }
    }
    let scale = DEGREES
        .iter()
        .find_map(|word| plain.strip_prefix(word))
        .filter(|scale| !scale.is_empty());
    if let Some(scale) = scale {
        return format!("°{scale}");
    }
    match plain.split_once('/').or_else(|| plain.split_once("per")) {
        Some((above, below)) if !below.is_empty() && !plain.starts_with("per") => {
            format!("{}/{}", short_above(above), short_below(below))
        }
        _ => plain,
    }
}

fn short_above(word: &str) -> &str {
    match word {
        "mile" | "miles" => "mi",
        "kilometer" | "kilometers" | "kilometre" | "kilometres" => "km",
        "meter" | "meters" | "metre" | "metres" => "m",
        "foot" | "feet" => "ft",
        "liter" | "liters" | "litre" | "litres" => "l",
        "gallon" | "gallons" => "gal",
        "pound" | "pounds" | "lbs" | "lbm" => "lb",
        "cc" | "cm3" | "ccm" => "ml",
        "r" | "u" | "tr" | "giri" | "rev" | "revs" | "revolutions" | "" => "1",
        other => other,
    }
}

fn short_below(word: &str) -> &str {
    match word {
        "hr" | "hour" | "std" | "u" => "h",
        "sec" | "second" => "s",
        "mn" | "minute" => "min",
        "cm^2" => "cm2",
        other => other,
    }
}
