//! The sound card source against a real audio server.
//!
//! A private PulseAudio daemon with a null sink stands in for the interface: what is played into the sink is captured
//! from its monitor, through cpal, by both ways that lead there (the server's own protocol, and ALSA's plugin). Each
//! test runs in a process of its own with a daemon of its own, one after the other.
//!
//! `TRIMWATCH_LIVE_SECONDS` sets the length of the captures (8; the long check takes 60). Without the `pulseaudio`
//! program the tests are skipped and say so, unless `TRIMWATCH_REQUIRE_LIVE=1`.
#![cfg(target_os = "linux")]
#![allow(clippy::print_stdout, reason = "what a test saw belongs in its output")]

mod apart;
mod capture;
mod channels;
mod formats;
mod guide;
mod listing;
mod outage;
mod readings;
mod server;
mod take;
mod together;
mod whole_take;
