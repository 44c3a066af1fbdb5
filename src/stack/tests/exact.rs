//! One exchanger on the grid against the exact relations and against textbooks.

use crate::stack::core::{Core, Face, Fluid};
use crate::stack::grid::Axis;
use crate::stack::sheet::{Exchanger, Kind};
use crate::thermal::coolant;
use crate::thermal::exchanger::{Arrangement, Stream, exchange};

/// Heat that a core over the whole face passes from fluid to air, W, with `rows` rows of tubes and as
/// many cells along each edge as given.
fn heat_w(ua_w_per_k: f64, fluid: Stream, air: Stream, rows: usize, cells: usize) -> f64 {
    let (columns, lines) = (Axis::through([], cells), Axis::through([], 3));
    let number = columns.count() * lines.count();
    let face = Face {
        columns,
        rows: lines,
        air_w_per_k: vec![air.capacity_w_per_k / number as f64; number],
    };
    let mut exchanger = Exchanger::new("core", Kind::Radiator);
    exchanger.tube_rows = rows;
    let fluid_side = Fluid {
        capacity_w_per_k: fluid.capacity_w_per_k,
    };
    let ua = vec![ua_w_per_k / number as f64; number];
    let core = Core::new(&exchanger, &face, fluid_side, 0.0, &ua);
    let mut air_k = vec![air.in_c; number];
    core.pass(&face, fluid.in_c, &mut air_k, |_| {}).heat_w
}

/// Both unmixed: cells and tube rows made ever smaller, and the errors of second and higher orders taken off (Richardson).
fn both_unmixed_w(ua_w_per_k: f64, fluid: Stream, air: Stream) -> f64 {
    let mut table: Vec<f64> = (3..=9)
        .map(|i| heat_w(ua_w_per_k, fluid, air, 1 << i, 1 << i))
        .collect();
    let mut order = 2;
    while table.len() > 1 {
        let gain = f64::from(1 << order);
        table = table
            .windows(2)
            .map(|w| w[1] + (w[1] - w[0]) / (gain - 1.0))
            .collect();
        order += 1;
    }
    table[0]
}

fn stream(in_c: f64, capacity_w_per_k: f64) -> Stream {
    Stream {
        in_c,
        capacity_w_per_k,
    }
}

/// `ntu`, ratio, then effectiveness: counterflow, parallel, both unmixed, larger mixed, smaller mixed.
fn grid() -> Vec<Vec<f64>> {
    include_str!("../../../tests/reference/exchanger_grid.csv")
        .lines()
        .skip(1)
        .map(|line| line.split(',').map(|v| v.parse().unwrap()).collect())
        .collect()
}

/// The grid of `tests/reference/exchanger_grid.csv` (two independent programs, 10 digits): one tube row
/// is cross-flow with the fluid mixed, whatever the cells; many rows converge to both unmixed.
#[test]
fn cells_become_the_exact_relations() {
    let rows = grid();
    assert!(rows.len() > 20);
    for row in rows {
        let (ntu, ratio, unmixed, larger, smaller) = (row[0], row[1], row[4], row[5], row[6]);
        let (small, large) = (stream(1.0, 1000.0), stream(1.0, 1000.0 / ratio));
        let cold = |s: Stream| Stream { in_c: 0.0, ..s };
        for cells in [1, 7, 40] {
            let fluid_larger = heat_w(ntu * 1000.0, large, cold(small), 1, cells) / 1000.0;
            let fluid_smaller = heat_w(ntu * 1000.0, small, cold(large), 1, cells) / 1000.0;
            assert!(
                (fluid_larger - larger).abs() < 1e-9,
                "{ntu} {ratio}: {fluid_larger}"
            );
            assert!(
                (fluid_smaller - smaller).abs() < 1e-9,
                "{ntu} {ratio}: {fluid_smaller}"
            );
        }
        let apart = both_unmixed_w(ntu * 1000.0, large, cold(small)) / 1000.0;
        assert!(
            (apart - unmixed).abs() < 1e-9,
            "{ntu} {ratio}: {apart}, not {unmixed}"
        );
    }
}

/// The error of too few tube rows falls with the square of their number.
#[test]
fn tube_rows_converge_with_the_square_of_their_number() {
    let (fluid, air) = (stream(1.0, 3000.0), stream(0.0, 1000.0));
    let exact = 1000.0 * Arrangement::CrossBothUnmixed.effectiveness(1.5, 1.0 / 3.0);
    let off = |n: usize| (heat_w(1500.0, fluid, air, n, n) - exact).abs();
    for n in [4, 8, 16] {
        let gain = off(n) / off(2 * n);
        assert!((3.8..4.2).contains(&gain), "{n}: {gain}");
    }
}

/// What one stirred tube and many apart differ by at NTU 1.5 and ratio 0.33: some 5 % of UA.
#[test]
fn the_arrangement_matters() {
    let ratio = 0.33;
    let mixed = Arrangement::CrossLargerMixed.effectiveness(1.5, ratio);
    let ntu = Arrangement::CrossBothUnmixed.ntu(mixed, ratio).unwrap();
    assert!((1.0 - ntu / 1.5 - 0.05).abs() < 0.01, "{ntu}");
}

