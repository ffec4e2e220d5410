//! Stored records (0x2B36) put together from their segments. Unlike everything else here this allocates: a
//! record may be longer than one value.
//!
//! Two readings of the layout exist: the sequence number and the UUID in every segment, or in the first one
//! alone. A further segment that begins with the first one's four octets is taken to repeat them, any other
//! not to. The checksum covers every octet as it was sent, header octets too, so it holds for both.

use super::characteristic::Characteristic;
use super::octets::DecodeError;
use super::record::{BloodPressureRecord, crc16};

/// The longest record, in octets as they were sent. The longest measurement has 20; a monitor that goes on
/// sends no measurement (own choice: as long as the longest value).
pub const RECORD_OCTETS_MAX: usize = 512;

/// Sequence number and UUID.
const REPEATED: usize = 4;

/// A stored record that is whole.
#[derive(Clone, PartialEq, Eq, Hash, Debug)]
pub struct WholeRecord {
    /// The sequence number: the count of the user's records.
    pub sequence: u16,
    /// The characteristic whose value was stored.
    pub characteristic: Characteristic,
    /// The stored value, without its checksum.
    pub value: Vec<u8>,
}

/// What a segment brought.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct SegmentOutcome {
    /// The record before was never finished.
    pub unfinished: Option<DecodeError>,
    /// The record is whole, or cannot become so; nothing while more is to come.
    pub record: Option<Result<WholeRecord, DecodeError>>,
}

/// Puts records together; the segments come in the order in which they were sent.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Segments {
    checked: bool,
    open: Open,
}

#[derive(Clone, PartialEq, Eq, Debug)]
enum Open {
    /// The next segment is a first one.
    Nothing,
    /// The record is lost already; what belongs to it is passed over.
    Lost,
    Record(UnderWay),
}

#[derive(Clone, PartialEq, Eq, Debug)]
struct UnderWay {
    sequence: u16,
    characteristic: Characteristic,
    repeated: [u8; REPEATED],
    counter: u8,
    /// The octets as they were sent, each with whether it is of the value and its checksum.
    sent: Vec<(u8, bool)>,
}

impl Segments {
    /// Begins; `checked` says whether the monitor's Feature names a checksum at the end of each record.
    pub const fn new(checked: bool) -> Self {
        Self {
            checked,
            open: Open::Nothing,
        }
    }

    /// Takes a segment.
    pub fn take(&mut self, segment: &[u8]) -> SegmentOutcome {
        let Some(header) = segment.first().copied() else {
            let error = BloodPressureRecord::decode(segment).err();
            self.open = Open::Lost;
            return SegmentOutcome {
                record: error.map(Err),
                unfinished: None,
            };
        };
        let (first, last, counter) = (header & 1 != 0, header & 2 != 0, header >> 2);
        let unfinished = if first { self.unfinished() } else { None };
        let begun = std::mem::replace(&mut self.open, Open::Lost);
        let added = if first {
            UnderWay::begin(segment)
        } else {
            match begun {
                Open::Record(under_way) => under_way.add(segment, counter),
                Open::Lost => return SegmentOutcome::default(),
                Open::Nothing => Err(DecodeError::SegmentsMissing { before: counter }),
            }
        };
        let record = match added {
            Ok(under_way) if last => {
                self.open = Open::Nothing;
                Some(under_way.end(self.checked))
            }
            Ok(under_way) => {
                self.open = Open::Record(under_way);
                None
            }
            Err(error) => {
                if last {
                    self.open = Open::Nothing;
                }
                Some(Err(error))
            }
        };
        SegmentOutcome { unfinished, record }
    }

    /// Whether a record is begun and not whole.
    pub const fn is_open(&self) -> bool {
        matches!(self.open, Open::Record(_))
    }

    /// Nothing more comes: the record that was begun and not finished.
    pub fn unfinished(&mut self) -> Option<DecodeError> {
        match std::mem::replace(&mut self.open, Open::Nothing) {
            Open::Record(under_way) => Some(DecodeError::Unfinished {
                after: under_way.counter,
            }),
            Open::Nothing | Open::Lost => None,
        }
    }
}

