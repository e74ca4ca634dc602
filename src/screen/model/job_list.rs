//! The list of jobs as it is searched and walked through: which ones are asked for, which one is chosen, what a row says.

use super::{format, harmless};
use crate::bench::store::{Filter, JobRow, State};
use jiff::{Timestamp, tz::TimeZone};

/// Letters of a job's number, deck or serial number that a row shows at most.
const SHORT: usize = 60;
/// Letters of a complaint that a row shows at most.
const LONG: usize = 200;

/// What the record answered to a filter.
#[derive(Clone, Copy, Debug)]
pub struct Answer<'a> {
    /// The filter that this answers.
    pub filter: &'a Filter,
    /// The jobs, the newest first.
    pub rows: &'a [JobRow],
}

/// What is typed and chosen in the list; it outlives the page, so that one comes back to where one was.
#[derive(Clone, Debug)]
pub struct JobListForm {
    /// Words to search for.
    pub search: String,
    /// Which jobs.
    pub state: State,
    /// Place and number of the chosen row.
    chosen: usize,
    number: Option<String>,
    /// The filter of the answer that was followed last.
    followed: Option<Filter>,
    /// The filter that was asked for last.
    asked: Option<Filter>,
    /// Enter was pressed before the answer was there.
    opening: bool,
    /// The search field is to get the focus.
    pub(in crate::screen) focus: bool,
    /// The chosen row is to come into sight.
    pub(in crate::screen) reveal: bool,
    /// How far the list is scrolled down, points.
    pub(in crate::screen) scrolled: f32,
}

impl Default for JobListForm {
    fn default() -> Self {
        Self {
            search: String::new(),
            state: State::Any,
            chosen: 0,
            number: None,
            followed: None,
            asked: None,
            opening: false,
            focus: true,
            reveal: true,
            scrolled: 0.0,
        }
    }
}

impl JobListForm {
    /// The page is opened (again): the search field gets the focus and the record is asked anew.
    pub fn open(&mut self) {
        self.focus = true;
        self.reveal = true;
        self.opening = false;
        self.ask_again();
    }

    /// Something in the record has changed: it is asked anew. What is chosen stays chosen.
    pub fn ask_again(&mut self) {
        self.asked = None;
    }

    /// The jobs that are wanted.
    pub fn filter(&self) -> Filter {
        Filter {
            search: self.search.clone(),
            state: self.state,
            most: None,
        }
    }

    /// What is to be asked of the record, once for each change.
    pub(in crate::screen) fn ask(&mut self) -> Option<Filter> {
        let filter = self.filter();
        if self.asked.as_ref() == Some(&filter) {
            return None;
        }
        self.asked = Some(filter.clone());
        Some(filter)
    }

    /// Whether the rows that are there answer what is wanted now.
    pub fn is_answered(&self, answer: Option<Answer<'_>>) -> bool {
        answer.is_some_and(|answer| {
            answer.filter.search == self.search && answer.filter.state == self.state
        })
    }

    /// Takes up an answer: after a new search the first row is chosen, or the one whose number was typed; where only the
    /// record changed, the same job stays chosen.
    pub(in crate::screen) fn follow(&mut self, answer: Option<Answer<'_>>) {
        let Some(Answer { filter, rows }) = answer else {
            return;
        };
        if self.followed.as_ref() != Some(filter) {
            let first = self.followed.is_none();
            self.followed = Some(filter.clone());
            let typed = filter.search.trim();
            let exactly = |row: &JobRow| row.number.eq_ignore_ascii_case(typed);
            let before = |row: &JobRow| first && Some(&row.number) == self.number.as_ref();
            let place = rows
                .iter()
                .position(exactly)
                .or_else(|| rows.iter().position(before));
            self.choose(rows, place.unwrap_or(0));
        } else if rows.get(self.chosen).map(|row| &row.number) != self.number.as_ref() {
            let place = rows
                .iter()
                .position(|row| Some(&row.number) == self.number.as_ref());
            self.choose(rows, place.unwrap_or(self.chosen));
        }
    }

