//! The radio on the stand-in, and a listener that waits for news.

#![allow(dead_code, reason = "each test binary uses a part of it")]

use radio::{
    Advertisement, Anchor, DeviceId, LinkState, News, Order, Patience, Radio, RadioConfig, Scan,
    Token, TroubleKind, Wanted,
};
use standin::{Script, ScriptedDevice, ScriptedModel, StandIn, Stream};
use std::path::Path;
use std::time::Duration;
use units::{AttError, Characteristic, Packet, SourceId, Span, Timestamp, Write};

pub const POWER: Characteristic = Characteristic(0x2A63);
pub const CADENCE: Characteristic = Characteristic(0x2A5B);
pub const BIKE: Characteristic = Characteristic(0x2AD2);
pub const CONTROL: Characteristic = Characteristic(0x2AD9);
pub const STATUS: Characteristic = Characteristic(0x2ADA);
pub const MAKER: Characteristic = Characteristic(0x2A29);

/// The time limits of the real thing, so much shorter that a test takes seconds.
pub const QUICK: Patience = Patience {
    connect: Span::from_millis(1500),
    discover: Span::from_millis(1500),
    call: Span::from_millis(1000),
    ask: Span::from_millis(700),
    back_off_first: Span::from_millis(100),
    back_off_most: Span::from_millis(400),
    settle: Span::from_millis(100),
    resubscribe_after: Span::from_millis(1000),
    reconnect_after: Span::from_millis(2000),
    doubt_after: Span::from_millis(600),
    doubt_every: Span::from_millis(500),
    burst: Span::from_millis(800),
    health_every: Span::from_millis(300),
    last_writes: Span::from_millis(1000),
};

/// A trainer: bike data and power at 4 Hz, a control point.
pub fn trainer() -> ScriptedDevice {
    let every = Span::from_millis(250);
    let streams = [BIKE, POWER].map(|characteristic| Stream {
        characteristic,
        every,
    });
    ScriptedDevice::new(1, "brake", &streams, &[CONTROL, STATUS, MAKER])
}

/// A power meter by its number, at 20 Hz to have much to count.
pub fn meter(number: u8) -> ScriptedDevice {
    let stream = Stream {
        characteristic: POWER,
        every: Span::from_millis(50),
    };
    ScriptedDevice::new(number, &format!("meter {number}"), &[stream], &[MAKER])
}

/// A meter at 250 Hz, which sends before anybody has had time to look at its services.
pub fn hurried(number: u8) -> ScriptedDevice {
    let stream = Stream {
        characteristic: POWER,
        every: Span::from_millis(4),
    };
    ScriptedDevice::new(number, "hurried", &[stream], &[])
}

/// A device that sends only when it is told to.
pub fn quiet() -> ScriptedDevice {
    ScriptedDevice::new(1, "quiet", &[], &[POWER, MAKER])
}

pub struct Bench {
    pub radio: Radio,
    pub standin: StandIn,
    pub news: Vec<News>,
}

impl Bench {
    pub fn new(folder: &Path, devices: Vec<ScriptedDevice>, script: Script) -> Self {
        Self::with(folder, devices, script, QUICK)
    }

    pub fn with(
        folder: &Path,
        devices: Vec<ScriptedDevice>,
        script: Script,
        patience: Patience,
    ) -> Self {
        let model = Box::new(ScriptedModel::new(devices));
        let standin = StandIn::start(folder, model, script).expect("the stand-in starts");
        let mut config = RadioConfig::new(Anchor::now(Timestamp::ZERO));
        config.patience = patience;
        let radio = Radio::start(config).expect("the radio finds the stand-in");
        Self {
            radio,
            standin,
            news: Vec::new(),
        }
    }

    /// A bench whose devices are attached and live, as sources 0, 1 …
    pub fn live(folder: &Path, devices: Vec<ScriptedDevice>) -> Self {
        let count = devices.len();
        let mut bench = Self::new(folder, devices, Vec::new());
        bench.attach_all(count);
        bench
    }

    /// Attaches without a scan first: the radio has to look for the devices itself.
    pub fn attach_all(&mut self, count: usize) {
        for number in 0..count {
            self.attach(number);
        }
        for number in 0..count {
            let source = SourceId(number as u16);
            let live = |news: &News| is_link(news, source, LinkState::Live);
            if !self.news.iter().any(live) {
                self.until("a link", live);
            }
        }
    }

    pub fn attach(&self, number: usize) {
        let id = DeviceId(format!("hci0/dev_C0_FF_EE_00_00_{:02X}", number + 1));
        let wanted = [POWER, BIKE, CADENCE, CONTROL, STATUS]
            .map(Wanted::usual)
            .to_vec();
        self.order(Order::Attach {
            source: SourceId(number as u16),
            id,
            wanted,
        });
    }

    pub fn order(&self, order: Order) {
        self.radio.order(order).expect("the radio takes orders");
    }

    pub fn scan(&self, scan: Scan) {
        self.order(Order::Scan(scan));
    }

    pub fn write(&self, token: u64, bytes: &[u8]) {
        let write = Write {
            source: SourceId(0),
            characteristic: CONTROL,
            bytes: bytes.to_vec(),
        };
        self.order(Order::Write {
            token: Token(token),
            write,
        });
    }

