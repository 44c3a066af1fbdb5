//! The keys of a stack sheet: what each may be, and what is assumed where it is not given.
//!
//! The assumed figures and their spans are common practice, no source, unless a line says otherwise.

use super::sheet::Input;
use crate::car::CarSheet;

/// A numeric key of a stack sheet.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// Its name within its section.
    pub name: &'static str,
    /// The least that can be.
    pub low: f64,
    /// The most that can be.
    pub high: f64,
    /// What it is, for errors.
    pub what: &'static str,
}

const fn key(name: &'static str, low: f64, high: f64, what: &'static str) -> Key {
    Key {
        name,
        low,
        high,
        what,
    }
}

/// Section `air`. The face speed holds at 120 km/h, for the stack without a what-if, nothing leaking.
pub const AIR: [Key; 7] = [
    key("face_width_m", 0.05, 3.0, "metres"),
    key("face_height_m", 0.05, 3.0, "metres"),
    key("face_speed_ms", 0.1, 40.0, "metres per second"),
    key("fan_face_speed_ms", 0.0, 15.0, "metres per second"),
    key("leakage", 0.0, 0.95, "a share of the air"),
    key("recirculation", 0.0, 0.9, "a share of the air"),
    key(
        "duct_resistance",
        0.0,
        100.0,
        "resistances of a radiator core",
    ),
];

/// Section `heat`: all at full load.
pub const HEAT: [Key; 6] = [
    key("coolant_kw", 0.1, 2000.0, "kilowatts"),
    key("oil_kw", 0.0, 500.0, "kilowatts"),
    key("charge_kg_s", 0.001, 10.0, "kilograms per second"),
    key("charge_rise_k", 0.0, 300.0, "kelvin"),
    key("condenser_kw", 0.0, 50.0, "kilowatts"),
    key("glycol_volume_percent", 0.0, 70.0, "percent by volume"),
];

/// Section `at`: where the stack is computed.
pub const AT: [Key; 4] = [
    key("speed_kmh", 0.0, 400.0, "kilometres per hour"),
    key("load", 0.01, 1.5, "a share of full load"),
    key("ambient_c", -60.0, 60.0, "degrees Celsius"),
    key("altitude_m", -450.0, 5000.0, "metres"),
];

/// Numeric keys of an exchanger that carry an interval.
pub const EXCHANGER: [Key; 7] = [
    key("ua_w_per_k", 0.0, 1e5, "watts per kelvin"),
    key(
        "ua_w_per_m2_k",
        0.0,
        1e6,
        "watts per kelvin and square metre of face",
    ),
    key("ua_at_face_speed_ms", 0.1, 40.0, "metres per second"),
    key("air_exponent", 0.0, 1.0, "a bare number"),
    key("resistance", 0.0, 100.0, "resistances of a radiator core"),
    key("flow_l_s", 0.001, 50.0, "litres per second"),
    key("mixing", 0.0, 1.0, "a share, 0 to 1"),
];

/// Keys of an exchanger that describe where it sits and how its fluid goes.
pub const PLACE: [&str; 11] = [
    "name",
    "kind",
    "left",
    "right",
    "bottom",
    "top",
    "flow",
    "passes",
    "first_pass",
    "tube_rows",
    "fitted",
];

/// What is assumed of air, heat and working point, by the path of the key.
pub fn assumed(car: &CarSheet) -> Vec<(&'static str, Input)> {
    let power_kw = car.max_power_kw.unwrap_or(150.0);
    let sized = car.max_power_kw.is_some();
    // Without a power in the car sheet, everything that goes with it is wider.
    let span = |value: f64, low: f64, high: f64| {
        let wider = if sized { 1.0 } else { 1.6 };
        Input::spread(
            value,
            value - wider * (value - low),
            value + wider * (high - value),
        )
    };
    vec![
        ("air.face_width_m", Input::spread(0.60, 0.50, 0.70)),
        ("air.face_height_m", Input::spread(0.42, 0.35, 0.50)),
        ("air.face_speed_ms", Input::spread(6.0, 4.0, 8.0)),
        ("air.fan_face_speed_ms", Input::spread(1.5, 0.5, 3.0)),
        ("air.leakage", Input::spread(0.10, 0.03, 0.20)),
        ("air.recirculation", Input::spread(0.02, 0.0, 0.06)),
        ("air.duct_resistance", Input::spread(2.0, 1.0, 4.0)),
        // Heywood, table 12.1 (from memory): at full power 17 to 26 % of the fuel's energy goes to the
        // coolant, 25 to 28 % to the crank. Charged engines at speed lie at the lower end or below.
        (
            "heat.coolant_kw",
            span(0.60 * power_kw, 0.45 * power_kw, 0.85 * power_kw),
        ),
        (
            "heat.oil_kw",
            span(0.07 * power_kw, 0.04 * power_kw, 0.11 * power_kw),
        ),
        // 300 g/kWh of fuel at an air-fuel ratio of 12.5.
        (
            "heat.charge_kg_s",
            span(1.04e-3 * power_kw, 0.9e-3 * power_kw, 1.2e-3 * power_kw),
        ),
        ("heat.charge_rise_k", Input::spread(90.0, 60.0, 120.0)),
        ("heat.condenser_kw", Input::spread(4.0, 2.0, 7.0)),
        (
            "heat.glycol_volume_percent",
            car.glycol_volume_percent
                .map_or(Input::spread(40.0, 20.0, 50.0), Input::exact),
        ),
        ("at.speed_kmh", Input::exact(120.0)),
        ("at.load", Input::exact(0.6)),
        ("at.ambient_c", Input::exact(25.0)),
        ("at.altitude_m", Input::exact(car.altitude_m.unwrap_or(0.0))),
    ]
}
