use super::*;
use std::time::Duration;
use tokio::net::UnixDatagram;
use tokio::time::timeout;

const MEASUREMENT: Characteristic = Characteristic::BLOOD_PRESSURE_MEASUREMENT;
/// What a value of the Blood Pressure service is: its handle and its configuration's.
const VALUE: u16 = 0x12;

struct NoTime;
impl Time for NoTime {
    fn current_time(&self) -> Option<Vec<u8>> {
        None
    }
    fn local_time(&self) -> Option<Vec<u8>> {
        None
    }
    fn reference_time(&self) -> Vec<u8> {
        vec![0, 255, 255, 255]
    }
    fn adjustments(&self) -> u32 {
        0
    }
}

/// The monitor's end of a link.
struct Monitor(UnixDatagram);

impl Monitor {
    async fn says(&self, octets: &[u8]) {
        self.0.send(octets).await.unwrap();
    }

    async fn hears(&self) -> Vec<u8> {
        let mut packet = [0; 600];
        let length = timeout(Duration::from_secs(5), self.0.recv(&mut packet))
            .await
            .expect("nothing was said")
            .unwrap();
        packet[..length].to_vec()
    }

    async fn hears_nothing(&self) {
        let mut packet = [0; 600];
        let heard = timeout(Duration::from_millis(50), self.0.recv(&mut packet)).await;
        assert!(heard.is_err(), "{heard:?} {packet:02x?}");
    }

    /// Answers what a discovery and a subscription ask: one service, one characteristic that indicates.
    async fn serves(&self) {
        loop {
            let asked = self.hears().await;
            let answer = match Pdu::decode(&asked).unwrap() {
                Pdu::ExchangeMtuRequest(_) => Pdu::ExchangeMtuResponse(23),
                Pdu::FindByTypeValueRequest { range, .. } if range.start == 1 => {
                    Pdu::FindByTypeValueResponse(vec![Range {
                        start: 0x10,
                        end: 0x13,
                    }])
                }
                Pdu::ReadByTypeRequest(range, kind) if range.start <= 0x11 && kind != DATABASE_HASH => {
                    Pdu::ReadByTypeResponse(vec![(0x11, vec![0x20, 0x12, 0, 0x35, 0x2a])])
                }
                Pdu::FindInformationRequest(_) => {
                    Pdu::FindInformationResponse(vec![(0x13, Characteristic::assigned(0x2902))])
                }
                Pdu::WriteRequest(0x13, value) => {
                    assert_eq!(value, [2, 0]);
                    self.says(&Pdu::WriteResponse.encode()).await;
                    return;
                }
                other => Pdu::ErrorResponse {
                    request: other.opcode(),
                    handle: 1,
                    error: AttError::NOT_FOUND,
                },
            };
            self.says(&answer.encode()).await;
        }
    }
}

fn link() -> (
    Monitor,
    Talk,
    tokio::task::JoinHandle<LinkEnd>,
    mpsc::Receiver<ReceivedValue>,
) {
    let (ours, theirs) = UnixDatagram::pair().unwrap();
    let (hand_on, heard) = mpsc::channel(64);
    let (talk, carrier) = begin(AttChannel::Pair(ours), Server::new(NoTime, true), hand_on);
    (Monitor(theirs), talk, tokio::spawn(carrier.run()), heard)
}

async fn known(talk: &Talk) -> Arc<ServerAttributes> {
    talk.exchange_mtu().await.unwrap();
    let hash = talk.database_hash().await.unwrap();
    let found = Arc::new(talk.discover(AttributeDiscovery::of_service(hash)).await.unwrap());
    assert_eq!(talk.subscribe(&found, &[MEASUREMENT]).await.unwrap(), 1);
    talk.know(Some(found.clone()));
    found
}

