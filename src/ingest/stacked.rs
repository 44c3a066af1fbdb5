//! Several sessions in one file: where a column of sessions changes, where the clock starts again,
//! or after a pause so long that the car has cooled.

use super::cell::is_blank;
use super::clock::Clock;
use super::clock_read::Origin;
use super::table::Table;
use super::timeline::{is_summer_time, median_step, steps, timed_rows};
use super::words::{fold, has_any};
use crate::words::quoted;

const SESSION_WORDS: &str = "=session|=run|=outing|=sitzung|=lauf|=fahrt|=sesion|=sessione|\
    =seance|=file|=logfile|=datei|=fichier|=archivo";
const NO_SESSION_WORDS: &str = "time|zeit|temps|dist|duration|dauer|laufzeit|status|type";
/// A part on either side of a border has so many rows ...
const LEAST_ROWS: usize = 20;
/// ... and lasts so long, s.
const LEAST_S: f64 = 60.0;
const MOST_SESSIONS: usize = 200;
/// Clocks that start again are this near to where they started, s.
const RESTART_S: f64 = 10.0;
/// After such a pause the engine has cooled and another session begins, s ...
const PAUSE_S: f64 = 1200.0;
/// ... unless the log has so few rows that this is no pause of it, median steps.
const PAUSE_STEPS: f64 = 50.0;
/// A longer pause is a clock being set, s.
const SET_S: f64 = 31.0 * 86_400.0;

/// A row at which another session begins.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Border {
    pub row: usize,
    pub why: Why,
}

/// What tells that another session begins.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Why {
    /// A column that names the session changes.
    Column(String),
    /// The clock starts again.
    Restart,
    /// The clock jumps by so many seconds: on, or back to before where the part under way began.
    Jump(f64),
}

impl Why {
    /// The reason as a sentence has it.
    pub fn words(&self) -> String {
        match self {
            Self::Column(name) => format!("column {} changes", quoted(name)),
            Self::Restart => "the clock starts again".to_owned(),
            Self::Jump(s) if *s < 0.0 => format!("the clock steps back by {}", length_words(-s)),
            Self::Jump(s) => format!("the clock jumps by {}", length_words(*s)),
        }
    }
}

/// The length of a jump: in minutes, if long in hours.
fn length_words(jump_s: f64) -> String {
    match jump_s {
        s if s < 4.0 * 3600.0 => format!("{:.0} min", s / 60.0),
        s => format!("{:.1} h", s / 3600.0),
    }
}

/// The rows, after the first, at which further sessions begin.
pub(super) fn borders(table: &Table, clock: &Clock) -> Vec<Border> {
    let by_column = by_column(table, clock);
    if !by_column.is_empty() {
        return by_column;
    }
    by_clock(table, clock)
}

/// By a column that names the session, in blocks, each name once.
fn by_column(table: &Table, clock: &Clock) -> Vec<Border> {
    (0..table.columns.len())
        .filter(|at| !clock.columns.contains(at))
        .filter(|at| {
            let name = fold(&table.columns[*at].name);
            has_any(&name, SESSION_WORDS) && !has_any(&name, NO_SESSION_WORDS)
        })
        .find_map(|at| {
            let why = Why::Column(table.columns[at].name.clone());
            let border = |row| Border {
                row,
                why: why.clone(),
            };
            let starts = blocks(table, at)?;
            Some(starts.into_iter().skip(1).map(border).collect())
        })
        .unwrap_or_default()
}

fn blocks(table: &Table, column: usize) -> Option<Vec<usize>> {
    let mut seen: Vec<&str> = Vec::new();
    let mut starts = Vec::new();
    for row in 0..table.rows.len() {
        let cell = table.cell(row, column);
        if is_blank(cell) || seen.last() == Some(&cell) {
            continue;
        }
        if seen.contains(&cell) || seen.len() == MOST_SESSIONS {
            return None;
        }
        seen.push(cell);
        starts.push(if starts.is_empty() { 0 } else { row });
    }
    let ends = starts.iter().skip(1).copied().chain([table.rows.len()]);
    let long = starts
        .iter()
        .zip(ends)
        .all(|(start, end)| end - start >= LEAST_ROWS);
    (starts.len() > 1 && long).then_some(starts)
}

/// By the clock: where it starts again, or after a long pause.
pub(super) fn by_clock(table: &Table, clock: &Clock) -> Vec<Border> {
    let unusual = |step: f64| !(-LEAST_S..=PAUSE_S).contains(&step);
    if !steps(&clock.seconds).any(|(before, after)| unusual(after - before)) {
        return Vec::new();
    }
    let timed = timed_rows(&clock.seconds);
    let step_s = median_step(timed.iter().map(|(_, s)| *s));
    let mut borders = Vec::new();
    // Place, among the rows with a time, at which the part under way began.
    let mut from = 0;
    for at in 1..timed.len() {
        let (before, here) = (timed[at - 1].1, timed[at].1);
        let step = here - before;
        let wrapped = clock.wraps_s.is_some_and(|period| -step > period / 2.0);
        let restarts = step < -LEAST_S
            && !wrapped
            && ((here - timed[from].1).abs() <= RESTART_S || (0.0..=RESTART_S).contains(&here));
        let paused = step > PAUSE_S.max(PAUSE_STEPS * step_s)
            && step < SET_S
            && !is_summer_time(before, step);
        // Sessions with the newest first: a part that is over before the one above it begins.
        let earlier = clock.origin != Origin::Running
            && !wrapped
            && step < -LEAST_S
            && !is_summer_time(before, step)
            && run_end(&timed[at..]) < timed[from].1;
        let why = if paused || earlier {
            Why::Jump(step)
        } else if restarts && !repeats(table, timed[from].0, timed[at].0) {
            Why::Restart
        } else {
            continue;
        };
        if is_part(&timed[from..at]) && goes_on(&timed[at..]) {
            let row = timed[at].0;
            borders.push(Border { row, why });
            from = at;
            if borders.len() + 1 == MOST_SESSIONS {
                break;
            }
        }
    }
    borders
}

/// The same rows over again are a logger's stutter, not another session.
fn repeats(table: &Table, first: usize, again: usize) -> bool {
    let rows = &table.rows;
    let same = |k: usize| again + k < rows.len() && rows.same(first + k, again + k);
    (0..5).all(same)
}

fn is_part(timed: &[(usize, f64)]) -> bool {
    let (first, last) = (timed[0].1, timed[timed.len() - 1].1);
    timed.len() >= LEAST_ROWS && last - first >= LEAST_S
}

/// Whether what follows runs on for long enough before anything else happens.
fn goes_on(timed: &[(usize, f64)]) -> bool {
    let run = run(timed);
    run + 1 >= LEAST_ROWS && timed[run].1 - timed[0].1 >= LEAST_S
}

/// Steps up to the next one that goes back or is a pause.
fn run(timed: &[(usize, f64)]) -> usize {
    let steps = timed.windows(2);
    let on = |pair: &&[(usize, f64)]| (0.0..PAUSE_S).contains(&(pair[1].1 - pair[0].1));
    steps.take_while(on).count()
}

/// What the clock shows at the end of that.
fn run_end(timed: &[(usize, f64)]) -> f64 {
    timed[run(timed)].1
}
