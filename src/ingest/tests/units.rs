//! Units as they are written in the field: known, unknown, in cells, above the table.

use super::super::{IngestError, ReadOptions};
use super::{drive, has, imported, mapping, read};
use crate::session::{Role, Session};
use crate::warning::Severity::Caution;

fn sound(i: usize) -> String {
    format!("{i},{},{},{}", 80 + i % 20, 10 + i % 100, 68 + i % 3)
}

fn unit(session: &Session, role: Role) -> &str {
    &session.meta.channels[&role].unit
}

/// A unit that was written and not known was "no unit" and guessed.
#[test]
fn a_unit_that_is_not_known_is_not_guessed() {
    for header in [
        "Time (s),Coolant (°C),Speed (parsec/h),Ambient (°C)",
        "Time (s),Coolant (°C),Speed [vs],Ambient (°C)",
        "Time (s),Coolant (°C),Speed cubits/s,Ambient (°C)",
        "Time (s),Coolant (0.1 °C),Speed (km/h),Ambient (°C)",
    ] {
        let text = drive(header, sound);
        let refusal = imported(&text, &ReadOptions::default()).unwrap_err();
        assert!(
            matches!(refusal, IngestError::UnusableUnit { .. }),
            "{refusal}"
        );
        assert!(
            refusal.message().contains("is not known; known are"),
            "{refusal}"
        );
        // The hint works when typed.
        let hint = refusal.hint();
        let map = hint.split("--map ").nth(1).unwrap().trim_matches('"');
        imported(&text, &mapping(&[map])).unwrap();
    }
    let text = drive("Time (s),Coolant (°C),Speed (km/h),Ambient (0.1 °C)", sound);
    let session = read(&text);
    assert!(!session.meta.channels.contains_key(&Role::Ambient));
    assert!(has(&session, "unit-unknown", Caution));
}

#[test]
fn units_in_words_cells_and_above_the_names_are_read() {
    let in_cells = |i: usize| format!("{i},{} °C,{} mph,{} °F", 80 + i % 20, 10 + i % 100, 68);
    for text in [
        drive(
            "Time (s),Coolant (Grad Celsius),Speed (miles per hour),Ambient (degrees F)",
            sound,
        ),
        drive("Time (s),Coolant/°C,Speed/mph,Ambient/°F", sound),
        drive("Time (s),CoolantDegC,SpeedMph,AmbientDegF", sound),
        drive("Time (s),Coolant,Speed,Ambient", in_cells),
        drive("s,°C,mph,°F\nTime,Coolant,Speed,Ambient", sound),
    ] {
        let session = read(&text);
        let units = [Role::Coolant, Role::Speed, Role::Ambient].map(|role| unit(&session, role));
        assert_eq!(units, ["°C", "mph", "°F"], "{}", &text[..60]);
    }
    let told = drive(
        "Speed unit,mph\n\nTime (s),Coolant (°C),Speed,Ambient (°C)",
        sound,
    );
    let session = read(&told);
    assert_eq!(unit(&session, Role::Speed), "mph");
}

/// `--map` with a unit that is not known said that there is no such column.
#[test]
fn a_unit_typed_that_is_not_known_is_said() {
    let text = drive("Time (s),Coolant (°C),Speed,Ambient (°C)", sound);
    let refusal = imported(&text, &mapping(&["speed=Speed:furlongs"])).unwrap_err();
    assert!(
        refusal
            .message()
            .contains("the unit `furlongs` of column `Speed` is not known"),
        "{refusal}"
    );
    assert!(
        refusal.hint().contains("--map \"speed=Speed:km/h\""),
        "{}",
        refusal.hint()
    );
}

/// 92 % of a speed in 0.1 km/h were dropped, and the rest imported.
#[test]
fn a_needed_channel_that_mostly_cannot_be_is_refused() {
    let row = |i: usize| format!("{i},{},{},20", 80 + i % 20, 6 * (10 + i % 200));
    let text = drive("Time (s),Coolant (°C),Speed (km/h),Ambient (°C)", row);
    let refusal = imported(&text, &ReadOptions::default()).unwrap_err();
    assert!(
        matches!(refusal, IngestError::MostlyImpossible { .. }),
        "{refusal}"
    );
    assert!(
        refusal.hint().contains("--map \"speed=Speed (km/h):"),
        "{}",
        refusal.hint()
    );
}

#[test]
fn gauge_pressure_is_not_taken_for_absolute() {
    let row = |i: usize| format!("{},{}", sound(i), -60 + i as i64 % 100);
    for column in ["MAP (kPa g)", "Manifold pressure rel. (kPa)"] {
        let text = drive(
            &format!("Time (s),Coolant (°C),Speed (km/h),Ambient (°F),{column}"),
            row,
        );
        let session = read(&text);
        assert!(
            !session.meta.channels.contains_key(&Role::ManifoldPressure),
            "{column}"
        );
        assert!(has(&session, "unit-unknown", Caution), "{column}");
    }
}

