//! A virtual deck plays the same samples every time, however they are asked for.

use crate::{deck_model::deck, signal::read_stereo};
use proptest::prelude::*;
use trimwatch::source::virtual_deck::{VirtualDeck, built_in_names};

const RATE: u32 = 48_000;

#[test]
fn the_same_seed_gives_the_same_samples_and_another_gives_others() {
    let samples = |seed: u32| {
        let toml = include_str!("../../demo-data/finch-as-found.toml");
        let mut deck = deck(&toml.replace("seed = 31", &format!("seed = {seed}")));
        read_stereo(&mut deck, 10_000)
    };
    assert_eq!(samples(31), samples(31));
    assert_ne!(samples(31), samples(32));
}

/// The block lengths the issue names, and random ones.
#[test]
fn samples_do_not_depend_on_block_sizes() {
    let total = 30_000;
    for name in built_in_names() {
        for section in ["speed-3150", "pink-noise", "programme"] {
            let start = || {
                let deck = VirtualDeck::by_name_or_path(name, RATE).unwrap();
                deck.controls().choose_section(section).unwrap();
                deck
            };
            let whole = read_stereo(&mut start(), total);
            for block in [1, 64, 480, 4096] {
                let mut deck = start();
                let mut cut = Vec::new();
                while cut.len() < total {
                    cut.extend(read_stereo(&mut deck, block.min(total - cut.len())));
                }
                assert_eq!(cut, whole, "{name} {section} in blocks of {block}");
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 20, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn samples_do_not_depend_on_random_cuts(cuts in proptest::collection::vec(1_usize..3_000, 1..20)) {
        let start = || VirtualDeck::by_name_or_path("heron-as-found", RATE).unwrap();
        let whole = read_stereo(&mut start(), cuts.iter().sum());
        let mut deck = start();
        let cut: Vec<_> = cuts.iter().flat_map(|&frames| read_stereo(&mut deck, frames)).collect();
        prop_assert_eq!(cut, whole);
    }
}
