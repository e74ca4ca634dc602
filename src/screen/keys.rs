//! The keyboard: one table of keys, read by the dispatcher, the key strip and the help.

use super::{
    foot_keys::FootKeys,
    model::{Adjustment, Subject},
};
use eframe::egui::{self, Event, Key, Modifiers};
use std::sync::{
    Arc,
    atomic::{AtomicBool, AtomicI32, Ordering},
};

/// What the technician can ask for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// Puts this into the main view.
    Show(Subject),
    /// The next adjustment.
    Next,
    /// The one before.
    Previous,
    /// Keeps the reading in hand.
    Take,
    /// Drops the reading kept last.
    Undo,
    /// Starts all averages anew.
    Reset,
    /// Holds the display or lets it go on.
    Hold,
    /// Opens or closes a side panel.
    Toggle(Side),
    /// Light or dark.
    Theme,
    /// Closes the side panel.
    Close,
    /// Opens or closes the page of the job in hand.
    Job,
    /// Opens or closes the list of jobs.
    Jobs,
    /// Readings count as found, or as left.
    Stage,
    /// Puts away what the window says by itself: a step of the first run, or the caution on show, for this job.
    PutAway,
    /// Yes to what is asked: the tape is the one it is read as, the readings from before belong to the job. Nothing is
    /// asked: brings back what was taken back last in the job.
    AnswerAsRead,
    /// No: it is the other tape, the readings do not belong to the job.
    AnswerOther,
    /// Of the mechanism: keeps the reading as found. Of the azimuth: keeps it as that of forward.
    Keep,
    /// Of the azimuth: keeps it as that of reverse.
    KeepReverse,
    /// Of the mechanism: another part of the list, so many places further down.
    Part(isize),
    /// Of the mechanism: the spectrum of the next quantity.
    Quantity,
    /// Of the mechanism: weighted or not.
    Weighting,
    /// Of the mechanism: what stands beside the list. Of the azimuth: what stands under the scale.
    Details,
}

impl Command {
    /// Whether the strip shows it while the azimuth is in the main view, too.
    pub const fn is_of_azimuth(self) -> bool {
        matches!(self, Self::Details)
    }

    /// Whether it means nothing while an adjustment is in the main view, the azimuth apart.
    pub const fn is_of_the_mechanism(self) -> bool {
        matches!(
            self,
            Self::Keep
                | Self::KeepReverse
                | Self::Part(_)
                | Self::Quantity
                | Self::Weighting
                | Self::Details
        )
    }

    /// Whether it means nothing while the mechanism is in the main view.
    pub const fn is_of_adjusting(self) -> bool {
        matches!(
            self,
            Self::Take | Self::Undo | Self::Theme | Self::Toggle(Side::Taken)
        )
    }
}

/// The side panels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// The tape in use.
    Tape,
    /// The deck's mechanism.
    Mechanism,
    /// The choice of inputs.
    Inputs,
    /// What is known of the interface itself.
    Interface,
    /// What can be turned on a virtual deck.
    Screwdrivers,
    /// The readings kept.
    Taken,
    /// All keys.
    Keys,
    /// What to beware of.
    Cautions,
    /// The run-in log, and both ends of the tape.
    RunIn,
    /// The sound guide.
    Guide,
    /// The workshop's own standards: tapes, backup, name.
    Standards,
}

/// One key and what it does.
#[derive(Clone, Copy, Debug)]
pub struct Binding {
    /// The key.
    pub key: Key,
    /// The key as written on it.
    pub cap: &'static str,
    /// What it does.
    pub command: Command,
    /// In one or two words, for the strip; empty: not in the strip.
    pub short: &'static str,
    /// In a few words, for the help.
    pub long: &'static str,
}

impl Binding {
    /// Whether the strip shows it even where room is short; the list of keys has the others.
    pub const fn is_vital(&self) -> bool {
        matches!(
            self.command,
            Command::Next
                | Command::Take
                | Command::Undo
                | Command::Job
                | Command::Jobs
                | Command::Stage
                | Command::Reset
                | Command::Hold
                | Command::Keep
                | Command::Details
                | Command::Toggle(Side::Tape | Side::Inputs | Side::Cautions | Side::Keys)
        )
    }
}

const fn binding(
    key: Key,
    cap: &'static str,
    command: Command,
    short: &'static str,
    long: &'static str,
) -> Binding {
    Binding {
        key,
        cap,
        command,
        short,
        long,
    }
}