    /// Place of the chosen row.
    pub fn chosen(&self) -> usize {
        self.chosen
    }

    /// Chooses a row, the last one where there are fewer.
    pub(in crate::screen) fn choose(&mut self, rows: &[JobRow], place: usize) {
        self.chosen = place.min(rows.len().saturating_sub(1));
        self.number = rows.get(self.chosen).map(|row| row.number.clone());
        self.reveal = true;
    }

    /// Moves the choice so many rows down.
    pub(in crate::screen) fn step(&mut self, rows: &[JobRow], by: isize) {
        self.choose(rows, self.chosen.saturating_add_signed(by));
    }

    /// Enter: the chosen job is to be opened, as soon as the list answers what was typed.
    pub(in crate::screen) fn enter(&mut self) {
        self.opening = true;
    }

    /// The number of the job to be opened now.
    pub(in crate::screen) fn opened(&mut self, answer: Option<Answer<'_>>) -> Option<String> {
        if !self.opening || !self.is_answered(answer) {
            return None;
        }
        self.opening = false;
        let row = answer?.rows.get(self.chosen)?;
        Some(row.number.clone())
    }
}

/// The texts of one row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RowWords {
    /// Job number.
    pub number: String,
    /// Model.
    pub model: String,
    /// Serial number, or a dash.
    pub serial: String,
    /// When the deck came.
    pub came: String,
    /// Whether it is here, or when it left.
    pub state: String,
    /// Readings taken.
    pub readings: String,
    /// What the owner said.
    pub complaint: String,
}

impl RowWords {
    /// Of a row, with dates in `zone`.
    pub fn of(row: &JobRow, zone: &TimeZone) -> Self {
        let or_dash = |text: String| match &*text {
            "" => format::NOTHING.to_owned(),
            _ => text,
        };
        Self {
            number: harmless::line(&row.number, SHORT),
            model: or_dash(harmless::line(&row.model, SHORT)),
            serial: or_dash(harmless::line(&row.serial, SHORT)),
            came: date(row.opened, zone),
            state: match row.closed {
                None => "here".into(),
                Some(left) => format!("left {}", date(left, zone)),
            },
            readings: row.readings.to_string(),
            complaint: harmless::line(&row.complaint, LONG),
        }
    }

    /// All of it in one sentence, as it is spoken.
    pub fn spoken(&self) -> String {
        let Self {
            model,
            serial,
            came,
            state,
            readings,
            complaint,
            ..
        } = self;
        let counted = if readings == "1" {
            "reading"
        } else {
            "readings"
        };
        format!("{model}, serial {serial}, came {came}, {state}, {readings} {counted}. {complaint}")
            .trim_end()
            .to_owned()
    }
}

/// `3 Mar 2026`.
pub fn date(at: Timestamp, zone: &TimeZone) -> String {
    at.to_zoned_datetime(zone.clone())
        .strftime("%-d %b %Y")
        .to_string()
}

/// `March 2026`.
pub fn month(at: Timestamp, zone: &TimeZone) -> String {
    at.to_zoned_datetime(zone.clone())
        .strftime("%B %Y")
        .to_string()
}

