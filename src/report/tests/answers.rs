//! Hand-made answers to draw. Shapes only: no figure here was computed by anything.

use super::sample::{AFTER, BEFORE, Whole};
use crate::compare::*;
use crate::limits::{HotDay, LimitsAnswer, OverAmbient, SessionLimit, SetupLimit, State};
use crate::report::{Provenance, Truth};
use crate::session::Role;
use crate::stats::Estimate;
use crate::warning::Warning;

fn row(whole: &Whole, settled_c: f64, own_c: f64, ambient_c: f64) -> SessionRow {
    SessionRow {
        id: whole.meta.id.clone(),
        setup: whole.meta.setup.clone(),
        day: whole.meta.day,
        ambient_c,
        coolant_c: own_c - 0.6,
        speed_kmh: 121.4,
        heat_kw: 41.3,
        used_s: 780.0,
        laps: 11,
        laps_held_up: 1,
        relative_conductance: Estimate::between(1.01, 0.985, 1.034, "session scatter"),
        settled_c: Estimate::symmetric(settled_c, 1.4, "session scatter"),
        settled_at_own_ambient_c: own_c,
    }
}

fn plain() -> Vec<PlainTest> {
    vec![
        PlainTest {
            name: "coolant minus ambient, Welch",
            coolant_change_k: Estimate::symmetric(-1.7, 2.2, "Welch's t, 2.9 df"),
            p: Some(0.092),
            equivalence_p: Some(0.88),
            ignores: "takes pace, air density and the day for the part",
        },
        PlainTest {
            name: "conductance, Hodges-Lehmann",
            coolant_change_k: Estimate::unknown("with 3 and 3 the widest covers 90 %"),
            p: Some(0.0004),
            equivalence_p: None,
            ignores: "takes the day for the part",
        },
    ]
}

fn by_day() -> ByDay {
    let day = |day, coolant_change_k| DayChange {
        day: chrono::NaiveDate::from_ymd_opt(2031, 5, day).unwrap(),
        sessions_before: 2,
        sessions_after: 1,
        coolant_change_k,
    };
    ByDay {
        days: vec![
            day(3, Estimate::symmetric(-1.9, 1.4, "t")),
            day(17, Estimate::symmetric(-2.6, 1.4, "t")),
        ],
        coolant_change_k: Estimate::symmetric(-2.2, 4.5, "Hartung-Knapp"),
        another_day_k: Estimate::unknown("it takes three days"),
        agreement: Some(Agreement {
            tau_k: 0.31,
            i_squared_percent: 12.0,
            q: 1.14,
            q_p: 0.31,
        }),
    }
}

