//! Mechanical checks as they are typed in, and what the record says of each: figures from gauges with limit and verdict,
//! and what was seen or done.

use super::{format, harmless};
use crate::bench::{
    Check, CheckDone, Figure, Limit, LimitSet, Quantity, Stage, Verdict,
    checks::{Seen, gauge, gauge_words},
};
use jiff::tz::TimeZone;

/// Letters of a text from the record that are shown at most.
const LONG: usize = 200;

/// What is checked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Subject {
    /// A figure from a gauge.
    Gauge(Quantity),
    /// Something looked at or done.
    Seen(Seen),
}

impl Subject {
    /// All of them, in the order of the work: what is seen and done first, then the gauges.
    pub const ALL: [Self; 10] = [
        Self::Seen(Seen::Belt),
        Self::Seen(Seen::HeadWear),
        Self::Seen(Seen::Cleaned),
        Self::Seen(Seen::Demagnetised),
        Self::Gauge(Quantity::TakeUpTorque),
        Self::Gauge(Quantity::BackTorque),
        Self::Gauge(Quantity::WindTorque),
        Self::Gauge(Quantity::RewindTorque),
        Self::Gauge(Quantity::CapstanEndPlay),
        Self::Gauge(Quantity::RollerForce),
    ];

    /// Its place among [`Self::ALL`].
    fn place(self) -> usize {
        let place = Self::ALL.iter().position(|&one| one == self);
        place.unwrap_or_default()
    }

    /// The one after it; the first after the last.
    pub fn next(self) -> Self {
        Self::ALL[(self.place() + 1) % Self::ALL.len()]
    }

    /// What a technician calls it.
    pub fn name(self) -> String {
        match self {
            Self::Gauge(quantity) => format::capitalised(quantity.name()),
            Self::Seen(seen) => seen.name().to_owned(),
        }
    }

    /// What it is called in a sentence.
    pub fn short(self) -> &'static str {
        match self {
            Self::Gauge(quantity) => quantity.name(),
            Self::Seen(seen) => seen.what(),
        }
    }

    /// Whether a check is of it.
    pub fn is(self, check: &Check) -> bool {
        match (self, check) {
            (Self::Gauge(quantity), Check::Gauge { figure, .. }) => figure.quantity == quantity,
            (Self::Seen(seen), Check::Seen { what, .. }) => what == seen.what(),
            _ => false,
        }
    }
}

/// How good something is, as a sign, a word and a colour say it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// As it should be.
    Good,
    /// Not as it should be.
    Bad,
    /// Nearer to the limit than the uncertainty.
    Open,
    /// Nobody judged it, or there is no limit.
    None,
}

/// What a check says, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// The figure in both units, or what was seen.
    pub words: String,
    /// The verdict.
    pub verdict: &'static str,
    /// The same as a mark.
    pub mark: Mark,
}

impl Said {
    /// Of a check, judged by `limits`.
    pub fn of(check: &Check, limits: &LimitSet) -> Self {
        match check {
            Check::Gauge { figure, .. } => Self::of_figure(figure, limits),
            Check::Seen { found, good, .. } => {
                let (verdict, mark) = match good {
                    Some(true) => ("good", Mark::Good),
                    Some(false) => ("not good", Mark::Bad),
                    None => ("not judged", Mark::None),
                };
                Self {
                    words: harmless::line(found, LONG),
                    verdict,
                    mark,
                }
            }
        }
    }

    fn of_figure(figure: &Figure, limits: &LimitSet) -> Self {
        let verdict = limits
            .of(figure.quantity)
            .map(|limit| Verdict::of(figure, limit));
        let mark = match verdict {
            None => Mark::None,
            Some(Verdict::Pass | Verdict::Inside) => Mark::Good,
            Some(Verdict::Fail | Verdict::Outside) => Mark::Bad,
            Some(Verdict::WithinUncertainty) => Mark::Open,
        };
        Self {
            words: gauge_words(figure),
            verdict: verdict.map_or("no limit", Verdict::words),
            mark,
        }
    }

    /// All of it in one line.
    pub fn line(&self) -> String {
        match &*self.words {
            "" => self.verdict.to_owned(),
            words => format!("{words}, {}", self.verdict),
        }
    }
}

/// The check of a subject that counts at a stage: the last one that is not withdrawn.
pub fn standing(checks: &[CheckDone], subject: Subject, stage: Stage) -> Option<&CheckDone> {
    checks
        .iter()
        .rfind(|done| done.stage == stage && done.withdrawn.is_none() && subject.is(&done.check))
}

