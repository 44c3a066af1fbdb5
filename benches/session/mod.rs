//! Simulated sessions of 25 minutes at ten rows a second, as if they had been imported.

use anyhow::ensure;
use heatbook::session::Session;

use crate::simulator::library::car_sheet;
use crate::simulator::{Campaign, Side};

const SEED: u64 = 250_010;
const ROWS_A_SECOND: f64 = 10.0;
const ROWS: usize = 15_000;

/// Running at pace, s, between these; the lap on which it passes is driven to its end.
const HOT_S: (f64, f64) = (1150.0, 1151.0);

/// So many sessions of one day: standing, out-lap, laps at pace, cut off 25 minutes after the
/// first row.
pub fn sessions(count: usize) -> anyhow::Result<Vec<Session>> {
    let mut campaign = Campaign::new(SEED, vec![vec![Side::Before; count]]);
    campaign.logger.rate_hz = ROWS_A_SECOND;
    campaign.oddities.hot_s = Some([HOT_S; 2]);
    let car = car_sheet();
    let simulated = campaign.run().into_iter().map(|mut session| {
        ensure!(session.t_s.len() >= ROWS, "the session is too short");
        session.t_s.truncate(ROWS);
        for column in session.channels.values_mut() {
            column.truncate(ROWS);
        }
        session.to_session(&car)
    });
    simulated.collect()
}
