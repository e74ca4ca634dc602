//! A new job as it is typed in: only its number and the deck's model are needed, and a deck that was here before fills
//! in the rest.

use super::{format, harmless, job_list::month};
use crate::bench::{
    Deck, Environment, LimitSet,
    job_number::check_number,
    sound,
    store::{JobRow, KnownDeck, NewJob},
};
use jiff::{Timestamp, tz::TimeZone};

/// The fields, in the order of typing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Field {
    /// Job number.
    Number,
    /// Model of the deck.
    Model,
    /// Serial number.
    Serial,
    /// Tape format.
    TapeFormat,
    /// Mechanism.
    Mechanism,
    /// Limits.
    Limits,
    /// What the owner says.
    Complaint,
}

impl Field {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Number,
        Self::Model,
        Self::Serial,
        Self::TapeFormat,
        Self::Mechanism,
        Self::Limits,
        Self::Complaint,
    ];

    /// What stands beside it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Number => "Job number",
            Self::Model => "Deck, model",
            Self::Serial => "Serial number",
            Self::TapeFormat => "Tape format",
            Self::Mechanism => "Mechanism",
            Self::Limits => "Limits",
            Self::Complaint => "The owner says",
        }
    }

    /// The field after it; `None` after the last.
    pub fn next(self) -> Option<Self> {
        let place = Self::ALL.iter().position(|&field| field == self)?;
        Self::ALL.get(place + 1).copied()
    }
}

/// Earlier visits of a deck, and whose they are.
#[derive(Clone, Copy, Debug)]
pub struct Visits<'a> {
    /// Model that was asked for.
    pub model: &'a str,
    /// Serial number that was asked for.
    pub serial: &'a str,
    /// Its jobs, the newest first.
    pub jobs: &'a [JobRow],
}

/// Known decks, and what they were looked up by.
#[derive(Clone, Copy, Debug)]
pub struct Decks<'a> {
    /// Words that were looked up.
    pub search: &'a str,
    /// The decks, those seen last first.
    pub decks: &'a [KnownDeck],
}

/// What is typed; it outlives the page, so that nothing is lost when the page is left.
#[derive(Clone, Debug, PartialEq)]
pub struct NewJobForm {
    /// Job number.
    pub number: String,
    /// Whether the number is the technician's own, so that no other is proposed in its place.
    own_number: bool,
    /// The deck.
    pub deck: Deck,
    /// Name of the chosen set of limits; empty: the usual one.
    pub limits: String,
    /// What the owner says.
    pub complaint: String,
    /// Whether making it was tried: what is missing is told from then on.
    tried: bool,
    /// The number that was sent last; what the record refused is told until it is changed.
    sent: Option<String>,
    /// The known deck that the arrow keys are on.
    on: Option<usize>,
    /// What was there before it was filled in or emptied.
    before: Option<Box<Self>>,
    /// What was looked up last.
    asked_decks: Option<String>,
    asked_visits: Option<(String, String)>,
    /// The field that is to get the focus.
    pub(in crate::screen) focus: Option<Field>,
}

impl Default for NewJobForm {
    fn default() -> Self {
        Self {
            number: String::new(),
            own_number: false,
            deck: Deck::default(),
            limits: String::new(),
            complaint: String::new(),
            tried: false,
            sent: None,
            on: None,
            before: None,
            asked_decks: None,
            asked_visits: None,
            focus: Some(Field::Model),
        }
    }
}

impl NewJobForm {
    /// The page is opened (again), with all that was typed before.
    pub fn open(&mut self) {
        self.focus = Some(Field::Model);
        self.asked_decks = None;
        self.asked_visits = None;
    }

    /// The job was made: the form is empty for the next one. The limits stay.
    pub fn made(&mut self) {
        *self = Self {
            limits: std::mem::take(&mut self.limits),
            ..Self::default()
        };
    }

