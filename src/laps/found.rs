//! The laps of a session, from the best source that it has, with how alike they are.

use serde::Serialize;

use super::crossings::{Line, crossings, crossings_of};
use super::{correlation, lap_borders};
use crate::session::{Grid, Role};
use crate::stats::median;

/// Where laps were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum LapSource {
    /// Positions crossing the line that the user gave.
    Line,
    /// In a column of lap numbers.
    Column,
    /// Positions crossing a line that was found.
    Positions,
    /// The speed trace repeats.
    Speed,
}

/// The whole laps of a session.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Laps {
    /// Where they were found.
    pub source: LapSource,
    /// Lap times in their order, s.
    pub times_s: Vec<f64>,
    /// Median lap time, s.
    pub median_s: f64,
    /// How alike the speed is from lap to lap: median correlation of neighbours, 1 at most.
    pub alike: f64,
    /// When the first of them began, s from the session's beginning.
    #[serde(skip)]
    pub from_s: f64,
}

impl Laps {
    /// The whole lap that `at_s`, from the session's beginning, lies in, counted from one.
    pub fn lap_at(&self, at_s: f64) -> Option<usize> {
        let mut end_s = self.from_s;
        if at_s < end_s {
            return None;
        }
        let within = |lap_s: &f64| {
            end_s += lap_s;
            at_s < end_s
        };
        self.times_s.iter().position(within).map(|lap| lap + 1)
    }
}

/// Points at which two laps are held against each other.
const POINTS: usize = 100;
/// Slower than this is pit or paddock, km/h.
const MOVING_KMH: f64 = 30.0;
/// Readings further apart than this are not bridged, s.
const BRIDGE_S: f64 = 5.0;
const LEAST_BORDERS: usize = 3;

/// A way to find the times of lap borders, s.
type Borders<'a> = &'a dyn Fn() -> Option<Vec<f64>>;

