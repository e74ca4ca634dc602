//! `trimwatch watch`: the readings live, until the signal, the time or the technician ends it.

use super::{
    ConsoleError, Outcome, Reader, arguments::WatchFormat, beside::Beside, deliver, json, page,
    readout, settings::WatchSettings,
};
use crate::{
    meters::MeterSetup,
    profile::{OwnProfile, ProfileStore},
    readings::{InputState, Readings, SourceDescription},
    worker::{Request, Worker},
};
use crossbeam_channel::{Receiver, Sender, never, select_biased};
use std::{
    fmt::Write as _,
    io::Write,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
    time::{Duration, Instant},
};

/// The block is redrawn this often: fast enough for a hand on a screw, slow enough to be read.
const BLOCK_EVERY: Duration = Duration::from_millis(200);
/// A snapshot as JSON comes this often: oftener than 30 times a second.
const JSON_EVERY: Duration = Duration::from_millis(20);
/// A line of the running table comes this often.
const TABLE_EVERY: Duration = Duration::from_secs(1);
/// How long after the time asked for a signal that does not come is waited for.
const PATIENCE: Duration = Duration::from_secs(5);
/// Exit code of a program ended by Ctrl-C, by the shells' convention: 128 + SIGINT.
const INTERRUPTED: i32 = 130;

/// Opens the source and shows its readings until the end.
pub fn watch(
    settings: WatchSettings,
    out: &mut dyn Write,
    terminal: bool,
) -> Result<Outcome, ConsoleError> {
    let name = settings.source.name();
    let mut beside = Beside::start(&settings, &name)?;
    let source = settings.source.start()?;
    let worker = Worker::start(source, settings.expected.setup.clone(), || {})?;
    let face = Face::new(settings.format, terminal);
    let mut own_profile = ThroughOwnProfile {
        store: settings.profiles,
        setup: settings.expected.setup,
        requests: worker.requests.clone(),
        own: OwnProfile::default(),
    };
    let interrupt = interrupt()?;
    let mut showing = Showing::new(face, out);
    // What is to be known before anything sounds.
    showing.remarks = beside.remarks();
    showing.remark();
    let shown = show(
        &worker.readings,
        &interrupt,
        settings.seconds,
        &mut showing,
        |readings| {
            own_profile.look(&readings.source.description)?;
            beside.take(readings);
            Ok(beside.remarks())
        },
    );
    let beside_ended = beside.finish();
    let outcome = shown?;
    beside_ended?;
    outcome.ok_or_else(|| ConsoleError::Refused(format!("no samples came from {name}")))
}

/// Reads a live input through its own profile: looked for when the input is known, and anew when another rate runs.
struct ThroughOwnProfile {
    store: Option<ProfileStore>,
    setup: MeterSetup,
    requests: Sender<Request>,
    own: OwnProfile,
}

impl ThroughOwnProfile {
    fn look(&mut self, description: &SourceDescription) -> Result<(), ConsoleError> {
        let Some(store) = &self.store else {
            return Ok(());
        };
        if !self.own.is_news(description) {
            return Ok(());
        }
        let setup = match OwnProfile::find(store, description)? {
            Some((_, profile)) => self.setup.clone().with_profile(&profile),
            None => self.setup.clone(),
        };
        // A worker that has ended needs no profile.
        let _ended = self.requests.send(Request::ChangeSetup(Box::new(setup)));
        Ok(())
    }
}

/// A channel that tells of Ctrl-C (and of being asked to terminate). The second time the program ends at once, in case
/// it is stuck in an output that nobody reads.
pub(super) fn interrupt() -> Result<Receiver<()>, ConsoleError> {
    let (told, interrupt) = crossbeam_channel::bounded(1);
    let before = AtomicBool::new(false);
    ctrlc::set_handler(move || {
        if before.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED);
        }
        let _full = told.try_send(());
    })
    .map_err(|error| ConsoleError::Refused(format!("cannot wait for Ctrl-C: {error}")))?;
    Ok(interrupt)
}

