//! Bytes to text: byte-order marks, UTF-16, UTF-8, the older 8-bit encodings, binary debris.

use std::borrow::Cow;

use chardetng::{EncodingDetector, Iso2022JpDetection, Utf8Detection};
use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};
use rayon::prelude::*;

use super::old_encodings::{from_cp_850, from_utf_32, is_cp_850};

/// Bytes looked through in one go.
const BLOCK: usize = 1 << 16;

/// A file as text with `\n` line ends.
#[derive(Debug, Clone)]
pub(super) struct Decoded<'a> {
    /// The text. A damaged line is left empty, so that line numbers hold.
    pub text: Cow<'a, str>,
    /// Name of the encoding found.
    pub encoding: &'static str,
    /// Lines with control bytes that no text has.
    pub damaged_lines: usize,
}

/// Decodes `bytes`.
pub(super) fn decode(bytes: &[u8]) -> Decoded<'_> {
    if let Some((text, encoding)) = from_utf_32(bytes) {
        let (text, damaged_lines) = blank_damaged(text.as_bytes());
        let text = String::from_utf8_lossy(&text).into_owned();
        return finish(text.into(), encoding, damaged_lines);
    }
    let (encoding, body) = match Encoding::for_bom(bytes) {
        Some((encoding, length)) => (Some(encoding), &bytes[length..]),
        None => (utf_16_by_zeros(bytes), bytes),
    };
    match encoding {
        Some(wide) if wide == UTF_16LE || wide == UTF_16BE => {
            let (text, _) = wide.decode_without_bom_handling(body);
            let (text, damaged_lines) = blank_damaged(text.as_bytes());
            let text = String::from_utf8_lossy(&text).into_owned();
            finish(text.into(), wide.name(), damaged_lines)
        }
        _ => {
            let (clean, damaged_lines) = blank_damaged(body);
            match utf_8(clean) {
                Ok(text) => finish(text, UTF_8.name(), damaged_lines),
                Err(clean) if is_cp_850(&clean) => {
                    finish(from_cp_850(&clean).into(), "IBM850", damaged_lines)
                }
                Err(clean) => {
                    let encoding = eight_bit(&clean);
                    let (text, _) = encoding.decode_without_bom_handling(&clean);
                    finish(text.into_owned().into(), encoding.name(), damaged_lines)
                }
            }
        }
    }
}

/// The bytes as text where they are UTF-8, without copying them; else the bytes again.
fn utf_8(bytes: Cow<'_, [u8]>) -> Result<Cow<'_, str>, Cow<'_, [u8]>> {
    match bytes {
        Cow::Borrowed(bytes) => std::str::from_utf8(bytes)
            .map(Cow::Borrowed)
            .map_err(|_| Cow::Borrowed(bytes)),
        Cow::Owned(bytes) => String::from_utf8(bytes)
            .map(Cow::Owned)
            .map_err(|error| Cow::Owned(error.into_bytes())),
    }
}

fn finish<'a>(text: Cow<'a, str>, encoding: &'static str, damaged_lines: usize) -> Decoded<'a> {
    let text = if text.contains('\r') {
        text.replace("\r\n", "\n").replace('\r', "\n").into()
    } else {
        text
    };
    let text = if text.as_bytes().contains(&FULL_WIDTH_LEAD) && text.contains(is_full_width) {
        text.chars().map(half_width).collect::<String>().into()
    } else {
        text
    };
    Decoded {
        text,
        encoding,
        damaged_lines,
    }
}

/// The first byte of full-width letters in UTF-8.
const FULL_WIDTH_LEAD: u8 = 0xEF;

/// Letters and figures as wide as a Chinese or Japanese one (Unicode block FF00).
fn is_full_width(c: char) -> bool {
    ('\u{ff01}'..='\u{ff5e}').contains(&c)
}

/// The usual letter for a full-width one.
fn half_width(c: char) -> char {
    let usual = || char::from_u32(c as u32 - 0xfee0);
    is_full_width(c).then(usual).flatten().unwrap_or(c)
}

