//! Logs of many cars: one campaign of sixty simulated sessions, driven by every car on other days.

use std::fmt::Write;
use std::path::Path;

use anyhow::{Context, ensure};
use chrono::Duration;
use heatbook::session::Role;

use crate::simulator::library;
use crate::simulator::{Campaign, Side, SimSession};

/// Sessions that a car drives: fifteen days of four.
pub const SESSIONS_A_CAR: usize = 60;

/// The two setups of every car.
pub const SETUPS: [(Side, &str); 2] = [(Side::Before, "stock"), (Side::After, "vented")];

const SEED: u64 = 1_000_060;
const ROWS_A_SECOND: f64 = 20.0;
/// 25 minutes.
const ROWS: usize = 30_000;
const ROLES: [Role; 12] = [
    Role::Coolant,
    Role::Speed,
    Role::Ambient,
    Role::Intake,
    Role::RadiatorOut,
    Role::Oil,
    Role::Rpm,
    Role::FuelRate,
    Role::AirFlow,
    Role::Throttle,
    Role::ManifoldPressure,
    Role::BarometricPressure,
];

/// The simulated sessions.
pub struct Logs(Vec<SimSession>);

impl Logs {
    /// Before, after, after, before on each of fifteen days; each is cut off after 25 minutes.
    pub fn simulate() -> anyhow::Result<Self> {
        let day = vec![Side::Before, Side::After, Side::After, Side::Before];
        let mut campaign = Campaign::new(SEED, vec![day; SESSIONS_A_CAR / 4]);
        campaign.part_air_flow_factor = 1.1;
        campaign.logger.rate_hz = ROWS_A_SECOND;
        campaign.logger.roles = ROLES.to_vec();
        campaign.oddities.hot_s = Some([(1150.0, 1151.0); 2]);
        let sessions = campaign.run();
        for session in &sessions {
            ensure!(session.t_s.len() >= ROWS, "a session is too short");
        }
        Ok(Self(sessions))
    }

    /// Writes the logs of one setup among a car's first `count`; their paths.
    pub fn write(
        &self,
        folder: &Path,
        car: usize,
        count: usize,
        side: Side,
    ) -> anyhow::Result<Vec<String>> {
        let mut paths = Vec::new();
        for session in self.0[..count].iter().filter(|s| s.side == side) {
            let path = folder.join(format!("car_{car}_{}.csv", session.number));
            std::fs::write(&path, log(session, car)?)?;
            paths.push(path.to_str().context("UTF-8")?.to_owned());
        }
        Ok(paths)
    }
}

/// The sheet of a car of that name; all have the same hardware.
pub fn car_sheet(name: &str) -> anyhow::Result<String> {
    let sheet = heatbook::car::CarSheet {
        name: Some(name.to_owned()),
        limit_coolant_c: Some(110.0),
        ..library::car_sheet()
    };
    Ok(toml::to_string(&sheet)?)
}

fn log(session: &SimSession, car: usize) -> anyhow::Result<String> {
    let mut text = "Time".to_owned();
    for role in ROLES {
        let unit = role.quantity().inside_unit().symbol();
        write!(text, ",{} ({unit})", role.name())?;
    }
    text.push('\n');
    let start = session.start + Duration::days(200 * car as i64);
    for i in 0..ROWS {
        let at = start + Duration::milliseconds((1000.0 * session.t_s[i]) as i64);
        write!(text, "{}", at.format("%Y-%m-%dT%H:%M:%S%.3f"))?;
        for role in ROLES {
            write!(text, ",{:.1}", session.channels[&role][i])?;
        }
        text.push('\n');
    }
    Ok(text)
}
