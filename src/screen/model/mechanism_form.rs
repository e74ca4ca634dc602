//! A mechanism as it is typed in: texts, checked at every key, with the problem at the field it belongs to.

use crate::tables::{Mechanism, MechanismError, Part, PartKind, PartRate, parse_toml};

/// A number that a part may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Field {
    /// Diameter the tape runs on.
    Diameter,
    /// Diameter a belt or a wheel runs on.
    Wheel,
    /// A belt's length.
    Length,
    /// Turns for one turn of its driver.
    Ratio,
    /// The rate itself.
    Rate,
    /// A reel's hub.
    Hub,
    /// A reel's fullest pack.
    Full,
    /// The pack now.
    Pack,
    /// The tape's thickness.
    Thickness,
    /// How far the rate may be off.
    Tolerance,
}

impl Field {
    /// All, in the order they are asked for.
    pub const ALL: [Self; 10] = [
        Self::Diameter,
        Self::Wheel,
        Self::Length,
        Self::Ratio,
        Self::Hub,
        Self::Full,
        Self::Pack,
        Self::Thickness,
        Self::Rate,
        Self::Tolerance,
    ];

    /// Its key in the file.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Diameter => "diameter_mm",
            Self::Wheel => "wheel_diameter_mm",
            Self::Length => "length_mm",
            Self::Ratio => "ratio",
            Self::Rate => "rate_hz",
            Self::Hub => "hub_radius_mm",
            Self::Full => "full_radius_mm",
            Self::Pack => "pack_radius_mm",
            Self::Thickness => "tape_thickness_um",
            Self::Tolerance => "rate_tolerance_percent",
        }
    }

    /// What a person calls it, with its unit.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Diameter => "Diameter under the tape, mm",
            Self::Wheel => "Diameter under belt or wheel, mm",
            Self::Length => "Belt length, mm",
            Self::Ratio => "Turns for one turn of its driver",
            Self::Rate => "Once-round rate, Hz",
            Self::Hub => "Radius of the hub, mm",
            Self::Full => "Radius of the full pack, mm",
            Self::Pack => "Radius of the pack now, mm",
            Self::Thickness => "Tape thickness, µm",
            Self::Tolerance => "Rate may be off by, %",
        }
    }

    /// Whether a part of that kind is asked for it.
    pub const fn suits(self, kind: PartKind) -> bool {
        let is_reel = kind.is_reel();
        match self {
            Self::Hub | Self::Full | Self::Pack | Self::Thickness => is_reel,
            Self::Diameter => matches!(
                kind,
                PartKind::Capstan | PartKind::PinchRoller | PartKind::TapeRoller | PartKind::Other
            ),
            Self::Length => matches!(kind, PartKind::Belt),
            Self::Wheel => !is_reel && !matches!(kind, PartKind::Belt),
            Self::Ratio => !is_reel,
            Self::Rate | Self::Tolerance => true,
        }
    }

    fn place(self, part: &mut Part) -> &mut Option<f64> {
        match self {
            Self::Diameter => &mut part.diameter_mm,
            Self::Wheel => &mut part.wheel_diameter_mm,
            Self::Length => &mut part.length_mm,
            Self::Ratio => &mut part.ratio,
            Self::Rate => &mut part.rate_hz,
            Self::Hub => &mut part.hub_radius_mm,
            Self::Full => &mut part.full_radius_mm,
            Self::Pack => &mut part.pack_radius_mm,
            Self::Thickness => &mut part.tape_thickness_um,
            Self::Tolerance => &mut part.rate_tolerance_percent,
        }
    }
}

/// One part as typed in.
#[derive(Clone, Debug, PartialEq)]
pub struct PartForm {
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: PartKind,
    /// The part that drives it.
    pub driven_by: Option<String>,
    /// The numbers, in the order of [`Field::ALL`].
    pub numbers: [String; Field::ALL.len()],
    /// A note.
    pub note: String,
}

/// A mechanism as typed in.
#[derive(Clone, Debug, PartialEq)]
pub struct MechanismForm {
    /// Name of the file, without its ending.
    pub name: String,
    /// What a person calls the deck.
    pub title: String,
    /// Tape speed, cm/s.
    pub tape_speed: String,
    /// Where the figures come from.
    pub source: String,
    /// The parts.
    pub parts: Vec<PartForm>,
}

