//! How a log is laid out: what stands above it, between its rows and around its numbers.

use super::super::{IngestError, ReadOptions, inspect_bytes, read_sessions_bytes};
use super::{drive, has, ids, imported, kept, mapping, read};
use crate::session::{Role, Session};
use crate::warning::Severity::{Caution, Note};

const HEADER: &str = "Time (s),Coolant (°C),Speed (km/h),Ambient (°C)";

fn row(i: usize) -> String {
    format!("{i},{},{},20", 80 + i % 9, 60 + i % 60)
}

/// A session like no other.
fn session(n: usize) -> String {
    drive(HEADER, |i| row(i) + &format!(".{n}"))
}

fn all(text: &str) -> Vec<Session> {
    read_sessions_bytes("a.csv", text.as_bytes(), &[], &ReadOptions::default()).unwrap()
}

/// The session is the one of [`row`], all of it.
fn whole(text: &str) -> Session {
    let session = read(text);
    let channel = |role: Role| session.meta.channels[&role].clone();
    assert_eq!(kept(&session), (299.0, 300), "{}", &text[..90]);
    assert_eq!(channel(Role::Coolant).max, Some(88.0));
    assert_eq!(channel(Role::Speed).max, Some(119.0));
    assert_eq!(channel(Role::Ambient).mean, Some(20.0));
    session
}

/// The day of a second session, told above it, was that of the first.
#[test]
fn each_session_of_a_file_has_its_own_day() {
    let block = |n: usize, day: usize, at: &str| {
        let told = format!("Session {n}\nDate,2031-05-{day}\nTime,{at}\n\n");
        told + &session(n) + "\n"
    };
    let sessions = all(&(block(1, 17, "14:20:00") + &block(2, 18, "16:00:00")));
    let starts: Vec<String> = sessions
        .iter()
        .map(|s| s.meta.start.unwrap().to_string())
        .collect();
    assert_eq!(starts, ["2031-05-17 14:20:00", "2031-05-18 16:00:00"]);
    let untold = all(&(block(1, 17, "14:20:00") + &session(2)));
    assert_eq!(untold[1].meta.start, None);
}

/// What was told of all sessions was told with each.
#[test]
fn the_sessions_of_a_file_are_listed_once() {
    let sessions = all(&[session(1), session(2), session(3)].concat());
    let told: Vec<&str> = sessions
        .iter()
        .flat_map(|s| &s.meta.warnings)
        .filter(|w| w.id == "several-sessions")
        .map(|w| w.message.as_str())
        .collect();
    assert_eq!(told.len(), 3);
    assert!(
        told[0].starts_with("the file holds 3 sessions"),
        "{}",
        told[0]
    );
    assert_eq!(
        told[2],
        "session 3 of 3 of the file begins on line 604 (the clock starts again)"
    );
}

/// A row of least and most values was data.
#[test]
fn rows_of_limits_are_no_data() {
    let text = drive(&format!("{HEADER}\n0,-40,0,-40\n9999,150,300,60"), row);
    assert!(has(&whole(&text), "limit-rows", Note));
}

#[test]
fn texts_between_the_rows_and_settings_above_them_are_passed_over() {
    let with_laps = |i: usize| match i % 100 {
        50 => format!("Lap {}\n{}", i / 100, row(i)),
        _ => row(i),
    };
    let text = drive(&format!("{HEADER}\nLap 0"), with_laps);
    assert!(has(&whole(&text), "text-lines", Note));
    let settings: String = (0..60)
        .map(|i| format!("Param{i},{},{i},x\n", 3 * i))
        .collect();
    whole(&(settings + &drive(HEADER, row)));
    whole(&drive(&format!("{HEADER}\nHH:MM:SS,,,"), row).replace("(s)", ""));
}

/// A table of laps above the log was the log.
#[test]
fn a_table_of_laps_above_the_log_gives_way_to_it() {
    let laps = "Lap,Lap time,Max speed,Best\n1,95.0,181,1\n2,95.1,180,1\n3,95.2,180,1\n\n";
    let session = whole(&(laps.to_owned() + &drive(HEADER, row)));
    assert!(has(&session, "first-table", Caution));
}

#[test]
fn numbers_in_the_clothes_of_spreadsheets_are_numbers() {
    let dressed = |dress: fn(&str) -> String| {
        let cells = move |i: usize| row(i).split(',').map(dress).collect::<Vec<_>>().join(";");
        drive(&HEADER.replace(',', ";"), cells)
    };
    whole(&dressed(|cell| format!("\"=\"\"{cell}\"\"\"")));
    whole(&dressed(|cell| format!("=\"{cell}\"")));
    whole(&dressed(|cell| format!("'{cell}")));
    let wide = |c: char| char::from_u32(c as u32 + 0xfee0).unwrap();
    whole(&drive(HEADER, |i| {
        let cell = |cell: &str| cell.chars().map(wide).collect::<String>();
        row(i).split(',').map(cell).collect::<Vec<_>>().join(",")
    }));
}

