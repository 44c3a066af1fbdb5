//! What a season says, in words: the one place that words drift.

use super::{CarSeason, Drift, FEWEST_DAYS, Form};
use crate::quantity::{Measure, Units};
use crate::stats::Interval;
use crate::words::{count, fixed, signed};

/// The answer for one car.
pub fn sentences(season: &CarSeason, units: Units) -> String {
    let car = season.car.as_deref().unwrap_or("The car");
    let drift = &season.drift;
    let over = format!(
        "{} on {}",
        count(drift.sessions, "session"),
        count(drift.days, "day")
    );
    let Some(ratio) = drift.conductance_ratio.known() else {
        let why = drift.why.as_deref().unwrap_or("there is no interval");
        return format!(
            "{car}: cannot tell whether its cooling drifts ({over}: {}).",
            units.prose(why)
        );
    };
    match (drift.shown, drift.form) {
        (Some(true), Some(form)) => {
            shown(car, drift, form, ratio, &over, (season.at_ambient_c, units))
        }
        _ if drift.days < FEWEST_DAYS => format!(
            "{car}: cannot tell yet whether its cooling drifts. None shows in {over}, but so few days hardly tell drift from the weather of a day. From the first session to the last the conductance changed by {}. {}",
            percent(ratio),
            unseen(ratio)
        ),
        _ => format!(
            "{car}: no drift shown in {over}. From the first to the last the conductance changed by {}. {}",
            percent(ratio),
            unseen(ratio)
        ),
    }
}

/// How drift was looked for, and how likely chance alone would give what was found. `None`: it could not be.
pub fn how_tested(season: &CarSeason) -> Option<String> {
    let method = &season.drift.conductance_ratio.known()?.method;
    let p = season.drift.p?;
    let p = if p < 0.001 {
        "below 0.001".to_owned()
    } else {
        fixed(p, 3)
    };
    Some(format!(
        "The interval: {method}. Of a steady drift and of steps the likelier has p {p}, corrected for all that were tried."
    ))
}

fn shown(
    car: &str,
    drift: &Drift,
    form: Form,
    ratio: &Interval,
    over: &str,
    (ambient_c, units): (Option<f64>, Units),
) -> String {
    let way = if ratio.estimate < 1.0 {
        "falls"
    } else {
        "rises"
    };
    let how = match (form, &drift.between) {
        (Form::Step, Some([last, first])) => {
            format!("at once between {last} and {first}, by {}", percent(ratio))
        }
        _ => format!("steadily, by {} from the first to the last", percent(ratio)),
    };
    let coolant = match (drift.coolant_change_k.known(), ambient_c) {
        (Some(k), Some(ambient_c)) => format!(
            " Over the same drive at {:.0} {} that is {} {} of coolant ({} to {}).",
            units.of(Measure::Temperature, ambient_c),
            units.symbol(Measure::Temperature),
            signed(units.of(Measure::Difference, k.estimate), 1),
            units.symbol(Measure::Difference),
            signed(units.of(Measure::Difference, k.low), 1),
            signed(units.of(Measure::Difference, k.high), 1)
        ),
        _ => String::new(),
    };
    let look = if ratio.estimate < 1.0 {
        "dirt in the core, bent fins, a slipping belt, a worn pump, air in the coolant and a sensor that ages look alike"
    } else {
        "a cleaned core, new coolant and a sensor that ages look alike, and so does a part that no setup tells"
    };
    format!("{car}: the conductance {way}, in {over}: {how}.{coolant} It does not say why: {look}.")
}

/// The largest loss that these sessions leave possible.
fn unseen(ratio: &Interval) -> String {
    let loss = 100.0 * (1.0 - ratio.low);
    if loss > 0.0 {
        format!("A loss of up to {loss:.0} % would fit these sessions too.")
    } else {
        "A loss does not fit these sessions.".to_owned()
    }
}

fn percent(ratio: &Interval) -> String {
    let of = |value: f64| signed(100.0 * (value - 1.0), 1);
    format!(
        "{} % ({:.0} % interval {} to {} %)",
        of(ratio.estimate),
        100.0 * ratio.level,
        of(ratio.low),
        of(ratio.high)
    )
}
