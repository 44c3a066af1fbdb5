//! What is true in each row of the table, and the two ways to plan a campaign.

use crate::simulator::{Campaign, air_flow_factor_for, true_effect};

/// Air at noon in every row unless it says otherwise, °C; the truth is told at this air.
pub const NOON_C: f64 = 23.0;

/// A campaign's plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Design {
    /// Three sessions before on day 1, three after on day 2.
    Confounded,
    /// Before, after, after, before on each of two days.
    Alternating,
}

impl Design {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Confounded, Self::Alternating];

    /// The plan in words.
    pub fn label(self) -> &'static str {
        match self {
            Self::Confounded => "3 before on day 1, 3 after on day 2",
            Self::Alternating => "before, after, after, before on each of 2 days",
        }
    }
}

/// One row: what is true.
#[derive(Debug, Clone)]
pub struct Row {
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
        let row = |label, target_k: f64, pace_factor, second_day_k| {
            let air_flow_factor = if target_k == 0.0 {
                1.0
            } else {
                air_flow_factor_for(target_k, NOON_C)
            };
            let true_change_k = true_effect(air_flow_factor, NOON_C).mean_change_k;
            Self {
                label,
                air_flow_factor,
                true_change_k,
                pace_factor,
                second_day_k,
            }
        };
        vec![
            row("nothing; second day 3 K cooler", 0.0, 1.0, -3.0),
            row("nothing; after-driver 3 % slower", 0.0, SLOWER, 0.0),
            row("part -2.4 K; second day 3 K hotter", -2.4, 1.0, 3.0),
            row("part -2.4 K; after-driver 3 % slower", -2.4, SLOWER, 0.0),
            row("small part -0.6 K", -0.6, 1.0, 0.0),
            row("large part -4.6 K", -4.6, 1.0, 0.0),
        ]
    }

    /// The campaign with this seed.
    pub fn campaign(&self, design: Design, seed: u64) -> Campaign {
        let mut campaign = match design {
            Design::Confounded => Campaign::confounded(seed),
            Design::Alternating => Campaign::alternating(seed),
        };
        campaign.part_air_flow_factor = self.air_flow_factor;
        campaign.after_pace_factor = self.pace_factor;
        campaign.noon_c = vec![NOON_C, NOON_C + self.second_day_k];
        campaign
    }
}

/// Corner speeds of a driver whose laps take some 3 % longer.
const SLOWER: f64 = 0.965;
