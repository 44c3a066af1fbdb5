//! Heat exchange in cross-flow with one fluid mixed (effectiveness-NTU), and the radiator in
//! bands behind the charge-air cooler.
//!
//! `N = UA/C_min`, `c = C_min/C_max`:
//! C_max mixed `(1 - e^{-c (1 - e^{-N})})/c`, C_min mixed `1 - e^{-(1 - e^{-c N})/c}`
//! (Kays and London, Compact Heat Exchangers).

/// Effectiveness with unmixed air and a mixed coolant, for either fluid being the weaker.
pub fn effectiveness(ua: f64, air_w_per_k: f64, coolant_w_per_k: f64) -> f64 {
    let weak = air_w_per_k.min(coolant_w_per_k).max(1e-6);
    let ratio = (weak / air_w_per_k.max(coolant_w_per_k)).max(1e-6);
    let ntu = ua / weak;
    if air_w_per_k <= coolant_w_per_k {
        (1.0 - (-ratio * (1.0 - (-ntu).exp())).exp()) / ratio
    } else {
        1.0 - (-(1.0 - (-ratio * ntu).exp()) / ratio).exp()
    }
}

/// Number of bands, top to bottom.
const BANDS: usize = 5;
/// Each band's share of the air.
const AIR_SHARE: [f64; BANDS] = [0.17, 0.20, 0.23, 0.22, 0.18];
/// Each band's share of the heat from the charge-air cooler, which covers the lower four.
const PREHEAT_SHARE: [f64; BANDS] = [0.0, 0.12, 0.30, 0.34, 0.24];
const AIR_CP: f64 = 1006.0;
/// Air through the nominal core at which every exponent gives the same, kg/s.
const NOMINAL_AIR_KG_S: f64 = 2.3;
/// The nominal core's air side goes with this power of the air flow.
pub const AIR_EXPONENT: f64 = 0.45;

/// What the radiator meets.
#[derive(Debug, Clone, Copy)]
pub struct RadiatorInput {
    /// Coolant entering, °C.
    pub coolant_in_c: f64,
    /// Coolant flow times its heat capacity, W/K.
    pub coolant_w_per_k: f64,
    /// Coolant flow, L/s.
    pub coolant_l_s: f64,
    /// Air flow, kg/s.
    pub air_kg_s: f64,
    /// Air reaching the exchangers, °C.
    pub air_c: f64,
    /// Heat from the charge-air cooler in front, W.
    pub preheat_w: f64,
    /// This session's air-side coefficient over nominal.
    pub core_scale: f64,
    /// Power of the air flow that the air side goes with.
    pub air_exponent: f64,
}

/// Heat given to the air, W.
pub fn radiator_heat_w(input: &RadiatorInput) -> f64 {
    let mut heat_w = 0.0;
    for band in 0..BANDS {
        let air_kg_s = input.air_kg_s * AIR_SHARE[band];
        let air_w_per_k = air_kg_s * AIR_CP;
        let coolant_w_per_k = input.coolant_w_per_k / BANDS as f64;
        let relative = (air_kg_s * BANDS as f64 / NOMINAL_AIR_KG_S).max(1e-4);
        let air_side = 2050.0 / BANDS as f64 * relative.powf(input.air_exponent) * input.core_scale;
        let coolant_side = 6200.0 / BANDS as f64 * (input.coolant_l_s / 1.6).max(1e-4).powf(0.7);
        let ua = 1.0 / (1.0 / air_side + 1.0 / coolant_side);
        let preheat_k = input.preheat_w * PREHEAT_SHARE[band] / air_w_per_k.max(30.0);
        let difference_k = input.coolant_in_c - input.air_c - preheat_k.min(60.0);
        let weak = air_w_per_k.min(coolant_w_per_k);
        heat_w += effectiveness(ua, air_w_per_k, coolant_w_per_k) * weak * difference_k;
    }
    heat_w
}

/// Heat capacity flow of air, W/K.
pub fn air_w_per_k(air_kg_s: f64) -> f64 {
    air_kg_s * AIR_CP
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Kays and London, Compact Heat Exchangers, cross-flow with one fluid mixed; values to more
    /// digits from the same closed forms in two independent implementations.
    #[test]
    fn effectiveness_agrees_with_the_closed_forms() {
        for (ntu, ratio, strong_mixed, weak_mixed) in [
            (0.5, 0.25, 0.374_736_32, 0.375_005_48),
            (1.0, 0.5, 0.541_968_99, 0.544_763_71),
            (2.0, 0.5, 0.702_012_72, 0.717_546_44),
            (5.0, 0.25, 0.879_544_93, 0.942_385_49),
        ] {
            let (weak, strong) = (1000.0, 1000.0 / ratio);
            let ua = ntu * weak;
            assert!((effectiveness(ua, weak, strong) - strong_mixed).abs() < 1e-8);
            assert!((effectiveness(ua, strong, weak) - weak_mixed).abs() < 1e-8);
        }
    }
}
