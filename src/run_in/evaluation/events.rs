//! What the facts of a log mean: a stop, the end of the tape, a reversal.
//!
//! None of these can be told for certain from the line output; the words say 'suggests' and give the figures.

use super::super::{
    history::{Break, Gap, History, Occurrence},
    line::Happening,
    tally::Tally,
};
use serde::Serialize;

/// A tone that is away longer was not away for a reversal: leader on both ends and the turn-round take a cassette some
/// fifteen seconds (common practice, no source).
const LONGEST_REVERSAL_S: f64 = 30.0;
/// The least change of azimuth that is one, arc minutes (common practice, no source).
const CHANGED_AZIMUTH_ARCMIN: f64 = 0.5;
/// The least change of balance that is one, dB (common practice, no source).
const CHANGED_BALANCE_DB: f64 = 0.3;
/// A change must be so many times its standard uncertainty.
const TIMES_ITS_UNCERTAINTY: f64 = 3.0;

/// The kinds of event.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum EventKind {
    /// The pitch ran down: the transport stopped.
    Stop,
    /// The tone broke off at full speed and stayed away.
    TapeEnd,
    /// The tone came back soon, with another azimuth or balance.
    Reversal,
    /// The tone came back soon, as it was.
    Interruption,
    /// Short losses of level.
    Dropouts,
    /// Samples lost on the way into the computer.
    LostSamples,
    /// The input device went away.
    InputLost,
    /// The input device came back.
    InputBack,
    /// The speed was moved.
    SpeedMoved,
    /// Lines missing in the log.
    NotWritten,
    /// Nobody listened: the program was closed, and the run went on later.
    NotKept,
}

impl EventKind {
    /// Its name in a word or two.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Stop => "stop",
            Self::TapeEnd => "end of tape",
            Self::Reversal => "reversal",
            Self::Interruption => "interruption",
            Self::Dropouts => "dropouts",
            Self::LostSamples => "samples lost",
            Self::InputLost => "input lost",
            Self::InputBack => "input back",
            Self::SpeedMoved => "speed moved",
            Self::NotWritten => "lines missing",
            Self::NotKept => "not kept",
        }
    }

    /// The letter that marks it beside a curve; `None` for what says nothing of the deck.
    pub const fn mark(self) -> Option<char> {
        match self {
            Self::Reversal => Some('r'),
            Self::Stop => Some('s'),
            Self::TapeEnd => Some('e'),
            Self::Interruption => Some('i'),
            Self::Dropouts => Some('d'),
            Self::SpeedMoved => Some('m'),
            Self::NotKept => Some('n'),
            Self::LostSamples | Self::InputLost | Self::InputBack | Self::NotWritten => None,
        }
    }
}

/// An event with what it means.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Event {
    /// When, seconds since the run's start.
    pub at_s: f64,
    /// When the tone was back, where it was away and came back.
    pub until_s: Option<f64>,
    /// What it was, or suggests.
    pub kind: EventKind,
    /// In words, with the figures.
    pub words: String,
}

/// All events in the order of their times.
pub(super) fn events(history: &History) -> Vec<Event> {
    let mut events: Vec<Event> = history.gaps().iter().map(of_gap).collect();
    events.extend(history.happenings().iter().filter_map(of_occurrence));
    events.extend(history.breaks().iter().map(of_break));
    events.sort_by(|one, other| one.at_s.total_cmp(&other.at_s));
    events
}

fn of_break(one: &Break) -> Event {
    Event {
        at_s: one.from_s,
        until_s: Some(one.to_s),
        kind: EventKind::NotKept,
        words: format!(
            "the log was not kept for {}: the program was closed, and nothing is known of that time",
            span_words(one.to_s - one.from_s)
        ),
    }
}

/// Whether the tape runs the other way after this gap.
pub(super) fn is_reversal(gap: &Gap) -> bool {
    of_gap(gap).kind == EventKind::Reversal
}

fn of_gap(gap: &Gap) -> Event {
    let gone_s = gap.back_s.map(|back_s| back_s - gap.lost_s);
    let soon = gone_s.filter(|gone_s| *gone_s <= LONGEST_REVERSAL_S);
    let changes = changes(gap);
    let away = gone_s.map_or("it did not come back".to_owned(), |gone_s| {
        format!("it came back after {}", span_words(gone_s))
    });
    let (kind, words) = match soon {
        Some(gone_s) if !changes.is_empty() => (
            EventKind::Reversal,
            format!(
                "the tone was away for {} and came back with {}: suggests that the deck reversed",
                span_words(gone_s),
                changes.join(" and ")
            ),
        ),
        _ if gap.first == "unsteady" => (
            EventKind::Stop,
            format!("the pitch ran down: suggests that the transport stopped; {away}"),
        ),
        Some(gone_s) => (
            EventKind::Interruption,
            format!(
                "the tone broke off for {} and came back as it was",
                span_words(gone_s)
            ),
        ),
        None => (
            EventKind::TapeEnd,
            format!(
                "the tone broke off at full speed, then {}: suggests the end of the tape or of what is recorded on it; {away}",
                gap.then
            ),
        ),
    };
    Event {
        at_s: gap.lost_s,
        until_s: gap.back_s,
        kind,
        words,
    }
}

