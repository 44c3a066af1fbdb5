//! Where coolant boils: a mix of water and ethylene glycol under pressure.
//!
//! `p = (1 - x) p_w(T) + x p_g(T)` (Raoult): p pressure, kPa absolute; x mole fraction of glycol; p_w and
//! p_g vapour pressures of the two, kPa.
//!
//! Water: Wagner & Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783, equation 1 (coefficients from memory,
//! held to IAPWS-IF97 below). Glycol: a straight line of log p over 1/T through 2.097 kPa at 100 °C and
//! 7.119 kPa at 125 °C (DIPPR correlation of Perry's handbook, 8th edition); it brings 1 % of the pressure.
//! Percent by volume to mass: ASHRAE Handbook Fundamentals 2001. Assumed: an ideal mix, no air in it,
//! evenly hot; a hot spot in the head boils earlier. Tables of the same mix differ from this and from each
//! other by up to 1 K.

use crate::quantity::kelvin;
use crate::stats::root;

/// Critical point of water: K, kPa.
const CRITICAL: (f64, f64) = (647.096, 22_064.0);
const WATER: [(f64, f64); 6] = [
    (-7.859_517_83, 1.0),
    (1.844_082_59, 1.5),
    (-11.786_649_7, 3.0),
    (22.680_741_1, 3.5),
    (-15.961_871_9, 4.0),
    (1.801_225_02, 7.5),
];

/// Vapour pressure of glycol: °C, kPa.
const GLYCOL: [(f64, f64); 2] = [(100.0, 2.097), (125.0, 7.119)];

/// g/mol.
const MOLAR_MASS: (f64, f64) = (18.015_268, 62.067_84);

/// Percent of glycol by volume and by mass.
const BY_MASS: [(f64, f64); 8] = [
    (0.0, 0.0),
    (8.9, 10.0),
    (18.1, 20.0),
    (27.7, 30.0),
    (37.5, 40.0),
    (47.6, 50.0),
    (57.8, 60.0),
    (68.3, 70.0),
];

/// What tables of one mix differ by, K.
pub const MIX_K: f64 = 1.0;

/// Vapour pressure of water, kPa, between 0 and 373 °C.
pub fn water_kpa(temp_c: f64) -> f64 {
    let tau = 1.0 - kelvin(temp_c) / CRITICAL.0;
    let sum: f64 = WATER.iter().map(|(a, power)| a * tau.powf(*power)).sum();
    CRITICAL.1 * (CRITICAL.0 / kelvin(temp_c) * sum).exp()
}

fn glycol_kpa(temp_c: f64) -> f64 {
    let [(cool_c, cool_kpa), (hot_c, hot_kpa)] = GLYCOL;
    let inverse = |c: f64| 1.0 / kelvin(c);
    let slope = (hot_kpa / cool_kpa).ln() / (inverse(hot_c) - inverse(cool_c));
    cool_kpa * (slope * (inverse(temp_c) - inverse(cool_c))).exp()
}

/// Mole fraction of glycol in a mix with this share by volume (0 to 68.3 %; held outside).
fn mole_fraction(glycol_volume_percent: f64) -> f64 {
    let share = glycol_volume_percent.clamp(0.0, BY_MASS[BY_MASS.len() - 1].0);
    let upper = BY_MASS.iter().position(|row| row.0 >= share);
    let upper = upper.unwrap_or(BY_MASS.len() - 1).max(1);
    let ((v0, m0), (v1, m1)) = (BY_MASS[upper - 1], BY_MASS[upper]);
    let mass = m0 + (m1 - m0) * (share - v0) / (v1 - v0);
    let (water, glycol) = ((100.0 - mass) / MOLAR_MASS.0, mass / MOLAR_MASS.1);
    glycol / (water + glycol)
}

