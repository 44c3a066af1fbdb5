//! A session as a state followed through time, and the likelihood of its coolant readings.
//!
//! ```text
//! C_m dT_m/dt = Q - K (T_m - T_c) - K_b (T_m - T_b)     metal around the gas
//! C_c dT_c/dt = K (T_m - T_c) - φ g f e^w (T_c - T_air) coolant leaving the engine
//! C_b dT_b/dt = K_b (T_m - T_b)                         block, oil: what warms in minutes
//! τ dT_s/dt   = T_c - T_s                               what the sensor feels
//! dw          = -w/τ_w dt + σ_w √(2/τ_w) dβ             wind and all else the model misses
//! y           = T_s + v, read in steps of the channel
//! ```
//!
//! Temperatures °C; capacities J/K; Q heat into the coolant, W (`heat_law`); φ opening of the
//! thermostat, whose wax follows the reading by `WAX_LAG_S`; g conductance at reference
//! conditions, W/K; f relative conductance (`thermal::conductance`); K = C_m / (7 s · λ) and
//! τ = 5 s · λ with one factor λ for both lags, which the data do not part; K_b = C_b / τ_b.
//!
//! Everything the model misses moves the conductance: heat is balanced to the joule, so that the
//! mean of `log g + w` is the session's heat balance whatever σ_w is. What the load does is not
//! learned here (`joint` does that from whole laps): a wandering conductance swallows it.
//!
//! The four temperatures are stepped exactly with everything else held; w is held over a step,
//! which is short against its memory; the product `e^w (T_c - T_air)` is linearised about the
//! current belief (extended Kalman filter). The whole record up to the end of hot running is
//! walked, so that stored heat is known when hot running starts. Outside the stints neither heat
//! nor conductance is trusted: both get so much noise that those readings only carry the
//! temperatures along. With the thermostat partly open the conductance is doubted as
//! `PART_OPEN_LOG_SD` says.

use nalgebra::{SMatrix, SVector};

use super::joint::JointFit;
use super::prepare::{Prepared, STEP_S};
use crate::session::Role;
use crate::stats::kalman::{Belief, Reading, Step};
use crate::stats::posterior::{Model, Normal, Walk};
use crate::stats::step_table::StepTable;
use crate::stats::{mean, posterior};
use crate::thermal::balance::lagged;
use crate::thermal::conductance::relative;

/// Steps of the grid in a step of the filter: 2 s, a third of the quickest lag's square sum.
const GRID_STEPS: usize = 2;

/// Length of a step of the filter, s.
pub const FILTER_STEP_S: f64 = STEP_S * GRID_STEPS as f64;

/// Metal to coolant and coolant to sensor at λ = 1, s (5 to 10 and 3 to 10; common practice, no
/// source).
const LAGS_S: (f64, f64) = (7.0, 5.0);

/// The thermostat's wax behind the reading, s (10 to 30 behind the coolant; common practice, no
/// source).
const WAX_LAG_S: f64 = 12.0;

/// Doubt about the conductance with the thermostat closed, as a logarithm; in proportion between.
const PART_OPEN_LOG_SD: f64 = 0.3;

/// Doubt about conductance and heat outside the stints: logarithm, and W √s.
const UNTRUSTED: (f64, f64) = (0.5, 30e3);

/// Noise of the heat inside the stints, W √s: for the arithmetic only.
const HEAT_NOISE: f64 = 400.0;

/// Noise of a reading besides its steps, K².
const READING_VARIANCE: f64 = 0.01;

/// Smallest step that is treated as one, °C.
const FINE_STEP_C: f64 = 0.05;

/// Conductances above the fitted one up to this ratio are tabled; rarer ones are computed.
const USUAL_MOST: f64 = 3.0;

const STATES: usize = 6;
const METAL: usize = 0;
const COOLANT: usize = 1;
const SENSOR: usize = 2;
const BLOCK: usize = 3;
const WANDER: usize = 4;
const TALLY: usize = 5;

