use super::*;
use crate::estimate::synthetic::{self, Truth};

fn request(limit_c: f64) -> LimitRequest {
    LimitRequest {
        channel: Role::Coolant,
        limit_c: Some(limit_c),
        margin_k: Some(5.0),
    }
}

/// Air-to-boil, worked: limit 107 °C, coolant 90 °C at 29 °C ambient gives 46 °C (common
/// practice, no source).
#[test]
fn the_worked_air_to_boil_figure() {
    let ambient = Truth {
        ambient_c: 29.0,
        ..Truth::default()
    };
    let mut session = synthetic::session(&ambient);
    let time_s = session.time_s();
    let mut columns: std::collections::BTreeMap<Role, Vec<f64>> =
        [Role::Speed, Role::Ambient, Role::Rpm, Role::AirFlow]
            .into_iter()
            .map(|r| (r, session.channel(r).unwrap()))
            .collect();
    columns.insert(Role::Coolant, vec![90.0; time_s.len()]);
    session = Session::from_columns(session.meta.clone(), &time_s, &columns).unwrap();
    let judged = judge(&session, &request(107.0));
    assert!((judged.limiting_ambient_c.point().unwrap() - 46.0).abs() < 1e-9);
    assert_eq!(judged.state, Some(State::Clear));
}

#[test]
fn states_and_seconds_follow_the_reading() {
    let session = synthetic::session(&Truth::default());
    let peak = judge(&session, &request(150.0)).peak_c.unwrap();
    assert_eq!(
        judge(&session, &request(peak + 10.0)).state,
        Some(State::Clear)
    );
    assert_eq!(
        judge(&session, &request(peak + 3.0)).state,
        Some(State::Approached)
    );
    let over = judge(&session, &request(peak - 1.0));
    assert_eq!(over.state, Some(State::Exceeded));
    assert!(over.seconds_over.unwrap() > 0.0);
    assert!(over.seconds_within_margin >= over.seconds_over);
    assert!((over.closest_k.unwrap() + 1.0).abs() < 1e-9);
}

#[test]
fn without_a_limit_there_is_a_reason() {
    let mut session = synthetic::session(&Truth::default());
    session.meta.car.limit_coolant_c = None;
    let none = LimitRequest {
        channel: Role::Coolant,
        limit_c: None,
        margin_k: None,
    };
    let judged = judge(&session, &none);
    assert!(judged.state.is_none() && judged.why.unwrap().contains("--limit-c"));
    assert!(judged.limiting_ambient_c.known().is_none());
}

#[test]
fn a_session_that_settled_would_have_settled_where_it_was() {
    let session = synthetic::session(&Truth::default());
    let judged = judge(&session, &request(115.0));
    let settled = judged.would_have_settled_c.known().unwrap();
    assert!(
        (settled.estimate - judged.peak_c.unwrap()).abs() < 3.0,
        "{settled:?}"
    );
    assert_eq!(judged.still_rising_at_end, Some(false));
}

/// The model's limiting ambient is the ambient at which the model settles at the limit; here, where the
/// session settled, it lies above the 1:1 rule's by what hot walls take less and below by thinner air.
#[test]
fn the_models_limiting_ambient_stands_beside_the_rules() {
    let session = synthetic::session(&Truth::default());
    let peak = judge(&session, &request(150.0)).peak_c.unwrap();
    let at_peak = judge(&session, &request(peak.round()));
    let model = at_peak.limiting_ambient_model_c.known().unwrap();
    assert!(
        model.low < 20.0 + 2.0 && model.high > 20.0 - 2.0,
        "{model:?}"
    );
    let hotter = judge(&session, &request(peak.round() + 10.0));
    let gain = hotter.limiting_ambient_model_c.point().unwrap() - model.estimate;
    // By hand: 10 / (1 + 0.5 θ / T_air) (1 + θ / (T_gas - T)), θ some 65 K.
    let theta = peak - 20.0;
    let by_hand = 10.0 / (1.0 + 0.5 * theta / 297.0) * (1.0 + theta / (800.0 - peak));
    assert!((gain - by_hand).abs() < 0.3, "{gain} {by_hand}");
}

/// 1.1 bar at sea level, half glycol: 130.69 °C by Raoult's law in an independent program.
#[test]
fn boiling_needs_a_cap_and_has_the_caps_tolerance() {
    let mut session = synthetic::session(&Truth::default());
    let without = judge(&session, &request(115.0));
    assert!(
        without
            .boiling_c
            .why()
            .unwrap()
            .contains("cap_pressure_bar_gauge")
    );
    session.meta.car.cap_pressure_bar_gauge = Some(1.1);
    session.meta.car.glycol_volume_percent = Some(50.0);
    let judged = judge(&session, &request(115.0));
    let boiling = judged.boiling_c.known().unwrap();
    assert!((boiling.estimate - 130.69).abs() < 0.2);
    assert!((1.5..2.2).contains(&boiling.half_width()), "{boiling:?}");
    let (margin, peak) = (judged.to_boiling_k.point().unwrap(), judged.peak_c.unwrap());
    assert!((margin + peak - boiling.estimate).abs() < 1e-9);
    let air = judged.air_to_boil_c.known().unwrap();
    assert!((air.estimate - (boiling.estimate - (peak - 20.0))).abs() < 1e-9);
    assert!(air.half_width() > boiling.half_width());
}

#[test]
fn a_reading_on_the_border_of_a_step_is_one_time() {
    let columns = |coolant: Vec<f64>| {
        let t_s: Vec<f64> = (0..coolant.len()).map(|i| i as f64).collect();
        let columns = std::collections::BTreeMap::from([(Role::Coolant, coolant)]);
        let base = synthetic::session(&Truth::default());
        Session::from_columns(base.meta, &t_s, &columns).unwrap()
    };
    let mut coolant = vec![90.0; 200];
    coolant[20..60].fill(106.0);
    coolant[40] = 104.0;
    coolant[100..110].fill(107.0);
    let judged = judge(&columns(coolant), &request(110.0));
    assert_eq!(judged.times_within_margin, Some(2));
    assert_eq!(judged.peak_at_s, Some(100.0));
    assert_eq!(judged.seconds_within_margin, Some(49.0));
}

/// Where the coolant stood when hot running ended, had the drive gone on: over, within a lap, or never.
#[test]
fn a_session_says_when_it_would_have_crossed() {
    let whole = synthetic::session(&Truth::default());
    let peak = judge(&whole, &request(150.0)).peak_c.unwrap();
    let judged = judge(&whole, &request(peak.round() + 20.0));
    assert!(
        judged
            .would_have_crossed_s
            .why()
            .unwrap()
            .contains("settles below")
    );
    // A lap swings by some kelvin, so that a limit just below the peak is met within two laps.
    let met = judge(&whole, &request(peak - 0.5)).would_have_crossed_s;
    let met = met.known().unwrap();
    assert!(met.low > 0.0 && met.high < 200.0, "{met:?}");
    let over = judge(&whole, &request(peak - 15.0));
    assert!(
        over.would_have_crossed_s
            .why()
            .unwrap()
            .contains("over the limit")
    );
}
