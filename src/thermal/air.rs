//! Air outside: pressure at altitude and density.
//!
//! Pressure in the troposphere of the standard atmosphere (ISO 2533:1975):
//! `p = p0 (1 - L H / T0)^(g / (R L))`, H geopotential altitude in m, p0 101 325 Pa,
//! T0 288.15 K, L 0.0065 K/m, g 9.806 65 m/s², R 287.052 87 J/(kg K).
//!
//! Density of dry air as an ideal gas: `ρ = p / (R T)`. Humidity is left out: at 35 °C and 80 %
//! it takes 1.7 % off the density.

use crate::quantity::kelvin;

/// Density at sea level in the standard atmosphere, kg/m³: the reference of every conductance.
pub const STANDARD_DENSITY_KG_M3: f64 = 1.225;

const SEA_LEVEL_KPA: f64 = 101.325;
const SEA_LEVEL_K: f64 = 288.15;
const LAPSE_K_PER_M: f64 = 0.0065;
const GRAVITY_MS2: f64 = 9.806_65;
const GAS_CONSTANT_J_PER_KG_K: f64 = 287.052_87;

/// Pressure at `altitude_m` in the standard atmosphere, kPa. Meant for -500 to 11 000 m.
pub fn pressure_kpa(altitude_m: f64) -> f64 {
    let exponent = GRAVITY_MS2 / (GAS_CONSTANT_J_PER_KG_K * LAPSE_K_PER_M);
    SEA_LEVEL_KPA * (1.0 - LAPSE_K_PER_M * altitude_m / SEA_LEVEL_K).powf(exponent)
}

/// Density of dry air, kg/m³.
pub fn density_kg_m3(temp_c: f64, pressure_kpa: f64) -> f64 {
    pressure_kpa * 1000.0 / (GAS_CONSTANT_J_PER_KG_K * kelvin(temp_c))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 2533:1975, table of the standard atmosphere: geopotential altitude, pressure, density.
    #[test]
    fn pressure_and_density_agree_with_iso_2533() {
        for (altitude_m, pressure_pa, temp_k, density) in [
            (0.0, 101_325.0, 288.15, 1.225_000),
            (500.0, 95_460.84, 284.90, 1.167_269),
            (1000.0, 89_874.56, 281.65, 1.111_643),
            (1500.0, 84_555.99, 278.40, 1.058_067),
            (2000.0, 79_495.20, 275.15, 1.006_490),
            (3000.0, 70_108.53, 268.65, 0.909_122),
        ] {
            let pressure = pressure_kpa(altitude_m);
            assert!(
                (pressure * 1000.0 / pressure_pa - 1.0).abs() < 1e-6,
                "{altitude_m}"
            );
            let got = density_kg_m3(temp_k - 273.15, pressure);
            assert!((got / density - 1.0).abs() < 1e-6, "{altitude_m}: {got}");
        }
    }

    /// Dry real air at 101 325 Pa and 20, 30, 40 °C (CoolProp 8.0.0).
    #[test]
    fn dry_air_agrees_with_real_air() {
        for (temp_c, density) in [(20.0, 1.204_58), (30.0, 1.164_73), (40.0, 1.127_45)] {
            let got = density_kg_m3(temp_c, 101.325);
            assert!((got / density - 1.0).abs() < 5e-4, "{temp_c}: {got}");
        }
    }

    /// What leaving out humidity costs: moist air is thinner than the dry air here by 0.4 % at 20 °C
    /// and 50 % (CIPM-2007: 1.19931 kg/m³), by 1.65 % at 35 °C and 80 % (1.12660), both at
    /// 101 325 Pa, and by 0.54 % at 30 °C and 30 % under 84 556 Pa (0.96639).
    #[test]
    fn humidity_takes_off_what_the_head_of_this_file_says() {
        for (temp_c, pressure_kpa, moist, less) in [
            (20.0, 101.325, 1.199_31, 0.0040),
            (35.0, 101.325, 1.126_60, 0.0165),
            (30.0, 84.556, 0.966_39, 0.0054),
        ] {
            let dry = density_kg_m3(temp_c, pressure_kpa);
            let got = 1.0 - moist / dry;
            assert!((got - less).abs() < 1e-4, "{temp_c}: {got}");
        }
    }
}
