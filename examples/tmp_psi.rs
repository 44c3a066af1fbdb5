#![allow(missing_docs, clippy::all, dead_code, unused)]
#[path = "coverage/rows.rs"]
mod rows;
#[path = "simulator/mod.rs"]
mod simulator;
#[path = "coverage/tool.rs"]
mod tool;
mod estimators {
    #[derive(Debug, Clone)]
    pub struct Answer {
        pub change_k: f64,
        pub half_width_k: f64,
        pub verdict: Option<&'static str>,
    }
}
use heatbook::estimate::{joint::*, prepare::*};
fn main() {
    let all = rows::Row::all();
    let row = &all[std::env::args().nth(1).unwrap().parse::<usize>().unwrap()];
    for seed in 0..12u64 {
        let c = row.campaign(rows::Design::Alternating, 990000 + seed).run();
        let s = tool::sessions(&c);
        let p: Vec<_> = s.iter().map(|s| prepare(s, None)).collect();
        let r: Vec<_> = p.iter().collect();
        let j = fit_jointly(&r).unwrap();
        let sd: Vec<f64> = (0..3).map(|i| j.shared_sd(i)).collect();
        let w: usize = j.sessions.iter().map(|s| s.residuals_k.len()).sum();
        let after = |s: &Prepared| s.setup == "after";
        let d: Vec<f64> = (0..3)
            .map(|k| {
                let m = |f: bool| {
                    let v: Vec<f64> = p
                        .iter()
                        .zip(&j.sessions)
                        .filter(|(a, _)| after(a) == f)
                        .map(|(_, b)| b.sensitivity[k])
                        .collect();
                    v.iter().sum::<f64>() / v.len() as f64
                };
                m(true) - m(false)
            })
            .collect();
        println!(
            "{:.3?} sd {:.3?} window sd {:.2} n {} stint {:?} sens diff {:.4?} se {:.4} src {:?}",
            j.shared,
            sd,
            j.window_sd_k,
            w,
            p[0].drive.stints,
            d,
            j.sessions[0].log_g_se,
            p[0].heat.as_ref().unwrap().source
        );
    }
}
