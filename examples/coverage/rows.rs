//! What is true in each row of the table, and the plans that are read out of one campaign.

use crate::simulator::campaign::Disturbances;
use crate::simulator::{Campaign, Side, SimSession, air_flow_factor_for, true_effect};

/// Air at noon in every row unless it says otherwise, °C; the truth is told at this air.
pub const NOON_C: f64 = 23.0;

/// Corner speeds of a driver whose laps take some 3 % longer.
const SLOWER: f64 = 0.965;

/// What a part does that makes the core about 10 % better, K; and one of about 4 %.
const TEN_PERCENT_K: f64 = -2.4;
const FOUR_PERCENT_K: f64 = -1.0;

/// How sessions are planned. All plans of a row are read out of the same ten sessions, before and
/// after alternating on two days, and of the same twelve earlier ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plan {
    /// In words.
    pub label: &'static str,
    /// Places of its sessions among the ten.
    sessions: &'static [usize],
    /// Whether the book has twelve earlier sessions of two other setups on four days.
    pub history: bool,
}

impl Plan {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self {
            label: "2 + 2 alternating over 2 days",
            sessions: &[0, 1, 5, 6],
            history: false,
        },
        Self {
            label: "3 + 3 alternating over 2 days",
            sessions: &[0, 1, 2, 5, 6, 7],
            history: false,
        },
        Self {
            label: "3 + 3 alternating over 2 days, 12 earlier sessions in the book",
            sessions: &[0, 1, 2, 5, 6, 7],
            history: true,
        },
        Self {
            label: "5 + 5 alternating over 2 days",
            sessions: &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9],
            history: false,
        },
        Self {
            label: "3 before on day 1, 3 after on day 2",
            sessions: &[0, 2, 4, 5, 7, 9],
            history: false,
        },
        Self {
            label: "3 before on day 1, 3 after on day 2, 12 earlier sessions in the book",
            sessions: &[0, 2, 4, 5, 7, 9],
            history: true,
        },
    ];

    /// Its sessions.
    pub fn of<T: Clone>(&self, ten: &[T]) -> Vec<T> {
        let places = self.sessions.iter().filter_map(|&i| ten.get(i));
        places.cloned().collect()
    }
}

/// One row: what is true.
#[derive(Debug, Clone)]
pub struct Row {
    /// Short name, for `--row`.
    pub id: &'static str,
    /// In words.
    pub label: &'static str,
    /// Air flow with the part over without.
    pub air_flow_factor: f64,
    /// The true change, K.
    pub true_change_k: f64,
    /// Corner speeds with the part over without.
    pub pace_factor: f64,
    /// Air on day 2 minus day 1, K.
    pub second_day_k: f64,
}

impl Row {
    /// All rows.
    pub fn all() -> Vec<Self> {
        let row = |id, label, target_k: f64, pace_factor, second_day_k| {
            let air_flow_factor = if target_k == 0.0 {
                1.0
            } else {
                air_flow_factor_for(target_k, NOON_C)
            };
            Self {
                id,
                label,
                air_flow_factor,
                true_change_k: true_effect(air_flow_factor, NOON_C).mean_change_k,
                pace_factor,
                second_day_k,
            }
        };
        vec![
            row("null", "nothing; both days alike", 0.0, 1.0, 0.0),
            row(
                "null-cooler",
                "nothing; second day 3 K cooler",
                0.0,
                1.0,
                -3.0,
            ),
            row(
                "null-slower",
                "nothing; after-driver 3 % slower",
                0.0,
                SLOWER,
                0.0,
            ),
            row(
                "ten-hotter",
                "core +10 %; second day 3 K hotter",
                TEN_PERCENT_K,
                1.0,
                3.0,
            ),
            row(
                "ten-slower",
                "core +10 %; after-driver 3 % slower",
                TEN_PERCENT_K,
                SLOWER,
                0.0,
            ),
            row("four", "core +4 %", FOUR_PERCENT_K, 1.0, 0.0),
        ]
    }

    /// The ten sessions with this seed.
    pub fn ten(&self, seed: u64, disturbances: Disturbances) -> Vec<SimSession> {
        use Side::{After, Before};
        let days = vec![
            vec![Before, After, Before, After, Before],
            vec![After, Before, After, Before, After],
        ];
        let mut campaign = Campaign::new(seed, days);
        campaign.part_air_flow_factor = self.air_flow_factor;
        campaign.after_pace_factor = self.pace_factor;
        campaign.noon_c = vec![NOON_C, NOON_C + self.second_day_k];
        campaign.disturbances = disturbances;
        campaign.run()
    }
}

/// Twelve earlier sessions of two other setups, on four days two months before.
pub fn history(seed: u64, disturbances: Disturbances) -> Vec<SimSession> {
    use Side::{After, Before};
    let days = vec![
        vec![Before; 3],
        vec![Before; 3],
        vec![After; 3],
        vec![After; 3],
    ];
    let mut campaign = Campaign::new(seed ^ 0x5EED, days);
    campaign.setups = ["earlier-one", "earlier-two"].map(str::to_owned);
    campaign.part_air_flow_factor = 0.97;
    campaign.noon_c = vec![NOON_C - 2.0, NOON_C + 1.0, NOON_C + 3.0, NOON_C];
    campaign.first_day -= chrono::Duration::days(63);
    campaign.disturbances = disturbances;
    campaign.run()
}