/// What is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parameter {
    /// Logarithm of the conductance at reference conditions, W/K.
    Conductance,
    /// Logarithm of the quick heat capacity (coolant and metal) over the car sheet's.
    Capacity,
    /// Logarithm of λ.
    Lag,
    /// Logarithm of σ_w.
    Wander,
    /// Logarithm of τ_w, s.
    WanderTime,
    /// How much lower than the sheet says the thermostat opens, K.
    Thermostat,
    /// Logarithm of the slow heat capacity over the car sheet's.
    Slow,
    /// Logarithm of τ_b, s.
    SlowTime,
}

use Parameter::{Capacity, Conductance, Lag, Slow, SlowTime, Thermostat, Wander, WanderTime};

impl Parameter {
    /// Every parameter, those that a simpler model leaves out last.
    pub const ALL: [Parameter; 8] = [
        Conductance,
        Capacity,
        Lag,
        Wander,
        WanderTime,
        Thermostat,
        Slow,
        SlowTime,
    ];

    /// Its prior. All common practice, no source, and wide: the thermostat's rating ±2 K; gusts
    /// and wakes move the conductance by some 5 % for a minute; a block of cast metal and its oil
    /// hold about half of what coolant and heads do and follow in some minutes.
    pub fn prior(self) -> Normal {
        let (centre, sd) = match self {
            Conductance => (6.5, 3.0),
            Capacity => (0.0, 0.40),
            Lag => (0.0, 0.35),
            Wander => (0.05_f64.ln(), 1.0),
            WanderTime => (60.0_f64.ln(), 0.5),
            Thermostat => (0.0, 2.0),
            Slow => (0.5_f64.ln(), 0.5),
            SlowTime => (150.0_f64.ln(), 0.4),
        };
        Normal { centre, sd }
    }

    /// The parameter in words.
    pub fn label(self) -> &'static str {
        match self {
            Conductance => "conductance",
            Capacity => "heat capacity",
            Lag => "lags",
            Wander => "size of the wander",
            WanderTime => "memory of the wander",
            Thermostat => "thermostat",
            Slow => "slow heat capacity",
            SlowTime => "time of the slow part",
        }
    }
}

/// One step of the record, with everything but the state held.
#[derive(Debug, Clone, Copy)]
pub struct Instant {
    /// Heat into the coolant, W.
    pub heat_w: f64,
    /// Relative conductance at this air flow.
    pub flow: f64,
    /// Ambient, °C.
    pub air_c: f64,
    /// What the thermostat's wax feels, °C.
    pub wax_c: f64,
    /// In a stint.
    pub trusted: bool,
    /// In a stint, with the thermostat fully open by the car sheet.
    pub open: bool,
    /// What the coolant's sensor said.
    pub reading: Option<Reading>,
}

/// A session's record as the filter walks it, with the shared parameters put in.
#[derive(Debug, Clone)]
pub struct Record {
    instants: Vec<Instant>,
    /// Grid step at which the walk starts.
    first: usize,
    /// Seconds in the stints with the thermostat fully open.
    open_s: f64,
    coolant_j_per_k: f64,
    metal_j_per_k: f64,
    opens_c: f64,
    span_k: f64,
    /// How many of [`Parameter::ALL`] are fitted.
    fitted: usize,
    priors: Vec<Normal>,
}

/// What a walk through the record leaves behind.
#[derive(Debug, Clone)]
pub struct Passage {
    /// One value a step: likelihood, forecast, variance; the figure is the logarithm of the
    /// conductance as it was over the open running.
    pub walk: Walk,
    /// Surprise of each reading in standard deviations; `NaN` without a reading.
    pub surprise: Vec<f64>,
    /// Variance of the mean wander over the open running.
    pub wander_variance: f64,
}

