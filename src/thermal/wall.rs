//! Heat that the walls take from the gas falls as the coolant gets hotter.
//!
//! `Q(T) = Q_ref (T_gas - T) / (T_gas - T_ref)`: T coolant, °C; T_gas the gas temperature that the
//! coolant feels in the mean over the cycle; T_ref the coolant at which Q_ref is told. This is the
//! overall coefficient of Taylor & Toong (1957; C. F. Taylor, The Internal Combustion Engine in
//! Theory and Practice, 1985): heat goes with the effective gas temperature, typically 800 °C, less
//! the coolant's, typically 80 °C (both figures as published in a university's course notes on
//! engines after Taylor). Assumed: the same T_gas at every load, and that friction heat, a smaller
//! part, falls alike.
//!
//! It matters between days: 10 K more ambient raise the coolant by less than 10 K, by
//! `1 / (1 + θ / (T_gas - T))` at an excess θ, some 10 %.

/// Gas temperature that the coolant feels, °C.
pub const GAS_C: f64 = 800.0;

/// Coolant at which the heat input is told, °C.
pub const REFERENCE_C: f64 = 90.0;

/// Heat at this coolant over heat at [`REFERENCE_C`].
pub fn heat_share(coolant_c: f64) -> f64 {
    (GAS_C - coolant_c) / (GAS_C - REFERENCE_C)
}

/// By how much less heat comes, as a share, where the coolant is a kelvin hotter, 1/K.
pub fn slope_per_k(coolant_c: f64) -> f64 {
    1.0 / (GAS_C - coolant_c)
}

/// The same as a straight line: heat at 0 °C, and what comes to it with each °C.
pub const HEAT_LINE: (f64, f64) = (GAS_C / (GAS_C - REFERENCE_C), -1.0 / (GAS_C - REFERENCE_C));

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_at_the_reference_none_at_the_gas() {
        assert!((heat_share(REFERENCE_C) - 1.0).abs() < 1e-15);
        assert!(heat_share(GAS_C).abs() < 1e-15);
        let by_difference = 1.0 - heat_share(101.0) / heat_share(100.0);
        assert!((slope_per_k(100.0) - by_difference).abs() < 1e-12);
        let (at_zero, per_c) = HEAT_LINE;
        assert!((at_zero + per_c * 110.0 - heat_share(110.0)).abs() < 1e-15);
    }
}