/// Places of all checks of a subject, the newest first.
pub fn tries(checks: &[CheckDone], subject: Subject) -> impl Iterator<Item = usize> {
    let of_it = move |(_, done): &(usize, &CheckDone)| subject.is(&done.check);
    checks
        .iter()
        .enumerate()
        .rev()
        .filter(of_it)
        .map(|(place, _)| place)
}

/// One try as the history lists it.
pub fn try_words(done: &CheckDone, limits: &LimitSet, zone: &TimeZone) -> String {
    let at = done
        .at
        .to_zoned_datetime(zone.clone())
        .strftime("%-d %b %Y, %H:%M");
    let typed = match &done.check {
        Check::Gauge {
            typed, typed_unit, ..
        } => format!(", typed as {typed} {}", harmless::line(typed_unit, 20)),
        Check::Seen { .. } => String::new(),
    };
    let withdrawn = if done.withdrawn.is_some() {
        "withdrawn: "
    } else {
        ""
    };
    format!(
        "{withdrawn}{}, {at}: {}{typed}",
        done.stage.words(),
        Said::of(&done.check, limits).line()
    )
}

/// A limit in both units: `2.94 to 7.85 mN·m (30.0 to 80.0 g·cm)`.
pub fn limit_words(limit: &Limit) -> String {
    let both = |value: Option<f64>| {
        value.map(|value| {
            let words = gauge_words(&Figure {
                quantity: limit.quantity,
                value,
                uncertainty: None,
            });
            match words.split_once(" (") {
                Some((own, usual)) => {
                    (own.to_owned(), Some(usual.trim_end_matches(')').to_owned()))
                }
                None => (words, None),
            }
        })
    };
    let (least, greatest) = (both(limit.least), both(limit.greatest));
    let range = |least: Option<String>, greatest: Option<String>| match (least, greatest) {
        (Some(least), Some(greatest)) => {
            let number = least.split_once(' ').map_or(&*least, |(number, _)| number);
            format!("{number} to {greatest}")
        }
        (None, Some(greatest)) => format!("at most {greatest}"),
        (Some(least), None) => format!("at least {least}"),
        (None, None) => String::new(),
    };
    let usual = range(
        least.clone().and_then(|(_, usual)| usual),
        greatest.clone().and_then(|(_, usual)| usual),
    );
    let own = range(least.map(|(own, _)| own), greatest.map(|(own, _)| own));
    match &*usual {
        "" => own,
        usual => format!("{own} ({usual})"),
    }
}

/// What is typed for one subject.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Entry {
    /// The figure with its unit, or what was seen.
    pub text: String,
    /// What the gauge is good for, with its unit or in percent; it stays, for the gauge stays.
    pub good_for: String,
}

/// What is typed; it outlives the page, so that nothing is lost when the page is left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChecksForm {
    entries: [Entry; Subject::ALL.len()],
    /// The subject in hand: the history is of it.
    pub in_hand: Subject,
    /// The subject whose entry is to get the focus.
    pub(in crate::screen) focus: Option<Subject>,
    /// Entered, and told what is wrong with it.
    pub(in crate::screen) refused: Option<(Subject, String)>,
}

impl Default for ChecksForm {
    fn default() -> Self {
        Self {
            entries: Default::default(),
            in_hand: Subject::ALL[0],
            focus: Some(Subject::ALL[0]),
            refused: None,
        }
    }
}

impl ChecksForm {
    /// The page is opened (again): the subject in hand gets the focus.
    pub fn open(&mut self) {
        self.focus = Some(self.in_hand);
    }

    /// Another job: what was typed for the last one goes, what the gauges are good for stays.
    pub fn for_another_job(&mut self) {
        let entries = std::mem::take(&mut self.entries);
        *self = Self::default();
        for (entry, old) in self.entries.iter_mut().zip(entries) {
            entry.good_for = old.good_for;
        }
    }

    /// What is typed for a subject.
    pub fn entry(&self, subject: Subject) -> &Entry {
        &self.entries[subject.place()]
    }

    /// The same, to be typed into.
    pub fn entry_mut(&mut self, subject: Subject) -> &mut Entry {
        &mut self.entries[subject.place()]
    }