/// What is wrong, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FormProblem {
    /// The part; `None` where it is the mechanism as a whole.
    pub part: Option<usize>,
    /// The key in question.
    pub key: String,
    /// What is wrong, with the value, and what to do.
    pub message: String,
}

impl From<MechanismError> for FormProblem {
    fn from(error: MechanismError) -> Self {
        Self {
            part: error.part,
            key: error.key.into(),
            message: error.message,
        }
    }
}

impl PartForm {
    fn of(part: &Part) -> Self {
        let mut part = part.clone();
        Self {
            numbers: Field::ALL
                .map(|field| field.place(&mut part).map_or_else(String::new, shortest)),
            name: part.name,
            kind: part.kind,
            driven_by: part.driven_by,
            note: part.note.unwrap_or_default(),
        }
    }

    fn part(&self) -> Result<Part, (String, String)> {
        let mut part = Part::new(self.name.trim(), self.kind);
        part.driven_by.clone_from(&self.driven_by);
        part.note = Some(self.note.trim().to_owned()).filter(|note| !note.is_empty());
        for (field, text) in Field::ALL.into_iter().zip(&self.numbers) {
            if field.suits(self.kind) {
                *field.place(&mut part) =
                    parsed(text).map_err(|message| (field.key().into(), message))?;
            }
        }
        out_of_range(&part).map_or(Ok(part), Err)
    }
}

impl MechanismForm {
    /// The form that a mechanism would fill.
    pub fn of(mechanism: &Mechanism) -> Self {
        Self {
            name: mechanism.name.clone(),
            title: mechanism.title.clone(),
            tape_speed: shortest(mechanism.tape_speed_m_per_s * 100.0),
            source: mechanism.source.clone(),
            parts: mechanism.part.iter().map(PartForm::of).collect(),
        }
    }

    /// An empty one: a capstan is the least that a deck has.
    pub fn empty() -> Self {
        Self {
            name: "my-deck".into(),
            title: "My deck".into(),
            tape_speed: "4.7625".into(),
            source: "measured".into(),
            parts: vec![PartForm::of(&Part::new("capstan", PartKind::Capstan))],
        }
    }

    /// One more part, with a name that is still free; returns its place.
    pub fn add_part(&mut self) -> usize {
        let is_free = |name: &String| self.parts.iter().all(|part| part.name != *name);
        let name = (1..)
            .map(|number| format!("part {number}"))
            .find(is_free)
            .unwrap_or_default();
        self.parts
            .push(PartForm::of(&Part::new(name, PartKind::Pulley)));
        self.parts.len() - 1
    }

    /// Removes a part; what it drove is driven by nothing then.
    pub fn remove_part(&mut self, place: usize) {
        if place >= self.parts.len() {
            return;
        }
        let gone = self.parts.remove(place);
        for part in &mut self.parts {
            part.driven_by.take_if(|driver| *driver == gone.name);
        }
    }

    /// Renames a part; what it drives goes on being driven by it.
    pub fn rename_part(&mut self, place: usize, name: &str) {
        let Some(part) = self.parts.get_mut(place) else {
            return;
        };
        let before = std::mem::replace(&mut part.name, name.to_owned());
        for part in &mut self.parts {
            if part.driven_by.as_deref() == Some(before.as_str()) {
                part.driven_by = Some(name.to_owned());
            }
        }
    }

    /// The mechanism and its parts' rates at the nominal tape speed.
    ///
    /// # Errors
    /// The first thing that is wrong.
    pub fn mechanism(&self) -> Result<(Mechanism, Vec<PartRate>), FormProblem> {
        let whole = |key: &str, message: String| FormProblem {
            part: None,
            key: key.into(),
            message,
        };
        let speed_cm_per_s = parsed(&self.tape_speed)
            .map_err(|message| whole("tape_speed_m_per_s", message))?
            .filter(|speed| *speed > 0.0 && *speed <= 1000.0)
            .ok_or_else(|| {
                let text = &self.tape_speed;
                whole(
                    "tape_speed_m_per_s",
                    format!(
                        "tape speed: '{text}' is not between 0 and 1000 cm/s; a cassette has 4.7625"
                    ),
                )
            })?;
        if self.title.trim().is_empty() {
            return Err(whole("title", "the deck needs a name".into()));
        }
        let mut mechanism = Mechanism {
            name: self.name.trim().to_owned(),
            title: self.title.trim().to_owned(),
            tape_speed_m_per_s: speed_cm_per_s / 100.0,
            source: self.source.trim().to_owned(),
            part: Vec::with_capacity(self.parts.len()),
        };
        for (place, part) in self.parts.iter().enumerate() {
            mechanism
                .part
                .push(part.part().map_err(|(key, message)| FormProblem {
                    part: Some(place),
                    key,
                    message,
                })?);
        }
        let rates = mechanism.rates()?;
        Ok((mechanism, rates))
    }
}

