//! One simulated session of a row.

use chrono::{NaiveDate, NaiveTime};
use heatbook::session::{Role, Session};

use super::car::{Car, Driven};
use super::effective::{Reference, TrueUa, true_ua};
use super::rows::{Kind, Row};
use super::scale::{AMBIENT_C, Scales, reference_drive};
use crate::simulator::circuit::Circuit;
use crate::simulator::drive::Plan;
use crate::simulator::noise::Noise;
use crate::simulator::run::{Conditions, run};
use crate::simulator::sensors::Logger;
use crate::simulator::weather::{DayAir, Wind};
use crate::simulator::{Side, SimSession};

/// Draws of a session of the wanted kind before the study gives up.
const MOST_DRAWS: u64 = 60;

/// A session, as logged and as it was.
pub struct Simulated {
    /// As the library would hold it.
    pub session: Session,
    /// What is true of it.
    pub truth: TrueUa,
    /// As the simulator has it.
    pub sim: SimSession,
    /// The car.
    pub car: Car,
    /// Sessions drawn before it that were not of the row's kind.
    pub drawn_again: u64,
}

/// What does not change from draw to draw.
pub struct Setting<'a> {
    /// The row.
    pub row: &'a Row,
    /// The fixed scale.
    pub scales: &'a Scales,
    /// The circuit.
    pub circuit: &'a Circuit,
    /// Where conductances are told.
    pub reference: Reference,
}

impl Setting<'_> {
    /// The session with this seed.
    ///
    /// # Errors
    /// No session of the row's kind turned up.
    pub fn session(&self, seed: u64, driven: Driven) -> anyhow::Result<Simulated> {
        let (least_s, largest_s) = self.row.kind.open_s();
        for again in 0..MOST_DRAWS {
            let (sim, car) = self.draw(seed, driven, again);
            let truth = true_ua(&sim.truth, car.front, self.reference);
            if (least_s..=largest_s).contains(&truth.open_s) {
                return Ok(Simulated {
                    session: sim.to_session(&car.sheet)?,
                    truth,
                    sim,
                    car,
                    drawn_again: again,
                });
            }
        }
        anyhow::bail!("{}: {MOST_DRAWS} draws, none of its kind", self.row.name)
    }

    /// The scale from heat of this car, by its own reference drive.
    ///
    /// # Errors
    /// A channel is missing, which is a defect of the simulator.
    pub fn scale_from_heat(&self, car: &Car, driven: Driven) -> anyhow::Result<f64> {
        let scales = match driven {
            // Driven already, once for all sessions.
            Driven::One => *self.scales,
            Driven::Drawn => {
                let ambient_c = self.scales.ambient_for_c(car, AMBIENT_C);
                Scales::of(car, &reference_drive(car, ambient_c), ambient_c)?
            }
        };
        Ok(scales.from(self.row.source))
    }

    fn draw(&self, seed: u64, driven: Driven, again: u64) -> (SimSession, Car) {
        let row = self.row;
        let run_number = (row.stream * MOST_DRAWS + again) * 10;
        let stream = |what: u64| Noise::new(seed, run_number + what);
        let (mut lone, mut drive, mut gusts, mut reading) =
            (stream(0), stream(1), stream(2), stream(3));
        let mut car = match driven {
            Driven::One => Car::middle(driven),
            Driven::Drawn => Car::draw(row.source, self.scales, &mut stream(4)),
        };
        let disturbed = row.disturbances();
        let noon_c = self.noon_c(&car, &mut lone);
        let day = DayAir::draw(noon_c, &mut lone);
        let plan = Plan {
            pace: 1.0 + disturbed.pace_scatter * lone.normal(0.0, 1.0),
            hot_s: match row.kind {
                Kind::Short => lone.uniform(290.0, 470.0),
                _ => lone.uniform(1130.0, 1270.0),
            },
            ..Plan::draw(1.0, &mut drive)
        };
        let start_hour = lone.uniform(10.0, 15.0);
        let core = match row.kind {
            Kind::LargeCore => LARGE,
            _ => 1.0,
        };
        car.front.air_flow_factor = core;
        let mut cooling = car.cooling(lone.uniform(58.0, 74.0), day.ambient_c(start_hour));
        cooling.core_scale = core * (1.0 + disturbed.core_scatter * lone.normal(0.0, 1.0));
        let conditions = Conditions {
            plan,
            day: day.clone(),
            start_hour: Some(start_hour),
            ambient_wander_k: 0.35,
            wind: Wind::draw_of(disturbed.wind, &mut gusts),
            cooling,
        };
        let mut truth = run(self.circuit, conditions, &mut drive, &mut gusts);
        for role in [Role::FuelRate, Role::AirFlow] {
            for value in truth.channels.get_mut(&role).into_iter().flatten() {
                *value *= car.channel_gain;
            }
        }
        let logger = Logger {
            rounds_coolant: car.rounds_coolant,
            ..row.logger()
        };
        let (t_s, channels) = logger.log(&truth, day.sensor_bias_k, &mut reading);
        let date = NaiveDate::from_ymd_opt(2031, 5, 17).unwrap_or_default();
        let sim = SimSession {
            number: 1,
            side: Side::Before,
            setup: "as it is".to_owned(),
            day: date,
            start: date.and_time(NaiveTime::MIN)
                + chrono::Duration::seconds((3600.0 * start_hour) as i64),
            t_s,
            channels,
            ambient_bias_k: day.sensor_bias_k,
            truth,
        };
        (sim, car)
    }

    /// Air at noon: as warm as the row asks for, and for a drawn car so much warmer or colder that
    /// its coolant settles where the nominal car's would. A car that gives its coolant more heat
    /// would otherwise open its thermostat more often, and the sessions that can be fitted would
    /// be a choice of cars.
    fn noon_c(&self, car: &Car, lone: &mut Noise) -> f64 {
        let nominal_c = match self.row.kind {
            Kind::Usual | Kind::Short => lone.uniform(20.0, 30.0),
            Kind::ColdDay => lone.uniform(-8.0, 2.0),
            Kind::CoolDay => lone.uniform(2.0, 10.0),
            Kind::LargeCore => lone.uniform(12.0, 22.0),
        };
        self.scales.ambient_for_c(car, nominal_c)
    }
}

/// Air flow and air-side coefficient of the large core over nominal.
const LARGE: f64 = 1.5;
