//! Laps from positions: the moments at which the car crosses a line across the track.
//!
//! The line is found: of some places that the car passes at speed, the one whose crossings give
//! laps of the most equal length. Positions are laid flat about that place (metres east and north
//! on a sphere), and a crossing is a change of sign along the track within the width of the line.

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
    let (lat_0, lon_0) = (latitude[at], longitude[at]);
    let flat = |i: usize| {
        let north = (latitude[i] - lat_0).to_radians() * EARTH_RADIUS_M;
        let east = (longitude[i] - lon_0).to_radians() * EARTH_RADIUS_M * lat_0.to_radians().cos();
        (east, north)
    };
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
    let (x, y) = (way.0 / length, way.1 / length);
    let mut times: Vec<f64> = Vec::new();
    let mut last: Option<(usize, f64)> = None;
    for i in 0..latitude.len() {
        let (east, north) = flat(i);
        if east.is_nan() || north.is_nan() {
            continue;
        }
        let (along, across) = (east * x + north * y, north * x - east * y);
        if let Some((before, was)) = last
            && was < 0.0
            && along >= 0.0
            && across.abs() <= HALF_WIDTH_M
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
    (times.len() >= 3).then_some(times)
}

/// Median absolute deviation of the lap times over their median.
fn relative_spread(times: &[f64]) -> Option<f64> {
    let laps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let middle = super::median(laps.clone())?;
    let off = laps.iter().map(|lap| (lap - middle).abs()).collect();
    Some(super::median(off)? / middle)
}
