//! Random channels written in a random dialect are read back; random bytes never panic.

use encoding_rs::WINDOWS_1252;
use proptest::prelude::*;

use super::super::{ReadOptions, inspect_bytes, read_session_bytes};
use crate::session::Role;

#[derive(Debug, Clone)]
struct Dialect {
    delimiter: char,
    comma: bool,
    /// 0 UTF-8, 1 with a byte-order mark, 2 UTF-16LE with one, 3 Windows-1252.
    encoding: u8,
    preamble: bool,
    units_row: bool,
    trailing: bool,
    crlf: bool,
    /// 0 seconds, 1 milliseconds, 2 time of day, 3 ISO 8601.
    clock: u8,
}

fn dialects() -> impl Strategy<Value = Dialect> {
    (
        prop::sample::select(vec![',', ';', '\t', '|']),
        any::<bool>(),
        0u8..4,
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
        0u8..4,
    )
        .prop_map(
            |(delimiter, comma, encoding, preamble, units_row, trailing, crlf, clock)| {
                let comma = comma && delimiter != ',';
                Dialect {
                    delimiter,
                    comma,
                    encoding,
                    preamble,
                    units_row,
                    trailing,
                    crlf,
                    clock,
                }
            },
        )
}

/// Rows of coolant, speed and ambient in tenths, some of them missing.
fn rows() -> impl Strategy<Value = Vec<[Option<i32>; 3]>> {
    let cell = |low: i32, high: i32| prop::option::weighted(0.9, low..high);
    let row = (600i32..1200, cell(0, 3000), cell(-200, 450))
        .prop_map(|(coolant, speed, ambient)| [Some(coolant), speed, ambient]);
    // A temperature that leaps about is cleaned, a car that does so is refused; here they drift.
    prop::collection::vec(row, 30..120).prop_map(|mut rows| {
        for (i, row) in rows.iter_mut().enumerate() {
            row[0] = row[0].map(|c| 900 + c % 30 + i as i32 / 4);
            row[1] = row[1].map(|v| v % 100 + 20 * i as i32);
            row[2] = row[2].map(|a| 200 + a % 30);
        }
        rows
    })
}

fn number(tenths: i32, comma: bool) -> String {
    let text = format!(
        "{}{}.{}",
        if tenths < 0 { "-" } else { "" },
        tenths.abs() / 10,
        tenths.abs() % 10
    );
    if comma { text.replace('.', ",") } else { text }
}

fn time(row: usize, dialect: &Dialect) -> String {
    let tenths = row as i32;
    match dialect.clock {
        0 => number(tenths, dialect.comma),
        1 => format!("{}", row * 100),
        2 => format!("10:00:{:02}.{}", tenths / 10, tenths % 10),
        _ => format!("2024-05-04T10:00:{:02}.{}", tenths / 10, tenths % 10),
    }
}

fn write(rows: &[[Option<i32>; 3]], dialect: &Dialect) -> Vec<u8> {
    let unit = ["s", "°C", "km/h", "°C"];
    let unit = if dialect.clock == 1 {
        ["ms", unit[1], unit[2], unit[3]]
    } else {
        unit
    };
    let names = [
        "Time",
        "Kühlmitteltemperatur",
        "Geschwindigkeit",
        "Außentemperatur",
    ];
    let mut lines: Vec<Vec<String>> = Vec::new();
    if dialect.preamble {
        lines.push(vec!["Datum".into(), "04.05.2024".into()]);
        lines.push(vec!["Fahrer".into(), "eins".into()]);
        lines.push(vec![]);
    }
    let timed = dialect.clock < 2;
    if dialect.units_row {
        lines.push(names.iter().map(|n| (*n).to_owned()).collect());
        let units = unit.iter().enumerate();
        lines.push(
            units
                .map(|(i, u)| {
                    if i == 0 && !timed {
                        String::new()
                    } else {
                        (*u).to_owned()
                    }
                })
                .collect(),
        );
    } else {
        let named = names.iter().zip(unit).enumerate();
        lines.push(
            named
                .map(|(i, (n, u))| {
                    if i == 0 && !timed {
                        (*n).to_owned()
                    } else {
                        format!("{n} [{u}]")
                    }
                })
                .collect(),
        );
    }
    for (i, row) in rows.iter().enumerate() {
        let mut line = vec![time(i, dialect)];
        line.extend(
            row.iter()
                .map(|v| v.map_or(String::new(), |v| number(v, dialect.comma))),
        );
        lines.push(line);
    }
    let end = if dialect.crlf { "\r\n" } else { "\n" };
    let mut text = String::new();
    for line in lines {
        text += &line.join(&dialect.delimiter.to_string());
        if dialect.trailing && line.len() == 4 {
            text.push(dialect.delimiter);
        }
        text += end;
    }
    match dialect.encoding {
        0 => text.into_bytes(),
        1 => [b"\xEF\xBB\xBF", text.as_bytes()].concat(),
        2 => std::iter::once(0xFEFF)
            .chain(text.encode_utf16())
            .flat_map(u16::to_le_bytes)
            .collect(),
        _ => WINDOWS_1252.encode(&text).0.into_owned(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_written_is_read_back(rows in rows(), dialect in dialects()) {
        let bytes = write(&rows, &dialect);
        let session = read_session_bytes("r.csv", &bytes, &[], &ReadOptions::default())
            .map_err(|e| TestCaseError::fail(format!("{e}\n{}", String::from_utf8_lossy(&bytes))))?;
        let t_s = session.time_s();
        prop_assert_eq!(t_s.len(), rows.len());
        for (i, t) in t_s.iter().enumerate() {
            prop_assert!((t - i as f64 * 0.1).abs() < 1e-6, "row {}: {}", i, t);
        }
        for (at, role) in [Role::Coolant, Role::Speed, Role::Ambient].into_iter().enumerate() {
            let read = session.channel(role).unwrap();
            for (row, value) in rows.iter().zip(&read) {
                match row[at] {
                    Some(v) => prop_assert!((value - f64::from(v) / 10.0).abs() < 1e-9, "{:?} {:?} {}", role, row, value),
                    None => prop_assert!(value.is_nan()),
                }
            }
        }
    }

    #[test]
    fn bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        let _ = inspect_bytes("r.csv", &bytes, &ReadOptions::default());
        let _ = read_session_bytes("r.csv", &bytes, &[("o.csv", &bytes)], &ReadOptions::default());
    }

    #[test]
    fn debris_in_a_log_never_panics(
        head in "[ -~°äµ]{0,40}",
        cells in prop::collection::vec("[0-9:.,eT/ +-]{0,12}|[ -~]{0,8}|°C|nan|-|2024-05-04|10:00:0[0-9]", 3..200),
        width in 1usize..6,
        delimiter in prop::sample::select(vec![",", ";", "\t"]),
    ) {
        let mut text = format!("{head}\nTime{delimiter}Coolant [°C]{delimiter}Speed{delimiter}Lat{delimiter}Lon\n");
        for row in cells.chunks(width) {
            text += &row.join(delimiter);
            text.push('\n');
        }
        let _ = inspect_bytes("r.csv", text.as_bytes(), &ReadOptions::default());
        let _ = read_session_bytes("r.csv", text.as_bytes(), &[("o.csv", text.as_bytes())], &ReadOptions::default());
    }
}