/// All keys.
pub const BINDINGS: &[Binding] = &[
    binding(
        Key::Num1,
        "1",
        Command::Show(Subject::Adjusting(Adjustment::Speed)),
        "",
        "speed in the main view",
    ),
    binding(
        Key::Num2,
        "2",
        Command::Show(Subject::Adjusting(Adjustment::Flutter)),
        "",
        "wow and flutter in the main view",
    ),
    binding(
        Key::Num3,
        "3",
        Command::Show(Subject::Adjusting(Adjustment::Azimuth)),
        "",
        "azimuth (interchannel phase) in the main view",
    ),
    binding(
        Key::Num4,
        "4",
        Command::Show(Subject::Adjusting(Adjustment::Level)),
        "",
        "level and balance in the main view",
    ),
    binding(
        Key::Num5,
        "5",
        Command::Show(Subject::Mechanism),
        "",
        "the mechanism in the main view: which part is it",
    ),
    binding(
        Key::N,
        "n",
        Command::Next,
        "next",
        "next adjustment (also Tab)",
    ),
    binding(
        Key::B,
        "b",
        Command::Previous,
        "",
        "adjustment before (also Shift+Tab)",
    ),
    binding(
        Key::ArrowDown,
        "↓",
        Command::Part(1),
        "part",
        "mechanism: the next part (arrow up: the one before); run-in: further down",
    ),
    binding(Key::ArrowUp, "↑", Command::Part(-1), "", ""),
    binding(
        Key::V,
        "v",
        Command::Details,
        "details",
        "mechanism: turn, steadiness, since as found; azimuth: figures",
    ),
    binding(
        Key::Q,
        "q",
        Command::Quantity,
        "quantity",
        "mechanism: spectrum of speed, phase or level",
    ),
    binding(
        Key::W,
        "w",
        Command::Weighting,
        "",
        "mechanism: weighted or not",
    ),
    binding(
        Key::F,
        "f",
        Command::Keep,
        "keep as found",
        "mechanism: keep as found; azimuth: keep as forward",
    ),
    binding(
        Key::U,
        "u",
        Command::KeepReverse,
        "",
        "azimuth: keep as reverse, to compare with forward",
    ),
    binding(
        Key::Space,
        "space",
        Command::Take,
        "take",
        "take the reading of the adjustment in the main view",
    ),
    binding(
        Key::Z,
        "z",
        Command::Undo,
        "undo",
        "drop the reading taken last",
    ),
    binding(
        Key::K,
        "k",
        Command::Toggle(Side::Taken),
        "taken",
        "the readings taken",
    ),
    binding(
        Key::J,
        "j",
        Command::Job,
        "job",
        "the job in hand: stations, as found, as left, verdicts",
    ),
    binding(
        Key::O,
        "o",
        Command::Jobs,
        "jobs",
        "the list of jobs: open one, make a new one",
    ),
    binding(
        Key::A,
        "a",
        Command::Stage,
        "found/left",
        "readings count as found, or as left",
    ),
    binding(
        Key::Num0,
        "0",
        Command::Toggle(Side::Standards),
        "standards",
        "the workshop's tapes, name and backup",
    ),
    binding(
        Key::R,
        "r",
        Command::Reset,
        "reset",
        "start all averages anew",
    ),
    binding(
        Key::H,
        "h",
        Command::Hold,
        "hold",
        "hold the display, or let it go on",
    ),
    binding(
        Key::T,
        "t",
        Command::Toggle(Side::Tape),
        "tape",
        "the tape in use",
    ),
    binding(
        Key::M,
        "m",
        Command::Toggle(Side::Mechanism),
        "mechanism",
        "choose or edit the deck's mechanism",
    ),
    binding(
        Key::I,
        "i",
        Command::Toggle(Side::Inputs),
        "input",
        "choose what to listen to",
    ),
    binding(
        Key::P,
        "p",
        Command::Toggle(Side::Interface),
        "interface",
        "the interface's own errors: its profile",
    ),
    binding(
        Key::S,
        "s",
        Command::Toggle(Side::Screwdrivers),
        "screwdrivers",
        "turn the trimmers of the virtual deck",
    ),
    binding(
        Key::E,
        "e",
        Command::Toggle(Side::RunIn),
        "run-in",
        "the run-in log; once more: both ends of the tape",
    ),
    binding(
        Key::C,
        "c",
        Command::Toggle(Side::Cautions),
        "cautions",
        "what to beware of",
    ),
    binding(
        Key::X,
        "x",
        Command::PutAway,
        "",
        "caution read: not again in this job (c still has it); skip a step of the first run",
    ),
    binding(
        Key::G,
        "g",
        Command::Toggle(Side::Guide),
        "guide",
        "sound guide: hear how far off the reading is",
    ),
    binding(Key::L, "l", Command::Theme, "light/dark", "light or dark"),
    binding(
        Key::Questionmark,
        "?",
        Command::Toggle(Side::Keys),
        "keys",
        "this list",
    ),
    binding(
        Key::Y,
        "y",
        Command::AnswerAsRead,
        "",
        "when asked: yes, or the tape it is read as (d: no, the other); job: bring back",
    ),
    binding(Key::D, "d", Command::AnswerOther, "", ""),
    binding(
        Key::Escape,
        "Esc",
        Command::Close,
        "",
        "leave a field; then close the panel",
    ),
];

