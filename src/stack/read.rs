//! Reads a stack sheet: TOML, every key known, every figure within what can be.
//!
//! A figure is a number, or a table `{ value = .., low = .., high = .. }` with its 95 % interval. A
//! what-if is read over the stack: it holds only what differs.

mod exchanger;

use toml::{Table, Value};

use super::keys::{AIR, AT, HEAT, Key};
use super::sheet::{Input, Sheet};
use crate::car::{CarSheet, SheetError, nearest, toml_error};

/// The stack and its what-ifs, each complete.
#[derive(Debug, Clone, PartialEq)]
pub struct Stack {
    /// The stack.
    pub base: Sheet,
    /// The same with something changed.
    pub what_ifs: Vec<Sheet>,
}

impl Stack {
    /// Reads a stack sheet. `file` is the name used in errors; the car sheet gives what the stack
    /// sheet may leave out.
    ///
    /// # Errors
    /// Text that is no TOML, an unknown key or word, a value that cannot be, no exchanger, two of one
    /// kind or name.
    pub fn from_toml(text: &str, file: &str, car: &CarSheet) -> Result<Self, SheetError> {
        let mut table: Table = text.parse().map_err(|e| toml_error(&e, file))?;
        let what_ifs = match table.remove("what_if") {
            None => Vec::new(),
            Some(Value::Array(items)) => items,
            Some(_) => return Err(wrong(file, "what_if", "a table under `[[what_if]]`")),
        };
        let reader = Reader {
            file,
            overlay: false,
        };
        let base = reader.read(&table, Sheet::empty(car))?;
        if base.fitted().next().is_none() {
            return Err(wrong(
                file,
                "exchanger",
                "one exchanger or more, each under `[[exchanger]]`",
            ));
        }
        let over = Reader {
            file,
            overlay: true,
        };
        let mut read = Vec::new();
        for item in what_ifs {
            let Value::Table(table) = item else {
                return Err(wrong(file, "what_if", "a table under `[[what_if]]`"));
            };
            if !table.contains_key("name") {
                return Err(wrong(
                    file,
                    "what_if.name",
                    "a name for each what-if, such as the setup's",
                ));
            }
            read.push(over.read(&table, base.clone())?);
        }
        let mut names: Vec<&str> = std::iter::once(&base)
            .chain(&read)
            .map(|s| s.name.as_str())
            .collect();
        names.sort_unstable();
        if names.windows(2).any(|pair| pair[0] == pair[1]) {
            return Err(wrong(
                file,
                "what_if.name",
                "a name of its own for the stack and each what-if",
            ));
        }
        Ok(Self {
            base,
            what_ifs: read,
        })
    }

    /// The stack, then its what-ifs.
    pub fn all(&self) -> impl Iterator<Item = &Sheet> {
        std::iter::once(&self.base).chain(&self.what_ifs)
    }

    /// The same, to be changed.
    pub fn all_mut(&mut self) -> impl Iterator<Item = &mut Sheet> {
        std::iter::once(&mut self.base).chain(&mut self.what_ifs)
    }
}

struct Reader<'a> {
    file: &'a str,
    /// Whether what is read lies over a stack.
    overlay: bool,
}