impl Record {
    /// The record of a session under what the joint fit says of heat and air flow. `None`: no
    /// ambient, no heat input, no reading or no stint.
    pub fn new(session: &Prepared, joint: &JointFit) -> Option<Self> {
        let first = session.coolant_c.iter().position(|c| !c.is_nan())?;
        let last = session.drive.stints.last()?.1;
        let raw = session.grid.get(Role::Coolant)?;
        let wax = lagged(&session.coolant_c, WAX_LAG_S, STEP_S);
        let heat_w = held(&joint.heat_w(session));
        let air_c = held(session.ambient_c.as_deref()?);
        let log_flow = held(&session.log_air_flow_now);
        session.heat.as_ref()?;
        let instants: Vec<Instant> = (first..last)
            .step_by(GRID_STEPS)
            .map(|from| {
                let over = from..(from + GRID_STEPS).min(last);
                let stint = |i: usize| session.drive.stints.iter().any(|&(a, b)| a <= i && i < b);
                let trusted = over.clone().all(stint);
                Instant {
                    heat_w: mean(&heat_w[over.clone()]),
                    flow: relative(mean(&log_flow[over.clone()]), joint.air_exponent()),
                    air_c: air_c[from],
                    wax_c: wax[from],
                    open: trusted && wax[from] >= session.thermostat.full_open_c,
                    trusted,
                    reading: reading(&raw[over], session.coolant_step_c),
                }
            })
            .collect();
        let coolant_j_per_k = session.coolant_j_per_k;
        let fitted = Parameter::ALL.len();
        let open = instants.iter().filter(|at| at.open).count();
        (open > 0).then_some(())?;
        Some(Self {
            open_s: open as f64 * FILTER_STEP_S,
            instants,
            first,
            coolant_j_per_k,
            metal_j_per_k: session.capacity_j_per_k - coolant_j_per_k,
            opens_c: session.thermostat.opens_c,
            span_k: session.thermostat.full_open_c - session.thermostat.opens_c,
            fitted,
            priors: Parameter::ALL.map(Parameter::prior).to_vec(),
        })
    }

    /// The same record for a model without the slow part.
    pub fn without_slow_part(&self) -> Self {
        let fitted = Parameter::ALL.len() - 2;
        Self {
            fitted,
            priors: self.priors[..fitted].to_vec(),
            ..self.clone()
        }
    }

    /// The record, step by step.
    pub fn steps(&self) -> &[Instant] {
        &self.instants
    }

    /// Seconds in the stints with the thermostat fully open.
    pub fn open_s(&self) -> f64 {
        self.open_s
    }

    /// Grid step of filter step `k`.
    pub fn grid_step(&self, k: usize) -> usize {
        self.first + k * GRID_STEPS
    }

    /// Where the search starts: priors, and the conductance of a steady balance.
    pub fn start(&self, log_g: f64) -> Vec<f64> {
        let mut start: Vec<f64> = self.priors.iter().map(|p| p.centre).collect();
        start[0] = log_g;
        start
    }

    /// Walks through the record; `parameters` in the order of [`Parameter::ALL`].
    pub fn passage(&self, parameters: &[f64]) -> Passage {
        let car = Car::new(self, parameters);
        let mut belief = self.first_belief();
        let mut out = Passage::with_capacity(self.instants.len());
        let sensor = SVector::<f64, STATES>::ith(SENSOR, 1.0);
        for at in &self.instants {
            out.read(&mut belief, &sensor, at.reading);
            car.step(&mut belief, at);
        }
        out.walk.figure = parameters[0] + belief.mean[TALLY] / self.open_s;
        out.wander_variance = belief.covariance[(TALLY, TALLY)] / self.open_s.powi(2);
        out
    }

    /// Warm through, near the first reading, with the block less sure than the rest.
    fn first_belief(&self) -> Belief<STATES> {
        let start_c = self
            .instants
            .iter()
            .find_map(|at| at.reading)
            .map_or(60.0, |reading| match reading {
                Reading::Value(value) => value,
                Reading::Between(low, high) => f64::midpoint(low, high),
            });
        let sd = [5.0, 3.0, 1.0, 15.0, 0.5, 1e-6];
        let mut mean = SVector::repeat(start_c);
        mean[WANDER] = 0.0;
        mean[TALLY] = 0.0;
        Belief {
            mean,
            covariance: SMatrix::from_diagonal(&SVector::from(sd.map(|s| s * s))),
        }
    }
}

