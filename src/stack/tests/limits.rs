//! Limits and symmetries: what must not matter does not, and no heat is lost.

use proptest::prelude::*;

use crate::car::CarSheet;
use crate::stack::compute::{Computed, Part, compute};
use crate::stack::sheet::{Cover, Flow, Input, Kind};
use crate::stack::{Exchanger, First, Sheet, Stack};

/// Everything assumed, one working point, the exchangers given.
fn sheet(exchangers: Vec<Exchanger>) -> Sheet {
    let mut sheet = Sheet::empty(&CarSheet::default());
    exchangers.into_iter().for_each(|e| sheet.add(e));
    sheet
}

fn front(kind: Kind, left: f64, right: f64, bottom: f64, top: f64) -> Exchanger {
    let mut exchanger = Exchanger::new(&format!("{kind:?}"), kind);
    exchanger.cover = Cover {
        left,
        right,
        bottom,
        top,
    };
    exchanger
}

fn radiator(flow: Flow, passes: usize, first: First) -> Exchanger {
    Exchanger {
        flow,
        passes,
        first,
        ..Exchanger::new("radiator", Kind::Radiator)
    }
}

fn settled(sheet: &Sheet, cells: usize) -> Computed {
    compute(sheet, sheet, None, cells).unwrap()
}

fn part(computed: &Computed, kind: Kind) -> &Part {
    computed.parts.iter().find(|p| p.kind == kind).unwrap()
}

fn coolant_c(computed: &Computed) -> f64 {
    part(computed, Kind::Radiator).in_c
}

fn full_stack() -> Vec<Exchanger> {
    vec![
        front(Kind::ChargeAirCooler, 0.1, 0.87, 0.0, 0.4),
        front(Kind::Condenser, 0.0, 0.9, 0.2, 1.0),
        radiator(Flow::LeftToRight, 2, First::TopOrLeft),
        front(Kind::OilCooler, 0.6, 1.0, 0.5, 0.9),
    ]
}

/// Heat that the fluids lose is heat that the air carries away, and each fluid's is its own capacity
/// flow times its drop: to 1e-9.
#[test]
fn energy_is_conserved() {
    for recirculation in [0.0, 0.3] {
        let mut sheet = sheet(full_stack());
        sheet.give("air.recirculation", Input::exact(recirculation));
        let computed = settled(&sheet, 40);
        let heat_w: f64 = computed.parts.iter().map(|p| p.heat_w).sum();
        let air_w_per_k: f64 = computed.face.air_w_per_k.iter().sum();
        let air_w = air_w_per_k * (computed.settled.air_out_k - computed.settled.air_in_k);
        assert!((air_w / heat_w - 1.0).abs() < 1e-9, "{air_w} {heat_w}");
        assert!(
            (computed.settled.air_in_k - recirculation * computed.settled.air_out_k).abs() < 1e-9
        );
        for part in computed
            .parts
            .iter()
            .filter(|p| p.fluid_w_per_k.is_finite())
        {
            let fluid_w = part.fluid_w_per_k * (part.in_c - part.out_c);
            assert!((fluid_w / part.heat_w - 1.0).abs() < 1e-9, "{part:?}");
        }
        // The engine's heat is what the radiator loses.
        let engine_w = 1000.0 * sheet.value("at.load") * sheet.value("heat.coolant_kw");
        assert!((part(&computed, Kind::Radiator).heat_w / engine_w - 1.0).abs() < 1e-9);
    }
}

/// Settled with a heat, then held at the temperature that came out: the same heat again.
#[test]
fn heat_and_temperature_are_two_sides_of_one_state() {
    let sheet = sheet(full_stack());
    let with_heat = settled(&sheet, 20);
    let held = compute(&sheet, &sheet, Some(coolant_c(&with_heat)), 20).unwrap();
    let (a, b) = (
        part(&with_heat, Kind::Radiator),
        part(&held, Kind::Radiator),
    );
    assert!((a.heat_w / b.heat_w - 1.0).abs() < 1e-9);
    assert!((a.out_c - b.out_c).abs() < 1e-9);
}