    /// What is typed for a gauge as a check; `None` where nothing is typed. A number without a unit has that of the last
    /// figure of the same gauge, where there was one.
    ///
    /// # Errors
    /// In words: what is no number, which unit is missing or does not fit.
    pub fn gauge(&self, quantity: Quantity, checks: &[CheckDone]) -> Option<Result<Check, String>> {
        let entry = self.entry(Subject::Gauge(quantity));
        let text = entry.text.trim();
        if text.is_empty() {
            return None;
        }
        let mut text = text.to_owned();
        let bare = text
            .chars()
            .all(|letter| letter.is_ascii_digit() || ".,".contains(letter));
        if let Some(unit) = last_unit(checks, quantity).filter(|_| bare) {
            text = format!("{text} {unit}");
        }
        let good_for = entry
            .good_for
            .trim()
            .trim_start_matches(['±', '+', '-', '/']);
        let said = ["±", "+-", "+/-"].iter().any(|sign| text.contains(sign));
        if !good_for.is_empty() && !said {
            text = format!("{text} ±{good_for}");
        }
        Some(gauge(quantity, &text))
    }

    /// What is typed as something seen, with its judgement.
    ///
    /// # Errors
    /// When it is neither judged nor described.
    pub fn seen(&self, seen: Seen, good: Option<bool>) -> Result<Check, String> {
        let text = self.entry(Subject::Seen(seen)).text.trim();
        if text.is_empty() && good.is_none() {
            return Err("say what was seen, or judge it: good or not good".into());
        }
        Ok(seen.check(text, good))
    }

    /// The entry went into the record: its field is empty again and the next one is in hand.
    pub(in crate::screen) fn entered(&mut self, subject: Subject) {
        self.entry_mut(subject).text.clear();
        self.refused = None;
        self.in_hand = subject.next();
        self.focus = Some(self.in_hand);
    }
}

