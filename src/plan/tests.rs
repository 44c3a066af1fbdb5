use super::*;

fn scatter(session_sd_k: f64, day_sd_k: f64) -> BookScatter {
    BookScatter {
        source: "a test".to_owned(),
        assumed: true,
        sessions: 0,
        days: 0,
        session_sd_k,
        day_sd_k,
        at_most_k: None,
        own_se_k: 0.0,
        layout: Vec::new(),
    }
}

fn request(effect_k: f64) -> Request {
    Request {
        before: "before".to_owned(),
        after: "after".to_owned(),
        effect_k,
        threshold_k: 0.5,
        sessions_per_day: 4,
        days: None,
        one_setup_a_day: false,
    }
}

/// R 4.2, help page of `power.t.test`: 20 in each group, a difference of one standard deviation, 5 %
/// two-sided: power 0.8689530 (both tails). One day of 40 sessions is that test.
#[test]
fn one_day_has_the_power_of_the_t_test() {
    let asked = Request {
        sessions_per_day: 40,
        days: Some(1),
        ..request(1.0)
    };
    let power = design(&asked, &scatter(1.0, 0.0), 1).draws.found(1.0) as f64 / 1000.0;
    // Standard error of the simulation: 1.1 points.
    assert!((power - 0.869).abs() < 0.033, "{power}");
}

#[test]
fn a_smaller_change_takes_more_days_and_history_takes_some_off() {
    let bare = scatter(0.75, 0.35);
    let days = |effect_k, scatter: &BookScatter| plan(&request(effect_k), scatter).days_needed;
    let (large, small) = (days(2.0, &bare).unwrap(), days(1.0, &bare).unwrap());
    assert!(large < small, "{large} {small}");
    let mut known = bare.clone();
    for day in 1..=8 {
        for setup in ["c", "c", "d"] {
            let day = chrono::NaiveDate::from_ymd_opt(2031, 4, day);
            known.layout.push((setup.to_owned(), day));
        }
    }
    let smallest = |scatter: &BookScatter| {
        let asked = Request {
            days: Some(2),
            ..request(1.0)
        };
        plan(&asked, scatter).smallest_effect_k.unwrap()
    };
    assert!(smallest(&known) < smallest(&bare));
}

#[test]
fn what_a_plan_promises_holds_together() {
    let plan = plan(&request(1.2), &scatter(0.75, 0.35));
    assert!(plan.power.unwrap() >= POWER);
    let [low, high] = plan.power_interval.unwrap();
    assert!(low < plan.power.unwrap() && plan.power.unwrap() < high);
    assert!(plan.smallest_effect_k.unwrap() <= 1.2);
    assert_eq!(plan.sessions_needed, Some(plan.sessions_per_setup[0]));
    assert_eq!(plan.order.len() as u32, plan.days * 4);
}

#[test]
fn orders_are_balanced() {
    let names = |n: u32, one: bool, days: u32| -> Vec<String> {
        let asked = Request {
            sessions_per_day: n,
            one_setup_a_day: one,
            ..request(1.0)
        };
        sides(&asked, days)
            .iter()
            .map(|day| day.iter().map(|a| if *a { 'A' } else { 'B' }).collect())
            .collect()
    };
    assert_eq!(names(4, false, 2), ["BAAB", "ABBA"]);
    assert_eq!(names(3, false, 2), ["BAB", "ABA"]);
    assert_eq!(names(2, false, 2), ["BA", "AB"]);
    assert_eq!(names(2, true, 4), ["BB", "AA", "AA", "BB"]);
    assert_eq!(counts(&request(1.0), 3), [6, 6]);
}

/// Where the book leaves a larger scatter possible, the plan says what it would be worth then.
#[test]
fn a_larger_scatter_finds_less() {
    let known = BookScatter {
        assumed: false,
        at_most_k: Some([1.5, 1.0]),
        ..scatter(0.75, 0.35)
    };
    let plan = plan(&request(1.2), &known);
    assert!(plan.power_at_most_scatter.unwrap() < plan.power.unwrap() - 0.2);
    let as_large = Request {
        days: Some(plan.days),
        ..request(1.2)
    };
    let bare = super::plan(&as_large, &scatter(1.5, 1.0));
    assert_eq!(plan.power_at_most_scatter, bare.power);
    assert_eq!(bare.power_at_most_scatter, None);
}

#[test]
fn an_effect_beyond_any_practical_test_is_said_to_be() {
    let plan = plan(&request(0.05), &scatter(0.75, 0.35));
    assert_eq!((plan.sessions_needed, plan.days_needed), (None, None));
}

#[test]
fn one_setup_a_day_takes_more() {
    let both = plan(&request(1.5), &scatter(0.75, 0.35))
        .days_needed
        .unwrap();
    let one = Request {
        one_setup_a_day: true,
        ..request(1.5)
    };
    let apart = plan(&one, &scatter(0.75, 0.35)).days_needed;
    assert!(apart.is_none_or(|days| days > both), "{apart:?} {both}");
}
