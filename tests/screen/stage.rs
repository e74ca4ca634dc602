//! The screen on a stage: headless, with an input whose readings the test writes.

use crate::{fixtures::Fixture, speakers::Speakers};
use crossbeam_channel::{Receiver, Sender, bounded, unbounded};
use eframe::egui::{
    self, Theme, Vec2,
    accesskit::{Role, Toggled},
    vec2,
};
use egui_kittest::{
    Harness, Node,
    kittest::{NodeT, Queryable},
};
use jiff::tz::TimeZone;
use std::{
    path::{Path, PathBuf},
    sync::{
        Arc, Mutex,
        atomic::{AtomicUsize, Ordering},
    },
    thread,
    time::{Duration, Instant},
};
use trimwatch::{
    meters::MeterSetup,
    readings::Readings,
    screen::{
        Adjustable, Choice, DeckChoice, DeckShelf, InputChoice, InputEntry, InputList, Inputs,
        JobRecord, LogShelf, Memory, OpenInput, ScreenApp, ScreenOptions, Screwdrivers, TapeShelf,
        Wake,
    },
    source::SourceError,
    tables::{Limits, mechanism, test_tapes},
    worker::{Request, Worker},
};

/// The usual laptop window.
pub const LAPTOP: Vec2 = vec2(1280.0, 800.0);
/// The harness draws an empty margin round what it is given.
const HARNESS_MARGIN: Vec2 = vec2(8.0, 8.0);
/// Snapshots a second.
const RATE: f64 = 30.0;

/// Inputs that the test plays itself.
#[derive(Default)]
pub struct StageInputs {
    desk: Mutex<Desk>,
}

#[derive(Default)]
struct Desk {
    line: Option<Line>,
    opened: Vec<InputChoice>,
    turned: Arc<Mutex<Vec<(usize, f64)>>>,
    chosen: Arc<Mutex<Vec<(usize, usize)>>>,
}

struct Line {
    snapshots: Sender<Arc<Readings>>,
    requests: Receiver<Request>,
    wake: Wake,
}

/// A path that cannot be opened.
pub const MISSING: &str = "missing.wav";

impl Inputs for StageInputs {
    fn list(&self) -> InputList {
        let entry = |id: &str, title: &str, detail: &str| InputEntry {
            id: id.into(),
            title: title.into(),
            detail: detail.into(),
        };
        InputList {
            sound_cards: vec![
                entry(
                    "alsa:usb",
                    "USB line input",
                    "ALSA · 44.1 to 96 kHz · 24-bit",
                ),
                entry(
                    "alsa:board",
                    "Built-in microphone",
                    "ALSA · 48 kHz · 16-bit",
                ),
            ],
            virtual_decks: vec![entry(
                "finch-as-found",
                "Finch 2H, as found",
                "fast, worn belt, azimuth out",
            )],
            problem: None,
        }
    }

    fn open(
        &self,
        choice: &InputChoice,
        _: &MeterSetup,
        wake: Wake,
    ) -> Result<OpenInput, SourceError> {
        if *choice == InputChoice::Recording(MISSING.into()) {
            return Err(SourceError(format!("{MISSING}: no such file")));
        }
        let (snapshots, readings) = bounded(4);
        let (requests_in, requests) = unbounded();
        let mut desk = self.desk.lock().expect("desk");
        desk.opened.push(choice.clone());
        desk.line = Some(Line {
            snapshots,
            requests,
            wake,
        });
        let screwdrivers: Option<Box<dyn Screwdrivers>> = match choice {
            InputChoice::VirtualDeck(_) => Some(Box::new(Trimmers {
                speed: 1.8,
                azimuth: -12.0,
                turned: desk.turned.clone(),
                chosen: desk.chosen.clone(),
            })),
            _ => None,
        };
        Ok(OpenInput {
            worker: Worker {
                readings,
                requests: requests_in,
            },
            screwdrivers,
            tape_format: None,
            mechanism: matches!(choice, InputChoice::VirtualDeck(_))
                .then(|| DeckChoice::Supplied("finch-2h".into())),
        })
    }
}

struct Trimmers {
    speed: f64,
    azimuth: f64,
    turned: Arc<Mutex<Vec<(usize, f64)>>>,
    chosen: Arc<Mutex<Vec<(usize, usize)>>>,
}

impl Screwdrivers for Trimmers {
    fn list(&self) -> Vec<Adjustable> {
        let item = |name: &str, unit: &str, reach: f64, value: f64| Adjustable {
            name: name.into(),
            unit: unit.into(),
            min: -reach,
            max: reach,
            value,
        };
        vec![
            item("Speed trimmer", "%", 5.0, self.speed),
            item("Azimuth screw", "arcmin", 30.0, self.azimuth),
        ]
    }