/// What is different after a gap, in words.
fn changes(gap: &Gap) -> Vec<String> {
    let (before, after) = (&gap.before, &gap.after);
    let azimuth = changed(
        &before.azimuth_arcmin,
        &after.azimuth_arcmin,
        CHANGED_AZIMUTH_ARCMIN,
    );
    let balance = changed(&before.balance_db, &after.balance_db, CHANGED_BALANCE_DB);
    [
        azimuth.map(|by| format!("another azimuth ({by:+.1} arc minutes)")),
        balance.map(|by| format!("another balance ({by:+.1} dB)")),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn changed(before: &Tally, after: &Tally, least: f64) -> Option<f64> {
    let by = after.value()? - before.value()?;
    let variance = |side: &Tally| {
        side.deviation()
            .map_or(0.0, |deviation| deviation * deviation / side.count as f64)
    };
    let uncertainty = (variance(before) + variance(after)).sqrt();
    (by.abs() > least.max(TIMES_ITS_UNCERTAINTY * uncertainty)).then_some(by)
}

fn of_occurrence(occurrence: &Occurrence) -> Option<Event> {
    let (kind, words) = match &occurrence.what {
        // These two are gaps.
        Happening::ToneLost { .. } | Happening::ToneBack { .. } => return None,
        Happening::Dropouts {
            count,
            deepest_db,
            longest_ms,
        } => {
            let size = match (deepest_db, longest_ms) {
                (Some(db), Some(ms)) => {
                    format!("; of all so far the deepest {db:.0} dB, the longest {ms:.0} ms")
                }
                _ => String::new(),
            };
            let plural = if *count == 1 { "dropout" } else { "dropouts" };
            (EventKind::Dropouts, format!("{count} {plural}{size}"))
        }
        Happening::LostSamples { frames, gaps } => (
            EventKind::LostSamples,
            format!(
                "{frames} frames lost in {gaps} breaks on the way into the computer; not the deck's fault"
            ),
        ),
        Happening::InputLost => (EventKind::InputLost, "the input went away".into()),
        Happening::InputBack => (EventKind::InputBack, "the input came back".into()),
        Happening::SpeedMoved => (
            EventKind::SpeedMoved,
            "the speed was moved; drift and steadiness are of what came after".into(),
        ),
        Happening::NotWritten { lines } => (
            EventKind::NotWritten,
            format!("{lines} lines could not be written to the disk before this"),
        ),
    };
    Some(Event {
        at_s: occurrence.at_s,
        until_s: None,
        kind,
        words,
    })
}

/// A length of time as a person says it.
pub(crate) fn span_words(seconds: f64) -> String {
    if seconds < 100.0 {
        format!("{seconds:.1} s")
    } else if seconds < 6000.0 {
        format!("{:.1} min", seconds / 60.0)
    } else {
        format!("{:.2} h", seconds / 3600.0)
    }
}

#[cfg(test)]
mod tests {
    use super::{super::super::history::Side, *};

    fn side(azimuth_arcmin: f64, balance_db: f64, scatter: f64) -> Side {
        let mut side = Side::default();
        for sign in [-1.0, 1.0, -1.0, 1.0, -1.0, 1.0] {
            side.azimuth_arcmin
                .push(Some(azimuth_arcmin + sign * scatter));
            side.balance_db.push(Some(balance_db));
        }
        side
    }

    fn gap(first: &str, gone_s: Option<f64>, after: Side) -> Gap {
        Gap {
            lost_s: 100.0,
            back_s: gone_s.map(|gone_s| 100.0 + gone_s),
            first: first.into(),
            then: "no tone".into(),
            before: side(2.0, 0.5, 0.05),
            after,
        }
    }

    #[test]
    fn a_short_gap_with_another_azimuth_or_balance_is_a_reversal() {
        for after in [side(-1.0, 0.5, 0.05), side(2.0, -0.5, 0.05)] {
            assert_eq!(
                of_gap(&gap("dropout", Some(6.0), after)).kind,
                EventKind::Reversal
            );
            assert_eq!(
                of_gap(&gap("unsteady", Some(6.0), after)).kind,
                EventKind::Reversal
            );
            // After minutes it is another playing.
            assert_eq!(
                of_gap(&gap("dropout", Some(600.0), after)).kind,
                EventKind::TapeEnd
            );
        }
    }

    #[test]
    fn without_a_change_it_is_an_interruption_and_scatter_is_no_change() {
        for after in [side(2.1, 0.5, 0.05), side(3.0, 0.5, 2.0)] {
            let event = of_gap(&gap("dropout", Some(6.0), after));
            assert_eq!(event.kind, EventKind::Interruption, "{}", event.words);
        }
    }

    #[test]
    fn a_tone_that_stays_away_ran_down_or_broke_off() {
        let never = Side::default();
        let stop = of_gap(&gap("unsteady", None, never));
        assert_eq!(stop.kind, EventKind::Stop);
        assert!(stop.words.contains("did not come back"), "{}", stop.words);
        assert_eq!(
            of_gap(&gap("dropout", None, never)).kind,
            EventKind::TapeEnd
        );
        for words in [&stop.words, &of_gap(&gap("dropout", None, never)).words] {
            assert!(words.contains("suggests"), "{words}");
        }
    }
}
