//! How much air goes through each cell of the face.
//!
//! `v = sqrt((v_ref V / 120)² + v_fan²) (1 - leakage)`: v speed in front of the cores as a mean over
//! the face, V road speed, km/h; v_ref the same at 120 km/h with nothing leaking. Through one cell
//! `v_c = v p_c / sqrt(R_duct + Σ R_e)`, scaled so that the stack without a what-if has the mean v: one
//! pressure drives all cells, p the given profile, R resistances of duct and of the exchangers that
//! cover the cell, all as multiples of a radiator core's (pressure loss over dynamic pressure, taken as
//! constant). So a larger cooler in front costs what stands behind it some air, and a what-if that
//! opens a path gains some. Mass flow is `ρ v A`, ρ at ambient; heat capacity of air 1006 J/(kg K).
//! Air that leaks goes past the cores; recirculated air comes back in front of them, mixed.

use super::core::Face;
use super::grid::Axis;
use super::sheet::{Exchanger, Sheet};
use crate::thermal::air::{STANDARD_DENSITY_KG_M3, density_kg_m3, pressure_kpa};

/// Heat capacity of air, J/(kg K) (dry, 20 to 30 °C).
pub const AIR_J_PER_KG_K: f64 = 1006.0;

/// Road speed at which the face speed is stated, km/h.
pub const FACE_SPEED_AT_KMH: f64 = 120.0;

/// The face of `sheet` at its working point. `base` is the stack without a what-if.
pub fn face(sheet: &Sheet, base: &Sheet, cells: usize) -> Face {
    let columns = Axis::through(edges(sheet, base, true), cells);
    let rows = Axis::through(edges(sheet, base, false), cells);
    let driven = sheet.value("air.face_speed_ms") * sheet.value("at.speed_kmh") / FACE_SPEED_AT_KMH;
    let speed_ms =
        driven.hypot(sheet.value("air.fan_face_speed_ms")) * (1.0 - sheet.value("air.leakage"));
    let pressure = pressure_kpa(sheet.value("at.altitude_m"));
    let density = density_kg_m3(sheet.value("at.ambient_c"), pressure);
    let (own, usual) = (
        relative(sheet, &columns, &rows),
        relative(base, &columns, &rows),
    );
    let area = |i: usize| columns.width(i % columns.count()) * rows.width(i / columns.count());
    let mean: f64 = usual.iter().enumerate().map(|(i, v)| v * area(i)).sum();
    let face_m2 = sheet.value("air.face_width_m") * sheet.value("air.face_height_m");
    let per_share = density * speed_ms * face_m2 * AIR_J_PER_KG_K / mean;
    let air_w_per_k = own
        .iter()
        .enumerate()
        .map(|(i, v)| per_share * v * area(i))
        .collect();
    Face {
        columns,
        rows,
        air_w_per_k,
    }
}

/// Conductance of an exchanger in each cell of the face, W/K: `UA (A_c / A) (G_c / G_ref)^n`, G mass
/// flow of air for each square metre, n the exponent of the air's side.
pub fn ua_w_per_k(sheet: &Sheet, exchanger: &Exchanger, face: &Face) -> Vec<f64> {
    let face_m2 = sheet.value("air.face_width_m") * sheet.value("air.face_height_m");
    let whole = match sheet.of(exchanger, "ua_w_per_k") {
        given if given.is_finite() => given,
        _ => sheet.of(exchanger, "ua_w_per_m2_k") * face_m2 * exchanger.cover.share(),
    };
    let reference = sheet.of(exchanger, "ua_at_face_speed_ms")
        * STANDARD_DENSITY_KG_M3
        * AIR_J_PER_KG_K
        * face_m2;
    let exponent = sheet.of(exchanger, "air_exponent");
    let width = face.columns.count();
    let of_cell = |(i, air): (usize, &f64)| {
        let area = face.columns.width(i % width) * face.rows.width(i / width);
        whole * area / exchanger.cover.share() * (air / area / reference).powf(exponent)
    };
    face.air_w_per_k.iter().enumerate().map(of_cell).collect()
}

/// Relative speed in each cell: profile over the root of the resistance.
fn relative(sheet: &Sheet, columns: &Axis, rows: &Axis) -> Vec<f64> {
    let duct = sheet.value("air.duct_resistance");
    let cell = |row: usize, column: usize| {
        let (x, y) = (columns.middle(column), rows.middle(row));
        let cores: f64 = sheet
            .fitted()
            .filter(|e| covers(e, x, y))
            .map(|e| sheet.of(e, "resistance"))
            .sum();
        // A path without any resistance would take all the air; a hundredth is a bare frame.
        profile(sheet, x, y) / (duct + cores).max(0.01).sqrt()
    };
    (0..rows.count())
        .flat_map(|r| (0..columns.count()).map(move |c| (r, c)))
        .map(|(r, c)| cell(r, c))
        .collect()
}

fn covers(exchanger: &Exchanger, x: f64, y: f64) -> bool {
    let cover = &exchanger.cover;
    (cover.left..cover.right).contains(&x) && (1.0 - cover.top..1.0 - cover.bottom).contains(&y)
}

fn profile(sheet: &Sheet, x: f64, y: f64) -> f64 {
    let pick = |share: f64, n: usize| ((share * n as f64) as usize).min(n - 1);
    match sheet.profile.len() {
        0 => 1.0,
        n => {
            let row = &sheet.profile[pick(y, n)];
            row[pick(x, row.len())]
        }
    }
}

/// Where lines of the grid must run, across the columns or the rows.
fn edges(sheet: &Sheet, base: &Sheet, across_columns: bool) -> Vec<f64> {
    let mut edges = Vec::new();
    for exchanger in sheet.fitted().chain(base.fitted()) {
        let cover = &exchanger.cover;
        if cover.share() == 0.0 {
            continue;
        }
        if across_columns {
            edges.extend([cover.left, cover.right]);
        } else {
            edges.extend([1.0 - cover.top, 1.0 - cover.bottom]);
        }
        if exchanger.flow.is_level() != across_columns {
            edges.extend(
                exchanger
                    .pass_edges()
                    .iter()
                    .flat_map(|(from, to)| [*from, *to]),
            );
        }
    }
    for profile in [&sheet.profile, &base.profile] {
        let pieces = if across_columns {
            profile.first().map_or(0, Vec::len)
        } else {
            profile.len()
        };
        edges.extend((1..pieces).map(|i| i as f64 / pieces as f64));
    }
    edges
}
