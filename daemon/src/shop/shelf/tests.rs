//! What `shelf` takes and what it refuses, with the words of each fault.

use super::*;
use crate::shop::fault::told;

const SHIPPED: &str = include_str!("../../../../config/daemon.toml");

fn shop() -> Shop {
    read(&Folder::with(Page::new("daemon.toml", SHIPPED))).map_err(|f| told(&f)).unwrap()
}

#[test]
fn shipped_files_make_a_shop() {
    let shop = shop();
    assert!(shop.stores.bits.contains_key("c635"));
    assert!(shop.stores.materials.contains_key("softwood-plywood"));
    assert!(shop.stores.fasteners.contains_key("screw-4x30"));
    assert_eq!(shop.checklists.title(ListKind::Ready), "Ready for cycle start");
}

/// A key that is commented out in the shipped file, taken in, changes nothing: what is shown is the default.
#[test]
fn shown_defaults_are_the_defaults() {
    let shown: String = SHIPPED
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(key) if is_key(key) && !is_example(key) => format!("{key}\n"),
            _ => format!("{line}\n"),
        })
        .collect();
    assert!(shown.contains("\nbaud = 115200"), "{shown}");
    assert!(shown.contains("\nfastener_safety = 4.0"), "{shown}");
    assert_eq!(config::read("d", &shown).map_err(|f| told(&f)).unwrap(), config::read("d", SHIPPED).unwrap());
}

/// A key and its value, not a sentence.
fn is_key(line: &str) -> bool {
    let name = |n: &str| !n.is_empty() && n.chars().all(|c| c.is_ascii_lowercase() || c == '_');
    line.split_once(" = ").is_some_and(|(key, _)| name(key))
}

/// Keys shown as an example, whose default is that there is none.
fn is_example(key: &str) -> bool {
    let examples = [
        "spindle",
        "above_bit",
        "max_feed_tried",
        "keep_out",
        "days",
        "who",
        "date",
        "file",
        "from",
        "to",
        "name",
        "role",
        "terminal_uids",
        "parts",
        "tls",
        "listen",
        "certificate",
        "key",
        "ca_file",
        "finishing_days",
        "material",
        "thickness",
        "size",
        "kerf",
        "pieces",
        "price",
        "machine_hour",
        "hand_hour",
        "what",
        "every_hours",
        "every_metres",
        "every_days",
        "with_board",
        "adapter",
        "url",
        "key_file",
        "server",
        "by",
        "reasons",
        "after_min",
        "lead_min",
        "host",
        "port",
        "topic",
        "user",
        "password_file",
    ];
    examples.iter().any(|e| key.starts_with(&format!("{e} =")))
}

#[test]
fn examples_in_comments_read_too() {
    let shown: String = SHIPPED
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(key)
                if (key.starts_with('[') && key.ends_with(']')) || (is_key(key) && !key.starts_with("spindle")) =>
            {
                format!("{key}\n")
            }
            _ => format!("{line}\n"),
        })
        .collect();
    let config = config::read("d", &shown).map_err(|f| told(&f)).unwrap();
    assert_eq!(config.hours.earshot.len(), 1);
    assert_eq!(config.people.len(), 1);
    assert_eq!(config.waste_board.keep_out.len(), 1);
    assert_eq!(config.machine.above_bit.len(), 1);
    assert_eq!((config.products.len(), config.products[0].parts["shelf"]), (1, 3));
    assert_eq!((config.panels.len(), config.panels[0].pieces), (1, [2, 2]));
}

#[test]
fn odd_products_and_panels_are_told() {
    let text = SHIPPED.to_owned()
        + "[[product]]\nname = \"stand\"\nparts = {}\n[[product]]\nname = \"stand\"\nparts = { side = 0 }\n\
           [[stock]]\nname = \"ply\"\nmaterial = \"softwood-plywod\"\nthickness = 18\nsize = [1220, 2440]\npieces = [0, 2]\n";
    let faults = config::read("d", &text).unwrap_err();
    let keys: Vec<String> = faults.iter().map(|f| f.key.clone()).collect();
    assert_eq!(
        keys,
        ["product 1.parts", "product 2.name", "product 2.parts.side", "stock 1.pieces 1"],
        "{}",
        told(&faults)
    );
    let text =
        text.replace("parts = {}", "parts = { side = 1 }").replace("side = 0", "side = 1").replace("[0, 2]", "[1, 2]");
    let faults = read(&Folder::with(Page::new("daemon.toml", text.replacen("\"stand\"", "\"bench\"", 1)))).unwrap_err();
    assert_eq!((faults[0].key.as_str(), faults[0].nearest.as_deref()), ("stock 1.material", Some("softwood-plywood")));
}

