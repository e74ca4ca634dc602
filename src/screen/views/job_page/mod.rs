//! The page of the job in hand: its stations in order, and below them folders with what belongs to the job.
//!
//! By keyboard: arrows up and down choose the station, left and right the folder, Enter goes to the folder's first field,
//! Tab from field to field, Esc leaves them.

mod folders;
mod station;
mod stations;

use crate::{
    bench::{Environment, LimitSet, Stage, Station, keeping::Entry, sheet::Paper},
    screen::{
        fields,
        job_desk::{InHand, Which},
        model::{
            harmless,
            job_table::{self, StationRow},
        },
        paint::heard,
        theme::{self, Palette},
    },
};
use eframe::egui::{
    Id, Key, Label, Modifiers, RichText, ScrollArea, TextEdit, Ui, WidgetInfo, accesskit::Role,
};

use jiff::tz::TimeZone;

pub use station::show_taken;

/// What the page shows.
pub struct JobPage<'a> {
    /// The job.
    pub in_hand: &'a InHand,
    /// Its stations.
    pub rows: &'a [StationRow],
    /// The stage that readings count for.
    pub stage: Stage,
    /// The station in hand.
    pub station: Station,
    /// The sets of limits at hand.
    pub limits: &'a [LimitSet],
    /// Why the user's own limits are not among them.
    pub limits_problem: Option<&'a str>,
    /// What was taken back last.
    pub redo: Option<&'a Entry>,
    /// Whose dates are shown.
    pub zone: &'a TimeZone,
}

/// What is asked for on the page.
#[derive(Clone, Debug, PartialEq)]
pub enum JobWish {
    /// Another station in hand.
    Station(Station),
    /// Another stage.
    Stage(Stage),
    /// Takes an entry back.
    Withdraw(Which, Entry),
    /// Lets a withdrawn entry count again.
    Restore(Which, Entry),
    /// Brings back what was taken back last.
    Redo,
    /// Leaves the station in hand out, for this reason.
    Skip(String),
    /// A part was replaced.
    Part(String),
    /// A note, and whether the owner's page carries it.
    Note(String, bool),
    /// Other circumstances.
    Environment(Environment),
    /// Other limits.
    Limits(Box<LimitSet>),
    /// What the owner said.
    Complaint(String),
    /// The deck leaves.
    Close,
    /// It is taken up again.
    Reopen,
    /// No job in hand any more.
    PutAway,
    /// A file of its own.
    Export,
    /// Makes the owner's sheet, on that paper.
    Sheet(Paper),
    /// The page of mechanical checks.
    Checks,
}

/// The folders below the stations.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
enum Folder {
    #[default]
    Station,
    Notes,
    Parts,
    Circumstances,
    Limits,
    Deck,
}

impl Folder {
    const ALL: [Self; 6] = [
        Self::Station,
        Self::Notes,
        Self::Parts,
        Self::Circumstances,
        Self::Limits,
        Self::Deck,
    ];

    const fn name(self) -> &'static str {
        match self {
            Self::Station => "station",
            Self::Notes => "notes",
            Self::Parts => "parts",
            Self::Circumstances => "circumstances",
            Self::Limits => "limits",
            Self::Deck => "deck",
        }
    }

    fn moved(self, by: isize) -> Self {
        let count = Self::ALL.len() as isize;
        let at = (self as isize + by).rem_euclid(count);
        Self::ALL[at as usize]
    }
}

/// What is typed on the page.
#[derive(Default)]
pub struct JobForm {
    folder: Folder,
    /// What of the job stands in the fields: they are filled anew when that changes.
    filled_from: Option<(String, Environment, String)>,
    reason: String,
    note: String,
    for_owner: bool,
    part: String,
    temperature: String,
    mains: String,
    warm_up: String,
    complaint: String,
    problem: Option<String>,
    /// Whether the next field takes the focus.
    focus: bool,
}

impl JobForm {
    /// The fields are those of this job, as it is now.
    fn fill_from(&mut self, in_hand: &InHand) {
        let job = &in_hand.job;
        let now = (
            job.number.clone(),
            job.environment.clone(),
            job.complaint.clone(),
        );
        if self.filled_from.as_ref() == Some(&now) {
            return;
        }
        if self
            .filled_from
            .as_ref()
            .is_none_or(|(number, ..)| *number != now.0)
        {
            *self = Self {
                folder: self.folder,
                ..Self::default()
            };
        }
        let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
        self.temperature = number(now.1.temperature_c);
        self.mains = number(now.1.mains_volts);
        self.warm_up = number(now.1.warm_up_minutes);
        self.complaint.clone_from(&now.2);
        self.filled_from = Some(now);
    }