impl UnderWay {
    fn begin(segment: &[u8]) -> Result<Self, DecodeError> {
        let record = BloodPressureRecord::decode(segment)?;
        let repeated = segment.get(1..).and_then(|octets| octets.first_chunk());
        let mut begun = Self {
            sequence: record.sequence,
            characteristic: record.characteristic,
            repeated: repeated.copied().unwrap_or_default(),
            counter: record.counter,
            sent: Vec::new(),
        };
        begun.put(segment, record.segment);
        Ok(begun)
    }

    fn add(mut self, segment: &[u8], counter: u8) -> Result<Self, DecodeError> {
        if counter != (self.counter + 1) % 64 {
            return Err(DecodeError::SegmentsMissing { before: counter });
        }
        if self.sent.len() + segment.len() > RECORD_OCTETS_MAX {
            return Err(DecodeError::TooLong {
                most: RECORD_OCTETS_MAX,
            });
        }
        self.counter = counter;
        let part = segment.get(1..).unwrap_or_default();
        let part = part.strip_prefix(&self.repeated).unwrap_or(part);
        self.put(segment, part);
        Ok(self)
    }

    /// `part` is the end of the segment.
    fn put(&mut self, segment: &[u8], part: &[u8]) {
        let header = segment.len() - part.len();
        let octets = segment.iter().enumerate();
        self.sent.extend(octets.map(|(at, octet)| (*octet, at >= header)));
    }

    fn value(&self) -> Vec<u8> {
        let of_value = self.sent.iter().filter(|(_, of_value)| *of_value);
        of_value.map(|(octet, _)| *octet).collect()
    }

    fn end(mut self, checked: bool) -> Result<WholeRecord, DecodeError> {
        if checked {
            self.check()?;
        }
        Ok(WholeRecord {
            sequence: self.sequence,
            characteristic: self.characteristic,
            value: self.value(),
        })
    }

