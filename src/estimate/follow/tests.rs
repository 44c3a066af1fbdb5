//! Temperatures that follow the load by formula.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::*;
use crate::estimate::prepare::prepare;
use crate::estimate::synthetic::{self, Truth};
use crate::session::Session;

/// Air + `at_rest_k` + `k_per_percent` for each percent of the mean load, lagged by `tau_s`, with a
/// disturbance of 0.5 K over 30 s, in whole degrees.
fn following(bare: &Session, at_rest_k: f64, k_per_percent: f64, tau_s: f64) -> Vec<f64> {
    let prepared = prepare(bare, None);
    let heat = prepared.heat.as_ref().unwrap();
    let mean_w = prepared.mean_in_stints(&heat.watts);
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let keep = (-1.0_f64 / 30.0).exp();
    let mut error = 0.0;
    lagged(&heat.watts, tau_s, 1.0)
        .iter()
        .map(|w| {
            let fresh: f64 = StandardNormal.sample(&mut rng);
            error = keep * error + 0.5 * (1.0 - keep * keep).sqrt() * fresh;
            (20.0 + at_rest_k + k_per_percent * 100.0 * w / mean_w + error).round()
        })
        .collect()
}

#[test]
fn oil_gives_back_slope_settled_value_and_time_constant() {
    let bare = synthetic::session(&Truth::default());
    let oil_c = following(&bare, 40.0, 0.5, 180.0);
    let session = prepare(&synthetic::with(&bare, &[(Role::Oil, oil_c)]), None);
    let told = oil(&session).seen().unwrap().clone();
    assert!(told.tau_s.known().unwrap().contains(180.0), "{told:?}");
    assert!(
        told.excess_k_per_percent.known().unwrap().contains(0.5),
        "{told:?}"
    );
    assert!(told.settled_c.known().unwrap().contains(110.0), "{told:?}");
    let kw = session.mean_in_stints(&session.heat.as_ref().unwrap().watts) / 1000.0;
    assert!(
        told.excess_k_per_kw.known().unwrap().contains(50.0 / kw),
        "{told:?}"
    );
}

#[test]
fn charge_air_gives_back_its_coolers_effectiveness() {
    let bare = synthetic::session(&Truth::default());
    let before = following(&bare, 10.0, 0.8, 5.0);
    let after: Vec<f64> = before
        .iter()
        .map(|c| (20.0 + 0.3 * (c - 20.0)).round())
        .collect();
    let more = [(Role::ChargeIn, before), (Role::ChargeOut, after)];
    let session = prepare(&synthetic::with(&bare, &more), None);
    let told = charge_air(&session).seen().unwrap().clone();
    assert!(
        told.effectiveness.known().unwrap().contains(0.7),
        "{told:?}"
    );
    let before = told.before.seen().unwrap();
    assert!(before.tau_s.known().unwrap().contains(5.0), "{before:?}");
    assert!(
        before.settled_c.known().unwrap().contains(110.0),
        "{before:?}"
    );
}

#[test]
fn what_is_not_logged_is_said() {
    let session = synthetic::prepared(&Truth::default());
    let json = serde_json::to_string(&oil(&session)).unwrap();
    assert_eq!(json, r#"{"estimate":null,"why":"no oil channel"}"#);
    let json = serde_json::to_string(&charge_air(&session)).unwrap();
    assert!(
        json.contains("no charge_in or charge_out channel"),
        "{json}"
    );
    let bare = synthetic::session(&Truth::default());
    let one = [(Role::ChargeOut, vec![45.0; bare.grid(1.0).len])];
    let session = prepare(&synthetic::with(&bare, &one), None);
    let told = charge_air(&session).seen().unwrap().clone();
    assert!(
        told.effectiveness
            .why()
            .unwrap()
            .contains("needs charge_in")
    );
    assert!(told.before.seen().is_none());
}
