//! One session: simulated whole, cut, judged, held against what came after the cut.

use chrono::{NaiveDate, NaiveTime};
use heatbook::car::CarSheet;
use heatbook::limits::{HotDay, LimitRequest, SessionLimit, judge};
use heatbook::session::Role;
use heatbook::stats::mean;

use crate::simulator::circuit::Circuit;
use crate::simulator::cooling::{Build, Cooling};
use crate::simulator::drive::Plan;
use crate::simulator::library::car_sheet;
use crate::simulator::noise::Noise;
use crate::simulator::run::{Conditions, DT_S, Truth, run};
use crate::simulator::sensors::Logger;
use crate::simulator::weather::{DayAir, Wind};
use crate::simulator::{Side, SimSession};

/// From the cut until stored heat no longer counts, s.
const SETTLED_AFTER_S: f64 = 300.0;

/// Length of the settled running held against the answer, s.
const SETTLED_FOR_S: f64 = 700.0;

/// The limit stands so far above the coolant at the cut, K. It is known at the cut, so that it does not choose.
const LIMIT_ABOVE_K: f64 = 4.0;

/// Scatter, as a logarithm, from car to car of the heat capacities of block and oil and of their couplings, and of what
/// is written on the car sheet about the metal's. Chosen before any answer was looked at.
const CARS_LOG_SD: f64 = 0.25;

/// A row of the table.
pub struct Row {
    pub name: &'static str,
    /// Hot running until the cut, s.
    pub cut_s: (f64, f64),
    /// Step of every temperature, K.
    pub step_c: f64,
    /// Rows of the log a second.
    pub rate_hz: f64,
    /// Number of its random streams.
    stream: u64,
}

pub const ROWS: [Row; 4] = [
    Row {
        name: "cut after 5 to 7 min, 1 °C, 1 Hz",
        cut_s: (300.0, 420.0),
        step_c: 1.0,
        rate_hz: 1.0,
        stream: 0,
    },
    Row {
        name: "cut after 7 to 10 min, 1 °C, 1 Hz",
        cut_s: (420.0, 600.0),
        step_c: 1.0,
        rate_hz: 1.0,
        stream: 1,
    },
    Row {
        name: "cut after 7 to 10 min, 0.1 °C, 10 Hz",
        cut_s: (420.0, 600.0),
        step_c: 0.1,
        rate_hz: 10.0,
        stream: 2,
    },
    Row {
        name: "cut after 20 min, 1 °C, 1 Hz",
        cut_s: (1150.0, 1250.0),
        step_c: 1.0,
        rate_hz: 1.0,
        stream: 3,
    },
];

/// What the library said, and what was.
pub struct Cut {
    pub said: SessionLimit,
    pub level_c: f64,
    pub peak_c: f64,
    /// From the cut until the limit was met, s.
    pub crossed_s: Option<f64>,
    /// The time in which it had to be met to count, s.
    pub watched_s: f64,
}

/// The session with this seed.
///
/// # Errors
/// A defect of the simulator.
pub fn judged(row: &Row, circuit: &Circuit, seed: u64) -> anyhow::Result<Cut> {
    let stream = |what: u64| Noise::new(seed, 10 * row.stream + what);
    let (mut lone, mut drive, mut gusts, mut reading) =
        (stream(0), stream(1), stream(2), stream(3));
    let cut_s = lone.uniform(row.cut_s.0, row.cut_s.1);
    let watched_s = 1800.0;
    let plan = Plan {
        pace: 1.0 + 0.015 * lone.normal(0.0, 1.0),
        hot_s: cut_s + watched_s + 120.0,
        ..Plan::draw(1.0, &mut drive)
    };
    let day = DayAir::draw(lone.uniform(20.0, 32.0), &mut lone);
    let start_hour = lone.uniform(10.0, 15.0);
    let mut cooling = Cooling::warm(lone.uniform(58.0, 74.0), day.ambient_c(start_hour));
    cooling.core_scale = 1.0 + 0.01 * lone.normal(0.0, 1.0);
    cooling.build = Build::draw(CARS_LOG_SD, &mut lone);
    let sheet = car_sheet();
    let car = CarSheet {
        metal_heat_capacity_j_per_k: (sheet.metal_heat_capacity_j_per_k)
            .map(|j_per_k| j_per_k * lone.normal(0.0, CARS_LOG_SD).exp()),
        ..sheet
    };
    let conditions = Conditions {
        plan,
        day: day.clone(),
        start_hour: Some(start_hour),
        ambient_wander_k: 0.35,
        wind: Wind::draw(&mut gusts),
        cooling,
    };
    let truth = run(circuit, conditions, &mut drive, &mut gusts);
    let begin = truth.hot.iter().position(|hot| *hot).unwrap_or(0);
    let cut = begin + (cut_s / DT_S) as usize;
    let coolant = truth.channel(Role::Coolant);
    let from = cut + (SETTLED_AFTER_S / DT_S) as usize;
    let settled = &coolant[from..][..(SETTLED_FOR_S / DT_S) as usize];
    // The answer is for the session's own ambient; the day goes on.
    let ambient = truth.channel(Role::Ambient);
    let ambient_c = mean(&ambient[begin..cut]);
    let warmer_k = mean(&ambient[from..][..settled.len()]) - ambient_c;
    let limit_c = (coolant[cut] + LIMIT_ABOVE_K).round();
    let watched = &coolant[cut..][..(watched_s / DT_S) as usize];
    let met = (watched.iter().zip(&ambient[cut..]))
        .position(|(coolant, ambient)| coolant - (ambient - ambient_c) >= limit_c);
    let level_c = mean(settled) - warmer_k;
    let peak_c = settled.iter().copied().fold(f64::NEG_INFINITY, f64::max) - warmer_k;
    let session = logged(row, truth, cut as f64 * DT_S, &day, &mut reading)?;
    let said = judge(
        &session.to_session(&car)?,
        &LimitRequest {
            channel: Role::Coolant,
            limit_c: Some(limit_c),
            margin_k: None,
            hot_day: HotDay::default(),
        },
    );
    Ok(Cut {
        said,
        level_c,
        peak_c,
        crossed_s: met.map(|steps| steps as f64 * DT_S),
        watched_s,
    })
}

/// The log until the cut.
fn logged(
    row: &Row,
    truth: Truth,
    until_s: f64,
    day: &DayAir,
    reading: &mut Noise,
) -> anyhow::Result<SimSession> {
    let logger = Logger {
        rate_hz: row.rate_hz,
        temperature_step_c: row.step_c,
        roles: vec![
            Role::Coolant,
            Role::Speed,
            Role::Ambient,
            Role::BarometricPressure,
            Role::Rpm,
            Role::FuelRate,
        ],
        ..Logger::plain()
    };
    let (mut t_s, mut channels) = logger.log(&truth, day.sensor_bias_k, reading);
    let rows = t_s.partition_point(|t| *t < until_s);
    t_s.truncate(rows);
    for column in channels.values_mut() {
        column.truncate(rows);
    }
    let date = NaiveDate::from_ymd_opt(2031, 5, 17).unwrap_or_default();
    Ok(SimSession {
        number: 1,
        side: Side::Before,
        setup: "as it is".to_owned(),
        day: date,
        start: date.and_time(NaiveTime::MIN),
        t_s,
        channels,
        ambient_bias_k: day.sensor_bias_k,
        truth,
    })
}
