//! The car sheet and the setup sheet: what the owner knows about the hardware, in TOML.
//!
//! Every key may be missing. A missing one takes a default, and every answer that leaned on a
//! default says so. An unknown key is refused: a misspelt key must not become a silent default.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// What cannot be accepted in a sheet.
#[derive(Debug, Error)]
pub enum SheetError {
    /// The text is no TOML, or a value has the wrong type.
    #[error("{file}: {message}")]
    Toml {
        /// The sheet's file name.
        file: String,
        /// What the TOML reader said, with line and column.
        message: String,
    },
    /// A key that no sheet knows.
    #[error("{file}: unknown key `{key}`{}", nearest.as_ref().map(|n| format!(" (nearest known: `{n}`)")).unwrap_or_default())]
    UnknownKey {
        /// The sheet's file name.
        file: String,
        /// The key as written.
        key: String,
        /// The most similar known key.
        nearest: Option<String>,
        /// All that can stand there.
        known: Vec<String>,
    },
    /// A number outside what can be.
    #[error("{file}: {key} = {value} cannot be: {expected}")]
    OutOfRange {
        /// The sheet's file name.
        file: String,
        /// The key.
        key: String,
        /// The value as written.
        value: f64,
        /// What was expected.
        expected: String,
    },
    /// A word that is none of those that can stand there.
    #[error("{file}: {key} = \"{value}\" is not known{}", nearest.as_ref().map(|n| format!(" (nearest known: \"{n}\")")).unwrap_or_default())]
    UnknownWord {
        /// The sheet's file name.
        file: String,
        /// The key.
        key: String,
        /// The word as written.
        value: String,
        /// The most similar known word.
        nearest: Option<String>,
        /// All that can stand there.
        known: String,
    },
    /// A key that does not hold what it must.
    #[error("{file}: {key}: expected {expected}")]
    Wrong {
        /// The sheet's file name.
        file: String,
        /// The key.
        key: String,
        /// What was expected.
        expected: String,
    },
}

impl SheetError {
    /// What to do about it.
    pub fn hint(&self) -> String {
        match self {
            Self::Toml { .. } => {
                "one `key = value` a line: numbers bare with a decimal point, text in double quotes"
                    .to_owned()
            }
            Self::UnknownKey {
                nearest: Some(nearest),
                ..
            } => format!("write `{nearest} = ...`"),
            Self::UnknownKey {
                nearest: None,
                known,
                ..
            } => format!("the keys that can stand there: {}", known.join(", ")),
            Self::UnknownWord { known, .. } => format!("one of: {known}"),
            Self::OutOfRange { expected, .. } | Self::Wrong { expected, .. } => {
                format!("give {expected}")
            }
        }
    }
}

