//! Units that figures are printed in: metric, as inside, or US customary.
//!
//! The one place where a figure leaves the metric system. A temperature moves with scale and
//! offset, `F = 1.8 C + 32`; a difference of temperatures with the scale alone, `1.8 K`.
//!
//! Factors: NIST SP 811 (2008), appendix B.8: mile 1609.344 m, British thermal unit (International
//! Table) 1055.056 J, pound 0.45359237 kg, foot 0.3048 m, psi 6894.757 Pa, degree Fahrenheit
//! `t/°C = (t/°F − 32)/1.8`, kelvin `T/K = (ΔT/°F)/1.8`.

use std::borrow::Cow;

/// Joules in a British thermal unit, International Table.
const J_PER_BTU: f64 = 1055.056;
/// Metres in a foot.
const M_PER_FT: f64 = 0.3048;
/// Kilograms in a pound.
const KG_PER_LB: f64 = 0.453_592_37;
/// Degrees Fahrenheit in a kelvin.
const F_PER_K: f64 = 1.8;

/// Units that figures are printed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// As inside: °C, K, km/h, kW, W/K.
    #[default]
    Metric,
    /// °F, mph, Btu/min, Btu/(min·°F), lb, psi.
    Us,
}

/// What a printed figure measures, and so how it converts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Measure {
    /// A temperature; inside °C.
    Temperature,
    /// A difference of temperatures; inside K.
    Difference,
    /// A speed; inside km/h.
    Speed,
    /// A heat flow; inside kW.
    Power,
    /// Heat flow for each kelvin; inside W/K.
    Conductance,
    /// Heat for each kelvin; inside J/K.
    HeatCapacity,
    /// The same, inside kJ/K.
    HeatCapacityKilo,
    /// Mass in a volume; inside kg/m³.
    Density,
    /// A pressure; inside kPa.
    Pressure,
    /// A pressure as caps are marked; inside bar.
    CapPressure,
    /// An area; inside m².
    Area,
    /// A mass; inside kg.
    Mass,
    /// A bare number, or a unit that both systems share.
    #[default]
    Plain,
}

impl Measure {
    /// Those with a unit, longest symbol first, so that `W/K` is not read as `K`.
    const NAMED: [Self; 12] = [
        Self::Density,
        Self::Speed,
        Self::Conductance,
        Self::HeatCapacityKilo,
        Self::HeatCapacity,
        Self::Pressure,
        Self::CapPressure,
        Self::Temperature,
        Self::Power,
        Self::Area,
        Self::Mass,
        Self::Difference,
    ];

    /// The unit inside, and the US one with `us = scale * inside + offset`.
    fn units(self) -> (&'static str, &'static str, f64, f64) {
        let per_min_f = 60.0 / J_PER_BTU / F_PER_K;
        match self {
            Self::Temperature => ("°C", "°F", F_PER_K, 32.0),
            Self::Difference => ("K", "°F", F_PER_K, 0.0),
            Self::Speed => ("km/h", "mph", 1.0 / 1.609_344, 0.0),
            Self::Power => ("kW", "Btu/min", 60e3 / J_PER_BTU, 0.0),
            Self::Conductance => ("W/K", "Btu/(min·°F)", per_min_f, 0.0),
            Self::HeatCapacity => ("J/K", "Btu/°F", per_min_f / 60.0, 0.0),
            Self::HeatCapacityKilo => ("kJ/K", "Btu/°F", per_min_f / 0.06, 0.0),
            Self::Density => ("kg/m³", "lb/ft³", M_PER_FT.powi(3) / KG_PER_LB, 0.0),
            Self::Pressure => ("kPa", "psi", 1.0 / 6.894_757, 0.0),
            Self::CapPressure => ("bar", "psi", 100.0 / 6.894_757, 0.0),
            Self::Area => ("m²", "ft²", 1.0 / (M_PER_FT * M_PER_FT), 0.0),
            Self::Mass => ("kg", "lb", 1.0 / KG_PER_LB, 0.0),
            Self::Plain => ("", "", 1.0, 0.0),
        }
    }

    /// The measure whose unit inside is written so.
    pub fn of_symbol(symbol: &str) -> Self {
        Self::NAMED
            .into_iter()
            .find(|measure| measure.units().0 == symbol)
            .unwrap_or_default()
    }
}

