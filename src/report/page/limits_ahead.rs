//! The limits page on what is to come: the drive gone on, another day, what each setup can stand.

use std::collections::BTreeMap;

use super::{below, differences_in, number, temperatures_in};
use crate::limits::{Crossing, LimitsAnswer, OverAmbient, SessionLimit, SetupLimit, crossing};
use crate::quantity::{Measure, Units};
use crate::report::ReportError;
use crate::report::chart::Of;
use crate::report::chart::curves::{Curve, CurveChart, Dot};
use crate::report::figure::Figure;
use crate::report::table::{Cell, Table, cell, estimate, noted};
use crate::session::SessionMeta;
use crate::stats::{Estimate, Interval};

/// Setups that are drawn at most: the first run.
pub const MOST_DRAWN: usize = 6;

/// A table, and how its intervals were made.
pub struct Told {
    /// The table.
    pub table: Table,
    /// How, column by column.
    pub methods: String,
}

/// How a figure is printed.
#[derive(Clone, Copy)]
enum As {
    Temperature,
    Difference,
    Crossing,
    Laps,
}

/// A column of figures.
struct Column<R> {
    name: String,
    of: fn(&R) -> &Estimate,
    printed: As,
}

impl<R> Column<R> {
    fn new(name: impl Into<String>, printed: As, of: fn(&R) -> &Estimate) -> Self {
        Self {
            name: name.into(),
            of,
            printed,
        }
    }

    /// Whether it has anything to say of any row.
    fn says(&self, rows: &[R]) -> bool {
        rows.iter().map(self.of).any(|value| match self.printed {
            As::Crossing => !matches!(crossing(value), Crossing::Unknown(_)),
            _ => value.known().is_some(),
        })
    }

    fn head(&self, units: Units) -> String {
        let symbol = match self.printed {
            As::Temperature => units.symbol(Measure::Temperature),
            As::Difference => units.symbol(Measure::Difference),
            As::Crossing | As::Laps => return format!("#{}", self.name),
        };
        format!("#{} {symbol}", self.name)
    }

    fn cell(&self, row: &R, units: Units) -> Cell {
        let value = (self.of)(row);
        match self.printed {
            As::Temperature => estimate(units, value, "", temperatures_in(units)),
            As::Difference => estimate(units, value, "", differences_in(units)),
            As::Crossing => met(value, units),
            As::Laps => match crossing(value) {
                Crossing::Never => cell("no"),
                _ => estimate(units, value, "", |laps| number::fixed(laps, 1)),
            },
        }
    }

    /// How its intervals were made, where the rows say.
    fn method<'r>(&self, rows: &'r [R]) -> Option<&'r str> {
        let known = rows.iter().find_map(|row| (self.of)(row).known())?;
        Some(&known.method)
    }
}

/// A table of the columns that say anything; none where none does.
fn told<R>(
    title: String,
    (first, label): (&str, &dyn Fn(&R) -> Cell),
    rows: &[R],
    mut columns: Vec<Column<R>>,
    units: Units,
) -> Option<Told> {
    columns.retain(|column| column.says(rows));
    if columns.is_empty() {
        return None;
    }
    let heads: Vec<String> = columns.iter().map(|column| column.head(units)).collect();
    let mut head = vec![first];
    head.extend(heads.iter().map(String::as_str));
    let mut table = Table::new(title, &head);
    for row in rows {
        let mut cells = vec![label(row)];
        cells.extend(columns.iter().map(|column| column.cell(row, units)));
        table.row(cells);
    }
    // What several columns share is said once.
    let mut methods: Vec<(Vec<&str>, &str)> = Vec::new();
    for column in &columns {
        let Some(method) = column.method(rows) else {
            continue;
        };
        match methods.iter_mut().find(|(_, known)| *known == method) {
            Some((names, _)) => names.push(&column.name),
            None => methods.push((vec![&column.name], method)),
        }
    }
    let said = methods
        .iter()
        .map(|(names, method)| format!("{}: {}.", names.join(", "), units.prose(method)));
    Some(Told {
        methods: said.collect::<Vec<_>>().join(" "),
        table,
    })
}

/// When a limit is met.
fn met(seconds: &Estimate, units: Units) -> Cell {
    match (crossing(seconds), seconds) {
        (Crossing::After(i), _) => estimate(units, seconds, "", number::duration_beside(i.high)),
        (Crossing::Never, Estimate::Unknown { why }) => noted("no", units.prose(why)),
        (Crossing::Already, Estimate::Unknown { why }) => noted("already over", units.prose(why)),
        (Crossing::Perhaps(when), Estimate::Unknown { why }) => {
            let rest = why.strip_prefix(when).unwrap_or_default();
            noted(when, rest.trim_start_matches([',', ' ']))
        }
        _ => estimate(units, seconds, "", number::duration),
    }
}