    /// Whether anything was typed.
    pub fn is_begun(&self) -> bool {
        self.own_number || self.deck != Deck::default() || !self.complaint.is_empty()
    }

    /// Takes a proposed number where none of one's own is typed.
    pub(in crate::screen) fn propose(&mut self, number: Option<&str>) {
        if let Some(number) = number.filter(|number| !self.own_number && **number != self.number) {
            self.number = number.to_owned();
        }
    }

    /// The number was edited.
    pub(in crate::screen) fn number_edited(&mut self) {
        self.own_number = true;
    }

    /// The number's field was left: an empty one gets a proposal again.
    pub(in crate::screen) fn number_left(&mut self) {
        self.own_number &= !self.number.trim().is_empty();
    }

    /// The known deck that the arrow keys are on.
    pub(in crate::screen) fn on(&self, decks: usize) -> Option<usize> {
        self.on.filter(|&place| place < decks)
    }

    /// Moves on to the next known deck or back; back from the first one is none.
    pub(in crate::screen) fn step(&mut self, decks: usize, down: bool) {
        self.on = match (self.on(decks), down) {
            _ if decks == 0 => None,
            (None, true) => Some(0),
            (None, false) => None,
            (Some(place), true) => Some((place + 1).min(decks - 1)),
            (Some(place), false) => place.checked_sub(1),
        };
    }

    /// Another model is typed: the arrow keys begin anew.
    pub(in crate::screen) fn model_edited(&mut self) {
        self.on = None;
    }

    /// Fills in a deck that was here before; [`Self::take_back`] takes it back.
    pub fn take(&mut self, known: &KnownDeck) {
        self.remember();
        self.deck.clone_from(&known.deck);
        self.on = None;
        self.focus = Some(Field::Complaint);
    }

    /// Empties the form; [`Self::take_back`] brings all back.
    pub fn clear(&mut self) {
        self.remember();
        let before = self.before.take();
        self.made();
        self.before = before;
    }

    /// Whether something was filled in or emptied that can be taken back.
    pub fn can_take_back(&self) -> bool {
        self.before.is_some()
    }

    /// Takes back what was filled in or emptied last.
    pub fn take_back(&mut self) {
        if let Some(before) = self.before.take() {
            *self = *before;
            self.open();
        }
    }

    fn remember(&mut self) {
        let mut before = self.clone();
        before.before = None;
        self.before = Some(Box::new(before));
    }

    /// The words by which known decks are to be looked up, once for each change.
    pub(in crate::screen) fn ask_decks(&mut self) -> Option<String> {
        let words = self.deck.model.trim().to_owned();
        if self.asked_decks.as_ref() == Some(&words) {
            return None;
        }
        self.asked_decks = Some(words.clone());
        Some(words)
    }

    /// The deck whose earlier visits are to be looked up, once for each change.
    pub(in crate::screen) fn ask_visits(&mut self) -> Option<(String, String)> {
        let deck = (self.deck.model.clone(), self.deck.serial.clone());
        if self.asked_visits.as_ref() == Some(&deck) {
            return None;
        }
        self.asked_visits = Some(deck.clone());
        let known = !deck.0.trim().is_empty() && !deck.1.trim().is_empty();
        known.then_some(deck)
    }

    /// Where the deck was here before: `here before: HL-0012, March 2026`. The answer to another deck says nothing.
    pub fn here_before(&self, visits: Option<Visits<'_>>, zone: &TimeZone) -> Option<String> {
        let visits = visits.filter(|visits| {
            visits.model == self.deck.model && visits.serial == self.deck.serial
        })?;
        let last = visits.jobs.first()?;
        let number = harmless::line(&last.number, 60);
        let words = format!("here before: {number}, {}", month(last.opened, zone));
        Some(match visits.jobs.len() {
            1 => words,
            more => format!(
                "{words}, and {} before",
                format::counted(more as u64 - 1, "time", "times")
            ),
        })
    }

