//! Units: what a column may be written in, and the one unit each quantity has inside.
//!
//! Inside the program a temperature is in °C, a speed in km/h, a pressure in kPa, a fraction in
//! percent, an angle in degrees. Conversions happen once, when a file is read.
//!
//! Factors: SI Brochure 9th ed. (bar, hour, degree) and NIST SP 811 (2008) appendix B.8
//! (mile 1609.344 m, foot 0.3048 m, psi 6.894757 kPa, US gallon 3.785412 L,
//! pound 0.45359237 kg, knot 1852 m/h).

mod spelling;
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

            /// Spellings met in the field, as `spelling::plain` has them.
            fn spellings(self) -> &'static [&'static str] {
                match self { $(Unit::$variant => &[$($spelling),*],)* }
            }
        }
    };
}

units! {
    Celsius, "°C", Temperature, 1.0, 0.0, ["°c", "c", "c°", "oc", "℃", "celsius", "°celsius", "centigrade", "°centigrade"];
    Fahrenheit, "°F", Temperature, 5.0 / 9.0, -160.0 / 9.0, ["°f", "f", "f°", "of", "℉", "fahrenheit", "°fahrenheit"];
    Kelvin, "K", Temperature, 1.0, -273.15, ["k", "°k", "kelvin", "°kelvin"];
    KilometrePerHour, "km/h", Speed, 1.0, 0.0, ["km/h", "kmh", "kph", "kmph", "kmh-1"];
    MilePerHour, "mph", Speed, 1.609344, 0.0, ["mph", "mi/h"];
    MetrePerSecond, "m/s", Speed, 3.6, 0.0, ["m/s", "mps", "ms-1"];
    CentimetrePerSecond, "cm/s", Speed, 0.036, 0.0, ["cm/s", "cms-1"];
    MillimetrePerSecond, "mm/s", Speed, 0.0036, 0.0, ["mm/s", "mms-1"];
    FootPerSecond, "ft/s", Speed, 1.09728, 0.0, ["ft/s", "fps"];
    Knot, "kn", Speed, 1.852, 0.0, ["kn", "kt", "kts", "knot", "knots"];
    PerMinute, "1/min", RotationalSpeed, 1.0, 0.0, ["rpm", "1/min", "min-1", "upm"];
    PerSecond, "1/s", RotationalSpeed, 60.0, 0.0, ["rps", "1/s", "s-1"];
    ThousandPerMinute, "1000/min", RotationalSpeed, 1000.0, 0.0, ["1000/min", "10001/min", "x1000/min", "rpmx1000", "x1000rpm", "1000rpm", "rpm1000", "krpm"];
    Kilopascal, "kPa", Pressure, 1.0, 0.0, ["kpa"];
    Hectopascal, "hPa", Pressure, 0.1, 0.0, ["hpa", "mbar", "mb"];
    Bar, "bar", Pressure, 100.0, 0.0, ["bar"];
    Megapascal, "MPa", Pressure, 1000.0, 0.0, ["mpa"];
    Pascal, "Pa", Pressure, 0.001, 0.0, ["pa"];
    Psi, "psi", Pressure, 6.894757, 0.0, ["psi", "lb/in2", "lbf/in2"];
    InchMercury, "inHg", Pressure, 3.386389, 0.0, ["inhg", "\"hg"];
    MillimetreMercury, "mmHg", Pressure, 0.1333224, 0.0, ["mmhg", "torr"];
    KilogramForcePerSquareCentimetre, "kgf/cm2", Pressure, 98.0665, 0.0, ["kgf/cm2", "kg/cm2", "kp/cm2"];
    Percent, "%", Fraction, 1.0, 0.0, ["%", "pct", "percent", "prozent"];
    Ratio, "1", Fraction, 100.0, 0.0, ["ratio", "0-1", "0..1"];
    GramPerSecond, "g/s", MassFlow, 1.0, 0.0, ["g/s", "gps", "gs-1"];
    KilogramPerHour, "kg/h", MassFlow, 1.0 / 3.6, 0.0, ["kg/h", "kgh"];
    PoundPerMinute, "lb/min", MassFlow, 453.59237 / 60.0, 0.0, ["lb/min"];
    PoundPerHour, "lb/h", MassFlow, 453.59237 / 3600.0, 0.0, ["lb/h"];
    LitrePerHour, "L/h", VolumeFlow, 1.0, 0.0, ["l/h", "lph"];
    MillilitrePerMinute, "mL/min", VolumeFlow, 0.06, 0.0, ["ml/min", "ccm"];
    MillilitrePerSecond, "mL/s", VolumeFlow, 3.6, 0.0, ["ml/s"];
    GallonPerHour, "gal/h", VolumeFlow, 3.785412, 0.0, ["gal/h", "gph"];
    Degree, "deg", Angle, 1.0, 0.0, ["deg", "°", "degree", "degrees", "grad"];
    Radian, "rad", Angle, 57.29577951308232, 0.0, ["rad"];
    Metre, "m", Length, 1.0, 0.0, ["m", "metre", "meter", "metres", "meters"];
    Foot, "ft", Length, 0.3048, 0.0, ["ft", "feet", "foot"];
    Number, "-", Count, 1.0, 0.0, ["-", "n", "no", "#", "count"];
}

