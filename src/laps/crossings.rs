//! Laps from positions: the moments at which the car crosses a line across the track.
//!
//! The line is given by its ends, or found: of some places that the car passes at speed, the one
//! whose crossings give laps of the most equal length. Positions are laid flat about its middle
//! (metres east and north on a sphere), and a crossing is a change of sign along the track within
//! the width of the line. A line given is crossed the way the car mostly crosses it.

use std::str::FromStr;

/// Mean radius of the Earth, m (IUGG 1980).
const EARTH_RADIUS_M: f64 = 6_371_009.0;
/// Half the length of the line, m.
const HALF_WIDTH_M: f64 = 25.0;
/// No lap is shorter, s.
const SHORTEST_S: f64 = 20.0;
/// Places tried.
const PLACES: usize = 16;
/// A place counts where the car is at least so fast there, m/s.
const FAST_M_S: f64 = 10.0;
/// Steps further apart than this are no way driven, m.
const LEAP_M: f64 = 400.0;

/// A start and finish line, by its ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Latitude and longitude of each end, degrees.
    ends: [(f64, f64); 2],
}

/// How long a line may be, m: no track is wider than the upper one.
const LENGTH_M: (f64, f64) = (1.0, 300.0);

impl FromStr for Line {
    type Err = String;

    /// `LAT1,LON1,LAT2,LON2` in degrees.
    fn from_str(text: &str) -> Result<Self, String> {
        let numbers: Result<Vec<f64>, _> = text.split(',').map(|n| n.trim().parse()).collect();
        let is_place = |lat: f64, lon: f64| lat.abs() < 90.0 && lon.abs() <= 360.0;
        match numbers.as_deref() {
            Ok(&[lat_1, lon_1, lat_2, lon_2])
                if is_place(lat_1, lon_1) && is_place(lat_2, lon_2) =>
            {
                let ends = [(lat_1, lon_1), (lat_2, lon_2)];
                let (east, north) = flat(ends[0], ends[1]);
                let length_m = east.hypot(north);
                if !(LENGTH_M.0..=LENGTH_M.1).contains(&length_m) {
                    return Err(format!(
                        "its ends are {length_m:.0} m apart, and a line across a track is {:.0} to {:.0} m long",
                        LENGTH_M.0, LENGTH_M.1
                    ));
                }
                Ok(Self { ends })
            }
            _ => {
                Err("expected LAT1,LON1,LAT2,LON2 in degrees: the two ends of the line".to_owned())
            }
        }
    }
}

/// Metres east and north of `origin`, both in degrees.
fn flat(origin: (f64, f64), place: (f64, f64)) -> (f64, f64) {
    let north = (place.0 - origin.0).to_radians() * EARTH_RADIUS_M;
    let east = (place.1 - origin.1).to_radians() * EARTH_RADIUS_M * origin.0.to_radians().cos();
    (east, north)
}

/// A line across the track: its middle, the way of travel over it, half its length.
struct Gate {
    middle: (f64, f64),
    way: (f64, f64),
    half_width_m: f64,
}

impl Gate {
    /// Times at which the positions pass it along its way, s.
    fn times(&self, latitude: &[f64], longitude: &[f64], step_s: f64) -> Vec<f64> {
        let (x, y) = self.way;
        let mut times: Vec<f64> = Vec::new();
        let mut last: Option<(usize, f64)> = None;
        for (i, place) in latitude
            .iter()
            .copied()
            .zip(longitude.iter().copied())
            .enumerate()
        {
            let (east, north) = flat(self.middle, place);
            if east.is_nan() || north.is_nan() {
                continue;
            }
            let (along, across) = (east * x + north * y, north * x - east * y);
            if let Some((before, was)) = last
                && was < 0.0
                && along >= 0.0
                && across.abs() <= self.half_width_m
                && along - was < LEAP_M
            {
                let share = -was / (along - was);
                let time = (before as f64 + 0.5 + share * (i - before) as f64) * step_s;
                if times.last().is_none_or(|t| time - t >= SHORTEST_S) {
                    times.push(time);
                }
            }
            last = Some((i, along));
        }
        times
    }
}

