//! Whole pages from hand-made answers.

mod answers;
mod markup;
mod sample;

use super::*;
use crate::compare::Verdict;
use crate::estimate::Observed;
use crate::stats::Estimate;
use answers::{comparison, limits, provenance, truth};
use sample::{session, wholes};

const LINKS: [(&str, &str); 2] = [("Sessions", "sessions.html"), ("Limits", "limits.html")];

/// A stack in which the air heats the coolant somewhere, and one that cannot settle.
fn prediction() -> Prediction {
    let text = "name = \"as it is\"\n[heat]\ncharge_rise_k = 200\ncoolant_kw = 30\n\
        [[exchanger]]\nkind = \"charge-air cooler\"\ntop = 0.3\nua_w_per_k = 2000\n\
        [[exchanger]]\nkind = \"radiator\"\nflow = \"top to bottom\"\n\
        [[what_if]]\nname = \"sealed\"\nair.leakage = 0\n\
        [[what_if]]\nname = \"no core\"\n[[what_if.exchanger]]\nname = \"radiator\"\ntop = 0\n";
    let stack =
        crate::stack::Stack::from_toml(text, "stack.toml", &crate::car::CarSheet::default());
    crate::stack::predict(&stack.unwrap(), None, None)
}

fn measured() -> Measured {
    Measured {
        what_if: "sealed".to_owned(),
        coolant_change_k: Estimate::between(-2.0, -3.0, -1.0, "t"),
    }
}

/// Cells in which the air heats the coolant are hatched and counted, and only there.
#[test]
fn heated_cells_are_hatched_and_counted() {
    let prediction = prediction();
    let page = stack_page(&prediction, "", None, &provenance(), &[]).unwrap();
    let heated = prediction.stacks[0].exchangers[1].cells_heated_by_air;
    assert!(heated > 0);
    assert!(page.contains(&format!("radiator: {heated} of ")));
    assert!(page.contains("class=\"s-hatch\""));
    let cool = crate::stack::Stack::from_toml(
        "[[exchanger]]\nkind = \"radiator\"\n",
        "stack.toml",
        &crate::car::CarSheet::default(),
    );
    let cool = crate::stack::predict(&cool.unwrap(), None, None);
    let page = stack_page(&cool, "", None, &provenance(), &[]).unwrap();
    assert!(!page.contains("class=\"s-hatch\"") && !page.contains("cells in which"));
}

fn all_pages() -> Vec<(&'static str, String)> {
    pages_in(Units::Metric)
}

fn pages_in(units: Units) -> Vec<(&'static str, String)> {
    let wholes = wholes();
    let parts: Vec<SessionPart<'_>> = wholes.iter().map(sample::Whole::part).collect();
    let metas: Vec<SessionMeta> = wholes.iter().map(|w| w.meta.clone()).collect();
    let (truth, comparison) = (truth(), comparison(&wholes));
    let provenance = Provenance {
        units,
        settings: Vec::new(),
        ..provenance()
    };
    let sentences = "The coolant ran 2.3 K cooler with the part. That is more than could matter.";
    let page = comparison_page(
        &comparison,
        &[],
        &parts,
        &provenance,
        Some(&truth),
        sentences,
        &LINKS,
    );
    vec![
        ("comparison", page.unwrap()),
        (
            "sessions",
            sessions_page(&parts, &provenance, &LINKS).unwrap(),
        ),
        (
            "limits",
            limits_page(&limits(), &metas, &provenance, &LINKS).unwrap(),
        ),
        (
            "stack",
            stack_page(
                &prediction(),
                "As computed.",
                Some(&measured()),
                &provenance,
                &LINKS,
            )
            .unwrap(),
        ),
    ]
}

/// What the page says: texts of elements and charts, and what charts say to those who cannot see.
fn said(page: &str) -> String {
    let (_, body) = page.split_once("<body>").unwrap();
    let mut text = String::new();
    for piece in body.split('<') {
        let (tag, after) = piece.split_once('>').unwrap_or(("", piece));
        if let Some((_, label)) = tag.split_once("aria-label=\"") {
            text += label.split('"').next().unwrap();
        }
        text += "\n";
        text += after;
    }
    text
}

/// No unit of the metric system is left; what a file says of its own columns stays.
#[test]
fn pages_in_us_units_are_so_throughout() {
    for (name, page) in pages_in(Units::Us) {
        let said = said(&page);
        for unit in [
            "°C", "\u{a0}K", " K\n", ", K", "km/h", " kW", "W/K", "J/K", "kg/m³", "kPa",
        ] {
            let left: Vec<&str> = said
                .lines()
                .filter(|line| line.contains(unit) && *line != unit && !line.contains('['))
                .collect();
            assert!(left.is_empty(), "{name}: {unit} in {left:?}");
        }
        assert!(said.contains("°F"), "{name}");
    }
}