/// Without heat everything is at ambient.
#[test]
fn without_heat_nothing_is_warm() {
    let mut sheet = sheet(full_stack());
    for path in [
        "heat.coolant_kw",
        "heat.oil_kw",
        "heat.charge_rise_k",
        "heat.condenser_kw",
    ] {
        sheet.give(path, Input::exact(0.0));
    }
    for part in settled(&sheet, 10).parts {
        assert!(
            (part.in_c - 25.0).abs() < 1e-9 && (part.out_c - 25.0).abs() < 1e-9,
            "{part:?}"
        );
    }
}

/// What the grid leaves open falls with the square of the cell, and at 40 is far below any claim.
#[test]
fn the_grid_converges() {
    let at = |cells: usize| coolant_c(&settled(&sheet(full_stack()), cells));
    let finest = at(320);
    let off: Vec<f64> = [10, 20, 40, 80].map(|n| (at(n) - finest).abs()).to_vec();
    assert!(off[2] < 0.01, "{off:?}");
    assert!(
        off[0] > 2.0 * off[1] && off[1] > 2.0 * off[2] && off[2] > 2.0 * off[3],
        "{off:?}"
    );
    // What is stated as the step from 20 to 40 bounds the error at 40.
    assert!((at(40) - at(20)).abs() > off[2], "{off:?}");
}

/// A condenser that mixes the air behind it lets the radiator see one temperature.
#[test]
fn air_that_mixes_is_even() {
    let mut sheet = sheet(vec![
        front(Kind::Condenser, 0.0, 1.0, 0.0, 1.0),
        radiator(Flow::LeftToRight, 1, First::TopOrLeft),
    ]);
    sheet.profile = vec![vec![1.0, 0.5], vec![0.7, 1.3]];
    let spread = |sheet: &Sheet| {
        let computed = settled(sheet, 20);
        let air: Vec<f64> = computed.settled.maps[1]
            .air_in_k
            .iter()
            .flatten()
            .copied()
            .collect();
        air.iter().copied().fold(f64::MIN, f64::max) - air.iter().copied().fold(f64::MAX, f64::min)
    };
    assert!(spread(&sheet) > 0.3, "{}", spread(&sheet));
    sheet.give("Condenser.mixing", Input::exact(1.0));
    assert!(spread(&sheet) < 1e-9);
}

/// Air hotter than the coolant heats it: a radiator of many tubes behind a very hot charge-air cooler.
#[test]
fn cells_in_which_the_air_heats_the_coolant_are_found() {
    let mut sheet = sheet(vec![
        front(Kind::ChargeAirCooler, 0.0, 1.0, 0.0, 0.3),
        radiator(Flow::TopToBottom, 1, First::TopOrLeft),
    ]);
    sheet.give("heat.charge_rise_k", Input::exact(200.0));
    sheet.give("ChargeAirCooler.ua_w_per_k", Input::exact(2000.0));
    sheet.give("heat.coolant_kw", Input::exact(30.0));
    let computed = settled(&sheet, 20);
    let map = &computed.settled.maps[1];
    let heated = map.heated.iter().filter(|h| **h).count();
    assert!(heated > 0, "none of {}", map.heated.len());
    for (i, heated) in map.heated.iter().enumerate() {
        assert_eq!(
            *heated,
            map.air_out_k[i].unwrap() < map.air_in_k[i].unwrap()
        );
    }
}

#[test]
fn a_radiator_that_covers_nothing_cannot_settle() {
    let mut exchanger = radiator(Flow::LeftToRight, 1, First::TopOrLeft);
    exchanger.cover.right = 0.0;
    let sheet = sheet(vec![exchanger]);
    let why = compute(&sheet, &sheet, None, 10).unwrap_err();
    assert!(why.contains("covers nothing"), "{why}");
}

