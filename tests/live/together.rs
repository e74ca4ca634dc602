//! Several inputs at once: each hears its own piece, to the bit.

use crate::{
    capture::{Capture, locate, same_frames},
    server::{Server, Sink},
};
use std::{path::PathBuf, thread, time::Duration};
use trimwatch::{readings::SourceDescription, source::sound_card::InputChoice};

/// What is played where, and what must arrive.
pub struct Piece {
    pub sink: Sink,
    pub file: PathBuf,
    pub choice: InputChoice,
    /// Interleaved, in the channels that are captured.
    pub expected: Vec<f32>,
}

/// Plays every piece once into its sink while all inputs are captured. Returns what each input ran as.
pub fn assert_all_arrive(server: &Server, pieces: &[Piece]) -> Vec<SourceDescription> {
    let mut captures: Vec<Capture> = thread::scope(|scope| {
        let opening: Vec<_> = pieces
            .iter()
            .map(|piece| scope.spawn(|| Capture::open(&piece.choice)))
            .collect();
        let opened = opening.into_iter().map(|capture| capture.join());
        opened.map(|capture| capture.expect("opens")).collect()
    });
    let mut files: Vec<_> = pieces
        .iter()
        .map(|piece| (piece.sink, &piece.file))
        .collect();
    files.dedup_by_key(|(sink, _)| sink.name);
    let mut players: Vec<_> = files
        .iter()
        .map(|(sink, file)| server.play(sink, file))
        .collect();
    let mut ended = false;
    for _ in 0..2_000 {
        for capture in &mut captures {
            capture.run_for(Duration::ZERO);
        }
        if ended {
            break;
        }
        let mut has_ended = players.iter_mut().map(|player| player.try_wait());
        ended = has_ended.all(|player| player.expect("the player can be asked").is_some());
        // Then once more, for what was on its way.
        thread::sleep(Duration::from_millis(if ended { 500 } else { 10 }));
    }
    assert!(ended, "the players do not end");
    for (piece, capture) in pieces.iter().zip(&captures) {
        let segment = capture.latest();
        let channels = usize::from(segment.description.channels);
        let what = format!("{:?} from {:?}", piece.choice, piece.sink);
        let start = locate(&segment.samples, &piece.expected, channels)
            .unwrap_or_else(|| panic!("{what}: the piece is not there as it was played"));
        let same = same_frames(
            &segment.samples[channels * start..],
            &piece.expected,
            channels,
        );
        assert_eq!(same, piece.expected.len() / channels, "{what}");
        segment.assert_whole();
    }
    captures
        .iter()
        .map(|capture| capture.latest().description.clone())
        .collect()
}
