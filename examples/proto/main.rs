#[path = "../simulator/mod.rs"]
mod simulator;
use heatbook::estimate::joint::fit_jointly;
use heatbook::estimate::prepare::{prepare, Prepared};
use heatbook::estimate::thermal_state::*;
use heatbook::stats::posterior::maximise;
use simulator::*;
fn truth(sim: &SimSession, p: &Prepared, n: f64) -> f64 {
    let tr = &sim.truth;
    let amb = tr.channel(heatbook::session::Role::Ambient);
    let cool = tr.channel(heatbook::session::Role::Coolant);
    let speed = tr.channel(heatbook::session::Role::Speed);
    let (mut q, mut m, mut f) = (0.0, 0.0, 0.0);
    for &(a, b) in &p.drive.stints { for i in a * 10..b * 10 { if tr.opening[i] > 0.999 {
        q += tr.radiator_w[i] / (cool[i] - amb[i]); m += 1.0;
        let rho = 98.6e3 / 287.05 / (amb[i] + 273.15);
        f += (n * heatbook::thermal::conductance::log_air_flow(speed[i], rho)).exp();
    } } }
    let _ = m;
    (q / f).ln()
}
fn stats(name: &str, e: &[Vec<f64>]) {
    // sd within campaigns and overall mean
    let all: Vec<f64> = e.concat();
    let mean = all.iter().sum::<f64>() / all.len() as f64;
    let mut ss = 0.0; let mut df = 0.0;
    for c in e { let m = c.iter().sum::<f64>() / c.len() as f64; ss += c.iter().map(|x| (x - m).powi(2)).sum::<f64>(); df += c.len() as f64 - 1.0; }
    println!("{name:30} mean {mean:+.4} within sd {:.4}", (ss / df).sqrt());
}

fn main() {
    let seed: u64 = std::env::args().nth(1).map_or(1, |s| s.parse().unwrap());
    let n: u64 = std::env::args().nth(2).map_or(1, |s| s.parse().unwrap());
    let pace: f64 = std::env::args().nth(3).map_or(1.0, |s| s.parse().unwrap());
    let mut car = library::car_sheet();
    if let Some(m) = std::env::args().nth(4) { car.metal_heat_capacity_j_per_k = Some(m.parse().unwrap()); }
    let names = ["balance joint", "kf", "kf no slow"];
    let mut errs: Vec<Vec<Vec<f64>>> = vec![vec![]; 3];
    let mut zs: Vec<Vec<f64>> = vec![vec![]; 3];
    let mut effects: Vec<Vec<f64>> = vec![vec![]; 3];
    let mut th = vec![];
    let mut shared = vec![];
    for s in 0..n {
        let mut campaign = Campaign::alternating(seed + s);
        campaign.after_pace_factor = pace;
        let sims = campaign.run();
        let ps: Vec<Prepared> = sims.iter().map(|s| prepare(&s.to_session(&car).unwrap(), None)).collect();
        let refs: Vec<&Prepared> = ps.iter().collect();
        let truths: Vec<f64> = sims.iter().zip(&ps).map(|(s, p)| truth(s, p, 0.5)).collect();
        let joint = fit_jointly(&refs).unwrap();
        shared.push(joint.shared);
        let mut rows: Vec<Vec<f64>> = vec![vec![]; 3];
        for (i, p) in ps.iter().enumerate() {
            let b = &joint.sessions[i];
            rows[0].push(b.log_g);
            zs[0].push(b.log_g_se);
            let record = Record::new(p, &joint).unwrap();
            let short = record.without_slow_part();
            for (k, r) in [(1, &record), (2, &short)] {
                let t = std::time::Instant::now();
                let m = maximise(r, &r.start(b.log_g), 30).unwrap();
                let dt = t.elapsed();
                let pass = r.passage(&m.parameters);
                let mut slope = m.figure_slope.clone(); slope[0] = slope[0];
                let sd = (m.variance(&slope) + pass.wander_variance).sqrt();
                rows[k].push(m.walk.figure);
                zs[k].push(sd);
                if k == 1 { th.push(m.parameters.clone()); }
                if s == 0 { println!("{} {k} {:?} ll {:.1} {} widen {:.2} sd {:.4} tally {:.4} err {:+.4} {:.0?}", i, m.parameters.iter().map(|x| (x * 100.0).round() / 100.0).collect::<Vec<_>>(), m.log_likelihood, m.termination, m.widening(&slope), sd, pass.wander_variance.sqrt(), m.walk.figure - truths[i], dt); }
            }
        }
        for k in 0..3 {
            let d: f64 = (0..8).map(|i| if sims[i].side == Side::After { rows[k][i] } else { -rows[k][i] }).sum::<f64>() / 4.0;
            effects[k].push(d * -70.0);
            errs[k].push(rows[k].iter().zip(&truths).map(|(a, b)| a - b).collect());
        }
    }
    for k in 0..3 {
        stats(names[k], &errs[k]);
        let m = effects[k].iter().sum::<f64>() / n as f64;
        let v = effects[k].iter().map(|x| (x - m).powi(2)).sum::<f64>() / (n as f64 - 1.0);
        println!("   effect mean {m:+.3} sd {:.3} K   mean se {:.4}", v.sqrt(), zs[k].iter().sum::<f64>() / zs[k].len() as f64);
    }
    for j in 0..8 {
        let m = th.iter().map(|t| t[j]).sum::<f64>() / th.len() as f64;
        let v = th.iter().map(|t| (t[j] - m).powi(2)).sum::<f64>() / th.len() as f64;
        println!("par {j} mean {m:.3} sd {:.3} prior {:?}", v.sqrt(), Parameter::ALL[j].prior());
    }
    for j in 0..4 {
        println!("shared {j} {:.3}", shared.iter().map(|t| t[j]).sum::<f64>() / shared.len() as f64);
    }
}
