//! What a file says of itself and its values deny: labels, columns, speeds, order of sessions.

use super::super::{IngestError, ReadOptions, read_sessions_bytes};
use super::{drive, has, imported, kept, mapping, read};
use crate::session::{Role, Session};
use crate::warning::Severity::{Caution, Note};

/// A warm-up from 20 to 97 over a log of 15 minutes.
fn warm_up(i: usize) -> usize {
    20 + (77 * i / 100).min(77)
}

fn unit(session: &Session, role: Role) -> &str {
    &session.meta.channels[&role].unit
}

/// °C under a label of °F made a coolant of 36 °C and air of -7 °C, without a word.
#[test]
fn a_label_of_fahrenheit_over_celsius_is_doubted() {
    let row = |coolant: fn(usize) -> usize| {
        move |i: usize| format!("{},{},{},20,22", 3 * i, coolant(i), 50 + i % 60)
    };
    let header = "Time (s),Coolant (°F),Speed (km/h),Ambient (°F),IAT (°F)";
    let session = read(&drive(header, row(warm_up)));
    let doubts: Vec<&str> = session
        .meta
        .warnings
        .iter()
        .filter(|w| w.id == "unit-label-doubted" && w.severity == Caution)
        .map(|w| w.message.as_str())
        .collect();
    assert_eq!(doubts.len(), 2, "{doubts:?}");
    assert!(doubts[0].contains("97 °F is 36 °C") && doubts[0].contains("15 min"));
    assert!(
        doubts[1].ends_with("--map \"ambient=Ambient (°F):°C\""),
        "{}",
        doubts[1]
    );
    let sound = read(&drive(header, row(|i| 80 + i % 120)));
    assert!(!has(&sound, "unit-label-doubted", Caution));
}

/// The air was taken for a coolant that never gets warm, and the coolant for air in °F.
#[test]
fn coolant_and_ambient_the_other_way_round_are_refused() {
    let row = |i: usize| format!("{},20.{},{},{}", 3 * i, i % 9, warm_up(i), 50 + i % 60);
    let text = drive("Time (s),Coolant (°C),Ambient (°C),Speed (km/h)", row);
    let refusal = imported(&text, &ReadOptions::default()).unwrap_err();
    assert!(matches!(refusal, IngestError::Swapped { .. }), "{refusal}");
    assert!(
        refusal
            .hint()
            .contains("--map \"coolant=Ambient (°C)\" --map \"ambient=Coolant (°C)\"")
    );
    let typed = mapping(&["coolant=Ambient (°C)", "ambient=Coolant (°C)"]);
    let session = imported(&text, &typed).unwrap();
    assert_eq!(session.meta.channels[&Role::Coolant].max, Some(97.0));
}

/// Knots were read as km/h where the positions, or a column that names its unit, said otherwise.
#[test]
fn a_speed_without_a_unit_is_told_by_positions_and_by_another_speed() {
    let metres = |i: usize| 25.0 * i as f64;
    let by_positions = |i: usize| {
        let lat = 48.0 + metres(i) / 111_195.0;
        format!("{i},{},{},20,{lat:.6},8.0", 80 + i % 9, 25.0 / 0.514_44)
    };
    let header = "Time (s),Coolant (°C),GPS speed,Ambient (°C),Latitude,Longitude";
    let session = read(&drive(header, by_positions));
    assert_eq!(unit(&session, Role::Speed), "kn");
    let beside = |i: usize| {
        let mph = 40 + i % 50;
        format!("{i},{},{mph},{mph},20", 80 + i % 9)
    };
    let session = read(&drive(
        "Time (s),Coolant (°C),GPS speed (mph),Vehicle speed,Ambient (°C)",
        beside,
    ));
    assert_eq!(unit(&session, Role::Speed), "mph");
    assert_eq!(session.meta.channels[&Role::Speed].column, "Vehicle speed");
}