    fn set(&mut self, index: usize, value: f64) {
        *[&mut self.speed, &mut self.azimuth][index] = value;
        self.turned.lock().expect("turned").push((index, value));
    }

    fn choices(&self) -> Vec<Choice> {
        let parts = ["Belt", "Pinch roller"].into_iter().enumerate();
        let replaced = self.chosen.lock().expect("chosen");
        parts
            .map(|(index, name)| Choice {
                name: name.into(),
                options: vec!["as found".into(), "replaced".into()],
                chosen: usize::from(replaced.contains(&(index, 1))),
            })
            .collect()
    }

    fn choose(&mut self, index: usize, option: usize) {
        self.chosen.lock().expect("chosen").push((index, option));
    }
}

/// Own mechanisms are beside the memory, where there is one.
fn memory_folder(memory: Option<&Path>) -> DeckShelf {
    memory
        .and_then(Path::parent)
        .map_or_else(DeckShelf::default, |folder| {
            DeckShelf::at(folder.join("decks"))
        })
}

/// Options of a window that knows no user: no tape, no memory, no profiles.
pub fn options() -> ScreenOptions {
    ScreenOptions {
        inputs: Arc::new(StageInputs::default()),
        outputs: Arc::new(Speakers::default()),
        start: None,
        setup: MeterSetup::new().expect("table"),
        limits: Limits::supplied().expect("table"),
        theme: Some(Theme::Dark),
        format_is_given: false,
        memory: None,
        decks: DeckShelf::default(),
        logs: LogShelf::default(),
        tapes: TapeShelf::default(),
        profiles: None,
        jobs: None,
        zone: TimeZone::UTC,
    }
}

/// The sound card of the stage.
pub fn sound_card() -> Option<InputChoice> {
    Some(InputChoice::SoundCard {
        id: "alsa:usb".into(),
        channels: vec![],
        rate_hz: None,
    })
}

/// The screen and its inputs.
pub struct Stage {
    pub harness: Harness<'static, Option<ScreenApp>>,
    inputs: Arc<StageInputs>,
    /// What is heard of the sound guide.
    pub speakers: Arc<Speakers>,
    seconds: f64,
}

impl Stage {
    /// A window of a size in points and pixels a point, with no input chosen.
    pub fn empty(size: Vec2, pixels_per_point: f32, theme: Theme) -> Self {
        Self::new(size, pixels_per_point, theme, None)
    }

    /// A laptop window that plays `fixture` from a sound card.
    pub fn playing(fixture: Fixture) -> Self {
        Self::playing_in(LAPTOP, 1.0, Theme::Dark, fixture)
    }

    /// A window of any kind that plays `fixture` from a sound card: two seconds of it, so that states have settled.
    pub fn playing_in(size: Vec2, pixels_per_point: f32, theme: Theme, fixture: Fixture) -> Self {
        let start = InputChoice::SoundCard {
            id: "alsa:usb".into(),
            channels: vec![],
            rate_hz: None,
        };
        let mut stage = Self::new(size, pixels_per_point, theme, Some(start));
        stage.wait_for_input(1);
        stage.seconds = 41.0;
        stage.play(fixture, 2.0);
        stage
    }

    /// A window that plays `fixture`, the mechanism of the dual-capstan deck in the main view.
    pub fn servicing(size: Vec2, theme: Theme, fixture: Fixture) -> Self {
        let start = InputChoice::SoundCard {
            id: "alsa:usb".into(),
            channels: vec![],
            rate_hz: None,
        };
        let deck = Some("dual-capstan-cassette");
        let mut stage = Self::remembering(size, 1.0, Some(theme), Some(start), None, deck);
        stage.wait_for_input(1);
        stage.seconds = 41.0;
        stage.play(fixture, 2.0);
        stage.press(egui::Key::Num5);
        stage
    }

    fn new(size: Vec2, pixels_per_point: f32, theme: Theme, start: Option<InputChoice>) -> Self {
        Self::remembering(size, pixels_per_point, Some(theme), start, None, None)
    }

    /// A laptop window of no given theme that remembers in a file.
    pub fn returning(start: Option<InputChoice>, memory: &Path) -> Self {
        Self::remembering(LAPTOP, 1.0, None, start, Some(memory.into()), None)
    }

