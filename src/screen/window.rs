//! The window on the desktop: its options, its icon, and the loop that runs it.

use super::{
    app::ScreenApp,
    deck_shelf::DeckShelf,
    inputs::{InputChoice, Inputs},
    job_desk::JobRecord,
    log_shelf::LogShelf,
    memory::Memory,
    outputs::Outputs,
    tape_shelf::TapeShelf,
};
use crate::{
    meters::MeterSetup,
    profile::ProfileStore,
    tables::{Limits, TableError},
};
use crossbeam_channel::{Sender, bounded};
use eframe::{
    NativeOptions, Renderer,
    egui::{self, IconData, Theme, ViewportBuilder, vec2},
};
use jiff::tz::TimeZone;
use std::sync::Arc;

/// Size at which the window opens, points.
const OPENS_AT: egui::Vec2 = vec2(1280.0, 800.0);
/// Smallest useful size, points.
const LEAST: egui::Vec2 = vec2(480.0, 360.0);

/// What the window starts with.
pub struct ScreenOptions {
    /// The inputs of this computer.
    pub inputs: Arc<dyn Inputs>,
    /// The sound outputs of this computer, for the sound guide.
    pub outputs: Arc<dyn Outputs>,
    /// The input to open at once; `None`: the one remembered, and without that the window asks for one.
    pub start: Option<InputChoice>,
    /// Tape and interface to start with.
    pub setup: MeterSetup,
    /// The target bands.
    pub limits: Limits,
    /// Light or dark; `None`: as remembered, or else as the system has it.
    pub theme: Option<Theme>,
    /// Whether `setup` holds a tape format that was asked for; otherwise the one remembered is used.
    pub format_is_given: bool,
    /// Where input, tape, mechanism and theme are remembered; `None`: nowhere.
    pub memory: Option<Memory>,
    /// The mechanisms to choose from.
    pub decks: DeckShelf,
    /// Where jobs are kept; `None`: nowhere, and readings are kept for this session only.
    pub jobs: Option<Box<dyn JobRecord>>,
    /// Whose dates are shown.
    pub zone: TimeZone,
    /// Where run-in logs are kept.
    pub logs: LogShelf,
    /// The test tapes to choose from.
    pub tapes: TapeShelf,
    /// Where the profiles of interfaces are kept; `None`: nowhere, and every reading is uncorrected.
    pub profiles: Option<ProfileStore>,
}

/// Why there is no window: one line that says what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ScreenError {
    /// The system gives no window.
    #[error("cannot open a window: {0}; without a display use 'trimwatch watch'")]
    Window(String),
    /// A built-in table is damaged.
    #[error(transparent)]
    Table(#[from] TableError),
    /// The window has closed, and something was not saved.
    #[error("{0}")]
    NotSaved(String),
}

/// Opens the window and runs it until it is closed.
///
/// # Errors
/// When there is no display, no OpenGL, or a built-in table is damaged.
pub fn run(options: ScreenOptions) -> Result<(), ScreenError> {
    let native = NativeOptions {
        viewport: ViewportBuilder::default()
            .with_title("trimwatch")
            .with_app_id("trimwatch")
            .with_inner_size(OPENS_AT)
            .with_min_inner_size(LEAST)
            .with_drag_and_drop(true)
            .with_icon(icon()),
        renderer: Renderer::Glow,
        persist_window: false,
        // The same picture everywhere; the fonts carried along have every character that is used.
        system_font_fallback: false,
        dithering: false,
        ..NativeOptions::default()
    };
    let (last_words, lost) = bounded(1);
    eframe::run_native(
        "trimwatch",
        native,
        Box::new(|creation| {
            let app = ScreenApp::new(&creation.egui_ctx, options)?;
            Ok(Box::new(Window { app, last_words }))
        }),
    )
    .map_err(|error| ScreenError::Window(reason(&error.to_string())))?;
    lost.try_recv()
        .map_or(Ok(()), |lost| Err(ScreenError::NotSaved(lost)))
}

/// What the window system says, without the places in the source code of libraries that it names.
fn reason(said: &str) -> String {
    let place_ends = |(at, _): (usize, &str)| {
        let rest =
            said[at + ".rs:".len()..].trim_start_matches(|digit: char| digit.is_ascii_digit());
        rest.strip_prefix(": ")
    };
    let last = said.match_indices(".rs:").filter_map(place_ends).last();
    let plain = last.unwrap_or(said).lines().next().unwrap_or_default();
    match display_in_use() {
        Some(display) => format!("{plain} ({display})"),
        None => plain.to_owned(),
    }
}

/// Which display the window system was asked for; nothing where there are no names for them.
fn display_in_use() -> Option<String> {
    if cfg!(not(unix)) || cfg!(target_os = "macos") {
        return None;
    }
    ["WAYLAND_DISPLAY", "DISPLAY"].into_iter().find_map(|name| {
        let value = std::env::var(name).ok().filter(|value| !value.is_empty())?;
        Some(format!("{name} is {value}"))
    })
}

struct Window {
    app: ScreenApp,
    /// What could not be saved when the window closed.
    last_words: Sender<String>,
}

impl eframe::App for Window {
    fn logic(&mut self, ctx: &egui::Context, _: &mut eframe::Frame) {
        self.app.take_news(ctx);
        if ctx.input(|input| input.viewport().visible()) == Some(false) {
            self.app.be_hidden();
        }
    }

    fn ui(&mut self, ui: &mut egui::Ui, _: &mut eframe::Frame) {
        self.app.ui(ui);
    }

    fn on_exit(&mut self, _: Option<&eframe::glow::Context>) {
        if let Some(lost) = self.app.close() {
            // There is room for one.
            let _told = self.last_words.send(lost);
        }
    }

    /// The ground of the whole screen. Clearing is as good as free; a filled rectangle of that size costs a software
    /// renderer a third of the frame. So nothing else paints the ground.
    fn clear_color(&self, visuals: &egui::Visuals) -> [f32; 4] {
        visuals.extreme_bg_color.to_normalized_gamma_f32()
    }
}

/// A target band with a needle in it.
fn icon() -> IconData {
    const SIZE: usize = 64;
    let mut rgba = Vec::with_capacity(SIZE * SIZE * 4);
    for y in 0..SIZE {
        for x in 0..SIZE {
            let from_middle = x.abs_diff(SIZE / 2);
            let needle = y < 40 && from_middle * 2 < 40 - y;
            let band = from_middle < 18;
            let color: [u8; 4] = match (needle, band) {
                (true, _) => [0xf6, 0xf8, 0xfa, 0xff],
                (false, true) => [0x00, 0x9e, 0x73, 0xff],
                (false, false) => [0x17, 0x1d, 0x23, 0xff],
            };
            rgba.extend(color);
        }
    }
    IconData {
        rgba,
        width: SIZE as u32,
        height: SIZE as u32,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_has_no_places_in_source_code_and_one_line() {
        let said = "winit EventLoopError: os error at /home/x/winit-0.30/src/linux/mod.rs:788: no server answers";
        assert!(reason(said).starts_with("no server answers"));
        let said = "no OpenGL: version 1.4 is too old\nand more";
        let told = reason(said);
        assert!(told.starts_with("no OpenGL: version 1.4 is too old"));
        assert!(!told.contains('\n'));
    }
}
