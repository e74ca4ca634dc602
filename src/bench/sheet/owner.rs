//! The owner's page: what was found, what was done, what the deck does now, in words that need no training.

use super::{
    document::{Block, Column, Row, Table},
    picture,
    typed::{self, NAME, NOTE, REMARK},
    words,
};
use crate::bench::{Check, CheckDone, Deck, Figure, Job, Quantity, Stage, Station, Verdict};

/// Notes that the page has room for; the newest ones are there.
const NOTES: usize = 3;
/// Parts that the page has room for.
const PARTS: usize = 4;
/// Remarks of one list about what was looked at.
const SEEN: usize = 3;
/// Lines that the complaint may take, and remarks as found and as left, and parts with notes: so much leaves the page one
/// page.
const COMPLAINT: usize = 2;
const REMARKS: usize = 3;
const WORK: usize = 5;
/// Small letters in a line.
const LINE: usize = 84;

/// The figures that an owner asks for: the first of a row that was read stands for it.
const ROWS: [(&str, &[Quantity]); 4] = [
    ("Speed", &[Quantity::SpeedDeviation]),
    (
        "Wow and flutter",
        &[
            Quantity::WeightedTwoSigma,
            Quantity::WeightedQuasiPeakMax,
            Quantity::WeightedQuasiPeak,
            Quantity::WeightedRms,
        ],
    ),
    ("Azimuth (head)", &[Quantity::Azimuth]),
    ("Left less right", &[Quantity::Balance]),
];

/// Its blocks.
pub fn page(job: &Job, earlier: &[&Job]) -> Vec<Block> {
    let mut blocks = vec![letterhead(job), title(job)];
    blocks.push(Block::Paragraph(came(job, earlier)));
    let complaint = Room(COMPLAINT).take(&typed::sentence(&job.complaint, NOTE));
    if let Some(complaint) = complaint {
        blocks.push(Block::Paragraph(format!("You told us: “{complaint}”")));
    }
    blocks.push(heading("What was found"));
    blocks.push(Block::List(state(job, Stage::AsFound)));
    blocks.push(heading("What was done"));
    blocks.push(Block::List(done(job)));
    blocks.push(heading("What it does now"));
    blocks.push(Block::List(state(job, Stage::AsLeft)));
    if let Some(table) = figures(job) {
        blocks.push(Block::Table(table));
    }
    let pictures = picture::speed(job);
    if !pictures.is_empty() {
        blocks.push(Block::Pictures(pictures));
    }
    blocks.push(heading("How to keep it well"));
    blocks.push(Block::List(care(&job.deck)));
    blocks
}

/// Lines that typed text may still take.
struct Room(usize);

impl Room {
    /// The text, cut where the room ends; nothing where there is none, or no text.
    fn take(&mut self, text: &str) -> Option<String> {
        if self.0 == 0 || text.is_empty() {
            return None;
        }
        let width = typed::width(text);
        let room = LINE * self.0;
        self.0 -= width.div_ceil(LINE).min(self.0);
        if width <= room {
            return Some(text.to_owned());
        }
        // What says that it was cut takes some of it.
        Some(typed::text(text, room.saturating_sub(40)))
    }
}

fn heading(text: &str) -> Block {
    Block::Heading(2, text.into())
}

fn letterhead(job: &Job) -> Block {
    let lines = job.workshop.lines.iter().take(3);
    Block::Letterhead {
        name: typed::text(&job.workshop.name, NAME),
        lines: lines
            .map(|line| typed::text(line, NAME))
            .filter(|line| !line.is_empty())
            .collect(),
        beside: vec![
            format!("Job {}", typed::or(&job.number, NAME, "without a number")),
            words::date(words::document_time(job)),
        ],
    }
}

fn title(job: &Job) -> Block {
    let model = typed::or(&job.deck.model, NAME, "a deck without a name");
    Block::Heading(1, format!("Your tape deck: {model}"))
}

/// Serial number, when it came and went, and when it was here before.
fn came(job: &Job, earlier: &[&Job]) -> String {
    let serial = typed::text(&job.deck.serial, NAME);
    let serial = if serial.is_empty() {
        String::new()
    } else {
        format!("Serial number {serial}. ")
    };
    let left = match job.closed {
        Some(closed) => format!("and left on {}.", words::date(closed)),
        None => "and is still here.".into(),
    };
    let before = earlier.last().map_or_else(String::new, |last| {
        format!(
            " It was here before: job {} of {}.",
            typed::or(&last.number, NAME, "without a number"),
            words::month(last.opened)
        )
    });
    format!(
        "{serial}It came on {} {left}{before}",
        words::date(job.opened)
    )
}

