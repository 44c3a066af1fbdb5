//! The project's own computations against published results; `tests/reference/README.md` names the
//! sources of the data.

mod coolant;
mod exchanger;
mod exponentials;
mod linear;
mod macro_data;
mod newey_west;
mod nist;
mod open_data;
mod plain_tests;
mod random_effects;
mod two_nodes;

fn reference(name: &str) -> String {
    let path = super::root().join("tests/reference").join(name);
    std::fs::read_to_string(path).unwrap()
}

fn numbers(line: &str) -> Vec<f64> {
    line.split_whitespace()
        .filter_map(|field| field.parse().ok())
        .collect()
}

/// The columns `names` of a file with comma and one header row, each as a series.
fn columns<const N: usize>(name: &str, names: [&str; N]) -> [Vec<f64>; N] {
    let text = reference(name);
    let mut lines = text.lines().map(|l| l.split(',').collect::<Vec<_>>());
    let header = lines.next().unwrap();
    let rows: Vec<Vec<&str>> = lines.collect();
    names.map(|column| {
        let i = header.iter().position(|h| *h == column).unwrap();
        rows.iter().map(|row| row[i].parse().unwrap()).collect()
    })
}

/// Relative difference of two numbers.
fn off(found: f64, published: f64) -> f64 {
    (found / published - 1.0).abs()
}

/// Fails where `found` is further than `tolerance` from `published`, relative.
fn near(found: f64, published: f64, tolerance: f64) {
    assert!(
        off(found, published) <= tolerance,
        "{found}, not {published}"
    );
}

/// The rows of numbers after the last heading `Data:`.
fn data(lines: &[&str]) -> Vec<Vec<f64>> {
    let heading = lines.iter().rposition(|l| l.starts_with("Data:")).unwrap();
    let rows = lines[heading + 1..].iter().map(|l| numbers(l));
    rows.filter(|row| !row.is_empty()).collect()
}
