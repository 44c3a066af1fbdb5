//! The unit that a column is taken to be in: what the file says, unless its values speak against it.

use super::clean::possible;
use super::options::map_flag;
use super::table::Table;
use super::unit_values::{
    Context, Judged, LEAST_WARM_C, MOST_COOLANT_C, WARM_UP_S, against_fahrenheit, judge, of_sorted,
};
use super::words::{fold, has_any};
use super::written::Written;
use crate::quantity::{Quantity, Unit};
use crate::session::{Role, UnitFrom};
use crate::warning::Warning;

/// Id of the warning that the values did not decide the unit.
pub(super) const ASSUMED: &str = "unit-assumed";

/// Id of the warning that the values speak against a label.
pub(super) const LABEL_DOUBTED: &str = "unit-label-doubted";

/// Id of the warning that the values decided the unit.
const JUDGED: &str = "unit-judged";

/// What a sensor or a bus sends before it is brought to a unit.
const RAW: &str = "=raw|=roh|=adc|=counts|=digits|=brut|=bruto|=grezzo";

/// The unit of a column, where it was read, and what the reader must know of that.
pub(super) fn unit_of(
    table: &Table,
    written: &Written,
    context: Context,
) -> (Unit, UnitFrom, Option<Warning>) {
    let role = written.role;
    let name = role.name();
    let column = &table.columns[written.choice.column].name;
    let Some((unit, from)) = written.choice.unit else {
        let mut judged = judge(role, &written.sorted, context);
        if has_any(&fold(column), RAW) {
            judged.sure = false;
            judged.evidence = format!("its name speaks of raw figures; {}", judged.evidence);
        }
        let warning = (told(role) || !judged.sure).then(|| judged_warning(role, column, &judged));
        return (judged.unit, UnitFrom::Values, warning);
    };
    if role.quantity() == Quantity::Temperature && from != UnitFrom::User {
        if let Some((before, after)) = unit_switch(&written.values) {
            let message = format!(
                "{name}: column `{column}` jumps from {before} to {after}, which is the same in °C and °F: all of it was read in {}, and what cannot be then was dropped; cut the file there and import the parts",
                unit.symbol()
            );
            return (unit, from, Some(Warning::caution("unit-switches", message)));
        }
        let judged = judge(role, &written.sorted, context);
        if judged.sure && label_is_wrong(role, &written.sorted, unit, judged.unit) {
            let message = format!(
                "{name}: column `{column}` says {}, but {}; taken as {}; to insist: {}",
                unit.symbol(),
                judged.evidence,
                judged.unit.symbol(),
                map_flag(name, &format!("{column}:{}", unit.symbol()))
            );
            let warning = Warning::caution("unit-label-contradicted", message);
            return (judged.unit, UnitFrom::Values, Some(warning));
        }
        let doubt = label_doubt(role, &written.sorted, unit, context).map(|why| {
            let message = format!(
                "{name}: column `{column}` says °F, but {why}; if it is °C: {}",
                map_flag(name, &format!("{column}:°C"))
            );
            Warning::caution(LABEL_DOUBTED, message)
        });
        return (unit, from, doubt);
    }
    (unit, from, None)
}

/// What speaks against a label of °F whose values can be: those of a coolant that °C would suit
/// and that never gets warm in °F, or of air outside that no car draws in.
fn label_doubt(role: Role, sorted: &[f64], unit: Unit, context: Context) -> Option<String> {
    if unit != Unit::Fahrenheit {
        return None;
    }
    let [low, middle, high] = [0.002, 0.5, 0.998].map(|share| of_sorted(sorted, share));
    match role {
        Role::Coolant => {
            let high_c = unit.to_inside(high);
            let cold = high_c < LEAST_WARM_C && (LEAST_WARM_C..=MOST_COOLANT_C).contains(&high);
            (cold && context.duration_s >= WARM_UP_S).then(|| {
                format!(
                    "{high:.0} °F is {high_c:.0} °C, and an engine that is driven gets warmer in {:.0} min",
                    context.duration_s / 60.0
                )
            })
        }
        Role::Ambient if context.coolant_label_doubted => Some(format!(
            "the same label of the coolant is doubted, and {middle:.0} °F is {:.0} °C",
            unit.to_inside(middle)
        )),
        Role::Ambient if context.intake_at_speed_c.is_some() || context.celsius_elsewhere => {
            against_fahrenheit(role, low, middle, context)
        }
        _ => None,
    }
}