/// UTF-16 without a byte-order mark: every second byte of plain text is zero.
fn utf_16_by_zeros(bytes: &[u8]) -> Option<&'static Encoding> {
    let sample = &bytes[..bytes.len().min(4096)];
    let pairs = sample.len() / 2;
    if pairs < 8 {
        return None;
    }
    let zeros = |at: usize| sample.chunks_exact(2).filter(|pair| pair[at] == 0).count();
    let (first, second) = (zeros(0), zeros(1));
    if second * 10 > pairs * 7 && first * 10 < pairs {
        Some(UTF_16LE)
    } else if first * 10 > pairs * 7 && second * 10 < pairs {
        Some(UTF_16BE)
    } else {
        None
    }
}

/// The 8-bit encoding of text that is no UTF-8. One degree sign is too little for statistics,
/// so Windows-1252 (which has Latin-1 in it) is taken wherever it gives one before C or F.
fn eight_bit(bytes: &[u8]) -> &'static Encoding {
    let degree = bytes
        .windows(2)
        .any(|pair| pair[0] == 0xB0 && b"CFcf".contains(&pair[1]));
    if degree {
        return WINDOWS_1252;
    }
    let mut detector = EncodingDetector::new(Iso2022JpDetection::Deny);
    detector.feed(bytes, true);
    detector.guess(None, Utf8Detection::Deny)
}

/// Empties every line that holds control bytes: what a logger leaves when it loses power.
fn blank_damaged(bytes: &[u8]) -> (Cow<'_, [u8]>, usize) {
    // 0x1A ends a text file on some old systems.
    let beyond_text = |b: u8| b == 0x7F || (b < 0x20 && b != b'\t' && b != b'\r' && b != b'\n');
    // Whole blocks without a way out: the processor then takes many bytes at a time.
    let clean = |block: &[u8]| !block.iter().fold(false, |found, b| found | beyond_text(*b));
    if bytes.par_chunks(BLOCK).all(clean) {
        return (Cow::Borrowed(bytes), 0);
    }
    let control = |b: &u8| beyond_text(*b) && *b != 0x1A;
    let mut kept = Vec::with_capacity(bytes.len());
    let mut damaged = 0;
    for line in bytes.split_inclusive(|b| *b == b'\n') {
        if line.iter().any(control) {
            damaged += 1;
            if line.ends_with(b"\n") {
                kept.push(b'\n');
            }
        } else {
            kept.extend(line.iter().filter(|b| **b != 0x1A));
        }
    }
    (Cow::Owned(kept), damaged)
}

/// Undoes text that was UTF-8, read as Windows-1252 and encoded again: `Â°` becomes `°`.
pub(super) fn repair_double_encoding(text: &str) -> String {
    let mut current = text.to_owned();
    // Some files went round twice.
    for _ in 0..2 {
        if current.is_ascii() {
            break;
        }
        let (bytes, _, lossy) = WINDOWS_1252.encode(&current);
        if lossy {
            break;
        }
        match String::from_utf8(bytes.into_owned()) {
            Ok(repaired) => current = repaired,
            Err(_) => break,
        }
    }
    current
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn encodings_are_recognised() {
        let wide: Vec<u8> = "Zeit;Öl [°C]\r\n1;2\r\n"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        let mut marked = vec![0xFF, 0xFE];
        marked.extend(&wide);
        for (bytes, encoding) in [
            (
                b"\xEF\xBB\xBFZeit;\xC3\x96l [\xC2\xB0C]\n1;2\n".to_vec(),
                "UTF-8",
            ),
            (b"Zeit;\xD6l [\xB0C]\n1;2\n".to_vec(), "windows-1252"),
            (wide, "UTF-16LE"),
            (marked, "UTF-16LE"),
        ] {
            let decoded = decode(&bytes);
            assert_eq!(
                (&*decoded.text, decoded.encoding),
                ("Zeit;Öl [°C]\n1;2\n", encoding)
            );
        }
    }

    #[test]
    fn double_encoding_is_undone_and_sound_text_left_alone() {
        assert_eq!(repair_double_encoding("T [Â°C]"), "T [°C]");
        assert_eq!(repair_double_encoding("KÃ¼hlmittel"), "Kühlmittel");
        for sound in ["T [°C]", "Kühlmittel", "température", "plain", "℃"] {
            assert_eq!(repair_double_encoding(sound), sound);
        }
    }

    #[test]
    fn binary_debris_leaves_the_line_numbers_alone() {
        let decoded = decode(b"a,b\n1,2\n\x00\x01\xFF\n3,4\n\x00\x00");
        assert_eq!(decoded.text, "a,b\n1,2\n\n3,4\n");
        assert_eq!(decoded.damaged_lines, 2);
    }
}