macro_rules! car_sheet {
    ($( $(#[$doc:meta])* $key:ident, $low:expr, $high:expr, $what:literal; )*) => {
        /// The car sheet. `None`: the owner does not say.
        #[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
        pub struct CarSheet {
            /// The car's name, as it is to stand in reports.
            #[serde(skip_serializing_if = "Option::is_none")]
            pub name: Option<String>,
            $( $(#[$doc])* #[serde(skip_serializing_if = "Option::is_none")] pub $key: Option<f64>, )*
        }

        impl CarSheet {
            /// Every numeric key.
            pub const KEYS: &'static [&'static str] = &[$(stringify!($key)),*];

            fn check_ranges(&self, file: &str) -> Result<(), SheetError> {
                $( if let Some(value) = self.$key && !($low..=$high).contains(&value) {
                    return Err(SheetError::OutOfRange {
                        file: file.to_owned(),
                        key: stringify!($key).to_owned(),
                        value,
                        expected: format!("{}, from {} to {}", $what, $low, $high),
                    });
                } )*
                Ok(())
            }

            /// This sheet with every key that `over` gives taken from there.
            pub fn overridden_by(&self, over: &CarSheet) -> CarSheet {
                CarSheet {
                    name: over.name.clone().or_else(|| self.name.clone()),
                    $( $key: over.$key.or(self.$key), )*
                }
            }

            /// The numeric keys in which two sheets differ.
            pub fn differing_keys(&self, other: &CarSheet) -> Vec<&'static str> {
                let mut keys = Vec::new();
                $( if self.$key != other.$key { keys.push(stringify!($key)); } )*
                keys
            }
        }
    };
}

car_sheet! {
    /// Mass with driver and half the fuel, kg.
    mass_kg, 200.0, 6000.0, "kilograms";
    /// Drag coefficient times frontal area, m².
    drag_area_m2, 0.05, 4.0, "square metres";
    /// Rolling resistance coefficient.
    rolling_resistance, 0.002, 0.1, "a bare number";
    /// Largest power at the crank, kW.
    max_power_kw, 5.0, 2000.0, "kilowatts";
    /// Power at the wheels over power at the crank.
    driveline_efficiency, 0.5, 1.0, "a fraction";
    /// Coolant in the whole circuit, litres.
    coolant_l, 0.5, 60.0, "litres";
    /// Share of glycol in the coolant, percent by volume.
    glycol_volume_percent, 0.0, 70.0, "percent by volume";
    /// Heat capacity of the metal that follows the coolant, J/K.
    metal_heat_capacity_j_per_k, 1000.0, 1_000_000.0, "joules per kelvin";
    /// Coolant temperature at which the thermostat starts to open, °C.
    thermostat_opens_c, 40.0, 120.0, "degrees Celsius";
    /// Coolant temperature at which the thermostat is fully open, °C.
    thermostat_full_open_c, 45.0, 130.0, "degrees Celsius";
    /// Pressure at which the cap opens, bar above ambient.
    cap_pressure_bar_gauge, 0.0, 4.0, "bar above ambient";
    /// Height of the venue above sea level, m.
    altitude_m, -450.0, 5000.0, "metres";
    /// The coolant limit that the owner sets, °C.
    limit_coolant_c, 60.0, 160.0, "degrees Celsius";
    /// How close to the limit is too close, K.
    limit_margin_k, 0.0, 60.0, "kelvin";
}

impl CarSheet {
    /// Whether the thermostat is fully open above where it opens; asked again where a setup sheet
    /// overrides one of the two.
    ///
    /// # Errors
    /// A thermostat that is fully open before it opens.
    pub fn check_thermostat(&self, file: &str) -> Result<(), SheetError> {
        if let (Some(opens), Some(full)) = (self.thermostat_opens_c, self.thermostat_full_open_c)
            && full <= opens
        {
            return Err(SheetError::OutOfRange {
                file: file.to_owned(),
                key: "thermostat_full_open_c".to_owned(),
                value: full,
                expected: format!("degrees Celsius above thermostat_opens_c = {opens}"),
            });
        }
        Ok(())
    }

    /// Reads a car sheet from TOML text. `file` is the name used in errors.
    ///
    /// # Errors
    /// Text that is no TOML, an unknown key, a value out of range, a thermostat that is fully
    /// open before it opens.
    pub fn from_toml(text: &str, file: &str) -> Result<Self, SheetError> {
        let known: Vec<&str> = std::iter::once("name")
            .chain(Self::KEYS.iter().copied())
            .collect();
        parse_table(text, file, &known)?;
        let sheet: Self = toml::from_str(text).map_err(|e| toml_error(&e, file))?;
        sheet.check_ranges(file)?;
        sheet.check_thermostat(file)?;
        Ok(sheet)
    }
}

/// What a setup may change besides the air side.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Affects {
    /// The air through the core.
    Air,
    /// The coolant: flow, volume, mix.
    Coolant,
    /// The heat that the engine gives to the coolant.
    Heat,
}

/// The setup sheet: what a setup changed.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SetupSheet {
    /// The setup's name, if it is to stand in the sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What was changed, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changed: Option<String>,
    /// What the change acts on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub affects: Vec<Affects>,
    /// Car-sheet keys that differ under this setup.
    #[serde(flatten)]
    pub car: CarOverrides,
}

/// Car-sheet keys given by a setup sheet (all but the name).
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct CarOverrides(toml::Table);

