//! An invented car on an invented circuit, with more physics than any model fitted to its logs.
//!
//! Car, circuit, weather and driver are our own invention. The code shares no physics with the
//! library: it exists to tell whether the library's answers hold where the truth is known.
//!
//! ```text
//! circuit + driver -> speed trace -> engine -> heat -> cooling circuit -> sensors -> log
//!                          weather ----^----------------^
//! ```
//!
//! What it has and a lumped model has not: a metal node, a slow block, oil and a hot exhaust
//! manifold; a lagging thermostat with a bypass; a radiator in bands, each with its own air,
//! partly behind a charge-air cooler that preheats it; recirculation at low speed; gusts; a heat
//! input that falls as the walls get hotter; sensors that lag, step and lean.
//!
//! Every random number comes from one seed and a named stream, so a campaign is the same on
//! every run.

#![allow(dead_code, unused_imports)] // Each example uses its own part.

pub mod campaign;
pub mod circuit;
pub mod cooling;
pub mod drive;
pub mod engine;
pub mod exchanger;
pub mod library;
pub mod noise;
pub mod run;
pub mod sensors;
pub mod truth;
pub mod weather;

pub use campaign::{Campaign, Side, SimSession};
pub use truth::{TrueEffect, air_flow_factor_for, air_flow_factor_for_conductance, true_effect};

#[cfg(test)]
mod tests {
    use heatbook::session::Role;

    use super::*;

    #[test]
    fn the_same_seed_makes_the_same_logs() {
        let logs = |seed| {
            let sessions = Campaign::confounded(seed).run();
            sessions
                .into_iter()
                .map(|s| (s.start, s.t_s, s.channels))
                .collect::<Vec<_>>()
        };
        assert_eq!(logs(3), logs(3));
        assert_ne!(logs(3), logs(4));
    }

    /// The lap was laid out for 95 s.
    #[test]
    fn a_reference_lap_takes_about_95_seconds() {
        let circuit = circuit::Circuit::new();
        let mut unused = noise::Noise::new(0, 0);
        let moments = drive::Plan::reference().moments(&circuit, run::DT_S, &mut unused);
        let steps = moments.iter().filter(|m| m.lap == 5.0).count();
        let lap_s = steps as f64 * run::DT_S;
        assert!((lap_s - 95.0).abs() < 2.0, "{lap_s}");
    }

    #[test]
    fn no_part_changes_nothing_and_more_air_cools() {
        assert_eq!(true_effect(1.0, 23.0).mean_change_k, 0.0);
        let factor = air_flow_factor_for(-2.0, 23.0);
        assert!(factor > 1.0);
        assert!((true_effect(factor, 23.0).mean_change_k + 2.0).abs() < 1e-3);
        let factor = air_flow_factor_for_conductance(0.92, 23.0);
        assert!((true_effect(factor, 23.0).conductance_ratio - 0.92).abs() < 1e-3);
    }

    /// A car of this power gives some 60 to 95 kW to its radiator (common practice, no source).
    #[test]
    fn settled_running_is_a_cars() {
        let s = truth::settled(1.0, 23.0, true, 1.0);
        assert!((80.0..120.0).contains(&s.mean_c), "{s:?}");
        let given_w = s.conductance_w_per_k * (s.mean_c - 23.0);
        assert!((60e3..95e3).contains(&given_w), "{given_w}");
    }

    #[test]
    fn a_session_has_every_phase() {
        let sessions = Campaign::confounded(5).run();
        for s in &sessions {
            let speed = &s.channels[&Role::Speed];
            let coolant = &s.channels[&Role::Coolant];
            assert_eq!(speed.len(), s.t_s.len());
            assert!(speed.iter().any(|&v| v > 180.0) && speed.last() == Some(&0.0));
            assert!(coolant.iter().all(|t| t.fract() == 0.0));
        }
        assert!(
            sessions
                .iter()
                .any(|s| s.channels[&Role::Rpm].last() == Some(&0.0))
        );
    }
}