/// Shows snapshots until the end; `each` sees them too, and gives the remarks to go with them. `None` when not one came.
fn show(
    readings: &Receiver<Arc<Readings>>,
    interrupt: &Receiver<()>,
    seconds: Option<f64>,
    showing: &mut Showing<'_>,
    mut each: impl FnMut(&Readings) -> Result<Vec<String>, ConsoleError>,
) -> Result<Option<Outcome>, ConsoleError> {
    let patience = seconds.map_or_else(never, |seconds| {
        crossbeam_channel::after(Duration::from_secs_f64(seconds) + PATIENCE)
    });
    loop {
        let snapshot = select_biased! {
            recv(interrupt) -> _ => None,
            recv(patience) -> _ => None,
            recv(readings) -> snapshot => snapshot.ok(),
        };
        let Some(snapshot) = snapshot else { break };
        if let InputState::Failed(why) = &snapshot.source.state {
            return Err(ConsoleError::Refused(why.clone()));
        }
        showing.remarks = each(&snapshot)?;
        let last = snapshot.source.state == InputState::Ended
            || seconds.is_some_and(|seconds| snapshot.source.seconds >= seconds);
        if showing.take(snapshot, last)? == Reader::Gone || last {
            break;
        }
    }
    showing.close()
}

/// The form the readings are shown in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Face {
    /// Redrawn in place.
    Block,
    /// A line now and then.
    Table,
    /// One JSON object a snapshot.
    Jsonl,
}

impl Face {
    fn new(format: WatchFormat, terminal: bool) -> Self {
        match format {
            WatchFormat::Jsonl => Self::Jsonl,
            WatchFormat::Text if terminal => Self::Block,
            WatchFormat::Text => Self::Table,
        }
    }

    fn every(self) -> Duration {
        match self {
            Self::Block => BLOCK_EVERY,
            Self::Table => TABLE_EVERY,
            Self::Jsonl => JSON_EVERY,
        }
    }

    /// Whether `snapshot` comes so long after what was shown `at`, for `signal_s` of the signal, that it should be shown.
    fn is_due(self, at: Instant, signal_s: f64, snapshot: &Readings) -> bool {
        match self {
            Self::Block | Self::Table => at.elapsed() >= self.every(),
            // By the signal's own time: a program that reads wants no hole where the computer was busy, and all news.
            Self::Jsonl => {
                let source = &snapshot.source;
                source.state != InputState::Running
                    || (source.seconds - signal_s).abs() >= self.every().as_secs_f64()
            }
        }
    }
}

/// What was shown so far.
struct Showing<'a> {
    face: Face,
    out: &'a mut dyn Write,
    /// Lines of the block on the terminal.
    drawn_lines: usize,
    /// When something was shown last, and how much signal there was then, seconds.
    shown: Option<(Instant, f64)>,
    /// The newest snapshot, while it is not shown.
    waiting: Option<Arc<Readings>>,
    any: bool,
    any_valid: bool,
    /// What is to be said besides the readings.
    remarks: Vec<String>,
    /// Of these, what was said last where nothing is redrawn.
    remarked: Vec<String>,
}

impl<'a> Showing<'a> {
    fn new(face: Face, out: &'a mut dyn Write) -> Self {
        Self {
            face,
            out,
            drawn_lines: 0,
            shown: None,
            waiting: None,
            any: false,
            any_valid: false,
            remarks: Vec::new(),
            remarked: Vec::new(),
        }
    }

    /// Takes a snapshot, and shows it if it is time or if it is the last.
    fn take(&mut self, snapshot: Arc<Readings>, last: bool) -> Result<Reader, ConsoleError> {
        self.any = true;
        self.any_valid |= snapshot.any_valid();
        let due = self
            .shown
            .is_none_or(|(at, signal_s)| self.face.is_due(at, signal_s, &snapshot));
        if due || last {
            self.waiting = None;
            self.draw(&snapshot)
        } else {
            self.waiting = Some(snapshot);
            Ok(Reader::There)
        }
    }