/// A column that reads the same in every row was taken before one of its role that lives.
#[test]
fn a_column_that_stands_comes_after_one_that_lives() {
    let row = |i: usize| format!("{i},1.0,2.0,{},0,{},20", 30 + i % 90, 80 + i % 9);
    let text = drive(
        "Time (s),Speed X,Speed Y,GPS Speed (km/h),Coolant temp A,Coolant temp B,Ambient temp (°C)",
        row,
    );
    let session = read(&text);
    let column = |role: Role| session.meta.channels[&role].column.as_str();
    assert_eq!(column(Role::Speed), "GPS Speed (km/h)");
    assert_eq!(column(Role::Coolant), "Coolant temp B");
    assert!(has(&session, "column-stands", Caution));
    assert!(!has(&session, "ambiguous-column", Caution));
    let insisted = imported(&text, &mapping(&["speed=Speed X:km/h"])).unwrap();
    assert_eq!(insisted.meta.channels[&Role::Speed].column, "Speed X");
}

/// Two sessions of a day, each of 250 s, at these seconds of the day; the second starts at
/// `coolant` and `kmh`.
fn two_blocks(first_s: usize, second_s: usize, coolant: usize, kmh: usize) -> Vec<Session> {
    let row = |i: usize| {
        let (from, at) = if i < 250 {
            (first_s, i)
        } else {
            (second_s, i - 250)
        };
        let s = from + at;
        let clock = format!(
            "2031-05-17 {:02}:{:02}:{:02}",
            s / 3600,
            s / 60 % 60,
            s % 60
        );
        let speed = if (240..260).contains(&i) {
            kmh
        } else {
            60 + i % 60
        };
        let coolant = if i < 250 { 90 } else { coolant };
        format!("{clock},{},{speed},20\n", coolant + i % 2)
    };
    let rows: String = (0..500).map(row).collect();
    let text = format!("Time,Coolant (°C),Speed (km/h),Ambient (°C)\n{rows}");
    read_sessions_bytes("a.csv", text.as_bytes(), &[], &ReadOptions::default()).unwrap()
}

/// The newest session first was one of 50 minutes.
#[test]
fn sessions_with_the_newest_first_are_parted() {
    let sessions = two_blocks(60_000, 51_650, 25, 0);
    let starts: Vec<String> = sessions
        .iter()
        .map(|s| s.meta.start.unwrap().time().to_string())
        .collect();
    assert_eq!(starts, ["16:40:00", "14:20:50"]);
    // A clock set while the car drives, or to another zone while it stands, parts nothing.
    assert_eq!(two_blocks(60_000, 51_650, 90, 70).len(), 1);
    let zone = two_blocks(60_000, 60_250 - 7200, 90, 0);
    assert_eq!(zone.len(), 1);
    assert!(has(&zone[0], "clock-jump", Caution));
}

/// A clock that starts again with each lap made a session of each.
#[test]
fn laps_with_a_clock_each_are_one_session() {
    for lap in ["", "Lap "] {
        let row = |i: usize| {
            let (lap_n, at) = (i / 75, i % 75);
            format!("{lap}{lap_n},{at},{},{},20", 80 + i % 9, 60 + i % 60)
        };
        let text = drive("Lap,Time (s),Coolant (°C),Speed (km/h),Ambient (°C)", row);
        let session = read(&text);
        assert_eq!(kept(&session), (299.0, 300));
        assert!(has(&session, "lap-clock", Caution));
    }
}

#[test]
fn a_counter_of_sixteen_bits_goes_on() {
    let row = |i: usize| format!("{},{},{},20", 500 * i % 65_536, 80 + i % 9, 60 + i % 60);
    let session = read(&drive(
        "Time (ms),Coolant (°C),Speed (km/h),Ambient (°C)",
        row,
    ));
    assert_eq!(kept(&session), (149.5, 300));
    assert!(has(&session, "clock-wraps", Note));
}

