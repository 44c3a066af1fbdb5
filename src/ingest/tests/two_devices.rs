//! Two devices with a known offset and drift; a weather station; files that cannot be placed.

use super::super::{IngestError, ReadOptions, read_session_bytes};
use super::{has, ids};
use crate::session::{Role, Session};
use crate::warning::Severity;

/// A drive of laps that are not quite alike, km/h.
fn speed(t: f64) -> f64 {
    let lap = (t / 97.0 * std::f64::consts::TAU).sin();
    110.0 + 50.0 * lap + 20.0 * (t / 13.0).sin() + 12.0 * (t / 41.3 + lap).cos()
}

fn coolant(t: f64) -> f64 {
    88.0 + 6.0 * (t / 300.0).sin()
}

fn clock(second_of_day: f64) -> String {
    let (h, rest) = (
        (second_of_day / 3600.0).floor(),
        second_of_day.rem_euclid(3600.0),
    );
    format!(
        "{h:02.0}:{:02.0}:{:06.3}",
        (rest / 60.0).floor(),
        rest % 60.0
    )
}

/// The main log: 10 Hz from 10:00:00, 1500 s.
fn main_log() -> String {
    let mut text = String::from("Time,Coolant [°C],Speed [km/h]\n");
    for i in 0..15_000 {
        let t = f64::from(i) * 0.1;
        text += &format!(
            "{},{:.0},{:.0}\n",
            clock(36_000.0 + t),
            coolant(t),
            speed(t)
        );
    }
    text
}

/// A second log from `from` s of the drive on, by a clock that is off and drifts.
fn second_log(from: f64, off_s: f64, ppm: f64, with_clock: bool) -> String {
    let mut text = String::from("Time,Speed [mph],Oil temp [°F],Ambient [°C]\n");
    for i in 0..6000 {
        let t = from + f64::from(i) * 0.2;
        let shown = (t - from) * (1.0 + ppm * 1e-6);
        let time = if with_clock {
            clock(36_000.0 + from + off_s + shown)
        } else {
            format!("{:.3}", 7.0 + shown)
        };
        text += &format!(
            "{time},{:.1},{:.1},21.5\n",
            speed(t) / 1.609344,
            coolant(t) * 1.8 + 50.0
        );
    }
    text
}

fn joined(main: &str, other: &str) -> Result<Session, IngestError> {
    read_session_bytes(
        "main.csv",
        main.as_bytes(),
        &[("other.csv", other.as_bytes())],
        &ReadOptions::default(),
    )
}

#[test]
fn offset_and_drift_are_recovered_and_channels_brought_over() {
    for (from, ppm) in [(0.0, 0.0), (137.4, 120.0), (200.0, -200.0)] {
        // The second clock shows 40 s more than the first: -40 s brings it onto that.
        let session = joined(&main_log(), &second_log(from, 40.0, ppm, true)).unwrap();
        let aligned = &session.meta.aligned[0];
        assert!((aligned.offset_s + 40.0).abs() < 0.1, "{aligned:?}");
        assert!(
            (aligned.drift_ppm.unwrap() - ppm).abs() < 25.0,
            "{ppm}: {aligned:?}"
        );
        assert!(aligned.correlation.unwrap() > 0.99, "{aligned:?}");
        assert!(
            has(&session, "clocks-disagree", Severity::Caution),
            "{:?}",
            ids(&session)
        );
        let (t_s, oil) = (session.time_s(), session.channel(Role::Oil).unwrap());
        let worst = t_s
            .iter()
            .zip(&oil)
            .filter(|(_, oil)| !oil.is_nan())
            .map(|(t, oil)| (oil - (coolant(*t) + 10.0)).abs())
            .fold(0.0, f64::max);
        assert!(worst < 0.1, "{worst}");
        assert!(oil.iter().filter(|v| !v.is_nan()).count() > 11_000);
    }
}

#[test]
fn a_running_clock_is_placed_by_the_speed_alone() {
    let session = joined(&main_log(), &second_log(137.4, 0.0, 0.0, false)).unwrap();
    let aligned = &session.meta.aligned[0];
    // It showed 7 s when the main clock showed 10:02:17.4.
    assert!(
        (aligned.offset_s - (36_137.4 - 7.0)).abs() < 0.1,
        "{aligned:?}"
    );
    assert!(!ids(&session).contains(&"clocks-disagree"));
}

