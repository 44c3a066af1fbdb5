//! Which column is which channel: the words that loggers use, in five languages.
//!
//! A rule needs one word of each of its groups and none of the words it excludes. The score says
//! how surely the words name the role; the highest one wins, first among the roles of a column,
//! then among the columns of a role.

use super::role_words::{CAR, RULES, WEATHER};
use super::unit_text::split_brackets;
use super::words::{fold, has_any};
use crate::session::Role;

/// What kind of file the columns come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum FileKind {
    /// A car's log.
    Car,
    /// Neither coolant nor vehicle speed: a weather station, say.
    Weather,
}

/// A role that a column's name may mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Meaning {
    pub role: Role,
    /// The higher the surer.
    pub score: u32,
}

/// The score of an accelerator pedal as throttle: taken only where there is no throttle.
pub(super) const PEDAL_SCORE: u32 = 30;

/// Every role that a name (without its unit) may mean, the surest first.
pub(super) fn meanings(bare_name: &str, kind: FileKind) -> Vec<Meaning> {
    let folded = fold(bare_name);
    let more = match kind {
        FileKind::Weather => WEATHER,
        FileKind::Car => CAR,
    };
    let mut found: Vec<Meaning> = Vec::new();
    // `Coolant time` is the clock of a channel, not the channel.
    let last = folded.split_whitespace().last().unwrap_or_default();
    if matches!(
        last,
        "time" | "timestamp" | "zeit" | "uhrzeit" | "zeitstempel"
    ) {
        return found;
    }
    // A role's own name always names it.
    if let Some(role) = Role::parse(folded.trim().replace(' ', "_").as_str()) {
        found.push(Meaning { role, score: 200 });
    }
    for rule in RULES.iter().chain(more) {
        let named = rule.groups.iter().all(|group| has_any(&folded, group));
        if named && !has_any(&folded, rule.none) && !found.iter().any(|m| m.role == rule.role) {
            found.push(Meaning {
                role: rule.role,
                score: rule.score,
            });
        }
    }
    found.sort_by_key(|meaning| std::cmp::Reverse(meaning.score));
    found
}

/// Every role that the name of a car's column, brackets and all, may mean.
pub(super) fn meanings_of(name: &str) -> Vec<Meaning> {
    meanings(&split_brackets(name).0, FileKind::Car)
}

