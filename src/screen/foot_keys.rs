//! The two keys of a foot switch: one takes the reading, one moves on. A switch sends whatever key it is made for, so
//! both can be set; the usual keys go on working beside them.

use super::keys::{BINDINGS, Command};
use eframe::egui::Key;

/// What a foot switch can do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FootAction {
    /// Takes the reading in hand.
    Take,
    /// Moves on to the next view.
    Next,
}

impl FootAction {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Take, Self::Next];

    /// The command that its key gives.
    pub const fn command(self) -> Command {
        match self {
            Self::Take => Command::Take,
            Self::Next => Command::Next,
        }
    }

    /// What it does, as one says it.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Take => "taking the reading",
            Self::Next => "moving on",
        }
    }
}

/// The keys that were set; `None`: only the usual one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FootKeys {
    /// Takes the reading.
    pub take: Option<Key>,
    /// Moves on.
    pub next: Option<Key>,
}

impl FootKeys {
    /// The key that was set for an action.
    pub const fn of(self, action: FootAction) -> Option<Key> {
        match action {
            FootAction::Take => self.take,
            FootAction::Next => self.next,
        }
    }

    /// What a key was set to do.
    pub fn command(self, key: Key) -> Option<Command> {
        FootAction::ALL
            .into_iter()
            .find(|action| self.of(*action) == Some(key))
            .map(FootAction::command)
    }

    /// The same with `key` set for `action`. The action's usual key takes the set one back.
    ///
    /// # Errors
    /// In words, when the key has something else to do.
    pub fn with(self, action: FootAction, key: Key) -> Result<Self, String> {
        let usual = usual(action);
        let key = if key == usual { None } else { Some(key) };
        if let Some(key) = key {
            self.refuse(action, key)?;
        }
        Ok(match action {
            FootAction::Take => Self { take: key, ..self },
            FootAction::Next => Self { next: key, ..self },
        })
    }

    fn refuse(self, action: FootAction, key: Key) -> Result<(), String> {
        let name = key.name();
        let other = FootAction::ALL
            .into_iter()
            .find(|other| *other != action && self.of(*other) == Some(key));
        if let Some(other) = other {
            return Err(format!(
                "{name} is set for {} already: press another key",
                other.words()
            ));
        }
        match key {
            Key::Tab => {
                return Err("Tab moves from field to field: press another key".into());
            }
            Key::F1 => return Err("F1 opens this list: press another key".into()),
            _ => {}
        }
        match BINDINGS.iter().find(|binding| binding.key == key) {
            Some(binding) => {
                let what = if binding.long.is_empty() {
                    "moves in a list"
                } else {
                    binding.long
                };
                Err(format!(
                    "{} has something to do already, {what}: press another key",
                    binding.cap
                ))
            }
            None => Ok(()),
        }
    }

    /// What of it can be used, and in words what cannot: a file may have been written by hand.
    pub fn checked(self) -> (Self, Option<String>) {
        let mut usable = Self::default();
        let mut refused = None;
        for action in FootAction::ALL {
            let Some(key) = self.of(action) else {
                continue;
            };
            match usable.with(action, key) {
                Ok(keys) => usable = keys,
                Err(why) => {
                    let what = action.words();
                    refused = Some(format!("the key remembered for {what} is not used: {why}"));
                }
            }
        }
        (usable, refused)
    }

    /// The keys of an action as written on them: `space`, or `F13 or space`.
    pub fn in_words(self, action: FootAction) -> String {
        let usual = usual_cap(action);
        match self.of(action) {
            Some(key) => format!("{} or {usual}", key.name()),
            None => usual.into(),
        }
    }

    /// What the key strip writes on the cap of a command; `None`: the usual.
    pub fn cap(self, command: Command) -> Option<&'static str> {
        FootAction::ALL
            .into_iter()
            .find(|action| action.command() == command)
            .and_then(|action| self.of(action))
            .map(Key::name)
    }
}

fn usual(action: FootAction) -> Key {
    match action {
        FootAction::Take => Key::Space,
        FootAction::Next => Key::N,
    }
}

fn usual_cap(action: FootAction) -> &'static str {
    let key = usual(action);
    BINDINGS
        .iter()
        .find(|binding| binding.key == key)
        .map_or("", |binding| binding.cap)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_keys_are_those_of_the_table() {
        for action in FootAction::ALL {
            let usual = usual(action);
            let binding = BINDINGS.iter().find(|binding| binding.key == usual);
            assert_eq!(binding.map(|b| b.command), Some(action.command()));
        }
        assert_eq!(FootKeys::default().in_words(FootAction::Take), "space");
    }

    #[test]
    fn a_free_key_is_set_beside_the_usual_one_and_the_usual_one_takes_it_back() {
        let keys = FootKeys::default()
            .with(FootAction::Take, Key::F13)
            .and_then(|keys| keys.with(FootAction::Next, Key::PageDown))
            .expect("free keys");
        assert_eq!(keys.command(Key::F13), Some(Command::Take));
        assert_eq!(keys.command(Key::PageDown), Some(Command::Next));
        assert_eq!(keys.command(Key::PageUp), None);
        assert_eq!(keys.in_words(FootAction::Take), "F13 or space");
        assert_eq!(keys.cap(Command::Next), Some("PageDown"));
        assert_eq!(keys.cap(Command::Hold), None);
        let back = keys.with(FootAction::Take, Key::Space).expect("the usual");
        assert_eq!((back.take, back.next), (None, Some(Key::PageDown)));
    }

    #[test]
    fn a_key_with_something_to_do_is_refused_in_words() {
        let keys = FootKeys {
            take: Some(Key::F13),
            next: None,
        };
        for (action, key, told) in [
            (FootAction::Next, Key::F13, "taking the reading"),
            (FootAction::Next, Key::Space, "take the reading"),
            (FootAction::Take, Key::B, "adjustment before"),
            (FootAction::Take, Key::ArrowUp, "moves in a list"),
            (FootAction::Take, Key::Escape, "leave a field"),
            (FootAction::Take, Key::Tab, "field to field"),
            (FootAction::Take, Key::F1, "this list"),
        ] {
            let why = keys.with(action, key).expect_err("has something to do");
            assert!(
                why.contains(told) && why.ends_with("press another key"),
                "{why}"
            );
        }
    }

    #[test]
    fn of_what_was_written_by_hand_the_usable_part_is_used() {
        let (keys, why) = FootKeys {
            take: Some(Key::H),
            next: Some(Key::Enter),
        }
        .checked();
        assert_eq!((keys.take, keys.next), (None, Some(Key::Enter)));
        assert!(why.is_some_and(|why| why.contains("hold the display")));
        let twice = FootKeys {
            take: Some(Key::F13),
            next: Some(Key::F13),
        };
        assert_eq!(twice.checked().0.next, None);
        assert_eq!(FootKeys::default().checked().1, None);
    }
}
