//! The driver: a speed trace from pit exit to engine stop.
//!
//! A lap's speed at each point is the least of what the corner allows, what can still be braked
//! from, and what the engine can have reached.

use super::circuit::{Circuit, STEP_M};
use super::engine::{DRAG_AREA_M2, DRIVELINE, EFFECTIVE_MASS_KG, MASS_KG, MAX_POWER_W, ROLLING};
use super::noise::Noise;

const BRAKING_MS2: f64 = 8.5;
const TRACTION_MS2: f64 = 5.5;
const PIT_LANE_MS: f64 = 60.0 / 3.6;

/// What the car is doing in one instant.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    /// Road speed, m/s.
    pub speed_ms: f64,
    /// Acceleration, m/s².
    pub acceleration_ms2: f64,
    /// Heading, degrees from north.
    pub heading_deg: f64,
    /// Lap number, 0 before the first.
    pub lap: f64,
    /// Whether the engine runs.
    pub running: bool,
    /// Whether the driver is at pace.
    pub hot: bool,
    /// Air speed that is left in the wake of another car, as a share.
    pub wake: f64,
}

/// How a session is driven.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The session's pace: corner speeds over nominal.
    pub pace: f64,
    /// Scatter of pace from lap to lap.
    pub lap_scatter: f64,
    /// Probability that a lap is run behind a slower car: slowed in one place, in its wake all
    /// the way round.
    pub traffic: f64,
    /// Air speed that a car ahead leaves all along at pace, as a share: 1 alone.
    pub following: f64,
    /// Engine speeds at which gears are changed, over the usual ones.
    pub shift_factor: f64,
    /// Hot running, s.
    pub hot_s: f64,
    /// A second run of the same length after standing so long in the pit lane, s.
    pub again_after_s: Option<f64>,
    /// Idling before the out-lap, s.
    pub wait_s: f64,
    /// Idling after the session, s.
    pub idle_s: f64,
    /// Engine off with the logger on, s.
    pub soak_s: f64,
}

impl Plan {
    /// The drive that the truth is told on: even laps at pace 1, no traffic.
    pub fn reference() -> Self {
        Self {
            pace: 1.0,
            lap_scatter: 0.0,
            traffic: 0.0,
            following: 1.0,
            shift_factor: 1.0,
            hot_s: 1500.0,
            again_after_s: None,
            wait_s: 30.0,
            idle_s: 10.0,
            soak_s: 0.0,
        }
    }

    /// A session at about `pace`.
    pub fn draw(pace: f64, noise: &mut Noise) -> Self {
        Self {
            pace: pace * (1.0 + noise.normal(0.0, 0.008)),
            lap_scatter: 0.008,
            traffic: 0.15,
            following: 1.0,
            shift_factor: 1.0,
            hot_s: noise.uniform(1130.0, 1270.0),
            again_after_s: None,
            wait_s: noise.uniform(40.0, 100.0),
            idle_s: noise.uniform(45.0, 160.0),
            soak_s: if noise.chance(0.75) {
                noise.uniform(320.0, 500.0)
            } else {
                0.0
            },
        }
    }

    /// The session every `dt_s`.
    pub fn moments(&self, circuit: &Circuit, dt_s: f64, noise: &mut Noise) -> Vec<Moment> {
        let mut trace = Trace::new(circuit, dt_s);
        trace.stand(self.wait_s, true);
        self.run(&mut trace, circuit, noise);
        if let Some(standing_s) = self.again_after_s {
            trace.stand(standing_s, true);
            self.run(&mut trace, circuit, noise);
        }
        trace.stand(self.idle_s, true);
        trace.stand(self.soak_s, false);
        trace.finish()
    }

    /// Out-lap, laps at pace, in-lap, pit lane.
    fn run(&self, trace: &mut Trace, circuit: &Circuit, noise: &mut Noise) {
        trace.lap(
            &lap_speeds(circuit, 0.80 * self.pace, 0.55, trace.speed_ms, None),
            false,
        );
        let hot_from_s = trace.time_s();
        while trace.time_s() - hot_from_s < self.hot_s {
            let pace = self.pace * (1.0 + noise.normal(0.0, self.lap_scatter));
            let met = noise.chance(self.traffic);
            let slowed = Slowed::draw(circuit, noise);
            let wake = noise.uniform(0.89, 0.97);
            let speeds = lap_speeds(circuit, pace, 1.0, trace.speed_ms, met.then_some(slowed));
            trace.wake = self.following * if met { wake } else { 1.0 };
            trace.lap(&speeds, true);
        }
        trace.wake = 1.0;
        trace.lap(
            &lap_speeds(circuit, 0.75 * self.pace, 0.26, trace.speed_ms, None),
            false,
        );
        trace.pit_in();
    }
}

/// A stretch behind a slower car.
struct Slowed {
    from: usize,
    to: usize,
    factor: f64,
}

impl Slowed {
    fn draw(circuit: &Circuit, noise: &mut Noise) -> Self {
        let length = noise.uniform(400.0, 1000.0) / STEP_M;
        let from = noise.uniform(0.0, circuit.points() as f64 - length);
        let factor = noise.uniform(0.72, 0.90);
        Self {
            from: from as usize,
            to: (from + length) as usize,
            factor,
        }
    }
}

