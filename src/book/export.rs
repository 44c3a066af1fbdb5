//! The book for other programs: one table of sessions, and the channels of each.
//!
//! ```text
//! sessions.parquet                          sessions.csv
//! channels/session=s3/part-0.parquet        channels/s3.csv
//! ```
//!
//! The files of the book itself have a column for each channel that a session has. Here each has
//! all columns that any of them has, so that one glob reads all of them without further words.
//!
//! A text that a spreadsheet would take for a formula gets an apostrophe before it in CSV (the
//! first characters that the OWASP page "CSV Injection" names, from memory: `= + - @`, tab, carriage return).

use std::collections::BTreeSet;
use std::fs;
use std::io::Write;
use std::path::Path;

use polars::prelude::*;

use super::backup::empty_folder;
use super::error::{BookError, Result};
use super::{Book, channels, rows};
use crate::session::{Role, Session, SessionMeta, TIME};

/// What is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Text, for spreadsheets.
    Csv,
    /// Parquet, for data engines.
    Parquet,
}

/// What was written.
#[derive(Debug)]
pub struct Exported {
    /// Ids of the sessions.
    pub sessions: Vec<String>,
    /// Sessions whose channels could not be read; the table has them.
    pub damaged: Vec<BookError>,
}

impl Book {
    /// Writes sessions into `to`, an empty folder or none yet.
    ///
    /// # Errors
    /// A folder that holds something; a disk that is full; a damaged catalogue.
    pub fn export(&self, metas: &[SessionMeta], to: &Path, format: Format) -> Result<Exported> {
        empty_folder(to)?;
        let columns = columns(metas);
        let written = self.map(metas, |session| {
            write_channels(&session, &columns, to, format)
        })?;
        let mut exported = Exported {
            sessions: Vec::new(),
            damaged: Vec::new(),
        };
        for (meta, written) in metas.iter().zip(written) {
            match written {
                Ok(written) => {
                    written?;
                    exported.sessions.push(meta.id.clone());
                }
                Err(error) => exported.damaged.push(error),
            }
        }
        write_sessions(metas, to, format)?;
        Ok(exported)
    }
}

/// The columns that every file gets: time, and each role that any session has.
fn columns(metas: &[SessionMeta]) -> Vec<Role> {
    let roles: BTreeSet<Role> = metas
        .iter()
        .flat_map(|m| m.channels.keys().copied())
        .collect();
    roles.into_iter().collect()
}

fn write_channels(session: &Session, roles: &[Role], to: &Path, format: Format) -> Result<()> {
    let id = &session.meta.id;
    match format {
        Format::Parquet => {
            let file = to.join(channels::name_in_book(id));
            let mut frame = frame(session, roles).map_err(encoding(&session.meta))?;
            write_parquet(&mut frame, &file, &session.meta)
        }
        Format::Csv => {
            let file = to.join("channels").join(format!("{id}.csv"));
            let mut text = String::from(TIME);
            roles.iter().for_each(|role| {
                text.push(',');
                text.push_str(role.name());
            });
            text.push('\n');
            let values: Vec<Option<Vec<f64>>> = roles.iter().map(|r| session.channel(*r)).collect();
            for (i, t) in session.time_s().iter().enumerate() {
                text.push_str(&t.to_string());
                for column in &values {
                    text.push(',');
                    if let Some(value) = column.as_ref().map(|c| c[i]).filter(|v| !v.is_nan()) {
                        text.push_str(&value.to_string());
                    }
                }
                text.push('\n');
            }
            write(&file, text.as_bytes())
        }
    }
}

/// A session's channels with a column for each role.
fn frame(session: &Session, roles: &[Role]) -> PolarsResult<DataFrame> {
    let rows = session.frame().height();
    let mut columns = vec![session.frame().column(TIME)?.clone()];
    for role in roles {
        columns.push(match session.frame().column(role.name()) {
            Ok(column) => column.clone(),
            Err(_) => Column::full_null(role.name().into(), rows, &DataType::Float64),
        });
    }
    DataFrame::new(rows, columns)
}

/// A column of the table of sessions.
enum Cells {
    Text(Vec<Option<String>>),
    Number(Vec<Option<f64>>),
}

