//! What happened, and the record held against it.

use crate::years::coverage::Coverage;
use crate::years::device::Device;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use quietcuff::gatt::Unit;
use quietcuff::household::Posed;
use std::collections::{BTreeMap, HashMap};
use std::rc::Rc;

/// One measurement as it was.
#[derive(Debug)]
pub(crate) struct Truth {
    pub(crate) device: usize,
    /// Who had the cuff on.
    pub(crate) person: usize,
    /// The index that was sent with it.
    pub(crate) index: Option<u8>,
    pub(crate) end: Timestamp,
    /// Systolic, diastolic and pulse as displayed.
    pub(crate) shown: Option<[i16; 3]>,
    pub(crate) status: u16,
    /// The stamp is made up, so that no time can be told.
    pub(crate) lie: Option<Lie>,
    /// How often the monitor was told that it had arrived.
    pub(crate) confirmed: u32,
    /// How often it was committed.
    pub(crate) kept: u32,
    /// It was confirmed and then gone with the gateway's power, before it was committed.
    pub(crate) gone: bool,
    /// When it was first committed as received.
    pub(crate) received: Option<Timestamp>,
    /// How long the monitor's clock had not been seen before then.
    pub(crate) unseen_since: Option<Timestamp>,
    /// Whether its time can be told at all from what the gateway was given.
    pub(crate) sure: bool,
    /// By whose clock.
    pub(crate) receipt: Receipt,
    pub(crate) assigned: Option<usize>,
    pub(crate) timed: Option<Timestamp>,
    pub(crate) discarded: bool,
    /// How the person was, by the household's last word; `None` is seated.
    pub(crate) posed: Option<Posed>,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Lie {
    Impossible,
    Future,
}

/// What the gateway's own clock was worth.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Receipt {
    Right,
    /// It does not know the time yet.
    NotYet,
    /// It went down before it did.
    Never,
}

/// A reading of the record, and which measurement it is.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) truth: usize,
    pub(crate) id: String,
    pub(crate) person: Option<usize>,
    pub(crate) at: Option<Timestamp>,
    /// When its frame came, as the record has it now.
    pub(crate) received: Timestamp,
    source: String,
    pub(crate) seconds: bool,
    pub(crate) averaged: bool,
}