/// Times at which a given line is crossed, s, the way it is mostly crossed. Positions in degrees,
/// one a step.
pub(super) fn crossings_of(
    line: &Line,
    latitude: &[f64],
    longitude: &[f64],
    step_s: f64,
) -> Vec<f64> {
    let [a, b] = line.ends;
    let (east, north) = flat(a, b);
    let length_m = east.hypot(north);
    let middle = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
    let over = |way: (f64, f64)| {
        let gate = Gate {
            middle,
            way,
            half_width_m: length_m / 2.0,
        };
        gate.times(latitude, longitude, step_s)
    };
    let (x, y) = (east / length_m, north / length_m);
    let (one, other) = (over((-y, x)), over((y, -x)));
    if other.len() > one.len() { other } else { one }
}

/// Times of the crossings of the best line, s; at least three. Positions in degrees, one a step.
pub(super) fn crossings(latitude: &[f64], longitude: &[f64], step_s: f64) -> Option<Vec<f64>> {
    let len = latitude.len().min(longitude.len());
    let every = (len / PLACES).max(1);
    (0..len)
        .step_by(every)
        .filter_map(|at| {
            let times = crossings_at(latitude, longitude, step_s, at)?;
            let spread = relative_spread(&times)?;
            Some((times, spread))
        })
        // Laps all round beat laps of part of the session; among equals the more even ones.
        .max_by(|a, b| (a.0.len().cmp(&b.0.len())).then(b.1.total_cmp(&a.1)))
        .map(|(times, _)| times)
}

/// Crossings of the line across the track at step `at`.
fn crossings_at(latitude: &[f64], longitude: &[f64], step_s: f64, at: usize) -> Option<Vec<f64>> {
    let middle = (latitude[at], longitude[at]);
    let flat = |i: usize| flat(middle, (latitude[i], longitude[i]));
    let (before, after) = (at.checked_sub(1)?, at + 1);
    if after >= latitude.len() {
        return None;
    }
    let (from, to) = (flat(before), flat(after));
    let way = ((to.0 - from.0), (to.1 - from.1));
    let length = way.0.hypot(way.1);
    if !(2.0 * FAST_M_S * step_s..LEAP_M).contains(&length) {
        return None;
    }
    let gate = Gate {
        middle,
        way: (way.0 / length, way.1 / length),
        half_width_m: HALF_WIDTH_M,
    };
    let times = gate.times(latitude, longitude, step_s);
    (times.len() >= 3).then_some(times)
}

/// Median absolute deviation of the lap times over their median.
fn relative_spread(times: &[f64]) -> Option<f64> {
    let laps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let middle = crate::stats::median(laps.clone())?;
    let off = laps.iter().map(|lap| (lap - middle).abs()).collect();
    Some(crate::stats::median(off)? / middle)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_two_places_across_a_track() {
        assert!("48.0,8.0,48.0002,8.0".parse::<Line>().is_ok());
        let error = |text: &str| text.parse::<Line>().unwrap_err();
        assert!(error("48.0,8.0,48.0002").contains("LAT1,LON1,LAT2,LON2"));
        assert!(error("48.0,8.0,48.0,8.0").contains("0 m apart"));
        assert!(error("48.0,8.0,49.0,8.0").contains("111195 m apart"));
        assert!(error("98.0,8.0,98.0,8.0001").contains("degrees"));
    }

    /// A road driven north, back and north again crosses the line twice its way, in whichever
    /// order its ends are named, and not where the road passes beside it.
    #[test]
    fn a_line_is_crossed_the_way_the_car_mostly_goes() {
        let latitude: Vec<f64> = (0..300)
            .map(|i| {
                48.0 + 1e-4
                    * f64::from(if i % 200 < 100 {
                        i % 100
                    } else {
                        100 - i % 100
                    })
            })
            .collect();
        let longitude = vec![8.0; 300];
        for line in [
            "48.00505,7.9999,48.00505,8.0001",
            "48.00505,8.0001,48.00505,7.9999",
        ] {
            let times = crossings_of(&line.parse().unwrap(), &latitude, &longitude, 1.0);
            assert_eq!(times.len(), 2, "{times:?}");
            assert!((times[0] - 51.0).abs() < 1e-6 && (times[1] - 251.0).abs() < 1e-6);
        }
        let beside = "48.00505,8.0001,48.00505,8.0003".parse().unwrap();
        assert_eq!(crossings_of(&beside, &latitude, &longitude, 1.0), [0.0; 0]);
    }
}
