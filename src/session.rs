//! A session: the channels of one run of the car, cleaned, in the units used inside.
//!
//! Channels are kept as they were logged (own rate, gaps and all) in a Polars frame, one row an
//! instant, `t_s` (seconds from the first row) first. Whoever computes asks for a [`Grid`]: the
//! same channels averaged into equal steps.

use std::borrow::Cow;
use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use polars::prelude::*;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::car::{CarSheet, SetupSheet};
use crate::quantity::Quantity;
use crate::warning::Warning;

/// Name of the time column: seconds from the session's first row.
pub const TIME: &str = "t_s";

/// Longest session that is looked at, s: four days. A clock gone wild must not fill the memory.
const LONGEST_S: f64 = 4.0 * 86_400.0;

macro_rules! roles {
    ($( $variant:ident, $name:literal, $quantity:ident, $what:literal; )*) => {
        /// What a channel is to this tool, whatever its logger called it.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum Role {
            $( #[doc = $what] #[serde(rename = $name)] $variant, )*
        }

        impl Role {
            /// Every role, in the order of the documentation.
            pub const ALL: &'static [Role] = &[$(Role::$variant),*];

            /// The name used on the command line, in documents and as Parquet column.
            pub fn name(self) -> &'static str {
                match self { $(Role::$variant => $name,)* }
            }

            /// What the channel measures.
            pub fn quantity(self) -> Quantity {
                match self { $(Role::$variant => Quantity::$quantity,)* }
            }

            /// What the channel is, in words.
            pub fn description(self) -> &'static str {
                match self { $(Role::$variant => $what,)* }
            }
        }
    };
}

roles! {
    Coolant, "coolant", Temperature, "coolant leaving the engine";
    Speed, "speed", Speed, "vehicle speed";
    Ambient, "ambient", Temperature, "air outside";
    Intake, "intake", Temperature, "intake air";
    RadiatorOut, "radiator_out", Temperature, "coolant leaving the radiator";
    Oil, "oil", Temperature, "engine oil";
    ChargeIn, "charge_in", Temperature, "charge air before its cooler";
    ChargeOut, "charge_out", Temperature, "charge air after its cooler";
    Rpm, "rpm", RotationalSpeed, "engine speed";
    Gear, "gear", Count, "gear engaged";
    FuelRate, "fuel_rate", VolumeFlow, "fuel flow";
    AirFlow, "air_flow", MassFlow, "engine air mass flow";
    Load, "load", Fraction, "engine load";
    Throttle, "throttle", Fraction, "throttle position";
    ManifoldPressure, "manifold_pressure", Pressure, "absolute pressure in the intake manifold";
    BarometricPressure, "barometric_pressure", Pressure, "pressure of the outside air";
    Lap, "lap", Count, "lap number";
    Latitude, "latitude", Angle, "latitude";
    Longitude, "longitude", Angle, "longitude";
    Altitude, "altitude", Length, "height above sea level";
    Heading, "heading", Angle, "direction of travel";
    WindSpeed, "wind_speed", Speed, "wind speed";
    WindDirection, "wind_direction", Angle, "direction the wind comes from";
    Fan, "fan", Count, "radiator fan on";
    AirConditioning, "air_conditioning", Count, "air conditioning on";
}

impl Role {
    /// The role of that name.
    pub fn parse(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|role| role.name() == name)
    }
}

/// Where a channel's unit was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum UnitFrom {
    /// In the column's name.
    Header,
    /// In a row of units below the names.
    Row,
    /// Nobody said; the values allow one only.
    Values,
    /// The user said.
    User,
}

/// What is known of one channel of a session.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChannelInfo {
    /// The column's name in its file.
    pub column: String,
    /// The unit it was written in.
    pub unit: String,
    /// Where that unit was read.
    pub unit_from: UnitFrom,
    /// The smallest step between different values, in the inside unit. `None`: never changed.
    pub resolution: Option<f64>,
    /// Median time between two refreshes, s. `None`: never refreshed.
    pub median_refresh_s: Option<f64>,
    /// Share of rows without a value, 0 to 1.
    pub missing_fraction: f64,
    /// Smallest value after cleaning, in the inside unit.
    pub min: Option<f64>,
    /// Largest value after cleaning, in the inside unit.
    pub max: Option<f64>,
    /// Mean after cleaning, in the inside unit.
    pub mean: Option<f64>,
}

/// A second device's file brought onto the session's clock.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Aligned {
    /// The file.
    pub file: String,
    /// Seconds added to that file's clock.
    pub offset_s: f64,
    /// How much faster that clock ran, in parts per million. `None`: not estimated.
    pub drift_ppm: Option<f64>,
    /// Correlation of the two speed traces after alignment. `None`: aligned by clock.
    pub correlation: Option<f64>,
}