    fn remembering(
        size: Vec2,
        pixels_per_point: f32,
        theme: Option<Theme>,
        start: Option<InputChoice>,
        memory: Option<PathBuf>,
        deck: Option<&str>,
    ) -> Self {
        let logs = LogShelf::default();
        Self::staged(
            size,
            pixels_per_point,
            theme,
            start,
            memory,
            deck,
            logs,
            None,
        )
    }

    /// A window that keeps its run-in logs in a folder, a reading each fifth of a second, and plays `fixture`.
    pub fn logging(
        size: Vec2,
        pixels_per_point: f32,
        theme: Theme,
        folder: &Path,
        fixture: Fixture,
    ) -> Self {
        let start = InputChoice::SoundCard {
            id: "alsa:usb".into(),
            channels: vec![],
            rate_hz: None,
        };
        let logs = LogShelf::at(folder).reading_each(0.2);
        let mut stage = Self::staged(
            size,
            pixels_per_point,
            Some(theme),
            Some(start),
            None,
            None,
            logs,
            None,
        );
        stage.wait_for_input(1);
        stage.seconds = 41.0;
        stage.play(fixture, 2.0);
        stage
    }

    /// A window that keeps jobs and plays `fixture`.
    pub fn with_jobs(
        (size, pixels_per_point): (Vec2, f32),
        theme: Theme,
        memory: Option<PathBuf>,
        record: Box<dyn JobRecord>,
        fixture: Fixture,
    ) -> Self {
        let start = InputChoice::SoundCard {
            id: "alsa:usb".into(),
            channels: vec![],
            rate_hz: None,
        };
        let mut stage = Self::staged(
            size,
            pixels_per_point,
            Some(theme),
            Some(start),
            memory,
            None,
            LogShelf::default(),
            Some(record),
        );
        stage.wait_for_input(1);
        stage.seconds = 41.0;
        stage.play(fixture, 2.0);
        stage
    }

    /// The window closes; what could not be saved.
    pub fn close(mut self) -> Option<String> {
        self.harness.state_mut().as_mut().and_then(ScreenApp::close)
    }