pub fn comparison(wholes: &[Whole]) -> Comparison {
    let figures = [
        (101.5, 98.9, 22.1),
        (99.2, 97.9, 23.4),
        (98.6, 98.9, 24.9),
        (101.0, 101.7, 25.2),
        (101.9, 106.0, 28.8),
        (99.4, 104.4, 29.6),
    ];
    let side = |setup: &str, left_out: Vec<LeftOut>| Side {
        setup: setup.to_owned(),
        sessions: wholes
            .iter()
            .filter(|w| w.meta.setup == setup)
            .map(|w| w.meta.id.clone())
            .collect(),
        left_out,
        days: 2,
        laps: 22,
        laps_held_up: 3,
    };
    let effect = |value: f64, half: f64| Effect {
        main: Estimate::symmetric(value, half, "days and sessions, scatter borrowed"),
        alone: Some(Estimate::symmetric(
            value,
            half * 1.5,
            "these sessions alone",
        )),
    };
    let ambient_c: Vec<f64> = (0..=20).map(|i| 20.0 + 0.6 * f64::from(i)).collect();
    let line = |at_20: f64, half: f64| -> Vec<Estimate> {
        ambient_c
            .iter()
            .map(|a| {
                let bow = half + 0.02 * (a - 26.0).powi(2);
                Estimate::symmetric(at_20 + 1.08 * (a - 20.0), bow, "joint")
            })
            .collect()
    };
    let balance = |covariate: &str, before: f64, after: f64, all: f64, matched: f64| Balance {
        covariate: covariate.into(),
        mean_before: Some(before),
        mean_after: Some(after),
        standardised_difference_all: Some(all),
        standardised_difference_matched: Some(matched),
    };
    Comparison {
        before: side(
            BEFORE,
            vec![LeftOut {
                id: "s7".into(),
                why: "the thermostat never opened fully".into(),
            }],
        ),
        after: side(AFTER, vec![]),
        reference: Reference {
            session: "s1".to_owned(),
            ambient_c: 25.0,
            drive: "the hot running of all sessions used, one after another".into(),
            thermostat: "fully open throughout".into(),
        },
        coolant_change_k: effect(-2.31, 1.12),
        coolant_peak_change_k: effect(-2.6, 1.5),
        coolant_change_regulated_k: effect(-1.2, 0.9),
        conductance_ratio: Effect {
            main: Estimate::between(1.034, 1.012, 1.057, "days and sessions, scatter borrowed"),
            alone: None,
        },
        borrowed: Some(Borrowed {
            sessions: 14,
            days: 5,
        }),
        matched: Matched {
            pairs: 11,
            mean_k: None,
            coolant_change_k: Estimate::symmetric(-1.9, 1.6, "pairs clustered by day"),
            balance: vec![
                balance("ambient, °C", 25.4, 26.0, 0.21, 0.04),
                balance("air density, kg/m³", 1.172, 1.168, -0.24, -0.05),
                balance("mean speed, km/h", 121.3, 119.9, -0.41, 0.08),
            ],
        },
        answers_agree: Some(true),
        regulated_evidence: None,
        with_excluded: None,
        load_response_change: Estimate::symmetric(0.02, 0.11, "Welch"),
        intake_gap_change_k: Estimate::symmetric(0.1, 0.6, "t"),
        placebo: vec![
            Placebo {
                setup: "open-ducts".into(),
                split: "random split 1".into(),
                coolant_change_k: Estimate::symmetric(0.4, 1.7, "split"),
            },
            Placebo {
                setup: "sealed-ducts".into(),
                split: "random split 1".into(),
                coolant_change_k: Estimate::unknown("one session on one side"),
            },
        ],
        plain: plain(),
        by_day: by_day(),
        verdict: Verdict::Improved,
        denied_by: None,
        threshold_k: 0.5,
        smallest_excludable_k: Some(3.43),
        what_it_would_take: None,
        looks: 1,
        sensitivity: vec![
            rerun("heat input", "from throttle times engine speed", -2.1),
            rerun("thermostat", "rated 3 K lower", -2.3),
        ],
        predicted: None,
        warnings: vec![
            Warning::caution(
                "scatter-borrowed",
                "The interval leans on scatter from other sessions of this car.",
            ),
            Warning::note(
                "share-held",
                "The share of power that goes to the coolant is held at a usual value.",
            ),
        ],
        rows: wholes
            .iter()
            .zip(figures)
            .map(|(w, (s, own, a))| row(w, s, own, a))
            .collect(),
        curves: Some(Curves {
            before: line(95.8, 0.8),
            after: line(93.5, 0.9),
            ambient_c,
            limit_c: Some(112.0),
        }),
    }
}