/// What the readings of some days come to.
#[derive(Debug)]
pub(crate) struct Expected {
    /// Of each kind that is not seated: how many count, and their means.
    pub(crate) kinds: Vec<(&'static str, usize, [f64; 2])>,
    /// That count, in a session or not.
    pub(crate) counted: usize,
    /// That are averaged.
    pub(crate) n: usize,
    /// Of those, that go towards the minimum.
    pub(crate) towards: usize,
    pub(crate) days: usize,
    pub(crate) systolic: f64,
    pub(crate) diastolic: f64,
}

/// How far a time may be from the truth where the monitor's clock was read: it and the stamp are cut off to the second,
/// and two seconds count as noise.
const CLOCK_S: f64 = 4.0;
/// Where it was not read, a reading may have been on its way for so long and still be taken for live.
const LIVE_S: f64 = 300.0;
/// So far a stamp may lie ahead of its receipt on a clock that people set.
const AHEAD_S: f64 = 120.0;
/// So much a clock may have lost and still be seen to be right.
pub(crate) const FOLLOWED_S: f64 = 50.0;
/// Of a clock that nobody can read, a reading that looks live tells anew how far it is off, and what differs by less
/// than this from what was known is taken for drift: a record that only looks live leads it so far from how it was set.
/// In home 1048 one did, after fourteen months without a live one.
const DRIFTED_S: f64 = 600.0;
/// A correction of the monitor's clock that is not told from none.
const CORRECTED_S: f64 = 60.0;
/// A stamp in whole minutes.
const MINUTE_S: f64 = 60.0;
/// The rest between two measurements (NICE NG136 1.2.7).
const REST_S: i64 = 60;

/// Everything that was sent, by which octets: a stamped record is its octets.
pub(crate) type Groups = HashMap<(usize, Rc<[u8]>), Vec<usize>>;

/// Whose it is by the household's word: of an index, as it held when the reading was taken, by the record, or when it
/// came.
fn owner(truth: &Truth, device: &Device, at: Timestamp) -> Option<usize> {
    truth.assigned.or_else(|| match truth.index {
        Some(index) => device.whose(index, at),
        None => device.usual,
    })
}

/// Whether it may be from before its index changed hands, or from after that, of changes up to that moment: of unknown
/// time, or within a day by a clock that was not read.
fn doubted(truth: &Truth, device: &Device, stand: &Stands, last: Timestamp) -> bool {
    let Some(index) = truth.index.filter(|_| truth.assigned.is_none()) else {
        return false;
    };
    let unproven = ["known-offset", "wall-clock"].contains(&stand.source.as_str());
    let day = SignedDuration::from_hours(24);
    device.changes(index).any(|change| {
        change <= last
            && match stand.at {
                None => true,
                Some(at) => unproven && change.duration_since(at).abs() <= day,
            }
    })
}

/// One reading that stands in the journal.
pub(crate) struct Stands {
    pub(crate) id: String,
    pub(crate) device: usize,
    pub(crate) value: Rc<[u8]>,
    pub(crate) person: Option<usize>,
    pub(crate) at: Option<Timestamp>,
    pub(crate) received: Timestamp,
    pub(crate) source: String,
    pub(crate) seconds: bool,
    pub(crate) averaged: bool,
}

/// Every confirmed reading once, nobody else's, at no wrong time without a mark.
pub(crate) fn check(
    mut stands: Vec<Stands>,
    behind: bool,
    truths: &[Truth],
    groups: &Groups,
    devices: &[Device],
    zones: &[(Timestamp, TimeZone)],
    coverage: &mut Coverage,
) -> Vec<Row> {
    stands.sort_by_key(|stand| stand.received);
    let mut rows: Vec<(usize, Row)> = Vec::with_capacity(stands.len());
    let mut seen: HashMap<(usize, &[u8]), Vec<usize>> = HashMap::new();
    // Equal octets without a stamp have nothing but their times to tell them apart; those without a time take what is
    // left.
    let (timed, others): (Vec<_>, Vec<_>) = stands
        .iter()
        .enumerate()
        .partition(|(_, stand)| stand.at.is_some());
    for (place, stand) in timed.into_iter().chain(others) {
        let octets = (stand.device, stand.value.clone());
        let group = groups
            .get(&octets)
            .unwrap_or_else(|| panic!("nobody measured {}", stand.id));
        let taken = seen.entry((stand.device, &stand.value)).or_default();
        let expected = if devices[stand.device].stamped() {
            1
        } else {
            group.len()
        };
        assert!(
            taken.len() < expected,
            "doubled: {} is {:?}",
            stand.id,
            truths[group[0]]
        );
        let left = group.iter().filter(|truth| !taken.contains(truth));
        let truth = *match stand.at {
            Some(at) => left.min_by_key(|truth| at.duration_since(truths[**truth].end).abs()),
            None => left.min(),
        }
        .unwrap();
        taken.push(truth);
        check_one(
            stand,
            truth,
            &truths[truth],
            &devices[stand.device],
            zones,
            coverage,
        );
        let row = Row {
            truth,
            id: stand.id.clone(),
            person: stand.person,
            at: stand.at,
            received: stand.received,
            source: stand.source.clone(),
            seconds: stand.seconds,
            averaged: stand.averaged,
        };
        rows.push((place, row));
    }
    for ((device, value), group) in groups {
        let expected = if devices[*device].stamped() {
            1
        } else {
            group.len()
        };
        let found = seen.get(&(*device, &**value)).map_or(0, Vec::len);
        // What cannot be settled for want of room is settled later.
        assert!(found == expected || behind, "lost: {:?}", truths[group[0]]);
    }
    for truth in truths {
        assert!(
            truth.confirmed == 0 || truth.kept > 0 || truth.gone,
            "confirmed and not kept: {truth:?}"
        );
    }
    rows.sort_by_key(|(place, _)| *place);
    rows.into_iter().map(|(_, row)| row).collect()
}

fn check_one(
    stand: &Stands,
    nth: usize,
    truth: &Truth,
    device: &Device,
    zones: &[(Timestamp, TimeZone)],
    coverage: &mut Coverage,
) {
    let mut owner = owner(truth, device, stand.at.unwrap_or(stand.received));
    // Where the gateway's clock may have been wrong, it may have been received at any time.
    let waits = stand.person.is_none() && doubted(truth, device, stand, Timestamp::MAX);
    if waits || doubted(truth, device, stand, stand.received) {
        owner = None;
    }
    assert_eq!(
        stand.person, owner,
        "wrong person: {} is {nth} {truth:?}",
        stand.id
    );
    if let Some(timed) = truth.timed {
        assert_eq!(stand.at, Some(timed), "a person said when: {truth:?}");
        return;
    }
    let Some(at) = stand.at else { return };
    assert_eq!(truth.lie, None, "a time from a stamp that says none: {truth:?}");
    let off = at.duration_since(truth.end).as_secs_f64().abs();
    let received = truth.received.unwrap();
    let mut allowed = device.drift_s(truth.end, received);
    let readable = device.make().clock_can_be_read;
    allowed += if readable { CLOCK_S } else { LIVE_S };
    // Where the connection did not read the clock, because it cannot be read or the link broke before. A live reading
    // then agrees with its receipt by an offset that is as old as the last look.
    let live = received.duration_since(at).as_secs_f64() <= LIVE_S;
    if !readable || live || stand.source == "known-offset" {
        allowed += truth
            .unseen_since
            .map_or(0.0, |since| device.drift_s(since, received));
    }
    if !stand.seconds {
        allowed += MINUTE_S;
    }
    // A clock that was set between a measurement and its receipt: by so little it makes no difference which side of it
    // the stamp is on.
    let corrected = |set: &Timestamp| truth.end <= *set && *set <= received;
    if device.settings.iter().any(corrected) {
        allowed += CORRECTED_S;
    }
    if off <= allowed {
        return;
    }
    let what = || {
        format!(
            "{off} s off, {allowed} allowed, from {}: {} is {nth} {truth:?}, says {at}; settings {:?}; {:?}",
            stand.source,
            stand.id,
            device.settings,
            device.make()
        )
    };
    // A clock that nobody can read, that was set wrong and has not been heard to be right since: a reading that was
    // kept for as long as the clock is ahead looks like one that was just taken.
    let looks_live = !device.make().clock_can_be_read
        && !truth.sure
        && (-AHEAD_S..=LIVE_S + MINUTE_S).contains(&received.duration_since(at).as_secs_f64());
    if looks_live {
        coverage.saw("wrong time: kept for as long as an unreadable clock is wrong");
        return;
    }
    let assumed = matches!(stand.source.as_str(), "known-offset" | "wall-clock");
    assert!(assumed, "a wrong time without a mark: {}", what());
    let beyond = device.beyond_s(at, truth.end, received, zones);
    let followed = if readable { 0.0 } else { DRIFTED_S };
    assert!(
        beyond <= allowed + followed,
        "an assumed time that nothing explains, by {beyond} s: {}",
        what()
    );
    if truth.receipt != Receipt::Right {
        coverage.saw("assumed: wrong time by a gateway that did not know the time");
        return;
    }
    assert!(!truth.sure, "wrong although it could be told: {}", what());
    coverage.saw("assumed: wrong time");
}

/// Whether a reading counts, by the rules as the README has them. `None` where two times that come of a clock which was
/// corrected in between leave it open how much rest there was.
pub(crate) fn counts(row: &Row, rows: &[Row], truths: &[Truth], devices: &[Device]) -> Option<bool> {
    let truth = &truths[row.truth];
    let plain = row.person.is_some()
        && row.at.is_some()
        && truth.shown.is_some()
        && !devices[truth.device].complains(truth.status)
        && !truth.discarded;
    if !plain {
        return Some(false);
    }
    let stamped = |row: &Row| {
        row.seconds
            && matches!(
                row.source.as_str(),
                "monitor-clock" | "known-offset" | "wall-clock"
            )
    };
    for other in rows {
        let before = &truths[other.truth];
        let gap = truth.end.duration_since(before.end).as_secs();
        let same = other.truth != row.truth && other.person == row.person && before.device == truth.device;
        if !same || !stamped(row) || !stamped(other) {
            continue;
        }
        let (at, earlier) = (row.at?, other.at?);
        let said = at.duration_since(earlier).as_secs();
        let hasty = |gap: i64| (0..REST_S).contains(&gap);
        if hasty(gap) {
            return ((said - gap).abs() <= 2).then_some(false);
        }
        if hasty(said) {
            return None;
        }
    }
    Some(true)
}

/// The longest pause within a sitting, as the program's documents have it.
const SITTING_S: i64 = 600;
/// The readings of a sitting that go towards the minimum: as many as the protocol of these homes asks for.
const TOWARDS_MOST: usize = 2;

/// The rows of the sitting of a row, among one person's rows in order of time.
fn sitting<'a>(mine: &'a [&'a Row], row: &Row) -> &'a [&'a Row] {
    let apart = |a: &Row, b: &Row| b.at.unwrap().duration_since(a.at.unwrap()).as_secs() > SITTING_S;
    let place = mine.iter().position(|other| other.id == row.id).unwrap();
    let first = (1..=place)
        .rev()
        .find(|&i| apart(mine[i - 1], mine[i]))
        .unwrap_or(0);
    let last = (place + 1..mine.len())
        .find(|&i| apart(mine[i - 1], mine[i]))
        .unwrap_or(mine.len());
    &mine[first..last]
}

/// Whether it is in the usual hours: 05:00 to 11:59 and 17:00 to 23:59.
fn in_hours(civil: DateTime) -> bool {
    (5..=11).contains(&civil.hour()) || (17..=23).contains(&civil.hour())
}

/// What a person's days come to, from what was displayed: of all that counts, the readings of a sitting whose first
/// that counts falls into the usual hours. `None` where a time among them cannot be trusted.
pub(crate) fn expected(
    person: usize,
    days: (Date, Date),
    civil: impl Fn(Timestamp) -> DateTime,
    rows: &[Row],
    truths: &[Truth],
    devices: &[Device],
) -> Option<Expected> {
    let mut mine: Vec<&Row> = rows
        .iter()
        .filter(|row| row.person == Some(person) && row.at.is_some())
        .collect();
    mine.sort_by_key(|row| (row.at, &row.id));
    let mut counted = 0;
    let mut averaged: Vec<(Date, [f64; 2])> = Vec::new();
    let mut of_sittings: HashMap<&str, usize> = HashMap::new();
    let mut kinds: BTreeMap<Posed, Vec<[f64; 2]>> = BTreeMap::new();
    for row in &mine {
        let truth = &truths[row.truth];
        let Some(at) = row.at else { continue };
        let said = civil(at).date();
        let true_day = civil(truth.end).date();
        let near = (days.0..=days.1).contains(&said) || (days.0..=days.1).contains(&true_day);
        if !near {
            continue;
        }
        let off = at.duration_since(truth.end).as_secs_f64().abs();
        if truth.receipt != Receipt::Right || off > 2.0 * LIVE_S || truth.timed.is_some() || said != true_day
        {
            return None;
        }
        let counts = counts(row, rows, truths, devices)?;
        assert_eq!(row.averaged, counts, "{row:?} {truth:?}");
        let together = sitting(&mine, row);
        // Which day it is of would have to be said anew.
        if together
            .iter()
            .any(|other| civil(other.at.unwrap()).date() != said)
        {
            return None;
        }
        counted += usize::from(counts);
        // What was not taken seated makes no session, and enters none.
        let seated = |row: &Row| truths[row.truth].posed.is_none();
        let in_a_session = together
            .iter()
            .any(|other| other.averaged && seated(other) && in_hours(civil(other.at.unwrap())));
        if let (true, Some(posed), Some([systolic, diastolic, _])) = (counts, truth.posed, truth.shown) {
            let values = [systolic, diastolic].map(|shown| sent(shown, devices[truth.device].make().unit));
            kinds.entry(posed).or_default().push(values);
            continue;
        }
        if let (true, true, Some([systolic, diastolic, _])) = (counts, in_a_session, truth.shown) {
            let values = [systolic, diastolic].map(|shown| sent(shown, devices[truth.device].make().unit));
            averaged.push((true_day, values));
            *of_sittings.entry(&together[0].id).or_default() += 1;
        }
    }
    let n = averaged.len();
    let mean = |which: usize| averaged.iter().map(|(_, values)| values[which]).sum::<f64>() / n as f64;
    let (systolic, diastolic) = (mean(0), mean(1));
    averaged.sort_by_key(|(day, _)| *day);
    averaged.dedup_by_key(|(day, _)| *day);
    let kinds = kinds.into_iter().map(|(posed, values)| {
        let mean =
            |which: usize| values.iter().map(|values| values[which]).sum::<f64>() / values.len() as f64;
        (posed.name(), values.len(), [mean(0), mean(1)])
    });
    Some(Expected {
        kinds: kinds.collect(),
        counted,
        n,
        towards: of_sittings.values().map(|n| (*n).min(TOWARDS_MOST)).sum(),
        days: averaged.len(),
        systolic,
        diastolic,
    })
}

/// The displayed value in mmHg: a monitor in kPa shows one decimal, and one mmHg is 133.322387415 Pa (NIST SP 811).
pub(crate) fn sent(mmhg: i16, unit: Unit) -> f64 {
    match unit {
        Unit::MmHg => f64::from(mmhg),
        Unit::KPa => (f64::from(mmhg) * 1.33322).round() / 10.0 / 0.133_322_387_415,
    }
}
