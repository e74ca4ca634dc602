//! Where no PulseAudio server can be: channels arrive as they are, and a stream stays on its device.

use super::{choosing::StreamPlan, health::StreamHealth, input::InputName};
use crate::source::SourceError;
use std::sync::Arc;

/// The plan as it is.
///
/// # Errors
/// Never.
pub(super) fn map_channels(plan: &StreamPlan) -> Result<StreamPlan, SourceError> {
    Ok(plan.clone())
}

/// Nothing to watch: a host that leaves the device says so itself.
pub(super) struct RouteWatch;

impl RouteWatch {
    /// Nothing to note.
    pub fn before_opening(_name: &InputName) -> Self {
        Self
    }

    /// Nothing to follow, and no conversion known.
    pub fn follow(self, _health: &Arc<StreamHealth>, _sample_rate_hz: u32) -> Option<String> {
        None
    }
}

/// As [`RouteWatch`], for a stream that plays.
pub(crate) struct PlaybackRoute;

impl PlaybackRoute {
    /// Nothing to note.
    pub fn before_opening(_host: &str) -> Self {
        Self
    }

    /// Nothing to follow.
    pub fn follow(
        self,
        _is_over: impl Fn() -> bool + Send + 'static,
        _moved: impl FnOnce() + Send + 'static,
    ) {
    }
}
