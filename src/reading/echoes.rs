//! One indication that was heard twice: told by BlueZ, and overheard beside it.
//!
//! Such a pair is one record, and has to be told apart from a record that the monitor sent twice. An
//! overheard frame is the echo of a told one with the same characteristic and octets on the same connection,
//! when their receipts lie within [`ECHO_WINDOW`]. The pairs are one to one, the earliest first, so that of
//! two equal records that were both sent each keeps its own. The told frame stands and names the record; its
//! echo is as if it had never been heard, whichever of the two reached the journal first. An overheard frame
//! that has no told one is a frame like any other.

use super::Received;
use crate::gatt::Characteristic;
use jiff::SignedDuration;
use std::collections::{BTreeMap, BTreeSet};

/// The longest time between the receipts of a told frame and its echo. Both ways begin in the kernel and are
/// over within a tenth of a second; a machine that is out of breath takes longer. The window is shorter than
/// the 20 s in which a cuff can measure twice, so that two measurements are never one.
pub const ECHO_WINDOW: SignedDuration = SignedDuration::from_secs(5);

/// The told and the overheard frames of one value, as places in the connection.
#[derive(Default)]
struct Both {
    told: Vec<usize>,
    overheard: Vec<usize>,
}

/// The places of a connection's frames, in [`Received::order`], that are echoes.
pub(super) fn echoes(frames: &[Received<'_>]) -> BTreeSet<usize> {
    let mut found = BTreeSet::new();
    if !frames.iter().any(|received| received.frame.overheard) {
        return found;
    }
    let mut values: BTreeMap<(Characteristic, &[u8]), Both> = BTreeMap::new();
    for (place, received) in frames.iter().enumerate() {
        let frame = received.frame;
        let both = values.entry((frame.characteristic, &frame.value)).or_default();
        if frame.overheard {
            both.overheard.push(place);
        } else {
            both.told.push(place);
        }
    }
    let at = |place: usize| frames.get(place).map(|received| received.at).unwrap_or_default();
    for both in values.values() {
        let mut told = both.told.iter().copied().peekable();
        for &overheard in &both.overheard {
            let heard = at(overheard);
            while told
                .next_if(|told| heard.duration_since(at(*told)) > ECHO_WINDOW)
                .is_some()
            {}
            if told
                .next_if(|told| at(*told).duration_since(heard) <= ECHO_WINDOW)
                .is_some()
            {
                found.insert(overheard);
            }
        }
    }
    found
}
