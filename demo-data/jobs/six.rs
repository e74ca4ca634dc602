//! The six jobs, as they went.

use crate::workbench::{Bench, CASSETTES, Made, REELS, Set};
use trimwatch::{
    bench::{
        Deck, Job, Quantity,
        Stage::{AsFound, AsLeft},
        Station,
    },
    source::virtual_deck::Setting,
};

/// All of them.
pub fn jobs() -> Made<[Job; 6]> {
    Ok([
        hard_roller()?,
        slipping_loop()?,
        reel()?,
        bearing_left()?,
        end_of_travel()?,
        a_year_later()?,
    ])
}

fn deck(model: &str, serial: &str, tape_format: &str, mechanism: &str) -> Deck {
    Deck {
        model: model.into(),
        serial: serial.into(),
        tape_format: tape_format.into(),
        mechanism: mechanism.into(),
    }
}

fn finch(serial: &str) -> Deck {
    deck("Finch 2H", serial, "cassette-stereo", "finch-2h")
}

fn heron(serial: &str) -> Deck {
    deck("Heron 3HC", serial, "cassette-stereo", "heron-3hc")
}

/// Fast, belt and roller worn, azimuth out; the first try of the speed as left was taken cold and is withdrawn.
fn hard_roller() -> Made<Job> {
    let mut bench = Bench::open(
        "HL-0031",
        "2026-03-03T09:10:00Z",
        finch("FN-2207"),
        "good-service",
        "Music sounds hurried and wobbly, and the treble is gone when I listen on the kitchen radio’s one speaker",
    )?;
    let found = Set {
        file: "finch-as-found",
        seed: 31,
        screws: &[],
    };
    bench.torque(AsFound, 0.3, Quantity::TakeUpTorque, 34.0)?;
    bench.torque(AsFound, 0.3, Quantity::BackTorque, 3.5)?;
    bench.roller(AsFound, 0.4, 270.0)?;
    bench.end_play(AsFound, 0.4, 0.2)?;
    bench.look(
        AsFound,
        0.5,
        "belt",
        "slack and shiny, set from standing",
        Some(false),
    )?;
    bench.look(
        AsFound,
        0.5,
        "pinch roller",
        "hard, with a flat",
        Some(false),
    )?;
    bench.look(AsFound, 0.5, "head wear", "slight, even", Some(true))?;
    bench.listen(AsFound, 0.8, found, CASSETTES, &[])?;
    bench.part(24.5, "capstan belt, 71 mm flat, for the slack one")?;
    bench.part(25.0, "pinch roller, 13 mm, for the hard one")?;
    let cold = Set {
        file: "finch-as-left",
        seed: 310,
        screws: &[(Setting::SpeedTrimmer, 0.34)],
    };
    bench.take(Station::Speed, AsLeft, 25.4, cold, CASSETTES[0])?;
    bench.withdraw(25.5)?;
    bench.remember(
        25.5,
        "Speed taken with the motor cold: withdrawn, taken again after half an hour.",
    )?;
    let left = Set {
        file: "finch-as-left",
        seed: 32,
        screws: &[],
    };
    bench.torque(AsLeft, 25.8, Quantity::TakeUpTorque, 46.0)?;
    bench.torque(AsLeft, 25.8, Quantity::BackTorque, 3.5)?;
    bench.roller(AsLeft, 25.9, 330.0)?;
    bench.end_play(AsLeft, 25.9, 0.2)?;
    bench.look(AsLeft, 25.9, "belt", "new", Some(true))?;
    bench.look(AsLeft, 25.9, "pinch roller", "new", Some(true))?;
    bench.look(AsLeft, 25.9, "head wear", "slight, even", Some(true))?;
    bench.cleaned(25.9)?;
    bench.listen(AsLeft, 26.1, left, CASSETTES, &[])?;
    bench.tell(26.6, "Speed, head and both channels were set with calibration tapes after the new parts had run in for half an hour")?;
    bench.close(27.0, 20.5, 35.0)
}

