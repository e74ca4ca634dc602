//! `trimwatch inputs`: the sound inputs, with what opens them and what they can do.

use super::{ConsoleError, Outcome, deliver, page::Page};
use crate::source::sound_card::{InputDevice, InputList, list_inputs};
use std::io::Write;

/// Lists them.
pub fn inputs(out: &mut dyn Write) -> Result<Outcome, ConsoleError> {
    let list = list_inputs();
    deliver(out, &listing(&list))?;
    Ok(Outcome::of(!list.inputs.is_empty()))
}

fn listing(list: &InputList) -> String {
    let mut page = Page::default();
    for input in &list.inputs {
        describe(&mut page, input);
    }
    if list.inputs.is_empty() {
        page.heading(
            "No sound input",
            "Connect the interface and switch it on; on some systems the program needs the permission to record.",
        );
    }
    if !list.notes.is_empty() {
        page.heading("Not asked", "");
        for note in &list.notes {
            page.item(note);
        }
    }
    page.into_text()
}

/// The id stands alone on its line, so that it can be copied.
fn describe(page: &mut Page, input: &InputDevice) {
    let default = if input.is_default { " (default)" } else { "" };
    page.title(&format!("{}{default}", input.name.id));
    page.row(&input.name.host, &input.name.description());
    if let Some(trouble) = &input.trouble {
        page.row("cannot be opened", trouble);
        return;
    }
    page.row("channels", &input.channels().to_string());
    page.row("rates", &format!("{} Hz", list_of(input.rates_hz())));
    if let Some(native) = input.native {
        page.row(
            "runs at",
            &format!(
                "{} Hz, {}",
                native.sample_rate_hz,
                native.sample_format.words()
            ),
        );
    }
    let formats = input.sample_formats();
    page.row(
        "formats",
        &list_of(formats.iter().map(|format| format.words())),
    );
}

fn list_of<T: ToString>(items: impl IntoIterator<Item = T>) -> String {
    let items: Vec<_> = items.into_iter().map(|item| item.to_string()).collect();
    items.join(", ")
}

#[cfg(test)]
mod tests {
    use super::{super::page, *};
    use crate::source::sound_card::{InputName, NativeFormat, OfferedFormat, SampleFormat};

    fn input(id: &str, is_default: bool) -> InputDevice {
        let offer = |channels, min_rate_hz, max_rate_hz| OfferedFormat {
            channels,
            sample_format: SampleFormat::I24,
            min_rate_hz,
            max_rate_hz,
        };
        InputDevice {
            name: InputName {
                id: id.into(),
                host: "A sound system".into(),
                name: "Interface with a name that goes on and on and on and on and on".into(),
                detail: "line input".into(),
            },
            is_default,
            native: Some(NativeFormat {
                channels: 4,
                sample_format: SampleFormat::I24,
                sample_rate_hz: 96_000,
            }),
            offered: vec![offer(4, 44_100, 96_000), offer(2, 192_000, 192_000)],
            trouble: None,
        }
    }

    #[test]
    fn every_input_is_told_with_all_that_opens_it() {
        let mut stuck = input("two", false);
        stuck.trouble = Some("it does not answer".into());
        let text = listing(&InputList {
            inputs: vec![input("one", true), stuck],
            notes: vec!["Another sound system could not be asked ".repeat(4)],
        });
        assert!(
            text.lines().all(|line| page::columns(line) <= page::WIDTH),
            "{text}"
        );
        let ids: Vec<_> = text.lines().filter(|line| !line.starts_with(' ')).collect();
        assert_eq!(ids, ["one (default)", "", "two", "", "Not asked"]);
        for words in [
            "44100, 48000, 88200, 96000, 192000 Hz",
            "96000 Hz, 24-bit",
            "it does not answer",
            "line input",
        ] {
            assert!(text.contains(words), "{words} in\n{text}");
        }
    }

    #[test]
    fn no_input_at_all_is_said_with_what_to_do() {
        let text = listing(&InputList {
            inputs: vec![],
            notes: vec![],
        });
        assert!(
            text.starts_with("No sound input") && text.contains("Connect"),
            "{text}"
        );
    }
}
