//! Reads one exchanger of a stack sheet.

use toml::{Table, Value};

use super::{Reader, number, wrong};
use crate::car::{SheetError, nearest};
use crate::stack::keys::{EXCHANGER, PLACE};
use crate::stack::sheet::{Cover, Exchanger, First, Flow, Kind, Sheet};

impl Reader<'_> {
    /// Reads one exchanger into a sheet.
    pub(super) fn exchanger(&self, item: &Value, sheet: &mut Sheet) -> Result<(), SheetError> {
        let Value::Table(table) = item else {
            return Err(wrong(
                self.file,
                "exchanger",
                "tables under `[[exchanger]]`",
            ));
        };
        let known: Vec<&str> = PLACE
            .iter()
            .copied()
            .chain(EXCHANGER.iter().map(|k| k.name))
            .collect();
        self.known(table, "exchanger", &known)?;
        let index = self.which(table, sheet)?;
        let mut exchanger = sheet.exchangers[index].clone();
        self.place(table, &mut exchanger)?;
        for key in EXCHANGER {
            if let Some(value) = table.get(key.name) {
                let path = format!("{}.{}", exchanger.name, key.name);
                let input = self.input(value, &path, &key)?;
                sheet.give(&path, input);
                let other = match key.name {
                    "ua_w_per_k" => "ua_w_per_m2_k",
                    "ua_w_per_m2_k" => "ua_w_per_k",
                    _ => continue,
                };
                if table.contains_key(other) {
                    return Err(wrong(
                        self.file,
                        &path,
                        &format!("either this or {other}, not both"),
                    ));
                }
                let other = format!("{}.{other}", exchanger.name);
                sheet.inputs.remove(&other);
                sheet.assumed.retain(|path| *path != other);
            }
        }
        sheet.exchangers[index] = exchanger;
        Ok(())
    }

    /// The exchanger that a table is about: in a stack a new one, in a what-if one of the stack's.
    fn which(&self, table: &Table, sheet: &mut Sheet) -> Result<usize, SheetError> {
        let text = |key: &str| -> Result<Option<&str>, SheetError> {
            let value = table.get(key);
            let text = value.map(|v| {
                v.as_str().ok_or_else(|| {
                    wrong(
                        self.file,
                        &format!("exchanger.{key}"),
                        "text in double quotes",
                    )
                })
            });
            text.transpose()
        };
        let (name, kind) = (text("name")?, text("kind")?);
        let Some(called) = name.or(kind) else {
            return Err(wrong(self.file, "exchanger.kind", &one_of(&Kind::NAMES)));
        };
        let at = sheet.exchangers.iter().position(|e| e.name == called);
        if self.overlay {
            let names: Vec<&str> = sheet.exchangers.iter().map(|e| e.name.as_str()).collect();
            return at.ok_or_else(|| self.word("what_if.exchanger.name", called, &names));
        }
        let kind = word(kind.unwrap_or(called), &Kind::NAMES).ok_or_else(|| {
            let names: Vec<&str> = Kind::NAMES.iter().map(|(name, _)| *name).collect();
            self.word("exchanger.kind", kind.unwrap_or(called), &names)
        })?;
        let taken = ["air", "heat", "at"].contains(&called) || called.contains('.');
        if at.is_some() || taken || sheet.exchangers.iter().any(|e| e.kind == kind) {
            return Err(wrong(
                self.file,
                "exchanger.name",
                "one exchanger of a kind, each with its own name",
            ));
        }
        sheet.add(Exchanger::new(called, kind));
        Ok(sheet.exchangers.len() - 1)
    }

    fn word(&self, key: &str, value: &str, known: &[&str]) -> SheetError {
        SheetError::UnknownWord {
            file: self.file.to_owned(),
            key: key.to_owned(),
            value: value.to_owned(),
            nearest: nearest(value, known),
            known: known.join(", "),
        }
    }

    fn place(&self, table: &Table, exchanger: &mut Exchanger) -> Result<(), SheetError> {
        let file = self.file;
        let share = |key: &'static str, into: &mut f64| -> Result<(), SheetError> {
            if let Some(value) = table.get(key) {
                let path = format!("exchanger.{key}");
                let value = number(value).ok_or_else(|| wrong(file, &path, "a number"))?;
                if !(0.0..=1.0).contains(&value) {
                    return Err(self.range(&path, value, "a share of the face, from 0 to 1"));
                }
                *into = value;
            }
            Ok(())
        };
        let Cover {
            left,
            right,
            bottom,
            top,
        } = &mut exchanger.cover;
        share("left", left)?;
        share("right", right)?;
        share("bottom", bottom)?;
        share("top", top)?;
        if left > right || bottom > top {
            return Err(wrong(
                file,
                "exchanger",
                "left before right, bottom below top",
            ));
        }
        if let Some(flow) = self.named(table, "flow", &Flow::NAMES)? {
            exchanger.flow = flow;
        }
        if let Some(first) = self.named(table, "first_pass", &First::NAMES)? {
            exchanger.first = first;
        }
        for (key, into) in [
            ("passes", &mut exchanger.passes),
            ("tube_rows", &mut exchanger.tube_rows),
        ] {
            if let Some(value) = table.get(key) {
                let sound = value.as_integer().filter(|n| (1..=64).contains(n));
                let sound = sound.ok_or_else(|| {
                    wrong(
                        file,
                        &format!("exchanger.{key}"),
                        "a whole number from 1 to 64",
                    )
                })?;
                *into = sound as usize;
            }
        }
        if let Some(value) = table.get("fitted") {
            exchanger.fitted = value
                .as_bool()
                .ok_or_else(|| wrong(file, "exchanger.fitted", "true or false"))?;
        }
        Ok(())
    }

    fn named<T: Copy>(
        &self,
        table: &Table,
        key: &str,
        names: &[(&'static str, T)],
    ) -> Result<Option<T>, SheetError> {
        let Some(value) = table.get(key) else {
            return Ok(None);
        };
        let path = format!("exchanger.{key}");
        let text = value
            .as_str()
            .ok_or_else(|| wrong(self.file, &path, &one_of(names)))?;
        let known: Vec<&str> = names.iter().map(|(name, _)| *name).collect();
        word(text, names)
            .map(Some)
            .ok_or_else(|| self.word(&path, text, &known))
    }
}

fn word<T: Copy>(text: &str, names: &[(&'static str, T)]) -> Option<T> {
    names
        .iter()
        .find(|(name, _)| *name == text)
        .map(|(_, meant)| *meant)
}

fn one_of<T>(names: &[(&'static str, T)]) -> String {
    let names: Vec<String> = names
        .iter()
        .map(|(name, _)| format!("\"{name}\""))
        .collect();
    format!("one of {}", names.join(", "))
}
