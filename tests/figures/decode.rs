//! How fast full 0x2A35 frames decode on one core, with a plain copy of the same octets beside it as the limit.

use crate::table::{Aim, Table};
use quietcuff::gatt::BloodPressureMeasurement;
use std::hint::black_box;
use std::time::{Duration, Instant};

/// A full frame: every field that 0x2A35 has.
const FRAME_OCTETS: usize = 19;
/// As many as fit the first-level cache several times over, so that neither side measures memory.
const FRAMES: usize = 1024;
/// Frames of one window: a fifth of a millisecond, long against the clock's own cost and short against the time for
/// which the kernel leaves a process alone.
const ROUNDS: usize = 16;
/// Another process on the core makes a window slower, never faster, so the best of many is the core's own speed.
const WINDOWS: usize = 4000;
/// What a run must reach (million frames a second).
const TARGET: f64 = 50.0;

pub(crate) fn measure(table: &mut Table) {
    // Every frame differs, so that the branch predictor learns the layout and not the values.
    let frames: Vec<[u8; FRAME_OCTETS]> = (0u32..)
        .take(FRAMES)
        .map(|n| {
            let [a, b, ..] = n.to_le_bytes();
            [
                0x1e,
                0x78 ^ a,
                0,
                0x50 ^ b,
                0,
                0xa5,
                0xf3,
                0xea,
                0x07,
                3,
                1,
                7,
                2,
                a % 60,
                0x48,
                0,
                1,
                4,
                0,
            ]
        })
        .collect();

    let mut best_decode = Duration::MAX;
    let mut best_copy = Duration::MAX;
    let mut copied = [0; FRAME_OCTETS];
    for _ in 0..WINDOWS {
        best_decode = best_decode.min(time(|| {
            for frame in black_box(&frames) {
                let _ = black_box(BloodPressureMeasurement::decode(black_box(frame)));
            }
        }));
        best_copy = best_copy.min(time(|| {
            for frame in black_box(&frames) {
                copied.copy_from_slice(black_box(frame));
                black_box(&copied);
            }
        }));
    }
    let (decode, copy) = (rate(best_decode), rate(best_copy));
    let (decode, copy) = (decode / 1e6, copy / 1e6);
    let what = "full 0x2A35 frames decoded, million a second";
    table
        .limit(what, decode, "M/s", TARGET, Aim::AtLeast(1.0))
        .binds();
    table.row(what, decode, "M/s", (copy, "copying the same octets"), Aim::None);
}

fn time(mut round: impl FnMut()) -> Duration {
    let start = Instant::now();
    for _ in 0..ROUNDS {
        round();
    }
    start.elapsed()
}

#[expect(clippy::cast_precision_loss, reason = "sixteen thousand is exact in a float")]
fn rate(time: Duration) -> f64 {
    (FRAMES * ROUNDS) as f64 / time.as_secs_f64()
}
