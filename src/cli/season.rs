//! `heatbook season`: a car's sessions in time order, and whether its cooling drifts.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::each::{averaged, ended};
use super::failure::Failure;
use super::output::{day_and_start, figure, table, told, wrapped, write_file};
use super::provenance::{Command, provenance};
use super::{Context, Outcome};
use crate::estimate::prepare::STEP_S;
use crate::quantity::{Measure, Units};
use crate::report::season_page;
use crate::season::{CarSeason, SeasonAnswer, how_tested, season, sentences};
use crate::session::SessionMeta;
use crate::stats::Estimate;

/// Arguments of `season`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Only this car, by its name in the car sheet
    #[arg(long, value_name = "NAME")]
    car: Option<String>,
    /// Exit with code 3 when this is shown
    #[arg(long, value_name = "WHAT")]
    fail_on: Option<FailOn>,
    /// Write the page
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

/// A condition for scripts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FailOn {
    /// A car's conductance drifts
    Drift,
}

/// Looks through the season.
pub fn run(context: &Context, arguments: &Arguments) -> Result<Outcome, Failure> {
    let book = context.existing_book()?;
    let all = book.sessions()?;
    let of_car = |meta: &&SessionMeta| {
        let asked = arguments.car.as_ref();
        asked.is_none_or(|car| meta.car.name.as_ref() == Some(car))
    };
    let metas: Vec<SessionMeta> = all.iter().filter(of_car).cloned().collect();
    if metas.is_empty() {
        return Err(nothing(&all));
    }
    let read = averaged(&book, &metas, STEP_S)?;
    let mut answer = season(&read.made);
    let damage = read.warnings(&metas);
    let ended = ended(metas.len(), &damage)?;
    answer.warnings.splice(0..0, damage);
    if let Some(path) = &arguments.html {
        let used: Vec<&SessionMeta> = metas.iter().collect();
        let mut command = Command::new("season");
        command.flag("car", arguments.car.as_ref());
        let command = command.page(true);
        let from = provenance(command, &used, Vec::new(), context.units);
        let page = season_page(&answer, &from, &[])?;
        write_file(path, &page)?;
        context.output.say(&format!("page: {}", path.display()));
    }
    context.output.warnings(&answer.warnings);
    context
        .output
        .answer(&answer, || text(&answer, context.units))?;
    let shown = answer.cars.iter().any(|car| car.drift.shown == Some(true));
    Ok(if shown && arguments.fail_on == Some(FailOn::Drift) {
        Outcome::ConditionMet
    } else {
        ended
    })
}

fn nothing(all: &[SessionMeta]) -> Failure {
    let mut names: Vec<&str> = all.iter().filter_map(|m| m.car.name.as_deref()).collect();
    names.sort_unstable();
    names.dedup();
    Failure::new(
        "no session in the book is of that car",
        match names[..] {
            [] => "no session names its car; leave out --car".to_owned(),
            _ => format!("the book has {}", names.join(", ")),
        },
    )
}

fn text(answer: &SeasonAnswer, units: Units) -> String {
    answer
        .cars
        .iter()
        .map(|car| of_car(car, units))
        .collect::<Vec<_>>()
        .join("\n")
}

fn of_car(car: &CarSeason, units: Units) -> String {
    let rows = car.sessions.iter().map(|s| {
        let [day, start] = day_and_start(s.day, s.start);
        vec![
            s.id.clone(),
            s.setup.clone(),
            day,
            start,
            relative(&s.conductance),
            told(units, Measure::Temperature, &s.settled_c, 1),
        ]
    });
    let header = [
        "session",
        "setup",
        "day",
        "start",
        "conductance, %",
        &format!("settles, {}", units.symbol(Measure::Temperature)),
    ];
    let mut text = format!(
        "{}\n\n{}",
        wrapped(&sentences(car, units)),
        table(&header, rows.collect())
    );
    for session in &car.sessions {
        if let Some(why) = &session.why {
            text += &format!("{}: {}\n", session.id, units.prose(why));
        }
    }
    if let Some(ambient_c) = car.at_ambient_c {
        let reading = format!(
            "Conductance at {:.0} {} and {:.3} {}, in percent of the mean of all sessions; settled coolant over one drive at {:.0} {}. Intervals 95 %, of each session's own windows; sessions scatter more.",
            units.of(Measure::Speed, car.at_speed_kmh),
            units.symbol(Measure::Speed),
            units.of(Measure::Density, car.at_air_density_kg_m3),
            units.symbol(Measure::Density),
            units.of(Measure::Temperature, ambient_c),
            units.symbol(Measure::Temperature)
        );
        text += &format!("{}\n", wrapped(&reading));
    }
    if let Some(tested) = how_tested(car) {
        text += &format!("{}\n", wrapped(&tested));
    }
    text
}

/// A ratio in percent.
fn relative(ratio: &Estimate) -> String {
    figure(&ratio.map(|r| 100.0 * r), 1)
}
