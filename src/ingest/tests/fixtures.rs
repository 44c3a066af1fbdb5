//! Each fixture is named by its defect.

use std::path::PathBuf;

use chrono::NaiveDate;

use super::super::{DateOrder, FileReport, IngestError, ReadOptions, inspect};
use super::{first, has, ids, mapping, read_session};
use crate::session::{Role, Session, UnitFrom};
use crate::warning::Severity::{Caution, Disqualifies, Note};

pub(super) fn path(name: &str) -> PathBuf {
    [
        env!("CARGO_MANIFEST_DIR"),
        "tests",
        "fixtures",
        "ingest",
        name,
    ]
    .iter()
    .collect()
}

pub(super) fn read(name: &str) -> Session {
    read_session(&path(name), &ReadOptions::default()).unwrap_or_else(|e| panic!("{e}"))
}

fn look(name: &str) -> FileReport {
    inspect(&path(name), &ReadOptions::default()).remove(0)
}

fn refused(name: &str) -> IngestError {
    read_session(&path(name), &ReadOptions::default()).unwrap_err()
}

fn near(session: &Session, role: Role, expected: f64, within: f64) {
    let got = first(session, role);
    assert!(
        (got - expected).abs() <= within,
        "{role:?}: {got}, not {expected}"
    );
}

/// Every fixture begins at 80 °C, 60 km/h, 21 °C outside, except where it says otherwise.
pub(super) fn as_made(session: &Session) {
    near(session, Role::Coolant, 80.0, 0.51);
    near(session, Role::Speed, 60.0, 0.51);
    near(session, Role::Ambient, 21.0, 0.06);
}

#[test]
fn encodings_and_delimiters_make_no_difference() {
    for (name, encoding, delimiter, mark) in [
        ("semicolon_decimal_comma.csv", "UTF-8", ";", ","),
        ("latin1_degree.csv", "windows-1252", ",", "."),
        ("double_encoded_degree.csv", "UTF-8", ",", "."),
        ("utf16_tab.csv", "UTF-16LE", "\t", "."),
        ("quoted_decimal_commas.csv", "UTF-8", ",", ","),
        ("trailing_delimiters.csv", "UTF-8", ";", "."),
        ("open_quote_in_header.csv", "UTF-8", ",", "."),
    ] {
        let report = look(name);
        assert_eq!(report.encoding.as_deref(), Some(encoding), "{name}");
        assert_eq!(report.delimiter.as_deref(), Some(delimiter), "{name}");
        assert_eq!(report.decimal_mark.as_deref(), Some(mark), "{name}");
        let session = read(name);
        as_made(&session);
        assert_eq!(session.meta.rows_kept, 60, "{name}");
        assert_eq!(
            session.meta.channels[&Role::Coolant].unit_from,
            UnitFrom::Header,
            "{name}"
        );
        assert!(
            !session.meta.channels[&Role::Coolant].column.contains('Â'),
            "{name}"
        );
    }
}

#[test]
fn a_row_of_units_is_used() {
    let session = read("units_row.csv");
    as_made(&session);
    for role in [Role::Coolant, Role::Speed, Role::Ambient, Role::Oil] {
        assert_eq!(session.meta.channels[&role].unit_from, UnitFrom::Row);
    }
    assert_eq!(session.meta.channels[&Role::Speed].unit, "mph");
    near(&session, Role::Oil, 90.0, 0.06);
}

#[test]
fn three_header_rows_are_joined() {
    let report = look("three_header_rows.csv");
    assert_eq!(report.header_lines, Some(3));
    assert_eq!(report.channels[&Role::Coolant].column, "Engine Temp");
    assert_eq!(report.channels[&Role::Ambient].column, "Outside Temp");
    assert_eq!(report.channels[&Role::Rpm].column, "Speed");
    assert_eq!(report.unused_columns, ["Humidity"]);
    assert!(
        report
            .warnings
            .iter()
            .any(|w| w.id == "no-speed" && w.severity == Disqualifies)
    );
}

