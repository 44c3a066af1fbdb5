//! Clocks and days as they are written in the field.

use chrono::NaiveDate;

use super::super::{DateOrder, ReadOptions};
use super::{drive, has, ids, imported, kept, read};
use crate::session::Role;
use crate::warning::Severity::{Caution, Note};

const HEADER: &str = "Time,Coolant (°C),Speed (km/h),Ambient (°C)";

/// A log with this time in each row.
fn log(time: impl Fn(usize) -> String) -> String {
    drive(HEADER, |i| {
        format!("{},{},{},20", time(i), 80 + i % 20, 10 + 7 * i % 100)
    })
}

/// A counter of rows was offered as clock, and a rate that the file contradicts.
#[test]
fn the_hint_for_a_log_without_a_clock_is_the_rate() {
    let text = log(|i| i.to_string()).replacen("Time", "Sample", 1);
    let hint = |text: &str| imported(text, &ReadOptions::default()).unwrap_err().hint();
    assert!(hint(&text).starts_with("state the rate of rows: --rate-hz ROWS-A-SECOND"));
    for told in ["Sample rate,2 Hz", "Interval (ms),500"] {
        assert!(
            hint(&format!("{told}\n\n{text}")).contains("--rate-hz 2;"),
            "{told}"
        );
    }
}

fn clock(i: usize) -> String {
    format!("14:{:02}:{:02}", 20 + i / 60, i % 60)
}

/// `1.000` beside `999` was 1, in a clock and in an engine speed.
#[test]
fn whole_numbers_in_groups_of_three_are_thousands() {
    let grouped = |n: usize, mark: &str| match n {
        0..1000 => n.to_string(),
        _ => format!("{}{mark}{:03}", n / 1000, n % 1000),
    };
    for (mark, quote) in [
        (".", ""),
        (",", "\""),
        (" ", ""),
        ("\u{202f}", ""),
        ("'", ""),
    ] {
        let text = drive(
            "Time (ms),Coolant (°C),Speed (km/h),Ambient (°C),RPM",
            |i| {
                let [t, rpm] = [500 * i, 700 + 40 * (i % 100)].map(|n| grouped(n, mark));
                format!(
                    "{quote}{t}{quote},{}.5,{}.5,20.5,{quote}{rpm}{quote}",
                    80 + i % 20,
                    10 + i % 100
                )
            },
        );
        let session = read(&text);
        assert_eq!(kept(&session), (149.5, 300), "{mark}");
        assert_eq!(
            session.meta.channels[&Role::Rpm].max,
            Some(4660.0),
            "{mark}"
        );
        assert_eq!(
            session.meta.channels[&Role::Coolant].max,
            Some(99.5),
            "{mark}"
        );
    }
}

#[test]
fn dates_that_leave_their_order_open_are_told() {
    let day = |y, m, d| NaiveDate::from_ymd_opt(y, m, d);
    let text = log(|i| format!("31-05-17 {}", clock(i)));
    assert_eq!(read(&text).meta.day, day(2017, 5, 31));
    assert!(has(&read(&text), "date-order-ambiguous", Caution));
    let options = ReadOptions {
        date_order: Some(DateOrder::YearFirst),
        ..ReadOptions::default()
    };
    let told = imported(&text, &options).unwrap();
    assert_eq!(told.meta.day, day(2031, 5, 17));
    assert!(!ids(&told).contains(&"date-order-ambiguous"));
    let known = format!(
        "Date,2031-04-05\n\n{}",
        log(|i| format!("04/05/2031 {}", clock(i)))
    );
    assert_eq!(read(&known).meta.day, day(2031, 4, 5));
    // The next day follows at midnight.
    let rolls = log(|i| match i {
        0..150 => format!("04/05/2031 23:57:{:02}.{}", 30 + i / 5, 2 * (i % 5)),
        _ => format!("04/06/2031 00:00:{:02}.{}", (i - 150) / 5, 2 * (i % 5)),
    });
    assert_eq!(read(&rolls).meta.day, day(2031, 4, 5));
    assert!(!ids(&read(&rolls)).contains(&"date-order-ambiguous"));
}

#[test]
fn a_day_of_something_else_is_no_session_day() {
    for key in [
        "Calibration date",
        "Firmware date",
        "Export date",
        "Birth date",
        "File created",
    ] {
        let text = format!("{key},2019-01-31\n\n{}", log(|i| i.to_string()));
        let session = read(&text);
        assert_eq!(session.meta.day, None, "{key}");
        assert!(has(&session, "day-unknown", Caution), "{key}");
    }
    for day in ["1970-01-01", "2000-01-01"] {
        let session = read(&log(|i| format!("{day} 00:{:02}:{:02}", i / 60, i % 60)));
        assert_eq!((session.meta.day, session.meta.start), (None, None));
        assert!(has(&session, "clock-not-set", Caution));
    }
}