#[test]
fn blanks_part_columns_where_names_and_values_match() {
    let blanks = |i: usize| row(i).replace(',', " ");
    whole(&drive("time_s coolant_c speed_kmh ambient_c", blanks));
    let wide = |i: usize| row(i).replace(',', "     ");
    whole(&drive(
        "Time s   Coolant °C   Speed km/h   Ambient °C",
        wide,
    ));
    // Nobody knows which name belongs to which column.
    let text = drive("time coolant temp speed ambient", blanks);
    let refusal = imported(&text, &ReadOptions::default()).unwrap_err();
    assert!(
        refusal.message().contains("line 1 has 5 names"),
        "{refusal}"
    );
}

/// Files that are no table were refused with the same words, whatever was wrong.
#[test]
fn what_is_no_table_is_told_by_a_line_of_it() {
    for (text, said) in [
        (
            "<!DOCTYPE html><html></html>\n",
            "a web page or XML (line 1 begins `<!DOCTYPE",
        ),
        ("[{\"time\":0,\"coolant\":20}]\n", "JSON (line 1 begins"),
        (
            "\nTime,Coolant,Speed\n",
            "a row of numbers (line 2 begins `Time,Coolant,Speed`)",
        ),
    ] {
        let refusal = imported(text, &ReadOptions::default()).unwrap_err();
        assert!(refusal.message().contains(said), "{refusal}");
    }
}

/// The second of two columns of a name could not be named.
#[test]
fn columns_of_one_name_are_numbered() {
    let twins = |i: usize| format!("{i},{},{},{},20", 80 + i % 9, 70 + i % 9, 60 + i % 60);
    let text = drive(
        "Time (s),coolant_c,coolant_c,Speed (km/h),Ambient (°C)",
        twins,
    );
    let session = read(&text);
    assert!(has(&session, "ambiguous-column", Caution));
    let session = imported(&text, &mapping(&["coolant=coolant_c #2"])).unwrap();
    let coolant = &session.meta.channels[&Role::Coolant];
    assert_eq!((coolant.max, coolant.unit.as_str()), (Some(78.0), "°C"));
}

#[test]
fn clocks_of_channels_are_no_channels() {
    let cells = |i: usize| format!("{i},{},{i},{},{i},20", 80 + i % 9, 60 + i % 60);
    for header in [
        "Coolant (°C) time,Coolant (°C),Speed (km/h) time,Speed (km/h),Ambient (°C) time,Ambient (°C)",
        "Time,Coolant (°C),Time,Speed (km/h),Time,Ambient (°C)",
    ] {
        whole(&drive(header, cells));
    }
    let apart = |i: usize| format!("{i},{},{}.5,{},{i},20", 80 + i % 9, i, 60 + i % 60);
    let session = read(&drive(
        "t_ 1,Coolant (°C),t_ 2,Speed (km/h),t_ 3,Ambient (°C)",
        apart,
    ));
    assert_eq!(kept(&session), (299.5, 600));
    assert!(has(&session, "own-clocks", Note));
}

/// Positions as receivers write them were dropped as impossible.
#[test]
fn positions_in_minutes_and_in_ten_millionths_are_read() {
    let lat = |i: usize| 45.5 + i as f64 * 2e-4;
    let position = |session: &Session| {
        let channels = &session.meta.channels;
        [Role::Latitude, Role::Longitude].map(|role| channels[&role].max.unwrap())
    };
    let minutes = |i: usize| {
        let minutes = 60.0 * (lat(i) - 45.0);
        format!("{},{:.4},S,00912.3900,E", row(i), 4500.0 + minutes)
    };
    let session = read(&drive(
        &format!("{HEADER},Latitude,N/S,Longitude,E/W"),
        minutes,
    ));
    let [south, east] = position(&session);
    assert!((south + 45.5).abs() < 1e-6 && (east - 9.2065).abs() < 1e-6);
    let parts = |i: usize| format!("{},{:.0},92065000", row(i), lat(i) * 1e7);
    let session = read(&drive(&format!("{HEADER},lat,lon"), parts));
    assert!(has(&session, "positions-form", Note));
    assert!((position(&session)[0] - lat(299)).abs() < 1e-6);
}