#[test]
fn the_preamble_gives_day_and_start() {
    let session = read("preamble_date_start.csv");
    as_made(&session);
    let day = NaiveDate::from_ymd_opt(2024, 5, 4);
    assert_eq!(session.meta.day, day);
    assert_eq!(
        session.meta.start,
        day.and_then(|d| d.and_hms_opt(10, 30, 0))
    );
    assert!(!ids(&session).contains(&"day-unknown"));
}

#[test]
fn a_clock_that_steps_back_is_repaired() {
    let session = read("clock_steps_back.csv");
    as_made(&session);
    let report = look("clock_steps_back.csv");
    assert_eq!(report.time.unwrap().back_steps, 1);
    assert!(has(&session, "clock-steps-back", Note));
    assert!(session.time_s().windows(2).all(|pair| pair[1] >= pair[0]));
    // It is 0.35 s behind at row 30 and catches up three rows later.
    assert_eq!(session.meta.rows_kept, 57);
    assert!(
        (session.meta.duration_s - 5.55).abs() < 1e-6,
        "{}",
        session.meta.duration_s
    );
}

#[test]
fn a_clock_set_while_logging_is_joined() {
    let session = read("boot_time_then_true_time.csv");
    assert!((session.meta.duration_s - 59.0).abs() < 1e-6);
    let start = NaiveDate::from_ymd_opt(2024, 5, 4).and_then(|d| d.and_hms_opt(14, 0, 0));
    assert_eq!(session.meta.start, start);
    assert!(has(&session, "clock-jump", Caution));
}

#[test]
fn midnight_noon_and_zones_pass() {
    let session = read("past_midnight.csv");
    assert!((session.meta.duration_s - 59.0).abs() < 1e-6);
    assert!(!ids(&session).contains(&"clock-steps-back"));
    assert!((read("am_pm.csv").meta.duration_s - 59.0).abs() < 1e-6);
    let zone = read("iso_with_zone.csv");
    let start = NaiveDate::from_ymd_opt(2024, 5, 4).and_then(|d| d.and_hms_opt(10, 0, 0));
    assert_eq!(zone.meta.start, start);
    let epoch = read("epoch_milliseconds.csv");
    // 1714816800 s after 1970 is 2024-05-04 10:00:00 UTC.
    assert_eq!(epoch.meta.start, start);
    assert!((epoch.meta.duration_s - 5.9).abs() < 1e-6);
    assert!(has(&epoch, "clock-is-utc", Note));
}

#[test]
fn the_order_of_day_and_month_is_seen_or_told() {
    let month_first = read("month_first_dates.csv");
    assert_eq!(month_first.meta.day, NaiveDate::from_ymd_opt(2024, 5, 14));
    assert!(!ids(&month_first).contains(&"date-order-ambiguous"));
    let open = read("date_order_open.csv");
    assert_eq!(open.meta.day, NaiveDate::from_ymd_opt(2024, 4, 5));
    assert!(has(&open, "date-order-ambiguous", Caution));
}

#[test]
fn whole_seconds_are_spread() {
    let session = read("whole_seconds_at_10_hz.csv");
    assert_eq!(session.meta.rows_kept, 100);
    assert!((session.meta.duration_s - 9.9).abs() < 1e-6);
    assert!(has(&session, "clock-coarse", Note));
}

#[test]
fn duplicates_and_repeated_headers_are_left_out() {
    let session = read("duplicate_rows.csv");
    assert_eq!((session.meta.rows_read, session.meta.rows_kept), (66, 60));
    assert!(has(&session, "duplicate-rows", Note));
    let session = read("header_repeated.csv");
    assert_eq!((session.meta.rows_read, session.meta.rows_kept), (61, 60));
    assert!(has(&session, "rows-without-time", Note));
}

