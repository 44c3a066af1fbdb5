use super::*;
use crate::estimate::synthetic::{self, Truth};
use crate::quantity::Units;

/// A session with this conductance over 620 W/K, on a day of May at an hour.
fn at(number: u32, setup: &str, day: Option<u32>, hour: Option<u32>, relative: f64) -> Session {
    let mut session = synthetic::session(&Truth {
        g_w_per_k: 620.0 * relative,
        ..Truth::default()
    });
    session.meta.id = format!("s{number}");
    session.meta.setup = setup.to_owned();
    session.meta.day = day.and_then(|d| NaiveDate::from_ymd_opt(2031, 5, d));
    session.meta.start = session
        .meta
        .day
        .zip(hour)
        .and_then(|(day, hour)| day.and_hms_opt(hour, 0, 0));
    session
}

/// Four days of two sessions, conductance as `relative` says.
fn four_days(relative: [f64; 8]) -> Vec<Session> {
    let each = relative.into_iter().zip(1..);
    each.map(|(g, i)| at(i, "a", Some(3 + (i - 1) / 2), Some(10 + i % 2), g))
        .collect()
}

const WOBBLE: [f64; 8] = [1.002, 0.997, 1.001, 1.003, 0.998, 0.999, 1.002, 0.998];

#[test]
fn a_steady_car_shows_no_drift() {
    let answer = season(&four_days(WOBBLE));
    let car = &answer.cars[0];
    assert_eq!((car.drift.shown, car.drift.form), (Some(false), None));
    assert!(car.drift.conductance_ratio.known().unwrap().contains(1.0));
    assert_eq!((car.drift.sessions, car.drift.days), (8, 4));
    assert!(sentences(car, Units::Metric).contains("no drift shown"));
    // The mean of the car's sessions is one.
    let log: f64 = (car.sessions.iter())
        .map(|s| s.conductance.point().unwrap().ln())
        .sum();
    assert!(log.abs() < 1e-9);
    assert!(answer.warnings.is_empty());
}

#[test]
fn a_core_that_blocks_a_little_every_day_is_seen_with_its_size() {
    let relative: Vec<f64> = (0..8)
        .map(|i| WOBBLE[i] * 0.92_f64.powf(i as f64 / 7.0))
        .collect();
    let answer = season(&four_days(relative.try_into().unwrap()));
    let drift = &answer.cars[0].drift;
    assert_eq!((drift.shown, drift.form), (Some(true), Some(Form::Steady)));
    let ratio = drift.conductance_ratio.known().unwrap();
    assert!(ratio.contains(0.92) && ratio.high < 1.0, "{ratio:?}");
    // 8 % of conductance on an excess of some 65 K, less what hot walls take less.
    let coolant = drift.coolant_change_k.known().unwrap();
    assert!((3.0..7.0).contains(&coolant.estimate), "{coolant:?}");
    let last = answer.cars[0].sessions.last().unwrap();
    assert!(last.expected.unwrap() < 0.98);
    assert!(sentences(&answer.cars[0], Units::Metric).contains("falls"));
}

#[test]
fn a_loss_at_once_is_placed() {
    let relative: Vec<f64> = (0..8)
        .map(|i| WOBBLE[i] * if i < 4 { 1.0 } else { 0.93 })
        .collect();
    let answer = season(&four_days(relative.try_into().unwrap()));
    let drift = &answer.cars[0].drift;
    assert_eq!(drift.form, Some(Form::Step));
    assert_eq!(drift.between, Some(["s4".to_owned(), "s5".to_owned()]));
    assert!(sentences(&answer.cars[0], Units::Metric).contains("at once between s4 and s5"));
}

#[test]
fn a_session_of_unknown_day_is_listed_and_does_not_count() {
    let mut sessions = four_days(WOBBLE);
    sessions.push(at(9, "a", None, None, 0.7));
    let answer = season(&sessions);
    let car = &answer.cars[0];
    assert_eq!(car.sessions.len(), 9);
    assert!(car.sessions[8].why.as_deref().unwrap().contains("day"));
    assert_eq!((car.drift.shown, car.drift.sessions), (Some(false), 8));
    assert_eq!(answer.warnings[0].id, "day-unknown");
}

/// Two days show nothing and can show next to nothing: that comes first, and how it was tested.
#[test]
fn two_days_cannot_tell_yet() {
    let answer = season(&four_days(WOBBLE)[..4]);
    let car = &answer.cars[0];
    assert_eq!((car.drift.shown, car.drift.days), (Some(false), 2));
    assert!(sentences(car, Units::Metric).contains("cannot tell yet"));
    let tested = how_tested(car).unwrap();
    assert!(tested.contains("at equal setups") && tested.contains("has p "));
}

#[test]
fn too_few_sessions_cannot_tell() {
    let answer = season(&four_days(WOBBLE)[..2]);
    let car = &answer.cars[0];
    assert_eq!(car.drift.shown, None);
    assert!(sentences(car, Units::Metric).contains("cannot tell"));
    assert!(car.sessions[0].conductance.known().is_some());
}

#[test]
fn a_start_that_is_not_known_stands_in_the_middle_of_its_day() {
    let sessions = [
        at(1, "a", Some(3), Some(9), 1.0),
        at(2, "a", Some(3), Some(10), 1.0),
        at(3, "a", Some(3), None, 1.0),
        at(4, "a", Some(4), None, 1.0),
    ];
    let placed = in_order(&sessions.iter().collect::<Vec<_>>());
    let order: Vec<(f64, String)> = placed.iter().map(|(p, s)| (*p, s.meta.label())).collect();
    let expected = [(0.0, "s1"), (1.0, "s2"), (1.0, "s3"), (3.0, "s4")];
    assert_eq!(order, expected.map(|(p, id)| (p, id.to_owned())));
}
