//! The numbers of charts that no document holds, as tables.

use serde_json::{Map, Value};

use super::csv_tables::CsvTable;
use crate::report::SessionPart;
use crate::stack::Prediction;

fn row(cells: Vec<(String, Value)>) -> Map<String, Value> {
    cells.into_iter().collect()
}

/// The bars of the charts of surprises, a row a lag of each session.
pub fn autocorrelations(parts: &[SessionPart<'_>]) -> CsvTable {
    let mut rows = Vec::new();
    for part in parts {
        let Some(found) = part.fit.trace.whiteness() else {
            continue;
        };
        for (lag_s, r) in found.by_lag {
            rows.push(row(vec![
                ("session".to_owned(), part.meta.id.as_str().into()),
                ("lag_s".to_owned(), lag_s.into()),
                ("autocorrelation of the surprises".to_owned(), r.into()),
                ("95 % by chance within".to_owned(), found.chance.into()),
            ]));
        }
    }
    CsvTable::new("autocorrelation", rows)
}

/// The maps of a stack, a row a cell of each exchanger.
pub fn maps(prediction: &Prediction) -> CsvTable {
    let ambient_c = prediction.at.ambient_c;
    let mut rows = Vec::new();
    for stack in &prediction.stacks {
        let Some(computed) = &stack.computed else {
            continue;
        };
        let columns = &computed.face.columns;
        for (part, map) in computed.parts.iter().zip(&computed.settled.maps) {
            let told = |k: Option<f64>| k.map_or(Value::Null, |k| (k + ambient_c).into());
            for (cell, heated) in map.heated.iter().enumerate() {
                // Where the exchanger is not, there is nothing to tell.
                if map.fluid_k[cell].is_none() {
                    continue;
                }
                let (across, down) = (cell % columns.count(), cell / columns.count());
                let middle = |of: &crate::stack::Axis, at: usize| of.middle(at).into();
                rows.push(row(vec![
                    ("stack".to_owned(), stack.name.as_str().into()),
                    ("exchanger".to_owned(), part.name.as_str().into()),
                    (
                        "from left, share of the face".to_owned(),
                        middle(columns, across),
                    ),
                    (
                        "from top, share of the face".to_owned(),
                        middle(&computed.face.rows, down),
                    ),
                    ("air entering, °C".to_owned(), told(map.air_in_k[cell])),
                    ("fluid, °C".to_owned(), told(map.fluid_k[cell])),
                    ("air leaving, °C".to_owned(), told(map.air_out_k[cell])),
                    ("air heats the fluid".to_owned(), (*heated).into()),
                ]));
            }
        }
    }
    CsvTable::new("maps", rows)
}