#[test]
fn unlabelled_fahrenheit_is_seen() {
    let session = read("fahrenheit_unlabelled.csv");
    near(&session, Role::Coolant, 88.0, 0.3);
    near(&session, Role::Oil, 95.0, 0.3);
    assert!(has(&session, "unit-judged", Note));
    // 45 could be either; the file's other temperatures decide, and the speed follows them.
    near(&session, Role::Ambient, 7.2, 0.1);
    near(&session, Role::Speed, 60.0, 1.0);
    assert!(has(&session, "unit-assumed", Caution));
    let told = read_session(
        &path("fahrenheit_unlabelled.csv"),
        &mapping(&["ambient=Ambient Temp:°C", "speed=Speed:km/h"]),
    )
    .unwrap();
    near(&told, Role::Ambient, 45.0, 0.01);
    assert_eq!(told.meta.channels[&Role::Speed].unit_from, UnitFrom::User);
    assert!(!ids(&told).contains(&"unit-assumed"));
}

#[test]
fn positions_tell_mph() {
    let session = read("mph_by_positions.csv");
    assert_eq!(session.meta.channels[&Role::Speed].unit, "mph");
    near(&session, Role::Speed, 60.0, 0.2);
    assert!(has(&session, "unit-judged", Note));
}

#[test]
fn a_label_that_cannot_be_is_not_believed() {
    let session = read("label_says_celsius.csv");
    near(&session, Role::Coolant, 80.0, 0.3);
    assert!(has(&session, "unit-label-contradicted", Caution));
}

#[test]
fn placeholders_are_missing_values() {
    let session = read("placeholders_and_infinities.csv");
    assert_eq!(session.meta.channels[&Role::Coolant].missing_fraction, 0.5);
    assert!(!session.meta.channels.contains_key(&Role::Oil));
    assert!(!ids(&session).contains(&"unreadable-values"));
    as_made(&session);
}

#[test]
fn faults_and_spikes_are_dropped_and_counted() {
    let session = read("spikes_and_faults.csv");
    let coolant = &session.meta.channels[&Role::Coolant];
    assert!((coolant.missing_fraction - 3.0 / 60.0).abs() < 1e-9);
    assert!(coolant.min.unwrap() > 70.0 && coolant.max.unwrap() < 90.0);
    assert!(has(&session, "impossible-values", Note) && has(&session, "spikes", Note));
}

#[test]
fn debris_and_torn_rows_are_left_out() {
    let session = read("trailing_binary.csv");
    as_made(&session);
    assert_eq!(session.meta.rows_kept, 60);
    assert!(has(&session, "damaged-lines", Caution));
    let session = read("torn_rows.csv");
    assert_eq!(session.meta.rows_kept, 57);
    assert!(has(&session, "rows-too-long", Note) && has(&session, "rows-too-short", Note));
}

#[test]
fn a_polled_log_starts_with_blanks() {
    let session = read("polled_with_blanks.csv");
    as_made(&session);
    let coolant = &session.meta.channels[&Role::Coolant];
    assert_eq!(
        (coolant.median_refresh_s, coolant.missing_fraction),
        (Some(1.0), 0.75)
    );
    assert_eq!(
        session.meta.channels[&Role::Speed].median_refresh_s,
        Some(0.5)
    );
}

#[test]
fn two_like_columns_are_a_caution() {
    let session = read("two_coolant_columns.csv");
    assert!(has(&session, "ambiguous-column", Caution));
    let told = read_session(
        &path("two_coolant_columns.csv"),
        &mapping(&["coolant=coolant temp r [°c]"]),
    )
    .unwrap();
    near(&told, Role::Coolant, 81.0, 0.01);
    assert!(!ids(&told).contains(&"ambiguous-column"));
}

#[test]
fn a_stuck_channel_is_told() {
    assert!(has(&read("stuck_coolant.csv"), "stuck-channel", Caution));
}

#[test]
fn without_ambient_the_session_is_disqualified_unless_given() {
    let session = read("no_ambient_column.csv");
    let warning = session
        .meta
        .warnings
        .iter()
        .find(|w| w.id == "no-ambient")
        .unwrap();
    assert_eq!(warning.severity, Disqualifies);
    assert!(warning.message.contains("--ambient-c") && warning.message.contains("--with"));
    let options = ReadOptions {
        ambient_c: Some(24.5),
        ..ReadOptions::default()
    };
    let given = read_session(&path("no_ambient_column.csv"), &options).unwrap();
    near(&given, Role::Ambient, 24.5, 0.0);
    assert!(has(&given, "ambient-constant", Caution) && !ids(&given).contains(&"no-ambient"));
    let unneeded = read_session(&path("units_row.csv"), &options).unwrap();
    near(&unneeded, Role::Ambient, 21.0, 0.06);
    assert!(has(&unneeded, "ambient-c-unused", Note));
}

