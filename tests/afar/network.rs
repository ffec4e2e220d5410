//! One record and three listeners, each in a network namespace of its own on the kernel's own bridge, through a simulated
//! month: links go down, either end is killed, a disk is full, and the record is put back from a backup. The network is
//! iproute2's and the kernel's; the monitors are simulated by production code.

use super::houses::{Role, alike, code, derived, filled, heard, held, put_back, small_disk, state, wait_for};
use crate::harness::command::{Home, Noise, first_line};
use crate::harness::left_out::{left_out, program};
use jiff::civil::date;
use jiff::tz::TimeZone;
use quietcuff::frame::Frame;
use quietcuff::journal::Journal;
use quietcuff::radio::simulated::Household;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

const LISTENERS: usize = 3;
const DAYS: u16 = 30;
const RECORD: &str = "10.77.0.1:8419";
/// So many bursts pass while a link is down.
const BURSTS_APART: usize = 9;

/// Machines on one bridge.
struct Network {
    name: String,
    machines: usize,
}

fn ip(words: &str) -> bool {
    Command::new("ip")
        .args(words.split(' '))
        .output()
        .is_ok_and(|ran| ran.status.success())
}

impl Network {
    /// `None` where this may not be made here.
    fn of(machines: usize) -> Option<Self> {
        let network = Self {
            name: format!("qc{}", std::process::id()),
            machines,
        };
        let hub = network.hub();
        let mut made = ip(&format!("netns add {hub}"))
            && ip(&format!("-n {hub} link add bridge type bridge"))
            && ip(&format!("-n {hub} link set bridge up"));
        for machine in 0..machines {
            let own = network.namespace(machine);
            made = made
                && ip(&format!("netns add {own}"))
                && ip(&format!(
                    "-n {hub} link add m{machine} type veth peer name eth0 netns {own}"
                ))
                && ip(&format!("-n {hub} link set m{machine} master bridge up"))
                && ip(&format!("-n {own} addr add 10.77.0.{}/24 dev eth0", machine + 1))
                && ip(&format!("-n {own} link set eth0 up"));
        }
        made.then_some(network)
    }

    fn hub(&self) -> String {
        format!("{}-hub", self.name)
    }

    fn namespace(&self, machine: usize) -> String {
        format!("{}-{machine}", self.name)
    }

    /// Whether anything comes to a machine, or from it.
    fn link(&self, machine: usize, up: bool) {
        let way = if up { "up" } else { "down" };
        assert!(ip(&format!("-n {} link set m{machine} {way}", self.hub())));
    }

    /// A command as it runs on that machine.
    fn on(&self, machine: usize, command: &Command) -> Command {
        let mut there = Command::new("ip");
        there
            .args(["netns", "exec", &self.namespace(machine)])
            .arg(command.get_program())
            .args(command.get_args())
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap_or_default())
            .stdin(Stdio::null())
            .stderr(Stdio::null());
        for (name, value) in command.get_envs() {
            there.env(name, value.unwrap_or_default());
        }
        there
    }
}

impl Drop for Network {
    fn drop(&mut self) {
        for name in (0..self.machines)
            .map(|machine| self.namespace(machine))
            .chain([self.hub()])
        {
            ip(&format!("netns del {name}"));
        }
    }
}

/// The record's machine is the first.
struct Village {
    network: Network,
    record: Home,
    door: Role,
    away: Vec<(Home, Role)>,
}

impl Village {
    fn begin(network: Network, record: Home, away: Vec<Home>) -> Self {
        let door = door(&network, &record);
        let away = (1..).zip(away).map(|(machine, home)| {
            let invitation = code(&record, RECORD, "room");
            let mut join = network.on(machine, &home.command(&["record", "join", &invitation]));
            assert!(join.stdout(Stdio::null()).status().unwrap().success());
            let errand = errand(&network, machine, &home);
            (home, errand)
        });
        let away = away.collect();
        Self {
            network,
            record,
            door,
            away,
        }
    }

    fn kill(&mut self, machine: usize) {
        match machine.checked_sub(1) {
            None => {
                self.door.kill();
                self.door = door(&self.network, &self.record);
            }
            Some(nth) => {
                let (home, errand_) = &mut self.away[nth];
                errand_.kill();
                *errand_ = errand(&self.network, machine, home);
            }
        }
    }