#[test]
fn units_of_clocks_are_read_or_judged() {
    for (header, step) in [
        ("Time (1/100 s)", 50.0),
        ("Time [cs]", 50.0),
        ("Elapsed (s)", 0.5),
        ("Run time (s)", 0.5),
        ("Time (ns)", 5e8),
    ] {
        let text = log(|i| format!("{}", i as f64 * step)).replacen("Time", header, 1);
        assert_eq!(read(&text).meta.duration_s, 149.5, "{header}");
    }
    // Minutes without a unit: in seconds the car would stop within a hundredth of one.
    let minutes = read(&log(|i| format!("{:.5}", i as f64 / 120.0)));
    assert!((minutes.meta.duration_s - 149.5).abs() < 0.01);
    assert!(has(&minutes, "time-unit-judged", Caution));
    let packed = read(&log(|i| format!("203105171420{:02}", i % 60)));
    assert_eq!(packed.meta.day, NaiveDate::from_ymd_opt(2031, 5, 17));
}

#[test]
fn rows_that_run_back_in_time_are_reversed() {
    let session = read(&log(|i| format!("2031-05-17 {}", clock(299 - i))));
    assert_eq!(kept(&session), (299.0, 300));
    assert!(has(&session, "rows-reversed", Caution));
}

#[test]
fn the_half_of_the_day_may_have_its_own_column() {
    let text = drive(
        "Date,Time,AM/PM,Coolant (°C),Speed (km/h),Ambient (°C)",
        |i| {
            format!(
                "05/17/2031,02:{:02}:{:02},PM,{},{},20",
                i / 60,
                i % 60,
                80 + i % 20,
                10 + i % 100
            )
        },
    );
    let start = read(&text).meta.start.unwrap();
    assert_eq!(start.to_string(), "2031-05-17 14:00:00");
    let utc = read(&log(|i| format!("2031-05-17T{}Z", clock(i))));
    assert!(has(&utc, "clock-is-utc", Note));
}

#[test]
fn a_clock_on_which_no_car_can_drive_is_refused() {
    let faster = |i: usize| format!("{:.6}", i as f64 * 2e-4);
    let wild = |i: usize| format!("{}", (i * 7919) % 300 * 9000);
    for (header, text, why) in [
        ("Time (s)", log(faster), "5000 times a second"),
        ("Time (s)", log(|i| (60 * i).to_string()), "every 60 s"),
        (
            "Time (s)",
            log(|i| format!("{:.4}", i as f64 / 100.0)),
            "km/h a second",
        ),
        ("Time (s)", log(wild), ""),
    ] {
        let refusal =
            imported(&text.replacen("Time", header, 1), &ReadOptions::default()).unwrap_err();
        assert!(refusal.message().contains(why), "{refusal}");
    }
}

/// A table of laps below the log was read as rows of it.
#[test]
fn another_header_ends_the_log() {
    let log = log(|i| i.to_string());
    let laps = "\nLap,Lap time (s),Top speed,Mean ambient\n11,109.1,181,20\n12,109.2,181,20\n";
    let few_names = "\nLap,Lap time,Max speed,Max coolant,x\n1,95.0,181,95.0,1\n";
    let other = "\nTime,Speed (km/h),Coolant (°C),Ambient (°C)\n300,10,80,20\n301,11,80,20\n";
    for below in [laps, few_names, other] {
        let session = read(&format!("{log}{below}"));
        assert_eq!(session.meta.rows_kept, 300);
        assert_eq!(session.meta.channels[&Role::Coolant].max, Some(99.0));
        assert!(has(&session, "second-table", Caution));
    }
}

/// Parts of a day without a unit were taken for minutes.
#[test]
fn a_spreadsheet_time_of_day_without_a_unit_is_one() {
    let session = read(&log(|i| {
        format!("{:.8}", 0.597_222_22 + i as f64 / 86_400.0)
    }));
    assert!(
        (session.meta.duration_s - 299.0).abs() < 1.0,
        "{}",
        session.meta.duration_s
    );
    assert!(has(&session, "time-unit-judged", Caution));
}

/// A column of milliseconds within the second was taken for the clock, and the file refused.
#[test]
fn milliseconds_beside_a_clock_are_not_the_clock() {
    let clock = |i: usize| {
        format!(
            "2031-05-17 14:{:02}:{:02},{}",
            i / 120,
            i / 2 % 60,
            i % 2 * 500
        )
    };
    let session = read(&log(clock).replacen("Time", "Time,ms", 1));
    assert!(
        (session.meta.duration_s - 149.5).abs() < 1.0,
        "{}",
        session.meta.duration_s
    );
}

