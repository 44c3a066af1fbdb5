//! The sheet of a planned test, to be printed and taken along.

use askama::Template;

use super::{Notice, Shell, notices, number};
use crate::plan::Plan;
use crate::quantity::{Measure, Units};
use crate::report::table::{Table, cell};
use crate::report::{Provenance, ReportError};

/// Channels worth logging, and how fast; the first three are needed.
const TO_LOG: [[&str; 3]; 8] = [
    [
        "coolant leaving the engine",
        "1 Hz",
        "needed; 0.1 K steps if the logger has them",
    ],
    ["vehicle speed", "1 Hz or more", "needed"],
    [
        "air outside",
        "every 10 s",
        "needed; shaded and in clean air, not behind the bumper",
    ],
    [
        "fuel rate, or air mass flow",
        "1 Hz or more",
        "the best heat input",
    ],
    [
        "manifold pressure and engine speed",
        "1 Hz or more",
        "the next best; throttle if nothing else",
    ],
    [
        "coolant leaving the radiator",
        "1 Hz",
        "for fit: the core's effectiveness without heat input or heat capacity; compare and this plan do not use it",
    ],
    ["intake air, charge air, oil", "1 Hz", "soak and limits"],
    [
        "barometric pressure",
        "once a session",
        "or the altitude, on the car sheet",
    ],
];

/// What must be the same with both setups.
const KEEP_EQUAL: [&str; 7] = [
    "the driver, and the pace asked for; no slipstream, no practice starts",
    "fuel at the start, tyres and their pressure, ride height, load",
    "coolant, its mix and level; bled, and the same cap",
    "fan, air conditioning and heater: the same position",
    "everything that air passes: tape, grilles, seals, bonnet gaps",
    "sensors and logger: nothing moved, nothing changed",
    "warm-up: two laps, then 15 minutes or more at pace without a break",
];

/// When a session no longer serves the test.
const ABANDON: [&str; 4] = [
    "a limit of the car maker is reached, or a warning lamp is lit: stop and let it cool",
    "less than 8 minutes at pace, a red flag, or traffic on most laps",
    "rain, or a wet track",
    "something was changed that is not the part",
];

#[derive(Template)]
#[template(path = "plan.html", config = "src/report/askama.toml")]
struct PlanPage<'a> {
    shell: Shell<'a>,
    summary: &'a str,
    stop: String,
    order: Table,
    why_order: &'static str,
    to_log: Table,
    keep_equal: [&'static str; 7],
    abandon: [&'static str; 4],
    figures: Table,
    notices: Vec<Notice>,
}

/// The page.
pub fn render(
    plan: &Plan,
    summary: &str,
    provenance: &Provenance,
    other_pages: &[(&str, &str)],
) -> Result<String, ReportError> {
    let units = provenance.units;
    let block = vec![
        ("Before", plan.before.clone()),
        ("After", plan.after.clone()),
        (
            "Change to be found",
            number::told(units, Measure::Difference, plan.effect_k, 2),
        ),
        (
            "Design",
            format!(
                "{} of {}",
                number::count(plan.days as usize, "day"),
                number::count(plan.sessions_per_day as usize, "session")
            ),
        ),
    ];
    let title = format!("Test of {} against {}", plan.after, plan.before);
    let page = PlanPage {
        shell: Shell::new("Plan", title, block, provenance, other_pages),
        summary,
        stop: stop(plan),
        order: order(plan, units),
        why_order: why_order(plan),
        to_log: to_log(units),
        keep_equal: KEEP_EQUAL,
        abandon: ABANDON,
        figures: figures(plan, units),
        notices: notices(plan.warnings.iter(), units),
    };
    Ok(page.render()?)
}

fn stop(plan: &Plan) -> String {
    let [before, after] = plan.sessions_per_setup;
    format!(
        "Compare once, when {before} sessions with {} and {after} with {} are in. Looking after \
         each day until the answer pleases finds changes that are not there. A session that was \
         abandoned is driven again with the same setup, before its outcome is looked at.",
        plan.before, plan.after
    )
}

/// Why this order: with both setups on a day, what drifts through it falls on both; with one, nothing of the day does.
fn why_order(plan: &Plan) -> &'static str {
    let mixed = plan
        .order
        .chunk_by(|a, b| a.day == b.day)
        .any(|day| day.iter().any(|run| run.setup != day[0].setup));
    if mixed {
        "What drifts through a day, as its warming does, falls on both setups alike, and neither \
         always goes first. A part that sees only one day cannot be told from that day."
    } else {
        "With one setup a day, all that differs from day to day (weather, sensors, driver, track) \
         falls on one setup alone: only several days of each can tell the part from the day. They \
         come before, after, after, before, so that what drifts from day to day falls on both \
         alike; the same hours on each day keep out what drifts through one."
    }
}

fn order(plan: &Plan, units: Units) -> Table {
    let air = format!("Air {}", units.symbol(Measure::Temperature));
    let caption = "Running order; tick off as you go";
    let head = [
        "Day", "#Run", "Setup", "Start", "Laps", &air, "Remarks", "Done",
    ];
    let mut table = Table::new(caption, &head);
    for run in &plan.order {
        let mut cells = vec![
            cell(run.day.to_string()),
            cell(run.run.to_string()),
            cell(&run.setup),
        ];
        cells.extend((0..4).map(|_| cell("")));
        cells.push(cell("\u{2610}"));
        table.row(cells);
    }
    table
}

fn to_log(units: Units) -> Table {
    let mut table = Table::new("What to log", &["Channel", "How often", "Why"]);
    for row in TO_LOG {
        table.row(row.map(|text| cell(units.prose(text))).to_vec());
    }
    table
}

fn figures(plan: &Plan, units: Units) -> Table {
    let mut table = Table::new("The plan in figures", &["Figure", "#Value"]);
    let percent = |share: f64| format!("{}\u{a0}%", number::fixed(100.0 * share, 0));
    let unknown = || number::UNKNOWN.to_owned();
    let power = match (plan.power, plan.power_interval) {
        (Some(p), Some([low, high])) => {
            format!("{} ({} to {})", percent(p), percent(low), percent(high))
        }
        _ => unknown(),
    };
    let kelvin = |k: f64| number::told(units, Measure::Difference, k, 2);
    let with_end = |k: f64, at_most_k: Option<f64>| match at_most_k {
        Some(most) => format!("{}, up to {} fit", kelvin(k), kelvin(most)),
        None => kelvin(k),
    };
    let from = &plan.scatter_from;
    for (name, value) in [
        (
            "how often the change is found (in brackets: error of the simulation alone, 95 %)",
            power,
        ),
        (
            "how often, were scatter at the upper ends below",
            plan.power_at_most_scatter.map_or_else(unknown, percent),
        ),
        (
            "smallest change found with a power of 80 %",
            plan.smallest_effect_k.map_or_else(unknown, kelvin),
        ),
        (
            "how often no change is shown to be too small to matter",
            plan.power_no_practical_change.map_or_else(unknown, percent),
        ),
        (
            "scatter of a session within its day",
            with_end(from.session_sd_k, from.session_sd_at_most_k),
        ),
        (
            "scatter of days",
            with_end(from.day_sd_k, from.day_sd_at_most_k),
        ),
        ("that scatter is from", from.source.clone()),
        (
            "it was learned from",
            format!(
                "{} on {}",
                number::count(from.sessions, "session"),
                number::count(from.days, "day")
            ),
        ),
        ("campaigns simulated", plan.campaigns.to_string()),
    ] {
        table.row(vec![cell(name), cell(value)]);
    }
    table
}
