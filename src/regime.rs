//! What the car was doing, second by second, and the stints of hot running.
//!
//! Stints are chosen by drive and time, never by the coolant reading alone: cutting by coolant
//! selects on the response, so that a good part leaves fewer and hotter samples. Hard running is
//! where the rolling mean of the heat input is at least half of what the session reaches in its
//! hard fifth, at more than half of the speed it has there. A stint starts [`SETTLE_S`] after hard
//! running does, and never before the car is warm for the first time.

use serde::{Deserialize, Serialize};

use crate::thermal::thermostat::Thermostat;

/// Time from the start of hard running until stored heat no longer rules, s (some two time
/// constants of a car's coolant and metal; common practice, no source).
pub const SETTLE_S: f64 = 150.0;

/// Shortest stint worth a heat balance, s.
pub const SHORTEST_STINT_S: f64 = 150.0;

/// Length of the rolling means that tell hard running, s: about a lap.
const ROLLING_S: f64 = 90.0;

/// Slow running up to this long (traffic, a spin) does not end a stint, s.
const LULL_S: f64 = 45.0;

/// Slower than this is standing, km/h.
pub(crate) const STANDING_KMH: f64 = 3.0;

/// Below this the engine does not run, 1/min.
pub(crate) const ENGINE_OFF_RPM: f64 = 200.0;

/// One way of running, as far as cooling is concerned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Regime {
    /// Warming up: the thermostat is still closed for the first time.
    ColdStart,
    /// On the move, thermostat between closed and fully open: it sets the temperature.
    Regulating,
    /// On the move under load, thermostat fully open: the radiator sets the temperature.
    Open,
    /// On the move, but slow or with little load: cooling down, pit lane.
    Slow,
    /// Standing with the engine running.
    Standing,
    /// Engine stopped, heat soaking.
    Soak,
    /// No reading.
    NoData,
}

impl Regime {
    /// The regime in words, for charts and tables.
    pub fn label(self) -> &'static str {
        match self {
            Self::ColdStart => "warming up",
            Self::Regulating => "thermostat regulating",
            Self::Open => "thermostat open, under load",
            Self::Slow => "slow or cooling down",
            Self::Standing => "standing, engine running",
            Self::Soak => "engine off, soaking",
            Self::NoData => "no reading",
        }
    }
}

/// Channels from which regimes are told, one value a step, `NaN` where there is none.
#[derive(Debug, Clone, Copy)]
pub struct Channels<'a> {
    /// Length of a step, s.
    pub step_s: f64,
    /// Coolant, °C.
    pub coolant_c: &'a [f64],
    /// Speed, km/h.
    pub speed_kmh: &'a [f64],
    /// Air outside, °C, if known.
    pub ambient_c: Option<&'a [f64]>,
    /// Engine speed, 1/min, if logged.
    pub rpm: Option<&'a [f64]>,
    /// Heat into the coolant, any scale, if there is a source.
    pub heat_w: Option<&'a [f64]>,
}

/// Regimes and stints of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Drive {
    /// One a step.
    pub regime: Vec<Regime>,
    /// Hot running as `(first, one past last)` steps.
    pub stints: Vec<(usize, usize)>,
}

impl Drive {
    /// Tells regimes and stints.
    pub fn tell(channels: &Channels, thermostat: &Thermostat) -> Self {
        let hard = hard_running(channels);
        let warm = channels
            .coolant_c
            .iter()
            .position(|&c| c >= thermostat.opens_c);
        let regime = (0..channels.coolant_c.len())
            .map(|i| regime_at(channels, thermostat, i, hard[i], warm))
            .collect();
        Self {
            stints: stints(channels, thermostat, &hard),
            regime,
        }
    }

    /// Seconds spent in a regime within the stints.
    pub fn seconds_in_stints(&self, regime: Regime, step_s: f64) -> f64 {
        let steps = self.stints.iter().flat_map(|&(a, b)| &self.regime[a..b]);
        steps.filter(|r| **r == regime).count() as f64 * step_s
    }
}

