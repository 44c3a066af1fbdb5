//! Whatever goes into the book comes out of it as it was.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime};
use proptest::prelude::*;

use super::super::{Added, Book};
use super::same;
use crate::car::{CarSheet, SetupSheet};
use crate::session::{Aligned, ChannelInfo, Role, Session, SessionMeta, UnitFrom};
use crate::warning::{Severity, Warning};

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => prop::num::f64::NORMAL,
        1 => Just(0.0),
        1 => Just(f64::INFINITY),
        1 => prop::num::f64::SUBNORMAL,
    ]
}

fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        any::<String>(),
        Just("a\r\n\"'\\\0ü °C\t".to_owned())
    ]
}

fn instant() -> impl Strategy<Value = NaiveDateTime> {
    (0i64..7_000_000_000, 0u32..1_000_000_000)
        .prop_map(|(s, ns)| chrono::DateTime::from_timestamp(s, ns).unwrap().naive_utc())
}

fn day() -> impl Strategy<Value = NaiveDate> {
    instant().prop_map(|at| at.date())
}

fn car() -> impl Strategy<Value = CarSheet> {
    let maybe = |low, high| prop::option::of(low..high);
    (
        prop::option::of(text()),
        maybe(200.0, 6000.0),
        maybe(0.05, 4.0),
        maybe(0.0, 60.0),
    )
        .prop_map(|(name, mass_kg, drag_area_m2, limit_margin_k)| CarSheet {
            name,
            mass_kg,
            drag_area_m2,
            limit_margin_k,
            ..CarSheet::default()
        })
}

fn setup_sheet() -> impl Strategy<Value = SetupSheet> {
    prop::sample::select(vec![
        "",
        "name = \"\"",
        "coolant_l = 8",
        "name = \"big\"\nchanged = \"larger \\\"core\\\"\"\naffects = [\"air\", \"heat\"]\ncoolant_l = 8.2\nglycol_volume_percent = 50",
    ])
    .prop_map(|toml| SetupSheet::from_toml(toml, "setup.toml").unwrap())
}

fn role() -> impl Strategy<Value = Role> {
    prop::sample::select(Role::ALL.to_vec())
}

prop_compose! {
    fn info()(
        column in text(),
        unit in text(),
        unit_from in prop::sample::select(vec![
            UnitFrom::Header, UnitFrom::Row, UnitFrom::Values, UnitFrom::User,
        ]),
        resolution in prop::option::of(number()),
        median_refresh_s in prop::option::of(number()),
        missing_fraction in 0.0..=1.0,
        min in prop::option::of(number()),
        max in prop::option::of(number()),
        mean in prop::option::of(number()),
    ) -> ChannelInfo {
        ChannelInfo {
            column, unit, unit_from, resolution, median_refresh_s, missing_fraction, min, max, mean,
        }
    }
}

prop_compose! {
    fn aligned()(
        file in text(),
        offset_s in number(),
        drift_ppm in prop::option::of(number()),
        correlation in prop::option::of(number()),
    ) -> Aligned {
        Aligned { file, offset_s, drift_ppm, correlation }
    }
}

prop_compose! {
    fn warning()(
        id in text(),
        severity in prop::sample::select(vec![
            Severity::Note, Severity::Caution, Severity::Disqualifies,
        ]),
        message in text(),
    ) -> Warning {
        Warning { id, severity, message }
    }
}

prop_compose! {
    fn meta()(
        (file, sha256, setup) in (text(), "[0-9a-f]{64}", text()),
        (car, setup_sheet) in (car(), setup_sheet()),
        start in prop::option::of(instant()),
        day in prop::option::of(day()),
        duration_s in number(),
        (rows_read, rows_kept) in (0usize..1 << 40, 0usize..1 << 40),
        driver in prop::option::of(text()),
        note in prop::option::of(text()),
        excluded in prop::option::of(text()),
        channels in prop::collection::btree_map(role(), info(), 0..6),
        aligned in prop::collection::vec(aligned(), 0..3),
        warnings in prop::collection::vec(warning(), 0..4),
    ) -> SessionMeta {
        SessionMeta {
            id: String::new(),
            file, sha256, setup, car, setup_sheet, start, day, duration_s, rows_read, rows_kept,
            driver, note, excluded, channels, aligned, warnings,
        }
    }
}

/// Time and channels of up to 60 rows, a third of the readings missing.
fn columns() -> impl Strategy<Value = (Vec<f64>, BTreeMap<Role, Vec<f64>>)> {
    let reading = prop_oneof![2 => number(), 1 => Just(f64::NAN)];
    (0usize..60).prop_flat_map(move |rows| {
        let values = prop::collection::vec(reading.clone(), rows);
        let channels = prop::collection::btree_map(role(), values, 0..5);
        channels
            .prop_map(move |channels| ((0..rows).map(|row| row as f64 * 0.1).collect(), channels))
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn a_session_comes_back_as_it_went_in(mut meta in meta(), (t_s, channels) in columns()) {
        meta.rows_kept += t_s.len();
        let folder = tempfile::tempdir().unwrap();
        let session = Session::from_columns(meta.clone(), &t_s, channels.clone()).unwrap();
        let added = Book::open(folder.path()).unwrap().add(session).unwrap();
        let expected = SessionMeta { id: "s1".into(), ..meta };
        prop_assert_eq!(added, Added::New(expected.clone()));

        let book = Book::open_read_only(folder.path()).unwrap();
        prop_assert_eq!(book.sessions().unwrap(), vec![expected.clone()]);
        let back = book.session("s1").unwrap();
        prop_assert_eq!(&back.meta, &expected);
        prop_assert_eq!(back.time_s(), t_s);
        prop_assert_eq!(back.frame().width(), 1 + channels.len());
        for (role, values) in &channels {
            prop_assert!(same(&back.channel(*role).unwrap(), values), "{}", role.name());
            // Other engines take NaN for a number: a gap must be a null.
            let gaps = values.iter().filter(|value| value.is_nan()).count();
            prop_assert_eq!(back.frame().column(role.name()).unwrap().null_count(), gaps);
        }
    }
}
