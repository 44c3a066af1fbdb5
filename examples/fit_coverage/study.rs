//! A row's sessions: simulated, fitted, set against the truth.

use heatbook::estimate::fit_session;
use heatbook::stats::Estimate;
use heatbook::thermal::air::STANDARD_DENSITY_KG_M3;
use heatbook::thermal::conductance::REFERENCE_SPEED_KMH;

use super::Arguments;
use super::calibration::own_over_heat;
use super::car::Driven;
use super::effective::Reference;
use super::parallel::in_parallel;
use super::rows::Row;
use super::scale::Scales;
use super::score::{Fitted, Miss, Outcome, Score};
use super::session::Setting;
use crate::simulator::circuit::Circuit;

/// Where conductances are told. A fit told elsewhere stops the study.
pub const REFERENCE: Reference = Reference {
    speed_kmh: REFERENCE_SPEED_KMH,
    density_kg_m3: STANDARD_DENSITY_KG_M3,
};

/// Runs a row's sessions, each with the one car and with a drawn one.
///
/// # Errors
/// A defect of the simulator.
pub fn run(row: &Row, scales: &Scales, arguments: &Arguments) -> anyhow::Result<Score> {
    let circuit = Circuit::new();
    let setting = Setting {
        row,
        scales,
        circuit: &circuit,
        reference: REFERENCE,
    };
    let of_one = own_over_heat(row, Driven::One)?;
    let of_drawn = own_over_heat(row, Driven::Drawn)?;
    let outcomes = in_parallel(arguments.sessions, arguments.threads, |i| {
        let seed = arguments.seed + i;
        Outcome {
            one: fitted(&setting, seed, Driven::One, of_one),
            drawn: fitted(&setting, seed, Driven::Drawn, of_drawn),
        }
    });
    Ok(Score::of(outcomes, of_one.map(|own| -own.ln())))
}

/// One session's fit against its truth.
///
/// # Panics
/// A defect of the simulator, or a fit told at another reference.
fn fitted(setting: &Setting, seed: u64, driven: Driven, own_over_heat: Option<f64>) -> Fitted {
    let drawn = setting.session(seed, driven).and_then(|simulated| {
        let from_heat = setting.scale_from_heat(&simulated.car, driven)?;
        Ok((simulated, from_heat))
    });
    let (simulated, from_heat) = match drawn {
        Ok(drawn) => drawn,
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
    let estimate_w_per_k = fit.ua_w_per_k.value.point();
    let scale = own_over_heat.map(|own| own * from_heat);
    let scaled_w_per_k = scale.zip(estimate_w_per_k).map(|(s, w_per_k)| s * w_per_k);
    Fitted {
        seed,
        open_s: simulated.truth.open_s,
        drawn_again: simulated.drawn_again,
        accepted: fit.assessable,
        why: fit.why.clone(),
        relative: miss(scaled_w_per_k, &fit.ua_relative, true_w_per_k),
        absolute: miss(estimate_w_per_k, &fit.ua_w_per_k.value, true_w_per_k),
    }
}

/// This estimate with the width of this interval against the truth.
fn miss(
    estimate_w_per_k: Option<f64>,
    stated: &Estimate,
    true_w_per_k: Option<f64>,
) -> Option<Miss> {
    let interval = stated.known()?;
    Some(Miss {
        log_error: (estimate_w_per_k? / true_w_per_k?).ln(),
        log_low: (interval.low / interval.estimate).ln(),
        log_high: (interval.high / interval.estimate).ln(),
    })
}
