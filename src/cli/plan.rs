//! `heatbook plan`: a test before it is driven.

use std::path::PathBuf;

use clap::Args;

use super::each::{Each, averaged, ended};
use super::failure::Failure;
use super::output::{count, wrapped, write_file};
use super::provenance::{Command, provenance};
use super::values::threshold;
use super::{Context, Outcome};
use crate::book::{Book, BookError};
use crate::compare::BookScatter;
use crate::estimate::prepare::STEP_S;
use crate::plan::{Plan, Request, plan};
use crate::quantity::{Measure, Units};
use crate::report::{CAUTIONS, plan_page};
use crate::session::SessionMeta;

/// Days of the running order that are printed.
const DAYS_PRINTED: u32 = 6;

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The change that is to be found, K, without a sign
    #[arg(long, value_name = "D", allow_negative_numbers = true, value_parser = threshold)]
    effect_k: f64,
    /// The setup before
    #[arg(long, value_name = "SETUP", default_value = "before")]
    before: String,
    /// The setup after
    #[arg(long, value_name = "SETUP", default_value = "after")]
    after: String,
    /// Sessions on each day
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u32).range(1..=40))]
    sessions_per_day: u32,
    /// Days [default: as many as a power of 80 % takes]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=60))]
    days: Option<u32>,
    /// The part cannot be changed within a day
    #[arg(long)]
    one_setup_a_day: bool,
    /// The smallest change that matters, K
    #[arg(long, value_name = "K", default_value_t = 0.5, allow_negative_numbers = true, value_parser = threshold)]
    threshold_k: f64,
    /// Keep the plan in the book: compare then says when a look is not the planned one
    #[arg(long)]
    keep: bool,
    /// Write the plan as a sheet to print
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

/// Plans a test.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let request = request(arguments)?;
    let mut book = book(context, arguments)?;
    let (metas, read) = match &book {
        Some(book) => {
            let metas = book.sessions()?;
            let read = averaged(book, &metas, STEP_S)?;
            (metas, read)
        }
        None => (Vec::new(), Each::none()),
    };
    let damage = read.warnings(&metas);
    let ended = ended(metas.len(), &damage)?;
    let sessions = read.made;
    let scatter = if sessions.is_empty() {
        BookScatter::usual("the book is empty")
    } else {
        BookScatter::of(&sessions, &request.before)
    };
    let mut plan = plan(&request, &scatter);
    plan.warnings.splice(0..0, damage);
    if let (true, Some(book)) = (arguments.keep, &mut book) {
        book.keep_plan(
            [&plan.before, &plan.after],
            plan.sessions_per_setup[0].min(plan.sessions_per_setup[1]),
            plan.days,
        )?;
        context.output.say("the plan is kept in the book");
    }
    if let Some(path) = &arguments.html {
        let metas: Vec<&SessionMeta> = sessions.iter().map(|s| &s.meta).collect();
        let command = command(arguments).page(true);
        let mut from = provenance(command, &metas, Vec::new(), context.units);
        from.seed = Some(plan.seed);
        write_file(
            path,
            &plan_page(&plan, &summary(&plan, context.units), &from, &[])?,
        )?;
        context.output.say(&format!("page: {}", path.display()));
    }
    context.output.warnings(&plan.warnings);
    context
        .output
        .answer(&plan, || text(&plan, context.units))?;
    Ok(ended)
}

fn request(arguments: &Arguments) -> Result<Request, Failure> {
    if arguments.before == arguments.after {
        return Err(Failure::new(
            format!("--before and --after are both `{}`", arguments.before),
            "name two setups: a setup is tested against another",
        ));
    }
    Ok(Request {
        before: arguments.before.clone(),
        after: arguments.after.clone(),
        effect_k: arguments.effect_k,
        threshold_k: arguments.threshold_k,
        sessions_per_day: arguments.sessions_per_day,
        days: arguments.days,
        one_setup_a_day: arguments.one_setup_a_day,
    })
}

/// The book, if there is one: a test can be planned before the first log is in.
fn book(context: &Context, arguments: &Arguments) -> Result<Option<Book>, Failure> {
    let dir = context.book_dir()?;
    match Book::open_existing(&dir) {
        Err(BookError::NoBook { .. }) if arguments.keep => Ok(Some(Book::open(&dir)?)),
        Err(BookError::NoBook { .. }) => Ok(None),
        opened => Ok(Some(opened?)),
    }
}

