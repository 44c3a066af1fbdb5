//! What one session's fit says, and when it declines.

use super::*;
use crate::estimate::synthetic::{self, Truth};
use crate::session::Role;

#[test]
fn whole_degrees_keep_the_truth_inside() {
    let truth = Truth {
        resolution_c: 1.0,
        ..Truth::default()
    };
    let fit = fit_session(&synthetic::session(&truth));
    assert!(fit.assessable, "{:?}", fit.why);
    assert!(
        fit.ua_w_per_k
            .value
            .known()
            .unwrap()
            .contains(truth.g_w_per_k)
    );
    assert!(fit.ua_relative.known().unwrap().half_width() < 0.1);
    assert!(fit.heat_capacity_j_per_k.known().is_some());
    assert!(fit.limiting_ambient_c.known().is_some());
}

#[test]
fn a_regulated_session_is_declined_with_a_lower_bound_below_the_truth() {
    // A radiator so large that the thermostat never opens fully.
    let truth = Truth {
        g_w_per_k: 2500.0,
        ..Truth::default()
    };
    let fit = fit_session(&synthetic::session(&truth));
    assert!(!fit.assessable);
    assert!(fit.ua_w_per_k.value.known().is_none());
    assert!(
        fit.why.as_ref().unwrap().contains("thermostat"),
        "{:?}",
        fit.why
    );
    let bound = fit.ua_lower_bound_w_per_k.known().unwrap();
    assert!(bound.estimate < truth.g_w_per_k, "{bound:?}");
}

/// The sheet rates the thermostat 3 K too high; the log says so, or that it does not know.
#[test]
fn a_thermostat_rated_wrong_does_not_mislead() {
    let mut session = synthetic::session(&Truth::default());
    let opens_c = session.meta.car.thermostat_opens_c.unwrap();
    session.meta.car.thermostat_opens_c = Some(opens_c + 3.0);
    let full = session.meta.car.thermostat_full_open_c.as_mut().unwrap();
    *full += 3.0;
    let fit = fit_session(&session);
    assert!(fit.assessable);
    let knee = fit.thermostat_opens_c.known();
    assert!(knee.is_none_or(|knee| knee.contains(opens_c)), "{knee:?}");
    let ua = fit.ua_w_per_k.value.known().unwrap();
    assert!(ua.contains(Truth::default().g_w_per_k));
}

/// Thermostat and radiator cannot be told apart where the thermostat always ruled.
#[test]
fn a_regulated_session_does_not_claim_a_knee() {
    let fit = fit_session(&synthetic::session(&Truth {
        g_w_per_k: 2500.0,
        ..Truth::default()
    }));
    assert!(fit.thermostat_opens_c.why().unwrap().contains("both sides"));
}

/// The synthetic session with its fuel flow in another unit than it says.
fn with_fuel_times(factor: f64) -> SessionFit {
    let bare = synthetic::session(&Truth::default());
    let prepared = prepare(&bare, None);
    let fuel = prepared.grid.get(Role::FuelRate).unwrap();
    let fuel = fuel.iter().map(|v| v * factor).collect();
    fit_session(&synthetic::with(&bare, &[(Role::FuelRate, fuel)]))
}

/// Heat input that is wrong by its unit shows against the heat capacity of the car sheet.
#[test]
fn a_heat_input_in_another_unit_is_declined_or_said() {
    let tenfold = with_fuel_times(10.0);
    assert!(!tenfold.assessable);
    let why = tenfold.why.unwrap();
    assert!(why.contains("absurd figures"), "{why}");
    let threefold = with_fuel_times(3.0);
    assert!(threefold.assessable, "{:?}", threefold.why);
    let said = threefold.warnings.iter().any(|w| w.id == "scales-disagree");
    assert!(said, "{:?}", threefold.warnings);
    let right = with_fuel_times(1.0);
    assert!(!right.warnings.iter().any(|w| w.id == "scales-disagree"));
}

#[test]
fn every_reason_is_a_sentence_and_no_figure_is_made_up() {
    let short = Truth {
        minutes_hard: 3,
        ..Truth::default()
    };
    let fit = fit_session(&synthetic::session(&short));
    assert!(!fit.assessable);
    let json = serde_json::to_string(&fit).unwrap();
    assert!(
        !json.contains("NaN") && !json.contains("not computed"),
        "{json}"
    );
}

/// Coolant that has nothing to do with the drive, as from another car's log.
#[test]
fn coolant_of_another_drive_gets_no_conductance() {
    let bare = synthetic::session(&Truth::default());
    let steps = bare.grid(1.0).len;
    let swing = |i: usize| 92.0 + 14.0 * (i as f64 / 70.0).sin();
    let foreign = (0..steps).map(swing).collect();
    let fit = fit_session(&synthetic::with(&bare, &[(Role::Coolant, foreign)]));
    assert!(!fit.assessable, "{:?}", fit.ua_w_per_k);
}