/// Where the sessions would have settled, and when they would have met the limit; none where the model says
/// nothing of any. `peak`: what a session's peak reads.
pub fn gone_on(
    answer: &LimitsAnswer,
    peak: &dyn Fn(&SessionLimit) -> String,
    units: Units,
) -> Option<Told> {
    let columns = vec![
        Column::new("Would have settled", As::Temperature, |s: &SessionLimit| {
            &s.would_have_settled_c
        }),
        Column::new("Further peak", As::Temperature, |s| &s.would_have_peaked_c),
        Column::new("Met the limit after", As::Crossing, |s| {
            &s.would_have_crossed_s
        }),
    ];
    let title = format!("Had the drive gone on; {}", below());
    let label = |s: &SessionLimit| {
        let rising = match s.still_rising_at_end {
            Some(true) => ", still rising at the end",
            _ => "",
        };
        noted(s.id.clone(), format!("peak read {}{rising}", peak(s)))
    };
    told(title, ("Session", &label), &answer.sessions, columns, units)
}

/// On how hot a day the sessions meet limit and boiling; none where nothing tells of any.
pub fn another_day(answer: &LimitsAnswer, units: Units) -> Option<Told> {
    let columns = vec![
        Column::new(
            "Limiting ambient by 1:1",
            As::Temperature,
            |s: &SessionLimit| &s.limiting_ambient_c,
        ),
        Column::new("Limiting ambient by model", As::Temperature, |s| {
            &s.limiting_ambient_model_c
        }),
        Column::new("To boiling", As::Difference, |s| &s.to_boiling_k),
        Column::new("Air-to-boil by 1:1", As::Temperature, |s| &s.air_to_boil_c),
    ];
    let title = "Another day; in small print the ends, made as told below".to_owned();
    let label = |s: &SessionLimit| cell(s.id.clone());
    told(title, ("Session", &label), &answer.sessions, columns, units)
}

/// The day that was asked for; none when none was, or nothing tells of it.
pub fn hot_day(answer: &LimitsAnswer, units: Units) -> Option<Told> {
    let day = &answer.hot_day;
    let celsius = |c: f64| number::told(units, Measure::Temperature, c, 0);
    let mut columns: Vec<Column<SessionLimit>> = Vec::new();
    if let Some(ambient_c) = day.ambient_c {
        let name = format!("To the limit at {}", celsius(ambient_c));
        columns.push(Column::new(name, As::Crossing, |s| &s.time_to_limit_s));
        columns.push(Column::new("The same in laps", As::Laps, |s| {
            &s.laps_to_limit
        }));
    }
    if let Some(laps) = day.laps {
        let name = format!("Limiting ambient, {}", number::count(laps as usize, "lap"));
        columns.push(Column::new(name, As::Temperature, |s| {
            &s.limiting_ambient_laps_c
        }));
    }
    if let Some(percent) = day.wake_percent {
        let name = format!("Limiting ambient, wake {percent:.0}\u{a0}%");
        columns.push(Column::new(name, As::Temperature, |s| {
            &s.limiting_ambient_wake_c
        }));
    }
    let from = day.start_c.map_or_else(
        || "as warm as each session's hot running began".to_owned(),
        |c| format!("at {}", celsius(c)),
    );
    let title = format!("From the pit exit, coolant {from}; {}", below());
    let label = |s: &SessionLimit| cell(s.id.clone());
    told(title, ("Session", &label), &answer.sessions, columns, units)
}

/// What each setup can stand; none without any that the model can say something of.
pub fn setups(answer: &LimitsAnswer, units: Units) -> Option<Told> {
    let mut columns = vec![
        Column::new(
            "Limiting ambient by 1:1",
            As::Temperature,
            |s: &SetupLimit| &s.limiting_ambient_c,
        ),
        Column::new("Limiting ambient by model", As::Temperature, |s| {
            &s.limiting_ambient_model_c
        }),
    ];
    if let Some(laps) = answer.hot_day.laps {
        let name = format!("By model, {}", number::count(laps as usize, "lap"));
        columns.push(Column::new(name, As::Temperature, |s| {
            &s.limiting_ambient_laps_c
        }));
    }
    if let Some(percent) = answer.hot_day.wake_percent {
        let name = format!("By model, wake {percent:.0}\u{a0}%");
        columns.push(Column::new(name, As::Temperature, |s| {
            &s.limiting_ambient_wake_c
        }));
    }
    columns.push(Column::new("Air-to-boil by 1:1", As::Temperature, |s| {
        &s.air_to_boil_c
    }));
    let title = format!("What another session of each setup would say; {}", below());
    let label = |s: &SetupLimit| {
        let sessions = number::count(s.sessions, "session");
        let seen = format!("{sessions} on {}", number::count(s.days, "day"));
        noted(s.setup.clone(), seen)
    };
    told(title, ("Setup", &label), &answer.setups, columns, units)
}

