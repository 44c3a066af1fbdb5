//! The other fixed scale: the one that the fit itself arrives at.
//!
//! Session and truth of the reference drive (even laps, steady air, no wind), logged ten times a
//! second in steps of 0.01 °C with the row's channels: true conductance over fitted. A fit whose
//! law of heat input changes the mean heat has that change in this constant, and it cancels; what
//! is left is what one session says wrongly against another of the same car. Of drawn cars the one
//! in the middle is so driven; each of them then differs from it by what its heat is over what its
//! channel tells (`scale`), which a fixed scale is to know.

use heatbook::estimate::fit_session;
use heatbook::session::{Session, SessionMeta};

use super::car::{Car, Driven};
use super::effective::true_ua;
use super::rows::Row;
use super::scale::{AMBIENT_C, Scales, reference_drive};
use super::study::REFERENCE;
use crate::simulator::library::car_sheet;
use crate::simulator::noise::Noise;
use crate::simulator::run::DT_S;
use crate::simulator::sensors::Logger;

/// The fit's own scale over that from heat, by the middle car's reference drive. `None`: the fit
/// declines it.
///
/// # Errors
/// Columns of unequal length, which is a defect of the simulator.
pub fn own_over_heat(row: &Row, driven: Driven) -> anyhow::Result<Option<f64>> {
    let car = Car::middle(driven);
    let truth = reference_drive(&car, AMBIENT_C);
    let logger = Logger {
        rate_hz: 1.0 / DT_S,
        temperature_step_c: 0.01,
        ..row.logger()
    };
    let (t_s, channels) = logger.log(&truth, 0.0, &mut Noise::new(0, 3));
    let meta = SessionMeta::bare("reference", "as it is", car_sheet());
    let fit = fit_session(&Session::from_columns(meta, &t_s, channels)?);
    let true_w_per_k = true_ua(&truth, car.front, REFERENCE).ua_w_per_k;
    let fitted_w_per_k = fit.ua_w_per_k.value.point();
    let from_heat = Scales::of(&car, &truth, AMBIENT_C)?.from(row.source);
    Ok(true_w_per_k
        .zip(fitted_w_per_k)
        .map(|(t, f)| t / f / from_heat))
}
