//! `heatbook verify`: is everything in the book as it was written.

use serde::Serialize;

use super::failure::Failure;
use super::output::count;
use super::{Context, Outcome};
use crate::book::Fault;
use crate::warning::Warning;

#[derive(Debug, Serialize)]
struct Document {
    sound: bool,
    sessions_checked: usize,
    bytes_checked: u64,
    faults: Vec<Line>,
    warnings: Vec<Warning>,
}

#[derive(Debug, Serialize)]
struct Line {
    id: &'static str,
    file: String,
    session: Option<String>,
    message: String,
    hint: String,
}

impl From<Fault> for Line {
    fn from(fault: Fault) -> Self {
        let hint = match (fault.id, &fault.session) {
            ("fit-changed", Some(id)) => format!("heatbook fit {id} --afresh"),
            (_, Some(id)) => format!(
                "restore it from a copy, or import its log again in its place: heatbook import FILE --setup NAME --replace {id}"
            ),
            (_, None) => "restore the book from a copy".to_owned(),
        };
        Self {
            id: fault.id,
            file: fault.file,
            session: fault.session,
            message: fault.message,
            hint,
        }
    }
}

/// Looks at everything; exit code 1 where something is not as it was written.
pub fn run(context: &Context) -> Result<Outcome, Failure> {
    let found = context.existing_book()?.verify();
    let stray = |name: &String| {
        let told =
            "belongs to no session: an import that was killed left it, or somebody put it there";
        Warning::note("left-behind", format!("{name} {told}"))
    };
    let document = Document {
        sound: found.faults.is_empty(),
        sessions_checked: found.sessions,
        bytes_checked: found.bytes,
        warnings: found.left_behind.iter().map(stray).collect(),
        faults: found.faults.into_iter().map(Line::from).collect(),
    };
    context.output.warnings(&document.warnings);
    context.output.answer(&document, || text(&document))?;
    Ok(if document.sound {
        Outcome::Done
    } else {
        Outcome::Partly
    })
}

fn text(document: &Document) -> String {
    let mut text = String::new();
    for fault in &document.faults {
        let session = fault.session.as_deref();
        let of = session.map_or_else(String::new, |id| format!("session {id}: "));
        text += &format!(
            "{}: {of}{} [{}]\n  hint: {}\n",
            fault.file, fault.message, fault.id, fault.hint
        );
    }
    let looked = format!(
        "{}, {:.1} MB of channels, the catalogue",
        count(document.sessions_checked, "session"),
        document.bytes_checked as f64 / 1e6
    );
    match document.faults.len() {
        0 => text + &format!("{looked}: all as it was written\n"),
        faults => text + &format!("{looked}: {}\n", count(faults, "fault")),
    }
}
