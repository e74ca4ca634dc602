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

/// The virtual screwdrivers. The calls come from the drawing thread and must return at once.
pub trait Screwdrivers: Send {
    /// What can be turned, always in the same order.
    fn list(&self) -> Vec<Adjustable>;

    /// Turns one to `value`, which lies between its least and greatest.
    fn set(&mut self, index: usize, value: f64);

    /// What can be done besides (`Change the belt`), always in the same order.
    fn actions(&self) -> Vec<String>;

    /// Does one of them.
    fn act(&mut self, index: usize);
}