#[test]
fn refusals_name_the_place_and_the_flag() {
    let error = refused("no_time_column.csv");
    assert_eq!(
        error.hint(),
        "state the rate of rows: --rate-hz ROWS-A-SECOND; or name the clock: --map time=COLUMN"
    );
    let options = mapping(&["time=n"]);
    assert!(read_session(&path("no_time_column.csv"), &options).is_ok());
    assert!(
        look("no_time_column.csv")
            .warnings
            .iter()
            .any(|w| w.id == "no-time")
    );

    let error = refused("no_coolant_column.csv");
    assert_eq!(error.hint(), "name it: --map \"coolant=T1 [°C]\"");
    assert!(error.message().contains("`Speed [km/h]`"), "{error}");
    let options = mapping(&["coolant=T1 [Â°C]"]);
    as_made(&read_session(&path("no_coolant_column.csv"), &options).unwrap());

    let error = refused("coolant_always_faulty.csv");
    assert!(
        error.message().contains(":2: column `Coolant [°C]`"),
        "{error}"
    );
    assert!(error.message().contains("`-40`"), "{error}");

    let error = refused("commas_for_two_purposes.csv");
    assert!(matches!(error, IngestError::Ragged { .. }), "{error}");

    let options = mapping(&["oil=Oel"]);
    let error = read_session(&path("units_row.csv"), &options).unwrap_err();
    assert_eq!(error.hint(), "--map oil=Oil");

    let error = refused("there_is_no_such_file.csv");
    assert!(matches!(error, IngestError::Unreadable { .. }), "{error}");
}

#[test]
fn an_unreadable_file_is_a_report_too() {
    let report = look("there_is_no_such_file.csv");
    assert!(!report.readable && report.message.is_some() && report.hint.is_some());
    let json = serde_json::to_value(look("units_row.csv")).unwrap();
    assert_eq!(json["channels"]["coolant"]["unit_from"], "row");
    assert!(json.get("message").is_none() && json["time"]["gaps"].is_array());
}

#[test]
fn the_users_word_on_the_start_counts() {
    let day = NaiveDate::from_ymd_opt(2024, 5, 4).unwrap();
    let options = ReadOptions {
        day: Some(day),
        ..ReadOptions::default()
    };
    let session = read_session(&path("past_midnight.csv"), &options).unwrap();
    assert_eq!(session.meta.start, day.and_hms_opt(23, 59, 30));
    let start = day.and_hms_opt(9, 0, 0);
    let options = ReadOptions {
        start,
        ..ReadOptions::default()
    };
    let session = read_session(&path("units_row.csv"), &options).unwrap();
    assert_eq!((session.meta.start, session.meta.day), (start, Some(day)));
}

#[test]
fn a_packed_log_is_unpacked() {
    as_made(&read("packed.csv.gz"));
    let torn = read("packed_and_torn.csv.gz");
    as_made(&torn);
    assert!(torn.meta.rows_kept < 60);
    assert!(has(&torn, "packed-file-breaks-off", Caution));
}

#[test]
fn a_log_without_a_clock_takes_the_stated_rate() {
    let rate = |rate_hz| ReadOptions {
        rate_hz: Some(rate_hz),
        ..ReadOptions::default()
    };
    let session = read_session(&path("no_time_column.csv"), &rate(4.0)).unwrap();
    assert_eq!(session.time_s()[..3], [0.0, 0.25, 0.5]);
    let clocked = read_session(&path("units_row.csv"), &rate(4.0)).unwrap();
    assert_eq!(clocked.time_s()[..3], [0.0, 1.0, 2.0]);
    assert!(has(&clocked, "rate-hz-unused", Note));
}

