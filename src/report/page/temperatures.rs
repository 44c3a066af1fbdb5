//! The table of what other temperature channels tell: radiator outlet, oil, charge air.

use super::{below, differences_in, temperatures_in};
use crate::estimate::{Follower, SessionFit};
use crate::quantity::{Measure, Units};
use crate::report::number;
use crate::report::table::{Cell, Table, cell, estimate};
use crate::stats::Estimate;

/// The table; `None` where none of these channels is logged.
pub fn temperatures(fit: &SessionFit, units: Units) -> Option<Table> {
    let mut rows = Vec::new();
    if let Some(outlet) = fit.outlet.seen() {
        rows.extend([
            row(
                "coolant, drop across the radiator",
                kelvin(units, &outlet.drop_k),
            ),
            row(
                "coolant going back to the engine",
                celsius(units, &outlet.return_c),
            ),
            row(
                &effectiveness_label(fit, units),
                plain(units, &outlet.effectiveness.value, 3),
            ),
            row(
                "the same over its own value; to hold against that of the conductance above",
                plain(units, &outlet.effectiveness_relative, 3),
            ),
            row(
                "its exponent on speed",
                plain(units, &outlet.speed_exponent, 2),
            ),
            row(
                "its exponent on engine speed",
                plain(units, &outlet.rpm_exponent, 2),
            ),
        ]);
    }
    if let Some(oil) = fit.oil.seen() {
        rows.extend(follower(units, "oil", oil));
    }
    if let Some(charge) = fit.charge_air.seen() {
        if let Some(before) = charge.before.seen() {
            rows.extend(follower(units, "charge air before its cooler", before));
        }
        if let Some(after) = charge.after.seen() {
            rows.extend(follower(units, "charge air after its cooler", after));
        }
        rows.push(row(
            "effectiveness of the charge-air cooler",
            plain(units, &charge.effectiveness, 2),
        ));
    }
    if rows.is_empty() {
        return None;
    }
    let mut table = Table::new(
        format!("Radiator outlet, oil, charge air, as logged; {}", below()),
        &["Constant", "#Value"],
    );
    for cells in rows {
        table.row(cells);
    }
    Some(table)
}

fn effectiveness_label(fit: &SessionFit, units: Units) -> String {
    let Some(outlet) = fit.outlet.seen() else {
        return String::new();
    };
    let at = &outlet.effectiveness;
    let rpm = at.at_rpm.map_or_else(
        || "the engine speeds driven".to_owned(),
        |rpm| format!("{}\u{a0}1/min", number::fixed(rpm, 0)),
    );
    format!(
        "radiator effectiveness, coolant side, at {} and {rpm}",
        number::told(units, Measure::Speed, at.at_speed_kmh, 0)
    )
}

fn follower(units: Units, what: &str, told: &Follower) -> [Vec<Cell>; 3] {
    // Degrees for each unit of power.
    let per_power = 1.0 / units.of(Measure::Power, 1.0);
    let decimals = match units {
        Units::Metric => 2,
        Units::Us => 4,
    };
    [
        row(
            &format!("{what}, settled at the mean load"),
            celsius(units, &told.settled_c),
        ),
        row(
            &format!(
                "{what}, over ambient per {} of heat into the coolant",
                units.symbol(Measure::Power)
            ),
            estimate(
                units,
                &told.excess_k_per_kw,
                units.symbol(Measure::Difference),
                |v| number::fixed(units.of(Measure::Difference, v) * per_power, decimals),
            ),
        ),
        row(
            &format!("{what}, time constant"),
            estimate(units, &told.tau_s, "s", |v| number::fixed(v, 0)),
        ),
    ]
}

fn row(label: &str, value: Cell) -> Vec<Cell> {
    vec![cell(label), value]
}

fn kelvin(units: Units, value: &Estimate) -> Cell {
    let unit = units.symbol(Measure::Difference);
    estimate(units, value, unit, differences_in(units))
}

fn celsius(units: Units, value: &Estimate) -> Cell {
    let unit = units.symbol(Measure::Temperature);
    estimate(units, value, unit, temperatures_in(units))
}

fn plain(units: Units, value: &Estimate, decimals: usize) -> Cell {
    estimate(units, value, "", |v| number::fixed(v, decimals))
}
