//! One session written in seven dialects gives the same channels, within what each was written to.

use std::io::Write;

use encoding_rs::WINDOWS_1252;
use flate2::Compression;
use flate2::write::GzEncoder;

use super::super::{ReadOptions, read_session_bytes};
use crate::session::{Role, Session};

const ROWS: u32 = 400;
const STEP_S: f64 = 0.5;

/// What the car did: coolant °C, speed km/h, outside °C.
fn truth(t: f64) -> [f64; 3] {
    [
        84.0 + 9.0 * (t / 60.0).sin(),
        110.0 + 45.0 * (t / 14.0).sin(),
        19.0 + t / 400.0,
    ]
}

fn times() -> impl Iterator<Item = f64> {
    (0..ROWS).map(|i| f64::from(i) * STEP_S)
}

fn day_clock(t: f64) -> String {
    let s = 36_000.0 + t;
    let (h, m) = ((s / 3600.0) as u32, (s / 60.0) as u32 % 60);
    format!("{h:02}:{m:02}:{:04.1}", s % 60.0)
}

/// A table from a head and a row for each time.
fn table(head: &str, row: impl Fn(f64) -> String) -> String {
    format!(
        "{head}\n{}",
        times().map(|t| row(t) + "\n").collect::<String>()
    )
}

fn plain_english() -> Vec<u8> {
    let row = |t: f64| {
        let [c, v, a] = truth(t);
        format!("{t:.1},{c:.2},{v:.2},{a:.2}")
    };
    table(
        "Time [s],Coolant temp [°C],Vehicle speed [km/h],Ambient temp [°C]",
        row,
    )
    .into_bytes()
}

fn german_with_preamble() -> Vec<u8> {
    let row = |t: f64| {
        let [c, v, a] = truth(t);
        format!("{};{c:.1};{v:.1};{a:.1}", day_clock(t)).replace('.', ",")
    };
    let head = "Datum;04.05.2031\nFahrer;eins\n\nUhrzeit;Kühlmitteltemperatur;Geschwindigkeit;\
                Außentemperatur\n;°C;km/h;°C";
    WINDOWS_1252.encode(&table(head, row)).0.into_owned()
}

fn american_units_in_utf_16() -> Vec<u8> {
    let row = |t: f64| {
        let [c, v, a] = truth(t);
        let f = |c: f64| c * 1.8 + 32.0;
        format!(
            "{:.0}\t{:.1}\t{:.1}\t{:.1}",
            t * 1000.0,
            f(c),
            v / 1.609_344,
            f(a)
        )
    };
    let text = table("time_ms\tECT (°F)\tVSS (mph)\tAAT (°F)", row);
    let units = std::iter::once(0xFEFF).chain(text.encode_utf16());
    units.flat_map(u16::to_le_bytes).collect()
}

/// Whole degrees and km/h, one parameter a row in turn, as a polled bus gives them.
fn polled_with_blanks() -> Vec<u8> {
    let row = |t: f64| {
        let [c, v, a] = truth(t).map(f64::round);
        match (t / STEP_S) as u32 % 3 {
            0 => format!("{},{c},,", day_clock(t)),
            1 => format!("{},,{v},", day_clock(t)),
            _ => format!("{},,,{a}", day_clock(t)),
        }
    };
    let head = "Time,ENGINE_COOLANT_TEMP [°C],VEHICLE_SPEED [km/h],AMBIENT_AIR_TEMP [°C]";
    table(head, row).into_bytes()
}

fn long_french() -> Vec<u8> {
    let row = |t: f64| {
        let [c, v, a] = truth(t);
        let time = format!("2031-05-04T{}Z", day_clock(t));
        format!(
            "{time}|Température liquide de refroidissement|{c:.2}|°C\n\
             {time}|Vitesse véhicule|{:.3}|m/s\n{time}|Température extérieure|{a:.2}|°C",
            v / 3.6
        )
    };
    table("Horodatage|Paramètre|Valeur|Unité", row).into_bytes()
}

fn own_clocks() -> Vec<u8> {
    let row = |t: f64| {
        let [c, v, a] = truth(t);
        format!("{t};{c:.2};{t};{v:.2};{t};{a:.2}")
    };
    let head = "Time [s];T acqua [°C];Time [s];Velocità [km/h];Time [s];T esterna [°C]";
    // Clocks that never differ are one: here the last is a row late.
    let text = table(head, row).replace("\n0;84.00;0;110.00;0;19.00\n", "\n0;84.00;0;110.00;;\n");
    text.into_bytes()
}

fn packed_kelvin() -> Vec<u8> {
    let row = |t: f64| {
        let [c, v, a] = truth(t);
        format!(
            "{},{:.2},{v:.2},{:.2}",
            1_935_655_200.0 + t,
            c + 273.15,
            a + 273.15
        )
    };
    let text = table("timestamp,coolant_k,speed_kmh,ambient_k", row);
    let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
    packed.write_all(text.as_bytes()).unwrap();
    packed.finish().unwrap()
}

fn read(name: &str, bytes: &[u8]) -> Session {
    read_session_bytes(name, bytes, &[], &ReadOptions::default())
        .unwrap_or_else(|e| panic!("{name}: {e}"))
}

#[test]
fn seven_dialects_of_one_session_say_the_same() {
    for (name, bytes) in [
        ("plain_english", plain_english()),
        ("german_with_preamble", german_with_preamble()),
        ("american_units_in_utf_16", american_units_in_utf_16()),
        ("polled_with_blanks", polled_with_blanks()),
        ("long_french", long_french()),
        ("own_clocks", own_clocks()),
        ("packed_kelvin", packed_kelvin()),
    ] {
        let session = read(name, &bytes);
        let t_s = session.time_s();
        assert_eq!(t_s.len(), ROWS as usize, "{name}");
        for (at, role) in [Role::Coolant, Role::Speed, Role::Ambient]
            .into_iter()
            .enumerate()
        {
            let values = session.channel(role).unwrap();
            // Half of the step that the dialect writes, in its own unit brought to ours.
            let within = match (name, role) {
                ("polled_with_blanks", _) => 0.5,
                ("german_with_preamble", _) => 0.05,
                ("american_units_in_utf_16", Role::Speed) => 0.05 * 1.609_344,
                ("american_units_in_utf_16", _) => 0.05 / 1.8,
                ("long_french", Role::Speed) => 0.0005 * 3.6,
                _ => 0.005,
            };
            let mut compared = 0;
            for (t, value) in t_s.iter().zip(&values).filter(|(_, v)| !v.is_nan()) {
                let off = (value - truth(*t)[at]).abs();
                assert!(off <= within + 1e-9, "{name} {role:?} at {t}: off by {off}");
                compared += 1;
            }
            assert!(compared >= ROWS / 3, "{name} {role:?}: {compared}");
        }
    }
}