/// What is known of a session besides its channels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SessionMeta {
    /// Short id in the book, such as `s3`; empty until the book gives one.
    pub id: String,
    /// The file's name, without folders.
    pub file: String,
    /// SHA-256 of the file's bytes (and of the files added by `--with`), hexadecimal.
    pub sha256: String,
    /// The setup it was run with.
    pub setup: String,
    /// The car's sheet, as the owner gave it.
    pub car: CarSheet,
    /// The setup's sheet.
    pub setup_sheet: SetupSheet,
    /// Local time of the first row, if known.
    pub start: Option<NaiveDateTime>,
    /// The day it was run, if known.
    pub day: Option<NaiveDate>,
    /// Time from the first row to the last, s.
    pub duration_s: f64,
    /// Data rows in the file.
    pub rows_read: usize,
    /// Data rows kept.
    pub rows_kept: usize,
    /// The driver, if told.
    pub driver: Option<String>,
    /// A note, if any.
    pub note: Option<String>,
    /// Why it is left out of every comparison, if it is.
    pub excluded: Option<String>,
    /// The channels by role.
    pub channels: BTreeMap<Role, ChannelInfo>,
    /// Files of other devices added to it.
    pub aligned: Vec<Aligned>,
    /// What was noticed at import.
    pub warnings: Vec<Warning>,
}

impl SessionMeta {
    /// What is known of a session of which only file, setup and car are known.
    pub fn bare(file: &str, setup: &str, car: CarSheet) -> Self {
        Self {
            id: String::new(),
            file: file.to_owned(),
            sha256: String::new(),
            setup: setup.to_owned(),
            car,
            setup_sheet: SetupSheet::default(),
            start: None,
            day: None,
            duration_s: 0.0,
            rows_read: 0,
            rows_kept: 0,
            driver: None,
            note: None,
            excluded: None,
            channels: BTreeMap::new(),
            aligned: Vec::new(),
            warnings: Vec::new(),
        }
    }

    /// The car's sheet as it stands under this session's setup.
    pub fn car_as_run(&self) -> CarSheet {
        self.car.overridden_by(&self.setup_sheet.car.as_sheet())
    }

    /// Whether two sessions cover a common time by their clocks; not told when a start is unknown.
    pub fn overlaps(&self, other: &Self) -> bool {
        let span = |meta: &Self| {
            let start = meta.start?;
            let length = TimeDelta::milliseconds((meta.duration_s * 1000.0) as i64);
            Some((start, start + length))
        };
        match (span(self), span(other)) {
            (Some((a0, a1)), Some((b0, b1))) => a0 < b1 && b0 < a1,
            _ => false,
        }
    }

    /// The session as it is called in sentences: id, and the file it came from.
    pub fn label(&self) -> String {
        if self.id.is_empty() {
            self.file.clone()
        } else {
            self.id.clone()
        }
    }
}

/// A session with its channels.
#[derive(Debug, Clone)]
pub struct Session {
    /// What is known of it.
    pub meta: SessionMeta,
    frame: DataFrame,
}

/// Channels averaged into equal steps. `NaN`: no reading in that step.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Length of a step, s.
    pub step_s: f64,
    /// Number of steps.
    pub len: usize,
    pub(crate) channels: BTreeMap<Role, Vec<f64>>,
}

impl Session {
    /// A session from parallel columns. `t_s` must not fall; `NaN` is a missing value.
    ///
    /// # Errors
    /// Columns of unequal length.
    pub fn from_columns(
        meta: SessionMeta,
        t_s: &[f64],
        channels: BTreeMap<Role, Vec<f64>>,
    ) -> PolarsResult<Self> {
        let mut columns = vec![Column::new(TIME.into(), t_s)];
        let read = channels.into_par_iter();
        columns.par_extend(read.map(|(role, values)| column(role.name().into(), values)));
        Ok(Self {
            meta,
            frame: DataFrame::new(t_s.len(), columns)?,
        })
    }

    /// The session with channels as they were before cleaning, where it took anything out.
    ///
    /// # Errors
    /// Columns of another length than the session's.
    pub fn with_raw(self, raw: BTreeMap<Role, Vec<f64>>) -> PolarsResult<Self> {
        let before = raw.into_iter().map(|(role, v)| column(raw_name(role), v));
        let before: Vec<Column> = before.collect();
        let frame = self.frame.hstack(&before)?;
        Ok(Self { frame, ..self })
    }

