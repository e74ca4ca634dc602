//! What each meter costs, and how near that is to what the machine could do at best: `cargo bench --bench limits --
//! [RATE_HZ...]`, 48000 unless told otherwise. A table in Markdown; how the work is counted stands in `stages.rs`, how
//! the machine is measured in `machine.rs`.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a bench prints")]

mod clock;
mod machine;
#[path = "../stages.rs"]
mod stages;

use clock::fastest_s;
use machine::Machine;
use stages::{Stage, TONE_HZ};
use std::process::ExitCode;
use trimwatch::{
    meters::{MeterBank, MeterSetup},
    signal::demodulator::{BLOCK, decimation},
};

const RUNS: usize = 60;
/// One timed run lasts about as long, so that the clock's own grain does not show.
const RUN_S: f64 = 1e-3;

fn main() -> ExitCode {
    // Cargo itself passes `--bench`.
    let words = std::env::args().skip(1).filter(|word| word != "--bench");
    let rates: Result<Vec<u32>, _> = words.map(|word| word.parse()).collect();
    let Ok(mut rates) = rates else {
        eprintln!("limits: give sample rates in Hz, such as 48000");
        return ExitCode::from(2);
    };
    if rates.is_empty() {
        rates.push(48_000);
    }
    let machine = Machine::measured();
    tell_machine(&machine);
    for rate_hz in rates {
        table(&machine, rate_hz);
    }
    ExitCode::SUCCESS
}

fn tell_machine(machine: &Machine) {
    println!("The machine, one core, measured:\n");
    println!("| limit | |");
    println!("|---|---|");
    let giga = |x: f64| format!("{:.1}", x / 1e9);
    let rows = [
        (
            "vector multiply-adds (64 bits), Gflop/s",
            giga(machine.vector_flops),
        ),
        ("scalar multiply-adds, Gflop/s", giga(machine.scalar_flops)),
        (
            "wait for a dependent operation, ns",
            format!("{:.2}", 1e9 * machine.dependent_s),
        ),
        (
            "reading from memory, 64-bit floats, GB/s",
            giga(machine.memory_f64),
        ),
        (
            "reading from memory, 32-bit floats, GB/s",
            giga(machine.memory_f32),
        ),
        (
            "reading from the first-level cache, GB/s",
            giga(machine.cache_f64),
        ),
    ];
    for (what, value) in rows {
        println!("| {what} | {value} |");
    }
    println!();
}

fn table(machine: &Machine, rate_hz: u32) {
    println!(
        "Meters at {} kHz, a frame being both channels. Limits: of arithmetic (operations over vector multiply-adds), of \
         the cache (bytes over its bandwidth), of waiting (dependent operations by their wait); 'of the limit' is the \
         greatest of these over what is needed.\n",
        f64::from(rate_hz) / 1e3
    );
    println!(
        "| stage | ns a frame | flops a frame | bytes a frame | dependent | arithmetic, ns | cache, ns | waiting, ns | \
         of the limit |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    let mut on_a_tone_ns = 0.0;
    for name in stages::NAMES {
        let Some(mut stage) = stages::named(name, rate_hz) else {
            continue;
        };
        let ns = nanoseconds_a_frame(&mut stage);
        if stage.on_a_tone {
            on_a_tone_ns += ns;
        }
        row(machine, &stage, ns);
    }
    let stream_bytes = 2.0 * size_of::<f32>() as f64;
    println!(
        "| the samples, read once from memory | | | {stream_bytes:.1} | | | {:.2} | | |",
        1e9 * stream_bytes / machine.memory_f32
    );
    let whole_ns = bank_ns(rate_hz, &stages::second(rate_hz));
    println!(
        "| the rest: taking in, records, gate, speed, phase | {:.2} | | | | | | | |",
        whole_ns - on_a_tone_ns
    );
    println!(
        "| **whole bank on a tone** | {whole_ns:.2} | | | | | | | {:.0} × real time |",
        1e9 / whole_ns / f64::from(rate_hz)
    );
    let programme_ns = bank_ns(rate_hz, &stages::programme(rate_hz));
    println!(
        "| **whole bank on programme** | {programme_ns:.2} | | | | | | | {:.0} × real time |\n",
        1e9 / programme_ns / f64::from(rate_hz)
    );
}

fn nanoseconds_a_frame(stage: &mut Stage) -> f64 {
    let once_s = fastest_s(5, &mut stage.run);
    let times = (RUN_S / once_s).ceil().max(1.0) as usize;
    let seconds = fastest_s(RUNS, || (0..times).for_each(|_| (stage.run)()));
    1e9 * seconds / (times as f64 * stage.frames)
}

fn row(machine: &Machine, stage: &Stage, ns: f64) {
    let work = stage.work;
    let arithmetic_ns = 1e9 * work.operations / machine.vector_flops;
    let cache_ns = 1e9 * work.bytes / machine.cache_f64;
    let waiting_ns = 1e9 * work.waiting * machine.dependent_s;
    let limit_ns = arithmetic_ns.max(cache_ns).max(waiting_ns);
    println!(
        "| {} | {ns:.2} | {:.1} | {:.1} | {:.2} | {arithmetic_ns:.2} | {cache_ns:.2} | {waiting_ns:.2} | {:.0} % |",
        stage.name,
        work.operations,
        work.bytes,
        work.waiting,
        100.0 * limit_ns / ns
    );
}

/// The whole bank, fed with a second at a time once it has settled.
fn bank_ns(rate_hz: u32, [left, right]: &[Vec<f64>; 2]) -> f64 {
    let frames = left.iter().zip(right);
    let samples: Vec<f32> = frames.flat_map(|(l, r)| [*l as f32, *r as f32]).collect();
    let mut setup = MeterSetup::new().expect("the built-in tables are whole");
    setup.tone_hz = Some(TONE_HZ);
    let mut bank = MeterBank::new(f64::from(rate_hz), 2, &setup);
    for _ in 0..10 {
        bank.process(&samples);
    }
    let piece = 2 * decimation(f64::from(rate_hz)) * BLOCK;
    let seconds = fastest_s(RUNS / 2, || {
        for piece in samples.chunks(piece) {
            bank.process(std::hint::black_box(piece));
        }
    });
    1e9 * seconds / f64::from(rate_hz)
}
