//! A campaign: some days, some sessions a day, before and after a part.

use std::collections::BTreeMap;

use chrono::{Duration, NaiveDate, NaiveDateTime, NaiveTime};
use heatbook::session::Role;

use super::circuit::Circuit;
use super::cooling::Cooling;
use super::drive::Plan;
use super::noise::Noise;
use super::run::{Conditions, DT_S, Truth, run};
use super::sensors::Logger;
use super::weather::{DayAir, Wind, WindKind};

/// Which car a session was run with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// Without the part.
    Before,
    /// With the part.
    After,
}

/// What disturbs the sessions of a campaign; each can be switched off to see what it does.
#[derive(Debug, Clone, Copy)]
pub struct Disturbances {
    /// Wind and gusts.
    pub wind: bool,
    /// Scatter of the core's air-side coefficient from session to session.
    pub core_scatter: f64,
    /// Temperature steps of the sensors, K.
    pub temperature_step_c: f64,
    /// Whether the driver's pace scatters, and traffic is met.
    pub uneven_pace: bool,
    /// Whether the ambient sensor leans from day to day.
    pub sensor_bias: bool,
    /// What wind, core, pace and leaning scatter over their usual scatter.
    pub factor: f64,
}

impl Disturbances {
    /// All of them.
    pub fn all() -> Self {
        Self {
            wind: true,
            core_scatter: 0.01,
            temperature_step_c: 1.0,
            uneven_pace: true,
            sensor_bias: true,
            factor: 1.0,
        }
    }

    /// All of them, this much larger.
    pub fn times(factor: f64) -> Self {
        Self {
            factor,
            ..Self::all()
        }
    }

    fn wind(&self) -> WindKind {
        let usual = WindKind::default();
        WindKind {
            steady_up_to_ms: usual.steady_up_to_ms * self.factor,
            gust_sd_ms: usual.gust_sd_ms * self.factor,
            ..usual
        }
    }
}

/// What a campaign may have out of the ordinary; nothing by default.
#[derive(Debug, Clone, Default)]
pub struct Oddities {
    /// Shortest and longest hot running before and after, s, instead of some 20 minutes.
    pub hot_s: Option<[(f64, f64); 2]>,
    /// A second run of the same length after standing so long, s.
    pub again_after_s: Option<f64>,
    /// Probability that a lap is met by traffic, before and after.
    pub traffic: Option<[f64; 2]>,
    /// Air speed that a car ahead leaves all along at pace, as a share.
    pub following: Option<f64>,
    /// Engine speeds at which the driver after changes gear, over the usual ones.
    pub after_shift_factor: Option<f64>,
    /// What the ambient sensor reads too much besides, each day, K.
    pub ambient_bias_k: Vec<f64>,
    /// Scatter of the core's air-side coefficient from day to day.
    pub day_core_scatter: f64,
    /// Air flow through the core over that of a clean one, session by session; 1 where nothing is said.
    pub air_flow_left: Vec<f64>,
    /// Pace of the driver over his usual one, day by day; 1 where nothing is said.
    pub day_pace: Vec<f64>,
}

/// A campaign to be run.
#[derive(Debug, Clone)]
pub struct Campaign {
    /// Every random number comes from it.
    pub seed: u64,
    /// The order of sessions, day by day.
    pub plan: Vec<Vec<Side>>,
    /// Names of the setups before and after.
    pub setups: [String; 2],
    /// Air flow through the core with the part over without.
    pub part_air_flow_factor: f64,
    /// Pace with the part over without (corner speeds).
    pub after_pace_factor: f64,
    /// Air at noon, each day, °C.
    pub noon_c: Vec<f64>,
    /// The first day; the others follow at a week's distance.
    pub first_day: NaiveDate,
    /// The logger.
    pub logger: Logger,
    /// What disturbs.
    pub disturbances: Disturbances,
    /// What is out of the ordinary.
    pub oddities: Oddities,
}

/// One simulated session with its log.
pub struct SimSession {
    /// Number in the campaign, from 1.
    pub number: usize,
    /// Before or after.
    pub side: Side,
    /// Name of its setup.
    pub setup: String,
    /// Day.
    pub day: NaiveDate,
    /// Time of the first row.
    pub start: NaiveDateTime,
    /// Seconds from the first row.
    pub t_s: Vec<f64>,
    /// The log's channels by role, in the units used inside the library.
    pub channels: BTreeMap<Role, Vec<f64>>,
    /// Day's leaning of the ambient sensor, K.
    pub ambient_bias_k: f64,
    /// What was, every 0.1 s.
    pub truth: Truth,
}

/// A day of a campaign.
struct Day {
    date: NaiveDate,
    air: DayAir,
    /// The core's air-side coefficient that day over nominal.
    core: f64,
    /// The driver's pace that day over his usual one.
    pace: f64,
}

impl Campaign {
    /// Three sessions before on day 1, three after on day 2: part and day cannot be told apart.
    pub fn confounded(seed: u64) -> Self {
        Self::new(seed, vec![vec![Side::Before; 3], vec![Side::After; 3]])
    }

    /// Before, after, after, before, on each of two days.
    pub fn alternating(seed: u64) -> Self {
        let order = vec![Side::Before, Side::After, Side::After, Side::Before];
        Self::new(seed, vec![order.clone(), order])
    }

