//! What the simulated car does, in figures: to see whether it is a car.

use heatbook::session::Role;

use crate::simulator::truth::settled;
use crate::simulator::{Campaign, air_flow_factor_for, true_effect};

/// Prints settled running, the truth of some parts, and one campaign's sessions.
pub fn describe() {
    println!("settled running, thermostat open:");
    for ambient_c in [18.0, 23.0, 28.0] {
        let s = settled(1.0, ambient_c, true, 1.0);
        println!(
            "  {ambient_c} degC: mean {:.2} peak {:.2} degC, {:.0} W/K",
            s.mean_c, s.peak_c, s.conductance_w_per_k
        );
    }
    let slow = settled(1.0, 23.0, true, 0.965);
    println!("  23 degC, pace 0.965: mean {:.2}", slow.mean_c);
    for change in [-0.6, -2.4, -4.6] {
        let factor = air_flow_factor_for(change, 23.0);
        println!(
            "  {change} K: air flow {factor:.4}, {:?}",
            true_effect(factor, 23.0)
        );
    }
    for s in Campaign::alternating(1).run() {
        let (from, to) = s.hot_s();
        let range = (from * 10.0) as usize + 3000..(to * 10.0) as usize;
        let mean = |v: &[f64]| v[range.clone()].iter().sum::<f64>() / range.len() as f64;
        let max = |v: &[f64]| v.iter().copied().fold(f64::MIN, f64::max);
        let open = s.truth.opening[range.clone()]
            .iter()
            .filter(|&&x| x > 0.999)
            .count();
        let ch = |r| s.truth.channel(r);
        println!(
            "{} {:?} {} laps {} | hot {:.0}-{:.0} of {:.0} s | coolant {:.1} max {:.1} out {:.1} oil {:.1} | ambient {:.1} | v {:.1} rpm {:.0} fuel {:.1} L/h air {:.0} map {:.0} thr {:.0} | heat {:.1} kW | open {:.0} %",
            s.number,
            s.side,
            s.start,
            max(ch(Role::Lap)),
            from,
            to,
            s.t_s.last().unwrap_or(&0.0),
            mean(ch(Role::Coolant)),
            max(ch(Role::Coolant)),
            mean(ch(Role::RadiatorOut)),
            mean(ch(Role::Oil)),
            mean(ch(Role::Ambient)),
            mean(ch(Role::Speed)),
            mean(ch(Role::Rpm)),
            mean(ch(Role::FuelRate)),
            mean(ch(Role::AirFlow)),
            mean(ch(Role::ManifoldPressure)),
            mean(ch(Role::Throttle)),
            mean(&s.truth.heat_in_w) / 1e3,
            100.0 * open as f64 / range.len() as f64
        );
        if s.number <= 2 {
            let last = s.truth.len() - 1;
            let mut i = (to * 10.0) as usize - 1800;
            while i < last {
                println!(
                    "   t {:6.0} v {:5.1} rpm {:5.0} coolant {:6.2} log {:4.0} out {:6.2} oil {:6.2} intake {:5.1} open {:.2} fan {}",
                    i as f64 / 10.0,
                    ch(Role::Speed)[i],
                    ch(Role::Rpm)[i],
                    ch(Role::Coolant)[i],
                    s.channels[&Role::Coolant][i / 5],
                    ch(Role::RadiatorOut)[i],
                    ch(Role::Oil)[i],
                    ch(Role::Intake)[i],
                    s.truth.opening[i],
                    ch(Role::Fan)[i]
                );
                i += 200;
            }
        }
    }
}
