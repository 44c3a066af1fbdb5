//! Tables of other shapes, and several sessions in one file.

use super::super::{IngestError, ReadOptions, inspect, read_sessions, read_sessions_bytes};
use super::fixtures::{as_made, path, read};
use super::{has, ids, kept};
use crate::session::{Role, Session};
use crate::warning::Severity::{Caution, Note};

fn all(name: &str) -> Vec<Session> {
    read_sessions(&path(name), &ReadOptions::default()).unwrap_or_else(|e| panic!("{e}"))
}

/// Readings of a channel: time and value.
fn readings(session: &Session, role: Role) -> Vec<(f64, f64)> {
    let values = session.channel(role).unwrap();
    let timed = session.time_s().into_iter().zip(values);
    timed.filter(|(_, v)| !v.is_nan()).collect()
}

#[test]
fn the_long_form_is_made_wide() {
    let session = read("long_form.csv");
    as_made(&session);
    assert!(has(&session, "long-form", Note), "{:?}", ids(&session));
    assert_eq!(readings(&session, Role::Coolant).len(), 60);
    assert_eq!(readings(&session, Role::Speed)[59].0, 59.0);
    let ambient: Vec<f64> = readings(&session, Role::Ambient)
        .iter()
        .map(|r| r.0)
        .collect();
    assert_eq!(ambient, [0.5, 10.5, 20.5, 30.5, 40.5, 50.5]);
    let coolant = &session.meta.channels[&Role::Coolant];
    assert_eq!(
        (coolant.unit.as_str(), coolant.column.as_str()),
        ("°C", "Kühlmitteltemperatur")
    );
}

#[test]
fn channels_listed_one_after_the_other_are_put_in_order() {
    let session = read("long_form_channel_after_channel.csv");
    as_made(&session);
    assert_eq!(readings(&session, Role::Coolant).len(), 60);
    assert_eq!(readings(&session, Role::Speed).len(), 120);
    assert_eq!(session.time_s()[..3], [0.0, 0.25, 0.5]);
    assert!(!ids(&session).contains(&"clock-steps-back"));
}

#[test]
fn clocks_of_single_channels_become_one() {
    let session = read("clock_for_every_channel.csv");
    as_made(&session);
    assert!(has(&session, "own-clocks", Note));
    let coolant = readings(&session, Role::Coolant);
    assert_eq!((coolant.len(), coolant[29]), (30, (29.0, 81.45)));
    let speed = readings(&session, Role::Speed);
    assert_eq!((speed.len(), speed[119].0), (120, 29.75));
}

#[test]
fn sessions_stacked_in_a_file_are_parted() {
    let again = all("clock_starts_again.csv");
    let rows: Vec<usize> = again.iter().map(|s| s.meta.rows_kept).collect();
    assert_eq!(rows, [80, 70]);
    assert!(again.iter().all(|s| has(s, "several-sessions", Note)));
    assert_eq!(again[1].meta.file, "clock_starts_again.csv (2 of 2)");
    assert_ne!(again[0].meta.sha256, again[1].meta.sha256);

    let named = all("sessions_in_a_column.csv");
    let lengths: Vec<f64> = named.iter().map(|s| s.meta.duration_s).collect();
    assert_eq!(lengths, [39.0, 29.0, 29.0]);

    let paused = all("long_pause_between_sessions.csv");
    let starts: Vec<String> = paused
        .iter()
        .map(|s| s.meta.start.unwrap().to_string())
        .collect();
    assert_eq!(starts, ["2024-05-04 10:00:00", "2024-05-04 11:00:00"]);
    let looked = inspect(
        &path("long_pause_between_sessions.csv"),
        &ReadOptions::default(),
    );
    let files: Vec<&str> = looked.iter().map(|report| report.file.as_str()).collect();
    assert_eq!(
        files,
        [
            "long_pause_between_sessions.csv (1 of 2)",
            "long_pause_between_sessions.csv (2 of 2)"
        ]
    );
    let told = [
        "lines 2, 72 (the clock jumps by 59 min)",
        "line 72 (the clock jumps by 59 min)",
    ];
    for (report, why) in looked.iter().zip(told) {
        assert!(report.warnings.iter().any(|w| w.message.contains(why)));
    }
}

#[test]
fn a_flag_for_one_session_is_refused_for_several() {
    let options = ReadOptions {
        start: chrono::NaiveDate::from_ymd_opt(2024, 5, 4).and_then(|d| d.and_hms_opt(9, 0, 0)),
        ..ReadOptions::default()
    };
    let error = read_sessions(&path("clock_starts_again.csv"), &options).unwrap_err();
    assert!(
        matches!(error, IngestError::SeveralSessions { count: 2, .. }),
        "{error}"
    );
    assert!(error.hint().contains("line 82"), "{}", error.hint());
}

#[test]
fn a_block_written_again_and_a_frozen_end_are_no_new_time() {
    let session = read("repeated_block_at_the_end.csv");
    assert_eq!(kept(&session), (99.0, 100));
    assert!(has(&session, "repeated-rows", Caution));
    let session = read("frozen_end.csv");
    assert_eq!(session.meta.duration_s, 60.0);
    assert!(has(&session, "frozen-end", Caution));
}

#[test]
fn the_end_of_summer_time_is_no_step_back() {
    let session = read("summer_time_ends.csv");
    assert_eq!(kept(&session), (59.0, 60));
    assert!(has(&session, "summer-time", Note), "{:?}", ids(&session));
}

/// A clock put on by an hour while the car drove made two sessions of one.
#[test]
fn a_clock_put_on_while_driving_parts_no_session() {
    let log = |before_kmh: u32, cooled: u32| {
        let row = |i: u32| {
            let late = if i < 150 { 0 } else { 3600 };
            let kmh = if i < 150 { before_kmh } else { 120 };
            let coolant = if i < 150 { 95 } else { 95 - cooled };
            format!("{},{coolant},{kmh},20\n", i + late)
        };
        let rows: String = (0..300).map(row).collect();
        format!("Time [s],Coolant [°C],Speed [km/h],Ambient [°C]\n{rows}")
    };
    let read = |text: String| {
        let options = ReadOptions::default();
        read_sessions_bytes("a.csv", text.as_bytes(), &[], &options).unwrap()
    };
    let driven = read(log(100, 2));
    assert_eq!(driven.len(), 1);
    assert_eq!(driven[0].meta.duration_s, 299.0);
    assert!(has(&driven[0], "clock-jump", Caution));
    // It stood, it came back much faster, it had cooled: a pause.
    for (before_kmh, cooled) in [(10, 2), (80, 2), (100, 30)] {
        assert_eq!(
            read(log(before_kmh, cooled)).len(),
            2,
            "{before_kmh} {cooled}"
        );
    }
}
