//! The command line: the only layer that prints.

use std::process::ExitCode;

/// Runs the command line.
pub fn main() -> ExitCode {
    ExitCode::SUCCESS
}
