//! Which column is which channel: the words that loggers use, in five languages.
//!
//! A rule needs one word of each of its groups and none of the words it excludes. The score says
//! how surely the words name the role; the highest one wins, first among the roles of a column,
//! then among the columns of a role.

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

struct Rule {
    role: Role,
    score: u32,
    groups: &'static [&'static str],
    none: &'static str,
}

const fn rule(role: Role, score: u32, groups: &'static [&'static str], none: &'static str) -> Rule {
    Rule {
        role,
        score,
        groups,
        none,
    }
}

const TEMP: &str = "temp";
const COOLANT: &str = "coolant|kuhlmittel|kuehlmittel|kuhlwasser|kuehlwasser|refroidissement|\
    refrigerante|raffreddamento|=water|wasser|watertemp|=eau|=agua|=acqua|=h2o";
const NOT_COOLANT: &str = "=oil|^oltemp|^oel|huile|aceite|=olio|pressure|druck|pression|presion|\
    level|=flow|pump|=fan|luft|charge|suralim|intercooler|=cac|target|desired|setpoint|sollwert|\
    warning|alarm|lamp|gearbox|transmission|exhaust|=egt|brake|battery|inverter|heater|inlet|\
    eintritt|=delta|=diff|max|=min";
const RADIATOR: &str = "radiator|kuhler|kuehler|radiateur|radiador|radiatore|=rad";
const OUT: &str = "=out|outlet|austritt|ausgang|sortie|salida|uscita|=nach|=after|apres|despues|\
    =dopo|=post|downstream|=aus|=exit|=off";
const IN: &str = "=in|inlet|eintritt|eingang|entree|entrada|ingresso|=vor|=before|avant|antes|\
    =prima|=pre|upstream|=ein";
const PRESSURE: &str = "pressure|druck|pression|presion|=press|=map";
const OUTSIDE: &str = "ambient|outside|outdoor|exterior|aussen|umgebung|exterieur|esterna|=ext";
const NOT_OUTSIDE: &str = "pressure|druck|pression|presion|humid|feucht|light|wind|dew|=tau|\
    intake|target|set";
const INTAKE: &str = "intake|ansaug|admission|admision|aspirazione|aspirata|=inlet|induction";
const NOT_INTAKE: &str = "pressure|druck|pression|presion|valve|=cam|camshaft|=map|radiator|\
    coolant|=oil|turbine|cooler|kuhler|flow|mass|water|target|volum";
const CHARGE: &str = "charge|ladeluft|intercooler|=cac|=llk|=ic|suralim|sobrealim|sovralim";
const NOT_CHARGE: &str = "pressure|druck|pression|presion|coolant|=water|kuhlmittel|target|=load";
const OIL: &str = "=oil|^oiltemp|=oel|^oeltemp|=ol|^oltemp|motorol|motoroel|huile|aceite|=olio";
const NOT_OIL: &str = "pressure|druck|pression|presion|level|stand|niveau|nivel|gearbox|trans|\
    getriebe|boite|=caja|cambio|=diff|differential|axle|=press|cooler|kuhler|life|flow";
const ENGINE: &str = "engine|=eng|motor|moteur|motore";
const SPEED: &str = "speed|velocity|geschwindigkeit|vitesse|velocidad|velocita|=vss|=kmh|=kph|=mph";
const NOT_SPEED: &str = "engine|=eng|motor|moteur|motore|=wind|^wind|=fan|lufter|turbo|turbine|pump|\
    limit|cruise|=set|target|rpm|shaft|idle|rotation|drehzahl|vertical|accuracy|error|delta|\
    trans|input|output|average|mean|max|angular|=yaw";
/// For speeds without further words: wheels and positions have rules of their own.
const NOT_PLAIN_SPEED: &str = "engine|=eng|motor|moteur|motore|=wind|^wind|=vent|=fan|lufter|turbo|turbine|\
    pump|limit|cruise|=set|target|rpm|shaft|idle|rotation|drehzahl|vertical|accuracy|error|delta|\
    trans|input|output|average|mean|max|angular|=yaw|wheel|=rad|roue|rueda|ruota|radgesch|gps|gnss|\
    =viento|=vento";
const WHEEL: &str = "wheel|=rad|roue|rueda|ruota|radgeschwindigkeit";
const WIND: &str = "=wind|^wind|=vent|=viento|=vento";
const PEDAL: &str = "pedal|accelerator|=app|=fahrpedal|gaspedal|=acelerador|=acceleratore";
const NOT_THROTTLE: &str = "command|target|desired|soll|temp|voltage|=error|motor";
const FUEL: &str = "fuel|kraftstoff|carburant|combustible|carburante|benzin|=gasolina";
const RATE: &str = "=rate|flow|verbrauch|consumption|durchfluss|debit|caudal|portata|\
    consommation|consumo";

