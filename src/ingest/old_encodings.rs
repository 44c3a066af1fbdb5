//! Encodings that the library of web encodings lacks: code page 850 of DOS, and UTF-32.

/// The upper half of code page 850 (IBM CDRA, code page 00850).
const CP_850: &str = "ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜø£Ø×ƒáíóúñÑªº¿®¬½¼¡«»░▒▓│┤ÁÂÀ©╣║╗╝¢¥┐└┴┬├─┼ãÃ╚╔╩╦╠═╬¤ðÐÊËÈıÍÎÏ┘┌█▄¦Ì▀ÓßÔÒõÕµþÞÚÛÙýÝ¯´\u{ad}±‗¾¶§÷¸°¨·¹³²■\u{a0}";

/// Whether bytes hold `°C` or `°F` as code page 850 has them.
pub(super) fn is_cp_850(bytes: &[u8]) -> bool {
    let mut pairs = bytes.windows(2);
    pairs.any(|pair| pair[0] == 0xF8 && b"CF".contains(&pair[1]))
}

/// Bytes in code page 850 as text.
pub(super) fn from_cp_850(bytes: &[u8]) -> String {
    let upper: Vec<char> = CP_850.chars().collect();
    let letter = |b: &u8| match b.checked_sub(0x80) {
        None => char::from(*b),
        Some(at) => upper.get(usize::from(at)).copied().unwrap_or('\u{fffd}'),
    };
    bytes.iter().map(letter).collect()
}

/// Text in UTF-32, with a byte-order mark or told by its zeros.
pub(super) fn from_utf_32(bytes: &[u8]) -> Option<(String, &'static str)> {
    let little = |four: &[u8]| u32::from_le_bytes([four[0], four[1], four[2], four[3]]);
    let big = |four: &[u8]| u32::from_be_bytes([four[0], four[1], four[2], four[3]]);
    let plain = |read: fn(&[u8]) -> u32| {
        let sample = bytes[..bytes.len().min(4096)].chunks_exact(4);
        sample.len() >= 8
            && sample
                .clone()
                .all(|four| char::from_u32(read(four)).is_some_and(|c| c >= '\t'))
    };
    let (read, name): (fn(&[u8]) -> u32, _) = match bytes {
        [0xFF, 0xFE, 0, 0, ..] => (little, "UTF-32LE"),
        [0, 0, 0xFE, 0xFF, ..] => (big, "UTF-32BE"),
        [_, 0, 0, 0, ..] if plain(little) => (little, "UTF-32LE"),
        [0, 0, 0, _, ..] if plain(big) => (big, "UTF-32BE"),
        _ => return None,
    };
    let letters = bytes
        .chunks_exact(4)
        .map(|four| char::from_u32(read(four)).unwrap_or('\u{fffd}'));
    Some((letters.filter(|c| *c != '\u{feff}').collect(), name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn code_page_850_is_told_by_its_degree_sign() {
        let bytes = b"K\x81hlmittel [\xF8C];\x99l";
        assert!(is_cp_850(bytes) && !is_cp_850(b"T [\xB0C]"));
        assert_eq!(from_cp_850(bytes), "Kühlmittel [°C];Öl");
    }

    #[test]
    fn utf_32_is_read_with_and_without_a_mark() {
        let text = "Zeit;Öl [°C]\n";
        let plain: Vec<u8> = text
            .chars()
            .flat_map(|c| (c as u32).to_be_bytes())
            .collect();
        let mut marked = vec![0xFF, 0xFE, 0, 0];
        marked.extend(text.chars().flat_map(|c| (c as u32).to_le_bytes()));
        for (bytes, name) in [(plain, "UTF-32BE"), (marked, "UTF-32LE")] {
            assert_eq!(from_utf_32(&bytes), Some((text.to_owned(), name)));
        }
        assert_eq!(from_utf_32(b"t,v\n0,1\n1,2\n"), None);
        assert_eq!(from_utf_32(&[0; 64]), None);
    }
}