impl CarOverrides {
    /// The overrides as a car sheet of which only the overridden keys are set.
    pub fn as_sheet(&self) -> CarSheet {
        self.0.clone().try_into().unwrap_or_default()
    }
}

impl SetupSheet {
    /// Reads a setup sheet from TOML text. `file` is the name used in errors.
    ///
    /// # Errors
    /// As [`CarSheet::from_toml`].
    pub fn from_toml(text: &str, file: &str) -> Result<Self, SheetError> {
        let own = ["name", "changed", "affects"];
        let known: Vec<&str> = own
            .iter()
            .copied()
            .chain(CarSheet::KEYS.iter().copied())
            .collect();
        let table = parse_table(text, file, &known)?;
        let overrides: toml::Table = table
            .iter()
            .filter(|(k, _)| !own.contains(&k.as_str()))
            .map(|(k, v)| (k.clone(), v.clone()))
            .collect();
        let sheet: CarSheet = toml::from_str(text).map_err(|e| toml_error(&e, file))?;
        sheet.check_ranges(file)?;
        let mut setup: Self = toml::from_str(text).map_err(|e| toml_error(&e, file))?;
        setup.car = CarOverrides(overrides);
        Ok(setup)
    }
}

/// What the TOML reader says, with line and column, in words an owner knows.
pub(crate) fn toml_error(error: &toml::de::Error, file: &str) -> SheetError {
    let message = error.to_string();
    SheetError::Toml {
        file: file.to_owned(),
        message: message
            .trim_end()
            .replace("expected f64", "expected a number"),
    }
}

/// A table of known keys only.
pub(crate) fn parse_table(
    text: &str,
    file: &str,
    known: &[&str],
) -> Result<toml::Table, SheetError> {
    let table: toml::Table = text.parse().map_err(|e| toml_error(&e, file))?;
    match table.keys().find(|key| !known.contains(&key.as_str())) {
        None => Ok(table),
        Some(key) => Err(SheetError::UnknownKey {
            file: file.to_owned(),
            key: key.clone(),
            nearest: nearest(key, known),
            known: known.iter().map(|key| (*key).to_owned()).collect(),
        }),
    }
}

/// The known word most like `word`, if any is like it at all.
pub fn nearest(word: &str, known: &[&str]) -> Option<String> {
    known
        .iter()
        .map(|k| (strsim::jaro_winkler(word, k), *k))
        .filter(|(similarity, _)| *similarity > 0.75)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, k)| k.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_whole_and_broken_numbers() {
        let sheet =
            CarSheet::from_toml("name = \"A\"\nmass_kg = 1320\ncoolant_l = 7.5", "car.toml")
                .unwrap();
        assert_eq!(sheet.mass_kg, Some(1320.0));
        assert_eq!(sheet.coolant_l, Some(7.5));
    }

    #[test]
    fn names_the_nearest_key() {
        let error = CarSheet::from_toml("coolant_litres = 7", "car.toml").unwrap_err();
        assert_eq!(
            error.to_string(),
            "car.toml: unknown key `coolant_litres` (nearest known: `coolant_l`)"
        );
        assert_eq!(error.hint(), "write `coolant_l = ...`");
    }

    #[test]
    fn refuses_what_cannot_be() {
        assert!(CarSheet::from_toml("mass_kg = -3", "car.toml").is_err());
        assert!(CarSheet::from_toml("mass_kg = nan", "car.toml").is_err());
        assert!(
            CarSheet::from_toml("thermostat_opens_c = 90\nthermostat_full_open_c = 85", "c")
                .is_err()
        );
    }

    #[test]
    fn a_setup_overrides_the_car() {
        let car = CarSheet::from_toml("coolant_l = 7\nmass_kg = 1300", "car.toml").unwrap();
        let setup = SetupSheet::from_toml(
            "changed = \"larger core\"\naffects = [\"air\", \"coolant\"]\ncoolant_l = 8.2",
            "setup.toml",
        )
        .unwrap();
        let both = car.overridden_by(&setup.car.as_sheet());
        assert_eq!((both.coolant_l, both.mass_kg), (Some(8.2), Some(1300.0)));
        assert_eq!(setup.affects, vec![Affects::Air, Affects::Coolant]);
    }
}