    /// Shows what still waits: the last thing on the screen is the last thing known.
    fn close(&mut self) -> Result<Option<Outcome>, ConsoleError> {
        if let Some(snapshot) = self.waiting.take() {
            self.draw(&snapshot)?;
        }
        Ok(self.any.then(|| Outcome::of(self.any_valid)))
    }

    fn draw(&mut self, readings: &Readings) -> Result<Reader, ConsoleError> {
        let now = (Instant::now(), readings.source.seconds);
        let first = self.shown.replace(now).is_none();
        let text = match self.face {
            Face::Jsonl => json::line(readings)?,
            Face::Table => {
                let mut lines = if first {
                    readout::table_head()
                } else {
                    Vec::new()
                };
                lines.push(readout::table_row(readings));
                lines.join("\n") + "\n"
            }
            Face::Block => {
                let mut lines = readout::block(readings);
                for remark in &self.remarks {
                    lines.extend(page::wrap(remark, page::WIDTH));
                }
                let text = in_place(self.drawn_lines, &lines);
                self.drawn_lines = lines.len();
                text
            }
        };
        self.remark();
        deliver(self.out, &text)
    }

    /// Where lines stay as they are, a remark goes to the error output, once: the output is for the readings.
    fn remark(&mut self) {
        if self.face == Face::Block || self.remarks == self.remarked {
            return;
        }
        for remark in self
            .remarks
            .iter()
            .filter(|remark| !self.remarked.contains(remark))
        {
            let line = page::printable(remark);
            let _closed = writeln!(std::io::stderr(), "trimwatch: {line}");
        }
        self.remarked.clone_from(&self.remarks);
    }
}

/// Draws `lines` over the block of `drawn_lines` that ends above the cursor. Wrapping is off meanwhile, so that on a
/// terminal narrower than the block a line stays one line.
fn in_place(drawn_lines: usize, lines: &[String]) -> String {
    let mut text = String::from("\x1b[?7l");
    if drawn_lines > 0 {
        let _infallible = write!(text, "\x1b[{drawn_lines}F");
    }
    for line in lines {
        text.push_str(line);
        text.push_str("\x1b[K\n");
    }
    text.push_str("\x1b[J\x1b[?7h");
    text
}

#[cfg(test)]
mod tests {
    use super::{
        super::{ConsoleError, Outcome, example},
        *,
    };
    use std::io;

    fn running(seconds: f64) -> Arc<Readings> {
        let mut readings = example::full();
        readings.source.seconds = seconds;
        Arc::new(readings)
    }

    fn in_state(state: InputState) -> Arc<Readings> {
        let mut readings = example::empty();
        readings.source.state = state;
        Arc::new(readings)
    }

    /// Shows what is sent before the sender goes, and returns how it ended and what was written.
    fn shown(
        face: Face,
        seconds: Option<f64>,
        snapshots: Vec<Arc<Readings>>,
    ) -> (Result<Option<Outcome>, ConsoleError>, String) {
        let (sender, readings) = crossbeam_channel::unbounded();
        for snapshot in snapshots {
            sender.send(snapshot).expect("the receiver is there");
        }
        drop(sender);
        let mut out = Vec::new();
        let ended = show(
            &readings,
            &never(),
            seconds,
            &mut Showing::new(face, &mut out),
            |_| Ok(Vec::new()),
        );
        (ended, String::from_utf8(out).expect("UTF-8"))
    }

    #[test]
    fn json_lines_come_one_a_snapshot_up_to_the_time_asked_for() {
        let snapshots = (0..10)
            .map(|index| running(0.5 * f64::from(index)))
            .collect();
        let (ended, text) = shown(Face::Jsonl, Some(2.0), snapshots);
        assert_eq!(ended.expect("ends well"), Some(Outcome::Complete));
        assert_eq!(text.lines().count(), 5);
    }