/// Looks at keys before egui does, hence a plugin.
///
/// Tab belongs to the adjustments while nothing has the keyboard focus; inside a panel it moves from field to field
/// as everywhere else. Esc that leaves a field must not close the panel too.
#[derive(Clone, Default)]
pub struct EarlyKeys(Arc<Early>);

#[derive(Default)]
struct Early {
    turns: AtomicI32,
    left_a_field: AtomicBool,
}

impl egui::Plugin for EarlyKeys {
    fn debug_name(&self) -> &'static str {
        "early keys"
    }

    fn input_hook(&mut self, ctx: &egui::Context, input: &mut egui::RawInput) {
        let focused = ctx.memory(|memory| memory.focused()).is_some();
        input.events.retain(|event| match event {
            Event::Key {
                key: Key::Tab,
                pressed,
                modifiers,
                ..
            } if !focused && (modifiers.is_none() || modifiers.shift_only()) => {
                if *pressed {
                    let step = if modifiers.shift { -1 } else { 1 };
                    self.0.turns.fetch_add(step, Ordering::Relaxed);
                }
                false
            }
            Event::Key {
                key: Key::Escape,
                pressed: true,
                ..
            } if focused => {
                self.0.left_a_field.store(true, Ordering::Relaxed);
                true
            }
            _ => true,
        });
    }
}

/// The commands of this frame's key presses, taken out of the input.
///
/// A field that is typed into keeps all keys; a slider or button that has the focus keeps those that work it.
pub fn pressed(ctx: &egui::Context, early: &EarlyKeys, foot: FootKeys) -> Vec<Command> {
    let mut commands = Vec::new();
    let turns = early.0.turns.swap(0, Ordering::Relaxed);
    for _ in 0..turns.unsigned_abs() {
        commands.push(if turns > 0 {
            Command::Next
        } else {
            Command::Previous
        });
    }
    let left_a_field = early.0.left_a_field.swap(false, Ordering::Relaxed);
    if ctx.text_edit_focused() {
        return commands;
    }
    let focused = ctx.memory(|memory| memory.focused()).is_some();
    ctx.input_mut(|input| {
        input
            .events
            .retain(|event| match command(event, focused, foot) {
                Some((command, repeated)) => {
                    let spent = left_a_field && command == Command::Close;
                    if !repeated && !spent {
                        commands.push(command);
                    }
                    false
                }
                // The letter of a key that opens a panel must not be typed into its first field.
                None => !matches!(event, Event::Text(_)),
            });
    });
    commands
}

/// The next key that is pressed, whatever it does otherwise: taken out of the input, with all that was typed.
pub fn caught(ctx: &egui::Context, early: &EarlyKeys) -> Option<Key> {
    early.0.left_a_field.store(false, Ordering::Relaxed);
    let tab = early.0.turns.swap(0, Ordering::Relaxed) != 0;
    let mut caught = tab.then_some(Key::Tab);
    ctx.input_mut(|input| {
        input.events.retain(|event| {
            if let Event::Key {
                key,
                pressed: true,
                repeat: false,
                ..
            } = event
            {
                caught = caught.or(Some(*key));
            }
            !matches!(event, Event::Key { .. } | Event::Text(_))
        });
    });
    caught
}

fn command(event: &Event, focused: bool, foot: FootKeys) -> Option<(Command, bool)> {
    let Event::Key {
        key,
        pressed: true,
        repeat,
        modifiers,
        ..
    } = event
    else {
        return None;
    };
    let plain = modifiers.is_none() || *modifiers == Modifiers::SHIFT;
    // Space and Enter work a button that has the focus, and the arrow keys a slider.
    let works_what_has_the_focus =
        matches!(key, Key::Space | Key::Enter | Key::ArrowUp | Key::ArrowDown);
    if !plain || (focused && works_what_has_the_focus) {
        return None;
    }
    let key = if *key == Key::F1 {
        Key::Questionmark
    } else {
        *key
    };
    let usual = BINDINGS.iter().find(|binding| binding.key == key);
    usual
        .map(|binding| binding.command)
        .or_else(|| foot.command(key))
        .map(|command| (command, *repeat))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn no_key_does_two_things_and_every_panel_has_one() {
        let keys: HashSet<_> = BINDINGS.iter().map(|binding| binding.key).collect();
        assert_eq!(keys.len(), BINDINGS.len());
        for side in [
            Side::Tape,
            Side::Mechanism,
            Side::Inputs,
            Side::Interface,
            Side::Screwdrivers,
            Side::Taken,
            Side::Keys,
            Side::Cautions,
            Side::RunIn,
            Side::Guide,
            Side::Standards,
        ] {
            assert!(
                BINDINGS
                    .iter()
                    .any(|binding| binding.command == Command::Toggle(side)),
                "{side:?}"
            );
        }
    }
}