/// A typed number; a decimal comma is understood. Empty is `None`.
fn parsed(text: &str) -> Result<Option<f64>, String> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(None);
    }
    match text.replace(',', ".").replace('−', "-").parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(Some(value)),
        _ => Err(format!("'{text}' is not a number")),
    }
}

/// What the reader of the file says to a number of the part: one place knows the ranges.
fn out_of_range(part: &Part) -> Option<(String, String)> {
    let text = toml::to_string(part).ok()?;
    let told = parse_toml::<Part>("", &text).err()?.to_string();
    let (_, rest) = told.split_once(", key ")?;
    let (key, message) = rest.split_once(": ")?;
    Some((key.into(), message.into()))
}

/// The shortest text that reads back as the value, without the dust of binary fractions.
fn shortest(value: f64) -> String {
    format!("{}", (value * 1e9).round() / 1e9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::{mechanism, mechanism_names};

    fn form() -> MechanismForm {
        MechanismForm::of(&mechanism("dual-capstan-cassette").expect("supplied"))
    }

    fn number(form: &mut MechanismForm, part: &str, field: Field, text: &str) {
        let part = form.parts.iter_mut().find(|one| one.name == part);
        let place = Field::ALL.iter().position(|one| *one == field);
        part.expect("a part").numbers[place.expect("a field")] = text.into();
    }

    #[test]
    fn every_supplied_mechanism_goes_through_the_form_unchanged() {
        for name in mechanism_names() {
            let supplied = mechanism(name).expect("supplied");
            let (again, rates) = MechanismForm::of(&supplied).mechanism().expect("sound");
            assert_eq!(again, supplied);
            assert_eq!(rates, supplied.rates().expect("rates"));
        }
    }

    #[test]
    fn a_problem_is_told_at_its_part_and_field_with_the_value() {
        type Damage = fn(&mut MechanismForm);
        let cases: [(Damage, Option<usize>, &str, &str); 6] = [
            (
                |form| number(form, "take-up capstan", Field::Diameter, "2.5 mm"),
                Some(2),
                "diameter_mm",
                "'2.5 mm' is not a number",
            ),
            (
                |form| number(form, "take-up capstan", Field::Diameter, "-2.5"),
                Some(2),
                "diameter_mm",
                "-2.5",
            ),
            (
                |form| form.parts[3].name = "take-up capstan".into(),
                Some(3),
                "name",
                "two parts",
            ),
            (
                |form| form.parts[1].driven_by = Some("engine".into()),
                Some(1),
                "driven_by",
                "'engine'",
            ),
            (
                |form| form.tape_speed = "0".into(),
                None,
                "tape_speed_m_per_s",
                "'0'",
            ),
            (|form| form.parts.clear(), None, "part", "no [[part]]"),
        ];
        for (damage, part, key, words) in cases {
            let mut form = form();
            damage(&mut form);
            let problem = form.mechanism().expect_err("wrong on purpose");
            assert_eq!((problem.part, problem.key.as_str()), (part, key));
            assert!(problem.message.contains(words), "{}", problem.message);
        }
    }

    #[test]
    fn a_decimal_comma_is_understood() {
        let mut form = form();
        number(&mut form, "take-up capstan", Field::Diameter, "2,5");
        let (mechanism, _) = form.mechanism().expect("sound");
        assert_eq!(mechanism.part[2].diameter_mm, Some(2.5));
    }

    #[test]
    fn what_drives_what_survives_a_new_name_and_is_loosed_by_a_removal() {
        let mut form = form();
        form.rename_part(1, "flat belt");
        assert_eq!(form.parts[2].driven_by.as_deref(), Some("flat belt"));
        assert!(form.mechanism().is_ok());
        form.remove_part(1);
        assert_eq!(form.parts[1].driven_by, None);
        let place = form.add_part();
        assert_eq!(form.parts[place].name, "part 1");
        form.add_part();
        assert_eq!(form.parts[place + 1].name, "part 2");
    }
}