    /// The record as it was when the backup was made, and open again.
    fn back_to(&mut self, backup: &Path) {
        self.door.kill();
        put_back(&self.record, backup);
        for nth in 1..=LISTENERS {
            self.record
                .run(&["listeners", "confirm", &format!("l{nth}")])
                .good();
        }
        self.door = door(&self.network, &self.record);
    }
}

fn door(network: &Network, record: &Home) -> Role {
    let command = record.command(&["listeners", "receive", "--listen", RECORD]);
    // A port that was just given up is free again in a moment.
    for _ in 0..200 {
        let mut child = network.on(0, &command).stdout(Stdio::piped()).spawn().unwrap();
        if first_line(&mut child) == RECORD {
            return Role::of(child);
        }
        let _ = child.wait();
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    panic!("the record's door does not open");
}

fn errand(network: &Network, machine: usize, home: &Home) -> Role {
    let mut command = network.on(machine, &home.command(&["record", "hand-on"]));
    Role::of(command.stdout(Stdio::null()).spawn().unwrap())
}

/// A month of a simulated household, a connection at a time; both homes know its people and its monitors.
fn month(homes: [&Home; 2]) -> Vec<Vec<Frame>> {
    let household = Household::demonstration(date(2026, 3, 1), TimeZone::UTC);
    let stated = household.statements("seven-day");
    let frames = household.live(72, DAYS).frames;
    for home in homes {
        let mut journal = Journal::open(&state(home)).unwrap();
        journal.state(frames[0].received_at, &stated).unwrap();
    }
    frames
        .chunk_by(|a, b| (&a.monitor, a.connection) == (&b.monitor, b.connection))
        .map(<[Frame]>::to_vec)
        .collect()
}

/// The disk is full until there is room again: what was not kept is not confirmed, and the monitor sends it again.
fn on_a_full_disk(home: &Home, burst: &[Frame]) {
    let filler = filled(&state(home));
    let kept = Journal::open(&state(home)).and_then(|mut journal| journal.append(burst));
    assert!(kept.is_err(), "there was room");
    fs::remove_file(&filler).unwrap();
}

#[test]
fn a_month_in_three_rooms_is_as_if_one_had_heard_it() {
    if !program("ip", "machines on a network of the test's own") {
        return;
    }
    let Some(network) = Network::of(LISTENERS + 1) else {
        left_out(
            "machines on a network of the test's own",
            "only root can make network namespaces, and not in every container",
        );
        return;
    };
    let (record, alone) = (Home::new(), Home::new());
    let away: Vec<Home> = (0..LISTENERS).map(|_| Home::new()).collect();
    // The disk of the first room is small.
    let small = away[0].path("card");
    let Some(_card) = small_disk(&away[0], &small) else {
        return;
    };
    let bursts = month([&record, &alone]);
    let mut village = Village::begin(network, record, away);
    let backup = village.record.path("copy.sqlite");
    let (mut noise, mut down) = (Noise(7), None);
    let mut faults = [0_usize; 4];
    for (nth, burst) in bursts.iter().enumerate() {
        // A monitor is carried from room to room.
        let room = noise.below(LISTENERS);
        match noise.below(8) {
            0 => {
                village.kill(noise.below(LISTENERS + 1));
                faults[0] += 1;
            }
            1 if down.is_none() => {
                let machine = noise.below(LISTENERS + 1);
                village.network.link(machine, false);
                down = Some((machine, nth + BURSTS_APART));
                faults[1] += 1;
            }
            2 if room == 0 => {
                on_a_full_disk(&village.away[0].0, burst);
                faults[2] += 1;
            }
            _ => {}
        }
        if let Some((machine, until)) = down
            && until <= nth
        {
            village.network.link(machine, true);
            down = None;
        }
        if nth == bursts.len() / 2 {
            village
                .record
                .run(&["backup", "--output", backup.to_str().unwrap()])
                .good();
        }
        if nth == bursts.len() * 3 / 4 {
            village.back_to(&backup);
            faults[3] += 1;
        }
        heard(&village.away[room].0, burst);
    }
    if let Some((machine, _)) = down {
        village.network.link(machine, true);
    }
    assert!(faults.iter().all(|times| *times > 0), "{faults:?}");
    let all = bursts.concat();
    wait_for(&village.record, all.len());
    heard(&alone, &all);
    alike(&village.record, &alone);
    assert_eq!(held(&village.record), held(&alone));
    println!(
        "{} frames, {} readings; killed {}, links down {}, disks full {}, records put back {}",
        all.len(),
        derived(&alone)[1].1.len(),
        faults[0],
        faults[1],
        faults[2],
        faults[3]
    );
}
