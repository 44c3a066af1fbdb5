//! The command line: one file a verb, and the only layer that prints.

mod amend;
mod backup;
mod compare;
mod compare_text;
mod csv_charts;
mod csv_tables;
mod demo;
mod each;
mod export;
mod failure;
mod fit;
mod fit_text;
mod history;
mod import;
mod importer;
mod inspect;
mod install_files;
mod judged;
mod kept;
mod limits;
mod limits_text;
mod output;
mod plain_text;
mod plan;
mod progress;
mod provenance;
mod reading;
mod season;
mod sessions;
mod sheets;
mod stack;
mod trace_text;
mod values;
mod verify;
mod worked;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::book::Book;
use crate::quantity::Units;
use failure::Failure;
use output::Output;

/// Track-day log analyser for cooling work: import logs, fit a thermal model to each session,
/// compare before and after, see which sessions came near a limit.
#[derive(Debug, Parser)]
#[command(
    name = "heatbook",
    version,
    propagate_version = true,
    max_term_width = 100
)]
struct Cli {
    /// Folder in which sessions are kept [default: a folder of your data directory]
    #[arg(long, value_name = "DIR", global = true)]
    book: Option<PathBuf>,
    /// One JSON document on stdout and nothing else there
    #[arg(long, global = true)]
    json: bool,
    /// Write the numbers of every table and chart into this folder, a CSV file a table
    #[arg(long, value_name = "DIR", global = true)]
    csv: Option<PathBuf>,
    /// Units of texts, tables and pages; JSON and CSV stay metric. A flag's value may carry its
    /// unit in either case: --limit-c 230F, --threshold-k 1F
    #[arg(long, global = true, value_name = "SYSTEM", default_value = "metric", value_parser = values::units)]
    units: Units,
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, Subcommand)]
enum Verb {
    /// Say how files would be read, and change nothing
    Inspect(inspect::Arguments),
    /// Put logs into the book, as sessions of a setup
    Import(import::Arguments),
    /// List the sessions in the book
    Sessions(sessions::Arguments),
    /// Fit the thermal model to sessions
    Fit(fit::Arguments),
    /// Compute a stack of exchangers, and what a part should change, before it is tested
    Stack(stack::Arguments),
    /// Plan a test: how many sessions, in what order, and what they could find
    Plan(plan::Arguments),
    /// Compare two setups
    Compare(compare::Arguments),
    /// Say which sessions came near a limit
    Limits(limits::Arguments),
    /// Show a car's sessions in time order, and whether its cooling drifts
    Season(season::Arguments),
    /// Correct what the book says of a session; the old value is kept
    Amend(amend::Arguments),
    /// Show what was imported and corrected, when
    History(history::Arguments),
    /// Check that everything in the book is as it was written
    Verify,
    /// Copy the book while it is in use
    Backup(backup::Arguments),
    /// Write sessions as files for other programs
    Export(export::Arguments),
    /// Write shell completions and man pages
    InstallFiles(install_files::Arguments),
    /// Run the whole job on the sample logs and write the report pages
    Demo(demo::Arguments),
}

/// How a verb ended; the exit code of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Outcome {
    /// All was done.
    Done,
    /// Some of it could not be done, the rest was.
    Partly,
    /// A condition asked for with `--fail-on` was met.
    ConditionMet,
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Done => Self::SUCCESS,
            Outcome::Partly => Self::from(1),
            Outcome::ConditionMet => Self::from(3),
        }
    }
}

/// What every verb is handed.
struct Context {
    book: Option<PathBuf>,
    output: Output,
    units: Units,
}

impl Context {
    fn book_dir(&self) -> Result<PathBuf, Failure> {
        self.book.clone().or_else(Book::default_dir).ok_or_else(|| {
            Failure::new(
                "this system names no folder for user data",
                "name one with --book DIR",
            )
        })
    }

    /// The book where there must be one: a mistyped folder must not become an empty book.
    fn existing_book(&self) -> Result<Book, Failure> {
        Ok(Book::open_existing(&self.book_dir()?)?)
    }
}

/// Runs the command line.
pub fn main() -> ExitCode {
    match Cli::try_parse() {
        Ok(cli) => run(cli),
        Err(error) => wrong_call(&error),
    }
}

fn run(cli: Cli) -> ExitCode {
    let context = Context {
        book: cli.book,
        output: Output::new(cli.json, cli.units, cli.csv),
        units: cli.units,
    };
    let result = match cli.verb {
        Verb::Inspect(arguments) => inspect::run(&context, &arguments),
        Verb::Import(arguments) => import::run(&context, &arguments),
        Verb::Sessions(arguments) => sessions::run(&context, &arguments),
        Verb::Fit(arguments) => fit::run(&context, &arguments),
        Verb::Stack(arguments) => stack::run(&context, &arguments),
        Verb::Plan(arguments) => plan::run(&context, &arguments),
        Verb::Compare(arguments) => compare::run(&context, &arguments),
        Verb::Limits(arguments) => limits::run(&context, &arguments),
        Verb::Season(arguments) => season::run(&context, &arguments),
        Verb::Amend(arguments) => amend::run(&context, &arguments),
        Verb::History(arguments) => history::run(&context, &arguments),
        Verb::Verify => verify::run(&context),
        Verb::Backup(arguments) => backup::run(&context, &arguments),
        Verb::Export(arguments) => export::run(&context, &arguments),
        Verb::InstallFiles(arguments) => install_files::run(&context, &arguments),
        Verb::Demo(arguments) => demo::run(&context, &arguments),
    };
    match result {
        Ok(outcome) => outcome.into(),
        Err(failure) => {
            context.output.failure(&failure);
            ExitCode::from(2)
        }
    }
}

/// A call that clap refuses: help and version are no errors; the rest is exit code 2, as JSON when
/// that was asked for.
fn wrong_call(error: &clap::Error) -> ExitCode {
    let asked_for_json = std::env::args().any(|argument| argument == "--json");
    if error.use_stderr() && asked_for_json {
        let text = error.to_string();
        // The first paragraph; a list of what is missing may stand in lines of its own.
        let message = text
            .split("\n\n")
            .next()
            .unwrap_or_default()
            .trim_start_matches("error: ")
            .replace("\n  ", " ");
        let failure = Failure::new(message, "heatbook help lists the verbs and their flags");
        Output::new(true, Units::Metric, None).failure(&failure);
    } else {
        // A closed pipe leaves nobody to tell.
        let _ = error.print();
    }
    if error.use_stderr() {
        ExitCode::from(2)
    } else {
        ExitCode::SUCCESS
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_well_formed() {
        Cli::command().debug_assert();
    }
}
