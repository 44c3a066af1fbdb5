//! The fitted car driven through a reference drive until it repeats.

use super::joint::JointFit;
use super::prepare::{METAL_LAG_S, Prepared, STEP_S};
use super::slow_store::SLOW_S;
use crate::stats::root_within;
use crate::thermal::air;
use crate::thermal::balance::{held_share, lagged};
use crate::thermal::conductance::{log_air_flow, relative};
use crate::thermal::thermostat::Thermostat;
use crate::thermal::wall;

/// A fitted car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarModel {
    /// Conductance at reference conditions, W/K.
    pub g_w_per_k: f64,
    /// Exponent of conductance on air flow.
    pub exponent: f64,
    /// Heat capacity of coolant and metal, J/K.
    pub capacity_j_per_k: f64,
    /// The thermostat; `None`: held fully open.
    pub thermostat: Option<Thermostat>,
    /// Heat that goes into a slow store (`slow_store`) by kelvin, W/K; zero: there is none.
    pub store_w_per_k: f64,
}

/// Where a drive begins, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    /// Coolant.
    pub coolant_c: f64,
    /// The slow store.
    pub store_c: f64,
    /// How slowly the store follows, s; infinite: it stays.
    pub store_tau_s: f64,
}

impl Start {
    /// Coolant and store alike, the store following.
    pub fn even(coolant_c: f64) -> Self {
        Self {
            coolant_c,
            store_c: coolant_c,
            store_tau_s: SLOW_S,
        }
    }
}

impl CarModel {
    /// The car with its conductance off by `log_shift`, a logarithm.
    pub fn shifted(&self, log_shift: f64) -> Self {
        Self {
            g_w_per_k: self.g_w_per_k * log_shift.exp(),
            ..*self
        }
    }
}

/// A drive to put cars through, in steps of [`STEP_S`].
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceDrive {
    /// Heat that would reach the coolant at `thermal::wall::REFERENCE_C`, W.
    heat_w: Vec<f64>,
    /// Logarithm of relative air flow at standard density.
    log_air_flow: Vec<f64>,
    /// Pressure of the air, kPa.
    pressure_kpa: f64,
}

/// A drive at one ambient, for cars of one exponent.
pub struct DriveAt {
    /// Heat over each step, J.
    heat_j: Vec<f64>,
    /// Conductance over that at reference conditions, over each step, s.
    flow_s: Vec<f64>,
    /// Length of a step; the last may be shorter.
    step_s: f64,
    ambient_c: f64,
}

/// Coolant over a drive repeated until it no longer changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settled {
    /// Mean, °C.
    pub mean_c: f64,
    /// Peak, °C.
    pub peak_c: f64,
    /// At the drive's end, and so at its beginning, °C.
    pub end_c: f64,
}

/// Rounds of a drive after which what still changes is taken for no answer.
const MOST_ROUNDS: usize = 50;

/// Heat over that at `thermal::wall::REFERENCE_C`: at 0 °C, and what comes to it with each °C of the coolant.
type HeatLine = (f64, f64);

impl ReferenceDrive {
    /// Heat at `thermal::wall::REFERENCE_C`, W, and speed, km/h, of each step; pressure of the air.
    pub fn new(heat_w: Vec<f64>, speed_kmh: &[f64], pressure_kpa: f64) -> Self {
        let at_standard = |&v: &f64| log_air_flow(v, air::STANDARD_DENSITY_KG_M3);
        Self {
            heat_w,
            log_air_flow: speed_kmh.iter().map(at_standard).collect(),
            pressure_kpa,
        }
    }

    /// The longest stint of a session, with the heat input as the joint fit has it. `None`: the
    /// session has no stint or no heat input.
    pub fn of(session: &Prepared, fit: &JointFit) -> Option<Self> {
        session.heat.as_ref()?;
        let &(a, b) = session.drive.stints.iter().max_by_key(|(a, b)| b - a)?;
        let heat = &fit.heat_at_reference_w(session)[a..b];
        Some(Self::new(
            lagged(heat, METAL_LAG_S, STEP_S),
            &session.speed_kmh[a..b],
            session.pressure_kpa,
        ))
    }

    /// Its last whole laps of `lap_steps`, so that repeated it goes on where it ended; all of it where it is
    /// shorter than a lap.
    pub fn last_laps(mut self, lap_steps: usize) -> Self {
        let laps = self.steps() / lap_steps.max(1);
        if laps > 0 {
            let from = self.steps() - laps * lap_steps.max(1);
            self.heat_w.drain(..from);
            self.log_air_flow.drain(..from);
        }
        self
    }

    /// Its length, steps.
    pub fn steps(&self) -> usize {
        self.heat_w.len()
    }

    /// The drive at `ambient_c` for cars of this exponent.
    pub fn at(&self, exponent: f64, ambient_c: f64) -> DriveAt {
        let density = air::density_kg_m3(ambient_c, self.pressure_kpa);
        let denser = (density / air::STANDARD_DENSITY_KG_M3).ln();
        DriveAt {
            heat_j: self.heat_w.iter().map(|w| w * STEP_S).collect(),
            flow_s: (self.log_air_flow.iter())
                .map(|flow| relative(flow + denser, exponent) * STEP_S)
                .collect(),
            step_s: STEP_S,
            ambient_c,
        }
    }

    /// Drives `car` through the drive at `ambient_c` over and over until the mean holds to 1 mK.
    pub fn settle(&self, car: &CarModel, ambient_c: f64) -> Settled {
        self.at(car.exponent, ambient_c)
            .settle_with(car, wall::HEAT_LINE)
    }

