//! Values of flags, read and checked.

use chrono::{NaiveDate, NaiveDateTime};

use crate::ingest::{DateOrder, is_plausible, is_rate};

/// A local date and time, with `T` or a blank between, seconds optional.
pub fn date_time(text: &str) -> Result<NaiveDateTime, String> {
    [
        "%Y-%m-%dT%H:%M:%S%.f",
        "%Y-%m-%d %H:%M:%S%.f",
        "%Y-%m-%dT%H:%M",
        "%Y-%m-%d %H:%M",
    ]
    .iter()
    .find_map(|form| NaiveDateTime::parse_from_str(text, form).ok())
    .filter(|time| is_plausible(time.date()))
    .ok_or_else(|| "expected a date and time such as 2031-05-17T09:46:00".to_owned())
}

/// A day.
pub fn date(text: &str) -> Result<NaiveDate, String> {
    text.parse()
        .ok()
        .filter(|day| is_plausible(*day))
        .ok_or_else(|| "expected a date such as 2031-05-17".to_owned())
}

/// A setup's name, which must not be blank.
pub fn setup_name(text: &str) -> Result<String, String> {
    if text.trim().is_empty() {
        return Err("expected a name such as stock or sealed-ducts".to_owned());
    }
    Ok(text.to_owned())
}

/// An outside temperature, °C.
pub fn ambient(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (-60.0..=60.0).contains(&value) => Ok(value),
        _ => Err("expected degrees Celsius from -60 to 60".to_owned()),
    }
}

/// The temperature of a hot fluid, °C.
pub fn celsius(text: &str) -> Result<f64, String> {
    within(text, -50.0..=500.0, "degrees Celsius from -50 to 500")
}

/// A road speed, km/h.
pub fn speed(text: &str) -> Result<f64, String> {
    within(text, 0.0..=400.0, "kilometres per hour from 0 to 400")
}

/// A share of full load.
pub fn load(text: &str) -> Result<f64, String> {
    within(text, 0.01..=1.5, "a share of full load from 0.01 to 1.5")
}

/// Two changes of temperature, `LOW..HIGH`, K.
pub fn change_range(text: &str) -> Result<(f64, f64), String> {
    let parsed = text.split_once("..").and_then(|(low, high)| {
        let ends: (f64, f64) = (low.parse().ok()?, high.parse().ok()?);
        let sound = ends.0 <= ends.1 && ends.0.abs() <= 50.0 && ends.1.abs() <= 50.0;
        sound.then_some(ends)
    });
    parsed.ok_or_else(|| "expected LOW..HIGH in kelvin, such as -3.1..-0.9".to_owned())
}

fn within(text: &str, range: std::ops::RangeInclusive<f64>, expected: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if range.contains(&value) => Ok(value),
        _ => Err(format!("expected {expected}")),
    }
}

/// A change of temperature, or its scatter, K.
pub fn threshold(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if value > 0.0 && value <= 50.0 => Ok(value),
        _ => Err("expected kelvin above 0, up to 50".to_owned()),
    }
}

/// `FILE=SECONDS`: the file's name without folders, and a number.
pub fn offset(text: &str) -> Result<(String, f64), String> {
    let parsed = text.rsplit_once('=').and_then(|(file, seconds)| {
        let seconds: f64 = seconds.trim().parse().ok()?;
        let name = std::path::Path::new(file.trim()).file_name()?;
        let sound = seconds.is_finite() && seconds.abs() < 1e10;
        sound.then(|| (name.to_string_lossy().into_owned(), seconds))
    });
    parsed.ok_or_else(|| "expected FILE=SECONDS such as second.csv=-37.4".to_owned())
}

/// Which of day and month comes first.
pub fn date_order(text: &str) -> Result<DateOrder, String> {
    match text {
        "day-first" => Ok(DateOrder::DayFirst),
        "month-first" => Ok(DateOrder::MonthFirst),
        _ => Err("expected day-first or month-first".to_owned()),
    }
}

/// Rows a second.
pub fn rate_hz(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(rate) if is_rate(rate) => Ok(rate),
        _ => Err("expected rows a second, from 0.01 to 1000".to_owned()),
    }
}