/// Cengel & Ghajar, Heat and Mass Transfer, example 11-6 (a radiator on a test bench): water 0.6 kg/s,
/// 4195 J/(kg K), 90 to 65 °C, air 20 to 40 °C, both unmixed: 62.93 kW. UA 1366.47 W/K by the exact
/// series (published: U 3347 W/(m² K) on 0.408 m², with a correction factor of 0.97 from a chart).
#[test]
fn cengels_radiator_on_the_bench() {
    let water = stream(90.0, 0.6 * 4195.0);
    let heat = 62_925.0;
    let air = stream(20.0, heat / 20.0);
    let found = both_unmixed_w(1366.4716, water, air);
    assert!((found / heat - 1.0).abs() < 1e-6, "{found}");
    let published = both_unmixed_w(3347.0 * 0.408, water, air);
    assert!((published / 62_930.0 - 1.0).abs() < 1e-3, "{published}");
}

/// Holman, Heat Transfer, 10th edition, example 10-9 (to more digits in the documentation of the package
/// `ht`): oil 0.725 kg/s of 1900 J/(kg K) at 15 °C, steam 5.2 kg/s of 1860 J/(kg K) at 130 °C, U 275 on
/// 10.82 m², the larger stream mixed: 131 675.327 W.
#[test]
fn holmans_oil_and_steam() {
    let (steam, oil) = (stream(130.0, 5.2 * 1860.0), stream(15.0, 0.725 * 1900.0));
    let found = heat_w(275.0 * 10.82, steam, oil, 1, 40);
    assert!((found / 131_675.327 - 1.0).abs() < 1e-8, "{found}");
}

/// Som, Introduction to Heat Transfer, example 10.7: air 10 kg/s of 1010 J/(kg K) at 125 °C, water 7 kg/s
/// of 4180 J/(kg K) at 20 °C, UA 55 000 W/K, both unmixed: about 1 MW, air out about 26 °C (by the short
/// formula). Here the air is in the tubes.
#[test]
fn soms_air_and_water() {
    let (air, water) = (stream(125.0, 10.0 * 1010.0), stream(20.0, 7.0 * 4180.0));
    let found = both_unmixed_w(55_000.0, air, water);
    assert!((found / 1e6 - 1.0).abs() < 0.01, "{found}");
    assert!((125.0 - found / 10_100.0 - 26.0).abs() < 1.0);
    assert!((found / (0.948_590 * 10_100.0 * 105.0) - 1.0).abs() < 1e-6);
}

/// Incropera et al., examples 11.3 (gas 300 to 100 °C by water 1 kg/s of 4197 J/(kg K), 35 to 125 °C,
/// U 100: chart 39.7 m², exact 39.2998) and 11.4 (gas 1.5 kg/s of 1000 J/(kg K) at 250 °C, the same water,
/// UA 4000: chart 265 kW, exact 269.541 kW). Both unmixed.
#[test]
fn incroperas_gas_and_water() {
    let water = stream(35.0, 4197.0);
    let heat = 4197.0 * 90.0;
    let gas = stream(300.0, heat / 200.0);
    for (area_m2, tolerance) in [(39.7, 0.01), (39.2998, 1e-5)] {
        let found = both_unmixed_w(100.0 * area_m2, gas, water);
        assert!((found / heat - 1.0).abs() < tolerance, "{found}");
    }
    let found = both_unmixed_w(4000.0, stream(250.0, 1500.0), water);
    assert!((found / 265e3 - 1.0).abs() < 0.02, "{found}");
    assert!((found / 269_541.0 - 1.0).abs() < 1e-5, "{found}");
}

/// A radiator with half glycol, made up; the exact relation by an independent program: coolant 1.5 L/s
/// at 90 °C, air 1.8 kg/s of 1006 J/(kg K) at 30 °C, UA 1200 W/K, both unmixed: 48 779.951 W, leaving at
/// 81.1170 and 56.9383 °C.
#[test]
fn a_radiator_with_glycol() {
    let kg_s = 1.5e-3 * coolant::density_kg_m3(90.0, 50.0);
    let fluid = stream(90.0, kg_s * coolant::heat_capacity_j_per_kg_k(90.0, 50.0));
    let air = stream(30.0, 1.8 * 1006.0);
    let found = both_unmixed_w(1200.0, fluid, air);
    assert!((found / 48_779.951 - 1.0).abs() < 1e-6, "{found}");
    assert!((90.0 - found / fluid.capacity_w_per_k - 81.1170).abs() < 1e-4);
    assert!((30.0 + found / air.capacity_w_per_k - 56.9383).abs() < 1e-4);
    let exact = exchange(Arrangement::CrossBothUnmixed, 1200.0, fluid, air);
    assert!((found / exact.heat_w - 1.0).abs() < 1e-9, "{found}");
}
