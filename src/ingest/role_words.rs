//! The words that loggers use for each role, in English, German, French, Spanish and Italian.
//!
//! Text is folded first (see `words`); `=word` is a whole word, `^word` the beginning of one.

use crate::session::Role;

/// One way to name a role.
pub(super) struct Rule {
    pub role: Role,
    /// How surely these words name it.
    pub score: u32,
    /// One word of each is needed.
    pub groups: &'static [&'static str],
    /// None of these may be there.
    pub none: &'static str,
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
/// What else is measured where temperatures are.
pub(super) const NO_TEMPERATURE: &str = "press|presion|druck|level|niveau|nivel|livello|stand|flow|debit|caudal|\
    portata|pump|=fan|lamp|alarm|humid|=rh";
const COOLANT: &str = "coolant|kuhlmittel|kuehlmittel|kuhlwasser|kuehlwasser|refroidissement|\
    refrigerante|raffreddamento|anticongelante|=ldr|^kuhlm|^kuehlm|=water|wasser|watertemp|=eau|=agua|=acqua|=h2o|=clt|=ect";
const NOT_COOLANT: &str = "=oil|^oltemp|^oel|huile|aceite|=olio|pressure|druck|pression|presion|\
    level|=flow|pump|=fan|luft|charge|suralim|intercooler|=cac|target|desired|setpoint|sollwert|\
    warning|alarm|lamp|gearbox|transmission|exhaust|=egt|brake|battery|inverter|heater|inlet|\
    eintritt|=delta|=diff|max|=min|rucklauf|ruecklauf|=return|=retour|=ritorno|=retorno|=nt|=lt|niedertemp|\
    low temp|lowtemp|=press|=llk|niveau|nivel|livello|caudal|portata|debit|injection|einspritz|\
    inyeccion|iniezione";
const RADIATOR: &str = "radiator|kuhler|kuehler|radiateur|radiador|radiatore|=rad";
const OUT: &str = "=out|outlet|austritt|ausgang|sortie|salida|uscita|=nach|=after|apres|despues|\
    =dopo|=post|downstream|=aus|=exit|=off";
const IN: &str = "=in|inlet|eintritt|eingang|entree|entrada|ingresso|=vor|=before|avant|antes|\
    =prima|=pre|upstream|=ein";
const PRESSURE: &str = "pressure|druck|pression|presion|=press|=map";
const OUTSIDE: &str =
    "ambient|ambiant|outside|outdoor|exterior|^extern|aussen|umgebung|exterieur|esterna|=ext|=amb";
/// Air of another place than outside, and what else is measured there.
const NOT_OUTSIDE: &str = "pressure|druck|pression|presion|=press|humid|feucht|humed|umid|=rh|light|\
    wind|dew|=tau|intake|target|set|speed|hood|bonnet|=bay|cabin|cockpit|habitacle|habitaculo|\
    abitacolo|innenraum|interior|interna|interno|=inside|indoor|logger|=dash|tyre|tire|reifen|brake";
const INTAKE: &str = "intake|ansaug|admission|admision|aspirazione|aspirata|=inlet|induction";
const NOT_INTAKE: &str = "pressure|druck|pression|presion|valve|=cam|camshaft|=map|radiator|\
    coolant|=oil|turbine|cooler|kuhler|flow|mass|water|target|volum";
const CHARGE: &str = "charge|ladeluft|intercooler|=cac|=llk|=ic|suralim|sobrealim|sovralim";
const NOT_CHARGE: &str = "pressure|druck|pression|presion|coolant|=water|kuhlmittel|target|=load";
const OIL: &str = "=oil|^oiltemp|=oel|^oeltemp|=ol|^oltemp|motorol|motoroel|huile|aceite|=olio";
const NOT_OIL: &str = "pressure|druck|pression|presion|level|stand|niveau|nivel|gearbox|trans|\
    getriebe|boite|=caja|cambio|=diff|differential|axle|=press|cooler|kuhler|life|flow";
