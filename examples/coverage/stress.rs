//! Campaigns that are hard on the tool: cold days, odd plans, poor channels, other drivers.

use heatbook::session::{Role, Session};

use super::rows::NOON_C;
use super::tool::{self, Entry};
use crate::simulator::campaign::Oddities;
use crate::simulator::cooling::{FULL_OPEN_C, OPENS_C};
use crate::simulator::{Campaign, Side, air_flow_factor_for};

/// One scenario.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// Short name, for `--row`.
    pub id: &'static str,
    /// What is true, in words.
    pub label: &'static str,
    /// The true change at [`NOON_C`] with the thermostat open, K.
    pub true_change_k: f64,
    /// A letter a session (B before, A after), a word a day.
    plan: &'static str,
    /// Air at noon, each day (the last for all that follow), °C.
    noon_c: &'static [f64],
    /// Corner speeds after over before.
    pace_factor: f64,
    oddities: Oddities,
    /// Channels that the logger lacks.
    lacks: &'static [Role],
    /// Where the owner wrote that the thermostat opens and is fully open, °C. `None`: he did not.
    thermostat_c: Option<[f64; 2]>,
    /// Whether the sessions carry their day.
    days_known: bool,
    /// Plans of other setups in the book, with their air flow over the car's without the part.
    spare: &'static [(&'static str, f64)],
}

const BETTER_SOURCES: &[Role] = &[Role::FuelRate, Role::AirFlow, Role::ManifoldPressure];
const ALL_SOURCES: &[Role] = &[
    Role::FuelRate,
    Role::AirFlow,
    Role::ManifoldPressure,
    Role::Throttle,
];
const PART_K: f64 = -2.4;
const TOO_LOW_C: [f64; 2] = [OPENS_C - 10.0, FULL_OPEN_C - 10.0];

impl Scenario {
    fn plain(id: &'static str, label: &'static str, plan: &'static str) -> Self {
        Self {
            id,
            label,
            true_change_k: 0.0,
            plan,
            noon_c: &[NOON_C],
            pace_factor: 1.0,
            oddities: Oddities::default(),
            lacks: &[],
            thermostat_c: Some([OPENS_C, FULL_OPEN_C]),
            days_known: true,
            spare: &[],
        }
    }

