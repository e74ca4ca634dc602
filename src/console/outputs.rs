//! `trimwatch outputs`: the sound outputs, for the sound guide.

use super::{ConsoleError, Outcome, deliver, page::Page};
use crate::guide::{CAUTION, OutputList, list_outputs};
use std::io::Write;

/// Lists them.
pub fn outputs(out: &mut dyn Write) -> Result<Outcome, ConsoleError> {
    let list = list_outputs();
    deliver(out, &listing(&list))?;
    Ok(Outcome::of(!list.outputs.is_empty()))
}

/// The id stands alone on its line, so that it can be copied.
fn listing(list: &OutputList) -> String {
    let mut page = Page::default();
    for output in &list.outputs {
        page.title(&output.id);
        page.row(&output.host, &output.name);
    }
    if list.outputs.is_empty() {
        page.heading("No sound output", "Connect one and switch it on.");
    }
    if !list.notes.is_empty() {
        page.heading("Not asked", "");
        for note in &list.notes {
            page.item(note);
        }
    }
    page.title(CAUTION);
    page.into_text()
}

#[cfg(test)]
mod tests {
    use super::{super::page, *};
    use crate::guide::OutputName;

    #[test]
    fn every_output_is_told_with_what_chooses_it_and_the_caution() {
        let text = listing(&OutputList {
            outputs: vec![OutputName {
                id: "alsa:hw:CARD=Phones,DEV=0".into(),
                host: "ALSA".into(),
                name: "Headphones with a name that goes on and on and on and on and on".into(),
            }],
            notes: vec!["Another sound system could not be asked ".repeat(4)],
        });
        assert!(
            text.lines().all(|line| page::columns(line) <= page::WIDTH),
            "{text}"
        );
        assert!(text.starts_with("alsa:hw:CARD=Phones,DEV=0\n"), "{text}");
        assert!(text.contains("volume down"), "{text}");
        assert!(listing(&OutputList::default()).starts_with("No sound output"));
    }
}