const ENGINE: &str = "engine|=eng|motor|moteur|motore";
const SPEED: &str = "speed|velocity|geschw|vitesse|velocidad|velocita|=vel|=vss|=kmh|=kph|=mph";
const NOT_SPEED: &str = "engine|=eng|motor|moteur|motore|=wind|^wind|=fan|lufter|turbo|turbine|pump|\
    limit|cruise|=set|target|rpm|shaft|idle|rotation|drehzahl|vertical|accuracy|error|delta|\
    trans|input|output|average|mean|max|angular|=yaw";
/// For speeds without further words: wheels and positions have rules of their own.
const NOT_PLAIN_SPEED: &str = "engine|=eng|motor|moteur|motore|=wind|^wind|=vent|=fan|lufter|turbo|turbine|\
    pump|limit|cruise|=set|target|rpm|shaft|idle|rotation|drehzahl|vertical|accuracy|error|delta|\
    trans|input|output|average|mean|avg|=media|moyenne|durchschn|max|=top|=lap|=runde|=tour|=vuelta|=giro|\
    angular|=yaw|wheel|=rad|roue|rueda|ruota|radgesch|gps|gnss|\
    =viento|=vento";
const WHEEL: &str = "wheel|=rad|roue|rueda|ruota|radgeschwindigkeit";
const WIND: &str = "=wind|^wind|=vent|=viento|=vento";
const PEDAL: &str = "pedal|accelerator|=app|=fahrpedal|gaspedal|=acelerador|=acceleratore";
const NOT_THROTTLE: &str = "command|target|desired|soll|temp|voltage|=error|motor";
const FUEL: &str = "fuel|kraftstoff|carburant|combustible|carburante|benzin|=gasolina";
const RATE: &str = "=rate|flow|verbrauch|consumption|durchfluss|debit|caudal|portata|\
    consommation|consumo";

/// The score of a word that counts with a unit only.
pub(super) const UNIT_NEEDED_SCORE: u32 = 58;