impl Reader<'_> {
    fn read(&self, table: &Table, mut sheet: Sheet) -> Result<Sheet, SheetError> {
        // Where they are computed is one and the same for a stack and its what-ifs.
        let known = ["name", "air", "heat", "exchanger", "at"];
        self.known(table, "", if self.overlay { &known[..4] } else { &known })?;
        if let Some(name) = table.get("name") {
            name.as_str()
                .ok_or_else(|| wrong(self.file, "name", "text in double quotes"))?
                .clone_into(&mut sheet.name);
        }
        for (section, keys) in [("air", &AIR[..]), ("heat", &HEAT), ("at", &AT)] {
            if let Some(value) = table.get(section) {
                self.section(value, section, keys, &mut sheet)?;
            }
        }
        match table.get("exchanger") {
            None => {}
            Some(Value::Array(items)) => {
                for item in items {
                    self.exchanger(item, &mut sheet)?;
                }
            }
            Some(_) => {
                return Err(wrong(
                    self.file,
                    "exchanger",
                    "tables under `[[exchanger]]`",
                ));
            }
        }
        Ok(sheet)
    }

    /// An unknown key, with the nearest known one.
    fn known(&self, table: &Table, section: &str, known: &[&str]) -> Result<(), SheetError> {
        let path = |key: &str| {
            if section.is_empty() {
                key.to_owned()
            } else {
                format!("{section}.{key}")
            }
        };
        match table.keys().find(|key| !known.contains(&key.as_str())) {
            None => Ok(()),
            Some(key) => Err(SheetError::UnknownKey {
                file: self.file.to_owned(),
                key: path(key),
                nearest: nearest(key, known).map(|near| path(&near)),
                known: known.iter().map(|key| path(key)).collect(),
            }),
        }
    }

    fn section(
        &self,
        value: &Value,
        section: &str,
        keys: &[Key],
        sheet: &mut Sheet,
    ) -> Result<(), SheetError> {
        let Value::Table(table) = value else {
            return Err(wrong(
                self.file,
                section,
                &format!("a table under `[{section}]`"),
            ));
        };
        let more = if section == "air" {
            &["profile"][..]
        } else {
            &[]
        };
        let known: Vec<&str> = keys
            .iter()
            .map(|k| k.name)
            .chain(more.iter().copied())
            .collect();
        self.known(table, section, &known)?;
        for (name, value) in table {
            let path = format!("{section}.{name}");
            match keys.iter().find(|k| k.name == name) {
                Some(key) => sheet.give(&path, self.input(value, &path, key)?),
                None => sheet.profile = self.profile(value)?,
            }
        }
        Ok(())
    }

    fn input(&self, value: &Value, path: &str, key: &Key) -> Result<Input, SheetError> {
        let input = match value {
            Value::Table(table) => {
                self.known(table, path, &["value", "low", "high"])?;
                let part = |name: &str| {
                    let part = table.get(name).and_then(number);
                    part.ok_or_else(|| wrong(self.file, path, "value, low and high, each a number"))
                };
                Input::spread(part("value")?, part("low")?, part("high")?)
            }
            _ => Input::exact(number(value).ok_or_else(|| {
                wrong(
                    self.file,
                    path,
                    "a number, or { value = .., low = .., high = .. }",
                )
            })?),
        };
        for end in [input.low, input.value, input.high] {
            if !(key.low..=key.high).contains(&end) {
                return Err(self.range(
                    path,
                    end,
                    &format!("{}, from {} to {}", key.what, key.low, key.high),
                ));
            }
        }
        if input.low > input.value || input.value > input.high {
            return Err(self.range(
                path,
                input.value,
                &format!("a value from low = {} to high = {}", input.low, input.high),
            ));
        }
        Ok(input)
    }

    fn range(&self, path: &str, value: f64, expected: &str) -> SheetError {
        SheetError::OutOfRange {
            file: self.file.to_owned(),
            key: path.to_owned(),
            value,
            expected: expected.to_owned(),
        }
    }

    /// Rows of relative speeds, all of one length.
    fn profile(&self, value: &Value) -> Result<Vec<Vec<f64>>, SheetError> {
        let row = |row: &Value| {
            row.as_array()?
                .iter()
                .map(number)
                .collect::<Option<Vec<f64>>>()
        };
        let rows: Option<Vec<Vec<f64>>> = value
            .as_array()
            .and_then(|rows| rows.iter().map(row).collect());
        let sound = |rows: &Vec<Vec<f64>>| {
            let width = rows.first().map_or(0, Vec::len);
            let even = rows
                .iter()
                .all(|r| r.len() == width && r.iter().all(|v| (0.0..=100.0).contains(v)));
            even && rows.len() <= 20
                && (1..=20).contains(&width)
                && rows.iter().flatten().sum::<f64>() > 0.0
        };
        rows.filter(sound).ok_or_else(|| {
            wrong(
                self.file,
                "air.profile",
                "rows from the top, each of as many relative speeds: [[1.0, 1.0], [0.8, 1.2]]",
            )
        })
    }
}

fn number(value: &Value) -> Option<f64> {
    value
        .as_float()
        .or_else(|| value.as_integer().map(|n| n as f64))
}

fn wrong(file: &str, key: &str, expected: &str) -> SheetError {
    SheetError::Wrong {
        file: file.to_owned(),
        key: key.to_owned(),
        expected: expected.to_owned(),
    }
}