    /// Any plan: the order of sessions, day by day.
    pub fn new(seed: u64, plan: Vec<Vec<Side>>) -> Self {
        Self {
            seed,
            noon_c: vec![23.0; plan.len()],
            plan,
            setups: ["before".to_owned(), "after".to_owned()],
            part_air_flow_factor: 1.0,
            after_pace_factor: 1.0,
            first_day: NaiveDate::from_ymd_opt(2031, 5, 17).unwrap_or_default(),
            logger: Logger::plain(),
            disturbances: Disturbances::all(),
            oddities: Oddities::default(),
        }
    }

    /// Runs every session.
    pub fn run(&self) -> Vec<SimSession> {
        let circuit = Circuit::new();
        let mut sessions = Vec::new();
        for (d, order) in self.plan.iter().enumerate() {
            let mut day_noise = Noise::new(self.seed, 1000 + d as u64);
            let noon_c = self.noon_c[d] + day_noise.normal(0.0, 0.4);
            let mut air = DayAir::draw(noon_c, &mut day_noise);
            if !self.disturbances.sensor_bias {
                air.sensor_bias_k = 0.0;
            }
            air.sensor_bias_k *= self.disturbances.factor;
            air.sensor_bias_k += self.oddities.ambient_bias_k.get(d).copied().unwrap_or(0.0);
            let mut core_noise = Noise::new(self.seed, 2000 + d as u64);
            let core = 1.0 + self.oddities.day_core_scatter * core_noise.normal(0.0, 1.0);
            let day = self.first_day + Duration::days(7 * d as i64);
            let on = Day {
                date: day,
                air,
                core,
                pace: self.oddities.day_pace.get(d).copied().unwrap_or(1.0),
            };
            let gap_min = 330.0 / order.len() as f64;
            for (i, &side) in order.iter().enumerate() {
                let minute = 9.6 * 60.0 + gap_min * i as f64 + day_noise.uniform(0.0, 12.0);
                let start =
                    day.and_time(NaiveTime::MIN) + Duration::milliseconds((minute * 60e3) as i64);
                let number = sessions.len() + 1;
                let session = self.session(&circuit, number, side, &on, start);
                sessions.push(session);
            }
        }
        sessions
    }

    fn session(
        &self,
        circuit: &Circuit,
        number: usize,
        side: Side,
        on: &Day,
        start: NaiveDateTime,
    ) -> SimSession {
        let Day {
            date: day,
            air,
            core,
            pace,
        } = on;
        let stream = |what: u64| Noise::new(self.seed, 10 * (100_000 + number as u64) + what);
        let (mut drive, mut wind, mut hardware, mut reading) =
            (stream(0), stream(1), stream(2), stream(3));
        let after = side == Side::After;
        let base_pace = pace * if after { self.after_pace_factor } else { 1.0 };
        let factor = self.disturbances.factor;
        let mut plan = Plan::draw(base_pace, &mut drive);
        plan.pace = base_pace + factor * (plan.pace - base_pace);
        plan.lap_scatter *= factor;
        if !self.disturbances.uneven_pace {
            plan = Plan {
                pace: base_pace,
                lap_scatter: 0.0,
                traffic: 0.0,
                ..plan
            };
        }
        if let Some(hot_s) = self.oddities.hot_s {
            let (shortest_s, longest_s) = hot_s[usize::from(after)];
            plan.hot_s = stream(4).uniform(shortest_s, longest_s);
        }
        plan.again_after_s = self.oddities.again_after_s;
        if let Some(traffic) = self.oddities.traffic {
            plan.traffic = traffic[usize::from(after)];
        }
        plan.following = self.oddities.following.unwrap_or(1.0);
        if let Some(factor) = self.oddities.after_shift_factor.filter(|_| after) {
            plan.shift_factor = factor;
        }
        let start_hour = (start - day.and_time(NaiveTime::MIN)).num_seconds() as f64 / 3600.0;
        let mut cooling = Cooling::warm(drive.uniform(58.0, 74.0), air.ambient_c(start_hour));
        cooling.core_scale =
            core + factor * self.disturbances.core_scatter * hardware.normal(0.0, 1.0);
        cooling.front.air_flow_factor = if after {
            self.part_air_flow_factor
        } else {
            1.0
        };
        cooling.front.air_flow_factor *=
            (self.oddities.air_flow_left.get(number - 1)).unwrap_or(&1.0);
        let conditions = Conditions {
            plan,
            day: air.clone(),
            start_hour: Some(start_hour),
            ambient_wander_k: 0.35,
            wind: if self.disturbances.wind {
                Wind::draw_of(self.disturbances.wind(), &mut wind)
            } else {
                Wind::calm()
            },
            cooling,
        };
        // The drive's stream makes the laps; the wind's stream the gusts and the air's wander.
        let truth = run(circuit, conditions, &mut drive, &mut wind);
        let mut logger = self.logger.clone();
        logger.temperature_step_c = self.disturbances.temperature_step_c;
        let (t_s, channels) = logger.log(&truth, air.sensor_bias_k, &mut reading);
        SimSession {
            number,
            side,
            setup: self.setups[usize::from(after)].clone(),
            day: *day,
            start,
            t_s,
            channels,
            ambient_bias_k: air.sensor_bias_k,
            truth,
        }
    }
}

impl SimSession {
    /// First and last second of running at pace.
    pub fn hot_s(&self) -> (f64, f64) {
        let hot = &self.truth.hot;
        let first = hot.iter().position(|&h| h).unwrap_or(0);
        let last = hot.iter().rposition(|&h| h).unwrap_or(0);
        (first as f64 * DT_S, last as f64 * DT_S)
    }
}
