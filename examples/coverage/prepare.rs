//! What every estimator starts from: a session's hot running, once a second.
//!
//! Hot running is chosen by drive and time alone: while the mean speed over about a lap is high,
//! from five minutes after its beginning on. The coolant reading has no say, for a good part
//! would choose its own samples.

use heatbook::session::Role;
use heatbook::stats::mean;

use crate::simulator::{Side, SimSession};

/// Mean over this long tells running at pace from driving in and out, s.
const LAP_S: usize = 90;
/// Mean speed that counts as running at pace, km/h.
const AT_PACE_KMH: f64 = 112.0;
/// Left out at the start: the circuit is still warming, s.
const WARMING_S: usize = 300;

/// Hot running once a second.
#[derive(Clone)]
pub struct Hot {
    /// Before or after.
    pub side: Side,
    /// Coolant as read, °C.
    pub coolant_c: Vec<f64>,
    /// Air as read, °C.
    pub ambient_c: Vec<f64>,
    /// Road speed, m/s.
    pub speed_ms: Vec<f64>,
    /// Engine speed, 1/min.
    pub rpm: Vec<f64>,
    /// Heat of the fuel, W.
    pub fuel_w: Vec<f64>,
    /// Air density from pressure and temperature as read, kg/m³.
    pub density_kg_m3: Vec<f64>,
}

impl Hot {
    /// The hot running of a session; `None`: too little of it.
    pub fn of(session: &SimSession) -> Option<Self> {
        let column = |role| seconds(&session.t_s, session.channels.get(&role)?);
        let speed_kmh = column(Role::Speed)?;
        let (from, to) = at_pace(&speed_kmh)?;
        let cut = |role| Some(column(role)?[from..to].to_vec());
        let ambient_c = cut(Role::Ambient)?;
        let pressure_kpa = cut(Role::BarometricPressure)?;
        let density = |(p, t): (&f64, &f64)| p / (0.287_05 * (t + 273.15));
        Some(Self {
            side: session.side,
            coolant_c: cut(Role::Coolant)?,
            speed_ms: speed_kmh[from..to].iter().map(|v| v / 3.6).collect(),
            rpm: cut(Role::Rpm)?,
            // Petrol: 0.745 kg/L and 42.5 MJ/kg (common practice, no source).
            fuel_w: cut(Role::FuelRate)?
                .iter()
                .map(|l_h| l_h / 3600.0 * 0.745 * 42.5e6)
                .collect(),
            density_kg_m3: pressure_kpa.iter().zip(&ambient_c).map(density).collect(),
            ambient_c,
        })
    }

    /// Number of seconds.
    pub fn len(&self) -> usize {
        self.coolant_c.len()
    }

    /// What conductance is proportional to in each second: speed and density to the power `n`.
    pub fn flow(&self, n: f64) -> Vec<f64> {
        let flow = |(v, rho): (&f64, &f64)| (v / 35.0 * rho / 1.17).max(0.05).powf(n);
        self.speed_ms
            .iter()
            .zip(&self.density_kg_m3)
            .map(flow)
            .collect()
    }

    /// The same times coolant minus ambient.
    pub fn flow_excess(&self, n: f64) -> Vec<f64> {
        let excess = self
            .coolant_c
            .iter()
            .zip(&self.ambient_c)
            .map(|(t, a)| t - a);
        self.flow(n)
            .iter()
            .zip(excess)
            .map(|(f, e)| f * e)
            .collect()
    }
}

/// Means over each second.
fn seconds(t_s: &[f64], values: &[f64]) -> Option<Vec<f64>> {
    let length = *t_s.last()? as usize;
    let (mut sums, mut counts) = (vec![0.0; length], vec![0.0; length]);
    for (&t, &v) in t_s.iter().zip(values) {
        if let Some(sum) = sums.get_mut(t as usize) {
            *sum += v;
            counts[t as usize] += 1.0;
        }
    }
    Some(sums.iter().zip(&counts).map(|(s, c)| s / c).collect())
}

/// First second of running at pace after the warming, and one past the last.
fn at_pace(speed_kmh: &[f64]) -> Option<(usize, usize)> {
    let fast = |w: &[f64]| mean(w) > AT_PACE_KMH;
    let first = speed_kmh.windows(LAP_S).position(fast)?;
    let last = speed_kmh.windows(LAP_S).rposition(fast)? + LAP_S / 2;
    let from = first + WARMING_S;
    (last > from + 240).then_some((from, last))
}
