//! The rows of the table: a logger, a kind of session, and how strong the disturbances are.

use anyhow::ensure;
use heatbook::session::Role;
use heatbook::thermal::heat_input::HeatSource;

use crate::simulator::sensors::Logger;
use crate::simulator::weather::WindKind;

/// What disturbs a session, fixed before anything was fitted.
#[derive(Debug, Clone, Copy)]
pub struct Disturbances {
    /// The wind.
    pub wind: WindKind,
    /// Scatter of the core's air-side coefficient from session to session.
    pub core_scatter: f64,
    /// Scatter of pace from session to session.
    pub pace_scatter: f64,
}

impl Disturbances {
    /// The disturbances at their nominal strength.
    pub const NOMINAL: Self = Self {
        wind: WindKind {
            steady_up_to_ms: 5.0,
            gust_sd_ms: 1.5,
            gust_tau_s: 60.0,
        },
        core_scatter: 0.01,
        pace_scatter: 0.015,
    };

    /// The same, stronger by `factor`; gusts last as long.
    pub fn times(self, factor: f64) -> Self {
        Self {
            wind: WindKind {
                steady_up_to_ms: factor * self.wind.steady_up_to_ms,
                gust_sd_ms: factor * self.wind.gust_sd_ms,
                ..self.wind
            },
            core_scatter: factor * self.core_scatter,
            pace_scatter: factor * self.pace_scatter,
        }
    }
}

/// What kind of session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Some 20 minutes at pace, air of 20 to 30 °C.
    Usual,
    /// The same air; the thermostat fully open for 5 to 8 minutes.
    Short,
    /// Some 20 minutes on so cold a day that the thermostat always regulates.
    ColdDay,
    /// The same on a day so cool that it comes close to full opening.
    CoolDay,
    /// Some 20 minutes with so large a core that the thermostat always regulates.
    LargeCore,
}

impl Kind {
    /// Whether the thermostat always regulates.
    pub fn regulates(self) -> bool {
        matches!(self, Self::ColdDay | Self::CoolDay | Self::LargeCore)
    }

    /// Least and largest time with the thermostat fully open in truth that a session of this kind
    /// may have, s; others are drawn again.
    pub fn open_s(self) -> (f64, f64) {
        match self {
            Self::Usual => (0.0, f64::INFINITY),
            Self::Short => (300.0, 480.0),
            Self::ColdDay | Self::CoolDay | Self::LargeCore => (0.0, 60.0),
        }
    }
}

/// One row of the table.
#[derive(Debug, Clone)]
pub struct Row {
    /// Its name without the factor.
    pub name: String,
    /// Number of its random streams; rows that differ in the factor share them.
    pub stream: u64,
    /// Kind of session.
    pub kind: Kind,
    /// Step of every temperature, K.
    pub temperature_step_c: f64,
    /// Rows of the log a second.
    pub rate_hz: f64,
    /// Whether engine speed is logged.
    pub rpm: bool,
    /// Where the heat input comes from.
    pub source: HeatSource,
    /// Strength of the disturbances over nominal.
    pub factor: f64,
}

impl Row {
    /// Its name with the factor.
    pub fn full_name(&self) -> String {
        format!("{} x{}", self.name, self.factor)
    }

    /// What disturbs it.
    pub fn disturbances(&self) -> Disturbances {
        Disturbances::NOMINAL.times(self.factor)
    }

    /// The logger. No channel besides engine speed that would need it is logged, so that the heat
    /// input is the row's.
    pub fn logger(&self) -> Logger {
        let source = self.source.needs().iter().copied();
        let rpm = self.rpm.then_some(Role::Rpm);
        Logger {
            rate_hz: self.rate_hz,
            temperature_step_c: self.temperature_step_c,
            roles: [
                Role::Coolant,
                Role::Speed,
                Role::Ambient,
                Role::BarometricPressure,
            ]
            .into_iter()
            .chain(source)
            .chain(rpm)
            .collect(),
            ..Logger::plain()
        }
    }
}

/// Every row, at both strengths.
pub fn all() -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let mut add = |what: &str, kind, temperature_step_c: f64, rate_hz: f64, rpm: bool, source| {
        let with = if rpm { "rpm" } else { "no rpm" };
        let name = format!("{what}{temperature_step_c} °C, {rate_hz} Hz, {with}");
        let stream = rows.len() as u64;
        for factor in [1.0, 1.5] {
            rows.push(Row {
                name: name.clone(),
                stream,
                kind,
                temperature_step_c,
                rate_hz,
                rpm,
                source,
                factor,
            });
        }
    };
    let fuel = HeatSource::FuelRate;
    for step_c in [1.0, 0.1] {
        for rate_hz in [1.0, 10.0] {
            for rpm in [true, false] {
                add("", Kind::Usual, step_c, rate_hz, rpm, fuel);
            }
        }
    }
    add(
        "air flow, ",
        Kind::Usual,
        1.0,
        1.0,
        false,
        HeatSource::AirFlow,
    );
    add("short, ", Kind::Short, 1.0, 1.0, true, fuel);
    add("short, ", Kind::Short, 0.1, 10.0, true, fuel);
    add("cold day, ", Kind::ColdDay, 1.0, 1.0, true, fuel);
    add("large core, ", Kind::LargeCore, 1.0, 1.0, true, fuel);
    add("cool day, ", Kind::CoolDay, 1.0, 1.0, true, fuel);
    add("cool day, ", Kind::CoolDay, 0.1, 10.0, false, fuel);
    rows
}

/// The rows whose name, with or without the factor, is among `names`; all if there are none.
///
/// # Errors
/// A name that no row has.
pub fn wanted(names: &[String]) -> anyhow::Result<Vec<Row>> {
    let is = |row: &Row, name: &String| *name == row.name || *name == row.full_name();
    let rows = all();
    for name in names {
        let known: Vec<String> = rows.iter().map(Row::full_name).collect();
        ensure!(
            rows.iter().any(|row| is(row, name)),
            "no row {name:?}; there are:\n{}",
            known.join("\n")
        );
    }
    Ok(rows
        .into_iter()
        .filter(|row| names.is_empty() || names.iter().any(|name| is(row, name)))
        .collect())
}
