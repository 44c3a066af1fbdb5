//! The state's derivative against finite differences, invariances, and records drawn from it.

use nalgebra::{SMatrix, SVector};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use super::car::Car;
use super::*;
use crate::estimate::joint::fit_jointly;
use crate::estimate::prepare::Prepared;
use crate::estimate::self_check::{Plan, self_check};
use crate::estimate::state_fit::{Search, fit_state};
use crate::estimate::synthetic::{self, Truth};
use crate::quantity::kelvin;
use crate::session::Role;
use crate::stats::kalman::{Belief, Reading};
use crate::thermal::wall;

fn whole_degrees() -> Prepared {
    synthetic::prepared(&Truth {
        resolution_c: 1.0,
        ..Truth::default()
    })
}

fn record(session: &Prepared) -> (Record, f64) {
    let joint = fit_jointly(&[session]).unwrap();
    let log_g = joint.sessions[0].log_g;
    (Record::new(session, &joint).unwrap(), log_g)
}

/// Columns of the derivative by central differences. The step holds the conductance and takes the
/// excess at its start, so the column of the wander is right to the second order in the step only:
/// a tenth of its largest entry.
#[test]
fn the_derivative_of_a_step_agrees_with_finite_differences() {
    let (record, log_g) = record(&whole_degrees());
    let car = Car::new(&record, &record.start(log_g));
    let at = record.steps().iter().find(|at| at.open).unwrap();
    let state = SVector::<f64, STATES>::from([104.0, 96.0, 95.0, 90.0, 0.08, 12.0]);
    let told = car.derivative_of(&state, at);
    for j in 0..STATES {
        let h = if j == WANDER { 1e-5 } else { 1e-3 };
        let (mut up, mut down) = (state, state);
        up[j] += h;
        down[j] -= h;
        let column = (car.carry(&up, at) - car.carry(&down, at)) / (2.0 * h);
        let tolerance = if j == WANDER {
            0.1 * column.amax()
        } else {
            1e-8
        };
        let apart = (told.column(j) - column).amax();
        assert!(
            apart < tolerance,
            "column {j}: {apart} of {}",
            column.amax()
        );
    }
}

/// Without noise in the wander the filter's mean follows the state itself.
#[test]
fn a_belief_without_doubt_goes_where_the_state_goes() {
    let (record, log_g) = record(&whole_degrees());
    let mut parameters = record.start(log_g);
    parameters[Parameter::Wander as usize] = -20.0;
    let car = Car::new(&record, &parameters);
    let at = record.steps().iter().find(|at| at.open).unwrap();
    let state = SVector::<f64, STATES>::from([104.0, 96.0, 95.0, 90.0, 0.0, 0.0]);
    let mut belief = Belief {
        mean: state,
        covariance: SMatrix::zeros(),
    };
    car.step(&mut belief, at);
    assert!((belief.mean - car.carry(&state, at)).amax() < 1e-12);
}

/// All temperatures `shift_k` higher at the same density of the air, heat and heat capacities `scale` times as large.
fn moved(mut session: Prepared, shift_k: f64, scale: f64) -> Prepared {
    let air_c = session.mean_in_stints(session.ambient_c.as_deref().unwrap());
    session.pressure_kpa *= kelvin(air_c + shift_k) / kelvin(air_c);
    for values in [Some(&mut session.coolant_c), session.ambient_c.as_mut()]
        .into_iter()
        .flatten()
    {
        for v in values.iter_mut() {
            *v += shift_k;
        }
    }
    let raw = session.grid.channels.get_mut(&Role::Coolant).unwrap();
    raw.iter_mut().for_each(|v| *v += shift_k);
    session.thermostat.opens_c += shift_k;
    session.thermostat.full_open_c += shift_k;
    for watts in session.heat.iter_mut().flat_map(|h| &mut h.watts) {
        *watts *= scale;
    }
    session.coolant_j_per_k *= scale;
    session.capacity_j_per_k *= scale;
    session
}

/// But for what hot walls take less, only differences of temperature count; heat and heat capacity may be in any unit, and the
/// conductance is in the same (relative conductance and heat law held).
#[test]
fn a_shift_of_all_temperatures_and_a_scale_of_all_heat_do_what_they_must() {
    let session = whole_degrees();
    let fit = |session: &Prepared| {
        let joint = fit_jointly(&[session]).unwrap();
        fit_state(session, &joint, 0).unwrap()
    };
    let plain = fit(&session);
    let shifted = fit(&moved(session.clone(), 7.0, 1.0));
    let hot = session.mean_in_stints(&session.coolant_c);
    let walls = (wall::heat_share(hot + 7.0) / wall::heat_share(hot)).ln();
    assert!((shifted.log_g - plain.log_g - walls).abs() < 0.02 * plain.sd);
    assert!((plain.sd / shifted.sd - 1.0).abs() < 0.02);
    let scaled = fit(&moved(session, 0.0, 1.25));
    let ratio = scaled.log_g - plain.log_g;
    // Noise of the heat and priors on the conductance are in watts; they must not matter.
    assert!((ratio - 1.25_f64.ln()).abs() < 0.02 * plain.sd, "{ratio}");
}

#[test]
fn a_drawn_record_is_like_the_one_it_stands_for() {
    let (record, log_g) = record(&whole_degrees());
    let parameters = record.start(log_g);
    let (drawn, truth) = record.drawn(&parameters, &mut ChaCha8Rng::seed_from_u64(1));
    assert!((truth - log_g).abs() < 0.05, "{truth}");
    assert_eq!(drawn.steps().len(), record.steps().len());
    for (new, old) in drawn.steps().iter().zip(record.steps()) {
        assert_eq!(new.reading.is_some(), old.reading.is_some());
        if let Some(Reading::Between(low, high)) = new.reading {
            assert!((high - low - 1.0).abs() < 1e-12 && (low + 0.25).fract().abs() < 1e-9);
        }
    }
    let again = record.drawn(&parameters, &mut ChaCha8Rng::seed_from_u64(1));
    assert_eq!(again.1, truth);
    // At the parameters that it was drawn with, the conductance is found as the interval says.
    let passage = drawn.passage(&parameters);
    let sd = passage.wander_variance.sqrt();
    assert!((passage.walk.figure - truth).abs() < 4.0 * sd);
}

/// The record is itself drawn, with the wander that gusts bring: the made one has none.
#[test]
fn the_self_check_finds_again_what_was_put_in() {
    let (record, log_g) = record(&whole_degrees());
    let parameters = record.start(log_g);
    let (windy, _) = record.drawn(&parameters, &mut ChaCha8Rng::seed_from_u64(4));
    let search = Search::of(windy, log_g).unwrap();
    let check = self_check(&search, Plan { logs: 40, seed: 5 });
    assert_eq!(check.fitted, 40);
    let found = check.found_over_true.known().unwrap();
    assert!((found.estimate - 1.0).abs() < 0.01, "{found:?}");
    assert!(check.holds.known().unwrap().high > 0.95, "{check:?}");
    assert_eq!(check, self_check(&search, Plan { logs: 40, seed: 5 }));
}

/// A search that cannot see the conductance must not answer.
#[test]
fn a_search_from_nonsense_is_refused() {
    let (record, _) = record(&whole_degrees());
    assert!(Search::of(record, f64::NAN).is_err());
}
