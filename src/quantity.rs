//! Units: what a column may be written in, and the one unit each quantity has inside.
//!
//! Inside the program a temperature is in °C, a speed in km/h, a pressure in kPa, a fraction in
//! percent, an angle in degrees. Conversions happen once, when a file is read.
//!
//! Factors: SI Brochure 9th ed. (bar, hour, degree) and NIST SP 811 (2008) appendix B.8
//! (mile 1609.344 m, foot 0.3048 m, psi 6.894757 kPa, US gallon 3.785412 L,
//! pound 0.45359237 kg, knot 1852 m/h).

mod units;

pub use units::{Measure, Units};

use serde::{Deserialize, Serialize};

/// What a channel measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Inside: °C.
    Temperature,
    /// Inside: km/h.
    Speed,
    /// Inside: 1/min.
    RotationalSpeed,
    /// Inside: kPa, absolute.
    Pressure,
    /// Inside: percent.
    Fraction,
    /// Inside: g/s.
    MassFlow,
    /// Inside: L/h.
    VolumeFlow,
    /// Inside: degrees.
    Angle,
    /// Inside: m.
    Length,
    /// A bare number: gear, lap, on/off.
    Count,
}

macro_rules! units {
    ($( $variant:ident, $symbol:literal, $quantity:ident, $scale:expr, $offset:expr, [$($spelling:literal),*]; )*) => {
        /// A unit that a column may be written in.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum Unit {
            $( #[doc = $symbol] #[serde(rename = $symbol)] $variant, )*
        }

        impl Unit {
            /// Every unit known.
            pub const ALL: &'static [Unit] = &[$(Unit::$variant),*];

            /// The symbol that is printed.
            pub fn symbol(self) -> &'static str {
                match self { $(Unit::$variant => $symbol,)* }
            }

            /// What the unit measures.
            pub fn quantity(self) -> Quantity {
                match self { $(Unit::$variant => Quantity::$quantity,)* }
            }

            /// `(scale, offset)` of `inside = scale * written + offset`.
            fn affine(self) -> (f64, f64) {
                match self { $(Unit::$variant => ($scale, $offset),)* }
            }

            /// Spellings met in the field, in lower case without blanks.
            fn spellings(self) -> &'static [&'static str] {
                match self { $(Unit::$variant => &[$($spelling),*],)* }
            }
        }
    };
}

units! {
    Celsius, "°C", Temperature, 1.0, 0.0, ["°c", "c", "degc", "deg.c", "degreec", "celsius", "degcelsius", "gradc", "℃", "ºc", "oc"];
    Fahrenheit, "°F", Temperature, 5.0 / 9.0, -160.0 / 9.0, ["°f", "f", "degf", "deg.f", "degreef", "fahrenheit", "℉", "ºf"];
    Kelvin, "K", Temperature, 1.0, -273.15, ["k", "kelvin"];
    KilometrePerHour, "km/h", Speed, 1.0, 0.0, ["km/h", "kmh", "kph", "kmph", "km/hr", "kmh-1"];
    MilePerHour, "mph", Speed, 1.609344, 0.0, ["mph", "mi/h", "mile/h", "miles/h", "mi/hr"];
    MetrePerSecond, "m/s", Speed, 3.6, 0.0, ["m/s", "mps", "ms-1", "m/sec"];
    Knot, "kn", Speed, 1.852, 0.0, ["kn", "kt", "kts", "knot", "knots"];
    PerMinute, "1/min", RotationalSpeed, 1.0, 0.0, ["rpm", "1/min", "/min", "min-1", "r/min", "u/min", "tr/min", "giri/min", "rev/min"];
    Kilopascal, "kPa", Pressure, 1.0, 0.0, ["kpa", "kpaa", "kpaabs"];
    Hectopascal, "hPa", Pressure, 0.1, 0.0, ["hpa", "mbar", "mb", "mbara"];
    Bar, "bar", Pressure, 100.0, 0.0, ["bar", "bara", "barabs"];
    Pascal, "Pa", Pressure, 0.001, 0.0, ["pa"];
    Psi, "psi", Pressure, 6.894757, 0.0, ["psi", "psia"];
    InchMercury, "inHg", Pressure, 3.386389, 0.0, ["inhg", "\"hg"];
    Percent, "%", Fraction, 1.0, 0.0, ["%", "pct", "percent", "prozent"];
    Ratio, "1", Fraction, 100.0, 0.0, ["ratio", "0-1", "0..1"];
    GramPerSecond, "g/s", MassFlow, 1.0, 0.0, ["g/s", "gps", "g/sec", "gs-1"];
    KilogramPerHour, "kg/h", MassFlow, 1.0 / 3.6, 0.0, ["kg/h", "kg/hr", "kgh"];
    PoundPerMinute, "lb/min", MassFlow, 453.59237 / 60.0, 0.0, ["lb/min", "lbs/min", "lbm/min"];
    LitrePerHour, "L/h", VolumeFlow, 1.0, 0.0, ["l/h", "lph", "l/hr", "litre/h", "liter/h"];
    MillilitrePerMinute, "mL/min", VolumeFlow, 0.06, 0.0, ["ml/min", "cc/min", "ccm", "cm3/min"];
    GallonPerHour, "gal/h", VolumeFlow, 3.785412, 0.0, ["gal/h", "gph", "gal/hr"];
    Degree, "deg", Angle, 1.0, 0.0, ["deg", "°", "degree", "degrees", "grad"];
    Radian, "rad", Angle, 57.29577951308232, 0.0, ["rad"];
    Metre, "m", Length, 1.0, 0.0, ["m", "metre", "meter", "metres", "meters"];
    Foot, "ft", Length, 0.3048, 0.0, ["ft", "feet", "foot"];
    Number, "-", Count, 1.0, 0.0, ["-", "n", "no", "no.", "#", "count"];
}