/// Clocks in several columns gave no time, or no day.
#[test]
fn clocks_in_several_columns_are_joined() {
    let start = |header: &str, cells: fn(usize) -> String| {
        let row = |i: usize| format!("{},{},{},20\n", cells(i), 80 + i % 9, 60 + i % 60);
        let rows: String = (0..300).map(row).collect();
        let session = read(&format!(
            "{header},Coolant (°C),Speed (km/h),Ambient (°C)\n{rows}"
        ));
        assert_eq!(session.meta.duration_s, 299.0, "{header}");
        (
            session.meta.day.unwrap().to_string(),
            session.meta.start.map(|s| s.time().to_string()),
        )
    };
    let day = "2031-05-17".to_owned();
    let clock = |text: &str| Some(text.to_owned());
    for header in [
        "Year,Month,Day,Hour,Minute,Second",
        "Jahr,Monat,Tag,Stunde,Minute,Sekunde",
    ] {
        let found = start(header, |i| {
            format!("2031,05,17,14,{},{}", 20 + i / 60, i % 60)
        });
        assert_eq!(found, (day.clone(), clock("14:20:00")));
    }
    // 17 May 2031, 12:20 UTC, in week 2679 (weeks from 6 January 1980, 18 leap seconds).
    let found = start("GPS week,GPS seconds of week (s)", |i| {
        format!("2679,{}", 562_818 + i)
    });
    assert_eq!(found, (day.clone(), clock("12:20:00")));
    let found = start("Date,UTC", |i| {
        format!("170531,12{:02}{:02}.00", 20 + i / 60, i % 60)
    });
    assert_eq!(found, (day.clone(), clock("12:20:00")));
    let found = start("Date,Time (s)", |i| format!("2031-05-17,{i}"));
    assert_eq!(found, (day, None));
}

/// Its own comma parted it.
#[test]
fn a_date_with_a_comma_above_the_table_is_read() {
    let text = format!(
        "Driver: A\nDate: May 17, 2031 2:03 PM\n{}",
        log(|i| format!("{}.0", i))
    );
    let start = read(&text).meta.start.unwrap();
    assert_eq!(start.to_string(), "2031-05-17 14:03:00");
}

/// A clock whose head names the wrong unit could not be imported at all.
#[test]
fn the_unit_of_a_clock_can_be_said() {
    let text = log(|i| format!("{}", 0.5 * i as f64)).replacen("Time,", "Time (ms),", 1);
    let refusal = imported(&text, &ReadOptions::default()).unwrap_err();
    assert!(
        refusal.hint().contains("--map time=COLUMN:UNIT"),
        "{refusal}"
    );
    let said = imported(&text, &super::mapping(&["time=Time (ms):s"])).unwrap();
    assert_eq!(said.meta.duration_s, 149.5);
    let ticks = log(|i| format!("{}", 50 * i)).replacen("Time,", "Tick,", 1);
    let said = imported(&ticks, &super::mapping(&["time=Tick:1/100 s"])).unwrap();
    assert_eq!(said.meta.duration_s, 149.5);
}

/// Two rows in five were lost as steps back.
#[test]
fn milliseconds_may_be_counted_without_leading_zeros() {
    let clock = |i: usize| format!("12:03:{:02}.{}", i * 70 / 1000, i * 70 % 1000);
    let session = read(&log(clock));
    assert_eq!(session.meta.rows_kept, session.meta.rows_read);
    let step = session.meta.duration_s / (session.meta.rows_kept - 1) as f64;
    assert!((step - 0.07).abs() < 1e-9, "{step}");
    assert!(has(&session, "milliseconds-counted", Note));
    let whole = |i: usize| format!("12:03:{:02}.{:03}", i * 70 / 1000, i * 70 % 1000);
    assert!(!ids(&read(&log(whole))).contains(&"milliseconds-counted"));
}

/// Rows before the trigger were left out.
#[test]
fn a_logger_counts_down_to_its_trigger() {
    let clock = |i: usize| match 30_usize.checked_sub(i) {
        Some(before) if before > 0 => format!("-00:00:{before:02}.0"),
        _ => format!("00:{:02}:{:02}.0", (i - 30) / 60, (i - 30) % 60),
    };
    let session = read(&log(clock));
    assert_eq!(session.meta.duration_s, (session.meta.rows_kept - 1) as f64);
    assert_eq!(session.meta.rows_kept, session.meta.rows_read);
}
