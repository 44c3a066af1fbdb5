//! `heatbook install-files`: shell completions and man pages, from the command line itself.

use std::path::{Path, PathBuf};

use clap::{Args, CommandFactory, ValueEnum};
use clap_complete::Shell;
use serde::Serialize;

use super::failure::Failure;
use super::{Cli, Context, Outcome};
use crate::warning::Warning;

/// Arguments of `install-files`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The folder to write into: `completions` and `man` are made in it
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

#[derive(Debug, Serialize)]
struct Document {
    files: Vec<String>,
    warnings: Vec<Warning>,
}

/// Writes a completion for each shell and a page for each verb.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let completions = arguments.folder.join("completions");
    let pages = arguments.folder.join("man");
    for folder in [&completions, &pages] {
        std::fs::create_dir_all(folder).map_err(|e| Failure::file("make", folder, &e))?;
    }
    let mut files = Vec::new();
    for shell in Shell::value_variants() {
        let written =
            clap_complete::generate_to(*shell, &mut Cli::command(), "heatbook", &completions);
        let file = written.map_err(|e| Failure::file("write", &completions, &e))?;
        files.push(file.display().to_string());
    }
    let mut command = Cli::command();
    command.build();
    files.push(page(command.clone(), "heatbook", &pages)?);
    for verb in command.get_subcommands().filter(|v| v.get_name() != "help") {
        files.push(page(
            verb.clone(),
            &format!("heatbook-{}", verb.get_name()),
            &pages,
        )?);
    }
    let document = Document {
        files,
        warnings: Vec::new(),
    };
    context.output.answer(&document, || {
        document.files.iter().map(|f| format!("{f}\n")).collect()
    })?;
    Ok(Outcome::Done)
}

/// Writes the page of a command.
fn page(command: clap::Command, name: &str, folder: &Path) -> Result<String, Failure> {
    let file = folder.join(format!("{name}.1"));
    let mut roff = Vec::new();
    // Built under its own name, a page is called as its file is.
    let page = clap_mangen::Man::new(command).title(name);
    page.render(&mut roff)
        .and_then(|()| std::fs::write(&file, &roff))
        .map_err(|e| Failure::file("write", &file, &e))?;
    Ok(file.display().to_string())
}
