//! Feeds damaged sheets and damaged books to the program for as long as it is told: no panic, no
//! hang, and `verify` passes no book whose answers have changed.
//!
//! ```sh
//! cargo run --release --example fuzz_book -- --minutes 10 --seed 1
//! ```
//!
//! In turns: a sheet of the sample logs with bytes changed, removed, doubled or put in; a catalogue
//! with bits flipped, cut short or pieces exchanged; a Parquet file treated likewise, its hash in the
//! catalogue made to fit, so that the Parquet reader itself is tried. A finding ends the run with seed
//! and round, which make the same input again.

#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::collections::BTreeMap;
use std::path::Path;
use std::time::{Duration, Instant};

use heatbook::book::{Book, Change};
use heatbook::car::{CarSheet, SetupSheet};
use heatbook::ingest::Profile;
use heatbook::session::{Role, Session, SessionMeta};
use heatbook::stack::Stack;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sha2::{Digest, Sha256};

const HANG: Duration = Duration::from_secs(5);

fn main() {
    let flag = |name: &str, default: f64| {
        let mut arguments = std::env::args().skip_while(|a| a != name).skip(1);
        let given = arguments.next().and_then(|v| v.parse().ok());
        given.unwrap_or(default)
    };
    let length = Duration::from_secs_f64(60.0 * flag("--minutes", 1.0));
    let seed = flag("--seed", 1.0) as u64;
    // A panic that the book survives is no finding; one that it does not ends the run all the same.
    std::panic::set_hook(Box::new(|_| ()));
    let sheets = sheets();
    let book = SoundBook::make();
    let started = Instant::now();
    let (mut round, mut told, mut slowest) = (0_u64, [0_u64; 3], Duration::ZERO);
    while started.elapsed() < length {
        let mut rng = ChaCha8Rng::seed_from_u64(seed.wrapping_mul(1_000_003).wrapping_add(round));
        let begun = Instant::now();
        let kind = (round % 3) as usize;
        let tried = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| match kind {
            0 => try_sheet(&sheets, &mut rng),
            1 => book.try_catalogue(&mut rng),
            _ => book.try_channels(&mut rng),
        }));
        slowest = slowest.max(begun.elapsed());
        match tried {
            Ok(Ok(refused)) => told[kind] += u64::from(refused),
            Ok(Err(what)) => fail(seed, round, &what),
            Err(_) => fail(seed, round, "it panicked"),
        }
        if begun.elapsed() > HANG {
            fail(seed, round, "it took longer than five seconds");
        }
        round += 1;
    }
    println!(
        "{round} rounds, slowest {slowest:.2?}, no finding; refused or named: {} sheets, {} catalogues, {} Parquet files",
        told[0], told[1], told[2]
    );
}

fn fail(seed: u64, round: u64, what: &str) -> ! {
    eprintln!("seed {seed} round {round}: {what}");
    std::process::exit(1);
}

/// Some mishaps; the bytes may end up as they were.
fn damaged(whole: &[u8], rng: &mut impl Rng) -> Vec<u8> {
    const TOKENS: [&[u8]; 12] = [
        b"=",
        b"[",
        b"]]",
        b"\"\"\"",
        b"1e999",
        b"nan",
        b"-inf",
        b"\n",
        b"\xFF",
        b"{",
        b"\0",
        b"99999999999999999999",
    ];
    let mut bytes = whole.to_vec();
    for _ in 0..rng.random_range(1..=4) {
        let at = rng.random_range(0..=bytes.len());
        let to = rng.random_range(at..=bytes.len().min(at + 200));
        match rng.random_range(0..6) {
            0 | 1 if at < bytes.len() => bytes[at] ^= 1 << rng.random_range(0..8),
            2 => drop(bytes.drain(at..to)),
            3 => {
                let piece = bytes[at..to].to_vec();
                bytes.splice(at..at, piece);
            }
            4 => drop(bytes.splice(at..at, TOKENS[rng.random_range(0..TOKENS.len())].to_vec())),
            _ if rng.random_range(0..8) == 0 => bytes.truncate(at),
            _ => {}
        }
    }
    bytes
}

fn sheets() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample_logs");
    let names = [
        "car.toml",
        "stack.toml",
        "setup_open-ducts.toml",
        "setup_sealed-ducts.toml",
    ];
    let read = |name| std::fs::read_to_string(folder.join(name)).expect("a sheet");
    names.map(read).to_vec()
}