/// Whether the label of the coolant is one of °F that its values speak against.
pub(super) fn coolant_label_doubted(coolant: &Written, context: Context) -> bool {
    let labelled = |(unit, from): (Unit, UnitFrom)| (from != UnitFrom::User).then_some(unit);
    let unit = coolant.choice.unit.and_then(labelled);
    unit.is_some_and(|unit| label_doubt(Role::Coolant, &coolant.sorted, unit, context).is_some())
}

/// What a sensor without signal reads on a diagnostic bus, °C: raw 0 and raw 255 (SAE J1979).
const NO_SIGNAL_C: [f64; 2] = [-40.0, 215.0];

/// Whether a label is wrong rather than its sensor: most values cannot be in the labelled unit,
/// and nearly all of them can in the other. A sensor that is faulty for a while, or one that
/// overheats, is not read in another unit.
fn label_is_wrong(role: Role, sorted: &[f64], labelled: Unit, judged: Unit) -> bool {
    let readings = || sorted.iter().filter(|v| !NO_SIGNAL_C.contains(v));
    let possible_in = |unit: Unit| {
        readings()
            .filter(|v| possible(role, unit.to_inside(**v)))
            .count()
    };
    let count = readings().count();
    judged != labelled
        && !is_stuck_fault(role, sorted, labelled)
        && 2 * possible_in(labelled) < count
        && 100 * possible_in(judged) >= 98 * count
}

/// The readings between which a column goes over from °C to °F or back, if it does.
fn unit_switch(values: &[f64]) -> Option<(f64, f64)> {
    /// Readings of one moment, K ...
    const SAME_K: f64 = 3.0 / 1.8;
    /// ... and what no sensor steps by.
    const LEAST_STEP: f64 = 30.0;
    let present = || values.iter().copied().filter(|v| !v.is_nan());
    let is_switch = |(a, b): &(f64, f64)| {
        let same = |c: f64, f: f64| (Unit::Fahrenheit.to_inside(f) - c).abs() < SAME_K;
        (a - b).abs() > LEAST_STEP && (same(*a, *b) || same(*b, *a))
    };
    let mut switches = present().zip(present().skip(1)).filter(is_switch);
    let first = switches.next()?;
    // A fault comes and goes.
    switches.next().is_none().then_some(first)
}

/// Whether what cannot be in the labelled unit is, but for a few, one value beside a good share of
/// readings that can: a sensor that failed during the session.
fn is_stuck_fault(role: Role, sorted: &[f64], labelled: Unit) -> bool {
    let faults = || (sorted.iter()).filter(|v| !possible(role, labelled.to_inside(**v)));
    let count = faults().count();
    let middle = faults().nth(count / 2);
    let alike = faults().filter(|v| Some(*v) == middle).count();
    10 * (sorted.len() - count) >= sorted.len() && 10 * alike >= 9 * count
}

/// Channels whose unit is worth a word: a wrong one would change the answer.
fn told(role: Role) -> bool {
    matches!(
        role.quantity(),
        Quantity::Temperature | Quantity::Speed | Quantity::Pressure
    )
}

fn judged_warning(role: Role, column: &str, judged: &Judged) -> Warning {
    let (name, symbol) = (role.name(), judged.unit.symbol());
    let evidence = &judged.evidence;
    let message = format!("{name}: column `{column}` names no unit; {evidence}: read in {symbol}");
    let flag = map_flag(name, &format!("{column}:UNIT"));
    let or = format!("{message}; if not, give {flag}");
    match (judged.sure, role) {
        // Every answer leans on the air outside: a wrong unit of it is never a detail.
        (true, Role::Ambient) => Warning::caution(JUDGED, or),
        (true, _) => Warning::note(JUDGED, message),
        (false, _) => Warning::caution(ASSUMED, or),
    }
}
