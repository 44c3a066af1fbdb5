//! What no log can tell and yet is not known: it widens what sessions in other air say of each other.
//!
//! ```text
//! log g = log g_fit - x mean(ln ρ/ρ_ref) + β mean(T - T_ref),   x ~ N(0, 0.08²),  β ~ N(0, 0.0004²) 1/K
//! ```
//!
//! x exponent of the conductance on the density of the air beyond that on air flow. One exponent serves both (see
//! `thermal::conductance`), as if air came to the core with the first power of the car's speed. A fan that helps makes
//! that power smaller, some 0.75, and the density's exponent larger than the speed's; a core whose fins resist by
//! viscosity makes it larger than 1: x lies between -0.08 and 0.17 (common practice, no source).
//! β what the heat loses with each kelvin of coolant T beyond `thermal::wall`, whose gas of 800 °C takes 0.14 % a
//! kelvin: one of 600 to 1200 °C would take 0.2 to 0.09 % (common practice, no source). What it does to a session alone
//! is part of the scale of the heat input, which is told at T_ref.
//!
//! Neither changes within a session by enough to be fitted. Both cancel between sessions run in the same air; a
//! season that gets hotter would else seem to lose or gain conductance (`reports/validation/drift.md`).

use super::prepare::Prepared;
use crate::thermal::air::{STANDARD_DENSITY_KG_M3, density_kg_m3};
use crate::thermal::wall;

/// Standard deviations of x and of β, 1/K.
const SD: [f64; 2] = [0.08, 0.0004];

/// Slopes of a session's `log g` by x and β. The session has ambient and stints.
pub(super) fn slopes(session: &Prepared) -> [f64; 2] {
    let ambient_c = session.ambient_c.as_deref().unwrap_or_default();
    let density = density_kg_m3(session.mean_in_stints(ambient_c), session.pressure_kpa);
    let coolant_c = session.mean_in_stints(&session.coolant_c);
    [
        -(density / STANDARD_DENSITY_KG_M3).ln(),
        coolant_c - wall::REFERENCE_C,
    ]
}

/// Variance of `Σ c_s log g_s` that x and β leave open.
pub(super) fn variance<'a>(terms: impl Iterator<Item = (f64, &'a [f64; 2])>) -> f64 {
    let sum = terms.fold([0.0; 2], |sum, (c, slopes)| {
        std::array::from_fn(|k| sum[k] + c * slopes[k])
    });
    (sum.iter().zip(SD)).map(|(s, sd)| (s * sd).powi(2)).sum()
}

/// Variance of a single session's `log g` that x leaves open.
pub(super) fn variance_of_one([density, _]: [f64; 2]) -> f64 {
    (SD[0] * density).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::joint::fit_jointly;
    use crate::estimate::synthetic::{self, Truth};

    fn ratio_sd(ambient_c: f64) -> f64 {
        let base = Truth::default();
        let other = Truth { ambient_c, ..base };
        let (a, b) = (synthetic::prepared(&base), synthetic::prepared(&other));
        let fit = fit_jointly(&[&a, &b]).unwrap();
        let untold = fit.sessions.iter().map(|s| &s.untold);
        variance([-1.0, 1.0].into_iter().zip(untold)).sqrt()
    }

    /// By hand: the density falls by 12/300, and the coolant rises nearly with the air.
    #[test]
    fn it_cancels_in_the_same_air_and_grows_with_the_difference() {
        let base_c = Truth::default().ambient_c;
        assert!(ratio_sd(base_c) < 1e-9);
        let by_density = SD[0] * ((base_c + 12.0 + 273.15) / (base_c + 273.15)).ln();
        let by_walls = SD[1] * 12.0;
        let apart = ratio_sd(base_c + 12.0);
        let expected = by_density.hypot(by_walls);
        assert!((apart / expected - 1.0).abs() < 0.15, "{apart} {expected}");
        let half = ratio_sd(base_c + 6.0);
        assert!((apart / half - 2.0).abs() < 0.1, "{apart} {half}");
    }

    #[test]
    fn one_session_is_told_less_well_in_air_far_from_the_reference() {
        let slopes_at = |ambient_c| {
            let truth = Truth {
                ambient_c,
                ..Truth::default()
            };
            slopes(&synthetic::prepared(&truth))
        };
        // Standard density is that of 15 °C at sea level.
        assert!(variance_of_one(slopes_at(35.0)) > variance_of_one(slopes_at(20.0)));
    }
}
