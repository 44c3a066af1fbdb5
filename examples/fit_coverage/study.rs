//! A row's sessions: simulated, fitted, set against the truth.

use heatbook::estimate::{SessionFit, fit_session};
use heatbook::thermal::air::STANDARD_DENSITY_KG_M3;
use heatbook::thermal::conductance::REFERENCE_SPEED_KMH;

use super::Arguments;
use super::calibration::own_scale;
use super::effective::Reference;
use super::parallel::in_parallel;
use super::rows::Row;
use super::scale::Scales;
use super::score::{Fitted, Miss, Outcome, Score};
use super::session::{Driven, Setting};
use crate::simulator::circuit::Circuit;

/// Where conductances are told. A fit told elsewhere stops the study.
pub const REFERENCE: Reference = Reference {
    speed_kmh: REFERENCE_SPEED_KMH,
    density_kg_m3: STANDARD_DENSITY_KG_M3,
};

/// Runs a row's sessions, each with both cars.
///
/// # Errors
/// A defect of the simulator.
pub fn run(row: &Row, scales: &Scales, arguments: &Arguments) -> anyhow::Result<Score> {
    let own_scale = own_scale(row)?;
    let circuit = Circuit::new();
    let setting = Setting {
        row,
        scales,
        circuit: &circuit,
        reference: REFERENCE,
    };
    let outcomes = in_parallel(arguments.sessions, arguments.threads, |i| {
        let seed = arguments.seed + i;
        Outcome {
            nominal: fitted(&setting, seed, Driven::Nominal),
            drawn: fitted(&setting, seed, Driven::Drawn),
        }
    });
    let own_shift = own_scale.map(|own| (scales.of(row.source) / own).ln());
    Ok(Score::of(outcomes, own_shift))
}

/// One session's fit against its truth.
///
/// # Panics
/// A defect of the simulator, or a fit told at another reference.
fn fitted(setting: &Setting, seed: u64, driven: Driven) -> Fitted {
    let simulated = match setting.session(seed, driven) {
        Ok(simulated) => simulated,
        Err(defect) => panic!("seed {seed}: {defect:#}"),
    };
    let fit = fit_session(&simulated.session);
    let told = (
        fit.ua_w_per_k.at_speed_kmh,
        fit.ua_w_per_k.at_air_density_kg_m3,
    );
    assert_eq!(told, (REFERENCE.speed_kmh, REFERENCE.density_kg_m3));
    // Whoever accepts a regulating session claims to know what its radiator is worth when open.
    let true_w_per_k = if setting.row.kind.regulates() {
        simulated.truth.if_open_w_per_k
    } else {
        simulated.truth.ua_w_per_k
    };
    Fitted {
        seed,
        open_s: simulated.truth.open_s,
        drawn_again: simulated.drawn_again,
        accepted: fit.assessable,
        why: fit.why.clone(),
        miss: true_w_per_k.and_then(|truth| match driven {
            Driven::Nominal => relative_miss(&fit, setting.scales.of(setting.row.source), truth),
            Driven::Drawn => absolute_miss(&fit, truth),
        }),
    }
}

/// At fixed scale: the interval of the conductance over itself, around the scaled value.
fn relative_miss(fit: &SessionFit, scale: f64, truth_w_per_k: f64) -> Option<Miss> {
    let ua_w_per_k = fit.ua_w_per_k.value.point()?;
    let interval = fit.ua_relative.known()?;
    let scaled = scale * ua_w_per_k;
    Some(Miss {
        log_error: (scaled / truth_w_per_k).ln(),
        log_low: (interval.low / interval.estimate).ln(),
        log_high: (interval.high / interval.estimate).ln(),
    })
}

/// As told.
fn absolute_miss(fit: &SessionFit, truth_w_per_k: f64) -> Option<Miss> {
    let interval = fit.ua_w_per_k.value.known()?;
    Some(Miss {
        log_error: (interval.estimate / truth_w_per_k).ln(),
        log_low: (interval.low / interval.estimate).ln(),
        log_high: (interval.high / interval.estimate).ln(),
    })
}