fn last_unit(checks: &[CheckDone], quantity: Quantity) -> Option<&str> {
    checks.iter().rev().find_map(|done| match &done.check {
        Check::Gauge {
            figure, typed_unit, ..
        } if figure.quantity == quantity => Some(&**typed_unit),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::limit_shelf::limit_sets;
    use jiff::Timestamp;

    fn at(text: &str) -> Timestamp {
        text.parse().expect("a time")
    }

    fn good_service() -> LimitSet {
        let sets = limit_sets().expect("built-in tables");
        let set = sets.iter().find(|set| set.name == "good-service");
        set.expect("supplied").clone()
    }

    fn done(check: Check, stage: Stage, withdrawn: bool) -> CheckDone {
        CheckDone {
            at: at("2026-11-26T09:05:00Z"),
            stage,
            check,
            withdrawn: withdrawn.then(|| at("2026-11-26T09:06:00Z")),
        }
    }

    fn torque(text: &str) -> Check {
        gauge(Quantity::TakeUpTorque, text).expect("a torque")
    }

    fn form(text: &str, good_for: &str) -> ChecksForm {
        let mut form = ChecksForm::default();
        let entry = form.entry_mut(Subject::Gauge(Quantity::TakeUpTorque));
        (entry.text, entry.good_for) = (text.into(), good_for.into());
        form
    }

    fn read(form: &ChecksForm, checks: &[CheckDone]) -> Result<(f64, Option<f64>), String> {
        match form.gauge(Quantity::TakeUpTorque, checks).expect("typed")? {
            Check::Gauge { figure, .. } => Ok((figure.value, figure.uncertainty)),
            Check::Seen { .. } => Err("seen".into()),
        }
    }

    #[test]
    fn what_the_gauge_is_good_for_is_added_unless_it_is_typed() {
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
        for good_for in ["5 %", "±5%", " +-5 %"] {
            let (value, uncertainty) = read(&form("50 g·cm", good_for), &[]).expect("read");
            assert!(near(value, 4.903_325), "{good_for}");
            assert!(
                near(uncertainty.expect("known"), 0.245_166_25),
                "{good_for}"
            );
        }
        let (_, typed) = read(&form("50 g·cm ±2 %", "5 %"), &[]).expect("read");
        assert!(near(typed.expect("known"), 0.098_066_5));
        assert_eq!(form("  ", "5 %").gauge(Quantity::TakeUpTorque, &[]), None);
        assert!(read(&form("50 g·cm", "lots"), &[]).is_err());
    }

    #[test]
    fn a_bare_number_has_the_unit_of_the_last_one() {
        assert!(read(&form("48", ""), &[]).is_err(), "none was typed yet");
        let before = [done(torque("45 g·cm"), Stage::AsFound, true)];
        let (value, _) = read(&form("48", ""), &before).expect("g·cm");
        assert!((value - 48.0 * 0.098_066_5).abs() < 1e-9);
        let (value, _) = read(&form("4.8 mNm", ""), &before).expect("as typed");
        assert!((value - 4.8).abs() < 1e-9);
    }

    #[test]
    fn the_last_one_that_is_not_withdrawn_counts_for_its_stage() {
        let checks = [
            done(torque("45 g·cm"), Stage::AsFound, false),
            done(torque("46 g·cm"), Stage::AsFound, true),
            done(torque("50 g·cm"), Stage::AsLeft, false),
            done(Seen::Belt.check("", Some(false)), Stage::AsFound, false),
        ];
        let subject = Subject::Gauge(Quantity::TakeUpTorque);
        let counts = |subject, stage| standing(&checks, subject, stage).map(|done| &done.check);
        assert_eq!(counts(subject, Stage::AsFound), Some(&checks[0].check));
        assert_eq!(counts(subject, Stage::AsLeft), Some(&checks[2].check));
        assert_eq!(counts(Subject::Seen(Seen::Belt), Stage::AsLeft), None);
        assert_eq!(tries(&checks, subject).collect::<Vec<_>>(), [2, 1, 0]);
        let words = try_words(&checks[1], &good_service(), &TimeZone::UTC);
        assert_eq!(
            words,
            "withdrawn: as found, 26 Nov 2026, 09:05: 4.51 mN·m (46.0 g·cm), inside, uncertainty not known, typed as 46 g·cm"
        );
    }

    #[test]
    fn verdicts_have_a_word_and_a_mark() {
        let said = |text| Said::of(&torque(text), &good_service());
        let marked = |text| (said(text).verdict, said(text).mark);
        assert_eq!(marked("50 g·cm ±5 %"), ("pass", Mark::Good));
        assert_eq!(marked("20 g·cm ±5 %"), ("fail", Mark::Bad));
        assert_eq!(marked("31 g·cm ±5 %"), ("within uncertainty", Mark::Open));
        let mut none = good_service();
        none.limits.clear();
        let free = Said::of(&torque("50 g·cm"), &none);
        assert_eq!(free.line(), "4.90 mN·m (50.0 g·cm), no limit");
        let belt = Said::of(&Seen::Belt.check("slack\nand shiny", Some(false)), &none);
        assert_eq!(belt.line(), "slack and shiny, not good");
    }

    #[test]
    fn limits_are_in_both_units() {
        let set = good_service();
        let words = |quantity| limit_words(set.of(quantity).expect("a limit"));
        assert_eq!(
            words(Quantity::TakeUpTorque),
            "2.94 to 7.85 mN·m (30.0 to 80.0 g·cm)"
        );
        assert_eq!(
            words(Quantity::RollerForce),
            "2.94 to 3.53 N (300 to 360 g)"
        );
        assert_eq!(words(Quantity::CapstanEndPlay), "0.10 to 0.30 mm");
        let one_sided = Limit {
            least: None,
            ..set.of(Quantity::CapstanEndPlay).expect("a limit").clone()
        };
        assert_eq!(limit_words(&one_sided), "at most 0.30 mm");
    }

    #[test]
    fn something_seen_needs_a_word_or_a_judgement() {
        let mut form = ChecksForm::default();
        assert!(form.seen(Seen::Belt, None).is_err());
        assert!(form.seen(Seen::Belt, Some(true)).is_ok());
        form.entry_mut(Subject::Seen(Seen::Belt)).text = "a little shiny".into();
        assert!(form.seen(Seen::Belt, None).is_ok());
        form.entered(Subject::Seen(Seen::Belt));
        assert_eq!(form.entry(Subject::Seen(Seen::Belt)), &Entry::default());
        assert_eq!(form.focus, Some(Subject::Seen(Seen::HeadWear)));
    }

    #[test]
    fn another_job_keeps_what_the_gauges_are_good_for() {
        let mut form = form("45 g·cm", "5 %");
        form.for_another_job();
        let entry = form.entry(Subject::Gauge(Quantity::TakeUpTorque));
        assert_eq!((&*entry.text, &*entry.good_for), ("", "5 %"));
    }
}