#[test]
fn ways_that_would_show_a_password_or_ask_for_no_certificate_are_told() {
    let mail = "name = \"post\"\nfrom = \"a@b.example\"\nto = [\"c@d.example\"]\nserver = ";
    let text = format!(
        "{SHIPPED}[[notices.mail]]\n{mail}\"mail.shop.example:25\"\nuser = \"a\"\npassword_file = \"p\"\n\
         [[notices.mail]]\n{}\"mail.shop.example\"\ntls = \"starttls\"\nuser = \"a\"\n\
         [[notices.webhook]]\nname = \"phone\"\nurl = \"http://10.0.0.2:99999/\"\n\
         [[notices.webhook]]\nname = \"door\"\nurl = \"http://10.0.0.2/\"\nca_file = \"ca.pem\"\n\
         [notices.broker]\nhost = \"h\"\ntopic = \"t\"\nca_file = \"ca.pem\"\n",
        mail.replace("post", "letters")
    );
    let faults = config::read("d", &text).unwrap_err();
    let mut keys: Vec<&str> = faults.iter().map(|f| f.key.as_str()).collect();
    keys.sort_unstable();
    assert_eq!(
        keys,
        [
            "notices.broker.ca_file",
            "notices.mail 1.user",
            "notices.mail 2",
            "notices.mail 2.server",
            "notices.webhook 1.url",
            "notices.webhook 2.ca_file",
        ],
        "{}",
        told(&faults)
    );
    let good = text
        .replace("mail.shop.example:25\"", "mail.shop.example:465\"\ntls = \"implicit\"")
        .replace(
            "mail.shop.example\"\ntls = \"starttls\"",
            "mail.shop.example:587\"\ntls = \"starttls\"\npassword_file = \"p\"",
        )
        .replace("http://", "https://")
        .replace(":99999", ":8443")
        .replace("topic = \"t\"", "topic = \"t\"\ntls = true");
    let outward = config::read("d", &good).map_err(|f| told(&f)).unwrap().outward;
    assert_eq!(outward.ways.len(), 4);
    // the registered port of MQTT over TLS (IANA)
    assert_eq!(outward.broker.unwrap().port, 8883);
}

#[test]
fn faults_of_every_file_are_told() {
    let mut folder = Folder::with(Page::new("daemon.toml", SHIPPED.replace("\"mdf\"", "\"mfd\"")));
    folder.fasteners = Some(Page::new("fasteners.toml", "[fastner.a]\n"));
    folder.checklists.insert("secring".to_owned(), Page::new("checklists/secring.toml", ""));
    folder.checklists.insert("checking".to_owned(), Page::new("checklists/checking.toml", "title = 1\n"));
    let faults = read(&folder).unwrap_err();
    let all: Vec<String> =
        faults.iter().map(|f| format!("{}: {} {}", f.file, f.key, f.nearest.as_deref().unwrap_or("-"))).collect();
    assert_eq!(
        all,
        [
            "fasteners.toml: fastner fastener",
            "checklists/secring.toml:  securing",
            "checklists/checking.toml: title -",
            "daemon.toml: waste_board.material mdf",
        ]
    );
}

#[test]
fn controllers_are_found_by_name() {
    assert_eq!(shop().controller.file, "controllers/acknowledged-window.toml");
    let text = SHIPPED.replace("# profile = \"acknowledged-window\"", "profile = \"acknowledged-windw\"");
    let faults = read(&Folder::with(Page::new("daemon.toml", text.clone()))).unwrap_err();
    assert_eq!(faults[0].key, "machine.profile");
    assert_eq!(faults[0].nearest.as_deref(), Some("acknowledged-window"));
    let mut folder = Folder::with(Page::new("daemon.toml", text));
    folder.controllers.insert("acknowledged-windw".to_owned(), Page::new("own.toml", ""));
    assert_eq!(read(&folder).unwrap().controller.file, "own.toml");
}

#[test]
fn own_files_win_over_defaults() {
    let mut folder = Folder::with(Page::new("daemon.toml", SHIPPED.replace("material = \"mdf\"", "")));
    folder.materials = Some(Page::new("materials.toml", ""));
    assert!(read(&folder).unwrap().stores.materials.is_empty());
}

proptest::proptest! {
    #![proptest_config(proptest::test_runner::Config::with_cases(40))]

    /// Whatever stands in a file: a value or faults, each with a place that can be shown.
    #[test]
    fn garbled_files_are_told(
        at in 0_usize..4000,
        cut in 0_usize..40,
        put in "[\\PC\n\\[\\]={}\"'.,0-9-]{0,12}",
    ) {
        let lists = SHIPPED.to_owned() + include_str!("../../../../config/checklists/tooling.toml");
        for text in [SHIPPED, BITS, MATERIALS, FASTENERS, lists.as_str()] {
            let letters: Vec<char> = text.chars().collect();
            let at = at.min(letters.len());
            let rest = (at + cut).min(letters.len());
            let garbled: String =
                letters[..at].iter().chain(put.chars().collect::<Vec<_>>().iter()).chain(&letters[rest..]).collect();
            let page = || Some(Page::new("f.toml", garbled.clone()));
            let mut folder = Folder::with(Page::new("daemon.toml", garbled.clone()));
            (folder.bits, folder.materials, folder.fasteners) = (page(), page(), page());
            folder.checklists.insert("tooling".to_owned(), Page::new("tooling.toml", garbled.clone()));
            for fault in read(&folder).err().unwrap_or_default() {
                proptest::prop_assert!(fault.line >= 1 && fault.column >= 1);
                proptest::prop_assert!(fault.to_string().contains(&fault.file));
            }
        }
    }
}
