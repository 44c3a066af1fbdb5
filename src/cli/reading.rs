//! Flags that say how logs are to be read, for `inspect` and `import` alike.

use std::path::PathBuf;

use clap::Args;

use super::failure::Failure;
use super::output::write_file;
use super::sheets;
use super::values::{date_order, rate_hz};
use crate::ingest::{DateOrder, MapError, Profile, ReadOptions};
use crate::laps::{self, LapSource, Laps, Line};
use crate::session::Grid;
use crate::warning::Warning;

/// How logs are to be read.
#[derive(Debug, Args)]
pub struct Reading {
    /// A column that is not recognised, or wrongly: `coolant=T1:°C`
    #[arg(long, value_name = "ROLE=COLUMN[:UNIT]")]
    map: Vec<String>,
    /// Which comes first in dates such as 04/05/2031: `day-first`, `month-first`, `year-first`
    #[arg(long, value_name = "ORDER", value_parser = date_order)]
    date_order: Option<DateOrder>,
    /// Rows a second, for a log without a clock
    #[arg(long, value_name = "N", value_parser = rate_hz)]
    rate_hz: Option<f64>,
    /// Take the above from this file (TOML), as far as it is not given here
    #[arg(long, value_name = "FILE")]
    profile: Option<PathBuf>,
    /// Keep the above in this file, for `--profile`
    #[arg(long, value_name = "FILE")]
    save_profile: Option<PathBuf>,
    /// Start and finish line, by the positions of its ends in degrees: laps are counted over it
    #[arg(long, value_name = "LAT1,LON1,LAT2,LON2", allow_hyphen_values = true)]
    line: Option<Line>,
}

impl Reading {
    /// What the flags and the profile say.
    pub fn options(&self) -> Result<ReadOptions, Failure> {
        let wrong = |error: MapError| Failure::new(error.to_string(), error.hint());
        let profile = match &self.profile {
            Some(path) => Profile::from_toml(&sheets::read(path)?, &path.display().to_string())?,
            None => Profile::default(),
        };
        let given = Profile {
            map: self.map.clone(),
            ..Profile::default()
        };
        Ok(ReadOptions {
            maps: given.mappings().map_err(wrong)?,
            profile_maps: profile.mappings().map_err(wrong)?,
            date_order: self.date_order.or(profile.date_order),
            rate_hz: self.rate_hz.or(profile.rate_hz),
            ..ReadOptions::default()
        })
    }

    /// The laps of a log, and what is to be said where the line that was given tells none.
    pub fn laps(&self, grid: &Grid) -> (Option<Laps>, Option<Warning>) {
        let laps = laps::find(grid, self.line.as_ref());
        let told = laps.as_ref().is_some_and(|l| l.source == LapSource::Line);
        let missed = (self.line.is_some() && !told).then(|| {
            Warning::caution(
                "line-not-crossed",
                "the positions do not cross the line of --line three times, so it tells no laps",
            )
        });
        (laps, missed)
    }

    /// Keeps what was said, where that was asked for.
    pub fn save(&self, options: &ReadOptions) -> Result<(), Failure> {
        let Some(path) = &self.save_profile else {
            return Ok(());
        };
        let text = Profile::of(options)
            .to_toml()
            .map_err(|e| Failure::file("write", path, &e))?;
        write_file(path, &text)
    }
}
