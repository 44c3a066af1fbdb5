//! Bytes in hexadecimal: how hashes are written.

/// Two digits a byte, lower case.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
