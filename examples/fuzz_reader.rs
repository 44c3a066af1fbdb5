//! Feeds damaged logs to the reader for as long as it is told: no panic, no hang, bounded memory.
//!
//! ```sh
//! cargo run --release --example fuzz_reader -- --minutes 10 --seed 1
//! ```
//!
//! Each round takes a fixture of `tests/fixtures/ingest`, damages it (bytes changed, removed,
//! doubled, pieces of other fixtures put in, cut short) and reads it as `inspect` and `import` do,
//! also as its own second device. A panic ends the run with the seed and the round, which make the
//! same input again; a read that takes longer than two seconds counts as a hang. cargo-fuzz would
//! steer by coverage, but needs a nightly toolchain.

#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::path::Path;
use std::time::{Duration, Instant};

use heatbook::ingest::{ReadOptions, inspect_bytes, read_sessions_bytes};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const HANG: Duration = Duration::from_secs(2);
const MOST_BYTES: usize = 200_000;

fn main() {
    let flag = |name: &str, default: f64| {
        let mut arguments = std::env::args().skip_while(|a| a != name).skip(1);
        arguments
            .next()
            .and_then(|v| v.parse().ok())
            .unwrap_or(default)
    };
    let length = Duration::from_secs_f64(60.0 * flag("--minutes", 1.0));
    let seed = flag("--seed", 1.0) as u64;
    let corpus = corpus();
    let started = Instant::now();
    let (mut round, mut read, mut slowest) = (0_u64, 0_u64, Duration::ZERO);
    while started.elapsed() < length {
        let mut rng = ChaCha8Rng::seed_from_u64(seed.wrapping_mul(1_000_003).wrapping_add(round));
        let bytes = damaged(&corpus, &mut rng);
        let begun = Instant::now();
        match std::panic::catch_unwind(|| try_all(&bytes)) {
            Ok(sessions) => read += u64::from(sessions),
            Err(_) => fail(seed, round, &bytes, "panicked"),
        }
        slowest = slowest.max(begun.elapsed());
        if begun.elapsed() > HANG {
            fail(seed, round, &bytes, "took longer than two seconds");
        }
        round += 1;
    }
    println!(
        "{round} damaged logs, {read} of them still sessions, slowest {slowest:.2?}, no finding"
    );
}

fn corpus() -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/ingest");
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .expect("the fixtures")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    paths.sort();
    paths
        .iter()
        .map(|p| std::fs::read(p).expect("a fixture"))
        .collect()
}

/// A fixture after one to eight mishaps.
fn damaged(corpus: &[Vec<u8>], rng: &mut impl Rng) -> Vec<u8> {
    const TOKENS: [&[u8]; 16] = [
        b",",
        b";",
        b"\t",
        b"|",
        b"\n",
        b"\r\n",
        b"\"",
        b"-40",
        b"1e308",
        b"NaN",
        b"99:99:99",
        b"2031-02-30",
        b"\x00\xFF",
        b"\xC3",
        b"0000-00-00T00:00:00Z",
        b"-",
    ];
    let mut bytes = corpus[rng.random_range(0..corpus.len())].clone();
    for _ in 0..rng.random_range(1..=8) {
        let at = rng.random_range(0..=bytes.len());
        let to = rng.random_range(at..=bytes.len().min(at + 400));
        match rng.random_range(0..7) {
            0 if at < bytes.len() => bytes[at] = rng.random(),
            1 => drop(bytes.drain(at..to)),
            2 => {
                let piece = bytes[at..to].to_vec();
                bytes.splice(at..at, piece);
            }
            3 => {
                let other = &corpus[rng.random_range(0..corpus.len())];
                let from = rng.random_range(0..=other.len());
                let end = rng.random_range(from..=other.len().min(from + 400));
                bytes.splice(at..at, other[from..end].iter().copied());
            }
            4 => drop(bytes.splice(at..at, TOKENS[rng.random_range(0..TOKENS.len())].to_vec())),
            5 => bytes.truncate(at),
            _ => {
                let whole = bytes.clone();
                bytes.extend(whole);
            }
        }
        bytes.truncate(MOST_BYTES);
    }
    bytes
}

/// Reads as the program does; whether it gave a session.
fn try_all(bytes: &[u8]) -> bool {
    let options = ReadOptions::default();
    let _ = inspect_bytes("fuzz.csv", bytes, &options);
    let _ = read_sessions_bytes("fuzz.csv", bytes, &[("other.csv", bytes)], &options);
    read_sessions_bytes("fuzz.csv", bytes, &[], &options).is_ok()
}

fn fail(seed: u64, round: u64, bytes: &[u8], what: &str) -> ! {
    let kept = std::env::temp_dir().join(format!("fuzz_{seed}_{round}.csv"));
    let _ = std::fs::write(&kept, bytes);
    eprintln!(
        "seed {seed} round {round}: the reader {what}; input in {}",
        kept.display()
    );
    std::process::exit(1);
}