impl Model for Record {
    fn priors(&self) -> &[Normal] {
        &self.priors
    }

    fn walk(&self, parameters: &[f64]) -> posterior::Walk {
        self.passage(parameters).walk
    }
}

impl Passage {
    fn with_capacity(n: usize) -> Self {
        let empty = || Vec::with_capacity(n);
        Self {
            walk: Walk {
                log_likelihood: empty(),
                forecast: empty(),
                variance: empty(),
                figure: f64::NAN,
            },
            surprise: empty(),
            wander_variance: f64::NAN,
        }
    }

    fn read(
        &mut self,
        belief: &mut Belief<STATES>,
        sensor: &SVector<f64, STATES>,
        reading: Option<Reading>,
    ) {
        let told = reading.map(|r| {
            let expected = belief.mean[SENSOR];
            (expected, belief.update(sensor, r, READING_VARIANCE))
        });
        let (forecast, log_likelihood, surprise, variance) = match told {
            Some((expected, told)) => {
                let step = match reading {
                    Some(Reading::Between(low, high)) => high - low,
                    _ => 0.0,
                };
                let variance = told.variance + step * step / 12.0;
                (expected, told.log_likelihood, told.standardised, variance)
            }
            // Without a reading nothing is said: no score, no information.
            None => (0.0, 0.0, f64::NAN, 1.0),
        };
        self.walk.forecast.push(forecast);
        self.walk.log_likelihood.push(log_likelihood);
        self.walk.variance.push(variance);
        self.surprise.push(surprise);
    }
}

/// The parameters put to work.
struct Car {
    g_w_per_k: f64,
    metal_j_per_k: f64,
    coolant_j_per_k: f64,
    /// Steps of the four temperatures by what the radiator takes, 1/s.
    steps: StepTable<4>,
    wander_sd: f64,
    wander_keep: f64,
    wander_mean_keep: f64,
    opens_c: f64,
    span_k: f64,
}

impl Car {
    fn new(record: &Record, parameters: &[f64]) -> Self {
        let at = |p: Parameter| parameters[p as usize].exp();
        let sheet = record.coolant_j_per_k + record.metal_j_per_k;
        let coolant = record.coolant_j_per_k;
        let metal = (sheet * at(Capacity) - coolant).max(0.3 * coolant);
        let lag = at(Lag);
        let to_coolant = metal / (LAGS_S.0 * lag);
        let (to_block, per_block) = if record.fitted > Slow as usize {
            let block = sheet * at(Slow);
            (block / at(SlowTime), 1.0 / at(SlowTime))
        } else {
            (0.0, 0.0)
        };
        let mut drift = SMatrix::<f64, 4, 4>::zeros();
        drift[(METAL, METAL)] = -(to_coolant + to_block) / metal;
        drift[(METAL, COOLANT)] = to_coolant / metal;
        drift[(METAL, BLOCK)] = to_block / metal;
        drift[(COOLANT, METAL)] = to_coolant / coolant;
        drift[(COOLANT, COOLANT)] = -to_coolant / coolant;
        drift[(BLOCK, METAL)] = per_block;
        drift[(BLOCK, BLOCK)] = -per_block;
        drift[(SENSOR, COOLANT)] = 1.0 / (LAGS_S.1 * lag);
        drift[(SENSOR, SENSOR)] = -drift[(SENSOR, COOLANT)];
        let mut radiator = SMatrix::<f64, 4, 4>::zeros();
        radiator[(COOLANT, COOLANT)] = -1.0;
        let most = USUAL_MOST * at(Conductance) / coolant;
        let tau = at(WanderTime);
        let keep = (-FILTER_STEP_S / tau).exp();
        Self {
            steps: StepTable::new(drift, radiator, (0.0, most), FILTER_STEP_S),
            g_w_per_k: at(Conductance),
            metal_j_per_k: metal,
            coolant_j_per_k: coolant,
            wander_sd: at(Wander),
            wander_keep: keep,
            wander_mean_keep: (1.0 - keep) * tau,
            opens_c: record.opens_c - parameters[Thermostat as usize],
            span_k: record.span_k,
        }
    }

