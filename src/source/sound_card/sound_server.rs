//! What is asked of a PulseAudio server (or PipeWire in its place) beside cpal, over a connection of our own.
//!
//! Two things that cpal cannot tell decide whether the right signal is measured. A server routes channels by their
//! *positions*: asked for 'front left, rear left' on an interface that calls its inputs 'aux 0, aux 1' it delivers
//! silence or a mixture. And when a device is unplugged the server moves our stream to another one and keeps it
//! running. The first is answered here by asking for channels by the positions they have, the second by watching
//! which source feeds our stream.

mod playback;

pub(crate) use playback::PlaybackRoute;

use super::{
    channel_layout::layout_with,
    choosing::StreamPlan,
    health::{StreamFault, StreamHealth},
    input::InputName,
    {ALSA_HOST, PULSE_HOST},
};
use crate::source::SourceError;
use pulseaudio::protocol::{
    self, Command, CommandReply, Prop, SourceInfo, SourceOutputInfo, SubscriptionMask,
};
use std::{
    collections::BTreeMap,
    io::{BufRead as _, BufReader, ErrorKind},
    os::unix::net::UnixStream,
    sync::{Arc, Weak},
    thread,
    time::Duration,
};

/// A server that takes longer to answer is taken not to be there.
const PATIENCE: Duration = Duration::from_secs(1);
/// The route is looked at when the server tells of a change, and this often in any case.
const LOOK_EVERY: Duration = Duration::from_millis(500);

/// A connection that asks and waits for the answer, but not for ever.
struct Link {
    socket: BufReader<UnixStream>,
    version: u16,
    asked: u32,
}

impl Link {
    fn connect() -> Option<Self> {
        let socket = UnixStream::connect(pulseaudio::socket_path_from_env()?).ok()?;
        socket.set_read_timeout(Some(PATIENCE)).ok()?;
        socket.set_write_timeout(Some(PATIENCE)).ok()?;
        let mut link = Self {
            socket: BufReader::new(socket),
            version: protocol::MAX_VERSION,
            asked: 0,
        };
        let cookie = pulseaudio::cookie_path_from_env().and_then(|path| std::fs::read(path).ok());
        let welcome: protocol::AuthReply = link.ask(&Command::Auth(protocol::AuthParams {
            version: protocol::MAX_VERSION,
            supports_shm: false,
            supports_memfd: false,
            cookie: cookie.unwrap_or_default(),
        }))?;
        link.version = protocol::MAX_VERSION.min(welcome.version);
        let mut about_us = protocol::Props::new();
        about_us.set(Prop::ApplicationName, c"trimwatch");
        let _: protocol::SetClientNameReply = link.ask(&Command::SetClientName(about_us))?;
        Some(link)
    }

    fn ask<R: CommandReply>(&mut self, question: &Command) -> Option<R> {
        let number = self.asked;
        self.asked += 1;
        protocol::write_command_message(self.socket.get_mut(), number, question, self.version)
            .ok()?;
        let (answered, reply) =
            protocol::read_reply_message(&mut self.socket, self.version).ok()?;
        (answered == number).then_some(reply)
    }

    /// From here on the server tells of changes, and [`Self::wait_for_news`] is the only thing to do.
    fn subscribe(mut self, changes: SubscriptionMask) -> Option<Self> {
        let question = Command::Subscribe(changes);
        protocol::write_command_message(self.socket.get_mut(), self.asked, &question, self.version)
            .ok()?;
        protocol::read_ack_message(&mut self.socket).ok()?;
        self.socket
            .get_ref()
            .set_read_timeout(Some(LOOK_EVERY))
            .ok()?;
        Some(self)
    }

    /// Waits for a change, or until it is time to look anyway. Returns whether the server is still there.
    fn wait_for_news(&mut self) -> bool {
        // Only a message that has begun is read, so that the time does not run out in the middle of one.
        match self.socket.fill_buf() {
            Ok([]) => false,
            Ok(_) => protocol::read_command_message(&mut self.socket, self.version).is_ok(),
            Err(error) => matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut),
        }
    }

    fn sources(&mut self) -> Option<Vec<SourceInfo>> {
        self.ask(&Command::GetSourceInfoList)
    }

    /// The streams of this process, and the source that feeds each.
    fn our_streams(&mut self) -> Option<BTreeMap<u32, u32>> {
        let all: Vec<SourceOutputInfo> = self.ask(&Command::GetSourceOutputInfoList)?;
        let ours = all.into_iter().filter(|stream| is_ours(&stream.props));
        Some(
            ours.map(|stream| (stream.index, stream.source_index))
                .collect(),
        )
    }
}

