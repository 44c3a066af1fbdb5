//! The parameters put to work: how a belief about the state goes over one step.

use nalgebra::{Matrix4, SMatrix, SVector, Vector4};

use super::parameter::Parameter::{
    self, Conductance, Lag, Slow, SlowTime, Thermostat, Wander, WanderTime,
};
use super::record::{Instant, Record};
use super::{BLOCK, COOLANT, FILTER_STEP_S, METAL, SENSOR, STATES, TALLY, WANDER};
use crate::stats::kalman::Belief;
use crate::stats::step_table::StepTable;

/// Metal to coolant and coolant to sensor at λ = 1, s (5 to 10 and 3 to 10; common practice, no
/// source).
pub const LAGS_S: (f64, f64) = (7.0, 5.0);

/// Doubt about the conductance with the thermostat closed, as a logarithm; in proportion between.
const PART_OPEN_LOG_SD: f64 = 0.3;

/// Doubt about conductance and heat outside the stints: logarithm, and W √s.
const UNTRUSTED: (f64, f64) = (0.5, 30e3);

/// Noise of the heat inside the stints, W √s: for the arithmetic only.
const HEAT_NOISE: f64 = 400.0;

/// Conductances above the fitted one up to this ratio are tabled; rarer ones are computed.
const USUAL_MOST: f64 = 3.0;

type State = SVector<f64, STATES>;

/// A state carried over a step, and how it hangs on the state before.
struct Carried {
    state: State,
    /// Temperatures by temperatures.
    transition: Matrix4<f64>,
    /// Temperatures by the wander: the conductance held through the step, its change times the
    /// excess at the start of it.
    by_wander: Vector4<f64>,
}

/// The parameters put to work.
pub struct Car {
    g_w_per_k: f64,
    metal_j_per_k: f64,
    coolant_j_per_k: f64,
    /// Steps of the four temperatures by what the radiator takes, 1/s.
    steps: StepTable<4>,
    wander_sd: f64,
    wander_keep: f64,
    /// Variance that comes to the wander in a step, over that of the wander.
    wander_new: f64,
    /// Mean of a decaying wander over a step, over that at its start.
    wander_mean: f64,
    opens_c: f64,
    span_k: f64,
}

impl Car {
    pub fn new(record: &Record, parameters: &[f64]) -> Self {
        let at = |p: Parameter| parameters[p as usize].exp();
        let coolant = record.coolant_j_per_k;
        let metal = record.metal_j_per_k(parameters);
        let lag = at(Lag);
        let to_coolant = metal / (LAGS_S.0 * lag);
        let (to_block, per_block) = if parameters.len() > Slow as usize {
            let block = record.sheet_j_per_k() * at(Slow);
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
            wander_new: 1.0 - keep * keep,
            wander_mean: (1.0 - keep) * tau / FILTER_STEP_S,
            opens_c: record.thermostat.opens_c - parameters[Thermostat as usize],
            span_k: record.thermostat.full_open_c - record.thermostat.opens_c,
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

    /// What the radiator takes off the coolant's excess, 1/s, with the conductance wandered by
    /// `wander`.
    pub fn rate(&self, at: &Instant, wander: f64) -> f64 {
        self.opening(at.wax_c) * self.g_w_per_k * at.flow * wander.exp() / self.coolant_j_per_k
    }

    /// Carries a state over one step, its wander held; nothing new comes to the wander.
    pub fn carry(&self, state: &State, at: &Instant) -> State {
        self.carried(state, at).state
    }

    fn carried(&self, state: &State, at: &Instant) -> Carried {
        let rate = self.rate(at, state[WANDER]);
        let (transition, hold) = self.steps.at(rate);
        let input = Vector4::new(at.heat_w / self.metal_j_per_k, rate * at.air_c, 0.0, 0.0);
        let temperatures = transition * state.fixed_rows::<4>(0) + hold * input;
        let mut next = State::zeros();
        next.fixed_rows_mut::<4>(0).copy_from(&temperatures);
        next[WANDER] = self.wander_keep * state[WANDER];
        next[TALLY] = state[TALLY] + tallied(at) * (self.wander_mean * state[WANDER]).exp();
        Carried {
            state: next,
            transition,
            by_wander: hold.column(COOLANT) * (-rate * (state[COOLANT] - at.air_c)),
        }
    }

    /// Standard deviation of the wander.
    pub fn wander_sd(&self) -> f64 {
        self.wander_sd
    }

    /// Standard deviation of what comes to the wander in a step with nothing doubted.
    pub fn wander_step_sd(&self) -> f64 {
        self.wander_sd * self.wander_new.sqrt()
    }

    /// Carries a belief over one step: its mean as a state, its covariance by the derivative.
    pub fn step(&self, belief: &mut Belief<STATES>, at: &Instant) {
        let carried = self.carried(&belief.mean, at);
        let derivative = self.derivative(&carried, belief.mean[WANDER], at);
        // The mean of e^w over a normal belief about w.
        let felt = self.wander_mean * belief.mean[WANDER];
        let spread = self.wander_mean.powi(2) * belief.covariance[(WANDER, WANDER)];
        let mut mean = carried.state;
        mean[TALLY] += tallied(at) * felt.exp() * (spread / 2.0).exp_m1();
        belief.carry(mean, &derivative, &self.noise(at));
    }

    #[cfg(test)]
    pub fn derivative_of(&self, state: &State, at: &Instant) -> SMatrix<f64, STATES, STATES> {
        self.derivative(&self.carried(state, at), state[WANDER], at)
    }

    /// The state after a step by the state before.
    fn derivative(
        &self,
        carried: &Carried,
        wander: f64,
        at: &Instant,
    ) -> SMatrix<f64, STATES, STATES> {
        let mut derivative = SMatrix::<f64, STATES, STATES>::identity();
        derivative
            .fixed_view_mut::<4, 4>(0, 0)
            .copy_from(&carried.transition);
        derivative
            .fixed_view_mut::<4, 1>(0, WANDER)
            .copy_from(&carried.by_wander);
        derivative[(WANDER, WANDER)] = self.wander_keep;
        let slope = self.wander_mean * (self.wander_mean * wander).exp();
        derivative[(TALLY, WANDER)] = tallied(at) * slope;
        derivative
    }

    /// Covariance of what comes to the state in a step.
    fn noise(&self, at: &Instant) -> SMatrix<f64, STATES, STATES> {
        let (doubt, heat_noise) = if at.trusted {
            let closed = 1.0 - self.opening(at.wax_c);
            (PART_OPEN_LOG_SD * closed, HEAT_NOISE)
        } else {
            UNTRUSTED
        };
        let mut noise = SMatrix::zeros();
        noise[(WANDER, WANDER)] = self.wander_sd.hypot(doubt).powi(2) * self.wander_new;
        noise[(METAL, METAL)] = (heat_noise / self.metal_j_per_k).powi(2) * FILTER_STEP_S;
        noise
    }
}

/// Seconds of a step that count as open running.
fn tallied(at: &Instant) -> f64 {
    if at.open { FILTER_STEP_S } else { 0.0 }
}
