//! Laps on which the car was held up: slower in one place than the laps around, as behind another car.
//!
//! Each lap is cut into [`PARTS`] of equal length by distance; the median of the laps in each part is the usual
//! speed there, and a lap's speeds over the usual ones are told over their own median, its pace. A lap is held up
//! where it took [`LONGER`] times the lower quartile of the laps or more, and in [`STRETCH`] parts in a row was below
//! [`SLOW`] of its pace. A driver who is slower everywhere is not held up; nor is a lap whose borders lie a second
//! off, which makes it slow before a corner and quick behind, and no longer.

use crate::stats::median;

/// Parts of a lap.
const PARTS: usize = 60;

/// A lap this many times a quick one is long.
const LONGER: f64 = 1.01;

/// Share of a lap's pace below which a part is slow.
const SLOW: f64 = 0.93;

/// Slow parts in a row that make a lap held up: some 250 m of a lap of 4 km.
const STRETCH: usize = 4;

/// Fewer laps do not tell what is usual.
const FEWEST_LAPS: usize = 4;

/// Whether each lap between `borders` (steps into `speed`, n + 1 of them) was held up, n values. None was where laps
/// are too few to tell.
pub fn held_up(speed: &[f64], borders: &[usize]) -> Vec<bool> {
    let laps: Vec<&[f64]> = borders.windows(2).map(|b| &speed[b[0]..b[1]]).collect();
    if laps.len() < FEWEST_LAPS {
        return vec![false; laps.len()];
    }
    let mut lengths: Vec<usize> = laps.iter().map(|lap| lap.len()).collect();
    lengths.sort_unstable();
    let long = LONGER * lengths[(lengths.len() - 1) / 4] as f64;
    let profiles: Vec<[f64; PARTS]> = laps.iter().map(|lap| profile(lap)).collect();
    let usual: [f64; PARTS] = std::array::from_fn(|i| {
        median(profiles.iter().map(|p| p[i]).collect()).unwrap_or(f64::NAN)
    });
    (laps.iter().zip(&profiles))
        .map(|(lap, profile)| lap.len() as f64 >= long && is_slow_somewhere(profile, &usual))
        .collect()
}

fn is_slow_somewhere(profile: &[f64; PARTS], usual: &[f64; PARTS]) -> bool {
    let over: Vec<f64> = profile.iter().zip(usual).map(|(v, u)| v / u).collect();
    let pace = median(over.clone()).unwrap_or(f64::NAN);
    let parts: Vec<bool> = over.iter().map(|o| *o < SLOW * pace).collect();
    parts.windows(STRETCH).any(|run| run.iter().all(|s| *s))
}

/// Mean speed over each part of a lap.
fn profile(lap: &[f64]) -> [f64; PARTS] {
    let whole: f64 = lap.iter().sum();
    // Time at which each border of the parts is passed, in steps, the speed of a step taken as even.
    let mut passed = [0.0; PARTS + 1];
    let (mut covered, mut next) = (0.0, 1);
    for (i, speed) in lap.iter().enumerate() {
        let after = covered + speed;
        while next <= PARTS && after >= whole * next as f64 / PARTS as f64 {
            passed[next] = i as f64 + (whole * next as f64 / PARTS as f64 - covered) / speed;
            next += 1;
        }
        covered = after;
    }
    // Rounding may leave the last border just out of reach.
    passed[next.min(PARTS)..].fill(lap.len() as f64);
    std::array::from_fn(|i| whole / PARTS as f64 / (passed[i + 1] - passed[i]).max(1e-9))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Laps of an invented circuit at 1 Hz, each at its pace; some slowed to 0.8 of it over a tenth of the lap from a
    /// share of the lap on.
    fn laps(paces: &[f64], slowed: &[(usize, f64)]) -> (Vec<f64>, Vec<usize>) {
        let (mut speed, mut borders) = (Vec::new(), vec![0]);
        for (n, pace) in paces.iter().enumerate() {
            let mut share = 0.0;
            while share < 1.0 {
                let turn = std::f64::consts::TAU * share;
                let mut places = slowed.iter().filter(|s| s.0 == n);
                let held = places.any(|s| (s.1..s.1 + 0.1).contains(&share));
                let v = (40.0 + 14.0 * turn.sin() + 9.0 * (4.0 * turn).cos())
                    * pace
                    * if held { 0.8 } else { 1.0 };
                speed.push(v);
                share += v / 4000.0;
            }
            borders.push(speed.len());
        }
        (speed, borders)
    }

    #[test]
    fn a_lap_slowed_in_one_place_is_held_up() {
        let paces = [1.0, 0.99, 1.01, 1.0, 0.985, 1.0];
        for from in [0.0, 0.33, 0.71] {
            let (speed, borders) = laps(&paces, &[(1, from), (4, from)]);
            let expected = [false, true, false, false, true, false];
            assert_eq!(held_up(&speed, &borders), expected, "from {from}");
        }
    }

    #[test]
    fn pace_alone_and_borders_off_by_a_second_or_two_are_not() {
        let (speed, mut borders) = laps(&[1.0, 0.96, 1.02, 0.97, 1.0, 0.99], &[]);
        assert_eq!(held_up(&speed, &borders), [false; 6]);
        borders[2] += 1;
        borders[3] -= 1;
        assert_eq!(held_up(&speed, &borders), [false; 6]);
    }

    #[test]
    fn most_laps_may_be_held_up_each_elsewhere() {
        let slowed: Vec<(usize, f64)> = (0..5).map(|n| (n, 0.15 * n as f64)).collect();
        let (speed, borders) = laps(&[1.0; 8], &slowed);
        let expected = [true, true, true, true, true, false, false, false];
        assert_eq!(held_up(&speed, &borders), expected);
    }

    #[test]
    fn three_laps_do_not_tell() {
        let (speed, borders) = laps(&[1.0; 3], &[(1, 0.3)]);
        assert_eq!(held_up(&speed, &borders), [false; 3]);
    }
}