#[test]
fn a_weather_file_is_placed_by_the_clock() {
    let mut weather =
        String::from("Date,Time,Temperature [°C],Wind speed [m/s],Wind direction [°]\n");
    for minute in 0..90 {
        weather += &format!(
            "2024-05-04,{:02}:{:02},{:.1},2.5,270\n",
            9 + minute / 60,
            minute % 60,
            18.0 + f64::from(minute) * 0.1
        );
    }
    let session = joined(&main_log(), &weather).unwrap();
    let aligned = &session.meta.aligned[0];
    assert_eq!((aligned.offset_s, aligned.correlation), (0.0, None));
    let ambient = session.channel(Role::Ambient).unwrap();
    // 10:00 is the 60th minute of the weather; ten minutes later the 70th.
    assert_eq!((ambient[0], ambient[6001]), (24.0, 25.0));
    assert!((session.meta.channels[&Role::WindSpeed].mean.unwrap() - 9.0).abs() < 1e-9);
    assert!(!ids(&session).contains(&"no-ambient"));
}

#[test]
fn what_cannot_be_placed_is_an_error_that_says_what_to_type() {
    let main = main_log().replace("Time,", "Clock time,");
    let weather = "Time [s],Temperature [°C]\n0,20\n60,20.5\n120,21\n180,20\n";
    let error = joined(&main, weather).unwrap_err();
    assert!(matches!(error, IngestError::Alignment { .. }), "{error}");
    let elapsed: String = std::iter::once("t [s],Coolant [°C],Speed [km/h]\n".to_owned())
        .chain((0..300).map(|i| format!("{i},90,{:.0}\n", speed(f64::from(i)))))
        .collect();
    let error = joined(&elapsed, weather).unwrap_err();
    assert!(error.hint().contains("--start"), "{}", error.hint());
    let late = "Time,Temperature [°C]\n18:00:00,20\n18:01:00,20.5\n18:02:00,21\n";
    assert!(
        joined(&main, late)
            .unwrap_err()
            .message()
            .contains("it runs from")
    );
}

#[test]
fn coolant_may_come_from_the_second_device() {
    let gps: String = std::iter::once("t [s],Speed [km/h]\n".to_owned())
        .chain((0..6000).map(|i| {
            format!(
                "{:.1},{:.1}\n",
                f64::from(i) * 0.1,
                speed(f64::from(i) * 0.1 + 50.0)
            )
        }))
        .collect();
    let session = joined(&gps, &main_log()).unwrap();
    assert!((session.meta.aligned[0].offset_s - (0.0 - 50.0 - 36_000.0)).abs() < 0.1);
    assert!(session.channel(Role::Coolant).is_some());
}

#[test]
fn a_polled_speed_is_placed_within_its_refresh() {
    let mut polled = String::from("Time,Coolant [°C],Speed [km/h]\n");
    for i in 0..15_000 {
        let t = f64::from(i) * 0.1;
        // One answer a second, repeated until the next.
        let held = t.floor();
        polled += &format!(
            "{},{:.0},{:.0}\n",
            clock(36_000.0 + t),
            coolant(held),
            speed(held)
        );
    }
    let session = joined(&polled, &second_log(100.0, 40.0, 0.0, true)).unwrap();
    let aligned = &session.meta.aligned[0];
    // It looks late by half a refresh on average.
    assert!((aligned.offset_s + 40.0 - 0.5).abs() < 0.2, "{aligned:?}");
    assert!(aligned.drift_ppm.unwrap().abs() < 60.0, "{aligned:?}");
    assert!(aligned.correlation.unwrap() > 0.99, "{aligned:?}");
}

/// An offset that nobody knows, between two clocks that count from their own start.
#[test]
fn an_unknown_offset_of_37_4_s_is_found() {
    let main: String = std::iter::once("t [s],Coolant [°C],Speed [km/h]\n".to_owned())
        .chain((0..9000).map(|i| {
            let t = f64::from(i) * 0.1;
            format!("{t:.1},{:.0},{:.0}\n", coolant(t), speed(t))
        }))
        .collect();
    // This clock shows 37.4 s less at the same moment.
    let other: String = std::iter::once("t [s],Speed [km/h],Oil temp [°C]\n".to_owned())
        .chain((0..4000).map(|i| {
            let shown = f64::from(i) * 0.2;
            let t = shown + 37.4;
            format!("{shown:.1},{:.1},{:.1}\n", speed(t), coolant(t) + 10.0)
        }))
        .collect();
    let session = joined(&main, &other).unwrap();
    let aligned = &session.meta.aligned[0];
    assert!((aligned.offset_s - 37.4).abs() < 0.2, "{aligned:?}");
}

