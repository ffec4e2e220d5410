//! Both ends are killed at random moments while frames come: what the listener's disk took is at the record, once, and
//! what is derived is what one machine would have made of it.

use super::houses::{alike, code, frames, handing_on, heard, join, receiving, wait_for};
use crate::harness::command::{Home, Noise};
use std::time::Duration;

/// How often one of the two is killed; `QUIETCUFF_KILLS` says more.
const KILLS: u32 = 16;
const FRAMES_A_KILL: u32 = 40;

#[test]
fn either_end_is_killed_and_nothing_is_lost_or_doubled() {
    let kills = std::env::var("QUIETCUFF_KILLS").map_or(KILLS, |kills| kills.parse().unwrap());
    let (record, away, alone) = (Home::new(), Home::new(), Home::new());
    heard(&away, &frames(0, 1));
    let (mut door, at) = receiving(&record, "127.0.0.1:0");
    join(&away, &code(&record, &at, "bedroom")).good();
    let mut errand = handing_on(&away);
    let mut noise = Noise(41);
    for kill in 0..kills {
        // In parts, so that a kill meets one on its way.
        for part in 0..4 {
            let first = 1 + kill * FRAMES_A_KILL + part * (FRAMES_A_KILL / 4);
            heard(&away, &frames(first, FRAMES_A_KILL / 4));
            std::thread::sleep(Duration::from_millis(noise.below(15) as u64));
        }
        if noise.below(2) == 0 {
            door.kill();
            (door, _) = receiving(&record, &at);
        } else {
            errand.kill();
            errand = handing_on(&away);
        }
    }
    let all = 1 + kills * FRAMES_A_KILL;
    wait_for(&record, all as usize);
    heard(&alone, &frames(0, all));
    alike(&record, &alone);
    println!("{kills} kills, {all} frames, each at the record once");
}
