//! The sheets, the truth and the page that go with the logs.

use std::path::Path;

use super::{Dialect, REFERENCE_AMBIENT_C, SEED, TRUE_CHANGE_K};
use crate::simulator::cooling::{COOLANT_L, FULL_OPEN_C, GLYCOL_PERCENT, OPENS_C};
use crate::simulator::engine::{DRAG_AREA_M2, DRIVELINE, MASS_KG, MAX_POWER_W, ROLLING};
use crate::simulator::true_effect;

const README: &str = include_str!("README.txt");

/// Writes every file that is no log.
pub fn write(
    folder: &Path,
    air_flow_factor: f64,
    logs: &[(Dialect, String)],
) -> anyhow::Result<()> {
    let put = |name: &str, text: &str| std::fs::write(folder.join(name), text);
    put("car.toml", &car())?;
    put(
        "setup_open-ducts.toml",
        "# Setup sheet: the car as it came.\nname = \"open-ducts\"\n\
         changed = \"nothing: gaps around the radiator as built\"\n",
    )?;
    put(
        "setup_sealed-ducts.toml",
        "# Setup sheet: what the part changed.\nname = \"sealed-ducts\"\n\
         changed = \"gaps around the radiator sealed with foam and sheet, from the inlet to the \
         core\"\naffects = [\"air\"]\n",
    )?;
    put("truth.toml", &truth(air_flow_factor))?;
    put("README.md", &page(logs))?;
    Ok(())
}

/// The page, with the files' names put in.
fn page(logs: &[(Dialect, String)]) -> String {
    let mut text = README.to_owned();
    for (mark, dialect) in [
        ("{comma}", Dialect::Comma),
        ("{split}", Dialect::Split),
        ("{semicolon}", Dialect::Semicolon),
        ("{tab}", Dialect::Tab),
        ("{blemished}", Dialect::Blemished),
    ] {
        let files: Vec<String> = logs
            .iter()
            .filter(|(own, _)| *own == dialect)
            .map(|(_, file)| format!("`{file}`"))
            .collect();
        text = text.replace(mark, &files.join(", "));
    }
    text
}

fn car() -> String {
    format!(
        "# Car sheet of an invented car. The owner's figures are round, as owners' figures are.\n\
         name = \"Test car 3\"\n\
         mass_kg = {MASS_KG:.0}\n\
         drag_area_m2 = {DRAG_AREA_M2:.2}\n\
         rolling_resistance = {ROLLING:.3}\n\
         max_power_kw = {:.0}\n\
         driveline_efficiency = {DRIVELINE:.2}\n\
         coolant_l = {COOLANT_L:.1}\n\
         glycol_volume_percent = {GLYCOL_PERCENT:.0}\n\
         metal_heat_capacity_j_per_k = 75000\n\
         thermostat_opens_c = {OPENS_C:.0}\n\
         thermostat_full_open_c = {FULL_OPEN_C:.0}\n\
         cap_pressure_bar_gauge = 1.3\n\
         altitude_m = 230\n\
         limit_coolant_c = 110\n\
         limit_margin_k = 5\n",
        MAX_POWER_W / 1e3
    )
}

fn truth(air_flow_factor: f64) -> String {
    let effect = true_effect(air_flow_factor, REFERENCE_AMBIENT_C);
    format!(
        "# What sealing the ducts truly does in these logs, after minus before. Not measured and\n\
         # not fitted: the simulator run with both cars, without wind, scatter or sensors, through\n\
         # the same even laps at the same air; means over hot running after 500 s of warming.\n\
         # The air flow through the core was chosen so that mean coolant changes by {TRUE_CHANGE_K} K.\n\
         seed = {SEED}\n\
         reference_ambient_c = {REFERENCE_AMBIENT_C:.1}\n\
         air_flow_factor = {air_flow_factor:.5}\n\
         # Thermostat held fully open.\n\
         mean_change_k = {:.3}\n\
         peak_change_k = {:.3}\n\
         # Thermostat working.\n\
         regulated_mean_change_k = {:.3}\n\
         regulated_peak_change_k = {:.3}\n\
         # Mean heat to the air over mean coolant minus ambient, after over before.\n\
         conductance_ratio = {:.4}\n\
         before_mean_c = {:.2}\n\
         before_peak_c = {:.2}\n",
        effect.mean_change_k,
        effect.peak_change_k,
        effect.regulated_mean_change_k,
        effect.regulated_peak_change_k,
        effect.conductance_ratio,
        effect.before_mean_c,
        effect.before_peak_c,
    )
}
