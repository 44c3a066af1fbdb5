//! The table.

use std::fmt::Write;

use super::Arguments;
use super::car::drawn_in_words;
use super::rows::{Disturbances, Row};
use super::scale::Scales;
use super::score::{Score, Share};

const HEADINGS: &str = "| row | open in truth, median, s | accepted | accepted of those open 5 min \
| `ua_relative` holds the truth, scale from heat | bias, % | at the fit's own scale | bias, % | sd, % | median half-width, % \
| drawn cars accepted | `ua_w_per_k` holds the truth | bias, % | sd, % | median half-width, % \
|\n|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n";

/// The page with the table.
pub fn table(results: &[(&Row, Score)], scales: &Scales, arguments: &Arguments) -> String {
    let mut text = head(scales, arguments);
    for (title, regulating) in [
        ("Sessions whose thermostat opens fully", false),
        ("Sessions whose thermostat always regulates", true),
    ] {
        let mut these = results
            .iter()
            .filter(|(row, _)| row.kind.regulates() == regulating)
            .peekable();
        if these.peek().is_none() {
            continue;
        }
        let _ = write!(text, "\n## {title}\n\n");
        text.push_str(if regulating {
            REGULATING_HEADINGS
        } else {
            HEADINGS
        });
        for (row, score) in these {
            text.push_str(&if regulating {
                regulating_line(row, score)
            } else {
                line(row, score)
            });
        }
    }
    text.push_str(&reasons(results));
    text
}

fn line(row: &Row, score: &Score) -> String {
    let (nominal, drawn) = (&score.nominal, &score.drawn);
    format!(
        "| {} | {:.0} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |\n",
        row.full_name(),
        nominal.median_open_s(),
        nominal.accepted().with_error(),
        nominal.accepted_if_open().with_error(),
        nominal.coverage().with_error(),
        signed_percent(nominal.bias()),
        score
            .own_coverage()
            .map_or("–".to_owned(), Share::with_error),
        signed_percent(score.own_bias().unwrap_or(f64::NAN)),
        percent(nominal.sd()),
        percent(nominal.median_half_width()),
        drawn.accepted().with_error(),
        drawn.coverage().with_error(),
        signed_percent(drawn.bias()),
        percent(drawn.sd()),
        percent(drawn.median_half_width()),
    )
}

const REGULATING_HEADINGS: &str = "| row | open in truth, median, s | declined | accepted: \
`ua_relative` holds the truth, at the fit's own scale | bias, % | drawn cars declined | accepted: \
`ua_w_per_k` holds the truth |\n|---|---|---|---|---|---|---|\n";

fn regulating_line(row: &Row, score: &Score) -> String {
    format!(
        "| {} | {:.0} | {} | {} | {} | {} | {} |\n",
        row.full_name(),
        score.nominal.median_open_s(),
        score.nominal.declined().with_error(),
        score
            .own_coverage()
            .map_or("–".to_owned(), Share::with_error),
        signed_percent(score.own_bias().unwrap_or(f64::NAN)),
        score.drawn.declined().with_error(),
        score.drawn.coverage().with_error(),
    )
}

/// Why sessions were declined, and what else there is to say of a row.
fn reasons(results: &[(&Row, Score)]) -> String {
    let mut text = String::from(
        "\n## Why sessions were declined\n\n\
         | row | cars | reason | share of all sessions |\n|---|---|---|---|\n",
    );
    for (row, score) in results {
        for (cars, side) in [("nominal", &score.nominal), ("drawn", &score.drawn)] {
            for (why, share) in side.reasons() {
                let _ = writeln!(
                    text,
                    "| {} | {cars} | {why} | {} |",
                    row.full_name(),
                    share.with_error()
                );
            }
        }
    }
    text.push('\n');
    for (row, score) in results {
        for (cars, side) in [("nominal", &score.nominal), ("drawn", &score.drawn)] {
            if side.without_value() > 0 {
                let _ = writeln!(
                    text,
                    "- {}, {cars} cars: {} accepted without a value or an interval.",
                    row.full_name(),
                    side.without_value()
                );
            }
            if side.drawn_again() > 0 {
                let _ = writeln!(
                    text,
                    "- {}, {cars} cars: {} sessions drawn again, not being of the row's kind.",
                    row.full_name(),
                    side.drawn_again()
                );
            }
        }
    }
    text
}

