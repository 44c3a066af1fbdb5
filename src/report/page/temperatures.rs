//! The table of what other temperature channels tell: radiator outlet, oil, charge air.

use super::{below, temperature};
use crate::estimate::{Follower, SessionFit};
use crate::report::number;
use crate::report::table::{Cell, Table, cell, estimate};
use crate::stats::Estimate;

/// The table; `None` where none of these channels is logged.
pub fn temperatures(fit: &SessionFit) -> Option<Table> {
    let mut rows = Vec::new();
    if let Some(outlet) = fit.outlet.seen() {
        rows.extend([
            row("coolant, drop across the radiator", kelvin(&outlet.drop_k)),
            row(
                "coolant going back to the engine",
                celsius(&outlet.return_c),
            ),
            row(
                &effectiveness_label(fit),
                plain(&outlet.effectiveness.value, 3),
            ),
            row(
                "the same over its own value; to hold against that of the conductance above",
                plain(&outlet.effectiveness_relative, 3),
            ),
            row("its exponent on speed", plain(&outlet.speed_exponent, 2)),
            row(
                "its exponent on engine speed",
                plain(&outlet.rpm_exponent, 2),
            ),
        ]);
    }
    if let Some(oil) = fit.oil.seen() {
        rows.extend(follower("oil", oil));
    }
    if let Some(charge) = fit.charge_air.seen() {
        if let Some(before) = charge.before.seen() {
            rows.extend(follower("charge air before its cooler", before));
        }
        if let Some(after) = charge.after.seen() {
            rows.extend(follower("charge air after its cooler", after));
        }
        rows.push(row(
            "effectiveness of the charge-air cooler",
            plain(&charge.effectiveness, 2),
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

fn effectiveness_label(fit: &SessionFit) -> String {
    let Some(outlet) = fit.outlet.seen() else {
        return String::new();
    };
    let at = &outlet.effectiveness;
    let rpm = at.at_rpm.map_or_else(
        || "the engine speeds driven".to_owned(),
        |rpm| format!("{}\u{a0}1/min", number::fixed(rpm, 0)),
    );
    format!(
        "radiator effectiveness, coolant side, at {}\u{a0}km/h and {rpm}",
        number::fixed(at.at_speed_kmh, 0)
    )
}

fn follower(what: &str, told: &Follower) -> [Vec<Cell>; 3] {
    [
        row(
            &format!("{what}, settled at the mean load"),
            celsius(&told.settled_c),
        ),
        row(
            &format!("{what}, over ambient per kW of heat into the coolant"),
            estimate(&told.excess_k_per_kw, "K", |v| number::fixed(v, 2)),
        ),
        row(
            &format!("{what}, time constant"),
            estimate(&told.tau_s, "s", |v| number::fixed(v, 0)),
        ),
    ]
}

fn row(label: &str, value: Cell) -> Vec<Cell> {
    vec![cell(label), value]
}

fn kelvin(value: &Estimate) -> Cell {
    estimate(value, "K", temperature)
}

fn celsius(value: &Estimate) -> Cell {
    estimate(value, "°C", temperature)
}

fn plain(value: &Estimate, decimals: usize) -> Cell {
    estimate(value, "", |v| number::fixed(v, decimals))
}