/// The same change on both pages: a difference has no offset, a temperature has.
#[test]
fn a_figure_is_the_same_in_both_units() {
    let page = |units| pages_in(units).swap_remove(0).1;
    let (metric, us) = (said(&page(Units::Metric)), said(&page(Units::Us)));
    for (k, f) in [
        ("\u{2212}2.31\u{a0}K", "\u{2212}4.16\u{a0}°F"),
        ("25.0\u{a0}°C", "77.0\u{a0}°F"),
    ] {
        assert!(metric.contains(k), "{k}");
        assert!(us.contains(f), "{f}");
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    assert_eq!(all_pages(), all_pages());
}

#[test]
fn pages_are_whole_and_need_nothing_from_outside() {
    for (name, page) in all_pages() {
        markup::check(&page).unwrap_or_else(|e| panic!("{name}: {e}"));
        for outside in [
            "<script ", "<link", "<img", "@import", "url(", "src=", "file:",
        ] {
            // `url(#…)` is a place in the page itself.
            let page = page.replace("url(#", "");
            assert!(!page.contains(outside), "{name} holds {outside}");
        }
        let addresses =
            page.matches("http").count() - page.matches("http://www.w3.org/2000/svg").count();
        assert_eq!(addresses, 0, "{name} names an address");
        assert!(!page.contains("NaN") && !page.contains("FACE"), "{name}");
        assert!(page.len() < 1_500_000, "{name}: {} bytes", page.len());
        for caution in CAUTIONS {
            assert!(
                page.contains(&caution.replace('\'', "&#39;")),
                "{name} lacks: {caution}"
            );
        }
    }
}

#[test]
fn no_label_lies_on_another() {
    for (name, page) in all_pages() {
        assert_eq!(
            markup::crowded_labels(&page),
            Vec::<String>::new(),
            "{name}"
        );
    }
}

#[test]
fn many_sessions_still_fit_the_page() {
    for sessions in [32, 80] {
        let wholes: Vec<_> = (0..sessions)
            .map(|i| session(&format!("s{i}"), "a", Some(1 + i % 20), 99.0, 22.0))
            .collect();
        let parts: Vec<SessionPart<'_>> = wholes.iter().map(sample::Whole::part).collect();
        let page = sessions_page(&parts, &provenance(), &[]).unwrap();
        assert!(page.len() < 1_500_000, "{sessions}: {} bytes", page.len());
        assert_eq!(page.matches("<h2 id=\"session-").count(), 32);
        assert_eq!(page.contains("heatbook fit s32 s33"), sessions > 32);
        markup::check(&page).unwrap();
    }
}

#[test]
fn text_from_files_is_harmless() {
    let evil = "<script>alert('x')</script>\"&";
    let mut wholes = wholes();
    for whole in &mut wholes {
        whole.meta.setup = format!("{evil}{}", whole.meta.setup == sample::AFTER);
        whole.meta.file = evil.into();
        whole.meta.note = Some(evil.into());
        whole.fit.scale = evil.into();
    }
    let mut answer = comparison(&wholes);
    for (side, setup) in [(&mut answer.before, false), (&mut answer.after, true)] {
        side.setup = format!("{evil}{setup}");
        let of_setup = wholes.iter().filter(|w| w.meta.setup == side.setup);
        side.sessions = of_setup.map(|w| w.meta.id.clone()).collect();
    }
    answer
        .warnings
        .push(crate::warning::Warning::note("x", evil));
    let parts: Vec<SessionPart<'_>> = wholes.iter().map(sample::Whole::part).collect();
    let metas: Vec<SessionMeta> = wholes.iter().map(|w| w.meta.clone()).collect();
    let provenance = Provenance {
        command: evil.into(),
        ..provenance()
    };
    for page in [
        comparison_page(
            &answer,
            &[],
            &parts,
            &provenance,
            None,
            evil,
            &[(evil, evil)],
        )
        .unwrap(),
        sessions_page(&parts, &provenance, &[]).unwrap(),
        limits_page(&limits(), &metas, &provenance, &[]).unwrap(),
    ] {
        // The page's own script has no attributes and stands alone.
        assert!(page.matches("<script").count() <= 1 && !page.contains("<script>alert"));
        assert!(page.contains("&#60;script") || page.contains("&lt;script"));
        markup::check(&page).unwrap();
    }
}

#[test]
fn the_answer_comes_first() {
    let (_, page) = all_pages().swap_remove(0);
    let at = |text: &str| {
        page.find(text)
            .unwrap_or_else(|| panic!("{text} is missing"))
    };
    assert!(at("class=\"verdict\">Improved") < at("\u{2212}2.31\u{a0}K"));
    assert!(at("\u{2212}3.43 to \u{2212}1.19\u{a0}K") < at("id=\"evidence\""));
    assert!(at("Settled coolant against ambient, both setups") < at("id=\"evidence\""));
    assert!(at("the thermostat never opened fully") > at("id=\"evidence\""));
    assert!(at("these sessions alone") < at("id=\"balance\""));
}

#[test]
fn a_simulated_truth_is_held_against_the_interval() {
    let wholes = wholes();
    let mut answer = comparison(&wholes);
    let said = |answer: &Comparison, truth_k: f64| {
        let truth = Truth {
            coolant_change_k: truth_k,
            ..truth()
        };
        comparison_page(answer, &[], &[], &provenance(), Some(&truth), "", &[]).unwrap()
    };
    assert!(
        said(&answer, -2.4).contains("Simulated truth \u{2212}2.40\u{a0}K: inside the interval.")
    );
    assert!(
        said(&answer, 0.3).contains("Simulated truth +0.30\u{a0}K: outside the interval: a miss.")
    );
    answer.coolant_change_k.main = Estimate::unknown("two days, two setups, nothing left over");
    let page = said(&answer, -2.4);
    assert!(page.contains("with no interval to hold it against"));
    assert!(page.contains("two days, two setups, nothing left over"));
}

#[test]
fn plain_tests_and_days_stand_on_the_page() {
    let page = comparison_page(&comparison(&[]), &[], &[], &provenance(), None, "", &[]).unwrap();
    for words in [
        "coolant minus ambient, Welch",
        "takes pace, air density and the day for the part",
        "with 3 and 3 the widest covers 90 %",
        "below 0.001",
        "2031-05-17",
        "it takes three days",
        "Nothing shows that the days differ, though so few days could hardly show it",
    ] {
        assert!(page.contains(words), "{words}");
    }
}

#[test]
fn a_comparison_of_nothing_still_has_a_page() {
    let mut answer = comparison(&[]);
    let why = "no session could be used";
    for effect in [
        &mut answer.coolant_change_k,
        &mut answer.coolant_peak_change_k,
        &mut answer.coolant_change_regulated_k,
        &mut answer.conductance_ratio,
    ] {
        *effect = crate::compare::Effect::unknown(why);
    }
    answer.matched.coolant_change_k = Estimate::unknown(why);
    answer.matched.balance.clear();
    answer.placebo.clear();
    answer.plain.clear();
    answer.by_day = crate::compare::ByDay::none(why);
    answer.curves = None;
    answer.verdict = Verdict::NotComparable;
    let page = comparison_page(
        &answer,
        &[],
        &[],
        &provenance(),
        None,
        "It cannot be said.",
        &[],
    )
    .unwrap();
    markup::check(&page).unwrap();
    assert!(page.contains("Not comparable") && page.contains(why) && !page.contains("NaN"));
}

/// Long names, no interval, sessions without an answer, a limit out of sight.
fn doubtful_page() -> String {
    let mut wholes = wholes();
    for whole in &mut wholes {
        whole
            .meta
            .setup
            .push_str(" with the long name that somebody gave it in a hurry");
        whole.meta.day = None;
    }
    let mut answer = comparison(&wholes);
    for side in [&mut answer.before, &mut answer.after] {
        side.setup
            .push_str(" with the long name that somebody gave it in a hurry");
        let of_setup = wholes.iter().filter(|w| w.meta.setup == side.setup);
        side.sessions = of_setup.map(|w| w.meta.id.clone()).collect();
    }
    let why = "two days, two setups: nothing is left over to tell the part from the day";
    answer.coolant_change_k = crate::compare::Effect::unknown(why);
    answer.matched.coolant_change_k = Estimate::unknown(why);
    answer.answers_agree = None;
    answer.verdict = Verdict::CannotTell;
    answer.smallest_excludable_k = None;
    answer.rows[1].settled_c = Estimate::unknown("too little hot running");
    if let Some(curves) = &mut answer.curves {
        curves.limit_c = Some(150.0);
        curves.after[..6].fill(Estimate::unknown("not that cold"));
    }
    let parts: Vec<SessionPart<'_>> = wholes.iter().map(sample::Whole::part).collect();
    comparison_page(
        &answer,
        &[],
        &parts,
        &provenance(),
        None,
        "It cannot be told.",
        &LINKS,
    )
    .unwrap()
}

#[test]
fn doubt_is_printed_as_plainly_as_an_answer() {
    let page = doubtful_page();
    markup::check(&page).unwrap();
    assert_eq!(markup::crowded_labels(&page), Vec::<String>::new());
    for text in [
        "Cannot tell",
        "two days, two setups",
        "too little hot running",
        "lies above the picture",
    ] {
        assert!(page.contains(text), "{text}");
    }
    assert!(!page.contains("NaN"));
}

/// Under a verdict that a change is shown, the page said which thresholds could be excluded.
#[test]
fn a_change_that_is_shown_excludes_no_threshold() {
    let wholes = wholes();
    let parts: Vec<SessionPart<'_>> = wholes.iter().map(sample::Whole::part).collect();
    let mut answer = comparison(&wholes);
    answer.smallest_excludable_k = Some(3.43);
    let mut says = |verdict| {
        answer.verdict = verdict;
        let page = comparison_page(&answer, &[], &parts, &provenance(), None, "", &LINKS);
        page.unwrap().contains("smallest threshold")
    };
    assert!(!says(Verdict::Improved) && !says(Verdict::Worsened));
    assert!(says(Verdict::NoPracticalChange) && says(Verdict::CannotTell));
}

#[test]
fn readings_that_are_none_are_never_printed_as_numbers() {
    let mut whole = session("s1", "a", None, 99.0, 22.0);
    whole.fit.trace.measured_c.fill(f64::NAN);
    whole.fit.trace.modelled_c.fill(f64::NAN);
    whole.fit.residual.sd_k = None;
    whole.fit.assessable = false;
    whole.fit.why = Some("the thermostat never opened fully".into());
    let page = sessions_page(&[whole.part()], &provenance(), &[]).unwrap();
    assert!(!page.contains("NaN") && !page.contains("inf\u{a0}"));
    assert!(page.contains("Not assessable: the thermostat never opened fully"));
    assert!(page.contains("day unknown"));
}

/// The drive gone on: what is said is a further peak, beside the one that was read; a limit that is never met is a
/// no; readings in whole degrees have no decimals.
#[test]
fn the_limits_page_tells_readings_from_what_would_have_come() {
    let mut answer = limits();
    answer.sessions[0].would_have_crossed_s =
        Estimate::unknown("not within 30 min more of the same");
    let mut meta = session("s1", "stock", Some(6), 98.0, 24.0).meta;
    meta.channels
        .get_mut(&crate::session::Role::Coolant)
        .unwrap()
        .resolution = Some(1.0);
    let page = limits_page(&answer, &[meta], &provenance(), &[]).unwrap();
    assert!(page.contains("Further peak") && page.contains("peak read 101"));
    assert!(page.contains(">no<small>not within 30"), "a known no");
    assert!(!page.contains("101.0\u{a0}°C"));
    assert!(page.contains("half of such sessions would be over at 42 °C"));
}

/// A list of the sessions comes first, each linked to its part, and says where UA must not be compared.
#[test]
fn the_sessions_page_begins_with_what_each_fit_says() {
    let mut wholes = wholes();
    let parts: Vec<SessionPart<'_>> = wholes.iter().map(sample::Whole::part).collect();
    let page = sessions_page(&parts, &provenance(), &[]).unwrap();
    assert!(page.contains("<a href=\"#session-1\">") && page.contains("id=\"session-1\""));
    assert!(!page.contains("heat-sources-differ") && !page.contains("conductance at least"));
    wholes[0].fit.heat_source = Some("engine air flow".to_owned());
    let parts: Vec<SessionPart<'_>> = wholes.iter().map(sample::Whole::part).collect();
    let page = sessions_page(&parts, &provenance(), &[]).unwrap();
    assert!(page.contains("heat-sources-differ"));
}

#[test]
fn limits_of_different_height_share_a_scale() {
    let mut answer = limits();
    answer.sessions[0].limit_c = Some(104.0);
    let page = limits_page(&answer, &[], &provenance(), &[]).unwrap();
    assert!(
        page.contains("each session&#39;s own limit")
            || page.contains("each session&apos;s own limit")
    );
    assert!(page.contains("peak minus the session"));
}

/// Writes the pages for a look at them: `REPORT_PAGES=folder cargo test ... -- --ignored pages`.
#[test]
#[ignore = "writes files, for the eye"]
fn write_pages() {
    let folder = std::path::PathBuf::from(std::env::var("REPORT_PAGES").unwrap());
    let mut pages = all_pages();
    pages.push(("doubtful", doubtful_page()));
    for (name, page) in pages {
        std::fs::write(folder.join(name).with_extension("html"), page).unwrap();
    }
}

#[test]
fn other_temperatures_are_shown_where_they_are_logged() {
    let whole = session("s1", "stock", Some(6), 98.0, 24.0);
    let page = sessions_page(&[whole.part()], &provenance(), &[]).unwrap();
    assert!(page.contains("radiator effectiveness, coolant side, at 120"));
    assert!(page.contains("0.131") && page.contains("118.0\u{a0}°C"));
    assert!(!page.contains("charge-air cooler"));
    let mut none = whole;
    none.fit.outlet = Observed::missing("no radiator_out channel");
    none.fit.oil = Observed::missing("no oil channel");
    let page = sessions_page(&[none.part()], &provenance(), &[]).unwrap();
    assert!(!page.contains("Radiator outlet, oil, charge air"));
}
