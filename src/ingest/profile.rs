//! A profile: what a user had to say about one kind of log, in TOML, to be used again.
//!
//! ```toml
//! map = ["coolant=T1:°C", "time=Zeit"]
//! date_order = "month-first"
//! rate_hz = 10.0
//! ```
//!
//! What belongs to one session (start, day, ambient, driver) is left out on purpose: used again
//! on another day it would be wrong without a word.

use serde::{Deserialize, Serialize};

use super::options::{MapError, Mapping, ReadOptions};
use super::time_text::DateOrder;
use crate::car::{SheetError, parse_table, toml_error};

/// The user's corrections.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Profile {
    /// Columns, as after `--map`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub map: Vec<String>,
    /// Which of day and month comes first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date_order: Option<DateOrder>,
    /// Rows a second, where there is no clock.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_hz: Option<f64>,
}

impl Profile {
    /// Reads a profile. `file` is the name used in errors.
    ///
    /// # Errors
    /// Text that is no TOML, an unknown key, a rate that cannot be.
    pub fn from_toml(text: &str, file: &str) -> Result<Self, SheetError> {
        parse_table(text, file, &["map", "date_order", "rate_hz"])?;
        let profile: Self = toml::from_str(text).map_err(|e| toml_error(&e, file))?;
        match profile.rate_hz {
            Some(value) if !is_rate(value) => Err(SheetError::OutOfRange {
                file: file.to_owned(),
                key: "rate_hz".to_owned(),
                value,
                expected: "rows a second, from 0.01 to 1000".to_owned(),
            }),
            _ => Ok(profile),
        }
    }

    /// The profile that says what these options say of columns, dates and rate.
    pub fn of(options: &ReadOptions) -> Self {
        Self {
            map: options.all_maps().iter().map(ToString::to_string).collect(),
            date_order: options.date_order,
            rate_hz: options.rate_hz,
        }
    }

    /// The profile as TOML.
    ///
    /// # Errors
    /// None that is known of: texts and numbers can be written.
    pub fn to_toml(&self) -> Result<String, toml::ser::Error> {
        toml::to_string(self)
    }

    /// Its mappings.
    ///
    /// # Errors
    /// A text that is no mapping.
    pub fn mappings(&self) -> Result<Vec<Mapping>, MapError> {
        self.map.iter().map(|text| text.parse()).collect()
    }
}

/// Whether a log can have so many rows a second.
pub fn is_rate(rate_hz: f64) -> bool {
    (0.01..=1000.0).contains(&rate_hz)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_saved_says_the_same_again() {
        let options = ReadOptions {
            maps: vec!["coolant=T: 1:°F".parse().unwrap()],
            profile_maps: vec![
                "coolant=other".parse().unwrap(),
                "time=Zeit".parse().unwrap(),
            ],
            date_order: Some(DateOrder::MonthFirst),
            rate_hz: Some(12.5),
            ..ReadOptions::default()
        };
        let profile = Profile::of(&options);
        let text = profile.to_toml().unwrap();
        let again = Profile::from_toml(&text, "p.toml").unwrap();
        assert_eq!(again, profile);
        let maps = again.mappings().unwrap();
        assert_eq!(maps[0], options.maps[0]);
        assert_eq!(maps[1], options.profile_maps[1]);
        assert_eq!(maps.len(), 2);
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let error = |text: &str| Profile::from_toml(text, "p.toml").unwrap_err().to_string();
        assert!(error("maps = []").contains("nearest known: `map`"));
        assert!(error("date_order = \"year-last\"").contains("day-first"));
        assert!(error("rate_hz = 0").contains("cannot be"));
    }
}