#[test]
fn a_device_without_a_speed_goes_by_its_clock_or_the_users_word() {
    let oil: String = std::iter::once("Time,Oil temp [°C]\n".to_owned())
        .chain((0..1400).map(|i| {
            let t = f64::from(i);
            format!("{},{:.1}\n", clock(36_000.0 + t + 37.4), coolant(t) + 10.0)
        }))
        .collect();
    let by_clock = joined(&main_log(), &oil).unwrap();
    assert!(has(&by_clock, "placed-by-clocks", Severity::Caution));
    let told = |offset_s: f64, file: &str| {
        let options = ReadOptions {
            offsets_s: vec![(file.to_owned(), offset_s)],
            ..ReadOptions::default()
        };
        let (main, oil) = (main_log(), oil.as_bytes());
        read_session_bytes("main.csv", main.as_bytes(), &[("other.csv", oil)], &options)
    };
    let session = told(-37.4, "other.csv").unwrap();
    assert_eq!(session.meta.aligned[0].offset_s, -37.4);
    let (t_s, values) = (session.time_s(), session.channel(Role::Oil).unwrap());
    let mut read = t_s.iter().zip(&values).filter(|(_, v)| !v.is_nan());
    assert!(read.all(|(t, v)| (v - coolant(t.floor()) - 10.0).abs() < 0.1));
    assert!(!ids(&session).contains(&"offset-against-speed"));
    let error = told(-37.4, "else.csv").unwrap_err();
    assert_eq!(error.hint(), "--offset-s other.csv=SECONDS");
    // Clocks that cannot be compared are refused, with the flag to type.
    let running: String = oil
        .replace("Time,", "t,")
        .lines()
        .enumerate()
        .map(|(i, line)| {
            let value = line.split_once(',').unwrap().1;
            if i == 0 {
                "t [s],Oil temp [°C]\n".to_owned()
            } else {
                format!("{i},{value}\n")
            }
        })
        .collect();
    let error = joined(&main_log(), &running).unwrap_err();
    assert!(
        error.hint().contains("--offset-s FILE=SECONDS"),
        "{}",
        error.hint()
    );
}

/// An offset that the speeds deny was taken without a word.
#[test]
fn an_offset_against_the_speeds_is_told() {
    let options = ReadOptions {
        offsets_s: vec![("other.csv".to_owned(), 0.0)],
        ..ReadOptions::default()
    };
    let (main, other) = (main_log(), second_log(137.4, 40.0, 0.0, true));
    let with = [("other.csv", other.as_bytes())];
    let session = read_session_bytes("main.csv", main.as_bytes(), &with, &options).unwrap();
    assert!(has(&session, "offset-against-speed", Severity::Caution));
    assert_eq!(session.meta.aligned[0].offset_s, 0.0);
}

/// Weather in UTC was laid hours off a local log without a word; hours of weather beside their
/// dates were minutes and seconds.
#[test]
fn weather_by_the_hour_is_placed_by_its_date() {
    let main = main_log().replacen("Time,", "Date,Time,", 1);
    let main: Vec<String> = main
        .lines()
        .enumerate()
        .map(|(i, line)| match i {
            0 => line.to_owned(),
            _ => format!("2031-05-17,{line}"),
        })
        .collect();
    let main = main.join("\n");
    let rows: String = (0..24)
        .map(|h| format!("17.05.2031;{h:02}:00;{h}.5\n"))
        .collect();
    let session = joined(&main, &format!("date;time;temp\n{rows}")).unwrap();
    // Between 10:00 and 10:25.
    let ambient = session.channel(Role::Ambient).unwrap();
    assert_eq!(ambient.iter().copied().find(|v| !v.is_nan()), Some(10.5));
    assert!(
        !ids(&session)
            .iter()
            .any(|id| ["summer-time", "zone-unknown"].contains(id))
    );
    let rows: String = (0..24)
        .map(|h| format!("2031-05-17T{h:02}:00Z,{h}.5\n"))
        .collect();
    let session = joined(&main, &format!("time,temp (°C)\n{rows}")).unwrap();
    assert!(has(&session, "zone-unknown", Severity::Caution));
}