    #[test]
    fn the_table_is_calm_but_its_last_line_is_the_last_known() {
        let snapshots = (0..100)
            .map(|index| running(0.03 * f64::from(index)))
            .collect();
        let (_, text) = shown(Face::Table, None, snapshots);
        let rows: Vec<_> = text.lines().skip(readout::table_head().len()).collect();
        assert_eq!(rows.len(), 2, "{text}");
        assert!(rows[1].trim_start().starts_with("3.0 "), "{text}");
    }

    #[test]
    fn the_block_is_drawn_over_the_last_one() {
        let (_, text) = shown(Face::Block, None, vec![running(1.0), running(1.1)]);
        let height = readout::block(&running(1.0)).len();
        assert_eq!(text.matches('\n').count(), 2 * height);
        assert_eq!(text.matches(&format!("\x1b[{height}F")).count(), 1);
        assert_eq!(
            text.matches("\x1b[?7l").count(),
            text.matches("\x1b[?7h").count()
        );
    }

    #[test]
    fn an_ended_source_ends_the_watch() {
        let snapshots = vec![in_state(InputState::Ended), running(9.0)];
        let (ended, text) = shown(Face::Jsonl, None, snapshots);
        assert_eq!(ended.expect("ends well"), Some(Outcome::NoReading));
        assert_eq!(text.lines().count(), 1);
    }

    #[test]
    fn a_lost_input_is_waited_for() {
        let snapshots = vec![
            in_state(InputState::Lost("the line input".into())),
            running(3.0),
        ];
        let (ended, text) = shown(Face::Jsonl, None, snapshots);
        assert_eq!(ended.expect("ends well"), Some(Outcome::Complete));
        assert_eq!(text.lines().count(), 2);
    }

    #[test]
    fn a_source_that_cannot_go_on_is_an_error_in_its_own_words() {
        let failed = in_state(InputState::Failed("plug it in again".into()));
        let (ended, _) = shown(Face::Table, None, vec![failed]);
        assert_eq!(ended.expect_err("fails").line(), "plug it in again");
    }

    #[test]
    fn nothing_at_all_is_told_apart_from_no_reading() {
        assert_eq!(shown(Face::Table, None, vec![]).0.expect("ends"), None);
    }

    #[test]
    fn a_reader_that_goes_away_ends_the_watch_quietly() {
        struct Closed;
        impl Write for Closed {
            fn write(&mut self, _: &[u8]) -> io::Result<usize> {
                Err(io::ErrorKind::BrokenPipe.into())
            }
            fn flush(&mut self) -> io::Result<()> {
                Ok(())
            }
        }
        let (sender, readings) = crossbeam_channel::unbounded();
        for _ in 0..3 {
            sender.send(running(1.0)).expect("the receiver is there");
        }
        let mut closed = Closed;
        let mut showing = Showing::new(Face::Jsonl, &mut closed);
        let ended = show(&readings, &never(), None, &mut showing, |_| Ok(Vec::new()));
        assert_eq!(ended.expect("no error"), Some(Outcome::Complete));
        assert_eq!(readings.len(), 2, "the watch ended at the first write");
    }

    #[test]
    fn ctrl_c_ends_the_watch_with_the_last_reading_shown() {
        let (_sender, readings) = crossbeam_channel::unbounded();
        let (ctrl_c, interrupt) = crossbeam_channel::bounded(1);
        ctrl_c.send(()).expect("the receiver is there");
        let mut out = Vec::new();
        let mut showing = Showing::new(Face::Table, &mut out);
        showing.take(running(1.0), false).expect("written");
        showing.take(running(1.5), false).expect("written");
        let ended = show(
            &readings,
            &interrupt,
            None,
            &mut showing,
            |_| Ok(Vec::new()),
        );
        assert_eq!(ended.expect("ends well"), Some(Outcome::Complete));
        let text = String::from_utf8(out).expect("UTF-8");
        assert!(
            text.lines().last().expect("a line").contains(" 1.5 "),
            "{text}"
        );
    }
}