fn regime_at(
    channels: &Channels,
    thermostat: &Thermostat,
    i: usize,
    hard: bool,
    warm: Option<usize>,
) -> Regime {
    let (coolant_c, speed_kmh) = (channels.coolant_c[i], channels.speed_kmh[i]);
    let engine_off = channels.rpm.is_some_and(|rpm| rpm[i] < ENGINE_OFF_RPM);
    if coolant_c.is_nan() || speed_kmh.is_nan() {
        Regime::NoData
    } else if speed_kmh < STANDING_KMH && engine_off {
        Regime::Soak
    } else if warm.is_none_or(|w| i < w) {
        Regime::ColdStart
    } else if speed_kmh < STANDING_KMH {
        Regime::Standing
    } else if !hard {
        Regime::Slow
    } else if thermostat.surely_open(coolant_c) {
        Regime::Open
    } else {
        Regime::Regulating
    }
}

fn hard_running(channels: &Channels) -> Vec<bool> {
    let speed = rolling_mean(channels.speed_kmh, channels.step_s);
    let heat = channels.heat_w.map(|h| rolling_mean(h, channels.step_s));
    let enough = |values: &[f64]| {
        let level = upper_fifth(values) / 2.0;
        values
            .iter()
            .map(|v| *v >= level && *v > 0.0)
            .collect::<Vec<bool>>()
    };
    let fast = enough(&speed);
    match heat {
        Some(heat) => fast
            .iter()
            .zip(enough(&heat))
            .map(|(a, b)| *a && b)
            .collect(),
        None => fast,
    }
}

fn stints(channels: &Channels, thermostat: &Thermostat, hard: &[bool]) -> Vec<(usize, usize)> {
    let steps = |seconds: f64| (seconds / channels.step_s) as usize;
    let first_at = |level_c: f64| channels.coolant_c.iter().position(|&c| c >= level_c);
    let Some(warm) = first_at(thermostat.full_open_c).or_else(|| first_at(thermostat.opens_c))
    else {
        return Vec::new();
    };
    runs(hard, steps(LULL_S))
        .into_iter()
        .flat_map(|(from, to)| {
            // The rolling mean sees hard running half its length before it starts and after it ends.
            let half = steps(ROLLING_S / 2.0);
            let from = (from + steps(SETTLE_S)).max(warm);
            let to = to.saturating_sub(half);
            with_readings(channels, from, to.max(from))
        })
        .filter(|(from, to)| (to - from) as f64 * channels.step_s >= SHORTEST_STINT_S)
        .collect()
}

/// The parts of `from..to` in which coolant, speed, ambient and heat all have readings.
fn with_readings(channels: &Channels, from: usize, to: usize) -> Vec<(usize, usize)> {
    let present: Vec<bool> = (from..to)
        .map(|i| {
            !channels.coolant_c[i].is_nan()
                && !channels.speed_kmh[i].is_nan()
                && channels.ambient_c.is_none_or(|a| !a[i].is_nan())
                && channels.heat_w.is_none_or(|h| !h[i].is_nan())
        })
        .collect();
    runs(&present, 0)
        .into_iter()
        .map(|(a, b)| (a + from, b + from))
        .collect()
}

/// Runs of `true`, with runs of `false` up to `lull` long bridged, as `(first, one past last)`.
pub(crate) fn runs(flags: &[bool], lull: usize) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (i, _) in flags.iter().enumerate().filter(|(_, f)| **f) {
        match runs.last_mut() {
            Some(run) if i - run.1 <= lull => run.1 = i + 1,
            _ => runs.push((i, i + 1)),
        }
    }
    runs
}