#[test]
fn pressure_below_zero_is_no_absolute_pressure() {
    let row = |i: usize| format!("{},{}", sound(i), -60 + i as i64 % 100);
    let text = drive(
        "Time (s),Coolant (°C),Speed (km/h),Ambient (°F),MAP (kPa)",
        row,
    );
    let session = read(&text);
    assert!(!session.meta.channels.contains_key(&Role::ManifoldPressure));
    assert!(has(&session, "gauge-pressure", Caution));
}

#[test]
fn a_flow_without_a_unit_is_assumed_aloud() {
    let row = |i: usize| format!("{},{}", sound(i), 10 + i % 50);
    let text = drive("Time (s),Coolant (°C),Speed (km/h),Ambient (°F),MAF", row);
    let session = read(&text);
    assert!(has(&session, "unit-assumed", Caution));
}

/// An ambient of 0 until its device woke, and one of 0 throughout, pulled the mean down unsaid.
#[test]
fn zeros_of_a_device_that_sleeps_are_no_air() {
    let row = |from: usize| {
        move |i: usize| {
            let ambient = if i < from { "0" } else { "20.5" };
            format!("{i},{},{},{ambient}", 80 + i % 20, 100 + i % 20)
        }
    };
    let header = "Time (s),Coolant (°C),Speed (km/h),Ambient (°C)";
    let woken = read(&drive(header, row(60)));
    assert_eq!(woken.meta.channels[&Role::Ambient].mean, Some(20.5));
    assert!(has(&woken, "zero-before-data", Caution));
    let dead = read(&drive(header, row(300)));
    assert!(has(&dead, "ambient-zero", Caution));
}

#[test]
fn a_radiator_that_heats_is_doubted() {
    let row = |i: usize| format!("{i},{},{},{},20", 80 + i % 5, 86 + i % 5, 100 + i % 20);
    let text = drive(
        "Time (s),Coolant in (°C),Coolant out (°C),Speed (km/h),Ambient (°C)",
        row,
    );
    let session = read(&text);
    assert!(has(&session, "radiator-out-hotter", Caution));
}

/// A sensor that failed, or an engine that boiled, turned °C into °F.
#[test]
fn the_hottest_values_do_not_tell_the_unit() {
    let log = |header: &str, coolant: fn(usize) -> f64, ambient: fn(usize) -> f64| {
        drive(header, |i| {
            format!("{i},{:.1},{},{:.1}", coolant(i), 60 + i % 60, ambient(i))
        })
    };
    let steady = |i: usize| 85.0 + (i % 9) as f64;
    let air = |i: usize| 21.5 + (i % 3) as f64 * 0.1;
    let bare = "t,Coolant,Speed,Ambient";
    let unit = |text: &str, role: Role| read(text).meta.channels[&role].unit.clone();
    let boils = |i: usize| {
        if (200..240).contains(&i) {
            140.0 + (i % 3) as f64
        } else {
            85.0 + (i % 9) as f64
        }
    };
    assert_eq!(unit(&log(bare, boils, air), Role::Coolant), "°C");
    let in_the_sun = |i: usize| 21.5 + 40.0 * (-(i as f64) / 30.0).exp();
    let text = log(bare, steady, in_the_sun);
    assert_eq!(
        (unit(&text, Role::Ambient), unit(&text, Role::Speed)),
        ("°C".to_owned(), "km/h".to_owned())
    );
    // Labelled, and failed for most of the session.
    let fails = |i: usize| if i < 120 { 21.5 } else { 85.0 };
    let labelled = "t,Coolant (°C),Speed (km/h),Ambient (°C)";
    let refusal = imported(&log(labelled, steady, fails), &ReadOptions::default()).unwrap_err();
    assert!(
        refusal.message().contains("180 of 300 values cannot be"),
        "{refusal}"
    );
    // A coolant in °F is still told by its values.
    let hot = |i: usize| 185.0 + (i % 9) as f64;
    assert_eq!(unit(&log(bare, hot, |_| 70.5), Role::Coolant), "°F");
}

/// A logger set to another unit on the way: half of the file was converted wrongly.
#[test]
fn a_column_that_changes_its_unit_is_told() {
    let fahrenheit = |c: f64| 1.8 * c + 32.0;
    let cells = |i: usize| {
        let (coolant, air) = (85.0 + (i % 9) as f64, 21.5);
        match i {
            0..150 => format!("{i},{coolant:.1},{},{air}", 60 + i % 60),
            _ => format!(
                "{i},{:.1},{},{:.1}",
                fahrenheit(coolant),
                60 + i % 60,
                fahrenheit(air)
            ),
        }
    };
    let text = drive("t,Coolant (°C),Speed (km/h),Ambient (°C)", cells);
    let session = read(&text);
    assert!(has(&session, "unit-switches", Caution));
    let channel = |role: Role| session.meta.channels[&role].clone();
    assert_eq!(
        (channel(Role::Coolant).max, channel(Role::Ambient).mean),
        (Some(93.0), Some(21.5))
    );
}
