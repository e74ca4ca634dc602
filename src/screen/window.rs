//! The window on the desktop: its options, its icon, and the loop that runs it.

use super::{
    app::ScreenApp,
    inputs::{InputChoice, Inputs},
};
use crate::{
    meters::MeterSetup,
    tables::{Limits, TableError},
};
use eframe::{
    NativeOptions, Renderer,
    egui::{self, IconData, Theme, ViewportBuilder, vec2},
};
use std::sync::Arc;

/// Size at which the window opens, points.
const OPENS_AT: egui::Vec2 = vec2(1280.0, 800.0);
/// Smallest useful size, points.
const LEAST: egui::Vec2 = vec2(480.0, 360.0);

/// What the window starts with.
pub struct ScreenOptions {
    /// The inputs of this computer.
    pub inputs: Arc<dyn Inputs>,
    /// The input to open at once; `None`: the window asks for one.
    pub start: Option<InputChoice>,
    /// Tape and interface to start with.
    pub setup: MeterSetup,
    /// The target bands.
    pub limits: Limits,
    /// Light or dark; `None`: as the system has it.
    pub theme: Option<Theme>,
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
    eframe::run_native(
        "trimwatch",
        native,
        Box::new(|creation| {
            let app = ScreenApp::new(&creation.egui_ctx, options)?;
            Ok(Box::new(Window(app)))
        }),
    )
    .map_err(|error| ScreenError::Window(error.to_string()))
}

struct Window(ScreenApp);

impl eframe::App for Window {
    fn logic(&mut self, ctx: &egui::Context, _: &mut eframe::Frame) {
        self.0.take_news(ctx);
        if ctx.input(|input| input.viewport().visible()) == Some(false) {
            self.0.be_hidden();
        }
    }

    fn ui(&mut self, ui: &mut egui::Ui, _: &mut eframe::Frame) {
        self.0.ui(ui);
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