/// Why nothing is said of what would have come; none where something is.
pub fn silent(answer: &LimitsAnswer, is_told: bool, units: Units) -> Option<String> {
    if is_told {
        return None;
    }
    let mut whys: Vec<&str> = (answer.sessions.iter())
        .filter(|s| s.peak_c.is_some())
        .filter_map(|s| s.would_have_peaked_c.why())
        .collect();
    whys.sort_unstable();
    whys.dedup();
    let whys = units.prose(&whys.join("; ")).into_owned();
    (!whys.is_empty()).then(|| {
        format!(
            "Where the drives would have gone on to, and what a setup stands, is not told: {whys}."
        )
    })
}

/// Peak against ambient, a chart a setup, all on the same axes.
pub fn capability(
    answer: &LimitsAnswer,
    by_id: &BTreeMap<&str, &SessionMeta>,
    units: Units,
) -> Result<Vec<Figure>, ReportError> {
    let all: Vec<Capability> = (answer.setups.iter().take(MOST_DRAWN))
        .filter_map(|setup| Capability::of(setup, answer, by_id))
        .collect();
    let (setups, charts): (Vec<&Capability>, Vec<CurveChart>) = (all.iter())
        .map(|setup| (setup, setup.chart(units)))
        .filter(|(_, chart)| chart.has_curves())
        .unzip();
    let frame = CurveChart::shared_frame(&charts);
    setups
        .into_iter()
        .zip(&charts)
        .map(|(setup, chart)| {
            let alt = setup.alt(units);
            let title = format!("Peak against ambient: {}", setup.setup.setup);
            Figure::in_both_widths(title, "", |layout| chart.draw_in(&frame, &alt, layout))
        })
        .collect()
}

/// What is drawn of a setup.
struct Capability<'a> {
    setup: &'a SetupLimit,
    own: Vec<&'a SessionLimit>,
    role: &'static str,
    ambient_c: Vec<f64>,
    peaks_c: Vec<Estimate>,
}

impl<'a> Capability<'a> {
    fn of(
        setup: &'a SetupLimit,
        answer: &'a LimitsAnswer,
        by_id: &BTreeMap<&str, &SessionMeta>,
    ) -> Option<Self> {
        let is_own = |s: &&SessionLimit| {
            by_id
                .get(s.id.as_str())
                .is_some_and(|meta| meta.setup == setup.setup && meta.car.name == setup.car)
        };
        let own: Vec<&SessionLimit> = answer.sessions.iter().filter(is_own).collect();
        let is_known = |curve: &[OverAmbient]| curve.iter().any(|at| at.peak_c.known().is_some());
        // A session by itself has a curve, but none to say for another.
        let (curve, role): (&[OverAmbient], &str) = match is_known(&setup.peak_over_ambient) {
            true => (&setup.peak_over_ambient, "another session"),
            false => {
                let one = own.iter().find(|s| is_known(&s.peak_over_ambient))?;
                (&one.peak_over_ambient, "one session")
            }
        };
        Some(Self {
            setup,
            role,
            ambient_c: curve.iter().map(|at| at.ambient_c).collect(),
            peaks_c: curve.iter().map(|at| at.peak_c.clone()).collect(),
            own,
        })
    }

    fn chart(&self, units: Units) -> CurveChart<'_> {
        let limiting = self.setup.limiting_ambient_model_c.known();
        let drawn = |i: &&Interval| (self.ambient_c[0]..45.0).contains(&i.estimate);
        CurveChart {
            what: "peak of coolant",
            ambient_c: &self.ambient_c,
            sides: vec![Curve {
                of: Of::Before,
                values: &self.peaks_c,
                role: self.role,
                name: &self.setup.setup,
            }],
            sessions: (self.own.iter())
                .filter_map(|s| {
                    Some(Dot {
                        of: Of::Before,
                        id: &s.id,
                        ambient_c: s.ambient_c?,
                        coolant_c: s.would_have_peaked_c.point()?,
                    })
                })
                .collect(),
            marked: (limiting.filter(drawn)).map(|i| (i.estimate, "limiting ambient")),
            limit_c: self.own.iter().find_map(|s| s.limit_c),
            units,
        }
    }

    fn alt(&self, units: Units) -> String {
        let limiting = match self.setup.limiting_ambient_model_c.known() {
            Some(i) => format!(
                "; the limit is met at {} ({})",
                number::told(units, Measure::Temperature, i.estimate, 0),
                number::ends(i, temperatures_in(units))
            ),
            None => String::new(),
        };
        format!(
            "Peak of coolant against ambient for {}, with its interval and {} as points{limiting}.",
            self.setup.setup,
            number::count(self.own.len(), "session")
        )
    }
}
