//! One page or panel by itself: what it is given and what it asks for belong to the test.

use eframe::egui::{Event, Key, Modifiers, Theme, Ui, Vec2, accesskit::Role};
use egui_kittest::{
    Harness, HarnessBuilder, Node, SnapshotOptions, SnapshotResults,
    kittest::{NodeT, Queryable},
};
use trimwatch::screen::job_pages::install_theme;

/// The harness draws an empty margin round what it is given.
const MARGIN: Vec2 = Vec2::splat(16.0);

/// The main view of a laptop's window.
pub const LAPTOP: Vec2 = Vec2::new(1280.0, 600.0);
/// The main view of a large monitor's window.
pub const LARGE: Vec2 = Vec2::new(1920.0, 860.0);

/// Something that can be shown.
pub trait Shown: Sized + 'static {
    /// Shows it and takes up what it asks for.
    fn show(&mut self, ui: &mut Ui);
}

/// It, in a window of its own.
pub struct Page<S: Shown> {
    pub harness: Harness<'static, S>,
}

impl<S: Shown> Page<S> {
    /// In a laptop's window without the strips around the main view, in the dark.
    pub fn of(shown: S) -> Self {
        Self::of_size(shown, LAPTOP, 1.0, Theme::Dark)
    }

    /// In a window of any kind.
    pub fn of_size(shown: S, size: Vec2, scale: f32, theme: Theme) -> Self {
        let builder = Harness::builder()
            .with_size(size + MARGIN)
            .with_pixels_per_point(scale)
            .with_theme(theme);
        Self::built(builder, shown)
    }

    /// As [`Self::of`], for texts that hold what no font has.
    pub fn of_anything(shown: S) -> Self {
        let builder = Harness::builder()
            .with_size(LAPTOP + MARGIN)
            .with_theme(Theme::Dark);
        Self::built(builder.allow_missing_glyphs(), shown)
    }

    fn built(builder: HarnessBuilder<S>, shown: S) -> Self {
        let mut installed = false;
        let harness = builder.build_ui_state(
            move |ui, shown: &mut S| {
                if !std::mem::replace(&mut installed, true) {
                    install_theme(ui.ctx());
                }
                let ground = ui.visuals().extreme_bg_color;
                ui.painter().rect_filled(ui.max_rect(), 0.0, ground);
                shown.show(ui);
            },
            shown,
        );
        let mut page = Self { harness };
        page.settle();
        page
    }

    /// Lets it answer what has been asked of it.
    pub fn settle(&mut self) {
        self.harness.run_steps(4);
    }

    /// What it is given, and what it asked for.
    pub fn shown(&mut self) -> &mut S {
        self.harness.state_mut()
    }

    pub fn press(&mut self, key: Key) {
        self.harness.key_press(key);
        self.settle();
    }

    pub fn press_with(&mut self, modifiers: Modifiers, key: Key) {
        self.harness.key_press_modifiers(modifiers, key);
        self.settle();
    }

    /// Types into what has the focus.
    pub fn type_text(&mut self, text: &str) {
        self.harness.event(Event::Text(text.into()));
        self.settle();
    }

    /// Types into what has the focus and presses Enter.
    pub fn enter(&mut self, text: &str) {
        self.type_text(text);
        self.press(Key::Enter);
    }

    /// The label of what has the focus.
    pub fn focused(&self) -> String {
        let nodes = self.harness.query_all(egui_kittest::kittest::by());
        let mut focused =
            nodes.filter(|node| node.is_focused() && node.accesskit_node().role() != Role::Window);
        let label = focused
            .next()
            .and_then(|node| node.accesskit_node().label());
        label.unwrap_or_default()
    }

    pub fn node<'a>(&'a self, role: Role, name: &'a str) -> Node<'a> {
        self.harness.get_by_role_and_label(role, name)
    }

    /// What a screen reader hears as the value of the thing of that name.
    pub fn heard(&self, role: Role, name: &str) -> String {
        let node = self.node(role, name);
        node.value()
            .unwrap_or_else(|| panic!("'{name}' has no value"))
    }

    /// What is said beside a thing.
    pub fn described(&self, role: Role, name: &str) -> String {
        let node = self.node(role, name);
        node.accesskit_node().description().unwrap_or_default()
    }

    /// Labels and values of all things of a role, from the top.
    pub fn all(&self, role: Role) -> Vec<(String, String)> {
        let nodes = self.harness.query_all_by_role(role);
        nodes
            .map(|node| {
                (
                    node.accesskit_node().label().unwrap_or_default(),
                    node.value().unwrap_or_default(),
                )
            })
            .collect()
    }

    /// Whether a text with these words is there.
    pub fn says(&self, words: &str) -> bool {
        self.harness
            .query_all_by_label_contains(words)
            .next()
            .is_some()
    }

    pub fn picture(&mut self, name: &str, results: &mut SnapshotResults) {
        let options = SnapshotOptions::new()
            .output_path("tests/screen/snapshots")
            .threshold(0.6)
            .max_failed_pixels(6);
        results.add(self.harness.try_snapshot_options(name, &options));
    }
}

/// `light` or `dark`.
pub fn themed(theme: Theme) -> &'static str {
    match theme {
        Theme::Dark => "dark",
        Theme::Light => "light",
    }
}