fn flows() -> impl Strategy<Value = Flow> {
    prop::sample::select(vec![
        Flow::LeftToRight,
        Flow::RightToLeft,
        Flow::TopToBottom,
        Flow::BottomToTop,
    ])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Even air: which way the coolant goes, in how many passes and where first, changes nothing but
    /// for the passes' own gain: reversing never matters, to rounding.
    #[test]
    fn under_even_air_reversing_the_flow_changes_nothing(
        level in any::<bool>(), passes in 1..5_usize, coolant_kw in 10.0..150.0, rows in 1..4_usize,
    ) {
        let (one, other) = if level { (Flow::LeftToRight, Flow::RightToLeft) } else { (Flow::TopToBottom, Flow::BottomToTop) };
        let settled_c = |flow, first| {
            let mut exchanger = radiator(flow, passes, first);
            exchanger.tube_rows = rows;
            let mut sheet = sheet(vec![exchanger]);
            sheet.give("heat.coolant_kw", Input::exact(coolant_kw));
            coolant_c(&settled(&sheet, 12))
        };
        let start = settled_c(one, First::TopOrLeft);
        for (flow, first) in [(other, First::TopOrLeft), (one, First::BottomOrRight), (other, First::BottomOrRight)] {
            prop_assert!((settled_c(flow, first) - start).abs() < 1e-8 * start.abs());
        }
    }

    /// A front exchanger that covers nothing changes nothing, to the last bit.
    #[test]
    fn a_front_exchanger_that_covers_nothing_changes_nothing(at in 0.0..1.0_f64, flow in flows(), rise_k in 0.0..200.0) {
        let alone = settled(&sheet(vec![radiator(flow, 1, First::TopOrLeft)]), 15);
        let mut behind = sheet(vec![front(Kind::ChargeAirCooler, at, at, 0.0, 1.0), radiator(flow, 1, First::TopOrLeft)]);
        behind.give("heat.charge_rise_k", Input::exact(rise_k));
        let behind = settled(&behind, 15);
        prop_assert_eq!(coolant_c(&alone), coolant_c(&behind));
        prop_assert_eq!(part(&behind, Kind::ChargeAirCooler).heat_w, 0.0);
    }

    /// A stack and its mirror image settle alike.
    #[test]
    fn a_mirror_changes_nothing(left in 0.0..0.5_f64, right in 0.5..1.0_f64, bottom in 0.0..0.4_f64, top in 0.5..1.0_f64) {
        let one = sheet(vec![front(Kind::ChargeAirCooler, left, right, bottom, top), radiator(Flow::LeftToRight, 1, First::TopOrLeft)]);
        let mut mirrored = front(Kind::ChargeAirCooler, 1.0 - right, 1.0 - left, bottom, top);
        mirrored.flow = Flow::RightToLeft;
        let other = sheet(vec![mirrored, radiator(Flow::RightToLeft, 1, First::TopOrLeft)]);
        let (one, other) = (settled(&one, 14), settled(&other, 14));
        prop_assert!((coolant_c(&one) - coolant_c(&other)).abs() < 1e-8);
    }

    /// More ambient, as much more coolant where density and properties are held; a larger core, cooler.
    #[test]
    fn a_larger_core_is_cooler(ua in 500.0..4000.0_f64, more in 1.01..2.0_f64, flow in flows()) {
        let settled_c = |ua: f64| {
            let mut sheet = sheet(vec![front(Kind::ChargeAirCooler, 0.0, 1.0, 0.0, 0.5), radiator(flow, 1, First::TopOrLeft)]);
            sheet.give("radiator.ua_w_per_k", Input::exact(ua));
            coolant_c(&settled(&sheet, 10))
        };
        prop_assert!(settled_c(ua * more) < settled_c(ua));
    }
}

/// A sheet that says nothing but the kinds is enough.
#[test]
fn a_short_sheet_is_enough() {
    let text = "[[exchanger]]\nkind = \"charge-air cooler\"\ntop = 0.5\n[[exchanger]]\nkind = \"radiator\"\n";
    let stack = Stack::from_toml(text, "stack.toml", &CarSheet::default()).unwrap();
    let computed = settled(&stack.base, 20);
    let coolant = coolant_c(&computed);
    assert!((60.0..140.0).contains(&coolant), "{coolant}");
}