fn table(metas: &[SessionMeta]) -> Vec<(String, Cells)> {
    let text = |name: &str, of: &dyn Fn(&SessionMeta) -> Option<String>| {
        (name.to_owned(), Cells::Text(metas.iter().map(of).collect()))
    };
    let mut table = vec![
        text("session", &|m| Some(m.id.clone())),
        text("file", &|m| Some(m.file.clone())),
        text("sha256", &|m| Some(m.sha256.clone())),
        text("setup", &|m| Some(m.setup.clone())),
        text("car", &|m| m.car.name.clone()),
        text("day", &|m| m.day.map(|d| d.to_string())),
        text("start", &|m| m.start.map(rows::instant)),
        text("driver", &|m| m.driver.clone()),
        text("note", &|m| m.note.clone()),
        text("excluded", &|m| m.excluded.clone()),
        text("car_sheet", &|m| rows::toml_text(&m.car).ok()),
        text("setup_sheet", &|m| rows::toml_text(&m.setup_sheet).ok()),
    ];
    let number = |name: String, of: &dyn Fn(&SessionMeta) -> Option<f64>| {
        (name, Cells::Number(metas.iter().map(of).collect()))
    };
    table.push(number("duration_s".to_owned(), &|m| Some(m.duration_s)));
    table.push(number("rows".to_owned(), &|m| Some(m.rows_kept as f64)));
    for role in columns(metas) {
        for (what, of) in [
            (
                "min",
                (|c| c.min) as fn(&crate::session::ChannelInfo) -> Option<f64>,
            ),
            ("max", |c| c.max),
            ("mean", |c| c.mean),
        ] {
            table.push(number(format!("{}_{what}", role.name()), &|m| {
                m.channels.get(&role).and_then(of)
            }));
        }
    }
    table
}

fn write_sessions(metas: &[SessionMeta], to: &Path, format: Format) -> Result<()> {
    let table = table(metas);
    match format {
        Format::Parquet => {
            let columns = table.into_iter().map(|(name, cells)| match cells {
                Cells::Text(cells) => Column::new(name.into(), cells),
                Cells::Number(cells) => Column::new(name.into(), cells),
            });
            let nobody = SessionMeta::bare("sessions", "", Default::default());
            let mut frame =
                DataFrame::new(metas.len(), columns.collect()).map_err(encoding(&nobody))?;
            write_parquet(&mut frame, &to.join("sessions.parquet"), &nobody)
        }
        Format::Csv => {
            let file = to.join("sessions.csv");
            let failed = |e: csv::Error| BookError::io(&file, "write")(std::io::Error::other(e));
            let mut writer = csv::Writer::from_writer(Vec::new());
            writer
                .write_record(table.iter().map(|(name, _)| name))
                .map_err(failed)?;
            for i in 0..metas.len() {
                let cells = table.iter().map(|(_, cells)| match cells {
                    Cells::Text(cells) => harmless(cells[i].as_deref().unwrap_or_default()),
                    Cells::Number(cells) => cells[i].map_or_else(String::new, |v| v.to_string()),
                });
                writer.write_record(cells).map_err(failed)?;
            }
            let bytes = writer
                .into_inner()
                .map_err(|e| BookError::io(&file, "write")(std::io::Error::other(e.to_string())))?;
            write(&file, &bytes)
        }
    }
}

/// A text that no spreadsheet takes for a formula.
fn harmless(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

fn write_parquet(frame: &mut DataFrame, file: &Path, meta: &SessionMeta) -> Result<()> {
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes)
        .with_compression(ParquetCompression::Zstd(None))
        .finish(frame)
        .map_err(encoding(meta))?;
    write(file, &bytes)
}

fn write(file: &Path, bytes: &[u8]) -> Result<()> {
    let folder = file.parent().unwrap_or(file);
    fs::create_dir_all(folder).map_err(BookError::io(folder, "make this folder"))?;
    fs::File::create(file)
        .and_then(|mut opened| opened.write_all(bytes))
        .map_err(BookError::io(file, "write"))
}

fn encoding(meta: &SessionMeta) -> impl Fn(PolarsError) -> BookError {
    let file = meta.file.clone();
    move |e| BookError::Encode {
        file: file.clone(),
        why: e.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::harmless;

    /// The first characters named by the OWASP page "CSV Injection" (from memory).
    #[test]
    fn a_formula_becomes_text() {
        for text in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"] {
            assert_eq!(harmless(text), format!("'{text}"));
        }
        for text in ["", "stock", "3 = 3", "a-b", "'=1"] {
            assert_eq!(harmless(text), text);
        }
    }
}