    /// What is wrong with a field, in words; what is only missing is told once making it was tried. `refused` is what the
    /// record said of the number that was sent.
    pub fn problem(&self, field: Field, refused: Option<&str>) -> Option<String> {
        let told = match field {
            Field::Number => {
                if let Some(refused) =
                    refused.filter(|_| self.sent.as_deref() == Some(self.number.trim()))
                {
                    return Some(refused.to_owned());
                }
                match self.number.trim() {
                    "" if !self.tried => return None,
                    "" => return Some("a job needs a number, such as HL-0031".into()),
                    number => check_number(number),
                }
            }
            Field::Model => match self.deck.model.trim() {
                "" if self.tried => Err("which deck is it? give at least the model".into()),
                _ => sound::check_deck(&Deck {
                    model: self.deck.model.clone(),
                    ..Deck::default()
                }),
            },
            Field::Serial => sound::check_deck(&Deck {
                serial: self.deck.serial.clone(),
                ..Deck::default()
            }),
            Field::Complaint => sound::check_complaint(&self.complaint),
            Field::TapeFormat | Field::Mechanism | Field::Limits => Ok(()),
        };
        told.err()
    }

    /// The job as it is typed. Where something is wrong, the first wrong field gets the focus.
    pub(in crate::screen) fn make(
        &mut self,
        opened: Timestamp,
        sets: &[LimitSet],
    ) -> Option<NewJob> {
        self.tried = true;
        let wrong = Field::ALL
            .into_iter()
            .find(|&field| self.problem(field, None).is_some());
        if wrong.is_some() {
            self.focus = wrong;
            return None;
        }
        let limits = self.limits(sets)?.clone();
        let number = self.number.trim().to_owned();
        self.sent = Some(number.clone());
        let deck = Deck {
            model: self.deck.model.trim().to_owned(),
            serial: self.deck.serial.trim().to_owned(),
            ..self.deck.clone()
        };
        Some(NewJob {
            number,
            deck,
            opened,
            complaint: self.complaint.trim().to_owned(),
            limits,
            environment: Environment::default(),
        })
    }

