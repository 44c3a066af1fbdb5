//! What other channels say of the unit of the speed.

use super::cell::number;
use super::options::map_flag;
use super::roles::is_named;
use super::table::Table;
use super::unit_said::said_unit;
use super::unit_values::of_sorted;
use super::written::Written;
use crate::quantity::Unit;
use crate::session::Role;
use crate::warning::Warning;

/// Mean radius of the Earth, m (IUGG 1980: 6 371 009 m).
const EARTH_RADIUS_M: f64 = 6_371_009.0;

/// Metres between two positions in degrees (haversine).
pub(super) fn distance_m(from: (f64, f64), to: (f64, f64)) -> f64 {
    let (lat_1, lat_2) = (from.0.to_radians(), to.0.to_radians());
    let half = |d: f64| (d / 2.0).sin().powi(2);
    let h = half(lat_2 - lat_1) + lat_1.cos() * lat_2.cos() * half((to.1 - from.1).to_radians());
    2.0 * EARTH_RADIUS_M * h.clamp(0.0, 1.0).sqrt().asin()
}

/// Metres along the positions, over the integral of the speed as written: the factor that brings
/// the speed to m/s. `None`: too little driven, or too few positions.
pub(super) fn gps_ratio(t_s: &[f64], speed: &[f64], lat: &[f64], lon: &[f64]) -> Option<f64> {
    const SHORTEST_M: f64 = 500.0;
    let mut last: Option<(f64, (f64, f64))> = None;
    let (mut metres, mut integral) = (0.0, 0.0);
    let (mut pending, mut seen) = (0.0, 0usize);
    for at in 0..t_s.len() {
        let here = (lat[at], lon[at]);
        if !speed[at].is_nan() {
            pending += speed[at];
            seen += 1;
        }
        if here.0.is_nan() || here.1.is_nan() || here == (0.0, 0.0) {
            continue;
        }
        let Some((from_t, from)) = last else {
            last = Some((t_s[at], here));
            (pending, seen) = (0.0, 0);
            continue;
        };
        let elapsed = t_s[at] - from_t;
        // Positions are compared at most once a second, so that their noise counts little.
        if elapsed < 1.0 {
            continue;
        }
        let step_m = distance_m(from, here);
        if elapsed <= 3.0 && step_m < 120.0 * elapsed && seen > 0 {
            metres += step_m;
            integral += pending / seen as f64 * elapsed;
        }
        last = Some((t_s[at], here));
        (pending, seen) = (0.0, 0);
    }
    (metres > SHORTEST_M && integral > 0.0).then(|| metres / integral)
}

/// Metres a second of another speed column that names its unit, over `own` as written, where both
/// go up and down together. `None`: there is no such column, or `own` names its unit.
pub(super) fn labelled_ratio(table: &Table, rows: &[usize], own: &Written) -> Option<f64> {
    const LEAST_KMH: f64 = 20.0;
    const LEAST_ROWS: usize = 50;
    const APART: f64 = 0.1;
    if own.choice.unit.is_some() {
        return None;
    }
    (0..table.columns.len())
        .filter(|at| *at != own.choice.column)
        .filter(|at| is_named(&table.columns[*at].name, Role::Speed))
        .filter_map(|at| Some((at, said_unit(table, at, Role::Speed).unit()?.0)))
        .find_map(|(at, unit)| {
            let mark = table.mark_of(at);
            let readings = rows.iter().zip(&own.values);
            let mut ratios: Vec<f64> = readings
                .filter_map(|(row, own)| {
                    let kmh = unit.to_inside(number(table.cell(*row, at), mark)?);
                    (kmh > LEAST_KMH && *own > 0.0).then_some(kmh / 3.6 / own)
                })
                .collect();
            ratios.sort_by(f64::total_cmp);
            let [low, middle, high] = [0.1, 0.5, 0.9].map(|share| of_sorted(&ratios, share));
            let together = low > (1.0 - APART) * middle && high < (1.0 + APART) * middle;
            (ratios.len() >= LEAST_ROWS && together).then_some(middle)
        })
}