/// What was seen and what was measured at a stage, a sentence each.
fn state(job: &Job, stage: Stage) -> Vec<String> {
    let mut room = Room(REMARKS);
    let mut sentences: Vec<_> = seen(job, stage)
        .into_iter()
        .take(SEEN)
        .filter_map(|text| room.take(&text))
        .collect();
    let measured = [
        Station::Speed,
        Station::Flutter,
        Station::Azimuth,
        Station::Level,
    ];
    let missing: Vec<_> = measured
        .into_iter()
        .zip(ROWS)
        .filter_map(
            |(station, (_, quantities))| match main_figure(job, quantities, stage) {
                Some(figure) => {
                    let text = reading(figure, stage, judged(job, figure));
                    sentences.push(words::capital(&text));
                    None
                }
                None => Some(station),
            },
        )
        .collect();
    sentences.extend(not_measured(job, stage, &missing));
    sentences
}

/// The first of some figures that stands.
pub(super) fn main_figure<'a>(
    job: &'a Job,
    quantities: &[Quantity],
    stage: Stage,
) -> Option<&'a Figure> {
    let station = quantities.first()?.station();
    if job.skipped(station, stage).is_some() {
        return None;
    }
    let reading = job.standing(station, stage)?;
    quantities
        .iter()
        .find_map(|&quantity| reading.figure(quantity))
}

/// What was looked at: as found what was not good, as left everything but what is not judged.
fn seen(job: &Job, stage: Stage) -> Vec<String> {
    let mut said = Vec::new();
    let mut good = Vec::new();
    for (what, found, is_good) in looks(job, stage) {
        match (is_good, stage) {
            (Some(false), _) => said.push(format!("{}: {found}.", words::capital(&what))),
            (Some(true), Stage::AsLeft) => good.push(what),
            _ => {}
        }
    }
    if !good.is_empty() {
        said.push(format!("In order: {}.", good.join(", ")));
    }
    said
}

/// What was looked at, the last word on each.
pub(super) fn looks(job: &Job, stage: Stage) -> Vec<(String, String, Option<bool>)> {
    let mut looks: Vec<(String, String, Option<bool>)> = Vec::new();
    let done = |done: &&CheckDone| done.stage == stage && done.withdrawn.is_none();
    for check in job.checks.iter().filter(done) {
        if let Check::Seen { what, found, good } = &check.check {
            let what = typed::or(what, NAME, "something");
            let look = (what, typed::or(found, REMARK, "no words"), *good);
            match looks.iter_mut().find(|other| other.0 == look.0) {
                Some(other) => *other = look,
                None => looks.push(look),
            }
        }
    }
    looks
}

/// A figure as a sentence, with what the limit says of it.
fn reading(figure: &Figure, stage: Stage, judged: &str) -> String {
    let size = words::size(figure);
    let past = stage == Stage::AsFound;
    let zero = words::number(figure.value, figure.quantity.decimals(), true)
        .starts_with(|c: char| c.is_ascii_digit());
    let verb = |was: &'static str, is: &'static str| if past { was } else { is };
    match figure.quantity {
        Quantity::SpeedDeviation if zero => {
            format!("its speed {} right, {size} off{judged}.", verb("was", "is"))
        }
        Quantity::SpeedDeviation => format!(
            "it {} {size} too {}{judged}: music {} {}.",
            verb("ran", "runs"),
            if figure.value > 0.0 { "fast" } else { "slow" },
            verb("sounded", "sounds"),
            pitch(figure.value)
        ),
        Quantity::Azimuth => format!(
            "the head {} {size} out of square to the tape{judged}.",
            verb("stood", "stands")
        ),
        Quantity::Balance if zero => {
            format!(
                "both channels {} equally loud{judged}.",
                verb("were", "are")
            )
        }
        Quantity::Balance => format!(
            "the {} channel {} {size} louder than the other{judged}.",
            if figure.value > 0.0 { "left" } else { "right" },
            verb("was", "is")
        ),
        _ => format!(
            "the pitch {} by ±{size}, weighted as the ear hears it{judged}.",
            verb("wavered", "wavers")
        ),
    }
}

/// How far a speed deviation moves the pitch; 1 semitone = 100 cents, cents = 1200 · log2(1 + deviation).
fn pitch(deviation_percent: f64) -> String {
    let cents = 1200.0 * (1.0 + deviation_percent / 100.0).log2();
    let way = if cents > 0.0 { "high" } else { "low" };
    match cents.abs() {
        size if size < 0.5 => "right to a hundredth of a semitone".into(),
        size if size < 1.5 => format!("a hundredth of a semitone too {way}"),
        size if size < 1e5 => format!("{size:.0} hundredths of a semitone too {way}"),
        _ => "like nothing at all".into(),
    }
}