    /// The chosen set of limits, or the first one.
    pub fn limits<'a>(&self, sets: &'a [LimitSet]) -> Option<&'a LimitSet> {
        sets.iter()
            .find(|set| set.name == self.limits)
            .or_else(|| sets.first())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sets() -> Vec<LimitSet> {
        ["good-service", "minimum-requirement"]
            .map(|name| LimitSet {
                name: name.into(),
                title: name.into(),
                limits: vec![],
            })
            .into()
    }

    fn at() -> Timestamp {
        "2026-11-26T09:00:00Z".parse().expect("a time")
    }

    fn finch() -> KnownDeck {
        KnownDeck {
            deck: Deck {
                model: "Finch 2H".into(),
                serial: "F-1042".into(),
                tape_format: "cassette".into(),
                mechanism: "single-capstan-cassette".into(),
            },
            jobs: 2,
        }
    }

    fn visit(number: &str, opened: &str) -> JobRow {
        JobRow {
            number: number.into(),
            model: "Finch 2H".into(),
            serial: "F-1042".into(),
            opened: opened.parse().expect("a time"),
            closed: None,
            complaint: String::new(),
            readings: 0,
        }
    }

    #[test]
    fn number_and_model_are_enough() {
        let mut form = NewJobForm::default();
        form.propose(Some("HL-0032"));
        assert_eq!(form.problem(Field::Model, None), None, "not tried yet");
        assert_eq!(form.make(at(), &sets()), None);
        assert_eq!(form.focus, Some(Field::Model));
        assert!(form.problem(Field::Model, None).is_some());
        form.deck.model = " Finch 2H ".into();
        let job = form.make(at(), &sets()).expect("all there is");
        assert_eq!(
            (&*job.number, &*job.deck.model, &*job.limits.name),
            ("HL-0032", "Finch 2H", "good-service")
        );
        form.limits = "minimum-requirement".into();
        let job = form.make(at(), &sets()).expect("made");
        assert_eq!(job.limits.name, "minimum-requirement");
        form.made();
        assert!(!form.is_begun());
        assert_eq!(form.limits, "minimum-requirement");
    }

    #[test]
    fn a_number_of_ones_own_stays() {
        let mut form = NewJobForm::default();
        form.propose(Some("HL-0032"));
        form.propose(Some("HL-0033"));
        assert_eq!(form.number, "HL-0033");
        form.number = "X 1".into();
        form.number_edited();
        form.propose(Some("HL-0034"));
        assert_eq!(form.number, "X 1");
        let told = form.problem(Field::Number, None).expect("a space");
        assert!(told.contains("no job number"), "{told}");
        form.number.clear();
        form.number_left();
        form.propose(Some("HL-0034"));
        assert_eq!(form.number, "HL-0034");
    }

    #[test]
    fn what_the_record_refused_stands_until_the_number_is_another() {
        let mut form = NewJobForm::default();
        form.propose(Some("HL-0032"));
        form.deck.model = "Heron".into();
        assert!(form.make(at(), &sets()).is_some());
        let refused = Some("there is a job HL-0032 already; give another number");
        assert_eq!(form.problem(Field::Number, refused).as_deref(), refused);
        form.number = "HL-0033".into();
        assert_eq!(form.problem(Field::Number, refused), None);
    }

    #[test]
    fn a_known_deck_fills_in_the_rest_and_can_be_taken_back() {
        let mut form = NewJobForm::default();
        form.deck.model = "fin".into();
        form.complaint = "too fast".into();
        form.step(3, true);
        form.step(3, true);
        form.step(3, true);
        form.step(3, true);
        assert_eq!(form.on(3), Some(2));
        assert_eq!(form.on(2), None, "a shorter list");
        form.take(&finch());
        assert_eq!(form.deck, finch().deck);
        assert_eq!(form.focus, Some(Field::Complaint));
        form.take_back();
        assert_eq!((&*form.deck.model, &*form.deck.serial), ("fin", ""));
        assert_eq!(form.complaint, "too fast");
        form.clear();
        assert!(!form.is_begun() && form.can_take_back());
        form.take_back();
        assert_eq!(form.complaint, "too fast");
    }

    #[test]
    fn earlier_visits_are_told_for_the_deck_in_the_form_only() {
        let mut form = NewJobForm::default();
        form.take(&finch());
        let asked = form.ask_visits().expect("a deck with a serial number");
        assert_eq!(asked, ("Finch 2H".into(), "F-1042".into()));
        assert_eq!(form.ask_visits(), None);
        let jobs = [
            visit("HL-0012", "2026-03-03T09:00:00Z"),
            visit("HL-0003", "2025-03-03T09:00:00Z"),
        ];
        let told = |form: &NewJobForm, jobs| {
            let visits = Visits {
                model: "Finch 2H",
                serial: "F-1042",
                jobs,
            };
            form.here_before(Some(visits), &TimeZone::UTC)
        };
        assert_eq!(
            told(&form, &jobs[..1]).as_deref(),
            Some("here before: HL-0012, March 2026")
        );
        assert_eq!(
            told(&form, &jobs).as_deref(),
            Some("here before: HL-0012, March 2026, and 1 time before")
        );
        assert_eq!(told(&form, &[]), None);
        form.deck.serial = "F-1043".into();
        assert_eq!(told(&form, &jobs), None);
        form.deck.serial.clear();
        assert_eq!(form.ask_visits(), None);
    }

    #[test]
    fn a_text_that_the_record_would_refuse_is_told_at_its_field() {
        let mut form = NewJobForm::default();
        form.deck.serial = "9".repeat(501);
        form.complaint = "x".repeat(20_001);
        assert!(form.problem(Field::Serial, None).is_some());
        assert!(form.problem(Field::Complaint, None).is_some());
        assert!(form.problem(Field::Model, None).is_none());
    }
}