    /// Opening of the thermostat: a straight line with its corners rounded, so that the likelihood
    /// has none; a little leaks when it is closed.
    fn opening(&self, wax_c: f64) -> f64 {
        const ROUND: f64 = 0.03;
        const LEAK: f64 = 0.02;
        let bend = |x: f64| {
            if x > 20.0 * ROUND {
                x
            } else {
                ROUND * (x / ROUND).exp().ln_1p()
            }
        };
        let x = (wax_c - self.opens_c) / self.span_k;
        LEAK + (1.0 - LEAK) * (bend(x) - bend(x - 1.0))
    }

    /// Carries the belief over one step.
    fn step(&self, belief: &mut Belief<STATES>, at: &Instant) {
        let opening = self.opening(at.wax_c);
        let wander = belief.mean[WANDER];
        let conductance = opening * self.g_w_per_k * at.flow * wander.exp();
        let rate = conductance / self.coolant_j_per_k;
        let excess_k = belief.mean[COOLANT] - at.air_c;
        let (transition, hold) = self.steps.at(rate);
        let input = SVector::<f64, STATES>::from([
            at.heat_w / self.metal_j_per_k,
            rate * (at.air_c + excess_k * wander),
            0.0,
            0.0,
            0.0,
            0.0,
        ]);
        let mut step = Step::<STATES> {
            transition: SMatrix::identity(),
            hold: SMatrix::zeros(),
            noise: SMatrix::zeros(),
        };
        step.transition
            .fixed_view_mut::<4, 4>(0, 0)
            .copy_from(&transition);
        step.hold.fixed_view_mut::<4, 4>(0, 0).copy_from(&hold);
        for i in 0..4 {
            step.transition[(i, WANDER)] = -rate * excess_k * hold[(i, COOLANT)];
        }
        step.transition[(WANDER, WANDER)] = self.wander_keep;
        if at.open {
            step.transition[(TALLY, WANDER)] = self.wander_mean_keep;
        }
        let (doubt, heat_noise) = if at.trusted {
            (PART_OPEN_LOG_SD * (1.0 - opening), HEAT_NOISE)
        } else {
            UNTRUSTED
        };
        let wander_sd = self.wander_sd.hypot(doubt);
        step.noise[(WANDER, WANDER)] =
            wander_sd * wander_sd * (1.0 - self.wander_keep * self.wander_keep);
        step.noise[(METAL, METAL)] = (heat_noise / self.metal_j_per_k).powi(2) * FILTER_STEP_S;
        belief.predict(&step, &input);
    }
}

/// A reading over a step: the mean of what was read. A control unit may round or cut off, so that
/// the middle lies a quarter of a step up, half a step wide on either side.
fn reading(raw: &[f64], step_c: f64) -> Option<Reading> {
    let read: Vec<f64> = raw.iter().copied().filter(|v| !v.is_nan()).collect();
    if read.is_empty() {
        return None;
    }
    let value = mean(&read);
    Some(if step_c < FINE_STEP_C {
        Reading::Value(value)
    } else {
        let middle = value + step_c / 4.0;
        Reading::Between(middle - step_c / 2.0, middle + step_c / 2.0)
    })
}

/// Gaps filled with the last value before, or the first after; zeros if there is none.
fn held(values: &[f64]) -> Vec<f64> {
    let first = values.iter().copied().find(|v| !v.is_nan());
    let mut last = first.unwrap_or(0.0);
    values
        .iter()
        .map(|&v| {
            if !v.is_nan() {
                last = v;
            }
            last
        })
        .collect()
}
