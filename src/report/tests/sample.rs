//! Hand-made sessions to draw. Shapes only: no figure here was computed by anything.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::car::{CarSheet, SetupSheet};
use crate::estimate::self_check::SelfCheck;
use crate::estimate::{
    EffectivenessAtReference, FittedParameter, Follower, Observed, Outlet, Residual, SessionFit,
    Soak, Trace, UaAtReference,
};
use crate::regime::Regime;
use crate::report::SessionPart;
use crate::session::{ChannelInfo, Grid, Role, Session, SessionMeta, UnitFrom};
use crate::stats::Estimate;
use crate::warning::Warning;

/// A session with everything a page may ask for.
pub struct Whole {
    pub meta: SessionMeta,
    pub grid: Grid,
    pub fit: SessionFit,
}

impl Whole {
    pub fn part(&self) -> SessionPart<'_> {
        SessionPart {
            meta: &self.meta,
            grid: &self.grid,
            fit: &self.fit,
        }
    }
}

pub fn date(day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 6, day).unwrap()
}

fn regime(t_s: f64) -> Regime {
    match t_s {
        t if t < 150.0 => Regime::ColdStart,
        t if t < 260.0 => Regime::Regulating,
        t if t < 1150.0 && (t / 97.0) % 1.0 < 0.86 => Regime::Open,
        t if t < 1150.0 => Regime::Regulating,
        t if t < 1290.0 => Regime::Slow,
        t if t < 1380.0 => Regime::Standing,
        t if t < 1660.0 => Regime::Soak,
        _ => Regime::NoData,
    }
}

fn smooth_coolant(t_s: f64, settled_c: f64) -> f64 {
    let warm = settled_c - 45.0 * (-t_s / 140.0).exp();
    let lap = 1.6 * (t_s / 15.5).sin() + 0.8 * (t_s / 61.0).cos();
    let soak = if t_s > 1380.0 {
        6.0 * (1.0 - (-(t_s - 1380.0) / 60.0).exp())
    } else {
        0.0
    };
    let cool = if t_s > 1150.0 {
        9.0 * (1.0 - (-(t_s - 1150.0) / 90.0).exp())
    } else {
        0.0
    };
    warm + lap - cool + soak
}

pub fn session(id: &str, setup: &str, day: Option<u32>, settled_c: f64, ambient_c: f64) -> Whole {
    let n = 1_700_usize;
    let t_s: Vec<f64> = (0..n).map(|i| i as f64).collect();
    let regimes: Vec<Regime> = t_s.iter().map(|&t| regime(t)).collect();
    let modelled: Vec<f64> = t_s.iter().map(|&t| smooth_coolant(t, settled_c)).collect();
    let measured: Vec<f64> = t_s
        .iter()
        .zip(&modelled)
        .map(|(&t, m)| (m + 0.9 * (t / 37.0).sin() + 0.5 * (t / 3.3).cos()).round())
        .collect();
    let moving = |t: f64| t < 1290.0;
    let of = |f: &dyn Fn(f64) -> f64| t_s.iter().map(|&t| f(t)).collect::<Vec<f64>>();
    let speed = of(&|t| {
        if moving(t) {
            (118.0 + 62.0 * (t / 15.5).sin() + 20.0 * (t / 4.1).sin()).round()
        } else {
            0.0
        }
    });
    let rpm = of(&|t| {
        if moving(t) {
            5200.0 + 1500.0 * (t / 7.7).sin()
        } else if t < 1380.0 {
            850.0
        } else {
            0.0
        }
    });
    let ambient = of(&|t| ambient_c + 0.4 * (t / 400.0).sin());
    let intake = of(&|t| {
        ambient_c
            + if moving(t) {
                9.0
            } else {
                9.0 + 0.05 * (t - 1290.0)
            }
    });
    let columns = BTreeMap::from([
        (Role::Coolant, measured.clone()),
        (Role::Speed, speed),
        (Role::Rpm, rpm),
        (Role::Ambient, ambient.clone()),
        (Role::Intake, intake),
    ]);
    let meta = meta(id, setup, day);
    let grid = Session::from_columns(meta.clone(), &t_s, columns)
        .unwrap()
        .grid(1.0);
    let trace = Trace {
        step_s: 1.0,
        regime: regimes,
        measured_c: measured,
        modelled_c: modelled,
        heat_w: vec![30_000.0; n],
        ambient_c: ambient,
        stints: vec![(300, 700), (760, 1140)],
        surprise: (0..n)
            .map(|i| {
                if i % 2 == 0 {
                    (i as f64 / 5.0).sin()
                } else {
                    f64::NAN
                }
            })
            .collect(),
    };
    Whole {
        fit: fit(id, trace),
        meta,
        grid,
    }
}

fn meta(id: &str, setup: &str, day: Option<u32>) -> SessionMeta {
    let channel = |column: &str| ChannelInfo {
        column: column.into(),
        unit: "°C".into(),
        unit_from: UnitFrom::Header,
        resolution: Some(1.0),
        median_refresh_s: Some(0.2),
        missing_fraction: 0.013,
        min: Some(61.0),
        max: Some(106.0),
        mean: Some(97.2),
    };
    SessionMeta {
        id: id.into(),
        file: format!("run_{id}.csv"),
        sha256: "9f".repeat(32),
        setup: setup.into(),
        car: CarSheet {
            name: Some("Test mule A".into()),
            ..CarSheet::default()
        },
        setup_sheet: SetupSheet {
            changed: Some("wider duct".into()),
            ..SetupSheet::default()
        },
        start: day.map(|d| date(d).and_hms_opt(10, 40, 0).unwrap()),
        day: day.map(date),
        duration_s: 1_700.0,
        rows_read: 17_020,
        rows_kept: 17_001,
        driver: None,
        note: Some("light wind".into()),
        excluded: None,
        channels: BTreeMap::from([
            (Role::Coolant, channel("Coolant [°C]")),
            (Role::Ambient, channel("Outside [°C]")),
        ]),
        aligned: Vec::new(),
        warnings: vec![Warning::note(
            "whole-degrees",
            "coolant is read in whole degrees",
        )],
    }
}