const RULES: &[Rule] = &[
    rule(
        Role::RadiatorOut,
        115,
        &[RADIATOR, OUT],
        "luft|=air|=oil|^ol|charge|fan|pressure",
    ),
    rule(
        Role::RadiatorOut,
        112,
        &[COOLANT, OUT],
        "engine|motor|moteur|pressure|charge|luft|level",
    ),
    rule(
        Role::Coolant,
        115,
        &[COOLANT, TEMP, ENGINE, OUT],
        NOT_COOLANT,
    ),
    rule(Role::Coolant, 100, &[COOLANT, TEMP], NOT_COOLANT),
    rule(
        Role::Coolant,
        98,
        &["=ect|=clt|=tmot|=twater|=tcoolant|=ect1"],
        "=pressure|=target",
    ),
    rule(
        Role::Coolant,
        90,
        &[RADIATOR, IN],
        "luft|=air|=oil|^ol|charge|fan|pressure",
    ),
    rule(Role::Coolant, 80, &[COOLANT], NOT_COOLANT),
    rule(
        Role::Coolant,
        60,
        &[ENGINE, TEMP],
        "=oil|^ol|^motorol|motoroel|air|luft|intake|exhaust|=bay|inlet|huile|aceite|olio|outside|\
         ambient|target|electric|inverter|room",
    ),
    rule(Role::Ambient, 100, &[OUTSIDE, TEMP], NOT_OUTSIDE),
    rule(
        Role::Ambient,
        100,
        &["=air|=aire|=aria", "=ambiante|=ambiente", TEMP],
        NOT_OUTSIDE,
    ),
    rule(
        Role::Ambient,
        95,
        &["=aat|=oat|=tamb|=t amb|=tumg"],
        "=pressure",
    ),
    rule(
        Role::Ambient,
        85,
        &[OUTSIDE],
        "pressure|druck|pression|presion|humid|feucht|light|wind|speed",
    ),
    rule(
        Role::Ambient,
        80,
        &["=ambiante|=ambiente", TEMP],
        NOT_OUTSIDE,
    ),
    rule(Role::Intake, 100, &[INTAKE, TEMP], NOT_INTAKE),
    rule(Role::Intake, 98, &["=iat|=iat1|=tans"], "=target"),
    rule(
        Role::Intake,
        85,
        &["manifold", "=air|=charge", TEMP],
        "pressure|coolant",
    ),
    rule(Role::Intake, 75, &[INTAKE], NOT_INTAKE),
    rule(Role::Oil, 100, &[OIL, TEMP], NOT_OIL),
    rule(Role::Oil, 95, &["=eot|=oilt|=toil|=toel"], ""),
    rule(Role::Oil, 70, &[OIL], NOT_OIL),
    rule(Role::ChargeIn, 105, &[CHARGE, IN], NOT_CHARGE),
    rule(Role::ChargeOut, 105, &[CHARGE, OUT], NOT_CHARGE),
    rule(
        Role::Rpm,
        100,
        &["=rpm|^rpm|enginerpm|motordrehzahl"],
        "wheel|turbine|turbo|=fan|pump|target|idle|=limit",
    ),
    rule(
        Role::Rpm,
        98,
        &[
            ENGINE,
            "speed|drehzahl|regime|regimen|=giri|revolution|=revs",
        ],
        "target|idle|soll|limit|load|road",
    ),
    rule(
        Role::Rpm,
        90,
        &["drehzahl|=regime|=regimen|=giri|=nmot|=revs|revolutions"],
        "wheel|=rad|turbo|lufter|=fan|pump|soll|leerlauf|ralenti",
    ),
    rule(
        Role::Speed,
        100,
        &[
            "vehicle|=car|fahrzeug|vehicule|vehiculo|veicolo|=vss|=obd|=road|=ground",
            SPEED,
        ],
        NOT_SPEED,
    ),
    rule(Role::Speed, 98, &["=vss"], ""),
    rule(
        Role::Speed,
        90,
        &["=speed|^speed|geschwindigkeit|vitesse|velocidad|velocita|velocity|=kmh|=kph|=mph"],
        NOT_PLAIN_SPEED,
    ),
    rule(Role::Speed, 85, &["=gps|=gnss", SPEED], NOT_SPEED),
    rule(Role::Speed, 60, &[WHEEL, SPEED], NOT_SPEED),
    rule(
        Role::Gear,
        100,
        &["=gear|=gang|=rapport|=marcia|=marcha"],
        "ratio|temp|=oil|=target|engine",
    ),
    rule(
        Role::FuelRate,
        100,
        &[FUEL, RATE],
        "temp|pressure|level|trim|average|100km|=sum|total",
    ),
    rule(
        Role::AirFlow,
        100,
        &[
            "=maf|air flow|airflow|mass air|luftmasse|debit d air|debit air|caudal de aire|flujo de aire|portata aria|massa aria",
        ],
        "temp|pressure|volt",
    ),
    rule(
        Role::Load,
        100,
        &[
            "calculated load|calc load|engine load|=engineload|calculated engine|motorlast|charge moteur|charge calculee|carga del motor|carga motor|carico motore",
        ],
        "absolute",
    ),
    rule(
        Role::Load,
        90,
        &["=load|=last|=carga|=carico"],
        "wheel|axle|fuel|absolute",
    ),
    rule(
        Role::Load,
        80,
        &["absolute load|abs load|=load"],
        "wheel|axle|fuel",
    ),
    rule(
        Role::Throttle,
        100,
        &["throttle|drosselklappe|papillon|=mariposa|=farfalla"],
        "command|target|desired|soll|temp|voltage|=error|motor|relative|pedal|accelerator",
    ),
    rule(Role::Throttle, 98, &["=tps|=tps1|=tp"], NOT_THROTTLE),
    rule(
        Role::Throttle,
        80,
        &["throttle", "relative"],
        "command|target|desired|temp|pedal|accelerator",
    ),
    rule(
        Role::Throttle,
        30,
        &[PEDAL],
        "temp|brake|brems|frein|freno|clutch|kupplung",
    ),
    rule(
        Role::ManifoldPressure,
        100,
        &[
            "manifold|saugrohr|collecteur|colector|collettore|admission|admision|intake|ansaug",
            "pressure|druck|pression|presion|=abs|absolute|=press",
        ],
        "temp|baro|difference|target|soll",
    ),
    rule(
        Role::ManifoldPressure,
        98,
        &["=map"],
        "temp|target|soll|=gps|track",
    ),
    rule(
        Role::BarometricPressure,
        100,
        &["barometric|=baro|^barom|atmospher|atmosfer|luftdruck|umgebungsdruck"],
        "temp|=alt|altitude",
    ),
    rule(
        Role::BarometricPressure,
        98,
        &["ambient|outside|=air", PRESSURE],
        "temp|manifold|charge|boost|tyre|tire",
    ),
    rule(
        Role::Lap,
        100,
        &["=lap|=runde|=tour|=vuelta|=giro|=lapnumber|=rundennummer"],
        "time|zeit|temps|tiempo|tempo|dist|best|speed|delta|split",
    ),
    rule(
        Role::Latitude,
        100,
        &["latitude|=lat|breitengrad|latitud|latitudine|geogr breite"],
        "=acc|accel|=g|lateral",
    ),
    rule(
        Role::Longitude,
        100,
        &["longitude|=lon|=long|=lng|langengrad|laengengrad|longitud|longitudine"],
        "=acc|accel|=g|longitudinal",
    ),
    rule(
        Role::Altitude,
        100,
        &["altitude|=alt|elevation|=hohe|=hoehe|meereshohe|altitud|altezza|altitudine"],
        "accuracy|pressure",
    ),
    rule(
        Role::Heading,
        100,
        &["=heading|=course|=bearing|=cog|=kurs|=rumbo|=rotta|=cap|direction of travel"],
        "accuracy|rate|wind|magnetic dev",
    ),
    rule(
        Role::WindSpeed,
        100,
        &[
            WIND,
            "speed|geschwindigkeit|vitesse|velocidad|velocita|force|=ms|=kmh",
        ],
        "gust|boe|rafale|racha|raffica|max",
    ),
    rule(
        Role::WindSpeed,
        70,
        &["=wind|=viento|=vento"],
        "gust|boe|rafale|max|dir|richtung|chill",
    ),
    rule(
        Role::WindDirection,
        110,
        &[
            WIND,
            "=dir|direction|richtung|direccion|direzione|=deg|bearing",
        ],
        "",
    ),
    rule(
        Role::Fan,
        100,
        &["=fan|^fan|lufter|luefter|ventilateur|ventilador|ventola"],
        "temp|charge|cabin|blower",
    ),
    rule(
        Role::AirConditioning,
        100,
        &[
            "air condition|=ac|=a c|=aircon|klima|climatisation|aire acondicionado|climatizzatore|condizionatore",
        ],
        "temp|pressure|druck|setpoint|=accel|=acc",
    ),
];

/// Words that name the outside air in a weather file, where nothing else is measured.
const WEATHER: &[Rule] = &[
    rule(
        Role::Ambient,
        60,
        &["temp"],
        "dew|tau|road|track|asphalt|strecke|piste|pista|feel|chill|soil|min|max|=in|inside|indoor|\
         oil|^ol|gear|getriebe|engine|motor|moteur|coolant|charge|brake|brems|tyre|tire|reifen|cyl|\
         exhaust|diff|clutch|radiator|kuhler|intake|ansaug|target",
    ),
    rule(Role::BarometricPressure, 60, &[PRESSURE], "vapo|tyre|tire"),
];

/// Words that name the intake air in a car's log.
const CAR: &[Rule] = &[rule(
    Role::Intake,
    50,
    &["=air|luft|=aire|=aria", TEMP],
    "ambient|outside|aussen|umgebung|exter|estern|charge|ladeluft|cabin|vent|cooler|kuhler|exhaust",
)];

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
            ("Commanded throttle actuator", Role::Throttle),
            ("Track temp", Role::Ambient),
            ("Ambient pressure", Role::Ambient),
            ("Ladeluftkühler Austritt", Role::RadiatorOut),
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
