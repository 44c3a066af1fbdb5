//! How the effective conductance goes with speed and air density.
//!
//! `G = g f`, `f = [ρ sqrt(v² + v0²) / (ρ_ref sqrt(v_ref² + v0²))]^n`: g the conductance at
//! reference conditions, W/K; v vehicle speed; v0 what fan and convection are worth at standstill;
//! ρ air density; n about 0.3 to 0.6 for a louvred core at fixed coolant flow (common practice, no
//! source). The same exponent serves speed and density, since both act through the mass flow of
//! air.

use super::air::STANDARD_DENSITY_KG_M3;

/// Speed at which a conductance is stated, km/h.
pub const REFERENCE_SPEED_KMH: f64 = 120.0;

/// Air speed that fan and convection are worth at standstill, km/h (common practice, no source).
pub const STANDSTILL_SPEED_KMH: f64 = 15.0;

/// Logarithm of the relative mass flow of air through the core, base of the power law.
pub fn log_air_flow(speed_kmh: f64, density_kg_m3: f64) -> f64 {
    let air_speed = speed_kmh.hypot(STANDSTILL_SPEED_KMH);
    let reference = REFERENCE_SPEED_KMH.hypot(STANDSTILL_SPEED_KMH);
    (density_kg_m3 * air_speed / (STANDARD_DENSITY_KG_M3 * reference)).ln()
}

/// Conductance relative to reference conditions.
pub fn relative(log_air_flow: f64, exponent: f64) -> f64 {
    (exponent * log_air_flow).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_one_at_reference_and_falls_with_thin_air() {
        let at_reference = log_air_flow(REFERENCE_SPEED_KMH, STANDARD_DENSITY_KG_M3);
        assert!((relative(at_reference, 0.45) - 1.0).abs() < 1e-12);
        let thin = log_air_flow(REFERENCE_SPEED_KMH, STANDARD_DENSITY_KG_M3 / 2.0);
        assert!((relative(thin, 0.45) - 0.5_f64.powf(0.45)).abs() < 1e-12);
    }
}