pub fn limits() -> LimitsAnswer {
    let row = |id: &str, peak: f64, state, possible| SessionLimit {
        id: id.into(),
        channel: Role::Coolant,
        limit_c: Some(108.0),
        peak_c: Some(peak),
        closest_k: Some(108.0 - peak),
        seconds_within_margin: Some(if peak > 103.0 { 214.0 } else { 0.0 }),
        seconds_over: Some(if peak > 107.0 { 12.0 } else { 0.0 }),
        state: Some(state),
        possible_state: Some(possible),
        still_rising_at_end: Some(peak > 105.0),
        would_have_settled_c: Estimate::symmetric(peak - 2.0, 1.1, "draws"),
        would_have_peaked_c: Estimate::symmetric(peak + 0.8, 1.4, "draws"),
        would_have_crossed_s: Estimate::between(540.0, 420.0, 800.0, "draws"),
        limiting_ambient_c: Estimate::symmetric(41.0, 1.2, "1:1"),
        limiting_ambient_model_c: Estimate::symmetric(42.0, 1.5, "model"),
        limiting_ambient_laps_c: Estimate::symmetric(46.0, 1.6, "model"),
        limiting_ambient_wake_c: Estimate::symmetric(36.0, 1.6, "model"),
        time_to_limit_s: Estimate::between(700.0, 510.0, 1020.0, "model"),
        laps_to_limit: Estimate::between(7.3, 5.3, 10.6, "model"),
        peak_over_ambient: [20.0, 30.0, 40.0]
            .map(|ambient_c| over_ambient(ambient_c, peak))
            .to_vec(),
        ambient_c: Some(26.0),
        peak_lap: Some(8),
        peak_at_s: Some(812.0),
        times_within_margin: Some(if peak > 103.0 { 3 } else { 0 }),
        boiling_c: Estimate::symmetric(127.0, 2.0, "Raoult's law"),
        to_boiling_k: Estimate::symmetric(127.0 - peak, 2.0, "Raoult's law"),
        air_to_boil_c: Estimate::symmetric(52.0, 2.0, "1:1"),
        why: None,
    };
    LimitsAnswer {
        sessions: vec![
            row("s1", 101.0, State::Clear, State::Clear),
            row("s2", 99.0, State::Clear, State::Clear),
            row("s5", 106.0, State::Approached, State::Approached),
            row("s6", 108.0, State::Exceeded, State::Exceeded),
            SessionLimit {
                peak_c: None,
                closest_k: None,
                seconds_within_margin: None,
                seconds_over: None,
                state: None,
                possible_state: None,
                still_rising_at_end: None,
                would_have_settled_c: Estimate::unknown("no coolant channel"),
                would_have_peaked_c: Estimate::unknown("no coolant channel"),
                would_have_crossed_s: Estimate::unknown("no coolant channel"),
                limiting_ambient_laps_c: Estimate::unknown("no coolant channel"),
                limiting_ambient_wake_c: Estimate::unknown("no coolant channel"),
                time_to_limit_s: Estimate::unknown("no coolant channel"),
                laps_to_limit: Estimate::unknown("no coolant channel"),
                peak_over_ambient: Vec::new(),
                ambient_c: None,
                peak_lap: None,
                limiting_ambient_c: Estimate::unknown("no coolant channel"),
                limiting_ambient_model_c: Estimate::unknown("no coolant channel"),
                peak_at_s: None,
                times_within_margin: None,
                boiling_c: Estimate::unknown("no coolant channel"),
                to_boiling_k: Estimate::unknown("no coolant channel"),
                air_to_boil_c: Estimate::unknown("no coolant channel"),
                why: Some("no coolant channel".into()),
                ..row("s4", 0.0, State::Clear, State::Clear)
            },
        ],
        setups: vec![SetupLimit {
            one_day: false,
            car: None,
            setup: "open-ducts".into(),
            sessions: 4,
            days: 2,
            limiting_ambient_c: Estimate::symmetric(41.0, 3.2, "another session"),
            limiting_ambient_model_c: Estimate::symmetric(42.0, 3.5, "another session"),
            limiting_ambient_laps_c: Estimate::symmetric(46.0, 3.6, "another session"),
            limiting_ambient_wake_c: Estimate::symmetric(36.0, 3.6, "another session"),
            air_to_boil_c: Estimate::symmetric(52.0, 4.0, "another session"),
            peak_over_ambient: [20.0, 30.0, 40.0]
                .map(|ambient_c| over_ambient(ambient_c, 101.0))
                .to_vec(),
        }],
        hot_day: HotDay {
            ambient_c: Some(40.0),
            laps: Some(8),
            start_c: None,
            wake_percent: Some(20.0),
        },
        margin_k: Some(5.0),
        warnings: vec![Warning::caution(
            "sensor-lag",
            "The sensor lags some 5 s behind the coolant.",
        )],
    }
}

fn over_ambient(ambient_c: f64, peak_at_26_c: f64) -> OverAmbient {
    OverAmbient {
        ambient_c,
        peak_c: Estimate::symmetric(peak_at_26_c + ambient_c - 26.0, 2.4, "model"),
    }
}

pub fn provenance() -> Provenance {
    Provenance {
        tool_version: "0.1.0".into(),
        command: "heatbook compare --before \"baseline duct\" --after \"wide duct, sealed\" --html page.html".into(),
        files: vec![("run_s1.csv".into(), "9f".repeat(32)), ("run_s2.csv".into(), "a1".repeat(32))],
        settings: vec![("threshold".into(), "0.5 K".into()), ("ambient".into(), "25.0 °C".into())],
        seed: Some(20_260_606),
        units: crate::quantity::Units::Metric,
    }
}

fn rerun(assumption: &'static str, instead: &str, change_k: f64) -> Rerun {
    Rerun {
        assumption,
        instead: instead.to_owned(),
        verdict: Verdict::Improved,
        coolant_change_k: Estimate::symmetric(change_k, 1.3, "t"),
    }
}

pub fn truth() -> Truth {
    Truth {
        coolant_change_k: -2.4,
        how: "Both simulated cars, without noise, driven through the reference drive".into(),
    }
}
