//! Gives every role at most one column, and says where another would have done as well.

use std::collections::BTreeMap;

use super::error::IngestError;
use super::options::{MappedRole, Mapping, map_flag};
use super::role_words::UNIT_NEEDED_SCORE;
use super::roles::{FileKind, Meaning, PEDAL_SCORE, meanings, meanings_of};
use super::table::Table;
use super::unit_said::{Said, Unusable, said_unit};
use super::unit_text::{fits, split_brackets};
use super::written::stands;
use crate::quantity::Unit;
use crate::session::{Role, UnitFrom};
use crate::warning::Warning;

/// A column taken as a role.
#[derive(Debug, Clone, Copy)]
pub(super) struct Choice {
    pub column: usize,
    /// The unit, where anybody said it.
    pub unit: Option<(Unit, UnitFrom)>,
}

/// The columns of a table by role.
#[derive(Debug, Clone, Default)]
pub(super) struct Assignment {
    pub chosen: BTreeMap<Role, Choice>,
    /// Columns left out for their unit, of roles that no other column took.
    pub unusable: Vec<Unusable>,
    pub warnings: Vec<Warning>,
}

/// Columns whose score is this near to the chosen one's are named as alternatives.
const NEAR: u32 = 20;

/// A name that scores no more than this says little.
const WEAK: u32 = 60;

struct Candidate {
    column: usize,
    unit: Option<(Unit, UnitFrom)>,
    meanings: Vec<Meaning>,
}

/// Assigns the columns of `table`. `is_clock` columns are left alone, and so are those that
/// are not `usable` (no number in them), unless the user names them.
pub(super) fn assign(
    table: &Table,
    maps: &[&Mapping],
    is_clock: impl Fn(usize) -> bool,
    usable: impl Fn(usize) -> bool,
) -> Result<Assignment, IngestError> {
    let mut assignment = mapped(table, maps)?;
    let mapped: Vec<usize> = assignment
        .chosen
        .values()
        .map(|choice| choice.column)
        .collect();
    let free: Vec<usize> = (0..table.columns.len())
        .filter(|at| !is_clock(*at) && !mapped.contains(at) && usable(*at))
        .collect();
    let mut candidates = candidates(table, &free, FileKind::Car);
    let is_car = |role| {
        assignment.chosen.contains_key(&role)
            || candidates
                .iter()
                .any(|c| c.meanings.iter().any(|m| m.role == role))
    };
    if !is_car(Role::Coolant) && !is_car(Role::Speed) {
        candidates = self::candidates(table, &free, FileKind::Weather);
    }
    choose(table, &candidates, &mut assignment);
    assignment.unusable = left_out(table, &free, &assignment);
    let told = assignment.unusable.iter().map(Unusable::warning);
    assignment.warnings.extend(told);
    Ok(assignment)
}

/// The columns whose unit cannot be used, of roles that are still open: the surest one of each.
fn left_out(table: &Table, free: &[usize], assignment: &Assignment) -> Vec<Unusable> {
    let mut surest: BTreeMap<Role, (u32, Unusable)> = BTreeMap::new();
    for &at in free {
        let name = &table.columns[at].name;
        for Meaning { role, score } in meanings_of(name) {
            let taken = assignment.chosen.contains_key(&role)
                || assignment.chosen.values().any(|choice| choice.column == at);
            if taken || surest.get(&role).is_some_and(|(other, _)| *other >= score) {
                continue;
            }
            if let Said::Unusable(text) = said_unit(table, at, role) {
                let column = name.clone();
                surest.insert(role, (score, Unusable { role, column, text }));
            }
        }
    }
    surest.into_values().map(|(_, unusable)| unusable).collect()
}

/// The refusal of a column whose unit cannot be used.
pub(super) fn unusable(table: &Table, unusable: Unusable) -> IngestError {
    IngestError::UnusableUnit {
        file: table.file.clone(),
        role: unusable.role,
        why: unusable.why(),
        column: unusable.column,
    }
}

/// What the user says comes first.
fn mapped(table: &Table, maps: &[&Mapping]) -> Result<Assignment, IngestError> {
    let mut assignment = Assignment::default();
    for map in maps {
        let MappedRole::Role(role) = map.role else {
            continue;
        };
        let Some(column) = table.column(&map.column) else {
            continue;
        };
        let unit = match map.unit {
            Some(unit) if !fits(role, unit) => {
                return Err(IngestError::WrongUnit {
                    column: map.column.clone(),
                    role: role.name().to_owned(),
                    unit: unit.symbol().to_owned(),
                });
            }
            Some(unit) => Some((unit, UnitFrom::User)),
            None => match said_unit(table, column, role) {
                Said::Unusable(text) => {
                    let column = map.column.clone();
                    return Err(unusable(table, Unusable { role, column, text }));
                }
                said => said.unit(),
            },
        };
        let twice = assignment.chosen.iter().find(|(_, c)| c.column == column);
        if let Some((other, _)) = twice {
            let message = format!(
                "`{}` was given as {} and as {}: one of them is no reading of its own",
                table.columns[column].name,
                other.name(),
                role.name()
            );
            let warning = Warning::caution("column-twice", message);
            assignment.warnings.push(warning);
        }
        assignment.chosen.insert(role, Choice { column, unit });
    }
    Ok(assignment)
}