/// Words that name a role in any file.
pub(super) const RULES: &[Rule] = &[
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
        Role::RadiatorOut,
        112,
        &[
            COOLANT,
            "rucklauf|ruecklauf|=return|=retour|=ritorno|=retorno",
        ],
        "pressure|charge|luft|level|flow",
    ),
    rule(Role::Coolant, 115, &[COOLANT, ENGINE, OUT], NOT_COOLANT),
    rule(Role::Coolant, 100, &[COOLANT, TEMP], NOT_COOLANT),
    rule(
        Role::Coolant,
        98,
        &[
            "=ect|=clt|=tmot|=t mot|=twater|=teau|=t eau|=tcoolant|=ect1|=tkuhl|=t kuhl|=tkw|=tkm|=t kw|=t km|=kmt|=kw temp|\
           =cool temp|=cooltemp|=cool t|=coolt|=clnt",
        ],
        "=pressure|=target|=in|=out",
    ),
    rule(
        Role::Coolant,
        85,
        &[ENGINE, OUT, "=t|temp"],
        "=oil|^ol|air|luft|aria|intake|exhaust|charge|huile|aceite|olio|outside",
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
        &["=t motor|=t eng|=t engine|=tmotor|=teng|=mot temp|=mottemp"],
        "=oil|^ol|air|luft",
    ),
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
        &["=aat|=oat|=tamb|=t amb|=tumg|=t umg|=tumgebung|=taussen|=t ext|=text|=t est"],
        "=pressure",
    ),
    rule(
        Role::Ambient,
        85,
        &["=out temp|=outtemp|=ambtemp|=env temp|=envtemp"],
        "coolant|water|=oil|rad|charge|engine|kuhl|=eau|=clt|=ect|cooler",
    ),
    rule(Role::Ambient, 85, &[OUTSIDE], NOT_OUTSIDE),
    rule(
        Role::Ambient,
        80,
        &["=ambiante|=ambiente", TEMP],
        NOT_OUTSIDE,
    ),
    rule(Role::Intake, 100, &[INTAKE, TEMP], NOT_INTAKE),
    rule(
        Role::Intake,
        98,
        &["=iat|=iat1|=tadm|=tans|=t ans|=t adm|=t asp|=mat"],
        "=target",
    ),
    rule(
        Role::Intake,
        85,
        &["manifold", "=air|=charge", TEMP],
        "pressure|coolant",
    ),
    rule(Role::Intake, 80, &["airbox|air box", TEMP], NOT_INTAKE),
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
            "speed|=spd|drehzahl|regime|regimen|=giri|revolution|=revs",
        ],
        "target|idle|soll|limit|load|road",
    ),
    rule(
        Role::Rpm,
        90,
        &["drehzahl|=drehz|=regime|=regimen|=giri|=nmot|=n mot|=n engine|=n eng|=revs|revolutions"],
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
        96,
        &[
            "=v",
            "=fzg|=fahrzeug|=veh|=vehicle|=vehicule|=car|=auto|=gps|=ist",
        ],
        NOT_SPEED,
    ),
    rule(
        Role::Speed,
        96,
        &["=vfzg|=vveh|=vehspd|=veh spd|=vehspeed|=vehiclespeed|=vkfz|=v kfz|=vgps"],
        "",
    ),
    rule(
        Role::Speed,
        90,
        &["=speed|^speed|=spd|geschw|vitesse|=vit|velocidad|velocita|=vel|velocity|=kmh|=kph|=mph"],
        NOT_PLAIN_SPEED,
    ),
    // A letter may be anything: it counts with a unit of speed only.
    rule(Role::Speed, UNIT_NEEDED_SCORE, &["=v|=tempo"], NOT_SPEED),
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
    // The bare word may be a level: it counts with a unit of flow only.
    rule(
        Role::FuelRate,
        UNIT_NEEDED_SCORE,
        &[FUEL],
        "temp|pressure|druck|pression|presion|level|stand|niveau|nivel|livello|trim|average|100km|\
         =sum|total|pump|pumpe|pompe",
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
            "pressure|druck|pression|presion|=abs|absolute|=press|=p",
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
pub(super) const WEATHER: &[Rule] = &[
    rule(
        Role::Ambient,
        70,
        &["temp"],
        "dew|tau|road|track|asphalt|strecke|piste|pista|feel|chill|soil|min|max|=in|inside|indoor|\
         oil|^ol|gear|getriebe|engine|motor|moteur|coolant|charge|brake|brems|tyre|tire|reifen|cyl|\
         exhaust|diff|clutch|radiator|kuhler|intake|ansaug|target",
    ),
    rule(Role::BarometricPressure, 70, &[PRESSURE], "vapo|tyre|tire"),
];

/// Words that name the intake air, or else the outside air, in a car's log.
pub(super) const CAR: &[Rule] = &[
    rule(
        Role::Intake,
        50,
        &["=air|luft|=aire|=aria", TEMP],
        "ambient|outside|aussen|umgebung|exter|estern|charge|ladeluft|cabin|vent|cooler|kuhler|exhaust|hood|bonnet|\
         =bay|cockpit|tyre|tire",
    ),
    rule(
        Role::Intake,
        50,
        &["=t luft|=tluft|=t air|=tair|=t aria"],
        "",
    ),
    rule(
        Role::Ambient,
        35,
        &["=t luft|=tluft|=t air|=tair|=t aria"],
        "",
    ),
    rule(
        Role::Ambient,
        35,
        &["=air|luft|=aire|=aria", TEMP],
        "intake|ansaug|admission|admision|charge|ladeluft|cabin|vent|cooler|kuhler|exhaust|aspira|manifold|inlet|\
         airbox|air box|hood|bonnet|=bay|cockpit|tyre|tire",
    ),
];
