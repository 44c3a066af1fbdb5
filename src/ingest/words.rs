//! Column names as plain words, and patterns of words.

/// Folds a name to lower-case words without accents, one blank between and around them:
/// `engineCoolant_Temp` and `Kühlmittel-Temp.` become ` engine coolant temp ` and
/// ` kuhlmittel temp `.
pub(super) fn fold(name: &str) -> String {
    let mut folded = String::with_capacity(name.len() + 2);
    folded.push(' ');
    let mut before = ' ';
    for c in name.chars() {
        if c.is_uppercase() && before.is_lowercase() && !folded.ends_with(' ') {
            folded.push(' ');
        }
        before = c;
        let lower = c.to_lowercase().next().unwrap_or(c);
        match plain_letter(lower) {
            Some(text) => folded.push_str(text),
            None if lower.is_alphanumeric() => folded.push(lower),
            None if !folded.ends_with(' ') => folded.push(' '),
            None => {}
        }
    }
    if !folded.ends_with(' ') {
        folded.push(' ');
    }
    folded
}

fn plain_letter(c: char) -> Option<&'static str> {
    Some(match c {
        'ä' | 'à' | 'á' | 'â' | 'ã' | 'å' => "a",
        'è' | 'é' | 'ê' | 'ë' => "e",
        'ì' | 'í' | 'î' | 'ï' => "i",
        'ö' | 'ò' | 'ó' | 'ô' | 'õ' => "o",
        'ü' | 'ù' | 'ú' | 'û' => "u",
        'ñ' => "n",
        'ç' => "c",
        'ß' => "ss",
        _ => return None,
    })
}

/// Whether folded text has any of the alternatives, parted by `|`: `=word` is a whole word,
/// `^word` the beginning of one, anything else may stand anywhere.
pub(super) fn has_any(folded: &str, alternatives: &str) -> bool {
    alternatives
        .split('|')
        .any(|alternative| match alternative.as_bytes().first() {
            None => false,
            Some(b'=') => find_bounded(folded, &alternative[1..], true),
            Some(b'^') => find_bounded(folded, &alternative[1..], false),
            Some(_) => folded.contains(alternative),
        })
}

/// Whether a name says that a pressure counts from the air outside.
pub(super) fn of_gauge(name: &str) -> bool {
    has_any(
        &fold(name),
        "=rel|=relative|=relativ|=gauge|=gage|uberdruck|ueberdruck|=psig|=barg|=kpag",
    )
}

fn find_bounded(folded: &str, word: &str, whole: bool) -> bool {
    let bytes = folded.as_bytes();
    folded.match_indices(word).any(|(at, _)| {
        let end = at + word.len();
        at > 0 && bytes[at - 1] == b' ' && (!whole || bytes.get(end) == Some(&b' '))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_fold_to_words() {
        assert_eq!(fold("engineCoolant_Temp."), " engine coolant temp ");
        assert_eq!(fold("Kühlmittel-Temperatur"), " kuhlmittel temperatur ");
        assert_eq!(fold("Température d'air"), " temperature d air ");
        assert_eq!(fold(""), " ");
    }

    #[test]
    fn patterns_respect_word_bounds() {
        assert!(has_any(" map kpa ", "=map|=baro"));
        assert!(!has_any(" mapping ", "=map"));
        assert!(has_any(" oltemperatur ", "^oltemp"));
        assert!(!has_any(" kontrolltemp ", "^olltemp"));
        assert!(!has_any(" x ", ""));
    }
}