fn candidates(table: &Table, free: &[usize], kind: FileKind) -> Vec<Candidate> {
    let mut found = Vec::new();
    for &column in free {
        let head = &table.columns[column];
        let mut by_unit: Vec<Candidate> = Vec::new();
        // `Speed` in 1/min below `Engine` is no speed of the car.
        let names =
            [&head.name, &head.full_name].map(|name| meanings(&split_brackets(name).0, kind));
        let said = |meaning: &Meaning| said_unit(table, column, meaning.role);
        let fitting = |meaning: &Meaning| said(meaning) != Said::Other;
        let [own, full] = names;
        for meaning in if own.iter().any(fitting) { own } else { full } {
            let unit = match said(&meaning) {
                Said::Other | Said::Unusable(_) => continue,
                said => said.unit(),
            };
            if meaning.score == UNIT_NEEDED_SCORE && unit.is_none() {
                continue;
            }
            match by_unit.iter_mut().find(|candidate| candidate.unit == unit) {
                Some(candidate) => candidate.meanings.push(meaning),
                None => by_unit.push(Candidate {
                    column,
                    unit,
                    meanings: vec![meaning],
                }),
            }
        }
        found.extend(by_unit);
    }
    found
}

/// The surest pair of column and role first, each column and each role once.
fn choose(table: &Table, candidates: &[Candidate], assignment: &mut Assignment) {
    let mut pairs: Vec<(u32, Role, &Candidate)> = candidates
        .iter()
        .flat_map(|c| c.meanings.iter().map(move |m| (m.score, m.role, c)))
        .filter(|(_, role, _)| !assignment.chosen.contains_key(role))
        .collect();
    let behind = behind_living(table, &mut pairs);
    // Stable: of two equals the column further left wins.
    pairs.sort_by_key(|(score, ..)| std::cmp::Reverse(*score));
    let mut used: Vec<usize> = assignment.chosen.values().map(|c| c.column).collect();
    let mut scores = BTreeMap::new();
    for (score, role, candidate) in &pairs {
        if used.contains(&candidate.column) || assignment.chosen.contains_key(role) {
            continue;
        }
        used.push(candidate.column);
        scores.insert(*role, *score);
        let choice = Choice {
            column: candidate.column,
            unit: candidate.unit,
        };
        assignment.chosen.insert(*role, choice);
    }
    for (role, score) in scores {
        let chosen = &table.columns[assignment.chosen[&role].column].name;
        let stood = behind.iter().find(|(_, other, _)| *other == role);
        let stood = stood.filter(|(before, ..)| score > STANDS_SCORE && *before >= score);
        if let Some((.., stood)) = stood {
            let (name, stood) = (role.name(), &table.columns[*stood].name);
            assignment.warnings.push(Warning::caution(
                "column-stands",
                format!(
                    "{name}: `{stood}` reads the same in every row, so `{chosen}` was taken; to insist: {}",
                    map_flag(name, stood)
                ),
            ));
        }
        if role == Role::Throttle && score == PEDAL_SCORE {
            assignment.warnings.push(Warning::note(
                "pedal-as-throttle",
                format!("no throttle column, so the accelerator pedal `{chosen}` stands in for it"),
            ));
        }
        if score <= WEAK && score != PEDAL_SCORE {
            let name = role.name();
            let column = assignment.chosen[&role].column;
            let open = |other: &Role| !assignment.chosen.contains_key(other);
            let of_column = pairs.iter().filter(|(.., c)| c.column == column);
            let other = of_column.map(|(_, other, _)| *other).find(open);
            let hint = match other.map(Role::name) {
                Some(other) => format!("if it is {other}: {}", map_flag(other, chosen)),
                None => format!("to take another: --map {name}=COLUMN"),
            };
            assignment.warnings.push(Warning::caution(
                "weak-name",
                format!("{name}: `{chosen}` was taken though its name says little; {hint}"),
            ));
        }
        let others: Vec<(u32, &str)> = pairs
            .iter()
            .filter(|(other, r, c)| {
                *r == role && !used.contains(&c.column) && other + NEAR >= score
            })
            .map(|(other, _, c)| (*other, table.columns[c.column].name.as_str()))
            .collect();
        if !others.is_empty() && score != PEDAL_SCORE {
            assignment
                .warnings
                .push(alternatives(role, chosen, score, &others));
        }
    }
}

/// The score of a column that stands still beside one that lives.
const STANDS_SCORE: u32 = 1;

