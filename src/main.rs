//! The command line of heatbook.

use std::process::ExitCode;

fn main() -> ExitCode {
    heatbook::cli::main()
}