    /// The session without any channel: what is left of one whose file is damaged.
    pub fn without_channels(meta: SessionMeta) -> Self {
        Self {
            meta,
            frame: DataFrame::empty(),
        }
    }

    /// The session averaged into steps of `step_s`. Its grid of that step is the same, number by
    /// number, at a fraction of the memory.
    ///
    /// # Errors
    /// Columns of unequal length, which cannot be.
    pub fn averaged(&self, step_s: f64) -> PolarsResult<Self> {
        let grid = self.grid(step_s);
        // The first row marks the beginning, the others lie in the middle of their steps.
        let time_s = |i: usize| if i == 0 { 0.0 } else { grid.time_s(i) };
        let t_s: Vec<f64> = (0..grid.len).map(time_s).collect();
        Self::from_columns(self.meta.clone(), &t_s, grid.channels)
    }

    /// A session around a frame that the book has read.
    pub fn from_frame(meta: SessionMeta, frame: DataFrame) -> Self {
        Self { meta, frame }
    }

    /// The channels as a frame: `t_s`, then one column a role, then `raw_` and the role where
    /// cleaning took anything out.
    pub fn frame(&self) -> &DataFrame {
        &self.frame
    }

    /// Seconds from the first row, one a row.
    pub fn time_s(&self) -> Vec<f64> {
        self.column(TIME).map_or_else(Vec::new, Cow::into_owned)
    }

    /// A channel before cleaning, in the unit used inside; `None`: nothing was taken out.
    pub fn raw(&self, role: Role) -> Option<Vec<f64>> {
        self.column(&raw_name(role)).map(Cow::into_owned)
    }

    /// A channel as it was logged and cleaned, one value a row, `NaN` where there is none.
    pub fn channel(&self, role: Role) -> Option<Vec<f64>> {
        self.column(role.name()).map(Cow::into_owned)
    }

    fn column(&self, name: &str) -> Option<Cow<'_, [f64]>> {
        let values = self.frame.column(name).ok()?.f64().ok()?;
        Some(match values.cont_slice() {
            Ok(whole) => whole.into(),
            Err(_) => values.iter().map(|v| v.unwrap_or(f64::NAN)).collect(),
        })
    }

    /// The channels averaged into steps of `step_s`; steps without a reading are `NaN`. What comes
    /// after four days is left out.
    pub fn grid(&self, step_s: f64) -> Grid {
        let time_s = self.column(TIME).unwrap_or_default();
        let first = time_s.first().copied().unwrap_or(0.0);
        let since = time_s.iter().map(|t| t - first);
        // The first row of each step, and the end of the last one.
        let mut starts = Vec::new();
        let mut rows = 0;
        for t in since.take_while(|t| *t <= LONGEST_S) {
            let step = (t / step_s) as usize;
            if step >= starts.len() {
                starts.resize(step + 1, rows);
            }
            rows += 1;
        }
        starts.push(rows);
        let means = |role: Role| Some(step_means(&self.column(role.name())?, &starts));
        let channels = Role::ALL
            .par_iter()
            .filter_map(|&role| Some((role, means(role)?)))
            .collect();
        Grid {
            step_s,
            len: starts.len() - 1,
            channels,
        }
    }
}

/// The column of a channel as it was before cleaning.
fn raw_name(role: Role) -> PlSmallStr {
    format!("raw_{}", role.name()).into()
}

/// A column of values, `NaN` a missing one.
fn column(name: PlSmallStr, values: Vec<f64>) -> Column {
    let present: Float64Chunked = if values.iter().any(|v| v.is_nan()) {
        let value = |v: f64| if v.is_nan() { None } else { Some(v) };
        values.into_iter().map(value).collect()
    } else {
        Float64Chunked::from_vec(PlSmallStr::EMPTY, values)
    };
    present.with_name(name).into_series().into()
}

/// Mean of the readings in each step, `NaN` where there is none.
fn step_means(values: &[f64], starts: &[usize]) -> Vec<f64> {
    let mean = |rows: &[usize]| {
        let (mut sum, mut read) = (0.0, 0_u32);
        for value in values[rows[0]..rows[1]].iter().filter(|v| !v.is_nan()) {
            sum += value;
            read += 1;
        }
        sum / f64::from(read)
    };
    starts.windows(2).map(mean).collect()
}

impl Grid {
    /// A channel, one value a step, `NaN` where there is no reading.
    pub fn get(&self, role: Role) -> Option<&[f64]> {
        self.channels.get(&role).map(Vec::as_slice)
    }

    /// A channel with its gaps bridged: straight lines over gaps of up to `longest_s`, the
    /// nearest value beyond the first and last reading; longer gaps stay `NaN`.
    pub fn bridged(&self, role: Role, longest_s: f64) -> Option<Vec<f64>> {
        self.get(role)
            .map(|values| bridge(values, (longest_s / self.step_s) as usize))
    }

