//! The X–Y figure of both channels.

/// The newest samples of both channels against each other, without their means, each channel to its own greatest value.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct XyFigure {
    /// Left (x) and right (y), within ±1, oldest first.
    pub points: Vec<[f32; 2]>,
}