fn command(arguments: &Arguments) -> Command {
    let mut command = Command::new("plan");
    command.flag("effect-k", Some(arguments.effect_k));
    command.flag("before", Some(&arguments.before));
    command.flag("after", Some(&arguments.after));
    command.flag("sessions-per-day", Some(arguments.sessions_per_day));
    command.flag("threshold-k", Some(arguments.threshold_k));
    command.flag("days", arguments.days);
    command.switch("one-setup-a-day", arguments.one_setup_a_day);
    command
}

/// The plan in a few sentences.
pub fn summary(plan: &Plan, units: Units) -> String {
    let kelvin = |k: f64| {
        let told = units.of(Measure::Difference, k);
        format!("{told:.1} {}", units.symbol(Measure::Difference))
    };
    let mut text = match (plan.sessions_needed, plan.days_needed) {
        (Some(sessions), Some(days)) => format!(
            "To find a change of {} four times out of five takes {} with each setup: {} of {}.",
            kelvin(plan.effect_k),
            count(sessions as usize, "session"),
            count(days as usize, "day"),
            plan.sessions_per_day
        ),
        _ => format!(
            "No test of a practical size finds a change of {}: it is too small beside the scatter of sessions.",
            kelvin(plan.effect_k)
        ),
    };
    let design = format!(
        "{} of {}",
        count(plan.days as usize, "day"),
        plan.sessions_per_day
    );
    match (plan.power, plan.smallest_effect_k) {
        (Some(power), Some(smallest)) => {
            text += &format!(
                " With {design} it is found in {:.0} % of campaigns; the smallest change found four times out of five is {}.",
                100.0 * power,
                kelvin(smallest)
            );
        }
        _ => {
            text += &format!(
                " With {design} there is no interval at all, because part and day cannot be told apart."
            );
        }
    }
    let from = &plan.scatter_from;
    if let (Some(power), Some(session_k), Some(day_k)) = (
        plan.power_at_most_scatter,
        from.session_sd_at_most_k,
        from.day_sd_at_most_k,
    ) {
        text += &format!(
            " That takes the scatter as known, from {} on {}: were it as large as these leave possible ({} a session, {} a day), it would be found in {:.0} %.",
            count(from.sessions, "session"),
            count(from.days, "day"),
            kelvin(session_k),
            kelvin(day_k),
            100.0 * power
        );
    }
    if let Some(share) = plan.power_no_practical_change {
        text += &format!(
            " If the part does nothing, that it does less than {} is shown in {:.0} %.",
            kelvin(plan.threshold_k),
            100.0 * share
        );
    }
    text
}

fn text(plan: &Plan, units: Units) -> String {
    let mut text = wrapped(&summary(plan, units)) + "\n\n";
    text += &format!("B is {}, A is {}\n", plan.before, plan.after);
    for day in 1..=plan.days.min(DAYS_PRINTED) {
        let runs = plan.order.iter().filter(|r| r.day == day);
        let letters: Vec<&str> = runs
            .map(|r| if r.setup == plan.after { "A" } else { "B" })
            .collect();
        text += &format!("day {day}: {}\n", letters.join(" "));
    }
    if plan.days > DAYS_PRINTED {
        text += &format!("and so on to day {}\n", plan.days);
    }
    text += "\n";
    let from = &plan.scatter_from;
    let kelvin = units.symbol(Measure::Difference);
    text += &wrapped(&format!(
        "scatter: {:.2} {kelvin} a session, {:.2} {kelvin} a day ({}; {}, {}). Power: {} simulated campaigns through the comparison itself, seed {}.",
        units.of(Measure::Difference, from.session_sd_k),
        units.of(Measure::Difference, from.day_sd_k),
        from.source,
        count(from.sessions, "session"),
        count(from.days, "day"),
        plan.campaigns,
        plan.seed
    ));
    text += "\n";
    text += &wrapped(
        "Look once, when the last day is in. What to log, what to keep equal and when to abandon a session: --html FILE writes the sheet.",
    );
    text += "\n";
    text += CAUTIONS[2];
    text + "\n"
}