/// Boiling point, °C, of a mix under `pressure_kpa` absolute. `None`: outside 20 to 200 °C.
pub fn boiling_c(pressure_kpa: f64, glycol_volume_percent: f64) -> Option<f64> {
    let x = mole_fraction(glycol_volume_percent);
    let over = |temp_c: f64| {
        ((1.0 - x) * water_kpa(temp_c) + x * glycol_kpa(temp_c)).ln() - pressure_kpa.ln()
    };
    root(over, 20.0, 200.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IAPWS-IF97, table 35: saturation at 0.1 and 1 MPa is 372.755919 and 453.035632 K; at 300 K
    /// 3.53658941 kPa. Both formulations of water agree to 0.01 K.
    #[test]
    fn water_boils_where_iapws_says() {
        for (pressure_kpa, temp_k) in [(100.0, 372.755_919), (1000.0, 453.035_632)] {
            let got = boiling_c(pressure_kpa, 0.0).unwrap();
            assert!((got + 273.15 - temp_k).abs() < 0.01, "{got}");
        }
        assert!((water_kpa(26.85) / 3.536_589_41 - 1.0).abs() < 3e-4);
        assert!((boiling_c(101.325, 0.0).unwrap() - 99.9743).abs() < 0.005);
    }

    /// Water and half glycol under a cap at sea level and at 1500 m (84.556 kPa): water by IAPWS-95, the
    /// mix by Raoult's law in an independent program (52.7 % by mass there, 52.4 here: 0.1 K).
    #[test]
    fn under_a_cap() {
        for (pressure_kpa, water_c, mix_c) in [
            (101.325, 99.974, 107.71),
            (191.325, 118.814, 127.40),
            (211.325, 121.960, 130.69),
            (231.325, 124.872, 133.74),
            (84.556, 94.983, 102.50),
            (174.556, 115.962, 124.42),
        ] {
            assert!((boiling_c(pressure_kpa, 0.0).unwrap() - water_c).abs() < 0.005);
            let got = boiling_c(pressure_kpa, 50.0).unwrap();
            assert!((got - mix_c).abs() < 0.2, "{pressure_kpa}: {got}");
        }
    }

    /// Dow Chemical 2001, ethylene glycol coolant (and ASHRAE), boiling at 100.7 kPa by percent by volume;
    /// the table has steps of 1 °F. Half by mass (47.6 % by volume) within 0.5 K.
    #[test]
    fn the_table_of_the_maker() {
        for (volume, published_c, off_k) in [
            (0.0, 100.0, 0.3),
            (8.9, 101.1, 0.6),
            (18.1, 102.2, 0.6),
            (37.5, 105.6, 1.0),
            (47.6, 107.2, 0.5),
            (57.8, 110.0, 0.6),
        ] {
            let got = boiling_c(100.7, volume).unwrap();
            assert!((got - published_c).abs() < off_k, "{volume}: {got}");
        }
    }

    /// Forbes 1857 (by way of the R package MASS): water, boiling point °F and barometer in inches of
    /// mercury (3386.389 Pa each). Observed minus computed is 0.098 K in the mean with a scatter of 0.07 K,
    /// without the twelfth, a known outlier.
    #[test]
    fn forbes_in_the_alps() {
        let read = [
            (194.5, 20.79),
            (194.3, 20.79),
            (197.9, 22.40),
            (198.4, 22.67),
            (199.4, 23.15),
            (199.9, 23.35),
            (200.9, 23.89),
            (201.1, 23.99),
            (201.4, 24.02),
            (201.3, 24.01),
            (203.6, 25.14),
            (209.5, 28.49),
            (208.6, 27.76),
            (210.7, 29.04),
            (211.9, 29.88),
            (212.2, 30.06),
        ];
        let off =
            read.map(|(f, inches)| (f - 32.0) / 1.8 - boiling_c(inches * 3.386_389, 0.0).unwrap());
        let mean = crate::stats::mean(&off);
        assert!((mean - 0.0978).abs() < 0.01, "{mean}");
    }
}
