//! Real road logs, where a folder of them is named by `HEATBOOK_REAL_LOGS`.

use std::path::PathBuf;

use super::super::{ReadOptions, inspect};
use super::{ids, read_session};
use crate::session::{Role, UnitFrom};

const ROLES: [(Role, &str); 8] = [
    (Role::Coolant, "coolant"),
    (Role::ManifoldPressure, "manifold"),
    (Role::Rpm, "rpm"),
    (Role::Speed, "speed"),
    (Role::Intake, "intake air"),
    (Role::AirFlow, "air flow"),
    (Role::Throttle, "throttle"),
    (Role::Ambient, "ambient"),
];

#[test]
#[expect(
    clippy::print_stderr,
    reason = "a skipped test says so, and the figures are worth a look"
)]
fn real_logs_import_without_help() {
    let Some(folder) = std::env::var_os("HEATBOOK_REAL_LOGS").map(PathBuf::from) else {
        eprintln!("skipped: HEATBOOK_REAL_LOGS is not set");
        return;
    };
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "csv"))
        .collect();
    files.sort();
    assert!(!files.is_empty(), "no *.csv in {}", folder.display());
    let mut long_pauses = 0;
    for path in &files {
        let started = std::time::Instant::now();
        let report = inspect(path, &ReadOptions::default()).remove(0);
        let inspected = started.elapsed();
        assert!(inspected.as_secs_f64() < 1.0, "{inspected:?}");
        assert!(report.readable, "{report:?}");
        let time = report.time.unwrap();
        assert_eq!(time.form, "time of day");
        long_pauses += time
            .gaps
            .iter()
            .filter(|gap| (gap.length_s - 251.0).abs() < 1.0)
            .count();
        for (role, word) in ROLES {
            let channel = &report.channels[&role];
            assert!(
                channel.column.to_lowercase().contains(word),
                "{role:?}: {channel:?}"
            );
            assert_eq!(channel.unit_from, UnitFrom::Header, "{role:?}: {channel:?}");
            assert!(!channel.column.contains('Â'), "{channel:?}");
        }
        assert_eq!(report.channels.len(), ROLES.len(), "{:?}", report.channels);
        assert!(
            report.unused_columns.iter().all(|c| c.contains("Pedal")),
            "{:?}",
            report.unused_columns
        );
        let session = read_session(path, &ReadOptions::default()).unwrap();
        assert!(session.meta.duration_s > 1000.0);
        assert!(session.meta.rows_kept * 100 > session.meta.rows_read * 99);
        let coolant = &session.meta.channels[&Role::Coolant];
        assert_eq!(coolant.resolution, Some(1.0));
        assert!(coolant.max.unwrap() < 100.0 && coolant.max.unwrap() > 85.0);
        assert!(ids(&session).contains(&"day-unknown"));
        eprintln!(
            "{} rows, inspected in {inspected:?}, back steps {}, gaps {:?}, warnings {:?}",
            session.meta.rows_read,
            time.back_steps,
            time.gaps,
            ids(&session)
        );
    }
    assert_eq!(long_pauses, 1);
}