/// Whether every reader refuses it.
fn try_sheet(sheets: &[String], rng: &mut impl Rng) -> Result<bool, String> {
    let sheet = &sheets[rng.random_range(0..sheets.len())];
    let bytes = damaged(sheet.as_bytes(), rng);
    let text = String::from_utf8_lossy(&bytes);
    let car = CarSheet::from_toml(&text, "fuzz.toml");
    let setup = SetupSheet::from_toml(&text, "fuzz.toml");
    let stack = Stack::from_toml(&text, "fuzz.toml", &CarSheet::default());
    let profile = Profile::from_toml(&text, "fuzz.toml");
    for error in [
        car.as_ref().err(),
        setup.as_ref().err(),
        stack.as_ref().err(),
    ]
    .into_iter()
    .flatten()
    {
        if error.to_string().is_empty() || error.hint().is_empty() {
            return Err(format!("a sheet is refused without a word: {text}"));
        }
    }
    Ok(car.is_err() && setup.is_err() && stack.is_err() && profile.is_err())
}

/// A book of two sessions, and its files as they should be.
struct SoundBook {
    folder: tempfile::TempDir,
    catalogue: Vec<u8>,
    part: Vec<u8>,
    sessions: Vec<SessionMeta>,
}

impl SoundBook {
    fn make() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let mut book = Book::open(folder.path()).expect("a book");
        for i in 0..2 {
            book.add(session(i)).expect("a session");
        }
        book.amend("s2", &Change::Exclude("rain".into()))
            .expect("an exclusion");
        book.keep_fits(&[("s1".into(), "key".into(), "{}".into())])
            .expect("a fit");
        let sessions = book.sessions().expect("the sessions");
        drop(book);
        let read = |name: &str| std::fs::read(folder.path().join(name)).expect("a file");
        Self {
            catalogue: read("catalogue.sqlite"),
            part: read("channels/session=s1/part-0.parquet"),
            sessions,
            folder,
        }
    }

    fn write(&self, catalogue: &[u8], part: &[u8]) -> Result<(), String> {
        let put = |name: &str, bytes: &[u8]| std::fs::write(self.folder.path().join(name), bytes);
        put("catalogue.sqlite", catalogue)
            .and_then(|()| put("channels/session=s1/part-0.parquet", part))
            .map_err(|e| e.to_string())
    }

    /// Whether the damage is told. Untold, the answers must be as they were.
    fn try_catalogue(&self, rng: &mut impl Rng) -> Result<bool, String> {
        self.write(&damaged(&self.catalogue, rng), &self.part)?;
        let Ok(book) = Book::open_read_only(self.folder.path()) else {
            return Ok(true);
        };
        let faults = book.verify().faults;
        let (listed, read) = (book.sessions(), book.session("s1"));
        let (history, fits) = (
            book.history(None),
            book.cached_fits(&[("s1".into(), "key".into())]),
        );
        if !faults.is_empty() {
            return Ok(true);
        }
        let same = listed.is_ok_and(|listed| listed == self.sessions);
        let kept = fits.is_ok_and(|fits| fits[0].as_deref().is_none_or(|fit| fit == "{}"));
        if same && kept && read.is_ok() && history.is_ok() {
            Ok(false)
        } else {
            Err("verify passes a catalogue whose answers have changed".to_owned())
        }
    }

    /// The hash is made to fit: a file that another program wrote, or that was meant to harm.
    fn try_channels(&self, rng: &mut impl Rng) -> Result<bool, String> {
        let part = damaged(&self.part, rng);
        self.write(&self.catalogue, &part)?;
        let hash: String = Sha256::digest(&part)
            .iter()
            .map(|b| format!("{b:02x}"))
            .collect();
        let catalogue = rusqlite::Connection::open(self.folder.path().join("catalogue.sqlite"));
        let set = "UPDATE sessions SET parquet_bytes = ?, parquet_sha256 = ? WHERE n = 1";
        catalogue
            .and_then(|conn| conn.execute(set, rusqlite::params![part.len() as i64, hash]))
            .map_err(|e| e.to_string())?;
        let book = Book::open_read_only(self.folder.path()).map_err(|e| e.to_string())?;
        let Ok(session) = book.session("s1") else {
            return Ok(true);
        };
        let _ = (session.time_s(), session.grid(1.0).len);
        let _ = heatbook::estimate::fit_session(&session);
        Ok(false)
    }
}

fn session(i: u32) -> Session {
    let meta = SessionMeta {
        sha256: format!("{i:064x}"),
        ..SessionMeta::bare(&format!("run_{i}.csv"), "stock", CarSheet::default())
    };
    let t_s: Vec<f64> = (0..500).map(|i| f64::from(i) * 0.5).collect();
    let coolant: Vec<f64> = t_s
        .iter()
        .map(|t| 90.0 + (t / 20.0 + f64::from(i)).sin())
        .collect();
    let speed = t_s.iter().map(|t| 100.0 + 30.0 * (t / 9.0).sin()).collect();
    let channels = BTreeMap::from([(Role::Coolant, coolant), (Role::Speed, speed)]);
    Session::from_columns(meta, &t_s, channels).expect("columns of one length")
}