    /// Collects news up to and with the one that is waited for, and gives it.
    pub fn until(&mut self, what: &str, mut wanted: impl FnMut(&News) -> bool) -> News {
        let deadline = self.standin.now() + Span::from_secs(30);
        while self.standin.now() < deadline {
            if let Ok(news) = self.radio.news().recv_timeout(Duration::from_millis(50)) {
                self.news.push(news.clone());
                if wanted(&news) {
                    return news;
                }
            }
        }
        let tail = self.news.len().saturating_sub(60);
        panic!(
            "waited in vain for {what}; last news: {:#?}",
            &self.news[tail..]
        );
    }

    pub fn until_live(&mut self, source: u16, epoch: u32) {
        self.until(&format!("link {epoch}"), |news| {
            matches!(news, News::Link { source: s, state: LinkState::Live, epoch: e, .. }
                if s.0 == source && *e >= epoch)
        });
    }

    pub fn until_lost(&mut self, source: u16) -> String {
        let lost = self.until("a loss", |news| {
            is_link(news, SourceId(source), LinkState::Lost)
        });
        match lost {
            News::Link { words, .. } => words,
            other => panic!("{other:?}"),
        }
    }

    pub fn until_trouble(&mut self, kind: TroubleKind) {
        self.until(
            "trouble",
            |news| matches!(news, News::Trouble(t) if t.kind == kind),
        );
    }

    pub fn until_written(&mut self, token: u64) -> Result<(), AttError> {
        let done = self.until(
            "a write",
            |n| matches!(n, News::WriteDone { token: t, .. } if t.0 == token),
        );
        match done {
            News::WriteDone { result, .. } => result,
            other => panic!("{other:?}"),
        }
    }

    /// Lets time pass and collects what comes.
    pub fn listen(&mut self, lasting: Span) {
        let end = self.standin.now() + lasting;
        while self.standin.now() < end {
            if let Ok(news) = self.radio.news().recv_timeout(Duration::from_millis(20)) {
                self.news.push(news);
            }
        }
    }

    pub fn packets(&self, source: u16, characteristic: Characteristic) -> Vec<&Packet> {
        packets(&self.news, source, characteristic)
    }

    pub fn troubles(&self) -> Vec<TroubleKind> {
        self.news
            .iter()
            .filter_map(|news| match news {
                News::Trouble(trouble) => Some(trouble.kind),
                _ => None,
            })
            .collect()
    }

    pub fn found(&self) -> Vec<&Advertisement> {
        self.news
            .iter()
            .filter_map(|news| match news {
                News::Found(advertisement) => Some(advertisement),
                _ => None,
            })
            .collect()
    }

    /// Every value the stand-in sent while linked has arrived, in order, with the right epoch.
    pub fn assert_nothing_lost(&mut self, source: u16, characteristic: Characteristic) {
        let device = usize::from(source);
        let sent: Vec<(u32, Vec<u8>)> = self.standin.with_ledger(|ledger| {
            ledger
                .sent_by(device, characteristic)
                .map(|s| (s.link, s.bytes.clone()))
                .collect()
        });
        // The last of them may still be on their way.
        let deadline = self.standin.now() + Span::from_secs(5);
        while self.packets(source, characteristic).len() < sent.len()
            && self.standin.now() < deadline
        {
            self.listen(Span::from_millis(50));
        }
        let got: Vec<(u32, Vec<u8>)> = self
            .packets(source, characteristic)
            .iter()
            .take(sent.len())
            .map(|packet| (packet.epoch, packet.bytes.clone()))
            .collect();
        let lost: Vec<_> = sent
            .iter()
            .filter(|value| !got.contains(value))
            .take(5)
            .collect();
        assert_eq!(
            got.len(),
            sent.len(),
            "{} sent, {} came, missing {lost:?}",
            sent.len(),
            got.len()
        );
        assert!(got == sent, "order or epoch differ; missing {lost:?}");
    }
}

pub fn packets(news: &[News], source: u16, characteristic: Characteristic) -> Vec<&Packet> {
    news.iter()
        .filter_map(|news| match news {
            News::Packet(packet)
                if packet.source.0 == source && packet.characteristic == characteristic =>
            {
                Some(packet)
            }
            _ => None,
        })
        .collect()
}

pub fn is_link(news: &News, source: SourceId, state: LinkState) -> bool {
    matches!(news, News::Link { source: s, state: is, .. } if *s == source && *is == state)
}

pub fn number(packet: &Packet) -> u32 {
    u32::from_le_bytes(
        packet
            .bytes
            .as_slice()
            .try_into()
            .expect("a number of four bytes"),
    )
}

/// Resident memory of this process in MiB, as Linux tells it.
pub fn resident_mib() -> f64 {
    let text = std::fs::read_to_string("/proc/self/statm").expect("Linux tells it");
    let pages: f64 = text
        .split_whitespace()
        .nth(1)
        .and_then(|p| p.parse().ok())
        .expect("pages");
    pages * 4096.0 / (1024.0 * 1024.0)
}

impl Bench {
    /// As [`Bench::assert_nothing_lost`], where links were made that the radio did not count: it
    /// gave up on them before their services were known.
    pub fn assert_nothing_lost_but_epochs(&mut self, source: u16) {
        let sent: Vec<Vec<u8>> = self.standin.with_ledger(|ledger| {
            ledger
                .sent_by(usize::from(source), POWER)
                .map(|sent| sent.bytes.clone())
                .collect()
        });
        self.listen(Span::from_millis(300));
        let got: Vec<Vec<u8>> = self
            .packets(source, POWER)
            .iter()
            .take(sent.len())
            .map(|packet| packet.bytes.clone())
            .collect();
        assert!(got == sent, "{} sent, {} came", sent.len(), got.len());
    }
}