#[test]
fn the_order_of_day_and_month_can_be_said() {
    let options = ReadOptions {
        date_order: Some(DateOrder::MonthFirst),
        ..ReadOptions::default()
    };
    let told = read_session(&path("date_order_open.csv"), &options).unwrap();
    assert_eq!(told.meta.day, NaiveDate::from_ymd_opt(2024, 5, 4));
    assert!(!ids(&told).contains(&"date-order-ambiguous"));
    // What the dates themselves say counts more.
    let sure = read_session(&path("month_first_dates.csv"), &options).unwrap();
    assert_eq!(sure.meta.day, NaiveDate::from_ymd_opt(2024, 5, 14));
}

#[test]
fn a_year_that_cannot_be_gives_no_day() {
    let session = read("year_zero.csv");
    as_made(&session);
    assert_eq!((session.meta.day, session.meta.start), (None, None));
    assert_eq!(session.meta.duration_s, 59.0);
    assert!(has(&session, "day-unknown", Caution));
}

#[test]
fn clocks_of_twelve_hours_run_on() {
    let session = read("twelve_hour_clock.csv");
    assert_eq!(session.meta.duration_s, 59.0);
    assert!(has(&session, "twelve-hour-clock", Caution));
    assert!(!ids(&session).contains(&"clock-jump"));
    let dotted = read("noon_with_dots.csv");
    assert_eq!(dotted.meta.duration_s, 59.0);
    assert!(!ids(&dotted).contains(&"clock-jump"));
}

#[test]
fn a_handful_of_rows_is_no_session() {
    let error = refused("five_rows.csv");
    assert!(
        matches!(error, IngestError::TooShort { rows: 5, of: 5, .. }),
        "{error}"
    );
}

#[test]
fn a_speed_that_the_positions_contradict_is_refused_unless_insisted() {
    let name = "speed_five_times_too_fast.csv";
    let IngestError::SpeedAgainstPositions { factor, .. } = refused(name) else {
        panic!("not refused");
    };
    assert!((factor - 5.0).abs() < 0.1, "{factor}");
    let looked = look(name);
    assert!(
        looked
            .warnings
            .iter()
            .any(|w| w.id == "speed-against-positions")
    );
    let insisted = read_session(&path(name), &mapping(&["speed=Speed [km/h]:km/h"])).unwrap();
    assert!(has(&insisted, "speed-against-positions", Caution));
}

#[test]
fn a_sensor_without_signal_is_not_read_in_another_unit() {
    let session = read("oil_without_signal_two_fifths.csv");
    as_made(&session);
    let oil = &session.meta.channels[&Role::Oil];
    assert_eq!((oil.unit.as_str(), oil.unit_from), ("°C", UnitFrom::Header));
    near(&session, Role::Oil, 95.2, 0.01);
    assert!(has(&session, "mostly-impossible", Caution));
    assert!(!ids(&session).contains(&"unit-label-contradicted"));
}

#[test]
fn a_short_log_from_cold_leaves_the_unit_open() {
    let session = read("fahrenheit_cold_start_unlabelled.csv");
    let said = session
        .meta
        .warnings
        .iter()
        .find(|w| w.id == "unit-assumed" && w.message.starts_with("coolant"))
        .unwrap();
    assert_eq!(said.severity, Caution);
    assert!(
        said.message.contains("--map \"coolant=Coolant:UNIT\""),
        "{}",
        said.message
    );
}

#[test]
fn channels_that_never_change_are_told_in_a_short_log_too() {
    let session = read("coolant_and_fuel_never_change.csv");
    let stuck: Vec<&str> = session
        .meta
        .warnings
        .iter()
        .filter(|w| w.id == "stuck-channel")
        .map(|w| w.message.split(':').next().unwrap())
        .collect();
    assert_eq!(stuck, ["coolant", "fuel_rate"]);
}

#[test]
fn short_german_names_need_no_help() {
    let session = read("short_german_names.csv");
    as_made(&session);
    near(&session, Role::FuelRate, 10.0, 0.01);
}

/// What a fixture is named for may not vanish from the corpus.
#[test]
fn the_corpus_has_forty_defects() {
    let folder = path("");
    let count = std::fs::read_dir(&folder).unwrap().count();
    assert!(count >= 40, "{count}");
}