impl Units {
    /// A figure in the unit inside, as it is printed.
    pub fn of(self, measure: Measure, inside: f64) -> f64 {
        let (_, _, scale, offset) = measure.units();
        match self {
            Self::Metric => inside,
            Self::Us => scale * inside + offset,
        }
    }

    /// A printed figure in the unit inside.
    pub fn to_inside(self, measure: Measure, printed: f64) -> f64 {
        let (_, _, scale, offset) = measure.units();
        match self {
            Self::Metric => printed,
            Self::Us => (printed - offset) / scale,
        }
    }

    /// The symbol that follows the figure.
    pub fn symbol(self, measure: Measure) -> &'static str {
        let (inside, us, ..) = measure.units();
        match self {
            Self::Metric => inside,
            Self::Us => us,
        }
    }

    /// A sentence of the inner modules, whose figures are metric: `5 K over`, `-40 to 80 °C`.
    ///
    /// A figure keeps its decimals; one that becomes small gets three significant digits. What
    /// stands in back-quotes is a name or something to type, and stays as it is.
    pub fn prose(self, text: &str) -> Cow<'_, str> {
        if self == Self::Metric {
            return Cow::Borrowed(text);
        }
        let mut out = String::with_capacity(text.len());
        let mut rest = text;
        while let Some((free, quoted, after)) = next_quoted(rest) {
            self.convert(free, &mut out);
            out.push_str(quoted);
            rest = after;
        }
        self.convert(rest, &mut out);
        Cow::Owned(out)
    }

    /// A text without names, its figures converted.
    fn convert(self, text: &str, out: &mut String) {
        let mut rest = text;
        while let Some((before, measure, after)) = next_unit(rest) {
            out.push_str(&self.figures(before, measure));
            out.push_str(self.symbol(measure));
            rest = after;
        }
        out.push_str(rest);
    }

    /// A text that ends in one figure or two (`-40 to 80`, `97..103`), each converted.
    fn figures(self, text: &str, measure: Measure) -> String {
        let blank = &text[text.trim_end_matches([' ', '\u{a0}']).len()..];
        let (mut head, last) = last_figure(&text[..text.len() - blank.len()]);
        let mut tail = self.figure(last, measure) + blank;
        for between in [" to ", ".."] {
            if let Some(first) = head.strip_suffix(between) {
                let (before, first) = last_figure(first);
                if !first.is_empty() {
                    tail = self.figure(first, measure) + between + &tail;
                    head = before;
                }
            }
        }
        format!("{head}{tail}")
    }

    /// One figure as written: sign, digits, point.
    fn figure(self, written: &str, measure: Measure) -> String {
        let plain = written.replace('\u{2212}', "-");
        let Ok(value) = plain.parse::<f64>() else {
            return written.to_owned();
        };
        let value = self.of(measure, value);
        let decimals = written.split_once('.').map_or(0, |(_, d)| d.len());
        let needed = match measure {
            Measure::Temperature | Measure::Difference | Measure::Speed => 0,
            _ => (2 - value.abs().log10().floor().clamp(-3.0, 2.0) as i64) as usize,
        };
        let text = format!("{value:.0$}", decimals.max(needed));
        let text = if written.starts_with('+') && value >= 0.0 {
            format!("+{text}")
        } else {
            text
        };
        if written.contains('\u{2212}') {
            text.replace('-', "\u{2212}")
        } else {
            text
        }
    }
}

/// The text before the next back-quotes, what they hold with themselves, and the text after.
fn next_quoted(text: &str) -> Option<(&str, &str, &str)> {
    let (before, rest) = text.split_once('`')?;
    let (inside, after) = rest.split_once('`')?;
    let quoted = &text[before.len()..][..inside.len() + 2];
    Some((before, quoted, after))
}

/// The text before the next unit that follows a figure, what it measures, and the text after it.
fn next_unit(text: &str) -> Option<(&str, Measure, &str)> {
    text.char_indices().find_map(|(at, _)| {
        let (before, here) = text.split_at(at);
        let follows_figure = before
            .trim_end_matches([' ', '\u{a0}'])
            .ends_with(|c: char| c.is_ascii_digit());
        if !follows_figure {
            return None;
        }
        let measure = Measure::NAMED.into_iter().find(|measure| {
            let rest = here.strip_prefix(measure.units().0);
            rest.is_some_and(|rest| {
                !rest.starts_with(|c: char| c.is_alphanumeric() || "/³²".contains(c))
            })
        })?;
        Some((before, measure, &here[measure.units().0.len()..]))
    })
}

