//! How near the meters come to what is possible: `cargo bench --bench bounds -- [PART...] [--takes N]`.
//!
//! Parts, all of them unless named: `estimators` (errors over their Cramér–Rao bounds), `wow` (the needle half a second
//! after a step of the speed, with wow going on), `ring` (from the ring to the snapshot; by the clock on the wall),
//! `hours` (time and memory of long takes). Tables in Markdown.

#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::unwrap_used,
    reason = "a bench prints, and stops where it cannot set its stage"
)]

mod hours;
mod ring;
#[path = "../../standards/stage.rs"]
#[allow(dead_code, reason = "the tests need more of it")]
mod stage;
#[path = "../../standards/synth.rs"]
#[allow(dead_code, reason = "the tests need more of it")]
mod synth;
#[path = "../../standards/trial.rs"]
#[allow(dead_code, reason = "the tests need more of it")]
mod trial;
#[path = "../../standards/wow_step.rs"]
mod wow_step;

use std::process::ExitCode;
use wow_step::{BAR_PERCENT, Line};

const TAKES: u64 = 240;
/// The bar of the project is for this many takes or more: fewer do not know the rms of their long windows well enough.
const LEAST_TAKES: u64 = 200;
/// The project's bar for the rms error over the bound.
const BAR: f64 = 1.15;
const SNRS_DB: [f64; 6] = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0];
const PARTS: [&str; 4] = ["estimators", "wow", "ring", "hours"];

fn main() -> ExitCode {
    let mut takes = TAKES;
    let mut parts = Vec::new();
    // Cargo itself passes `--bench`.
    let mut arguments = std::env::args().skip(1).filter(|word| word != "--bench");
    while let Some(word) = arguments.next() {
        if word == "--takes" {
            match arguments.next().and_then(|n| n.parse().ok()) {
                Some(n) if n > 0 => takes = n,
                _ => return usage("--takes needs a whole number above 0"),
            }
        } else if PARTS.contains(&word.as_str()) {
            parts.push(word);
        } else {
            return usage(&format!("there is no part '{word}'"));
        }
    }
    let wanted = |part: &str| parts.is_empty() || parts.iter().any(|word| word == part);
    if wanted("estimators") {
        estimators(takes);
    }
    if wanted("wow") {
        wow(takes);
    }
    if wanted("ring") {
        ring::table();
    }
    if wanted("hours") {
        hours::table();
    }
    ExitCode::SUCCESS
}

fn usage(what: &str) -> ExitCode {
    eprintln!(
        "bounds: {what}; use: [--takes N] and any of {}",
        PARTS.join(", ")
    );
    ExitCode::from(2)
}

fn estimators(takes: u64) {
    println!(
        "rms error over the Cramér–Rao bound of both channels (± its standard error), bar {BAR}; {takes} takes of \
         48 kHz, a tone of unknown frequency and phases in white noise, each channel its own.\n\
         'Greatest': the largest single error over the bound, of all windows. \
         'Off zero': the mean error over its standard error.\n"
    );
    println!("| SNR, full band | reading | windows | no reading | ratio | greatest | off zero | |");
    println!("|---|---|---|---|---|---|---|---|");
    for snr_db in SNRS_DB {
        for errors in trial::run(snr_db, takes) {
            let (mean, luck) = errors.mean();
            println!(
                "| {snr_db} dB | {} | {} | {} | {:.3} ± {:.3} | {:.1} | {:+.1} | {} |",
                errors.name,
                errors.count(),
                errors.refused,
                errors.ratio(),
                errors.ratio_error(),
                errors.greatest(),
                mean / luck,
                if takes < LEAST_TAKES {
                    "too few takes to judge"
                } else {
                    verdict(errors.refused == 0 && errors.ratio() <= BAR)
                },
            );
        }
    }
    println!();
}

fn wow(takes: u64) {
    println!(
        "{} s after a step of +0.5 %, off the new mean, percent; {takes} takes with 50 dB of noise. The plain means are \
         of the true deviation, without noise or filters.\n",
        wow_step::AFTER_S
    );
    println!(
        "| wow | reading | no reading | rms | 95 % | greatest | within ±{BAR_PERCENT} % | usual claim (k = 2) | \
         within its claim |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    let cases: [(&str, Vec<Line>); 4] = [
        ("none", Vec::new()),
        (
            "0.6, 1.2, 6 Hz, ±0.1 % in all",
            wow_step::three_lines(0.1 / 3.0),
        ),
        ("0.6, 1.2, 6 Hz, ±0.1 % each", wow_step::three_lines(0.1)),
        ("no period, rms of ±0.1 %", wow_step::without_period(0.1)),
    ];
    for (what, lines) in cases {
        for outcome in wow_step::run(&lines, takes) {
            if outcome.errors.is_empty() {
                println!(
                    "| {what} | {} | {} | | | | | | |",
                    outcome.name, outcome.refused
                );
                continue;
            }
            let claim = outcome.usual_claim();
            println!(
                "| {what} | {} | {} | {:.4} | {:.4} | {:.4} | {:.0} % | {} | {} |",
                outcome.name,
                outcome.refused,
                outcome.rms(),
                outcome.magnitude(0.95),
                outcome.magnitude(1.0),
                100.0 * outcome.share_within(BAR_PERCENT),
                claim.map_or("none".into(), |claim| format!("±{claim:.4}")),
                claim.map_or(String::new(), |_| format!(
                    "{:.0} %",
                    100.0 * outcome.share_within_claim()
                )),
            );
        }
    }
    println!();
}

fn verdict(good: bool) -> &'static str {
    if good { "" } else { "over the bar" }
}