impl Unit {
    /// The unit written as `text`, whatever the case, blanks and degree sign. `None`: not known.
    pub fn parse(text: &str) -> Option<Self> {
        let wanted: String = text
            .chars()
            .filter(|c| !c.is_whitespace())
            .flat_map(char::to_lowercase)
            .map(|c| if c == '²' { '2' } else { c })
            .collect();
        if wanted == "1" {
            return Some(Self::Ratio);
        }
        Self::ALL
            .iter()
            .copied()
            .find(|unit| unit.spellings().contains(&wanted.as_str()))
    }

    /// A value written in this unit, in the unit used inside.
    pub fn to_inside(self, written: f64) -> f64 {
        let (scale, offset) = self.affine();
        scale * written + offset
    }

    /// A value in the unit used inside, as it would be written in this unit.
    pub fn from_inside(self, inside: f64) -> f64 {
        let (scale, offset) = self.affine();
        (inside - offset) / scale
    }

    /// A difference (a step, a resolution) written in this unit, in the unit used inside.
    pub fn difference_to_inside(self, written: f64) -> f64 {
        self.affine().0 * written
    }
}

impl Quantity {
    /// The unit used inside the program.
    pub fn inside_unit(self) -> Unit {
        match self {
            Self::Temperature => Unit::Celsius,
            Self::Speed => Unit::KilometrePerHour,
            Self::RotationalSpeed => Unit::PerMinute,
            Self::Pressure => Unit::Kilopascal,
            Self::Fraction => Unit::Percent,
            Self::MassFlow => Unit::GramPerSecond,
            Self::VolumeFlow => Unit::LitrePerHour,
            Self::Angle => Unit::Degree,
            Self::Length => Unit::Metre,
            Self::Count => Unit::Number,
        }
    }
}

/// Metres per second in one km/h.
pub const MS_PER_KMH: f64 = 1.0 / 3.6;

/// A temperature in kelvin.
pub fn kelvin(celsius: f64) -> f64 {
    celsius + 273.15
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST SP 811 (2008), appendix B.8 and section B.6 for temperature.
    #[test]
    fn conversions_agree_with_nist_sp_811() {
        for (unit, written, inside) in [
            (Unit::Fahrenheit, 212.0, 100.0),
            (Unit::Fahrenheit, 32.0, 0.0),
            (Unit::Kelvin, 373.15, 100.0),
            (Unit::MilePerHour, 100.0, 160.9344),
            (Unit::MetrePerSecond, 10.0, 36.0),
            (Unit::Psi, 14.69595, 101.325),
            (Unit::InchMercury, 29.92126, 101.325),
            (Unit::GallonPerHour, 1.0, 3.785412),
            (Unit::PoundPerMinute, 1.0, 7.559873),
        ] {
            let got = unit.to_inside(written);
            assert!(
                (got - inside).abs() < 2e-5 * inside.abs().max(1.0),
                "{unit:?}: {got}"
            );
            assert!((unit.from_inside(got) - written).abs() < 1e-9 * written.abs().max(1.0));
        }
    }

    #[test]
    fn spellings_are_told_apart() {
        for (text, unit) in [
            ("°C", Unit::Celsius),
            ("deg C", Unit::Celsius),
            ("KM/H", Unit::KilometrePerHour),
            ("m/s", Unit::MetrePerSecond),
            ("RPM", Unit::PerMinute),
            ("mbar", Unit::Hectopascal),
        ] {
            assert_eq!(Unit::parse(text), Some(unit), "{text}");
        }
        assert_eq!(Unit::parse("furlong"), None);
    }

    #[test]
    fn no_spelling_names_two_units() {
        let mut seen = std::collections::BTreeMap::new();
        for &unit in Unit::ALL {
            for spelling in unit.spellings() {
                assert_eq!(seen.insert(spelling, unit), None, "{spelling}");
            }
        }
    }
}