    /// Takes the checksum off, whose two octets may lie in two segments.
    fn check(&mut self) -> Result<(), DecodeError> {
        let have = self.value().len();
        let mut take = || {
            let at = self.sent.iter().rposition(|(_, of_value)| *of_value)?;
            Some(self.sent.remove(at).0)
        };
        let (Some(high), Some(low)) = (take(), take()) else {
            return Err(DecodeError::Truncated {
                field: "checksum",
                at: 0,
                need: 2,
                have,
            });
        };
        let sent = u16::from_le_bytes([low, high]);
        let computed = crc16(self.sent.iter().map(|(octet, _)| *octet));
        if sent == computed {
            Ok(())
        } else {
            Err(DecodeError::Checksum { sent, computed })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STORED: [u8; 20] = [
        0x7e, 120, 0, 80, 0, 93, 0, 0x10, 0x20, 0x30, 0x40, 70, 0, 1, 0, 0, 0x11, 0x20, 0x30, 0x40,
    ];

    /// The record's segments of at most `size` octets, each beginning with sequence and UUID where `repeats`.
    fn cut(sequence: u16, size: usize, from: u8, repeats: bool, checked: bool) -> Vec<Vec<u8>> {
        let name = [&sequence.to_le_bytes()[..], &[0x34, 0x2b]].concat();
        let mut segments: Vec<Vec<u8>> = Vec::new();
        let mut put = |octet: u8| {
            if segments.last().is_none_or(|segment| segment.len() == size) {
                let (first, number) = (segments.is_empty(), segments.len());
                let counter = (usize::from(from) + number) % 64;
                let mut segment = vec![u8::from(first) | u8::try_from(counter << 2).unwrap()];
                if first || repeats {
                    segment.extend(&name);
                }
                segments.push(segment);
            }
            segments.last_mut().unwrap().push(octet);
        };
        STORED.into_iter().for_each(&mut put);
        if checked {
            put(0);
            put(0);
        }
        segments.last_mut().unwrap()[0] |= 2;
        if checked {
            let places: Vec<(usize, usize)> = segments
                .iter()
                .enumerate()
                .flat_map(|(n, segment)| (0..segment.len()).map(move |at| (n, at)))
                .collect();
            // The last two octets of the value: the very last one, and the one before it that is no header's.
            let header = |n: usize| if n == 0 || repeats { 5 } else { 1 };
            let of_value: Vec<_> = places.into_iter().filter(|(n, at)| *at >= header(*n)).collect();
            let [.., low, high] = of_value.as_slice() else {
                unreachable!()
            };
            let covered = segments.iter().enumerate().flat_map(|(n, segment)| {
                let octets = segment.iter().copied().enumerate();
                octets.filter_map(move |(at, octet)| (![*low, *high].contains(&(n, at))).then_some(octet))
            });
            let [l, h] = crc16(covered.collect::<Vec<_>>()).to_le_bytes();
            segments[low.0][low.1] = l;
            segments[high.0][high.1] = h;
        }
        segments
    }

    fn whole(segments: &[Vec<u8>], checked: bool) -> Vec<Result<WholeRecord, DecodeError>> {
        let mut putting = Segments::new(checked);
        let mut records = Vec::new();
        for segment in segments {
            let brought = putting.take(segment);
            records.extend(brought.unfinished.map(Err));
            records.extend(brought.record);
        }
        records.extend(putting.unfinished().map(Err));
        records
    }

    /// Every size from one octet of the value in a segment to all in one, so that the checksum is split too.
    #[test]
    fn both_layouts_at_every_size() {
        for (size, repeats, checked) in (6..30).flat_map(|size| {
            [(false, false), (false, true), (true, false), (true, true)].map(|(r, c)| (size, r, c))
        }) {
            let segments = cut(300, size, 60, repeats, checked);
            let [Ok(record)] = &whole(&segments, checked)[..] else {
                panic!("{size} {repeats} {checked}: {:?}", whole(&segments, checked));
            };
            assert_eq!(record.sequence, 300);
            assert_eq!(
                record.characteristic,
                Characteristic::ENHANCED_BLOOD_PRESSURE_MEASUREMENT
            );
            assert_eq!(record.value, STORED, "{size} {repeats} {checked}");
        }
    }

    #[test]
    fn a_segment_that_is_missing_or_wrong_costs_its_own_record_alone() {
        let (one, two) = (cut(1, 10, 0, true, true), cut(2, 10, 5, true, true));
        for lost in 0..one.len() {
            let mut segments = one.clone();
            segments.remove(lost);
            segments.extend(two.clone());
            let records = whole(&segments, true);
            assert!(
                records[..records.len() - 1].iter().all(Result::is_err),
                "{lost}: {records:?}"
            );
            assert_eq!(records.len(), 2, "{lost}: {records:?}");
            assert_eq!(records[1].as_ref().unwrap().sequence, 2, "{lost}");
        }
        let mut wrong = one.clone();
        *wrong[2].last_mut().unwrap() ^= 1;
        wrong.extend(two);
        let records = whole(&wrong, true);
        assert!(
            matches!(records[0], Err(DecodeError::Checksum { .. })),
            "{records:?}"
        );
        assert!(records[1].is_ok());
    }

    #[test]
    fn one_without_end_is_left() {
        let mut segments = vec![cut(1, 10, 0, false, false).swap_remove(0)];
        segments.extend((1..200_u8).map(|n| [&[(n % 64) << 2][..], &[0; 9]].concat()));
        let records = whole(&segments, false);
        assert_eq!(
            records,
            [Err(DecodeError::TooLong {
                most: RECORD_OCTETS_MAX
            })]
        );
        assert!(whole(&[vec![]], false)[0].is_err());
        assert!(whole(&[vec![3, 0, 0, 0]], false)[0].is_err());
    }

    proptest::proptest! {
        /// Whatever is sent, it is taken, and no record is longer than what may be.
        #[test]
        fn anything_is_taken(sent in proptest::collection::vec(proptest::collection::vec(proptest::num::u8::ANY, 0..40), 0..60), checked: bool) {
            for record in whole(&sent, checked).into_iter().flatten() {
                proptest::prop_assert!(record.value.len() <= RECORD_OCTETS_MAX);
            }
        }
    }
}
