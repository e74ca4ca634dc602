//! How well the sample clock is known: `cargo bench --bench profile`. For each kind of capture, over many seeds: the
//! worst error, the usual uncertainty, and how often the uncertainty covers the error (it says 95 %).

#![allow(
    clippy::print_stdout,
    reason = "a table for people is what this program is for"
)]

#[path = "../../profile/simulated_card.rs"]
mod simulated_card;

use simulated_card::{Capture, ERROR_PPM, Jitter, Wall};

const SEEDS: u64 = 200;

fn main() {
    let honest = Capture::honest();
    let wall = |wall| Capture { wall, ..honest };
    let jitter = |jitter| Capture { jitter, ..honest };
    let lasting = |seconds| Capture { seconds, ..honest };
    let captures = [
        ("even jitter of 2 ms", honest),
        ("exponential, mean 2 ms", jitter(Jitter::Exponential(0.002))),
        ("normal, sigma 2 ms", jitter(Jitter::Normal(0.002))),
        ("load swings in 70 s", jitter(Jitter::Load(70.0))),
        ("load swings in 10 min", jitter(Jitter::Load(600.0))),
        (
            "blocks of 4096",
            Capture {
                block_frames: 4096,
                ..honest
            },
        ),
        (
            "blocks of 192",
            Capture {
                block_frames: 192,
                ..honest
            },
        ),
        ("1 min", lasting(60.0)),
        ("5 min", lasting(300.0)),
        ("2 h", lasting(7200.0)),
        ("set by -0.7 s", wall(Wall::Set(500.0, -0.7))),
        ("set by 5 ms", wall(Wall::Set(731.0, 0.005))),
        (
            "asleep for 5 min",
            Capture {
                suspended: Some((400.0, 300.0, true)),
                ..honest
            },
        ),
        (
            "the same, clock runs on",
            Capture {
                suspended: Some((400.0, 300.0, false)),
                ..honest
            },
        ),
        (
            "480 frames lost",
            Capture {
                lost: Some((611.0, 480)),
                ..honest
            },
        ),
        (
            "96 frames lost",
            Capture {
                lost: Some((611.0, 96)),
                ..honest
            },
        ),
        (
            "slewed 20 ppm for 3 min",
            wall(Wall::Slewed(500.0, 680.0, 20.0)),
        ),
        (
            "slewed 20 ppm for 6 min",
            wall(Wall::Slewed(100.0, 460.0, 20.0)),
        ),
        (
            "slewed -500 ppm for 40 s",
            wall(Wall::Slewed(900.0, 940.0, -500.0)),
        ),
        ("settling, 10 ppm, 5 min", wall(Wall::Settling(10.0, 300.0))),
        (
            "settling, 10 ppm, 15 min",
            wall(Wall::Settling(10.0, 900.0)),
        ),
        ("swinging, 2 ppm, 10 min", wall(Wall::Swinging(2.0, 600.0))),
        ("swinging, 2 ppm, 50 min", wall(Wall::Swinging(2.0, 3000.0))),
    ];
    println!(
        "{:<28}{:>11}{:>14}{:>10}{:>10}",
        "capture", "worst ppm", "median ± ppm", "covered", "aside s"
    );
    for (name, capture) in captures {
        let seeds = if capture.seconds > 2000.0 {
            SEEDS / 10
        } else {
            SEEDS
        };
        let readings: Vec<_> = (0..seeds).map(|seed| capture.read(seed)).collect();
        let errors = readings
            .iter()
            .map(|reading| (reading.error_ppm.unwrap_or(f64::NAN) - ERROR_PPM).abs());
        let worst = errors.clone().fold(0.0, f64::max);
        let mut stated: Vec<f64> = readings
            .iter()
            .map(|reading| reading.uncertainty_ppm.unwrap_or(f64::NAN))
            .collect();
        let covered = errors
            .zip(&stated)
            .filter(|(error, stated)| error <= stated)
            .count();
        stated.sort_by(f64::total_cmp);
        let aside = readings
            .iter()
            .map(|reading| reading.set_aside_seconds)
            .sum::<f64>()
            / seeds as f64;
        println!(
            "{name:<28}{worst:>11.3}{:>14.3}{:>9.1}%{aside:>10.1}",
            stated[stated.len() / 2],
            100.0 * covered as f64 / seeds as f64
        );
    }
}
