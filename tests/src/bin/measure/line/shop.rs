//! A shop whose machine is the far end, with a dense program being streamed.

use super::far_end::FarEnd;
use chargehand_tests::client::Client;
use chargehand_tests::listeners::core_seconds;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{Workshop, command_line};
use chargehand_types::act::Act;
use chargehand_types::stage::Stage;
use std::fmt::Write as _;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// The program must get on within this.
const WITHIN: Duration = Duration::from_secs(300);

/// Short segments with three axis words, as a surfacing toolpath has them, within a board of 300 x 300 mm.
pub fn dense(lines: u32) -> String {
    let mut text = String::from("%\nG21 G90 G17 G94\nG54\nM3 S10000\nG0 Z20\nG0 X60 Y60\nG0 Z3\nG1 Z0.5 F2400\n");
    for i in 0..lines {
        let (x, y) = (60.0 + f64::from(i % 400) * 0.15, 60.0 + f64::from(i / 400 % 200) * 0.75);
        let z = -1.0 - f64::from(i.wrapping_mul(7919) % 1000) / 1000.0;
        // writing to a text cannot fail
        let _ = writeln!(text, "G1 X{x:.3} Y{y:.3} Z{z:.3}");
    }
    text.push_str("G0 Z20\nG0 X0 Y300\nM5\nM30\n%\n");
    text
}

/// A daemon that streams a dense program.
pub struct Streaming {
    shop: Workshop,
    /// The controller.
    pub far: FarEnd,
    /// The daemon's.
    pub client: Client,
    /// Resident before there was any card.
    pub resident_before_mib: f64,
}

impl Streaming {
    /// Walks a sheet of so many segments into its cut.
    pub fn begin(baud: u32, lines: u32) -> std::io::Result<Self> {
        let mut shop = Workshop::at_real_time();
        shop.edit("daemon.toml", |t| t.replace("[machine]", &format!("[machine]\nbaud = {baud}")));
        let name = shop.card();
        let card = std::fs::read_to_string(&name)?;
        let (head, rest) = card.split_once("[[operation]]").unwrap_or((&card, ""));
        let parts = rest.split_once("[[part]]").map_or("", |(_, parts)| parts);
        let operation = "name = \"surface\"\nprogram = \"surface.nc\"\nbit = \"c635\"\nleaves = \"pocket\"\n";
        let card = format!("{head}[[operation]]\n{operation}\n[[part]]{parts}");
        shop.write("label-board.card.toml", card.as_bytes());
        shop.write("surface.nc", dense(lines).as_bytes());
        let far = FarEnd::start(baud)?;
        let client = shop.start_with(&["--port", &far.device.to_string_lossy()]);
        let resident_before_mib = resident_mib(shop.pid());
        client.add_long_card(&name);
        client.add_batch(chargehand_tests::workshop::CARD, 1).unwrap_or_else(|p| panic!("{p}"));
        let cutting = |n: &chargehand_types::now::Now| n.sheet.as_ref().is_some_and(|s| s.stage == Stage::Cutting);
        Operator::owner(&client).walk("cutting", |_, n| cutting(n));
        Ok(Self { shop, far, client, resident_before_mib })
    }

    /// Waits until the controller has been told so many places.
    pub fn past(&self, lines: u64) {
        let begun = Instant::now();
        while self.far.seen().lines < lines {
            assert!(begun.elapsed() < WITHIN, "it stands at {:?}\n{}", self.far.seen(), self.shop.log());
            std::thread::sleep(Duration::from_millis(1));
        }
    }

    /// Writes a note four times a second until the controller has been told so many places; milliseconds each took.
    pub fn notes_until(&self, lines: u64) -> Vec<f64> {
        let mut taken = Vec::new();
        let begun = Instant::now();
        while self.far.seen().lines < lines {
            assert!(begun.elapsed() < WITHIN, "it stands at {:?}\n{}", self.far.seen(), self.shop.log());
            let asked = Instant::now();
            let note = Act::Note { text: "still fine".to_owned() };
            self.client.act_at_once(note).unwrap_or_else(|p| panic!("{p}"));
            taken.push(asked.elapsed().as_secs_f64() * 1000.0);
            std::thread::sleep(Duration::from_millis(250));
        }
        taken
    }

    /// Checks the card again and again, in processes of its own, until it is over; gives how often.
    pub fn checks(&self, over: Arc<AtomicBool>) -> JoinHandle<u32> {
        let card = self.shop.card();
        let config = self.shop.path("");
        let socket = self.shop.socket();
        std::thread::spawn(move || {
            let mut checks = 0;
            while !over.load(Ordering::Relaxed) {
                let mut check = Command::new(command_line());
                check.current_dir(&config).arg("--socket").arg(&socket).arg("check").arg(&card);
                check.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
                if check.status().is_ok() {
                    checks += 1;
                }
            }
            checks
        })
    }

    /// Processor time of the daemon so far.
    pub fn processor_seconds(&self) -> f64 {
        core_seconds(self.shop.pid())
    }

    /// Resident memory of the daemon now.
    pub fn resident_mib(&self) -> f64 {
        resident_mib(self.shop.pid())
    }
}

/// `VmRSS` of proc(5), in MiB.
fn resident_mib(pid: u32) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:")).unwrap_or_default();
    line.split_whitespace().next().and_then(|kib| kib.parse::<f64>().ok()).unwrap_or_default() / 1024.0
}