fn fit(id: &str, trace: Trace) -> SessionFit {
    let not_seen = || Estimate::unknown("not observed: the log ends before the phase does");
    SessionFit {
        id: id.into(),
        assessable: true,
        why: None,
        open_s: 812.0,
        ua_w_per_k: UaAtReference {
            value: Estimate::between(612.0, 540.0, 690.0, "scale from the car sheet"),
            at_speed_kmh: 120.0,
            at_air_density_kg_m3: 1.17,
        },
        ua_relative: Estimate::between(1.0, 0.978, 1.022, "whole stints left out in turn"),
        ua_lower_bound_w_per_k: Estimate::unknown("there is a point value"),
        heat_source: Some("fuel flow".into()),
        scale: "road load from mass and drag area; 0.9 of crank power goes to the coolant".into(),
        speed_exponent: Estimate::between(0.42, 0.31, 0.53, "profile"),
        heat_capacity_j_per_k: Estimate::unknown("held at the car sheet's value"),
        thermostat_opens_c: Estimate::between(81.2, 79.9, 82.5, "knee"),
        model: "metal, coolant and sensor, with a slow part".into(),
        parameters: vec![FittedParameter {
            name: "thermostat starts to open at".to_owned(),
            unit: "°C".to_owned(),
            value: Estimate::between(81.2, 79.9, 82.5, "maximum likelihood"),
            prior: [80.0, 76.1, 83.9],
            from_prior: 0.11,
        }],
        regimes_s: BTreeMap::from([(Regime::Open, 900.0), (Regime::Slow, 120.0)]),
        self_check: Some(SelfCheck {
            logs: 100,
            seed: 7,
            fitted: 99,
            found_over_true: Estimate::between(0.998, 0.995, 1.001, "t"),
            scatter_over_stated: Some(0.93),
            misses_over_stated: Some(0.95),
            holds: Estimate::between(0.96, 0.9, 0.99, "binomial"),
            passed: true,
        }),
        soak: Soak {
            intake_rise_still_k: Estimate::between(14.2, 12.9, 15.8, "exponential rise"),
            intake_tau_still_s: Estimate::between(240.0, 190.0, 310.0, "exponential rise"),
            intake_second_tau_still_s: not_seen(),
            intake_tau_moving_s: not_seen(),
            intake_second_tau_moving_s: not_seen(),
            coolant_rise_after_stop_k: Estimate::between(5.4, 4.4, 6.4, "reading step"),
            coolant_time_to_peak_s: Estimate::between(180.0, 150.0, 215.0, "reading step"),
            coolant_decay_tau_s: not_seen(),
            coolant_decay_second_tau_s: not_seen(),
        },
        outlet: Observed::Seen(Outlet {
            drop_k: Estimate::between(9.1, 7.9, 10.3, "laps"),
            return_c: Estimate::between(88.2, 87.0, 89.4, "laps"),
            effectiveness: EffectivenessAtReference {
                value: Estimate::between(0.131, 0.115, 0.149, "laps"),
                at_speed_kmh: 120.0,
                at_air_density_kg_m3: 1.225,
                at_rpm: Some(5000.0),
            },
            effectiveness_relative: Estimate::between(1.0, 0.991, 1.009, "laps"),
            speed_exponent: Estimate::between(0.48, 0.31, 0.65, "laps"),
            rpm_exponent: not_seen(),
        }),
        oil: Observed::Seen(Follower {
            settled_c: Estimate::between(118.0, 116.5, 119.5, "follows"),
            excess_k_per_kw: Estimate::between(0.9, 0.5, 1.3, "follows"),
            excess_k_per_percent: Estimate::between(0.4, 0.3, 0.5, "follows"),
            tau_s: Estimate::between(160.0, 120.0, 215.0, "follows"),
        }),
        charge_air: Observed::missing("no charge_in or charge_out channel"),
        limiting_ambient_c: Estimate::between(41.0, 38.2, 44.1, "model"),
        residual: Residual {
            sd_k: Some(0.71),
            white: Some(false),
            test: "portmanteau on innovations".into(),
            p: Some(0.0004),
            widens_by: Some(0.034),
        },
        termination: "converged".into(),
        warnings: vec![],
        trace,
    }
}

pub const BEFORE: &str = "baseline duct";
pub const AFTER: &str = "wide duct, sealed";

pub fn wholes() -> Vec<Whole> {
    [
        ("s1", BEFORE, 6, 99.4, 22.1),
        ("s2", AFTER, 6, 97.3, 23.4),
        ("s3", AFTER, 6, 98.0, 24.9),
        ("s4", BEFORE, 6, 101.3, 25.2),
        ("s5", BEFORE, 20, 104.2, 28.8),
        ("s6", AFTER, 20, 102.1, 29.6),
    ]
    .into_iter()
    .map(|(id, setup, day, settled, ambient)| session(id, setup, Some(day), settled, ambient))
    .collect()
}