fn head(scales: &Scales, arguments: &Arguments) -> String {
    let Disturbances {
        wind,
        core_scatter,
        pace_scatter,
    } = Disturbances::NOMINAL;
    format!(
        "# How often the fit of one session holds the conductance\n\n\
         Simulated single sessions of an invented car with more physics than the model fitted to \
         its logs (`examples/simulator`), fitted by `heatbook::estimate::fit_session`. Written by\n\n\
         ```text\ncargo run --release --example fit_coverage -- --sessions {} --seed {}\n```\n\n\
         {} sessions a row; behind ± stands the binomial standard error of a share. # in a reason \
         stands for a number.\n\n\
         **Disturbances**, fixed before anything was fitted; \"x1.5\" has all of them half as large \
         again: steady wind of 0 to {:.0} m/s from anywhere, gusts of {:.1} m/s (sd) along the car \
         correlated over {:.0} s (not multiplied), air-side coefficient of the core {:.0} % (sd) \
         from session to session, pace {:.1} % (sd) from session to session. As everywhere in the \
         simulator, the same in both: pace 0.8 % (sd) from lap to lap, traffic on 15 % of laps, \
         ambient wandering by 0.35 K, an ambient sensor that leans by 0.3 K (sd) a day and is warmed \
         at standstill, a coolant sensor that lags 5 s and cuts off what is below its step.\n\n\
         **Truth**: heat from the radiator over coolant minus ambient, meant over running at pace \
         with the thermostat open to 0.999 and more, wind, wakes and core as they were; brought to \
         the reported speed and density by the simulator's own radiator. Sessions that regulate, \
         open for 60 s or less in truth, are to be declined; one that is accepted is set against \
         what its radiator would have been worth fully open.\n\n\
         **`ua_relative`** is scored with a car whose sheet is right, at fixed scale: the fitted \
         value times one constant for all sessions of a row, its interval around it. \"Scale from \
         heat\": {:.4} (fuel flow) or {:.4} (air flow), radiator heat over the library's heat input \
         at nominal share on one reference drive (even laps, 23 °C, no wind); no fit enters it, so a \
         fit whose law of heat input does not keep that mean shows it as bias. So does the way to \
         the reference: the sessions run at some 128 km/h, and between there and 120 km/h the \
         simulated conductance goes with the 0.39 power of speed, the fit's with the 0.5 power of \
         its prior, which costs some 0.8 %; and the fit counts that walls at 100 °C take 1.4 % less heat \
         than at the 90 °C at which the input law holds, which the constant does not. \"At the fit's own \
         scale\": true over fitted conductance on that same drive, logged finely; such a bias \
         cancels, as it does between two sessions of one car, and what is left is what one session \
         says wrongly against another.\n\n\
         **`ua_w_per_k`** is scored as told, with a car drawn for each session: {}. The simulated \
         car's own share is {:.1} %. Its air is shifted so that its coolant settles where the \
         nominal car's does; else cars with a small share would regulate and drop out.\n\n\
         Bias and sd are those of the logarithm of estimate over truth.\n\n\
         **What this world leaves out**: one circuit, one engine, one radiator and one driver's \
         style; no gradient, rain, heat from brakes or exhaust near the core, air in the coolant, \
         electric pump or fan control by anything but coolant; a thermostat that always follows its \
         rating; clocks, gaps and spikes in the log (the importer's tests have those); a sensor \
         of coolant that reads right on the whole; the exponent of the air side is our choice. The \
         figures say whether the fit is honest in this world and which of two fits is better, not \
         how often it will be right on a real car.\n",
        arguments.sessions,
        arguments.seed,
        arguments.sessions,
        wind.steady_up_to_ms,
        wind.gust_sd_ms,
        wind.gust_tau_s,
        100.0 * core_scatter,
        100.0 * pace_scatter,
        scales.fuel_rate,
        scales.air_flow,
        drawn_in_words(),
        100.0 * scales.true_share,
    )
}

fn percent(value: f64) -> String {
    if value.is_nan() {
        return "–".to_owned();
    }
    format!("{:.2}", 100.0 * value)
}

fn signed_percent(value: f64) -> String {
    if value.is_nan() {
        return "–".to_owned();
    }
    format!("{:+.2}", 100.0 * value)
}
