//! How much of a better core is felt: effectiveness of a cross-flow exchanger.
//!
//! Both fluids unmixed, exact (Mason 1955):
//! `ε = 1/(C N) Σ_k P(k+1, N) P(k+1, C N)`, P the regularised lower incomplete gamma function,
//! N = UA / C_min, C = C_min / C_max.

use statrs::function::gamma::gamma_lr;

/// Effectiveness of a cross-flow exchanger, both fluids unmixed. `ntu` and `ratio` above 0,
/// `ratio` at most 1. The sum ends when a term no longer counts (1e-16).
pub fn effectiveness_unmixed(ntu: f64, ratio: f64) -> f64 {
    let mut sum = 0.0;
    for k in 1..1000 {
        let k = f64::from(k);
        let term = gamma_lr(k, ntu) * gamma_lr(k, ratio * ntu);
        sum += term;
        if term < 1e-16 * sum {
            break;
        }
    }
    sum / (ratio * ntu)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values of the exact solution, checked with the Triboix integral and by finite volumes; the
    /// second and fourth also stand in Kays & London's table (0.547, 0.732, from memory).
    #[test]
    fn agrees_with_the_exact_values() {
        for (ntu, ratio, expected) in [
            (0.5, 0.25, 0.375_094_43),
            (1.0, 0.5, 0.547_489_83),
            (1.5, 0.75, 0.607_749_86),
            (2.0, 0.5, 0.732_409_25),
            (3.0, 1.0, 0.681_291_11),
            (5.0, 0.25, 0.959_074_28),
        ] {
            assert!((effectiveness_unmixed(ntu, ratio) - expected).abs() < 1e-8);
        }
    }

    /// Çengel & Ghajar, Heat and Mass Transfer, example 11-6 (automotive radiator): NTU 0.5429,
    /// C 0.8, effectiveness 0.3571.
    #[test]
    fn agrees_with_the_worked_radiator() {
        assert!((effectiveness_unmixed(0.542_897_0, 0.8) - 0.357_143).abs() < 1e-5);
    }
}
