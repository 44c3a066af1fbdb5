//! Values of flags, read and checked.

use chrono::{NaiveDate, NaiveDateTime};

use crate::ingest::{DateOrder, is_plausible, is_rate};
use crate::quantity::{Measure, Units};

/// The system of units to print in.
pub fn units(text: &str) -> Result<Units, String> {
    match text {
        "metric" => Ok(Units::Metric),
        "us" => Ok(Units::Us),
        _ => Err("expected metric or us".to_owned()),
    }
}

/// A figure that may carry its unit, in the unit inside: `110`, `110C` and `230F` for a
/// temperature, `5`, `5K` and `9F` for a difference.
fn figure(text: &str, measure: Measure) -> Option<f64> {
    let text = text.trim();
    let (figure, units) = match text.strip_suffix(['F', 'f']) {
        Some(figure) => (figure, Units::Us),
        None => (
            text.strip_suffix(['C', 'c', 'K', 'k']).unwrap_or(text),
            Units::Metric,
        ),
    };
    let figure = figure.trim_end_matches([' ', '°']);
    let value: f64 = figure.parse().ok()?;
    Some(units.to_inside(measure, value))
}

/// A temperature in °C, or °F where the value says so, within a range of °C.
pub fn temperature(text: &str, range: std::ops::RangeInclusive<f64>) -> Result<f64, String> {
    figure(text, Measure::Temperature)
        .filter(|value| range.contains(value))
        .ok_or_else(|| {
            format!(
                "expected degrees Celsius from {} to {}, or Fahrenheit with an F: 230F",
                range.start(),
                range.end()
            )
        })
}

/// A difference of temperatures in K, or °F where the value says so, within a range of K.
pub fn difference(text: &str, range: std::ops::RangeInclusive<f64>) -> Result<f64, String> {
    figure(text, Measure::Difference)
        .filter(|value| range.contains(value))
        .ok_or_else(|| {
            format!(
                "expected kelvin from {} to {}, or degrees Fahrenheit with an F: 9F",
                range.start(),
                range.end()
            )
        })
}

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
    temperature(text, -60.0..=60.0)
}

/// The temperature of a hot fluid, °C.
pub fn celsius(text: &str) -> Result<f64, String> {
    temperature(text, -50.0..=500.0)
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
        let ends = (
            figure(low, Measure::Difference)?,
            figure(high, Measure::Difference)?,
        );
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
    figure(text, Measure::Difference)
        .filter(|value| *value > 0.0 && *value <= 50.0)
        .ok_or_else(|| {
            "expected kelvin above 0, up to 50, or degrees Fahrenheit with an F: 1F".to_owned()
        })
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

/// Which of day, month and year comes first.
pub fn date_order(text: &str) -> Result<DateOrder, String> {
    match text {
        "day-first" => Ok(DateOrder::DayFirst),
        "month-first" => Ok(DateOrder::MonthFirst),
        "year-first" => Ok(DateOrder::YearFirst),
        _ => Err("expected day-first, month-first or year-first".to_owned()),
    }
}

/// Rows a second.
pub fn rate_hz(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(rate) if is_rate(rate) => Ok(rate),
        _ => Err("expected rows a second, from 0.01 to 1000".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_may_carry_its_unit() {
        let near = |got: Result<f64, String>, wanted: f64| {
            assert!((got.unwrap() - wanted).abs() < 1e-9);
        };
        for text in ["110", "110C", "110 °C", "230F", "230 °F", "230f"] {
            near(celsius(text), 110.0);
        }
        for text in ["5", "5K", "9F", "9 °F"] {
            near(threshold(text), 5.0);
        }
        assert_eq!(change_range("-3.6F..-1.8F"), Ok((-2.0, -1.0)));
        assert_eq!(change_range("-3.1..-0.9"), Ok((-3.1, -0.9)));
        for text in ["", "F", "110X", "1e9F", "nanF", "infF"] {
            assert!(celsius(text).is_err() && threshold(text).is_err(), "{text}");
        }
    }
}