impl Unit {
    /// The unit written as `text`, whatever the case, blanks and degree sign. `None`: not known.
    pub fn parse(text: &str) -> Option<Self> {
        let wanted = spelling::plain(text);
        if wanted == "1" {
            return Some(Self::Ratio);
        }
        Self::spelt(&wanted).or_else(|| {
            let bare = ["absolute", "abs", "a"]
                .iter()
                .find_map(|mark| wanted.strip_suffix(mark));
            bare.and_then(Self::spelt_pressure)
        })
    }

    /// The unit of pressure in a text that says that it counts from the air outside: `bar g`.
    pub fn parse_gauge(text: &str) -> Option<Self> {
        let wanted = spelling::plain(text);
        let marks = ["gauge", "gage", "relative", "relativ", "rel", "ü", "g"];
        let bare = marks.iter().find_map(|mark| wanted.strip_suffix(mark));
        bare.and_then(Self::spelt_pressure)
    }

    fn spelt(plain: &str) -> Option<Self> {
        let mut all = Self::ALL.iter().copied();
        all.find(|unit| unit.spellings().contains(&plain))
    }

    fn spelt_pressure(plain: &str) -> Option<Self> {
        Self::spelt(plain).filter(|unit| unit.quantity() == Quantity::Pressure)
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
    /// The symbols of its units, for a sentence.
    pub fn known_units(self) -> String {
        let units = Unit::ALL.iter().filter(|unit| unit.quantity() == self);
        let symbols: Vec<&str> = units.map(|unit| unit.symbol()).collect();
        symbols.join(", ")
    }

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
            (Unit::FootPerSecond, 1.0, 1.09728),
            (Unit::MillimetreMercury, 760.0, 101.325),
            (Unit::KilogramForcePerSquareCentimetre, 1.0, 98.0665),
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
            ("degrees F", Unit::Fahrenheit),
            ("degree Celsius", Unit::Celsius),
            ("C°", Unit::Celsius),
            ("oF", Unit::Fahrenheit),
            ("˚F", Unit::Fahrenheit),
            ("deg_F", Unit::Fahrenheit),
            ("Grad Celsius", Unit::Celsius),
            ("degrés C", Unit::Celsius),
            ("degK", Unit::Kelvin),
            ("miles per hour", Unit::MilePerHour),
            ("m.p.h.", Unit::MilePerHour),
            ("miles/hr", Unit::MilePerHour),
            ("m·s⁻¹", Unit::MetrePerSecond),
            ("meters/sec", Unit::MetrePerSecond),
            ("km/u", Unit::KilometrePerHour),
            ("1000/min", Unit::ThousandPerMinute),
            ("U/min", Unit::PerMinute),
            ("/min", Unit::PerMinute),
            ("kg/cm2", Unit::KilogramForcePerSquareCentimetre),
            ("kPa(a)", Unit::Kilopascal),
            ("mbar abs", Unit::Hectopascal),
            ("inHgA", Unit::InchMercury),
            ("cc/min", Unit::MillilitrePerMinute),
            ("lbs/min", Unit::PoundPerMinute),
            ("%", Unit::Percent),
            ("percent", Unit::Percent),
            ("0..1", Unit::Ratio),
            ("no.", Unit::Number),
        ] {
            assert_eq!(Unit::parse(text), Some(unit), "{text}");
        }
        for &unit in Unit::ALL {
            assert_eq!(Unit::parse(unit.symbol()), Some(unit), "{unit:?}");
        }
        assert_eq!(Unit::parse_gauge("bar g"), Some(Unit::Bar));
        assert_eq!(Unit::parse("bar g"), None);
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