    /// Mid-time of step `i`, s from the start.
    pub fn time_s(&self, i: usize) -> f64 {
        (i as f64 + 0.5) * self.step_s
    }
}

/// Whether at least 80 % of the steps have a reading.
pub fn mostly_read(values: &[f64]) -> bool {
    values.iter().filter(|v| !v.is_nan()).count() * 5 >= values.len() * 4
}

/// Straight lines over runs of `NaN` no longer than `longest`; ends held over the same length.
fn bridge(values: &[f64], longest: usize) -> Vec<f64> {
    let mut out = values.to_vec();
    let mut last: Option<usize> = None;
    for i in 0..=values.len() {
        let here = values.get(i).filter(|v| !v.is_nan());
        if i < values.len() && here.is_none() {
            continue;
        }
        let from = last.map_or(0, |l| l + 1);
        if i - from <= longest {
            for (j, filled) in out.iter_mut().enumerate().take(i).skip(from) {
                *filled = match (last, here) {
                    (Some(l), Some(&v)) => {
                        values[l] + (v - values[l]) * (j - l) as f64 / (i - l) as f64
                    }
                    (Some(l), None) => values[l],
                    (None, Some(&v)) => v,
                    (None, None) => f64::NAN,
                };
            }
        }
        last = Some(i);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn session(t_s: &[f64], coolant: &[f64]) -> Session {
        let meta = SessionMeta::bare("x.csv", "stock", CarSheet::default());
        let channels = BTreeMap::from([(Role::Coolant, coolant.to_vec())]);
        Session::from_columns(meta, t_s, channels).unwrap()
    }

    #[test]
    fn one_car_is_in_one_session_at_a_time() {
        let meta = |start: &str, minutes: f64| SessionMeta {
            start: Some(start.parse().unwrap()),
            duration_s: 60.0 * minutes,
            ..SessionMeta::bare("x.csv", "a", CarSheet::default())
        };
        let first = meta("2031-05-17T10:00:00", 20.0);
        assert!(first.overlaps(&meta("2031-05-17T10:01:30", 18.0)));
        assert!(!first.overlaps(&meta("2031-05-17T10:20:00", 18.0)));
        assert!(!first.overlaps(&meta("2031-05-18T10:01:30", 18.0)));
    }

    #[test]
    fn a_grid_is_the_mean_of_what_was_read_in_each_step() {
        let s = session(&[0.0, 0.4, 1.1, 3.2], &[90.0, 92.0, f64::NAN, 95.0]);
        let grid = s.grid(1.0);
        let coolant = grid.get(Role::Coolant).unwrap();
        assert_eq!(coolant.len(), 4);
        assert_eq!(coolant[0], 91.0);
        assert!(coolant[1].is_nan() && coolant[2].is_nan());
        assert_eq!(coolant[3], 95.0);
        assert_eq!(
            grid.bridged(Role::Coolant, 5.0).unwrap()[1..3],
            [91.0 + 4.0 / 3.0, 91.0 + 8.0 / 3.0]
        );
    }

    #[test]
    fn an_averaged_session_has_the_same_grid() {
        let t_s: Vec<f64> = (0..4000).map(|i| 17.3 + f64::from(i) * 0.05).collect();
        let coolant: Vec<f64> = t_s
            .iter()
            .map(|t| {
                if (40.0..55.5).contains(t) {
                    f64::NAN
                } else {
                    t.sin()
                }
            })
            .collect();
        let s = session(&t_s, &coolant);
        let averaged = s.averaged(1.0).unwrap();
        assert_eq!(averaged.time_s().len(), 200);
        let (before, after) = (s.grid(1.0), averaged.grid(1.0));
        let bits = |g: &Grid| -> Vec<u64> {
            let values = g.get(Role::Coolant).unwrap();
            values.iter().map(|v| v.to_bits()).collect()
        };
        assert_eq!(before.len, after.len);
        assert_eq!(bits(&before), bits(&after));
    }

    #[test]
    fn long_gaps_are_not_bridged() {
        let values = [1.0, f64::NAN, f64::NAN, f64::NAN, 5.0];
        assert!(bridge(&values, 2)[2].is_nan());
        assert_eq!(bridge(&values, 3), [1.0, 2.0, 3.0, 4.0, 5.0]);
    }

    #[test]
    fn every_role_is_found_by_its_name() {
        for &role in Role::ALL {
            assert_eq!(Role::parse(role.name()), Some(role));
        }
    }
}
