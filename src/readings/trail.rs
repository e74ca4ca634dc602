//! A short history of one value for the screen to draw.

/// The last half minute or so of one value, oldest first. `NaN` where there was no valid value.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trail {
    /// Time between neighbouring values, in seconds; 0 when the trail is empty.
    pub step_s: f64,
    /// The values, oldest first; the last one is now.
    pub values: Vec<f32>,
}