    /// All of them.
    pub fn all() -> Vec<Self> {
        const ABBA: &str = "BAAB BAAB";
        let plain = Self::plain;
        let odd = |oddities| Self {
            oddities,
            ..plain("", "", ABBA)
        };
        let named = |id, label, scenario: Self| Self {
            id,
            label,
            ..scenario
        };
        let base = plain("", "", ABBA);
        vec![
            plain("null", "nothing", ABBA),
            named(
                "cold-null",
                "nothing; 8 °C at noon, thermostat regulating",
                Self {
                    noon_c: &[8.0],
                    ..base.clone()
                },
            ),
            named(
                "cold-part",
                "part; 8 °C at noon, thermostat regulating",
                Self {
                    noon_c: &[8.0],
                    true_change_k: PART_K,
                    ..base.clone()
                },
            ),
            named(
                "cool-part",
                "part; 11 °C at noon, on the edge of regulating",
                Self {
                    noon_c: &[11.0],
                    true_change_k: PART_K,
                    ..base.clone()
                },
            ),
            named(
                "cool-large",
                "large part; 13 °C at noon, after-side on the edge",
                Self {
                    noon_c: &[13.0],
                    true_change_k: -4.6,
                    ..base.clone()
                },
            ),
            named(
                "cold-hot-null",
                "nothing; first day 9 °C, second 24 °C",
                Self {
                    noon_c: &[9.0, 24.0],
                    ..base.clone()
                },
            ),
            named(
                "worse-small",
                "worse by 0.6 K",
                Self {
                    true_change_k: 0.6,
                    ..base.clone()
                },
            ),
            named(
                "slower-5",
                "nothing; after-driver 5 % slower",
                Self {
                    pace_factor: 0.942,
                    ..base.clone()
                },
            ),
            named(
                "slower-5-part",
                "part; after-driver 5 % slower",
                Self {
                    pace_factor: 0.942,
                    true_change_k: PART_K,
                    ..base.clone()
                },
            ),
            named(
                "short-shift",
                "nothing; after-driver changes gear at 0.85 of the engine speed",
                odd(Oddities {
                    after_shift_factor: Some(0.85),
                    ..Oddities::default()
                }),
            ),
            named(
                "traffic",
                "nothing; after-driver meets traffic on 60 % of laps instead of 10 %",
                odd(Oddities {
                    traffic: Some([0.1, 0.6]),
                    ..Oddities::default()
                }),
            ),
            named(
                "throttle",
                "nothing; heat from throttle times engine speed",
                Self {
                    lacks: BETTER_SOURCES,
                    ..base.clone()
                },
            ),
            named(
                "throttle-slower",
                "nothing; after-driver 3 % slower; heat from throttle times engine speed",
                Self {
                    lacks: BETTER_SOURCES,
                    pace_factor: 0.965,
                    ..base.clone()
                },
            ),
            named(
                "speed",
                "nothing; heat from speed alone",
                Self {
                    lacks: ALL_SOURCES,
                    ..base.clone()
                },
            ),
            named(
                "speed-slower",
                "nothing; after-driver 3 % slower; heat from speed alone",
                Self {
                    lacks: ALL_SOURCES,
                    pace_factor: 0.965,
                    ..base.clone()
                },
            ),
            named(
                "speed-part",
                "part; second day 3 K hotter; heat from speed alone",
                Self {
                    lacks: ALL_SOURCES,
                    true_change_k: PART_K,
                    noon_c: &[23.0, 26.0],
                    ..base.clone()
                },
            ),
            named(
                "map",
                "nothing; heat from manifold pressure times engine speed",
                Self {
                    lacks: &[Role::FuelRate, Role::AirFlow],
                    ..base.clone()
                },
            ),
            named(
                "map-slower",
                "nothing; after-driver 3 % slower; heat from manifold pressure times engine speed",
                Self {
                    lacks: &[Role::FuelRate, Role::AirFlow],
                    pace_factor: 0.965,
                    ..base.clone()
                },
            ),
            named(
                "no-pressure",
                "nothing; no air pressure logged",
                Self {
                    lacks: &[Role::BarometricPressure],
                    ..base.clone()
                },
            ),
            named(
                "bias-day",
                "nothing; ambient sensor 2 K high on day 2",
                odd(Oddities {
                    ambient_bias_k: vec![0.0, 2.0],
                    ..Oddities::default()
                }),
            ),
            named(
                "short",
                "nothing; sessions of 6 to 8 minutes",
                odd(Oddities {
                    hot_s: Some([(360.0, 480.0); 2]),
                    ..Oddities::default()
                }),
            ),
            named(
                "short-part",
                "part; sessions of 6 to 8 minutes",
                Self {
                    true_change_k: PART_K,
                    ..odd(Oddities {
                        hot_s: Some([(360.0, 480.0); 2]),
                        ..Oddities::default()
                    })
                },
            ),
            named(
                "two-runs",
                "nothing; each session two runs of 12 min, 6 min standing between",
                odd(Oddities {
                    hot_s: Some([(700.0, 740.0); 2]),
                    again_after_s: Some(360.0),
                    ..Oddities::default()
                }),
            ),
            named(
                "thermostat-unknown",
                "nothing; no thermostat on the sheet",
                Self {
                    thermostat_c: None,
                    ..base.clone()
                },
            ),
            named(
                "thermostat-unknown-part",
                "part; no thermostat on the sheet",
                Self {
                    thermostat_c: None,
                    true_change_k: PART_K,
                    ..base.clone()
                },
            ),
            named(
                "thermostat-unknown-cool",
                "part; no thermostat on the sheet; 17 °C at noon",
                Self {
                    thermostat_c: None,
                    true_change_k: PART_K,
                    noon_c: &[17.0],
                    ..base.clone()
                },
            ),
            named(
                "sheet-low",
                "nothing; 12 and 20 °C at noon; sheet has the thermostat 10 K too low",
                Self {
                    thermostat_c: Some(TOO_LOW_C),
                    noon_c: &[12.0, 20.0],
                    ..base.clone()
                },
            ),
            named(
                "sheet-low-part",
                "part; 12 and 20 °C at noon; sheet has the thermostat 10 K too low",
                Self {
                    thermostat_c: Some(TOO_LOW_C),
                    noon_c: &[12.0, 20.0],
                    true_change_k: PART_K,
                    ..base.clone()
                },
            ),
            named(
                "sheet-right-part",
                "part; 12 and 20 °C at noon; sheet as it is",
                Self {
                    noon_c: &[12.0, 20.0],
                    true_change_k: PART_K,
                    ..base.clone()
                },
            ),
            named(
                "short-long",
                "nothing; before 7 to 9 minutes, after 20",
                odd(Oddities {
                    hot_s: Some([(420.0, 540.0), (1130.0, 1270.0)]),
                    ..Oddities::default()
                }),
            ),
            plain("unequal", "nothing; 2 before, 6 after", "BAAA AAAB"),
            plain(
                "unequal-one-day",
                "nothing; 2 before, 6 after on one day",
                "BAAAAAAB",
            ),
            plain("cell-of-one", "nothing; before once on each day", "BAA BAA"),
            plain(
                "one-day-four",
                "nothing; one day, before after after before",
                "BAAB",
            ),
            plain(
                "mixed-days",
                "nothing; one shared day, one day of each alone",
                "BAAB BBB AAA",
            ),
            plain(
                "same-order",
                "nothing; before in the morning, after in the afternoon, both days",
                "BBAA BBAA",
            ),
            Self {
                days_known: false,
                ..plain("no-days", "nothing; days unknown", ABBA)
            },
            plain(
                "earlier-days",
                "nothing; before on 5 days, after on a sixth",
                "BBB BBB BBB BBB BBB AAA",
            ),
            Self {
                oddities: Oddities {
                    day_core_scatter: 0.015,
                    ..Oddities::default()
                },
                ..plain(
                    "earlier-days-scatter",
                    "nothing; before on 5 days, after on a sixth; the core scatters 1.5 % from day to day",
                    "BBB BBB BBB BBB BBB AAA",
                )
            },
            plain(
                "alternating-history",
                "nothing; 2 and 2 on one day, before on 4 earlier days",
                "BBB BBB BBB BBB BAAB",
            ),
            Self {
                spare: &[("BBB BBB", 1.04), ("BBB BBB", 0.97), ("BBB BBB", 1.0)],
                ..plain(
                    "borrowed-day",
                    "nothing; 3 before on day 1, 3 after on day 2; three other setups on 2 days each in the book",
                    "BBB AAA",
                )
            },
            Self {
                spare: &[("BBB", 1.04), ("BBB", 0.97), ("BBB", 1.0)],
                ..plain(
                    "borrowed-session",
                    "nothing; 1 and 1 on one day; three other setups of 3 sessions in the book",
                    "BA",
                )
            },
            Self {
                spare: &[("BBB", 1.04), ("BBB", 0.97), ("BBB", 1.0)],
                ..plain(
                    "borrowed-abba",
                    "nothing; one day ABBA; three other setups of 3 sessions in the book",
                    "BAAB",
                )
            },
            Self {
                true_change_k: PART_K,
                noon_c: &[9.0],
                ..plain(
                    "cold-confounded",
                    "part; 9 °C; before on 3 days, after on 3",
                    "BBB BBB BBB AAA AAA AAA",
                )
            },
        ]
    }