/// Speed and positions agree within this share: tyre wear, slip and a receiver's noise.
const AGREE: f64 = 0.1;

/// What is to be said of a speed that the positions contradict by `factor`.
pub(super) fn against_positions(column: &str, unit: Unit, factor: f64) -> Option<Warning> {
    if (factor - 1.0).abs() <= AGREE {
        return None;
    }
    let units = [
        Unit::KilometrePerHour,
        Unit::MilePerHour,
        Unit::MetrePerSecond,
        Unit::Knot,
    ];
    let off = |u: &Unit| (factor * u.to_inside(1.0) / unit.to_inside(1.0) - 1.0).abs();
    let hint = match units.iter().find(|u| off(u) <= AGREE) {
        Some(fits) => {
            let flag = map_flag("speed", &format!("{column}:{}", fits.symbol()));
            format!("{} would fit: {flag}", fits.symbol())
        }
        None => "no unit of speed would fit: --map speed=COLUMN names another".to_owned(),
    };
    Some(Warning::caution(
        "speed-against-positions",
        format!(
            "speed: column `{column}` in {} reads {factor:.2} times what the logged positions say; {hint}",
            unit.symbol()
        ),
    ))
}

/// The hardest braking over one second, in written units per second (99.8th percentile).
pub(super) fn hardest_braking(t_s: &[f64], speed: &[f64]) -> Option<f64> {
    let mut bins: Vec<(i64, f64, usize)> = Vec::new();
    for (t, v) in t_s.iter().zip(speed).filter(|(_, v)| !v.is_nan()) {
        let bin = t.floor() as i64;
        match bins.last_mut() {
            Some(last) if last.0 == bin => {
                last.1 += v;
                last.2 += 1;
            }
            _ => bins.push((bin, *v, 1)),
        }
    }
    let mean = |b: &(i64, f64, usize)| b.1 / b.2 as f64;
    let mut falls: Vec<f64> = bins
        .windows(2)
        .filter(|pair| pair[1].0 == pair[0].0 + 1)
        .map(|pair| mean(&pair[0]) - mean(&pair[1]))
        .filter(|fall| *fall > 0.0)
        .collect();
    if falls.len() < 60 {
        return None;
    }
    falls.sort_by(f64::total_cmp);
    Some(falls[(0.998 * (falls.len() - 1) as f64).round() as usize])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One degree of latitude on a sphere of the mean radius is 111.195 km.
    #[test]
    fn distance_on_the_sphere() {
        assert!((distance_m((48.0, 8.0), (49.0, 8.0)) - 111_195.0).abs() < 1.0);
    }

    #[test]
    fn positions_give_the_factor_of_the_speed() {
        let t_s: Vec<f64> = (0..600).map(|i| f64::from(i) * 0.1).collect();
        let lat: Vec<f64> = t_s.iter().map(|t| 48.0 + 30.0 * t / 111_195.0).collect();
        let (speed, lon) = (vec![30.0 / 0.44704; 600], vec![8.0; 600]);
        let ratio = gps_ratio(&t_s, &speed, &lat, &lon).unwrap();
        assert!((ratio - 0.44704).abs() < 1e-3, "{ratio}");
        assert_eq!(gps_ratio(&t_s, &speed, &[48.0; 600], &lon), None);
    }

    #[test]
    fn braking_is_read_over_a_second() {
        let t_s: Vec<f64> = (0..2000).map(|i| f64::from(i) * 0.1).collect();
        let speed: Vec<f64> = t_s.iter().map(|t| 40.0 - 8.0 * (t % 4.0)).collect();
        let braking = hardest_braking(&t_s, &speed).unwrap();
        assert!((braking - 8.0).abs() < 0.5, "{braking}");
    }
}
