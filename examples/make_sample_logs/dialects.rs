//! The forms in which loggers write.

use std::collections::BTreeMap;
use std::fmt::Write;

use chrono::{Duration, NaiveDateTime};
use encoding_rs::WINDOWS_1252;
use heatbook::session::Role;

use crate::simulator::SimSession;

/// Seconds from the session's beginning, and channels by role.
pub type Log = (Vec<f64>, BTreeMap<Role, Vec<f64>>);

/// One column of a file.
struct Column {
    role: Role,
    name: &'static str,
    unit: &'static str,
    /// Written value over the value inside.
    factor: f64,
    decimals: usize,
}

const fn column(role: Role, name: &'static str, unit: &'static str, decimals: usize) -> Column {
    Column {
        role,
        name,
        unit,
        factor: 1.0,
        decimals,
    }
}

const COMMA: [Column; 10] = [
    column(Role::Speed, "Vehicle speed", "km/h", 0),
    column(Role::Rpm, "Engine speed", "rpm", 0),
    column(Role::Coolant, "Coolant temperature", "°C", 0),
    column(Role::Oil, "Oil temperature", "°C", 0),
    column(Role::Intake, "Intake air temperature", "°C", 0),
    column(Role::Ambient, "Ambient temperature", "°C", 0),
    column(Role::FuelRate, "Fuel rate", "L/h", 2),
    column(Role::Throttle, "Throttle position", "%", 1),
    column(Role::ManifoldPressure, "Manifold pressure", "kPa", 0),
    column(Role::BarometricPressure, "Barometric pressure", "kPa", 1),
];

const SEMICOLON: [Column; 10] = [
    column(Role::Coolant, "Kühlmitteltemperatur", "°C", 0),
    column(Role::Oil, "Öltemperatur", "°C", 0),
    column(Role::Ambient, "Außentemperatur", "°C", 0),
    column(Role::Intake, "Ansauglufttemperatur", "°C", 0),
    column(Role::Speed, "Geschwindigkeit", "km/h", 0),
    column(Role::Rpm, "Motordrehzahl", "1/min", 0),
    column(Role::FuelRate, "Kraftstoffverbrauch", "L/h", 2),
    column(Role::Throttle, "Drosselklappe", "%", 1),
    Column {
        factor: 0.01,
        ..column(Role::ManifoldPressure, "Saugrohrdruck", "bar", 2)
    },
    Column {
        factor: 10.0,
        ..column(Role::BarometricPressure, "Luftdruck", "hPa", 0)
    },
];

const TAB: [Column; 9] = [
    column(Role::Coolant, "ENGINE_COOLANT_TEMP", "°C", 0),
    column(Role::Speed, "VEHICLE_SPEED", "km/h", 0),
    column(Role::Rpm, "ENGINE_RPM", "rpm", 0),
    column(Role::AirFlow, "MAF", "g/s", 1),
    column(Role::Throttle, "THROTTLE_POS", "%", 1),
    column(Role::ManifoldPressure, "INTAKE_MANIFOLD_PRESSURE", "kPa", 0),
    column(Role::Intake, "INTAKE_AIR_TEMP", "°C", 0),
    column(Role::Ambient, "AMBIENT_AIR_TEMP", "°C", 0),
    column(Role::BarometricPressure, "BAROMETRIC_PRESSURE", "kPa", 1),
];

const SECOND: [Column; 5] = [
    column(Role::Speed, "GPS speed", "km/h", 1),
    column(Role::Coolant, "Coolant", "°C", 0),
    column(Role::Oil, "Oil temp", "°C", 0),
    column(Role::Ambient, "Ambient", "°C", 0),
    column(Role::Intake, "Intake air", "°C", 0),
];

/// How far the second device's clock stands ahead at the start, s, and how much it gains.
const SECOND_AHEAD_S: f64 = 128.6;
const SECOND_GAINS_PPM: f64 = 30.0;

/// Comma, units in brackets behind the name, ISO time.
pub fn comma(session: &SimSession, log: &Log) -> String {
    let time = |t: f64| iso(session.start, t);
    table(
        log,
        &COMMA,
        "Time",
        ",",
        |c| format!("{} ({})", c.name, c.unit),
        time,
    )
}

/// As [`comma`], on a clock of its own.
pub fn second_device(session: &SimSession, log: &Log) -> String {
    let time = |t: f64| {
        iso(
            session.start,
            SECOND_AHEAD_S + t * (1.0 + SECOND_GAINS_PPM * 1e-6),
        )
    };
    table(
        log,
        &SECOND,
        "Timestamp",
        ",",
        |c| format!("{} [{}]", c.name, c.unit),
        time,
    )
}

/// Tab, time of day without a day.
pub fn tab(session: &SimSession, log: &Log) -> String {
    let time = |t: f64| at(session.start, t).format("%H:%M:%S").to_string();
    table(
        log,
        &TAB,
        "TIME",
        "\t",
        |c| format!("{} [{}]", c.name, c.unit),
        time,
    )
}

/// Semicolon, decimal comma, Windows-1252, a preamble with the date, a row of units.
pub fn semicolon(session: &SimSession, log: &Log) -> Vec<u8> {
    let mut text = format!(
        "Fahrzeug;Versuchsträger 3\r\nDatum;{}\r\nUhrzeit;{}\r\n\r\n",
        session.start.format("%d.%m.%Y"),
        session.start.format("%H:%M:%S")
    );
    let body = table(
        log,
        &SEMICOLON,
        "Zeit",
        ";",
        |c| c.name.to_owned(),
        |t| format!("{t:.1}"),
    );
    let mut lines = body.lines();
    let line = |text: &mut String, line: &str| {
        text.push_str(line);
        text.push_str("\r\n");
    };
    line(&mut text, lines.next().unwrap_or_default());
    let units: Vec<&str> = std::iter::once("s")
        .chain(SEMICOLON.iter().map(|c| c.unit))
        .collect();
    line(&mut text, &units.join(";"));
    for row in lines {
        line(&mut text, &row.replace('.', ","));
    }
    WINDOWS_1252.encode(&text).0.into_owned()
}

/// Header and rows; columns that were not logged are left out.
fn table(
    log: &Log,
    columns: &[Column],
    time_name: &str,
    delimiter: &str,
    heading: impl Fn(&Column) -> String,
    time: impl Fn(f64) -> String,
) -> String {
    let (t_s, channels) = log;
    let logged: Vec<(&Column, &Vec<f64>)> = columns
        .iter()
        .filter_map(|c| Some((c, channels.get(&c.role)?)))
        .collect();
    let mut text = time_name.to_owned();
    for (column, _) in &logged {
        text.push_str(delimiter);
        text.push_str(&heading(column));
    }
    text.push('\n');
    for (i, &t) in t_s.iter().enumerate() {
        text.push_str(&time(t));
        for (column, values) in &logged {
            let written = column.factor * values[i];
            // Adding zero turns minus nought into nought.
            let _ = write!(text, "{delimiter}{:.*}", column.decimals, written + 0.0);
        }
        text.push('\n');
    }
    text
}

fn at(start: NaiveDateTime, t_s: f64) -> NaiveDateTime {
    start + Duration::milliseconds((t_s * 1e3).round() as i64)
}

fn iso(start: NaiveDateTime, t_s: f64) -> String {
    at(start, t_s).format("%Y-%m-%dT%H:%M:%S%.3f").to_string()
}