/// The laps, where there are two at least: over the line that is given, else from a lap column,
/// else from positions, else from the speed trace.
pub fn find(grid: &Grid, line: Option<&Line>) -> Option<Laps> {
    let speed = grid.bridged(Role::Speed, BRIDGE_S)?;
    let by_line = || {
        let (lat, lon) = (grid.get(Role::Latitude)?, grid.get(Role::Longitude)?);
        Some(crossings_of(line?, lat, lon, grid.step_s))
    };
    let by_column = || by_column(grid.get(Role::Lap)?, grid.step_s);
    let by_positions = || {
        let (lat, lon) = (grid.get(Role::Latitude)?, grid.get(Role::Longitude)?);
        crossings(lat, lon, grid.step_s)
    };
    let sources: [(LapSource, Borders<'_>); 4] = [
        (LapSource::Line, &by_line),
        (LapSource::Column, &by_column),
        (LapSource::Positions, &by_positions),
        (LapSource::Speed, &|| by_speed(&speed, grid.step_s)),
    ];
    sources.into_iter().find_map(|(source, borders)| {
        let borders = borders().filter(|b| b.len() >= LEAST_BORDERS)?;
        let times_s: Vec<f64> = borders.windows(2).map(|pair| pair[1] - pair[0]).collect();
        Some(Laps {
            source,
            median_s: median(times_s.clone())?,
            alike: alike(&speed, &borders, grid.step_s)?,
            from_s: borders[0],
            times_s,
        })
    })
}

/// Times at which the lap number goes up by one, s.
fn by_column(lap: &[f64], step_s: f64) -> Option<Vec<f64>> {
    let mut borders = Vec::new();
    let mut last: Option<f64> = None;
    for (i, number) in lap.iter().enumerate().filter(|(_, n)| !n.is_nan()) {
        let number = number.floor();
        if last.is_some_and(|l| number == l + 1.0) {
            borders.push(i as f64 * step_s);
        }
        last = Some(number);
    }
    Some(borders)
}

/// Borders told from the speed trace while the car is out, s.
fn by_speed(speed: &[f64], step_s: f64) -> Option<Vec<f64>> {
    let moves = |v: &f64| *v > MOVING_KMH;
    let (from, to) = (
        speed.iter().position(moves)?,
        speed.iter().rposition(moves)?,
    );
    let range = &speed[from..to];
    if range.iter().any(|v| v.is_nan()) || range.len() < 4 * POINTS {
        return None;
    }
    let borders = lap_borders(speed, (from, to), step_s)?;
    Some(borders.into_iter().map(|b| b as f64 * step_s).collect())
}

fn alike(speed: &[f64], borders: &[f64], step_s: f64) -> Option<f64> {
    let laps: Vec<Vec<f64>> = borders
        .windows(2)
        .map(|pair| {
            let at = |k: usize| {
                let t = pair[0] + (pair[1] - pair[0]) * k as f64 / POINTS as f64;
                speed[((t / step_s) as usize).min(speed.len() - 1)]
            };
            (0..POINTS).map(at).collect()
        })
        .collect();
    let pairs = laps
        .windows(2)
        .map(|pair| correlation(&pair[0], &pair[1]))
        .filter(|r| !r.is_nan());
    median(pairs.collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    const STEP_S: f64 = 0.5;
    const LAP_S: f64 = 93.7;

    /// Ten laps of a circle with a speed that varies round it; the lap's angle at each step.
    fn grid(roles: &[Role]) -> Grid {
        let len = (10.0 * LAP_S / STEP_S) as usize;
        let turn = |i: usize| std::f64::consts::TAU * (i as f64 + 0.5) * STEP_S / LAP_S;
        let of = |role: Role| -> Vec<f64> {
            (0..len)
                .map(|i| match role {
                    Role::Speed => 120.0 + 40.0 * turn(i).sin() + 20.0 * (3.0 * turn(i)).cos(),
                    Role::Latitude => 48.0 + 0.004 * turn(i).sin(),
                    Role::Longitude => 8.0 + 0.006 * turn(i).cos(),
                    _ => (turn(i) / std::f64::consts::TAU).floor() + 1.0,
                })
                .collect()
        };
        Grid {
            step_s: STEP_S,
            len,
            channels: roles
                .iter()
                .map(|r| (*r, of(*r)))
                .collect::<BTreeMap<_, _>>(),
        }
    }

    #[test]
    fn every_source_gives_the_lap_time() {
        use LapSource::{Column, Positions, Speed};
        for (roles, source, within_s) in [
            (&[Role::Speed, Role::Lap][..], Column, 0.51),
            (
                &[Role::Speed, Role::Latitude, Role::Longitude],
                Positions,
                0.02,
            ),
            (&[Role::Speed], Speed, 0.51),
        ] {
            let laps = find(&grid(roles), None).unwrap();
            assert_eq!(laps.source, source);
            assert!(laps.times_s.len() >= 7, "{laps:?}");
            assert!((laps.median_s - LAP_S).abs() < within_s, "{laps:?}");
            assert!(laps.alike > 0.98, "{laps:?}");
        }
    }

    /// A line across the circle: at longitude 8 the car is at latitude 48.004, then 47.996.
    #[test]
    fn a_line_that_is_given_comes_first() {
        let all = [Role::Speed, Role::Lap, Role::Latitude, Role::Longitude];
        let line = "48.0038,8.0,48.0042,8.0".parse().unwrap();
        let laps = find(&grid(&all), Some(&line)).unwrap();
        assert_eq!((laps.source, laps.times_s.len()), (LapSource::Line, 9));
        assert!(
            laps.times_s.iter().all(|t| (t - LAP_S).abs() < 0.02),
            "{laps:?}"
        );
        // Nothing crosses this one: the column tells the laps then.
        let elsewhere = "48.0138,8.0,48.0142,8.0".parse().unwrap();
        let laps = find(&grid(&all), Some(&elsewhere)).unwrap();
        assert_eq!(laps.source, LapSource::Column);
    }

    #[test]
    fn a_road_gives_none() {
        let mut road = grid(&[Role::Speed, Role::Latitude, Role::Longitude]);
        for (i, lat) in road
            .channels
            .get_mut(&Role::Latitude)
            .into_iter()
            .flatten()
            .enumerate()
        {
            *lat = 48.0 + 1e-4 * i as f64;
        }
        for (i, v) in road
            .channels
            .get_mut(&Role::Speed)
            .into_iter()
            .flatten()
            .enumerate()
        {
            *v = 70.0 + 0.01 * i as f64;
        }
        assert_eq!(find(&road, None), None);
    }
}
