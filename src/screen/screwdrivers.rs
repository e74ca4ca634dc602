//! What can be turned on a virtual deck while it plays.

/// One thing to turn.
#[derive(Clone, Debug, PartialEq)]
pub struct Adjustable {
    /// What a person calls it (`Speed trimmer`).
    pub name: String,
    /// Unit of the value (`%`, `arcmin`).
    pub unit: String,
    /// Least value.
    pub min: f64,
    /// Greatest value.
    pub max: f64,
    /// Where it stands now.
    pub value: f64,
}

/// One thing that is this or that.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// What a person calls it (`Belt`).
    pub name: String,
    /// What it can be (`as found`, `replaced`).
    pub options: Vec<String>,
    /// Place of the option that stands now.
    pub chosen: usize,
}

/// The virtual screwdrivers. The calls come from the drawing thread and must return at once.
pub trait Screwdrivers: Send {
    /// What can be turned, always in the same order.
    fn list(&self) -> Vec<Adjustable>;

    /// Turns one to `value`, which lies between its least and greatest.
    fn set(&mut self, index: usize, value: f64);

    /// What can be chosen besides, always in the same order.
    fn choices(&self) -> Vec<Choice>;

    /// Takes an option of one of the choices.
    fn choose(&mut self, index: usize, option: usize);
}