/// Tenths of a second were taken for seconds without a word.
#[test]
fn seconds_that_may_be_tenths_are_doubted() {
    let text = |unit: &str, step: usize| {
        let row = |i: usize| {
            let kmh = 60 + 20 * (i % 120).min(120 - i % 120) / 20;
            format!("{},{},{kmh},20\n", step * i, 80 + i % 9)
        };
        let rows: String = (0..900).map(row).collect();
        format!("Time{unit},Coolant (°C),Speed (km/h),Ambient (°C)\n{rows}")
    };
    assert!(has(&read(&text("", 5)), "time-unit-doubted", Caution));
    let told = read(&text(" (1/10 s)", 5));
    assert_eq!(told.meta.duration_s, 449.5);
    assert!(!has(&told, "time-unit-doubted", Caution));
    assert!(!has(&read(&text("", 1)), "time-unit-doubted", Caution));
}

/// A tenth of the rows lost was a note.
#[test]
fn a_tenth_of_the_rows_lost_is_a_caution() {
    let row = |every: usize| {
        move |i: usize| match i % every {
            0 => format!("lost,{},{},20", 80 + i % 9, 60 + i % 60),
            _ => format!("{i},{},{},20", 80 + i % 9, 60 + i % 60),
        }
    };
    let header = "Time (s),Coolant (°C),Speed (km/h),Ambient (°C)";
    assert!(has(&read(&drive(header, row(8))), "rows-lost", Caution));
    assert!(!has(&read(&drive(header, row(20))), "rows-lost", Caution));
}

/// Raw figures and coolants that stay cold were read in a unit with a note.
#[test]
fn a_coolant_that_never_gets_warm_is_doubted() {
    let row = |most: usize| {
        move |i: usize| format!("{},{},{},20", 3 * i, warm_up(i).min(most), 60 + i % 60)
    };
    let header = "Time (s),Coolant (°C),Speed (km/h),Ambient (°C)";
    assert!(has(&read(&drive(header, row(50))), "coolant-cold", Caution));
    assert!(!has(
        &read(&drive(header, row(90))),
        "coolant-cold",
        Caution
    ));
    let raw = |i: usize| format!("{},{},{},20", 3 * i, warm_up(i) + 40, 60 + i % 60);
    let session = read(&drive("Time (s),ECT raw,Speed (km/h),Ambient (°C)", raw));
    assert!(has(&session, "unit-assumed", Caution));
}

/// An outside temperature above the table was passed over.
#[test]
fn an_ambient_above_the_table_stands_for_the_session() {
    let row = |i: usize| format!("{i},{},{}", 80 + i % 9, 60 + i % 60);
    let text = |told: &str| {
        drive(
            &format!("{told}\n\nTime (s),Coolant (°C),Speed (km/h)"),
            row,
        )
    };
    let told = read(&text("Ambient temperature;68 °F").replace(';', ","));
    assert_eq!(told.meta.channels[&Role::Ambient].mean, Some(20.0));
    assert!(has(&told, "ambient-constant", Caution));
    let given = ReadOptions {
        ambient_c: Some(25.0),
        ..ReadOptions::default()
    };
    let given = imported(&text("Ambient temperature (°C),20"), &given).unwrap();
    assert_eq!(given.meta.channels[&Role::Ambient].mean, Some(25.0));
    let unit_open = read(&text("Ambient temperature,20"));
    assert!(!unit_open.meta.channels.contains_key(&Role::Ambient));
}

/// A coolant column without a number was refused as missing, with itself in the list of columns.
#[test]
fn a_coolant_that_never_reads_is_named() {
    let text = drive("Time (s),Coolant,Speed (km/h)", |i| {
        format!("{i},n/a,{}", i % 80)
    });
    let refusal = imported(&text, &ReadOptions::default()).unwrap_err();
    let said = "a.csv:2: column `Coolant` taken as coolant: no usable number in it, such as `n/a`";
    assert_eq!(refusal.message(), said);
}
