//! `thermal::exchanger` against textbooks and against a grid by two independent programs.

use super::{columns, near};
use heatbook::thermal::coolant;
use heatbook::thermal::exchanger::Arrangement::{self, CrossBothUnmixed, CrossLargerMixed};
use heatbook::thermal::exchanger::{Stream, exchange, ua_w_per_k};

fn stream(in_c: f64, capacity_w_per_k: f64) -> Stream {
    Stream {
        in_c,
        capacity_w_per_k,
    }
}

/// Effectiveness at six numbers of transfer units and four capacity ratios, by the package ht 1.2.0
/// (for both unmixed its integral after Triboix 2009; Mason's series agrees to 1e-15 and finite
/// volumes to 2e-6), rounded to ten places.
#[test]
fn effectiveness_and_its_inverse_over_a_grid() {
    let grid = "exchanger_grid.csv";
    let [ntu, ratio] = columns(grid, ["ntu", "capacity_ratio"]);
    assert_eq!(ntu.len(), 24);
    for (arrangement, name) in [
        (Arrangement::Counterflow, "counterflow"),
        (Arrangement::Parallel, "parallel"),
        (Arrangement::CrossBothUnmixed, "cross_both_unmixed"),
        (Arrangement::CrossLargerMixed, "cross_larger_mixed"),
        (Arrangement::CrossSmallerMixed, "cross_smaller_mixed"),
    ] {
        let [published] = columns(grid, [name]);
        for i in 0..ntu.len() {
            let found = arrangement.effectiveness(ntu[i], ratio[i]);
            assert!(
                (found - published[i]).abs() < 1e-8,
                "{name} {} {}: {found}, not {}",
                ntu[i],
                ratio[i],
                published[i]
            );
            // The tenth place of an effectiveness near its ceiling leaves the inverse this much.
            let slope = (arrangement.effectiveness(ntu[i] + 1e-4, ratio[i])
                - arrangement.effectiveness(ntu[i] - 1e-4, ratio[i]))
                / 2e-4;
            let back = arrangement.ntu(published[i], ratio[i]).unwrap();
            assert!(
                (back - ntu[i]).abs() < 1e-10 / slope + 1e-8,
                "{name}: {back}"
            );
        }
    }
}

/// Kays & London, Compact Heat Exchangers, table for cross-flow, both unmixed (from memory).
#[test]
fn both_unmixed_agrees_with_the_printed_table() {
    for (ntu, ratio, printed) in [
        (1.0, 1.0, 0.476),
        (2.0, 1.0, 0.614),
        (1.0, 0.5, 0.547),
        (2.0, 0.5, 0.732),
    ] {
        let found = CrossBothUnmixed.effectiveness(ntu, ratio);
        assert!((found - printed).abs() < 0.003, "{found}, not {printed}");
    }
}

/// Cengel & Ghajar, Heat and Mass Transfer, example 11-6, test of a car's radiator: 40 tubes of
/// 5 mm by 0.65 m, water 0.6 kg/s (4195 J/(kg K)) from 90 to 65 °C, air from 20 to 40 °C. Printed:
/// 62.93 kW, and 3347 W/(m² K) of the inner surface by a chart of the correction factor; the
/// exact UA is 1366.4716 W/K (finite volumes agree).
#[test]
fn radiator_test_of_a_textbook() {
    let water = stream(90.0, 0.6 * 4195.0);
    let heat_w = water.capacity_w_per_k * (90.0 - 65.0);
    let air = stream(20.0, heat_w / (40.0 - 20.0));
    near(heat_w, 62_930.0, 1e-3);
    let ua = ua_w_per_k(CrossBothUnmixed, heat_w, water, air).unwrap();
    near(ua, 1366.4716, 1e-7);
    let surface_m2 = 40.0 * std::f64::consts::PI * 0.005 * 0.65;
    near(ua / surface_m2, 3347.0, 1e-3);
    let back = exchange(CrossBothUnmixed, ua, water, air);
    near(back.heat_w, heat_w, 1e-9);
    near(back.hot_out_c, 65.0, 1e-9);
    near(back.cold_out_c, 40.0, 1e-9);
}

/// Holman, Heat Transfer, 10th edition, example 10-9: oil 0.725 kg/s (1900 J/(kg K)) at 15 °C,
/// steam 5.2 kg/s (1860) at 130 °C, mixed; U 275 W/(m² K), 10.82 m². Results to these digits by
/// the documentation of the package ht 1.2.0.
#[test]
fn oil_heated_by_steam() {
    let steam = stream(130.0, 5.2 * 1860.0);
    let oil = stream(15.0, 0.725 * 1900.0);
    let found = exchange(CrossLargerMixed, 275.0 * 10.82, steam, oil);
    near(found.effectiveness, 0.831_218_036, 1e-8);
    near(found.heat_w, 131_675.327, 1e-8);
    near(found.cold_out_c, 110.590_074, 1e-8);
    near(found.hot_out_c, 116.385_926, 1e-8);
    let ua = ua_w_per_k(CrossLargerMixed, found.heat_w, steam, oil).unwrap();
    near(ua, 275.0 * 10.82, 1e-9);
}

/// An invented radiator computed with CoolProp and ht: 1.5 L/s of glycol (50 % by volume) at
/// 90 °C, air 1.8 kg/s at 30 °C, UA 1200 W/K; and the same with this project's coolant.
#[test]
fn radiator_with_glycol() {
    let air = stream(30.0, 1.8 * 1006.0);
    let glycol = stream(90.0, 1.5e-3 * 1030.952 * 3550.991);
    let found = exchange(CrossBothUnmixed, 1200.0, glycol, air);
    near(found.effectiveness, 0.448_972_38, 1e-6);
    near(found.heat_w, 48_779.951, 1e-6);
    near(found.hot_out_c, 81.1170, 1e-6);
    near(found.cold_out_c, 56.9383, 1e-6);
    let density = coolant::density_kg_m3(90.0, 50.0);
    let capacity = coolant::heat_capacity_j_per_kg_k(90.0, 50.0);
    let ours = exchange(
        CrossBothUnmixed,
        1200.0,
        stream(90.0, 1.5e-3 * density * capacity),
        air,
    );
    near(ours.heat_w, 48_779.951, 1e-5);
}