#[tokio::test]
async fn an_indication_is_confirmed_when_it_is_kept_and_not_before() {
    let (monitor, talk, _carries, mut heard) = link();
    let (_, found) = tokio::join!(monitor.serves(), known(&talk));
    assert_eq!(found.at(VALUE).unwrap().kind, MEASUREMENT);
    monitor.says(&[0x1d, 0x12, 0, 1]).await;
    let first = heard.recv().await.unwrap();
    assert_eq!((first.kind, first.value), (MEASUREMENT, vec![1]));
    monitor.hears_nothing().await;
    first.kept.unwrap().send(()).unwrap();
    assert_eq!(monitor.hears().await, [0x1e]);
    monitor.says(&[0x1d, 0x12, 0, 2]).await;
    drop(heard.recv().await.unwrap().kept);
    monitor.hears_nothing().await;
    monitor.says(&[0x1b, 0x12, 0, 3]).await;
    assert!(heard.recv().await.unwrap().kept.is_none());
    monitor.hears_nothing().await;
}

#[tokio::test]
async fn a_value_before_the_discovery_waits_for_it_and_loses_nothing() {
    let (monitor, talk, _carries, mut heard) = link();
    monitor.says(&[0x1d, 0x12, 0, 1]).await;
    tokio::time::sleep(Duration::from_millis(20)).await;
    assert!(heard.try_recv().is_err());
    tokio::join!(monitor.serves(), known(&talk));
    heard.recv().await.unwrap().kept.unwrap().send(()).unwrap();
    assert_eq!(monitor.hears().await, [0x1e]);
}

#[tokio::test]
async fn what_came_before_the_end_is_still_handed_on() {
    let (monitor, talk, carries, mut heard) = link();
    tokio::join!(monitor.serves(), known(&talk));
    monitor.says(&[0x1b, 0x12, 0, 9]).await;
    drop(monitor);
    assert_eq!(heard.recv().await.unwrap().value, [9]);
    drop(talk);
    timeout(Duration::from_secs(5), carries).await.unwrap().unwrap();
}

#[tokio::test]
async fn a_notification_before_it_is_sure_what_it_is_is_not_lost_with_the_link() {
    let measurement = [0x00, 0x78, 0x00, 0x50, 0x00, 0x5d, 0x00];
    let says = |opcode| [&[opcode, 0x12, 0][..], &measurement].concat();
    for known_before in [true, false] {
        let (monitor, talk, carries, mut heard) = link();
        let (_, found) = tokio::join!(monitor.serves(), known(&talk));
        talk.know(None);
        if known_before {
            talk.believe(found);
        }
        tokio::task::yield_now().await;
        monitor.says(&says(0x1b)).await;
        // A notification that is no measurement, one of another attribute, and an indication, which comes again.
        monitor.says(&[0x1b, 0x12, 0, 9]).await;
        monitor.says(&[&[0x1b, 0x13, 0][..], &measurement].concat()).await;
        monitor.says(&says(0x1d)).await;
        monitor.hears_nothing().await;
        assert!(heard.try_recv().is_err());
        drop((monitor, talk));
        timeout(Duration::from_secs(5), carries).await.unwrap().unwrap();
        if known_before {
            let first = heard.recv().await.unwrap();
            assert_eq!((first.kind, first.value), (MEASUREMENT, measurement.to_vec()));
            assert!(first.kept.is_none());
        }
        assert!(heard.recv().await.is_none());
    }
}