/// A dual-capstan deck that spills the tape: its flutter as found is not taken.
fn slipping_loop() -> Made<Job> {
    let mut bench = Bench::open(
        "HL-0034",
        "2026-03-17T10:00:00Z",
        heron("HR-0415"),
        "good-service",
        "It chewed a tape last week. One side is quieter than the other",
    )?;
    let found = Set {
        file: "heron-as-found",
        seed: 34,
        screws: &[],
    };
    bench.torque(AsFound, 0.3, Quantity::TakeUpTorque, 40.0)?;
    bench.torque(AsFound, 0.3, Quantity::BackTorque, 2.0)?;
    bench.torque(AsFound, 0.3, Quantity::WindTorque, 90.0)?;
    bench.look(
        AsFound,
        0.4,
        "supply pinch roller",
        "glazed, slips",
        Some(false),
    )?;
    bench.look(AsFound, 0.4, "belt", "slack", Some(false))?;
    bench.look(AsFound, 0.4, "head wear", "none to be seen", Some(true))?;
    bench.skip(
        Station::Flutter,
        AsFound,
        0.6,
        "the tape runs into a loop between the capstans after some seconds; a minute of the tape was not risked",
    )?;
    bench.listen(AsFound, 0.7, found, CASSETTES, &[Station::Flutter])?;
    bench.part(48.2, "both pinch rollers, as a pair")?;
    bench.part(48.5, "capstan belt")?;
    let left = Set {
        file: "heron-as-left",
        seed: 35,
        screws: &[(Setting::AzimuthScrew, 0.3), (Setting::LeftGain, 0.1)],
    };
    bench.torque(AsLeft, 49.0, Quantity::TakeUpTorque, 45.0)?;
    bench.torque(AsLeft, 49.0, Quantity::BackTorque, 4.0)?;
    bench.torque(AsLeft, 49.0, Quantity::WindTorque, 110.0)?;
    bench.look(AsLeft, 49.1, "supply pinch roller", "new", Some(true))?;
    bench.look(AsLeft, 49.1, "belt", "new", Some(true))?;
    bench.look(AsLeft, 49.1, "head wear", "none to be seen", Some(true))?;
    bench.cleaned(49.1)?;
    bench.listen(AsLeft, 49.6, left, CASSETTES, &[])?;
    bench.tell(50.0, "The tape now runs taut between the two capstans, also at both ends of a C90. The right channel’s playback trimmer was low and is set")?;
    bench.close(51.0, 21.0, 40.0)
}

/// A reel recorder that needed little.
fn reel() -> Made<Job> {
    let mut bench = Bench::open(
        "HL-0037",
        "2026-04-14T08:30:00Z",
        deck("Plover R4", "PL-118", "reel-two-track-nab-19", "plover-r4"),
        "good-service-reel",
        "Please check it before I transfer my father’s tapes",
    )?;
    let found = Set {
        file: "plover",
        seed: 37,
        screws: &[],
    };
    bench.look(
        AsFound,
        0.5,
        "brakes",
        "even, no tape loop on stopping",
        Some(true),
    )?;
    bench.look(
        AsFound,
        0.5,
        "guides",
        "brown deposit from old tape",
        Some(false),
    )?;
    bench.look(
        AsFound,
        0.5,
        "head wear",
        "a groove of half the tape’s width",
        None,
    )?;
    bench.end_play(AsFound, 0.6, 0.15)?;
    bench.listen(AsFound, 0.9, found, REELS, &[])?;
    let left = Set {
        file: "plover",
        seed: 37,
        screws: &[
            (Setting::SpeedTrimmer, -0.23),
            (Setting::AzimuthScrew, 1.5),
            (Setting::RightGain, -0.3),
            (Setting::Part(0), 1.0),
        ],
    };
    bench.part(5.0, "pinch roller, reground by us")?;
    bench.look(AsLeft, 5.5, "brakes", "even", Some(true))?;
    bench.look(AsLeft, 5.5, "guides", "clean and smooth", Some(true))?;
    bench.look(
        AsLeft,
        5.5,
        "head wear",
        "as found; good for some hundred hours yet",
        None,
    )?;
    bench.end_play(AsLeft, 5.6, 0.15)?;
    bench.cleaned(5.6)?;
    bench.listen(AsLeft, 6.2, left, REELS, &[])?;
    bench.tell(6.8, "Sticky tapes shed what we cleaned away: if a tape squeals or leaves brown dust, stop, and ask us before you go on")?;
    bench.close(7.5, 19.5, 60.0)
}