/// Whether a column's name means a role before any other.
pub(super) fn is_named(name: &str, role: Role) -> bool {
    meanings_of(name)
        .first()
        .is_some_and(|meaning| meaning.role == role)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn best(name: &str) -> Option<Role> {
        meanings(name, FileKind::Car).first().map(|m| m.role)
    }

    #[test]
    fn standard_parameter_names_are_known() {
        for (name, role) in [
            ("Engine Coolant Temperature", Role::Coolant),
            ("Intake Manifold Absolute Pressure", Role::ManifoldPressure),
            ("Engine RPM", Role::Rpm),
            ("Vehicle Speed Sensor", Role::Speed),
            ("Intake Air Temperature", Role::Intake),
            ("Air Flow Rate from Mass Flow Sensor", Role::AirFlow),
            ("Absolute Throttle Position", Role::Throttle),
            ("Ambient Air Temperature", Role::Ambient),
            ("Calculated Load Value", Role::Load),
            ("Engine Oil Temperature", Role::Oil),
            ("Engine Fuel Rate", Role::FuelRate),
            ("Barometric Pressure", Role::BarometricPressure),
            ("Engine Speed", Role::Rpm),
        ] {
            assert_eq!(best(name), Some(role), "{name}");
        }
    }

    #[test]
    fn short_and_foreign_names_are_known() {
        for (name, role) in [
            ("ECT", Role::Coolant),
            ("IAT", Role::Intake),
            ("MAP", Role::ManifoldPressure),
            ("MAF", Role::AirFlow),
            ("VSS", Role::Speed),
            ("coolant_c", Role::Coolant),
            ("water temp", Role::Coolant),
            ("WaterTemp", Role::Coolant),
            ("TPS", Role::Throttle),
            ("Kühlmitteltemperatur", Role::Coolant),
            ("Kuehlwassertemp.", Role::Coolant),
            ("Geschwindigkeit", Role::Speed),
            ("Drehzahl", Role::Rpm),
            ("Motordrehzahl", Role::Rpm),
            ("Außentemperatur", Role::Ambient),
            ("Aussentemp", Role::Ambient),
            ("Ansauglufttemperatur", Role::Intake),
            ("Öltemperatur", Role::Oil),
            ("Saugrohrdruck", Role::ManifoldPressure),
            ("Drosselklappe", Role::Throttle),
            ("Luftdruck", Role::BarometricPressure),
            ("Kühler Austritt", Role::RadiatorOut),
            ("Ladeluft vor LLK", Role::ChargeIn),
            ("Ladeluft nach LLK", Role::ChargeOut),
            ("Gang", Role::Gear),
            ("Runde", Role::Lap),
            ("Motorlast", Role::Load),
            ("vitesse", Role::Speed),
            ("Température liquide de refroidissement", Role::Coolant),
            ("Température extérieure", Role::Ambient),
            ("Régime moteur", Role::Rpm),
            ("Température air admission", Role::Intake),
            ("Température huile", Role::Oil),
            ("Velocidad", Role::Speed),
            ("Temperatura refrigerante", Role::Coolant),
            ("Temperatura exterior", Role::Ambient),
            ("Régimen del motor", Role::Rpm),
            ("Temperatura aceite", Role::Oil),
            ("Temperatura aire de admisión", Role::Intake),
            ("Velocità", Role::Speed),
            ("Temperatura acqua", Role::Coolant),
            ("Temperatura esterna", Role::Ambient),
            ("Giri motore", Role::Rpm),
            ("Temperatura liquido raffreddamento", Role::Coolant),
            ("radiator_out_c", Role::RadiatorOut),
            ("Radiator outlet temp", Role::RadiatorOut),
            ("charge_in", Role::ChargeIn),
            ("Wind direction", Role::WindDirection),
            ("Wind speed", Role::WindSpeed),
            ("GPS Speed", Role::Speed),
            ("A/C", Role::AirConditioning),
            ("v_Fzg", Role::Speed),
            ("vFzg", Role::Speed),
            ("T_Umg", Role::Ambient),
            ("Kraftstoff", Role::FuelRate),
            ("Kraftstoffverbrauch", Role::FuelRate),
            ("T_Kuehlm", Role::Coolant),
            ("T_mot", Role::Coolant),
            ("Temp. LDR", Role::Coolant),
            ("T_H2O", Role::Coolant),
            ("n_mot", Role::Rpm),
            ("T° eau", Role::Coolant),
            ("Temp. ext.", Role::Ambient),
            ("Débit carburant", Role::FuelRate),
            ("Pression collecteur", Role::ManifoldPressure),
            ("Consumo combustible", Role::FuelRate),
            ("Temp. agua motor", Role::Coolant),
            ("Presión colector", Role::ManifoldPressure),
            ("Velocità veicolo", Role::Speed),
            ("Temperatura aria esterna", Role::Ambient),
            ("Consumo carburante", Role::FuelRate),
            ("AMBIANT_AIR_TEMP", Role::Ambient),
            ("THROTTLE_POS", Role::Throttle),
            ("INTAKE_PRESSURE", Role::ManifoldPressure),
            ("T_KW", Role::Coolant),
            ("KW-Temp", Role::Coolant),
            ("CoolTemp", Role::Coolant),
            ("Clnt", Role::Coolant),
            ("T_Motor", Role::Coolant),
            ("T uscita motore", Role::Coolant),
            ("T Motor Aus", Role::Coolant),
            ("T eau sortie moteur", Role::Coolant),
            ("Kühlwasser Vorlauf", Role::Coolant),
            ("Kühlwasser Rücklauf", Role::RadiatorOut),
            ("HT coolant temp", Role::Coolant),
            ("Spd", Role::Speed),
            ("Vit.", Role::Speed),
            ("n_engine", Role::Rpm),
            ("Eng Spd", Role::Rpm),
            ("Drehz.", Role::Rpm),
            ("MAT", Role::Intake),
            ("T_Ans", Role::Intake),
            ("Env temp", Role::Ambient),
            ("OutTemp", Role::Ambient),
            ("p_manifold", Role::ManifoldPressure),
            ("External Temp", Role::Ambient),
            ("Vel. GPS", Role::Speed),
            ("Anticongelante", Role::Coolant),
            ("Teau", Role::Coolant),
            ("Tadm", Role::Intake),
            ("Temp Air Box", Role::Intake),
        ] {
            assert_eq!(best(name), Some(role), "{name}");
        }
    }

    #[test]
    fn neighbours_are_not_mistaken() {
        for (name, not) in [
            ("Engine Speed", Role::Speed),
            ("Fan speed", Role::Speed),
            ("Wind speed", Role::Speed),
            ("Oil pressure", Role::Oil),
            ("Gearbox oil temp", Role::Oil),
            ("Coolant pressure", Role::Coolant),
            ("Coolant level", Role::Coolant),
            ("Lap time", Role::Lap),
            ("Lateral acc", Role::Latitude),
            ("Brake pedal", Role::Throttle),
            ("Intake valve angle", Role::Intake),
            ("Fuel level", Role::FuelRate),
            ("Kraftstoffdruck", Role::FuelRate),
            ("Tankfüllstand Kraftstoff", Role::FuelRate),
            ("v_Wind", Role::Speed),
            ("Commanded throttle actuator", Role::Throttle),
            ("Track temp", Role::Ambient),
            ("Ambient pressure", Role::Ambient),
            ("Ladeluftkühler Austritt", Role::RadiatorOut),
            ("Kühlwasser Rücklauf", Role::Coolant),
            ("LT coolant temp", Role::Coolant),
            ("Coolant out temp", Role::Ambient),
            ("Coolant time", Role::Coolant),
            ("Ambient temp time", Role::Ambient),
            ("Coolant Press", Role::Coolant),
            ("Niveau eau", Role::Coolant),
            ("Caudal agua", Role::Coolant),
            ("Portata acqua", Role::Coolant),
            ("Water Injection", Role::Coolant),
            ("Kühlmittel LLK", Role::Coolant),
            ("Amb Press", Role::Ambient),
            ("Outside RH", Role::Ambient),
            ("Umidità esterna", Role::Ambient),
            ("Humedad exterior", Role::Ambient),
            ("Underhood Ambient", Role::Ambient),
            ("Engine Bay Air Temp", Role::Ambient),
            ("Cabin Ambient Temp", Role::Ambient),
            ("Ambient Temp Cockpit", Role::Ambient),
            ("Tire Ambient Temp", Role::Ambient),
            ("Innenraum Umgebungstemperatur", Role::Ambient),
            ("Temperatura ambiente cabina", Role::Ambient),
            ("Logger Ambient", Role::Ambient),
            ("Temp Air Box", Role::Ambient),
            ("Lap Avg Speed", Role::Speed),
        ] {
            assert!(
                meanings(name, FileKind::Car).iter().all(|m| m.role != not),
                "{name}"
            );
        }
    }

    #[test]
    fn a_plain_temperature_is_the_outside_air_in_a_weather_file_only() {
        assert_eq!(
            meanings("Temperature", FileKind::Weather)[0].role,
            Role::Ambient
        );
        assert!(meanings("Temperature", FileKind::Car).is_empty());
        assert_eq!(
            meanings("Air temp", FileKind::Weather)[0].role,
            Role::Ambient
        );
        assert_eq!(best("Air temp"), Some(Role::Intake));
    }

    #[test]
    fn every_role_knows_its_own_name() {
        for &role in Role::ALL {
            assert_eq!(best(role.name()), Some(role));
        }
    }
}
