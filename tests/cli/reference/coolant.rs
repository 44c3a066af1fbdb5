//! `thermal::coolant` against the whole of its tables.

use super::{columns, near};
use heatbook::thermal::coolant::{density_kg_m3, heat_capacity_j_per_kg_k};

/// ASHRAE Handbook Fundamentals 2001, inhibited ethylene glycol by volume, every 5 K from 20 to
/// 100 °C: the project keeps some of the entries and draws straight lines between them.
#[test]
fn glycol_agrees_with_every_entry_of_its_table() {
    let [temp_c] = columns("glycol_by_volume.csv", ["temp_c"]);
    assert_eq!(temp_c.len(), 17);
    for percent in [10, 20, 30, 40, 50, 60] {
        let names = ["density", "heat_capacity"].map(|of| format!("{of}_{percent}"));
        let [density, capacity] = columns(
            "glycol_by_volume.csv",
            [names[0].as_str(), names[1].as_str()],
        );
        for (i, &t) in temp_c.iter().enumerate() {
            near(density_kg_m3(t, f64::from(percent)), density[i], 1e-3);
            near(
                heat_capacity_j_per_kg_k(t, f64::from(percent)),
                capacity[i],
                1e-3,
            );
        }
    }
}

/// Between tables: ethylene glycol without inhibitors, 52.4 % by mass, which is 50 % by volume
/// (Melinder 1997, Thermophysical Properties of Liquid Secondary Refrigerants, through CoolProp):
/// °C, kg/m³, J/(kg K).
#[test]
fn two_published_tables_agree_to_one_and_a_half_percent() {
    for (t, density, capacity) in [
        (20.0, 1067.92, 3261.8),
        (40.0, 1056.21, 3367.5),
        (60.0, 1043.08, 3462.0),
        (80.0, 1028.89, 3543.3),
        (90.0, 1021.51, 3578.3),
        (100.0, 1013.99, 3609.3),
    ] {
        near(density_kg_m3(t, 50.0), density, 0.015);
        near(heat_capacity_j_per_kg_k(t, 50.0), capacity, 0.015);
    }
}

/// Water at 3 bar (IAPWS-95), °C, kg/m³, J/(kg K); 110 °C lies beyond the project's table.
#[test]
fn water_agrees_with_iapws_95() {
    for (t, density, capacity) in [
        (20.0, 998.30, 4183.4),
        (40.0, 992.30, 4178.9),
        (60.0, 983.28, 4184.5),
        (80.0, 971.88, 4196.3),
        (90.0, 965.40, 4204.8),
        (100.0, 958.44, 4215.2),
        (110.0, 951.02, 4228.0),
    ] {
        near(density_kg_m3(t, 0.0), density, 1e-3);
        near(heat_capacity_j_per_kg_k(t, 0.0), capacity, 1e-3);
    }
}