    /// A labelled field; true when Enter has left it.
    fn field(ui: &mut Ui, focus: &mut bool, name: &str, text: &mut String, width: f32) -> bool {
        let label = ui.label(name);
        let edit = TextEdit::singleline(text).desired_width(width);
        let field = ui.add(edit).labelled_by(label.id);
        if std::mem::take(focus) {
            field.request_focus();
        }
        fields::is_entered(&field)
    }
}

/// Shows the page; returns what is asked for.
pub fn show(ui: &mut Ui, page: &JobPage<'_>, form: &mut JobForm) -> Option<JobWish> {
    form.fill_from(page.in_hand);
    take_keys(ui, form);
    let mut wish = head(ui, page);
    ui.add_space(2.0);
    wish = stations::show(ui, page).or(wish);
    ui.add_space(4.0);
    folder_row(ui, form);
    ui.separator();
    let height = ui.available_height().max(150.0);
    let asked = ScrollArea::vertical()
        .id_salt(("job folder", form.folder))
        .max_height(height)
        .auto_shrink(false)
        .show(ui, |ui| {
            if let Some(problem) = &form.problem {
                problem_line(ui, problem);
            }
            match form.folder {
                Folder::Station => station::show(ui, page, form),
                Folder::Notes => folders::notes(ui, page, form),
                Folder::Parts => folders::parts(ui, page, form),
                Folder::Circumstances => folders::circumstances(ui, page, form),
                Folder::Limits => folders::limits(ui, page),
                Folder::Deck => folders::deck(ui, page, form),
            }
        })
        .inner;
    form.focus = false;
    asked.or(wish)
}

/// Arrows and Enter, while nothing has the keyboard focus.
fn take_keys(ui: &Ui, form: &mut JobForm) {
    if ui.memory(|memory| memory.focused()).is_some() {
        return;
    }
    let (right, left, enter) = ui.input_mut(|input| {
        let mut pressed = |key| input.consume_key(Modifiers::NONE, key);
        (
            pressed(Key::ArrowRight),
            pressed(Key::ArrowLeft),
            pressed(Key::Enter),
        )
    });
    let by = isize::from(right) - isize::from(left);
    if by != 0 {
        form.folder = form.folder.moved(by);
        form.problem = None;
    }
    form.focus = enter;
}

/// Number, deck, stage, what to do next.
fn head(ui: &mut Ui, page: &JobPage<'_>) -> Option<JobWish> {
    let job = &page.in_hand.job;
    let mut wish = None;
    ui.horizontal_wrapped(|ui| {
        let deck = format!("{} {}", job.deck.model, job.deck.serial);
        let title = format!("{}  {}", job.number, harmless::line(&deck, 60));
        ui.label(RichText::new(title.trim_end()).font(theme::strong(22.0)));
        ui.add_space(16.0);
        for stage in Stage::ALL {
            let on = page.stage == stage;
            let name = format!("{} (a)", stage.words());
            let mut response = ui.radio(on, stage.words());
            response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, on, &name));
            response = response.on_hover_text("a changes it");
            if response.clicked() && !on {
                wish = Some(JobWish::Stage(stage));
            }
        }
        ui.add_space(16.0);
        let next = job_table::suggestion(page.rows, page.stage, job.closed.is_some());
        let said = ui.add(Label::new(RichText::new(&next).size(17.0)).wrap());
        let id = Id::unique("job suggestion");
        heard::announced(ui, said.rect, id, "Next in the job", &next);
    });
    let complaint = if job.complaint.is_empty() {
        "The owner said nothing.".to_owned()
    } else {
        format!("The owner says: {}", harmless::line(&job.complaint, 200))
    };
    ui.add(Label::new(RichText::new(complaint).weak()).truncate());
    wish
}

fn folder_row(ui: &mut Ui, form: &mut JobForm) {
    ui.horizontal_wrapped(|ui| {
        for folder in Folder::ALL {
            let on = form.folder == folder;
            let name = if on {
                RichText::new(folder.name()).strong().underline()
            } else {
                RichText::new(folder.name())
            };
            if ui.selectable_label(on, name).clicked() {
                form.folder = folder;
                form.problem = None;
            }
        }
        ui.add_space(14.0);
        ui.label(
            RichText::new(
                "arrows: station and folder   Enter: type   z: take back the last   y: bring it back",
            )
            .weak()
            .size(14.0),
        );
    });
}

fn problem_line(ui: &mut Ui, problem: &str) {
    let text = RichText::new(problem).color(Palette::of(ui).bad);
    ui.add(Label::new(text).wrap());
}

fn hint(ui: &mut Ui, text: &str) {
    ui.add(Label::new(RichText::new(text).weak()).wrap());
}
