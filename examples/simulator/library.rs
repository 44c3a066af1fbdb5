//! A simulated session as the library's own, as if it had been imported.

use std::collections::BTreeMap;

use heatbook::car::{CarSheet, SetupSheet};
use heatbook::session::{ChannelInfo, Role, Session, SessionMeta, UnitFrom};

use super::campaign::SimSession;
use super::cooling::{COOLANT_L, FULL_OPEN_C, GLYCOL_PERCENT, OPENS_C};
use super::engine::{DRAG_AREA_M2, DRIVELINE, MASS_KG, MAX_POWER_W, ROLLING};

/// What the car's owner would write on its sheet.
pub fn car_sheet() -> CarSheet {
    CarSheet {
        name: Some("Test car 3".to_owned()),
        mass_kg: Some(MASS_KG),
        drag_area_m2: Some(DRAG_AREA_M2),
        rolling_resistance: Some(ROLLING),
        max_power_kw: Some(MAX_POWER_W / 1e3),
        driveline_efficiency: Some(DRIVELINE),
        coolant_l: Some(COOLANT_L),
        glycol_volume_percent: Some(GLYCOL_PERCENT),
        metal_heat_capacity_j_per_k: Some(75e3),
        thermostat_opens_c: Some(OPENS_C),
        thermostat_full_open_c: Some(FULL_OPEN_C),
        ..CarSheet::default()
    }
}

impl SimSession {
    /// The session as the library would hold it after import.
    ///
    /// # Errors
    /// Columns of unequal length, which is a defect of the simulator.
    pub fn to_session(&self, car: &CarSheet) -> anyhow::Result<Session> {
        let rows = self.t_s.len();
        let channels = self
            .channels
            .iter()
            .map(|(role, v)| (*role, self.info(*role, v)))
            .collect();
        let meta = SessionMeta {
            id: format!("s{}", self.number),
            file: format!("simulated_{}.csv", self.number),
            sha256: format!("{:064x}", self.number),
            setup: self.setup.clone(),
            car: car.clone(),
            setup_sheet: SetupSheet::default(),
            start: Some(self.start),
            day: Some(self.day),
            duration_s: self.t_s.last().copied().unwrap_or(0.0),
            rows_read: rows,
            rows_kept: rows,
            driver: None,
            note: None,
            excluded: None,
            channels,
            aligned: Vec::new(),
            warnings: Vec::new(),
        };
        let columns: BTreeMap<Role, Vec<f64>> = self.channels.clone();
        Ok(Session::from_columns(meta, &self.t_s, columns)?)
    }

    fn info(&self, role: Role, values: &[f64]) -> ChannelInfo {
        let step = values
            .windows(2)
            .map(|pair| (pair[1] - pair[0]).abs())
            .filter(|step| *step > 1e-9)
            .fold(f64::INFINITY, f64::min);
        let changes: Vec<f64> = values
            .windows(2)
            .zip(&self.t_s)
            .filter(|(pair, _)| pair[0] != pair[1])
            .map(|(_, t)| *t)
            .collect();
        let mut refreshes: Vec<f64> = changes.windows(2).map(|pair| pair[1] - pair[0]).collect();
        refreshes.sort_by(f64::total_cmp);
        ChannelInfo {
            column: role.name().to_owned(),
            unit: role.quantity().inside_unit().symbol().to_owned(),
            unit_from: UnitFrom::Header,
            resolution: step.is_finite().then_some(step),
            median_refresh_s: refreshes.get(refreshes.len() / 2).copied(),
            missing_fraction: 0.0,
            min: values.iter().copied().reduce(f64::min),
            max: values.iter().copied().reduce(f64::max),
            mean: Some(values.iter().sum::<f64>() / values.len() as f64),
        }
    }
}