/// Speed at each point of a lap that starts at `entry_ms`. `push`: share of the engine's power.
fn lap_speeds(
    circuit: &Circuit,
    pace: f64,
    push: f64,
    entry_ms: f64,
    slowed: Option<Slowed>,
) -> Vec<f64> {
    let points = circuit.points();
    // Braking for the corner after the line needs the next lap's first points.
    let mut speeds: Vec<f64> = (0..points + 200)
        .map(|i| circuit.limit_ms[i % points] * pace)
        .collect();
    if let Some(slowed) = &slowed {
        let unhindered = speeds.clone();
        for i in slowed.from..slowed.to {
            speeds[i] = (unhindered[i] * slowed.factor).min(52.0 * slowed.factor);
        }
    }
    let braking = BRAKING_MS2 * pace * pace;
    for i in (0..speeds.len() - 1).rev() {
        speeds[i] = speeds[i].min((speeds[i + 1].powi(2) + 2.0 * braking * STEP_M).sqrt());
    }
    let power_w = MAX_POWER_W * DRIVELINE * push * pace.sqrt();
    let mut before = entry_ms.max(3.0);
    for speed in speeds.iter_mut().take(points) {
        let resist = 0.59 * DRAG_AREA_M2 * before * before + ROLLING * MASS_KG * 9.80665;
        let pull = (power_w / before.max(8.0) - resist) / EFFECTIVE_MASS_KG;
        let reach = (before * before + 2.0 * pull.min(TRACTION_MS2) * STEP_M)
            .max(9.0)
            .sqrt();
        *speed = speed.min(reach);
        before = *speed;
    }
    speeds.truncate(points);
    speeds
}

/// The trace under construction.
struct Trace<'a> {
    circuit: &'a Circuit,
    dt_s: f64,
    moments: Vec<Moment>,
    speed_ms: f64,
    lap: f64,
    /// How far past the line the last lap ended, m.
    over_m: f64,
    /// Share of the air speed that a car in front leaves.
    wake: f64,
}

impl<'a> Trace<'a> {
    fn new(circuit: &'a Circuit, dt_s: f64) -> Self {
        Self {
            circuit,
            dt_s,
            moments: Vec::new(),
            speed_ms: 0.0,
            lap: 0.0,
            over_m: 0.0,
            wake: 1.0,
        }
    }

    fn time_s(&self) -> f64 {
        self.moments.len() as f64 * self.dt_s
    }

    fn push(&mut self, speed_ms: f64, heading_deg: f64, running: bool, hot: bool) {
        self.speed_ms = speed_ms;
        self.moments.push(Moment {
            speed_ms,
            acceleration_ms2: 0.0,
            heading_deg,
            lap: self.lap,
            running,
            hot,
            wake: self.wake,
        });
    }

    fn stand(&mut self, length_s: f64, running: bool) {
        let heading = self.circuit.heading_deg[0];
        for _ in 0..(length_s / self.dt_s) as usize {
            self.push(0.0, heading, running, false);
        }
        self.over_m = 0.0;
    }

    fn lap(&mut self, speeds: &[f64], hot: bool) {
        self.lap += 1.0;
        let length_m = self.circuit.length_m();
        let mut at_m = self.over_m;
        while at_m < length_m {
            let place = at_m / STEP_M;
            let i = (place as usize).min(speeds.len() - 1);
            let next = speeds[(i + 1).min(speeds.len() - 1)];
            let speed = speeds[i] + (next - speeds[i]) * (place - i as f64).min(1.0);
            self.push(speed, self.circuit.heading_deg[i], true, hot);
            at_m += speed * self.dt_s;
        }
        self.over_m = at_m - length_m;
    }

    /// Brake to the pit lane limit, drive along it, stop.
    fn pit_in(&mut self) {
        let heading = self.circuit.heading_deg[0];
        let lane_s = 22.0;
        let mut in_lane_s = 0.0;
        while self.speed_ms > 0.05 {
            let slowing = if in_lane_s < lane_s { 4.0 } else { 2.0 };
            let target = if in_lane_s < lane_s { PIT_LANE_MS } else { 0.0 };
            let speed = if self.speed_ms > target {
                (self.speed_ms - slowing * self.dt_s).max(target)
            } else {
                (self.speed_ms + 1.0 * self.dt_s).min(target)
            };
            if (speed - PIT_LANE_MS).abs() < 1e-9 {
                in_lane_s += self.dt_s;
            }
            self.push(speed, heading, true, false);
        }
    }

    /// Acceleration by central differences over a driver's reaction, some 0.4 s.
    fn finish(mut self) -> Vec<Moment> {
        let reach = ((0.2 / self.dt_s).round() as usize).max(1);
        let last = self.moments.len() - 1;
        for i in 0..=last {
            let (a, b) = (i.saturating_sub(reach), (i + reach).min(last));
            let dv = self.moments[b].speed_ms - self.moments[a].speed_ms;
            self.moments[i].acceleration_ms2 = dv / ((b - a) as f64 * self.dt_s);
        }
        self.moments
    }
}
