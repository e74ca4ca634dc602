//! Which channels to ask of a PulseAudio server so that the picked ones arrive unmixed.
//!
//! A server gives a stream's channels what the source has at the same *position*, and mixes for positions that only
//! one side has. cpal names the positions from the number of channels alone, so the number is what can be chosen.

use pulseaudio::protocol::ChannelPosition;

/// Finds a number of channels for which cpal names positions that include the picked ones. Returns it with the places
/// of the picked channels. Where other channels of the source could be mixed into them the layout must have room
/// for all; channels without a direction ('aux') are never mixed.
pub(super) fn layout_with(
    source: &[ChannelPosition],
    picks: &[usize],
) -> Option<(u16, Vec<usize>)> {
    let wanted: Vec<_> = picks
        .iter()
        .map(|&pick| source.get(pick).copied())
        .collect::<Option<_>>()?;
    let unique = |position| source.iter().filter(|&&other| other == position).count() == 1;
    if !wanted.iter().all(|&position| unique(position)) {
        return None;
    }
    let same_number = u16::try_from(source.len()).ok()?;
    std::iter::once(same_number)
        .chain(1..=31)
        .find_map(|channels| {
            let layout = cpal_positions(channels);
            let unmixed = wanted.iter().all(|&position| is_aux(position))
                || source
                    .iter()
                    .all(|position| is_aux(*position) || layout.contains(position));
            let places = wanted
                .iter()
                .map(|position| layout.iter().position(|other| other == position))
                .collect::<Option<_>>()?;
            unmixed.then_some((channels, places))
        })
}

fn is_aux(position: ChannelPosition) -> bool {
    (ChannelPosition::Aux0 as u8..=ChannelPosition::Aux31 as u8).contains(&(position as u8))
}

/// The positions that cpal's PulseAudio host names for a number of channels.
fn cpal_positions(channels: u16) -> Vec<ChannelPosition> {
    use ChannelPosition::{
        Aux0, Aux1, Aux2, Aux3, Aux4, Aux5, Aux6, Aux7, Aux8, Aux9, Aux10, Aux11, Aux12, Aux13,
        Aux14, Aux15, Aux16, Aux17, Aux18, Aux19, Aux20, Aux21, Aux22, Aux23, Aux24, Aux25, Aux26,
        Aux27, Aux28, Aux29, Aux30, Aux31, FrontCenter, FrontLeft, FrontRight, Lfe, Mono,
        RearCenter, RearLeft, RearRight, SideLeft, SideRight, TopFrontLeft, TopFrontRight,
        TopRearLeft, TopRearRight,
    };
    let named: &[ChannelPosition] = match channels {
        1 => &[Mono],
        2 => &[FrontLeft, FrontRight],
        3 => &[FrontLeft, FrontRight, FrontCenter],
        4 => &[FrontLeft, FrontRight, RearLeft, RearRight],
        5 => &[FrontLeft, FrontRight, FrontCenter, RearLeft, RearRight],
        6 => &[FrontLeft, FrontRight, FrontCenter, Lfe, RearLeft, RearRight],
        7 => &[
            FrontLeft,
            FrontRight,
            FrontCenter,
            Lfe,
            RearLeft,
            RearRight,
            RearCenter,
        ],
        8 | 10 | 12 => &[
            FrontLeft,
            FrontRight,
            FrontCenter,
            Lfe,
            RearLeft,
            RearRight,
            SideLeft,
            SideRight,
            TopFrontLeft,
            TopFrontRight,
            TopRearLeft,
            TopRearRight,
        ][..usize::from(channels)],
        _ => &[
            Aux0, Aux1, Aux2, Aux3, Aux4, Aux5, Aux6, Aux7, Aux8, Aux9, Aux10, Aux11, Aux12, Aux13,
            Aux14, Aux15, Aux16, Aux17, Aux18, Aux19, Aux20, Aux21, Aux22, Aux23, Aux24, Aux25,
            Aux26, Aux27, Aux28, Aux29, Aux30, Aux31,
        ],
    };
    named.iter().copied().take(usize::from(channels)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use ChannelPosition::{
        Aux0, Aux1, Aux2, Aux3, Aux7, FrontLeft, FrontRight, Lfe, Mono, RearLeft, RearRight,
    };

    fn aux(channels: u8) -> Vec<ChannelPosition> {
        cpal_positions(31)[..usize::from(channels)].to_vec()
    }

    #[test]
    fn usual_layouts_are_asked_for_as_they_are() {
        assert_eq!(layout_with(&[Mono], &[0]), Some((1, vec![0])));
        assert_eq!(
            layout_with(&[FrontLeft, FrontRight], &[0, 1]),
            Some((2, vec![0, 1]))
        );
        let four = [FrontLeft, FrontRight, RearLeft, RearRight];
        assert_eq!(layout_with(&four, &[3, 2]), Some((4, vec![3, 2])));
    }

    #[test]
    fn channels_without_a_direction_are_asked_for_in_a_layout_that_has_them() {
        assert_eq!(layout_with(&aux(2), &[0, 1]), Some((9, vec![0, 1])));
        assert_eq!(layout_with(&aux(4), &[2, 3]), Some((9, vec![2, 3])));
        assert_eq!(layout_with(&aux(10), &[8, 9]), Some((11, vec![8, 9])));
        assert_eq!(layout_with(&aux(18), &[16, 17]), Some((18, vec![16, 17])));
    }

    #[test]
    fn an_interface_that_has_both_kinds_gives_either_but_not_one_of_each() {
        let mut both = vec![FrontLeft, FrontRight];
        both.extend([Aux0, Aux1, Aux2, Aux3]);
        assert_eq!(layout_with(&both, &[0, 1]), Some((6, vec![0, 1])));
        assert_eq!(layout_with(&both, &[4, 5]), Some((9, vec![2, 3])));
        assert_eq!(layout_with(&both, &[1, 2]), None);
    }

    #[test]
    fn what_could_be_mixed_in_has_a_place_of_its_own() {
        // Two channels would be enough for the picks, but the server would mix the other four into them.
        let shuffled = [RearRight, FrontRight, FrontLeft, RearLeft];
        assert_eq!(layout_with(&shuffled, &[2, 1]), Some((4, vec![0, 1])));
        let with_bass = [FrontLeft, FrontRight, Lfe];
        assert_eq!(layout_with(&with_bass, &[0, 1]), Some((6, vec![0, 1])));
    }

    #[test]
    fn what_cannot_be_told_apart_is_refused() {
        assert_eq!(layout_with(&[Mono, Mono], &[0, 1]), None);
        assert_eq!(layout_with(&[FrontLeft, FrontRight], &[0, 2]), None);
        assert_eq!(layout_with(&[Aux7, Aux0], &[0]), Some((9, vec![7])));
    }
}
