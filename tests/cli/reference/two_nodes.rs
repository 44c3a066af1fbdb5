//! Two heat capacities in a row by nalgebra's matrix exponential: what an exact step of more than one
//! node can stand on. The values are of closed forms, which an ODE solver agrees with to 1e-11.

use nalgebra::{Matrix3, Vector3};

/// `x' = A x + b`, as one matrix over (x, 1).
fn after(system: Matrix3<f64>, start: [f64; 2], time_s: f64) -> [f64; 2] {
    let end = (system * time_s).exp() * Vector3::new(start[0], start[1], 1.0);
    [end[0], end[1]]
}

/// Metal 60 kJ/K heated by 30 kW, 1500 W/K to coolant 20 kJ/K, 600 W/K to air at 20 °C, all from
/// 20 °C: after 30, 120, 300 s; at the end 90 and 70 °C.
#[test]
fn a_metal_and_a_coolant_node() {
    let (metal, coolant, between, outside) = (60e3, 20e3, 1500.0, 600.0);
    #[rustfmt::skip]
    let system = Matrix3::new(
        -between / metal, between / metal, 30e3 / metal,
        between / coolant, -(between + outside) / coolant, outside * 20.0 / coolant,
        0.0, 0.0, 0.0,
    );
    for (time_s, expected) in [
        (30.0, [32.145_229_686, 26.222_306_144]),
        (120.0, [56.448_363_409, 44.569_027_299]),
        (300.0, [78.709_867_135, 61.442_471_908]),
        (20_000.0, [90.0, 70.0]),
    ] {
        let once = after(system, [20.0; 2], time_s);
        let in_seconds = (0..time_s as usize).fold([20.0; 2], |x, _| after(system, x, 1.0));
        for i in 0..2 {
            assert!((once[i] - expected[i]).abs() < 1e-8, "{time_s}: {once:?}");
            assert!((in_seconds[i] - expected[i]).abs() < 1e-8);
        }
    }
    let held = system.exp();
    let published = [0.976_200_5, 0.023_440_26, 0.070_320_77, 0.901_191_68];
    let found = [held[(0, 0)], held[(0, 1)], held[(1, 0)], held[(1, 1)]];
    for (found, published) in found.into_iter().zip(published) {
        assert!((found - published).abs() < 1e-7, "{held}");
    }
}

/// Two lags in a row, 40 and 10 s, on a unit step: after 5, 20, 40, 100 s.
#[test]
fn two_lags_in_a_row() {
    #[rustfmt::skip]
    let system = Matrix3::new(
        -1.0 / 40.0, 0.0, 1.0 / 40.0,
        1.0 / 10.0, -1.0 / 10.0, 0.0,
        0.0, 0.0, 0.0,
    );
    for (time_s, expected) in [
        (5.0, 0.025_514_349_791),
        (20.0, 0.236_404_214_795),
        (40.0, 0.515_599_291_401),
        (100.0, 0.890_568_468_478),
    ] {
        let found = after(system, [0.0; 2], time_s)[1];
        assert!((found - expected).abs() < 1e-11, "{time_s}: {found}");
    }
}