/// The flutter stays too great: the owner does not want the costly repair.
fn bearing_left() -> Made<Job> {
    let mut bench = Bench::open(
        "HL-0040",
        "2026-05-05T13:20:00Z",
        finch("FN-1934"),
        "good-service",
        "Piano sounds seasick",
    )?;
    let found = Set {
        file: "finch-as-found",
        seed: 40,
        screws: &[(Setting::SpeedTrimmer, -2.05), (Setting::AzimuthScrew, 6.2)],
    };
    bench.torque(AsFound, 0.3, Quantity::TakeUpTorque, 52.0)?;
    bench.roller(AsFound, 0.4, 325.0)?;
    bench.end_play(AsFound, 0.4, 0.45)?;
    bench.look(AsFound, 0.5, "belt", "cracked", Some(false))?;
    bench.look(AsFound, 0.5, "capstan bearing", "worn, rocks", Some(false))?;
    bench.listen(AsFound, 0.8, found, CASSETTES, &[])?;
    bench.part(20.0, "capstan belt, 71 mm flat")?;
    let left = Set {
        file: "finch-as-found",
        seed: 40,
        screws: &[
            (Setting::SpeedTrimmer, -1.39),
            (Setting::AzimuthScrew, 8.8),
            (Setting::LeftGain, -0.6),
            (Setting::RightGain, 0.5),
            (Setting::Part(0), 1.0),
        ],
    };
    bench.torque(AsLeft, 21.0, Quantity::TakeUpTorque, 50.0)?;
    bench.roller(AsLeft, 21.0, 330.0)?;
    bench.end_play(AsLeft, 21.0, 0.45)?;
    bench.look(AsLeft, 21.1, "belt", "new", Some(true))?;
    bench.look(
        AsLeft,
        21.1,
        "capstan bearing",
        "worn, rocks: left as it is",
        Some(false),
    )?;
    bench.cleaned(21.1)?;
    bench.listen(AsLeft, 21.5, left, CASSETTES, &[])?;
    bench.tell(
        22.0,
        "The pitch still wavers more than it should. The capstan’s bearing is worn, and a new one costs more than the deck \
         is worth to you, as we agreed on the telephone; the deck is safe to use, and the bearing can be done later",
    )?;
    bench.close(23.0, 22.0, 30.0)
}

/// The speed trimmer ends just at the limit, nearer to it than the tape's certificate is certain.
fn end_of_travel() -> Made<Job> {
    let mut bench = Bench::open(
        "HL-0042",
        "2026-06-09T09:45:00Z",
        heron("HR-0388"),
        "good-service",
        "",
    )?;
    let found = Set {
        file: "heron-as-found",
        seed: 42,
        screws: &[(Setting::SpeedTrimmer, -0.5), (Setting::AzimuthScrew, -2.0)],
    };
    bench.torque(AsFound, 0.3, Quantity::TakeUpTorque, 47.0)?;
    bench.torque(AsFound, 0.3, Quantity::BackTorque, 3.8)?;
    bench.look(
        AsFound,
        0.4,
        "belt",
        "good, replaced not long ago",
        Some(true),
    )?;
    bench.look(AsFound, 0.4, "pinch rollers", "shiny", Some(false))?;
    bench.listen(AsFound, 0.7, found, CASSETTES, &[])?;
    bench.part(3.0, "both pinch rollers, as a pair")?;
    let left = Set {
        file: "heron-as-left",
        seed: 420,
        screws: &[
            (Setting::SpeedTrimmer, -0.51),
            (Setting::AzimuthScrew, -0.6),
        ],
    };
    bench.torque(AsLeft, 3.5, Quantity::TakeUpTorque, 47.0)?;
    bench.torque(AsLeft, 3.5, Quantity::BackTorque, 3.9)?;
    bench.look(AsLeft, 3.6, "belt", "good", Some(true))?;
    bench.look(AsLeft, 3.6, "pinch rollers", "new", Some(true))?;
    bench.cleaned(3.6)?;
    bench.listen(AsLeft, 4.1, left, CASSETTES, &[])?;
    bench.tell(
        4.6,
        "The speed trimmer is at the end of its travel: the motor ages, and faster than this it does not go. Ask for a new \
         motor when it falls further",
    )?;
    bench.close(5.0, 23.5, 30.0)
}

/// The deck of the first job comes back for its yearly check.
fn a_year_later() -> Made<Job> {
    let mut bench = Bench::open(
        "HL-0051",
        "2027-03-09T09:30:00Z",
        finch("FN-2207"),
        "good-service",
        "Yearly check, no trouble",
    )?;
    let found = Set {
        file: "finch-as-left",
        seed: 51,
        screws: &[(Setting::SpeedTrimmer, 0.21), (Setting::AzimuthScrew, -1.4)],
    };
    bench.torque(AsFound, 0.3, Quantity::TakeUpTorque, 44.0)?;
    bench.look(AsFound, 0.3, "belt", "good", Some(true))?;
    bench.look(AsFound, 0.3, "pinch roller", "good", Some(true))?;
    bench.look(AsFound, 0.3, "heads", "dirty", Some(false))?;
    bench.listen(AsFound, 0.6, found, CASSETTES, &[])?;
    let left = Set {
        file: "finch-as-left",
        seed: 52,
        screws: &[(Setting::SpeedTrimmer, -0.02), (Setting::AzimuthScrew, 0.1)],
    };
    bench.look(AsLeft, 1.3, "heads", "clean", Some(true))?;
    bench.torque(AsLeft, 1.3, Quantity::TakeUpTorque, 44.0)?;
    bench.cleaned(1.4)?;
    bench.listen(AsLeft, 1.7, left, CASSETTES, &[])?;
    bench.tell(2.1, "Nothing is worn. Speed and head were set a little; the next check is due in a year or after 300 hours of play")?;
    bench.close(2.5, 20.0, 45.0)
}