/// A column with degree signs was dropped as text; whole millionths of a degree were impossible,
/// though the speed tells them from ten-millionths.
#[test]
fn positions_with_signs_and_in_millionths_are_read() {
    // 25 m/s north.
    let lat = |i: usize| 45.5 + 25.0 * i as f64 / 111_195.0;
    let cells = |i: usize| format!("{i},{},90,20", 80 + i % 9);
    let position = |session: &Session| {
        let channels = &session.meta.channels;
        [Role::Latitude, Role::Longitude].map(|role| channels[&role].max.unwrap())
    };
    let millionths = |i: usize| format!("{},{:.0},9206500", cells(i), lat(i) * 1e6);
    let session = read(&drive(&format!("{HEADER},lat,lon"), millionths));
    assert!(has(&session, "positions-form", Note));
    let [north, east] = position(&session);
    assert!((north - lat(299)).abs() < 1e-6 && (east - 9.2065).abs() < 1e-6);
    // Without a speed that fits nothing is assumed.
    let standing = |i: usize| millionths(i).replace(",90,", &format!(",{},", i % 3));
    let session = read(&drive(&format!("{HEADER},lat,lon"), standing));
    assert!(!ids(&session).contains(&"positions-form"));
    for half in [" N", ""] {
        let signed = |i: usize| format!("{},{:.6}°{half},-9.2065°", cells(i), lat(i));
        let [north, west] = position(&read(&drive(
            &format!("{HEADER},Latitude,Longitude"),
            signed,
        )));
        assert!((north - lat(299)).abs() < 1e-5 && (west + 9.2065).abs() < 1e-6);
    }
    let sexagesimal = |i: usize| {
        let seconds = 3600.0 * (lat(i) - 45.0);
        let (minutes, seconds) = ((seconds / 60.0).floor(), seconds % 60.0);
        format!(
            "{},45°{minutes:02}'{seconds:05.2}\"N,9°12'23.4\"W",
            cells(i)
        )
    };
    let [north, west] = position(&read(&drive(
        &format!("{HEADER},Latitude,Longitude"),
        sexagesimal,
    )));
    assert!((north - lat(299)).abs() < 1e-5 && (west + 9.2065).abs() < 1e-6);
}

/// `readable` was true, and `time` null, of a file that an import refuses.
#[test]
fn a_look_says_what_an_import_would() {
    let look =
        |text: &str| inspect_bytes("a.csv", text.as_bytes(), &ReadOptions::default()).remove(0);
    let untimed = drive("Sample,Coolant (°C),Speed (km/h),Ambient (°C)", row);
    let report = look(&untimed);
    assert!(!report.readable && report.time.is_none() && report.channels.len() == 3);
    let refusal: IngestError = imported(&untimed, &ReadOptions::default()).unwrap_err();
    assert_eq!(report.message, Some(refusal.message()));
    let swapped = |i: usize| format!("{i},20,{},{}", 80 + i % 9, 60 + i % 60);
    let report = look(&drive(
        "Time (s),Coolant (°C),Ambient (°C),Speed (km/h)",
        swapped,
    ));
    assert!(report.readable && report.hint.is_some());
    assert!(report.warnings.iter().any(|w| w.id == "import-refuses"));
    assert_eq!(look(&drive(HEADER, row)).message, None);
}

#[test]
fn lines_quoted_as_a_whole_and_rows_of_numbers_are_seen() {
    let quoted = |i: usize| format!("\"{}\"", row(i));
    whole(&drive(&format!("\"{HEADER}\""), quoted));
    assert!(has(
        &whole(&drive(&format!("{HEADER}\n1,2,3,4"), row)),
        "number-row",
        Note
    ));
}

#[test]
fn clocks_with_units_in_cells_letters_or_blanks_are_read() {
    let rest = |i: usize| row(i).split_once(',').unwrap().1.to_owned();
    let header = HEADER.replace(" (s)", "");
    whole(&drive(&header, |i| format!("{i}.0\u{a0}s,{}", rest(i))));
    whole(&drive(&header, |i| format!("{} ms,{}", 1000 * i, rest(i))));
    whole(&drive(&header, |i| {
        format!("14h{:02}m{:02}s,{}", i / 60, i % 60, rest(i))
    }));
    // Written only when it changes: two rows a second.
    let halves = |i: usize| match i % 2 {
        0 => format!("14:{:02}:{:02},{}", i / 120, i / 2 % 60, rest(i)),
        _ => format!(",{}", rest(i)),
    };
    let session = read(&drive(&header, halves));
    assert_eq!(kept(&session), (149.5, 300));
}
