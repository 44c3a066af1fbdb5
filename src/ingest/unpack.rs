//! A log packed with gzip, unpacked in memory; other containers are named.

use std::borrow::Cow;
use std::io::Read;

use flate2::read::MultiGzDecoder;

use super::error::IngestError;
use super::no_table::no_table;
use crate::warning::Warning;

/// A text log packs some 5 to 20 to one; what unpacks to more than this share is no log.
const MOST_TO_ONE: u64 = 200;
const MOST_BYTES: u64 = 2 << 30;

/// The bytes of the log itself. A packed file that breaks off gives what came before.
pub(super) fn unpack<'a>(
    file: &str,
    bytes: &'a [u8],
    warnings: &mut Vec<Warning>,
) -> Result<Cow<'a, [u8]>, IngestError> {
    if bytes.starts_with(b"PK\x03\x04") {
        let why = "it is a zip archive or a spreadsheet; unpack it, or save the sheet as CSV";
        return Err(no_table(file, why));
    }
    if !bytes.starts_with(&[0x1F, 0x8B]) {
        return Ok(Cow::Borrowed(bytes));
    }
    let most = (MOST_TO_ONE * bytes.len() as u64 + 65_536).min(MOST_BYTES);
    let mut text = Vec::new();
    let read = MultiGzDecoder::new(bytes)
        .take(most + 1)
        .read_to_end(&mut text);
    if text.len() as u64 > most {
        return Err(no_table(file, "it unpacks to more than a log can be"));
    }
    match read {
        Ok(_) => {}
        Err(error) if text.is_empty() => {
            return Err(no_table(file, &format!("it cannot be unpacked: {error}")));
        }
        Err(error) => warnings.push(Warning::caution(
            "packed-file-breaks-off",
            format!("the packed file breaks off ({error}); what came before was read"),
        )),
    }
    Ok(Cow::Owned(text))
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use flate2::Compression;
    use flate2::write::GzEncoder;

    use super::*;

    fn packed(text: &[u8]) -> Vec<u8> {
        let mut encoder = GzEncoder::new(Vec::new(), Compression::default());
        encoder.write_all(text).unwrap();
        encoder.finish().unwrap()
    }

    #[test]
    fn packed_text_comes_back_and_a_torn_one_as_far_as_it_goes() {
        let text: Vec<u8> = (0..2000)
            .flat_map(|i| format!("{i},{}\n", i * i % 97).into_bytes())
            .collect();
        let whole = packed(&text);
        let mut warnings = Vec::new();
        assert_eq!(*unpack("a", &whole, &mut warnings).unwrap(), *text);
        assert!(warnings.is_empty());
        let torn = unpack("a", &whole[..whole.len() / 2], &mut warnings).unwrap();
        assert!(text.starts_with(&torn) && torn.len() > 1000);
        assert_eq!(warnings[0].id, "packed-file-breaks-off");
    }

    #[test]
    fn what_is_no_log_is_refused() {
        let mut warnings = Vec::new();
        assert!(unpack("a", &packed(&vec![b'0'; 50 << 20]), &mut warnings).is_err());
        assert!(unpack("a", &[0x1F, 0x8B, 9, 9], &mut warnings).is_err());
        let zip = unpack("a", b"PK\x03\x04...", &mut warnings).unwrap_err();
        assert!(zip.message().contains("zip archive"), "{zip}");
    }
}
