//! What is true in each row, and what the library says of it.

use std::sync::OnceLock;

use heatbook::season::{Drift, season};

use crate::simulator::campaign::{Disturbances, Oddities};
use crate::simulator::library::car_sheet;
use crate::simulator::{Campaign, Side, air_flow_factor_for_conductance};

/// Conductance at the end of a season over that at its beginning, where it drifts.
pub const LEFT: f64 = 0.92;

/// Air at noon, °C; a day's is drawn within so many kelvin of it.
const NOON_C: f64 = 22.0;
const NOON_WITHIN_K: f64 = 6.0;

/// What a part does to the air flow through the core.
const PART_AIR_FLOW: f64 = 1.15;

/// What becomes of the core.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loss {
    /// Nothing.
    None,
    /// It blocks a little with every session.
    Steady,
    /// It blocks at once, before the sixth session.
    AtOnce,
}

impl Loss {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::None, Self::Steady, Self::AtOnce];

    /// Logarithm of the conductance over that of a clean core at session `i` of `n`.
    fn log(self, i: usize, n: usize) -> f64 {
        let share = match self {
            Self::None => 0.0,
            Self::Steady => i as f64 / (n - 1) as f64,
            Self::AtOnce => f64::from(u8::from(i >= n / 2)),
        };
        share * LEFT.ln()
    }
}

/// A row of the table.
pub struct Row {
    pub name: &'static str,
    /// The setup of each session, A or B, days parted by bars.
    days: &'static str,
    /// By how much noon warms from the first day to the last, K.
    warms_k: f64,
    /// By how much the driver's pace grows from the first day to the last, as a share.
    quicker: f64,
    /// Scatter of the core from day to day.
    day_scatter: f64,
    /// Disturbances over the usual ones.
    factor: f64,
}

/// Ten sessions over five days, nothing else.
const PLAIN: Row = Row {
    name: "2 a day on 5 days",
    days: "AA|AA|AA|AA|AA",
    warms_k: 0.0,
    quicker: 0.0,
    day_scatter: 0.0,
    factor: 1.0,
};

pub const ROWS: [Row; 8] = [
    PLAIN,
    Row {
        name: "1 a day on 10 days",
        days: "A|A|A|A|A|A|A|A|A|A",
        ..PLAIN
    },
    Row {
        name: "3, 3 and 4 on 3 days",
        days: "AAA|AAA|AAAA",
        ..PLAIN
    },
    Row {
        name: "2 a day, part fitted and removed each day",
        days: "AB|BA|AB|BA|AB",
        ..PLAIN
    },
    Row {
        name: "2 a day, noon 12 K hotter by the end",
        warms_k: 12.0,
        ..PLAIN
    },
    Row {
        name: "2 a day, driver 3 % quicker by the end",
        quicker: 0.03,
        ..PLAIN
    },
    Row {
        name: "2 a day, core scatters by 1 % from day to day",
        day_scatter: 0.01,
        ..PLAIN
    },
    Row {
        name: "2 a day, disturbances x1.5",
        factor: 1.5,
        ..PLAIN
    },
];

/// The drift the library told of the season with this seed.
///
/// # Errors
/// A defect of the simulator.
pub fn asked(row: &Row, loss: Loss, seed: u64) -> anyhow::Result<Drift> {
    let side = |letter: u8| match letter {
        b'A' => Side::Before,
        _ => Side::After,
    };
    let plan: Vec<Vec<Side>> = (row.days.split('|'))
        .map(|day| day.bytes().map(side).collect())
        .collect();
    let (days, sessions) = (plan.len(), plan.iter().flatten().count());
    let along = |day: usize| day as f64 / (days - 1) as f64;
    let mut campaign = Campaign::new(seed, plan);
    let mut noon = crate::simulator::noise::Noise::new(seed, 3000);
    campaign.noon_c = (0..days)
        .map(|day| {
            let drawn_k = noon.uniform(-NOON_WITHIN_K, NOON_WITHIN_K);
            // Where noon warms, little else moves it.
            match row.warms_k {
                0.0 => NOON_C + drawn_k,
                warms_k => NOON_C + warms_k * (along(day) - 0.5) + drawn_k / 4.0,
            }
        })
        .collect();
    campaign.part_air_flow_factor = PART_AIR_FLOW;
    campaign.disturbances = Disturbances::times(row.factor);
    campaign.oddities = Oddities {
        air_flow_left: (0..sessions)
            .map(|i| air_flow_left(loss.log(i, sessions)))
            .collect(),
        day_pace: (0..days)
            .map(|day| 1.0 + row.quicker * (along(day) - 0.5))
            .collect(),
        day_core_scatter: row.day_scatter,
        ..Oddities::default()
    };
    let sessions = (campaign.run().iter())
        .map(|session| session.to_session(&car_sheet()))
        .collect::<anyhow::Result<Vec<_>>>()?;
    Ok(season(&sessions).cars.swap_remove(0).drift)
}

/// The air flow that leaves a conductance of this logarithm over a clean core's. Between a clean core and one at
/// [`LEFT`] the one logarithm goes with the other.
fn air_flow_left(log: f64) -> f64 {
    static AT_THE_END: OnceLock<f64> = OnceLock::new();
    let at_the_end =
        AT_THE_END.get_or_init(|| air_flow_factor_for_conductance(LEFT, NOON_C).ln() / LEFT.ln());
    (log * at_the_end).exp()
}