#[tokio::test]
async fn a_hostile_monitor_gets_answers_limits_and_no_confirmation() {
    let (monitor, talk, _carries, mut heard) = link();
    tokio::join!(monitor.serves(), known(&talk));
    // A handle that it never named, packets that are none, answers that nobody asked for.
    for octets in [
        &[0x1d, 0x77, 0, 1][..],
        &[0x1d],
        &[0x13],
        &[0xff; 30],
        &[0x05, 9, 9],
        &[0x52, 1, 0],
    ] {
        monitor.says(octets).await;
    }
    monitor.hears_nothing().await;
    monitor.says(&[0x0a, 0, 0]).await;
    assert_eq!(monitor.hears().await, [0x01, 0x0a, 0, 0, 0x01]);
    monitor.says(&[0x16, 1, 0, 0, 0]).await;
    assert_eq!(monitor.hears().await, [0x01, 0x16, 0, 0, 0x06]);
    // Indications that wait for nothing: so many are taken, each is confirmed once.
    for n in 0..3 * u8::try_from(OWED_MAX).unwrap() {
        monitor.says(&[0x1d, 0x12, 0, n]).await;
    }
    monitor.hears_nothing().await;
    let mut taken = Vec::new();
    while let Ok(one) = heard.try_recv() {
        taken.push(one);
    }
    assert_eq!(taken.len(), OWED_MAX);
    for one in taken {
        one.kept.unwrap().send(()).unwrap();
    }
    for _ in 0..OWED_MAX {
        assert_eq!(monitor.hears().await, [0x1e]);
    }
    monitor.hears_nothing().await;
}

#[tokio::test]
async fn a_long_value_is_read_to_its_end() {
    let (monitor, talk, _carries, _heard) = link();
    let value: Vec<u8> = (0..50).collect();
    let serves = async {
        for offset in [0, 22, 44] {
            let asked = Pdu::decode(&monitor.hears().await).unwrap();
            let part = value[offset..(offset + 22).min(50)].to_vec();
            monitor
                .says(&match asked {
                    Pdu::ReadRequest(7) if offset == 0 => Pdu::ReadResponse(part).encode(),
                    Pdu::ReadBlobRequest(7, from) if usize::from(from) == offset => {
                        Pdu::ReadBlobResponse(part).encode()
                    }
                    other => panic!("{other:?}"),
                })
                .await;
        }
    };
    let (_, read) = tokio::join!(serves, talk.read(7));
    assert_eq!(read.unwrap(), value);
}

#[tokio::test]
async fn a_request_without_an_answer_ends_the_link_at_its_limit() {
    let (ours, monitor) = UnixDatagram::pair().unwrap();
    let (hand_on, _heard) = mpsc::channel(64);
    let (talk, mut carrier) = begin(AttChannel::Pair(ours), Server::new(NoTime, true), hand_on);
    carrier.client.limit = Duration::from_millis(50);
    let (end, asked) = tokio::join!(carrier.run(), talk.read(7));
    assert!(matches!(end, LinkEnd::Unanswered));
    assert!(matches!(asked, Err(Failed::Ended)));
    drop(monitor);
}

#[tokio::test]
async fn service_changed_is_confirmed_and_told() {
    let (monitor, talk, _carries, _heard) = link();
    let changed = Pdu::ReadByTypeResponse(vec![(0x02, vec![0x20, 3, 0, 0x05, 0x2a])]);
    let serves = async {
        monitor.hears().await;
        monitor.says(&changed.encode()).await;
        loop {
            let request = Pdu::decode(&monitor.hears().await).unwrap();
            if let Pdu::FindInformationRequest(range) = request {
                assert_eq!(range.start, 4);
                let list = vec![(4, Characteristic::assigned(0x2902))];
                monitor.says(&Pdu::FindInformationResponse(list).encode()).await;
                return;
            }
            monitor.says(&[0x01, request.opcode(), 0, 0, 0x0a]).await;
        }
    };
    let (_, found) = tokio::join!(
        serves,
        talk.discover(AttributeDiscovery::of_the_rest(&ServerAttributes::default()))
    );
    let found = found.unwrap();
    assert_eq!(found.find(SERVICE_CHANGED).unwrap().subscription(), Some((4, 2)));
    talk.know(Some(Arc::new(found)));
    monitor.says(&[0x1d, 3, 0, 1, 0, 0xff, 0xff]).await;
    assert_eq!(monitor.hears().await, [0x1e]);
    timeout(Duration::from_secs(5), talk.changed()).await.unwrap();
}