/// What the limit says of a figure, to follow its number.
fn judged(job: &Job, figure: &Figure) -> &'static str {
    let Some(limit) = job.limits.of(figure.quantity) else {
        return "";
    };
    match Verdict::of(figure, limit) {
        Verdict::Pass | Verdict::Inside => ", within the limit",
        Verdict::Fail | Verdict::Outside => ", outside the limit",
        Verdict::WithinUncertainty => ", too near to the limit to say on which side",
    }
}

/// Which stations have no figure, and why.
fn not_measured(job: &Job, stage: Stage, missing: &[Station]) -> Vec<String> {
    // As many lines as the figures would have taken.
    let mut room = Room(missing.len() + 1);
    let (reasoned, bare): (Vec<_>, Vec<_>) = missing
        .iter()
        .partition(|&&station| job.skipped(station, stage).is_some());
    let mut sentences = Vec::new();
    for station in reasoned {
        let reason = job.skipped(station, stage).map_or("", |skip| &skip.reason);
        let reason = typed::or(reason, REMARK, "no reason is written down");
        let text = format!("Not measured: {} ({reason}).", station.words());
        let bare = format!("Not measured: {}.", station.words());
        sentences.push(room.take(&text).unwrap_or(bare));
    }
    match bare.len() {
        0 => {}
        4 => sentences.push(format!("Nothing was measured {}.", stage.words())),
        _ => {
            let names: Vec<_> = bare.iter().map(|station| station.words()).collect();
            sentences.push(format!("Not measured: {}.", names.join(", ")));
        }
    }
    sentences
}

/// Parts and the notes meant for the owner.
fn done(job: &Job) -> Vec<String> {
    let mut room = Room(WORK);
    let mut lines = Vec::new();
    let parts: Vec<_> = job
        .parts
        .iter()
        .map(|part| typed::text(&part.what, REMARK))
        .filter(|part| !part.is_empty())
        .collect();
    for part in parts.iter().take(PARTS) {
        lines.extend(room.take(&format!("New part: {}", typed::sentence(part, 2 * REMARK))));
    }
    if parts.len() > PARTS {
        lines.push(format!("And {} more parts.", parts.len() - PARTS));
    }
    let notes: Vec<_> = job
        .notes
        .iter()
        .filter(|note| note.for_owner)
        .map(|note| typed::sentence(&note.text, NOTE))
        .filter(|note| !note.is_empty())
        .collect();
    for note in &notes[notes.len().saturating_sub(NOTES)..] {
        lines.extend(room.take(note));
    }
    if notes.len() > NOTES {
        lines.push(format!("And {} earlier notes.", notes.len() - NOTES));
    }
    if lines.is_empty() {
        lines.push("No work is written down.".into());
    }
    lines
}

/// The small table; nothing where nothing was measured.
fn figures(job: &Job) -> Option<Table> {
    let rows: Vec<_> = ROWS
        .into_iter()
        .filter_map(|(name, quantities)| row(job, name, quantities))
        .collect();
    (!rows.is_empty()).then(|| Table {
        caption: "As found and as left".into(),
        columns: vec![
            Column::words("", 2.3),
            Column::numbers("as found", 1.55),
            Column::words("", 1.6),
            Column::numbers("as left", 1.55),
            Column::words("", 1.6),
            Column::words("limit", 1.6),
        ],
        rows,
    })
}

fn row(job: &Job, name: &str, quantities: &[Quantity]) -> Option<Row> {
    let found = main_figure(job, quantities, Stage::AsFound);
    let left = main_figure(job, quantities, Stage::AsLeft);
    let quantity = left.or(found)?.quantity;
    let limit = job.limits.of(quantity);
    let mut cells = vec![name.to_owned()];
    for figure in [found, left] {
        match figure {
            Some(figure) => {
                cells.push(words::with_unit(
                    words::figure_words(figure),
                    figure.quantity,
                ));
                cells.push(words::verdict(figure, job.limits.of(figure.quantity)));
            }
            None => cells.extend(["–".into(), String::new()]),
        }
    }
    cells.push(limit.map_or_else(|| "none".into(), words::limit));
    Some(Row::Cells(cells))
}

/// How to treat a deck: common practice, no source.
fn care(deck: &Deck) -> Vec<String> {
    let reel = deck.tape_format.starts_with("reel");
    let path = if reel {
        "heads, guides and capstan"
    } else {
        "heads and capstan"
    };
    vec![
        format!(
            "Pull the mains plug. Clean {path} every 10 to 20 hours of play with a swab and a little isopropyl alcohol, no \
             flame near; the pinch roller with a cleaner for rubber. Let all dry."
        ),
        "Demagnetise every 50 hours: deck off, tapes far away, switch on and off at arm’s length.".into(),
        "If the pitch wavers, the treble fades or tape is pulled out, stop and bring the deck in. Leave the case shut: mains inside."
            .into(),
    ]
}
