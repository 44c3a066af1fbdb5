//! The other fixed scale: the one that the fit itself arrives at.
//!
//! Session and truth of the reference drive (even laps, steady air, no wind), logged ten times a
//! second in steps of 0.01 °C with the row's channels: true conductance over fitted. A fit whose
//! law of heat input changes the mean heat has that change in this constant, and it cancels; what
//! is left is what one session says wrongly against another of the same car.

use heatbook::estimate::fit_session;
use heatbook::session::{Session, SessionMeta};

use super::effective::true_ua;
use super::rows::Row;
use super::scale::reference_drive;
use super::study::REFERENCE;
use crate::simulator::library::car_sheet;
use crate::simulator::noise::Noise;
use crate::simulator::run::DT_S;
use crate::simulator::sensors::Logger;

/// True over fitted conductance on the reference drive. `None`: the fit declines it.
///
/// # Errors
/// Columns of unequal length, which is a defect of the simulator.
pub fn own_scale(row: &Row) -> anyhow::Result<Option<f64>> {
    let truth = reference_drive();
    let logger = Logger {
        rate_hz: 1.0 / DT_S,
        temperature_step_c: 0.01,
        ..row.logger()
    };
    let (t_s, channels) = logger.log(&truth, 0.0, &mut Noise::new(0, 3));
    let meta = SessionMeta::bare("reference", "as it is", car_sheet());
    let fit = fit_session(&Session::from_columns(meta, &t_s, channels)?);
    let true_w_per_k = true_ua(&truth, 1.0, REFERENCE).ua_w_per_k;
    let fitted_w_per_k = fit.ua_w_per_k.value.point();
    Ok(true_w_per_k.zip(fitted_w_per_k).map(|(t, f)| t / f))
}