/// A text parted before the figure that ends it, which may be empty.
fn last_figure(text: &str) -> (&str, &str) {
    let digits = text.trim_end_matches(|c: char| c.is_ascii_digit() || c == '.');
    // Of `97..103` the last figure is 103.
    let digits = match text[digits.len()..].rfind("..") {
        Some(dots) => &text[..digits.len() + dots + 2],
        None => digits,
    };
    let signed = digits.strip_suffix(['+', '-', '\u{2212}']);
    // The hyphen of `s-3` or `1-3` is no sign.
    let start = match signed {
        Some(before) if !before.ends_with(char::is_alphanumeric) => before.len(),
        _ => digits.len(),
    };
    text.split_at(start)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST SP 811 (2008), appendix B.8 and B.9 (factors), section B.6 (temperature): fixed points
    /// of the scales and the tabulated factors, given here the other way round.
    #[test]
    fn us_figures_agree_with_nist_sp_811() {
        for (measure, inside, us) in [
            (Measure::Temperature, 100.0, 212.0),
            (Measure::Temperature, 0.0, 32.0),
            (Measure::Temperature, -40.0, -40.0),
            (Measure::Difference, 100.0, 180.0),
            (Measure::Difference, 5.0 / 9.0, 1.0),
            (Measure::Speed, 160.9344, 100.0),
            (Measure::Power, 1.055_056 / 60.0, 1.0),
            // Btu/(h·°F) is 0.5275 W/K: 1 Btu/(h·ft²·°F) is 5.678263 W/(m²·K), over 1 ft².
            (Measure::Conductance, 5.678_263 * 0.092_903_04 * 60.0, 1.0),
            // Btu/°F is 1899.101 J/K.
            (Measure::HeatCapacity, 1899.101, 1.0),
            (Measure::HeatCapacityKilo, 1.899_101, 1.0),
            (Measure::Density, 16.018_46, 1.0),
            (Measure::Pressure, 101.325, 14.695_95),
            (Measure::CapPressure, 1.01325, 14.695_95),
            (Measure::Area, 0.092_903_04, 1.0),
            (Measure::Mass, 0.453_592_37, 1.0),
        ] {
            let got = Units::Us.of(measure, inside);
            let near = 1e-6 * f64::abs(us).max(1.0);
            assert!((got - us).abs() < near, "{measure:?}: {got}");
            assert!(
                (Units::Us.to_inside(measure, us) - inside).abs()
                    < 1e-6 * f64::abs(inside).max(1.0)
            );
            assert_eq!(Units::Metric.of(measure, inside), inside);
        }
    }

    #[test]
    fn sentences_change_their_figures_and_nothing_else() {
        for (metric, us) in [
            ("outside -40 to 80 °C", "outside -40 to 176 °F"),
            ("less than 5 K over ambient", "less than 9 °F over ambient"),
            ("sensors ±0.5 K (1 sd)", "sensors ±0.9 °F (1 sd)"),
            (
                "opens 78 °C, fully open 88 °C",
                "opens 172 °F, fully open 190 °F",
            ),
            (
                "from \u{2212}1.0 to +2.0 K, more",
                "from \u{2212}1.8 to +3.6 °F, more",
            ),
            (
                "above 100 km/h: 97..103\u{a0}°C",
                "above 62 mph: 207..217\u{a0}°F",
            ),
            (
                "1420 W/K and 1.16 kg/m³",
                "44.9 Btu/(min·°F) and 0.0724 lb/ft³",
            ),
            (
                "CdA 0.70 m², 1200 kg, 1.4 bar",
                "CdA 7.53 ft², 2646 lb, 20.3 psi",
            ),
            (
                "3 Kilo, 4 knots, s1 to s4, K 5, 12 kWh",
                "3 Kilo, 4 knots, s1 to s4, K 5, 12 kWh",
            ),
            ("stint 1-3 K, 100 %", "stint 1-5 °F, 100 %"),
            (
                "`82 °C stat` 10 K over, `5 K`, 100 °C",
                "`82 °C stat` 18 °F over, `5 K`, 212 °F",
            ),
            ("a lone ` and 10 K", "a lone ` and 18 °F"),
        ] {
            assert_eq!(Units::Us.prose(metric), us);
            assert_eq!(Units::Metric.prose(metric), metric);
        }
    }
}
