//! Rarer ways to write dates and times, brought into the usual one.

use super::words::fold;

/// Names of months, in the languages that loggers speak, by their beginnings.
const MONTHS: [(&str, &str); 12] = [
    ("jan|gen|ene", "Jan"),
    ("feb|fev", "Feb"),
    ("mar|mrz|maer", "Mar"),
    ("apr|avr|abr", "Apr"),
    ("mai|may|mag", "May"),
    ("jun|juin|giu", "Jun"),
    ("jul|juil|lug", "Jul"),
    ("aug|aou|ago", "Aug"),
    ("sep|set", "Sep"),
    ("oct|okt|ott", "Oct"),
    ("nov", "Nov"),
    ("dec|dez|dic", "Dec"),
];

/// A date whose month is a word, with the month in English; words such as `de` are left out.
pub(super) fn english_months(text: &str) -> String {
    let english = |word: &str| {
        let folded = fold(word);
        let folded = folded.trim();
        let named = |names: &str| names.split('|').any(|name| folded.starts_with(name));
        let month = MONTHS.iter().find(|(names, _)| named(names));
        match month {
            Some((_, english)) => (*english).to_owned(),
            None => word.to_owned(),
        }
    };
    let dashed = |word: &str| word.split('-').map(english).collect::<Vec<_>>().join("-");
    let words = text
        .split_whitespace()
        .filter(|word| !matches!(*word, "de" | "del" | "of"));
    words.map(dashed).collect::<Vec<_>>().join(" ")
}

/// A time in one of the rarer forms as it is usually written; `None`: in none of them.
pub(super) fn usual(text: &str) -> Option<String> {
    let text = text.trim();
    let usual = packed(text)
        .or_else(|| without_zone_name(text))
        .or_else(|| time_in_the_midst(text))
        .or_else(|| lettered(text))
        .or_else(|| dotted(text))?;
    (usual != text).then_some(usual)
}

/// `20310517T142000.5`, `20310517_142000`, `20310517142000`.
fn packed(text: &str) -> Option<String> {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let (date, clock) = (text.get(..8)?, text.get(8..)?);
    let clock = clock.trim_start_matches(['T', '_', ' ', '-']);
    let (whole, rest) = (clock.get(..6)?, clock.get(6..)?);
    let ends = rest.is_empty() || rest.starts_with(['.', ',', 'Z', '+', '-']);
    (digits(date) && digits(whole) && ends).then(|| {
        format!(
            "{}-{}-{} {}:{}:{}{rest}",
            &date[..4],
            &date[4..6],
            &date[6..],
            &whole[..2],
            &whole[2..4],
            &whole[4..]
        )
    })
}

/// `14:20:00 CEST`: the name of a zone tells no offset here.
fn without_zone_name(text: &str) -> Option<String> {
    let (before, zone) = text.rsplit_once(' ')?;
    let name = (3..=5).contains(&zone.len()) && zone.bytes().all(|b| b.is_ascii_uppercase());
    (name && before.contains(':')).then(|| match zone {
        "UTC" | "GMT" => format!("{before}Z"),
        _ => before.to_owned(),
    })
}

/// `Sat May 17 14:20:00 2031`.
fn time_in_the_midst(text: &str) -> Option<String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let at = words.iter().position(|word| word.contains(':'))?;
    let letters = text.contains(char::is_alphabetic);
    (letters && at > 0 && at + 2 == words.len() && words[at + 1].len() == 4).then(|| {
        let date: Vec<&str> = words[..at]
            .iter()
            .chain(&words[at + 1..])
            .copied()
            .collect();
        format!("{} {}", date.join(" "), words[at])
    })
}

/// `14h20m00`, `14h20`, with or without a date before it.
fn lettered(text: &str) -> Option<String> {
    let (date, clock) = text.rsplit_once(' ').unwrap_or(("", text));
    let (hour, rest) = clock.split_once(['h', 'H'])?;
    let (minute, second) = rest.split_once(['m', 'M']).unwrap_or((rest, "00"));
    let second = second.trim_end_matches(['i', 'n', 's']);
    let second = if second.is_empty() { "00" } else { second };
    let figures = |text: &str| text.starts_with(|c: char| c.is_ascii_digit());
    (figures(hour) && figures(minute) && figures(second))
        .then(|| format!("{date} {hour}:{minute}:{second}").trim().to_owned())
}

/// `17.05.2031 14.20.00`.
fn dotted(text: &str) -> Option<String> {
    let (date, clock) = text.rsplit_once(' ')?;
    let parts: Vec<&str> = clock.split('.').collect();
    let two = |part: &&str| part.len() == 2 && part.bytes().all(|b| b.is_ascii_digit());
    (parts.len() == 3 && parts.iter().all(two)).then(|| format!("{date} {}", parts.join(":")))
}