    /// Seconds from the drive's beginning until `car`, from `start` on at `ambient_c`, first reaches
    /// `limit_c`. `None`: not within `within_s`.
    pub fn reaches_s(
        &self,
        car: &CarModel,
        start: Start,
        ambient_c: f64,
        limit_c: f64,
        within_s: f64,
    ) -> Option<f64> {
        if start.coolant_c >= limit_c {
            return Some(0.0);
        }
        let steps = (within_s / STEP_S) as usize;
        self.at(car.exponent, ambient_c)
            .course(car, start, wall::HEAT_LINE, || 1.0)
            .take(steps)
            .position(|temp_c| temp_c >= limit_c)
            .map(|before| (before + 1) as f64 * STEP_S)
    }

    /// Hottest coolant within `within_s` from the drive's beginning, from `start` on at `ambient_c`.
    pub fn peak_within_c(
        &self,
        car: &CarModel,
        start: Start,
        ambient_c: f64,
        within_s: f64,
    ) -> f64 {
        let steps = (within_s / STEP_S) as usize;
        self.at(car.exponent, ambient_c)
            .course(car, start, wall::HEAT_LINE, || 1.0)
            .take(steps)
            .fold(start.coolant_c, f64::max)
    }

    /// Ambient at which the settled peak reaches `limit_c`, between -40 and 80 °C; `None` outside.
    pub fn limiting_ambient_c(&self, car: &CarModel, limit_c: f64) -> Option<f64> {
        let over = |ambient_c: f64| self.settle(car, ambient_c).peak_c - limit_c;
        root_within(1e-3, over, -40.0, 80.0)
    }
}

impl DriveAt {
    /// The same in steps of twice the length: a coolant that follows within a minute is off by some 0.01 K.
    pub fn in_double_steps(&self) -> Self {
        let pairs = |values: &[f64]| values.chunks(2).map(|pair| pair.iter().sum()).collect();
        Self {
            heat_j: pairs(&self.heat_j),
            flow_s: pairs(&self.flow_s),
            step_s: 2.0 * self.step_s,
            ..*self
        }
    }

    /// Its length, steps.
    pub fn steps(&self) -> usize {
        self.heat_j.len()
    }

    /// Coolant after each step of the drive, repeated for ever, from `start` on. `gust` tells for each step how
    /// many times the conductance is what the car makes of speed and density.
    fn course(
        &self,
        car: &CarModel,
        start: Start,
        (at_zero, per_c): HeatLine,
        mut gust: impl FnMut() -> f64,
    ) -> impl Iterator<Item = f64> {
        // Everything over a step and by the heat capacity: kelvins.
        let per_j = 1.0 / car.capacity_j_per_k;
        let g = car.g_w_per_k * per_j;
        let store = car.store_w_per_k * per_j * self.step_s;
        let full_open_c = car.thermostat.map_or(f64::NEG_INFINITY, |t| t.full_open_c);
        let thermostat = car.thermostat;
        let follow = -(-self.step_s / start.store_tau_s).exp_m1();
        let (mut temp_c, mut store_c) = (start.coolant_c, start.store_c);
        let drive = self.heat_j.iter().zip(&self.flow_s).cycle();
        drive.map(move |(&heat_j, &flow_s)| {
            let mut decay = g * flow_s * gust();
            if temp_c < full_open_c {
                decay *= thermostat.map_or(1.0, |t| t.opening(temp_c));
            }
            // The rise is a straight line over the coolant.
            let (held, heat_k) = (held_share(decay), heat_j * per_j);
            let constant = held * (heat_k * at_zero + decay * self.ambient_c + store * store_c);
            let slope = held * (heat_k * per_c - decay - store);
            store_c += follow * (temp_c - store_c);
            temp_c += constant + slope * temp_c;
            temp_c
        })
    }

    /// Coolant after each step of the drive, repeated for ever, with the conductance `gust` times the car's.
    pub fn gusty_course(
        &self,
        car: &CarModel,
        start: Start,
        gust: impl FnMut() -> f64,
    ) -> impl Iterator<Item = f64> {
        self.course(car, start, wall::HEAT_LINE, gust)
    }

    /// Settled, with this much of the heat at each coolant temperature.
    fn settle_with(&self, car: &CarModel, share: HeatLine) -> Settled {
        let steps = self.steps();
        let mut start = Start {
            store_tau_s: f64::INFINITY,
            ..Start::even(self.ambient_c + 60.0)
        };
        let mut last = f64::NAN;
        for _ in 0..MOST_ROUNDS {
            let round = self.course(car, start, share, || 1.0).take(steps);
            let (sum, peak_c, end_c) = round.fold(
                (0.0, f64::NEG_INFINITY, f64::NAN),
                |(sum, peak, _), temp_c| (sum + temp_c, temp_c.max(peak), temp_c),
            );
            let mean_c = sum / steps as f64;
            if (mean_c - last).abs() < 1e-3 {
                return Settled {
                    mean_c,
                    peak_c,
                    end_c,
                };
            }
            last = mean_c;
            // The store ends at the mean, however slowly: it is put there.
            start = Start {
                coolant_c: end_c,
                store_c: mean_c,
                ..start
            };
        }
        Settled {
            mean_c: f64::NAN,
            peak_c: f64::NAN,
            end_c: f64::NAN,
        }
    }
}

#[cfg(test)]
mod tests;