/// Centred mean over [`ROLLING_S`], readings only; `NaN` where the window has none.
fn rolling_mean(values: &[f64], step_s: f64) -> Vec<f64> {
    let half = (ROLLING_S / 2.0 / step_s) as usize;
    let mut sums = vec![(0.0, 0_usize)];
    for v in values {
        let (sum, n) = sums[sums.len() - 1];
        sums.push(if v.is_nan() {
            (sum, n)
        } else {
            (sum + v, n + 1)
        });
    }
    (0..values.len())
        .map(|i| {
            let (a, b) = (
                sums[i.saturating_sub(half)],
                sums[(i + half + 1).min(values.len())],
            );
            (b.0 - a.0) / (b.1 - a.1) as f64
        })
        .collect()
}

/// The value above which a fifth of the readings lie.
fn upper_fifth(values: &[f64]) -> f64 {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| !v.is_nan()).collect();
    sorted.sort_by(f64::total_cmp);
    sorted
        .get(sorted.len() * 4 / 5)
        .copied()
        .unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    const OPEN: Thermostat = Thermostat {
        opens_c: 80.0,
        full_open_c: 90.0,
        assumed: false,
    };

    /// Warm-up 200 s, hard running 900 s, standing 100 s, engine off 200 s.
    fn drive_with(coolant_hot_c: f64) -> Drive {
        let n = 1400;
        let at = |i: usize, a: f64, b: f64, c: f64, d: f64| match i {
            0..200 => a,
            200..1100 => b,
            1100..1200 => c,
            _ => d,
        };
        let coolant: Vec<f64> = (0..n)
            .map(|i| {
                if i < 200 {
                    20.0 + 0.3 * i as f64
                } else {
                    coolant_hot_c
                }
            })
            .collect();
        let speed: Vec<f64> = (0..n).map(|i| at(i, 30.0, 140.0, 0.0, 0.0)).collect();
        let rpm: Vec<f64> = (0..n).map(|i| at(i, 2000.0, 6000.0, 900.0, 0.0)).collect();
        let heat: Vec<f64> = (0..n).map(|i| at(i, 8e3, 50e3, 3e3, 0.0)).collect();
        let channels = Channels {
            step_s: 1.0,
            coolant_c: &coolant,
            speed_kmh: &speed,
            ambient_c: None,
            rpm: Some(&rpm),
            heat_w: Some(&heat),
        };
        Drive::tell(&channels, &OPEN)
    }

    #[test]
    fn a_session_falls_into_its_parts() {
        let drive = drive_with(98.0);
        assert_eq!(drive.regime[50], Regime::ColdStart);
        assert_eq!(drive.regime[600], Regime::Open);
        assert_eq!(drive.regime[1150], Regime::Standing);
        assert_eq!(drive.regime[1300], Regime::Soak);
        let [(from, to)] = drive.stints[..] else {
            panic!("{:?}", drive.stints)
        };
        assert!((300..400).contains(&from), "{from}");
        assert!((1020..=1100).contains(&to), "{to}");
    }

    #[test]
    fn the_stint_does_not_move_with_the_coolant_reading() {
        assert_eq!(drive_with(98.0).stints, drive_with(110.0).stints);
        assert_eq!(drive_with(98.0).stints, drive_with(91.0).stints);
    }

    #[test]
    fn a_regulated_session_has_stints_but_no_open_running() {
        let drive = drive_with(86.0);
        assert_eq!(drive.stints.len(), 1);
        assert_eq!(drive.seconds_in_stints(Regime::Open, 1.0), 0.0);
        assert_eq!(drive.regime[600], Regime::Regulating);
    }

    #[test]
    fn a_gap_in_the_readings_parts_a_stint() {
        let coolant: Vec<f64> = (0..1200)
            .map(|i| {
                if (600..640).contains(&i) {
                    f64::NAN
                } else {
                    95.0
                }
            })
            .collect();
        let speed = vec![150.0; 1200];
        let channels = Channels {
            step_s: 1.0,
            coolant_c: &coolant,
            speed_kmh: &speed,
            ambient_c: None,
            rpm: None,
            heat_w: None,
        };
        assert_eq!(Drive::tell(&channels, &OPEN).stints.len(), 2);
    }
}