    /// Air flow of the part.
    pub fn air_flow_factor(&self) -> f64 {
        if self.true_change_k == 0.0 {
            1.0
        } else {
            air_flow_factor_for(self.true_change_k, NOON_C)
        }
    }

    /// The book of the campaign with this seed.
    pub fn book(&self, seed: u64, air_flow_factor: f64) -> Vec<Session> {
        let mut campaign = self.campaign(seed, self.plan);
        campaign.part_air_flow_factor = air_flow_factor;
        let mut book = tool::sessions(&campaign.run(), Entry::Sessions);
        for (i, (plan, factor)) in self.spare.iter().enumerate() {
            let seed = seed + 500_000_000_000 * (i as u64 + 1);
            let mut other = self.campaign(seed, &plan.replace('B', "A"));
            other.part_air_flow_factor = *factor;
            other.setups[1] = format!("spare {i}");
            other.first_day += chrono::Duration::days(100 * (i as i64 + 1));
            for mut session in tool::sessions(&other.run(), Entry::Sessions) {
                session.meta.id = format!("spare-{i}-{}", session.meta.id);
                book.push(session);
            }
        }
        for session in &mut book {
            session.meta.car.thermostat_opens_c = self.thermostat_c.map(|range| range[0]);
            session.meta.car.thermostat_full_open_c = self.thermostat_c.map(|range| range[1]);
        }
        if !self.days_known {
            for session in &mut book {
                session.meta.day = None;
                session.meta.start = None;
            }
        }
        book
    }

    fn campaign(&self, seed: u64, plan: &str) -> Campaign {
        let side = |letter| {
            if letter == 'B' {
                Side::Before
            } else {
                Side::After
            }
        };
        let days: Vec<Vec<Side>> = plan
            .split(' ')
            .map(|day| day.chars().map(side).collect())
            .collect();
        let last = self.noon_c[self.noon_c.len() - 1];
        let noon_c = (0..days.len())
            .map(|d| self.noon_c.get(d).copied().unwrap_or(last))
            .collect();
        let mut campaign = Campaign::new(seed, days);
        campaign.noon_c = noon_c;
        campaign.after_pace_factor = self.pace_factor;
        campaign.oddities = self.oddities.clone();
        campaign
            .logger
            .roles
            .retain(|role| !self.lacks.contains(role));
        campaign
    }
}
