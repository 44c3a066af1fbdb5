//! Numbers and counts as sentences have them, wherever a sentence is made: a true minus sign, no `-0.0`, and
//! a word where there is no number.

/// What stands where there is no number.
pub const UNKNOWN: &str = "unknown";

/// A number with fixed decimals.
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return UNKNOWN.to_owned();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        None => text,
        Some(digits) if digits.chars().all(|c| c == '0' || c == '.') => digits.to_owned(),
        Some(digits) => format!("\u{2212}{digits}"),
    }
}

/// A change: a number that carries its sign, plus or minus.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    let is_zero = text.chars().all(|c| c == '0' || c == '.');
    if value > 0.0 && value.is_finite() && !is_zero {
        format!("+{text}")
    } else {
        text
    }
}

/// A name that the user gave, or a reason: in back-quotes, which no change of units enters.
pub fn quoted(name: &str) -> String {
    format!("`{}`", name.replace('`', "'"))
}

/// A word for a POSIX shell: in single quotes unless it is of harmless characters.
pub fn shell_word(word: &str) -> String {
    let harmless = |c: char| c.is_alphanumeric() || "-_./:=,+%".contains(c);
    if !word.is_empty() && word.chars().all(harmless) {
        return word.to_owned();
    }
    format!("'{}'", word.replace('\'', "'\\''"))
}

/// A clause as the start of a sentence.
pub fn capitalised(clause: &str) -> String {
    let mut letters = clause.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

/// A word for a count: `1 session`, `3 sessions`.
pub fn count(n: usize, word: &str) -> String {
    if n == 1 {
        format!("1 {word}")
    } else {
        format!("{n} {word}s")
    }
}