/// Whether a stream belongs to this process.
fn is_ours(props: &protocol::Props) -> bool {
    let us = std::process::id().to_string();
    props
        .get(Prop::ApplicationProcessId)
        .is_some_and(|id| id.strip_suffix(b"\0").unwrap_or(id) == us.as_bytes())
}

/// The plan with the channels asked for in a way that makes the server hand them over as they are.
///
/// # Errors
/// When the picked channels cannot be had in one stream.
pub(super) fn map_channels(plan: &StreamPlan) -> Result<StreamPlan, SourceError> {
    let mut mapped = plan.clone();
    let positions = (plan.name.host == PULSE_HOST)
        .then(Link::connect)
        .flatten()
        .and_then(|mut link| link.sources())
        .and_then(|sources| {
            let source = sources
                .into_iter()
                .find(|source| is_called(source, &plan.name))?;
            Some(source.channel_map.into_iter().collect::<Vec<_>>())
        });
    if let Some(positions) = positions {
        let (channels, picks) = layout_with(&positions, &plan.picks).ok_or_else(|| {
            SourceError(format!(
                "the sound server cannot hand over these channels of {} unmixed: pick others, or open the \
                 interface through ALSA",
                plan.name.description()
            ))
        })?;
        mapped.device_channels = channels;
        mapped.picks = picks;
    }
    Ok(mapped)
}

fn is_called(source: &SourceInfo, name: &InputName) -> bool {
    let device = name.id.split_once(':').map_or("", |(_, device)| device);
    source.name.as_bytes() == device.as_bytes()
}

/// Watches whether our stream stays on the source it was opened on.
pub(super) struct RouteWatch(Option<(Link, BTreeMap<u32, u32>)>);

impl RouteWatch {
    /// Notes which streams this process has already. Where no sound server answers, nothing will be watched.
    pub fn before_opening(name: &InputName) -> Self {
        if ![PULSE_HOST, ALSA_HOST].contains(&name.host.as_str()) {
            return Self(None);
        }
        Self(Link::connect().and_then(|mut link| {
            let ours = link.our_streams()?;
            Some((link, ours))
        }))
    }

    /// Watches the streams that have come since, if any, until `health` is closed or gone. Returns what the server
    /// does to the samples on the way, in words, if it is known to convert.
    pub fn follow(self, health: &Arc<StreamHealth>, sample_rate_hz: u32) -> Option<String> {
        let (mut link, before) = self.0?;
        let mut new_streams = || {
            let mut routes = link.our_streams()?;
            routes.retain(|stream, _| !before.contains_key(stream));
            (!routes.is_empty()).then_some(routes)
        };
        // Most streams through ALSA lead to no server. The others are looked at again once news are sure to come.
        new_streams()?;
        let news = Link::connect()?
            .subscribe(SubscriptionMask::SOURCE | SubscriptionMask::SOURCE_OUTPUT)?;
        let routes = new_streams()?;
        let feeding = *routes.values().next()?;
        let source = link
            .sources()?
            .into_iter()
            .find(|source| source.index == feeding)?;
        let health = Arc::downgrade(health);
        // Without the thread there is only no watch.
        let _detached = thread::Builder::new()
            .name("input route".into())
            .spawn(move || watch(link, news, &routes, &health));
        let source_rate_hz = source.sample_spec.sample_rate;
        (source_rate_hz != sample_rate_hz)
            .then(|| format!("converted from {source_rate_hz} Hz by the sound server"))
    }
}

fn watch(mut link: Link, mut news: Link, routes: &BTreeMap<u32, u32>, health: &Weak<StreamHealth>) {
    while news.wait_for_news() {
        let Some(health) = health.upgrade().filter(|health| !health.is_closed()) else {
            return;
        };
        // A server that has died also ends the stream, which is noticed elsewhere.
        let Some(now) = link.our_streams() else {
            return;
        };
        let moved = |(stream, source)| now.get(stream).is_some_and(|now| now != source);
        if routes.iter().any(moved) {
            // Not a sample more of the other input.
            health.close();
            health.note_fault(StreamFault::Rerouted);
            return;
        }
    }
}