    #[allow(
        clippy::too_many_arguments,
        reason = "all that one window or another is made of"
    )]
    fn staged(
        size: Vec2,
        pixels_per_point: f32,
        theme: Option<Theme>,
        start: Option<InputChoice>,
        memory: Option<PathBuf>,
        deck: Option<&str>,
        logs: LogShelf,
        jobs: Option<Box<dyn JobRecord>>,
    ) -> Self {
        let mut options = options();
        let tape = &test_tapes().expect("table")[0];
        options.setup = options.setup.with_tape(tape);
        options.setup.mechanism =
            deck.map(|name| Arc::new(mechanism(name).expect("a supplied deck")));
        options.start = start;
        options.theme = theme;
        options.decks = memory_folder(memory.as_deref());
        options.memory = memory.map(Memory::at);
        options.logs = logs;
        options.jobs = jobs;
        Self::of(size, pixels_per_point, options)
    }

    /// A window with these options; its inputs are the test's own.
    pub fn of(size: Vec2, pixels_per_point: f32, mut options: ScreenOptions) -> Self {
        let inputs = Arc::new(StageInputs::default());
        options.inputs = inputs.clone();
        Self::with_inputs(size, pixels_per_point, options, inputs)
    }

    /// A window with these options and inputs that the test does not play: those of the options.
    pub fn with_real_inputs(options: ScreenOptions) -> Self {
        Self::with_inputs(LAPTOP, 1.0, options, Arc::default())
    }

    fn with_inputs(
        size: Vec2,
        pixels_per_point: f32,
        mut options: ScreenOptions,
        inputs: Arc<StageInputs>,
    ) -> Self {
        let speakers = Arc::new(Speakers::default());
        options.outputs = speakers.clone();
        let theme = options.theme;
        let mut options = Some(options);
        let harness = Harness::builder()
            .with_size(size + 2.0 * HARNESS_MARGIN)
            .with_pixels_per_point(pixels_per_point)
            .with_theme(theme.unwrap_or(Theme::Dark))
            .with_step_dt(1.0 / RATE as f32)
            .build_ui_state(
                move |ui, app: &mut Option<ScreenApp>| {
                    // The window clears itself to this; in the harness nobody does.
                    let ground = ui.visuals().extreme_bg_color;
                    ui.painter().rect_filled(ui.max_rect(), 0.0, ground);
                    app.get_or_insert_with(|| {
                        let options = options.take().expect("made once");
                        ScreenApp::new(ui.ctx(), options).expect("tables")
                    })
                    .ui(ui);
                },
                None,
            );
        Self {
            harness,
            inputs,
            speakers,
            seconds: 0.0,
        }
    }

    /// Waits until `count` inputs have been opened in all and the screen has taken over the last one.
    pub fn wait_for_input(&mut self, count: usize) {
        let inputs = self.inputs.clone();
        self.wait_until("the input is open", || {
            inputs.desk.lock().expect("desk").opened.len() >= count
        });
        self.wait_for_label("waiting for samples …");
    }

    /// A window in which a virtual deck plays `fixture`.
    pub fn practising(size: Vec2, fixture: Fixture) -> Self {
        let start = InputChoice::VirtualDeck("finch-as-found".into());
        let mut stage = Self::new(size, 1.0, Theme::Dark, Some(start));
        stage.wait_for_input(1);
        stage.seconds = 41.0;
        stage.play(fixture, 2.0);
        stage
    }

    /// Steps until the list of inputs is there.
    pub fn wait_for_listing(&mut self) {
        let deadline = Instant::now() + Duration::from_secs(10);
        while self
            .harness
            .query_by_label("looking for sound inputs …")
            .is_some()
        {
            assert!(Instant::now() < deadline, "the inputs were not listed");
            thread::sleep(Duration::from_millis(2));
            self.harness.step();
        }
        self.settle();
    }

    /// Steps until `done`.
    pub fn wait_for(&mut self, what: &str, done: impl Fn(&Self) -> bool) {
        let deadline = Instant::now() + Duration::from_secs(10);
        while !done(self) {
            assert!(Instant::now() < deadline, "waited in vain for {what}");
            thread::sleep(Duration::from_millis(2));
            self.harness.step();
        }
        self.settle();
    }

    /// Whether the thing of that role and name has the keyboard focus.
    pub fn is_focused(&self, role: Role, name: &str) -> bool {
        self.has(role, name) && self.node(role, name).is_focused()
    }

    /// Steps until a label is there.
    pub fn wait_for_label(&mut self, label: &str) {
        let deadline = Instant::now() + Duration::from_secs(10);
        while self.harness.query_by_label(label).is_none() {
            assert!(Instant::now() < deadline, "'{label}' did not appear");
            thread::sleep(Duration::from_millis(2));
            self.harness.step();
        }
    }

    fn wait_until(&mut self, what: &str, done: impl Fn() -> bool) {
        let deadline = Instant::now() + Duration::from_secs(10);
        while !done() {
            assert!(Instant::now() < deadline, "waited in vain until {what}");
            thread::sleep(Duration::from_millis(2));
            self.harness.step();
        }
    }

    /// Steps until what a screen reader hears as the value of a status is `value`.
    pub fn wait_for_status(&mut self, name: &str, value: &str) {
        let deadline = Instant::now() + Duration::from_secs(20);
        loop {
            let heard = self.all_heard(Role::Status, name);
            if heard.iter().any(|heard| heard == value) {
                return;
            }
            assert!(
                Instant::now() < deadline,
                "'{name}' is {heard:?} and not '{value}'"
            );
            thread::sleep(Duration::from_millis(2));
            self.harness.step();
        }
    }

    /// The settings that the screen has asked for since the last call, the newest last.
    pub fn setups(&self) -> Vec<MeterSetup> {
        let setups = self
            .requests()
            .into_iter()
            .filter_map(|request| match request {
                Request::ChangeSetup(setup) => Some(*setup),
                _ => None,
            });
        setups.collect()
    }

    /// Publishes `seconds` of a fixture, one frame a snapshot.
    pub fn play(&mut self, fixture: Fixture, seconds: f64) {
        for _ in 0..(seconds * RATE) as usize {
            self.seconds += 1.0 / RATE;
            self.publish(fixture(self.seconds));
            self.harness.step();
        }
    }

    /// Publishes one snapshot, as the worker does.
    pub fn publish(&self, readings: Readings) {
        let desk = self.inputs.desk.lock().expect("desk");
        let line = desk.line.as_ref().expect("an open input");
        line.snapshots
            .try_send(Arc::new(readings))
            .expect("the screen takes what is published");
        (line.wake)();
    }

    /// Lets a snapshot come again and again, as from a worker with nothing new to tell; returns how many frames the
    /// screen asks for, be it for those or of its own accord.
    pub fn frames_for(&mut self, still: Option<&Readings>) -> usize {
        const AT_REST: Duration = Duration::from_secs(3600);
        self.harness.run_steps(3);
        let asked = Arc::new(AtomicUsize::new(0));
        let counted = asked.clone();
        self.harness.ctx.set_repaint_observer(move |request| {
            if request.delay < AT_REST {
                counted.fetch_add(1, Ordering::Relaxed);
            }
        });
        for _ in 0..100 {
            if let Some(still) = still {
                self.publish(still.clone());
            }
        }
        let for_snapshots = asked.load(Ordering::Relaxed);
        self.harness.step();
        for_snapshots + usize::from(self.wants_a_frame_within(AT_REST))
    }

    /// Whether the last frame asks for another one within this time.
    pub fn wants_a_frame_within(&self, time: Duration) -> bool {
        let output = self.harness.output().viewport_output.values();
        let soonest = output.map(|viewport| viewport.repaint_delay).min();
        soonest.is_none_or(|delay| delay < time)
    }

    /// Ends the worker without a word.
    pub fn end_worker(&self) {
        self.inputs.desk.lock().expect("desk").line = None;
    }

    /// What the screen has asked of the worker since the last call.
    pub fn requests(&self) -> Vec<Request> {
        let desk = self.inputs.desk.lock().expect("desk");
        desk.line
            .as_ref()
            .map_or_else(Vec::new, |line| line.requests.try_iter().collect())
    }

    /// What has been opened so far.
    pub fn opened(&self) -> Vec<InputChoice> {
        self.inputs.desk.lock().expect("desk").opened.clone()
    }

    /// What has been turned so far.
    pub fn turned(&self) -> Vec<(usize, f64)> {
        let desk = self.inputs.desk.lock().expect("desk");
        desk.turned.lock().expect("turned").clone()
    }

    /// What has been chosen so far.
    pub fn chosen(&self) -> Vec<(usize, usize)> {
        let desk = self.inputs.desk.lock().expect("desk");
        desk.chosen.lock().expect("chosen").clone()
    }

    /// Whether an option of a choice stands.
    pub fn is_chosen(&self, label: &str) -> bool {
        let option = self.harness.get_by_label(label);
        option.accesskit_node().toggled() == Some(Toggled::True)
    }

    /// Light or dark.
    pub fn theme(&self) -> Theme {
        self.harness.ctx.theme()
    }

    /// Presses a key and lets the screen answer.
    pub fn press(&mut self, key: egui::Key) {
        self.harness.key_press(key);
        self.settle();
    }

    /// Clicks what has that label.
    pub fn click(&mut self, label: &str) {
        self.harness.get_by_label(label).click();
        self.settle();
    }

    /// Gives the focus to what has that label, wherever it is scrolled to, and presses Enter.
    pub fn activate(&mut self, label: &str) {
        self.harness.get_by_label(label).focus();
        self.settle();
        self.press(egui::Key::Enter);
    }

    /// Presses the button of that name by keyboard, be it in sight or not.
    pub fn enter(&mut self, button: &str) {
        self.node(Role::Button, button).focus();
        self.settle();
        self.press(egui::Key::Enter);
    }

    /// Replaces the text of a field.
    pub fn fill(&mut self, field: &str, text: &str) {
        let node = self.harness.get_by_role_and_label(Role::TextInput, field);
        node.focus();
        self.settle();
        self.harness
            .key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
        self.settle();
        self.type_text(text);
    }

    /// Types text into the field that has the focus.
    pub fn type_text(&mut self, text: &str) {
        self.harness.event(egui::Event::Text(text.into()));
        self.settle();
    }

    /// Lets the screen answer what has been asked of it.
    pub fn settle(&mut self) {
        self.harness.run_steps(3);
    }

    /// What a screen reader hears as the value of the thing of that name.
    pub fn heard(&self, role: Role, name: &str) -> String {
        self.node(role, name)
            .value()
            .unwrap_or_else(|| panic!("'{name}' has no value"))
    }

    /// What a screen reader hears as the reading of the adjustment in the main view.
    pub fn reading(&self, adjustment: &str) -> String {
        self.heard(Role::Meter, &format!("{adjustment} reading"))
    }

    /// The thing of that role and name.
    pub fn node<'a>(&'a self, role: Role, name: &'a str) -> Node<'a> {
        self.harness.get_by_role_and_label(role, name)
    }

    /// Whether there is a thing of that role and name.
    pub fn has(&self, role: Role, name: &str) -> bool {
        self.harness
            .query_all_by_role(role)
            .any(|node| node.accesskit_node().label().as_deref() == Some(name))
    }

    /// Whether this text is written somewhere.
    pub fn has_text(&self, text: &str) -> bool {
        self.harness.query_by_label(text).is_some()
    }

    /// The values of all things of that role and name.
    pub fn all_heard(&self, role: Role, name: &str) -> Vec<String> {
        self.harness
            .query_all_by_role(role)
            .filter(|node| node.accesskit_node().label().as_deref() == Some(name))
            .filter_map(|node| node.value())
            .collect()
    }
}