/// Puts columns that read the same in every row behind those of the same role that live and whose
/// names say enough. Returns the columns put back with their scores and roles, the surest first.
fn behind_living(table: &Table, pairs: &mut [(u32, Role, &Candidate)]) -> Vec<(u32, Role, usize)> {
    let rivals = |role: Role, column: usize| {
        let of_role = pairs.iter().filter(move |(_, r, _)| *r == role);
        of_role.filter(move |(score, _, c)| c.column != column && *score >= WEAK)
    };
    let is_behind = |(_, role, c): &(u32, Role, &Candidate)| {
        rivals(*role, c.column).next().is_some()
            && stands(table, c.column)
            && rivals(*role, c.column).any(|(_, _, other)| !stands(table, other.column))
    };
    let places: Vec<usize> = (0..pairs.len())
        .filter(|at| is_behind(&pairs[*at]))
        .collect();
    let mut behind: Vec<(u32, Role, usize)> = Vec::new();
    for place in places {
        let (score, role, candidate) = &mut pairs[place];
        behind.push((*score, *role, candidate.column));
        *score = STANDS_SCORE;
    }
    behind.sort_by_key(|(score, ..)| std::cmp::Reverse(*score));
    behind
}

fn alternatives(role: Role, chosen: &str, score: u32, others: &[(u32, &str)]) -> Warning {
    let names: Vec<String> = others.iter().map(|(_, name)| format!("`{name}`")).collect();
    let name = role.name();
    let hint = format!("to take another: {}", map_flag(name, others[0].1));
    let list = names.join(", ");
    if others.iter().any(|(other, _)| *other == score) {
        let message = format!(
            "{name}: `{chosen}` was taken because it comes first; {list} would suit as well; {hint}"
        );
        return Warning::caution("ambiguous-column", message);
    }
    let message = format!(
        "{name}: `{chosen}` was taken because its name says so more plainly than {list}; {hint}"
    );
    Warning::note("column-choice", message)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn assigned(header: &str) -> (BTreeMap<Role, String>, Vec<String>) {
        let width = header.split(',').count();
        let row = vec!["1.5"; width].join(",");
        let table = Table::read(
            "a.csv",
            format!("{header}\n{row}\n{row}\n{row}\n").as_bytes(),
            None,
        )
        .unwrap();
        let found = assign(&table, &[], |at| at == 0, |_| true).unwrap();
        let names = found
            .chosen
            .iter()
            .map(|(r, c)| (*r, table.columns[c.column].name.clone()))
            .collect();
        (names, found.warnings.into_iter().map(|w| w.id).collect())
    }

    #[test]
    fn a_pedal_is_no_throttle_beside_one() {
        let (names, ids) =
            assigned("t,Accelerator Pedal Position D [%],Absolute Throttle Position [%]");
        assert_eq!(names[&Role::Throttle], "Absolute Throttle Position [%]");
        assert!(ids.is_empty(), "{ids:?}");
        let (names, ids) = assigned("t,Accelerator Pedal Position D [%],x");
        assert_eq!(names[&Role::Throttle], "Accelerator Pedal Position D [%]");
        assert_eq!(ids, ["pedal-as-throttle"]);
    }

    #[test]
    fn equals_are_a_caution_and_a_plainer_name_is_a_note() {
        let (names, ids) = assigned("t,Coolant temp A,Coolant temp B,Vehicle speed,GPS speed");
        assert_eq!(names[&Role::Coolant], "Coolant temp A");
        assert_eq!(names[&Role::Speed], "Vehicle speed");
        assert_eq!(ids, ["ambiguous-column", "column-choice"]);
    }

    #[test]
    fn air_of_no_further_name_is_outside_air_beside_intake_air() {
        let (names, ids) = assigned("t,Coolant,Speed,Air temp,IAT");
        assert_eq!(names[&Role::Ambient], "Air temp");
        assert_eq!(ids, ["weak-name"]);
        let (names, ids) = assigned("t,Coolant,Speed,Air temp");
        assert_eq!(names[&Role::Intake], "Air temp");
        assert_eq!(ids, ["weak-name"]);
    }

    /// Outside air is what it may be as well.
    #[test]
    fn the_other_role_of_a_name_that_says_little_is_named() {
        let table = b"t,Coolant,Speed,T_Luft\n0,1.5,1,1\n1,1.5,1,1\n2,1.5,1,1\n";
        let table = Table::read("a.csv", table, None).unwrap();
        let found = assign(&table, &[], |at| at == 0, |_| true).unwrap();
        assert_eq!(
            found.warnings[0].message,
            "intake: `T_Luft` was taken though its name says little; if it is ambient: --map ambient=T_Luft"
        );
    }

    #[test]
    fn a_unit_of_something_else_rules_a_column_out() {
        let (names, _) = assigned("t,Coolant [kPa],Coolant 2 [°C],MAF [V],Oil [bar]");
        assert_eq!(names[&Role::Coolant], "Coolant 2 [°C]");
        assert_eq!(names.len(), 1, "{names:?}");
    }
}
