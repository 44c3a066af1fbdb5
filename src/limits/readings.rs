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
        let time_s = session.time_s();
        let read: Vec<(f64, f64)> = time_s
            .into_iter()
            .zip(session.channel(role)?)
            .filter(|(_, value)| !value.is_nan())
            .collect();
        let peak_c = read.iter().map(|r| r.1).max_by(f64::total_cmp)?;
        let peak_at_s = read.iter().find(|r| r.1 >= peak_c)?.0 - read[0].0;
        let held_s = (0..read.len())
            .map(|i| {
                read.get(i + 1)
                    .map_or(0.0, |next| (next.0 - read[i].0).min(LONGEST_HOLD_S))
            })
            .collect();
        let step_c = session
            .meta
            .channels
            .get(&role)
            .and_then(|c| c.resolution)
            .unwrap_or(0.0);
        let steepest_near_peak_k_per_s = steepest_before_peak(&read, peak_c);
        Some(Self {
            time_s: read.iter().map(|r| r.0).collect(),
            values_c: read.into_iter().map(|r| r.1).collect(),
            held_s,
            peak_c,
            peak_at_s,
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
fn steepest_before_peak(read: &[(f64, f64)], peak_c: f64) -> f64 {
    const BEFORE_S: f64 = 20.0;
    let Some(at) = read.iter().find(|r| r.1 >= peak_c) else {
        return 0.0;
    };
    let earlier = read
        .iter()
        .find(|r| r.0 >= at.0 - BEFORE_S)
        .filter(|r| at.0 - r.0 > BEFORE_S / 2.0);
    earlier.map_or(0.0, |r| ((at.1 - r.1) / (at.0 - r.0)).max(0.0))
}
