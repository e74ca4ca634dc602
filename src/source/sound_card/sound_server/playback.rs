//! Watches whether a stream that plays stays on the output it was opened on.

use super::{ALSA_HOST, Link, PULSE_HOST, is_ours};
use pulseaudio::protocol::{Command, SinkInputInfo, SubscriptionMask};
use std::{collections::BTreeMap, thread};

impl Link {
    /// The playing streams of this process, and the sink each goes to.
    fn our_playing_streams(&mut self) -> Option<BTreeMap<u32, u32>> {
        let all: Vec<SinkInputInfo> = self.ask(&Command::GetSinkInputInfoList)?;
        let ours = all.into_iter().filter(|stream| is_ours(&stream.props));
        Some(
            ours.map(|stream| (stream.index, stream.sink_index))
                .collect(),
        )
    }
}

/// The way of a stream that plays.
pub(crate) struct PlaybackRoute(Option<(Link, BTreeMap<u32, u32>)>);

impl PlaybackRoute {
    /// Notes which streams this process plays already. Where no sound server answers, nothing will be watched.
    pub fn before_opening(host: &str) -> Self {
        if ![PULSE_HOST, ALSA_HOST].contains(&host) {
            return Self(None);
        }
        Self(Link::connect().and_then(|mut link| {
            let ours = link.our_playing_streams()?;
            Some((link, ours))
        }))
    }

    /// Watches the streams that have come since, if any, until `is_over`; calls `moved` when one is moved.
    pub fn follow(
        self,
        is_over: impl Fn() -> bool + Send + 'static,
        moved: impl FnOnce() + Send + 'static,
    ) {
        let _nothing_to_watch = self.try_follow(is_over, moved);
    }

    fn try_follow(
        self,
        is_over: impl Fn() -> bool + Send + 'static,
        moved: impl FnOnce() + Send + 'static,
    ) -> Option<()> {
        let (mut link, before) = self.0?;
        let mut news =
            Link::connect()?.subscribe(SubscriptionMask::SINK | SubscriptionMask::SINK_INPUT)?;
        let mut routes = link.our_playing_streams()?;
        routes.retain(|stream, _| !before.contains_key(stream));
        if routes.is_empty() {
            return None;
        }
        let watch = move || {
            while news.wait_for_news() && !is_over() {
                // A server that has died also ends the stream, which is noticed elsewhere.
                let Some(now) = link.our_playing_streams() else {
                    return;
                };
                let has_moved = |(stream, sink)| now.get(stream).is_some_and(|now| now != sink);
                if routes.iter().any(has_moved) {
                    moved();
                    return;
                }
            }
        };
        // Without the thread there is only no watch.
        let _detached = thread::Builder::new()
            .name("output route".into())
            .spawn(watch);
        Some(())
    }
}