/// How many jobs are shown of how many.
pub fn count_words(form: &JobListForm, rows: usize, counts: Option<(u32, u32)>) -> String {
    let shown = format::counted(rows as u64, "job", "jobs");
    let of_which = match form.state {
        State::Any => "",
        State::Open => " whose deck is here",
        State::Closed => " whose deck has left",
    };
    let found = if form.search.trim().is_empty() {
        ""
    } else {
        " found"
    };
    match counts {
        Some((all, open)) => format!("{shown}{of_which}{found}; {all} in all, {open} here now"),
        None => format!("{shown}{of_which}{found}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(number: &str) -> JobRow {
        JobRow {
            number: number.into(),
            model: "Finch 2H".into(),
            serial: String::new(),
            opened: "2026-03-03T09:00:00Z".parse().expect("a time"),
            closed: None,
            complaint: "too fast\n\u{202e}and wows".into(),
            readings: 1,
        }
    }

    fn rows(numbers: &[&str]) -> Vec<JobRow> {
        numbers.iter().map(|number| row(number)).collect()
    }

    fn filter(search: &str) -> Filter {
        Filter {
            search: search.into(),
            ..Filter::default()
        }
    }

    fn answer<'a>(filter: &'a Filter, rows: &'a [JobRow]) -> Option<Answer<'a>> {
        Some(Answer { filter, rows })
    }

    #[test]
    fn a_change_is_asked_for_once() {
        let mut form = JobListForm::default();
        assert_eq!(form.ask(), Some(filter("")));
        assert_eq!(form.ask(), None);
        form.search = "finch".into();
        assert_eq!(form.ask(), Some(filter("finch")));
        form.state = State::Open;
        assert!(form.ask().is_some_and(|asked| asked.state == State::Open));
        form.ask_again();
        assert!(form.ask().is_some());
    }

    #[test]
    fn the_chosen_job_stays_chosen_when_another_comes_in() {
        let mut form = JobListForm::default();
        let (all, mut jobs) = (filter(""), rows(&["C", "B", "A"]));
        form.follow(answer(&all, &jobs));
        form.step(&jobs, 1);
        jobs.insert(0, row("D"));
        form.follow(answer(&all, &jobs));
        assert_eq!(form.chosen(), 2);
        jobs.retain(|job| job.number != "B");
        form.follow(answer(&all, &jobs));
        assert_eq!(form.chosen(), 2, "the one that took its place");
        form.step(&jobs, -10);
        assert_eq!(form.chosen(), 0);
        form.step(&jobs, 10);
        assert_eq!(form.chosen(), 2);
        form.follow(answer(&all, &[]));
        assert_eq!(form.chosen(), 0);
    }

    #[test]
    fn a_typed_number_is_chosen_and_enter_waits_for_the_answer() {
        let mut form = JobListForm::default();
        let (all, every) = (filter(""), rows(&["HL-0012", "HL-0001"]));
        form.follow(answer(&all, &every));
        form.search = "hl-0001".into();
        form.enter();
        assert_eq!(form.opened(answer(&all, &every)), None, "the old answer");
        let (typed, found) = (filter("hl-0001"), rows(&["HL-00012", "HL-0001"]));
        form.follow(answer(&typed, &found));
        assert_eq!(
            form.opened(answer(&typed, &found)).as_deref(),
            Some("HL-0001")
        );
        assert_eq!(form.opened(answer(&typed, &found)), None, "once");
        form.enter();
        assert_eq!(form.opened(answer(&typed, &[])), None);
    }

    #[test]
    fn a_row_is_in_words() {
        let mut job = row("HL-0031");
        let words = RowWords::of(&job, &TimeZone::UTC);
        assert_eq!(
            words.spoken(),
            "Finch 2H, serial –, came 3 Mar 2026, here, 1 reading. too fast and wows"
        );
        job.closed = Some("2026-03-09T23:00:00Z".parse().expect("a time"));
        assert_eq!(RowWords::of(&job, &TimeZone::UTC).state, "left 9 Mar 2026");
        assert_eq!(month(job.opened, &TimeZone::UTC), "March 2026");
    }

    #[test]
    fn the_count_says_of_what() {
        let mut form = JobListForm::default();
        assert_eq!(
            count_words(&form, 2, Some((2, 1))),
            "2 jobs; 2 in all, 1 here now"
        );
        form.search = "belt".into();
        form.state = State::Closed;
        assert_eq!(
            count_words(&form, 1, None),
            "1 job whose deck has left found"
        );
    }
}
