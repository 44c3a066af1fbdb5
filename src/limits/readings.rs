//! A temperature channel as it was read: its peak, how long it stood where, and what step and lag hide.

use crate::estimate::prepare::SENSOR_LAG_S;
use crate::quantity::Quantity;
use crate::session::{Role, Session};

/// A reading counts for at most this long, s: what happened in a gap is not known.
const LONGEST_HOLD_S: f64 = 5.0;

/// Readings over a level that are parted by less than this are one time, s: a reading on the border of two
/// steps goes to and fro.
const APART_S: f64 = 15.0;

/// A channel's readings with how long each counts.
pub(super) struct Readings {
    values_c: Vec<f64>,
    time_s: Vec<f64>,
    held_s: Vec<f64>,
    /// Largest reading, °C.
    pub peak_c: f64,
    /// When it was first read, s from the session's beginning.
    pub peak_at_s: f64,
    step_c: f64,
    steepest_near_peak_k_per_s: f64,
}

impl Readings {
    pub fn of(session: &Session, role: Role) -> Option<Self> {
        if role.quantity() != Quantity::Temperature {
            return None;
        }
        let mut values_c = session.channel(role)?;
        let mut time_s = session.time_s();
        let mut read = values_c.iter().map(|value| !value.is_nan());
        time_s.retain(|_| read.next() == Some(true));
        values_c.retain(|value| !value.is_nan());
        let peak_c = values_c.iter().copied().max_by(f64::total_cmp)?;
        let peak_at = values_c.iter().position(|value| *value >= peak_c)?;
        let held = |pair: &[f64]| (pair[1] - pair[0]).min(LONGEST_HOLD_S);
        let last = std::iter::once(0.0);
        let held_s = time_s.windows(2).map(held).chain(last).collect();
        let step_c = session
            .meta
            .channels
            .get(&role)
            .and_then(|c| c.resolution)
            .unwrap_or(0.0);
        let steepest_near_peak_k_per_s = steepest_before(peak_at, &time_s, &values_c);
        Some(Self {
            peak_at_s: time_s[peak_at] - time_s[0],
            time_s,
            values_c,
            held_s,
            peak_c,
            step_c,
            steepest_near_peak_k_per_s,
        })
    }

    pub fn seconds_at_or_above(&self, level_c: f64) -> f64 {
        let over = self.values_c.iter().zip(&self.held_s);
        over.filter(|(value, _)| **value >= level_c)
            .fold(0.0, |sum, (_, held)| sum + held)
    }

    /// How many times the channel came to `level_c` or above: readings there that are parted by less
    /// than [`APART_S`] are one time.
    pub fn times_at_or_above(&self, level_c: f64) -> usize {
        let mut last_s = f64::NEG_INFINITY;
        let mut times = 0;
        for (&time_s, _) in (self.time_s.iter().zip(&self.values_c)).filter(|(_, v)| **v >= level_c)
        {
            times += usize::from(time_s - last_s >= APART_S);
            last_s = time_s;
        }
        times
    }

    /// The largest temperature that step and lag leave possible; just below the next step.
    pub fn possible_peak_c(&self) -> f64 {
        let step = if self.step_c > 0.0 {
            self.step_c - 1e-6
        } else {
            0.0
        };
        self.peak_c + step + SENSOR_LAG_S * self.steepest_near_peak_k_per_s
    }
}

/// Rate at which the reading rose over the last 20 s before it first stood at its peak, K/s, not
/// below zero.
fn steepest_before(at: usize, time_s: &[f64], values_c: &[f64]) -> f64 {
    const BEFORE_S: f64 = 20.0;
    let before_s = |i: usize| time_s[at] - time_s[i];
    let earlier = (0..=at)
        .find(|i| time_s[*i] >= time_s[at] - BEFORE_S)
        .filter(|i| before_s(*i) > BEFORE_S / 2.0);
    let slope = |i: usize| (values_c[at] - values_c[i]) / before_s(i);
    earlier.map_or(0.0, |i| slope(i).max(0.0))
}
