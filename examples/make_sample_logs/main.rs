//! Writes `sample_logs/`: two invented track days of one invented car, before and after its
//! radiator ducts were sealed.
//!
//! ```text
//! cargo run --release --example make_sample_logs
//! ```
//! The seed was fixed before anything was fitted to these logs. The same seed writes the same
//! bytes.
#![allow(clippy::print_stdout)]

#[path = "../simulator/mod.rs"]
mod simulator;

mod blemishes;
mod dialects;
mod sheets;

use std::path::Path;

use anyhow::Context;
use chrono::NaiveDate;
use heatbook::session::Role;
use simulator::noise::Noise;
use simulator::sensors::Logger;
use simulator::{Campaign, Side, SimSession, air_flow_factor_for};

/// Chosen once, before any fit.
const SEED: u64 = 20_310_517;
/// What sealing the ducts was made to do to mean coolant at [`REFERENCE_AMBIENT_C`], K.
const TRUE_CHANGE_K: f64 = -2.5;
/// Air that the truth is told at, °C.
const REFERENCE_AMBIENT_C: f64 = 23.0;
const FOLDER: &str = "sample_logs";

/// How a session was logged.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Dialect {
    /// Comma, UTF-8, units in the header, ISO time.
    Comma,
    /// The same without temperatures, which a second device logs on its own clock.
    Split,
    /// Semicolon, decimal comma, Windows-1252, units row, date in the preamble.
    Semicolon,
    /// Tab, time of day only, channels read in turn.
    Tab,
    /// As [`Dialect::Comma`], with blemishes.
    Blemished,
}

const DIALECTS: [Dialect; 8] = [
    Dialect::Comma,
    Dialect::Split,
    Dialect::Semicolon,
    Dialect::Semicolon,
    Dialect::Tab,
    Dialect::Tab,
    Dialect::Blemished,
    Dialect::Semicolon,
];

fn main() -> anyhow::Result<()> {
    let folder = Path::new(FOLDER);
    std::fs::create_dir_all(folder)?;
    let air_flow_factor = air_flow_factor_for(TRUE_CHANGE_K, REFERENCE_AMBIENT_C);
    let campaign = campaign(air_flow_factor)?;
    let mut index = String::from("# The sessions in the order they were run.\n");
    let mut written = Vec::new();
    for (session, dialect) in campaign.run().iter().zip(DIALECTS) {
        let (file, entry) = write_session(folder, session, dialect)?;
        index.push_str(&entry);
        written.push((dialect, file));
    }
    std::fs::write(folder.join("index.toml"), index)?;
    sheets::write(folder, air_flow_factor, &written)
}

fn campaign(air_flow_factor: f64) -> anyhow::Result<Campaign> {
    let mut campaign = Campaign::alternating(SEED);
    campaign.setups = ["open-ducts".to_owned(), "sealed-ducts".to_owned()];
    campaign.part_air_flow_factor = air_flow_factor;
    campaign.noon_c = vec![21.0, 24.5];
    campaign.first_day = NaiveDate::from_ymd_opt(2031, 5, 17).context("no such day")?;
    Ok(campaign)
}

/// Writes a session's file or files; answers the main one's name and its entry in the index.
fn write_session(
    folder: &Path,
    session: &SimSession,
    dialect: Dialect,
) -> anyhow::Result<(String, String)> {
    let side = if session.side == Side::Before {
        "open"
    } else {
        "sealed"
    };
    let stem = format!("{}_{side}", session.start.format("%m%d_%H%M"));
    let file = format!("{stem}.csv");
    let mut entry = format!(
        "\n[[session]]\nfile = \"{file}\"\nsetup = \"{}\"\n",
        session.setup
    );
    // Each file's reading noise is its own.
    let mut noise = Noise::new(SEED, 5_000_000 + session.number as u64);
    let mut log = |logger: &Logger| logger.log(&session.truth, session.ambient_bias_k, &mut noise);
    let bytes = match dialect {
        Dialect::Comma => dialects::comma(session, &log(&own_logger())).into_bytes(),
        Dialect::Blemished => {
            let text = dialects::comma(session, &log(&own_logger()));
            blemishes::add(&text)?.into_bytes()
        }
        Dialect::Semicolon => dialects::semicolon(session, &log(&own_logger())),
        Dialect::Tab => {
            entry.push_str(&format!("day = \"{}\"\n", session.day));
            dialects::tab(session, &log(&polled_logger())).into_bytes()
        }
        Dialect::Split => {
            let second = format!("{stem}_second.csv");
            entry.push_str(&format!("with = [\"{second}\"]\n"));
            let text = dialects::second_device(session, &log(&second_logger()));
            std::fs::write(folder.join(second), text)?;
            dialects::comma(session, &log(&main_without_temperatures())).into_bytes()
        }
    };
    std::fs::write(folder.join(&file), bytes).with_context(|| file.clone())?;
    println!("{file}");
    Ok((file, entry))
}

fn own_logger() -> Logger {
    Logger {
        roles: vec![
            Role::Coolant,
            Role::Speed,
            Role::Ambient,
            Role::Intake,
            Role::Oil,
            Role::Rpm,
            Role::FuelRate,
            Role::Throttle,
            Role::ManifoldPressure,
            Role::BarometricPressure,
        ],
        ..Logger::plain()
    }
}

fn main_without_temperatures() -> Logger {
    let mut logger = own_logger();
    logger.roles.retain(|role| {
        !matches!(
            role,
            Role::Coolant | Role::Ambient | Role::Intake | Role::Oil
        )
    });
    logger
}

/// The second device: starts 12.3 s later, with a finer speed.
fn second_logger() -> Logger {
    Logger {
        first_s: 12.3,
        speed_step_kmh: 0.1,
        roles: vec![
            Role::Speed,
            Role::Coolant,
            Role::Oil,
            Role::Ambient,
            Role::Intake,
        ],
        ..Logger::plain()
    }
}

/// One row a second, each channel refreshed every two seconds.
fn polled_logger() -> Logger {
    Logger {
        rate_hz: 1.0,
        round_s: Some(2.0),
        roles: vec![
            Role::Coolant,
            Role::Speed,
            Role::Rpm,
            Role::AirFlow,
            Role::Throttle,
            Role::ManifoldPressure,
            Role::Intake,
            Role::Ambient,
            Role::BarometricPressure,
        ],
        ..Logger::plain()
    }
}
