//! What a check of a card finds, as facts; the sentences are made from them in one place ([`crate::finding::Finding::told`]).

use crate::quantity::plain;
use serde::{Deserialize, Serialize};
use std::fmt;

/// What kind of finding it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs, reason = "each code's meaning is its entry in the catalogue below")]
pub enum Code {
    Unreadable,
    LooseArc,
    NotForThisController,
    OutsideTravel,
    OutsideSheet,
    BedBite,
    NotThrough,
    RapidInMaterial,
    SpindleOff,
    NoFeed,
    PlungeEntry,
    SteepRamp,
    ShallowFirstPass,
    PassTooDeep,
    ChipLoadLow,
    ChipLoadHigh,
    PartLoose,
    WeakTabs,
    EndsOverSheet,
    FeedUntried,
    WeakHolddown,
    FastenerInPath,
    WrongBit,
    BitDue,
    SuspectUnits,
    NoEnd,
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // serde's kebab-case name is the one name of a code
        match serde_json::to_value(self) {
            Ok(serde_json::Value::String(s)) => f.write_str(&s),
            _ => f.write_str("?"),
        }
    }
}

/// What a finding asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Cannot run.
    Stops,
    /// The owner signs.
    Sign,
    /// A note.
    Tells,
}

impl Severity {
    /// As screens say it.
    #[must_use]
    pub const fn on_screen(self) -> &'static str {
        match self {
            Self::Stops => "cannot run",
            Self::Sign => "owner signs",
            Self::Tells => "note",
        }
    }
}

/// The unit of a finding's figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Unit {
    /// Millimetres.
    #[serde(rename = "mm")]
    Mm,
    /// Degrees.
    #[serde(rename = "deg")]
    Deg,
    /// Millimetres a tooth.
    #[serde(rename = "mm/tooth")]
    MmPerTooth,
    /// Square millimetres.
    #[serde(rename = "mm2")]
    Mm2,
    /// Metres.
    #[serde(rename = "m")]
    M,
    /// Newtons.
    #[serde(rename = "N")]
    N,
    /// Seconds.
    #[serde(rename = "s")]
    S,
    /// Millimetres a minute.
    #[serde(rename = "mm/min")]
    MmPerMin,
    /// A T number.
    #[serde(rename = "tool")]
    Tool,
    /// A number of tabs.
    #[serde(rename = "tabs")]
    Tabs,
}

/// One finding. `means` and `do` are written by the catalogue when the finding is made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// What kind.
    pub code: Code,
    /// What it asks for.
    pub severity: Severity,
    /// The operation's name; none for the card as a whole.
    pub operation: Option<String>,
    /// 1-based line of the program: the best single one.
    pub line: Option<u32>,
    /// 1-based column in that line.
    pub column: Option<u32>,
    /// First and last line where one cause recurs.
    pub lines: Option<[u32; 2]>,
    /// How many blocks show it.
    pub count: u32,
    /// What a signature covers.
    pub fingerprint: String,
    /// Work coordinates, where there is a place.
    pub place: Option<[f64; 3]>,
    /// The figure found.
    pub measured: Option<f64>,
    /// The figure allowed.
    pub limit: Option<f64>,
    /// The unit of both.
    pub unit: Option<Unit>,
    /// More facts, for the sentences.
    pub facts: Facts,
    /// What happens at the machine.
    pub means: String,
    /// What to change.
    #[serde(rename = "do")]
    pub remedy: String,
}

/// Facts beyond the figures; which ones are there depends on the code.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, rename_all = "kebab-case")]
pub struct Facts {
    /// `unreadable`: the rule broken, as a phrase ("two words of the motion group: G0 and G1").
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rule: Option<String>,
    /// `unreadable`: what to do, where the reader knows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hint: Option<String>,
    /// Lines of the program around it, with a caret under the column.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub excerpt: Option<String>,
    /// `part-loose`: where cutting beside it goes on, as a phrase ("outlines line 96").
    #[serde(skip_serializing_if = "Option::is_none")]
    pub goes_on: Option<String>,
    /// `part-loose`, `weak-tabs`: the piece's name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub piece: Option<String>,
    /// `outside-travel`: the axis.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub axis: Option<String>,
    /// `outside-travel`: the shift of the work zero that would fit, if any, in mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shift: Option<f64>,
    /// `wrong-bit`, chip load: the bit's key.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bit: Option<String>,
    /// Chip load: the range was taken from the nearest listed diameter, in mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nearest_diameter: Option<f64>,
    /// Chip load: the least and the most allowed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range: Option<[f64; 2]>,
    /// Hold-down: which fastener, for people ("fastener 3, 4.0 x 30 wood screw, at X 20 Y 600").
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fastener: Option<String>,
    /// Chip load: the spindle speed it was reckoned with.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rpm: Option<f64>,
}

impl Finding {
    /// Writes `means` and `do` from code, figures and facts, in English.
    #[must_use]
    pub fn told(mut self) -> Self {
        let (means, remedy) = crate::finding::sentences(&self);
        self.means = means;
        self.remedy = remedy;
        self
    }
}

/// The catalogue: what a finding means at the machine, and what to change.
#[must_use]
pub fn sentences(f: &Finding) -> (String, String) {
    let measured = f.measured.map(plain).unwrap_or_default();
    let limit = f.limit.map(plain).unwrap_or_default();
    let bit = f.facts.bit.clone().unwrap_or_else(|| "the bit".to_owned());
    let (means, remedy) = match f.code {
        Code::Unreadable => (
            f.facts.rule.clone().unwrap_or_else(|| "this block breaks the language's rules".to_owned()),
            f.facts.hint.clone().unwrap_or_else(|| "write the program out again, or mend this line".to_owned()),
        ),
        Code::LooseArc => (
            format!("the arc's start and end lie {measured} mm apart in radius; the controller may refuse it"),
            "write the program with more decimals".to_owned(),
        ),
        Code::NotForThisController => (
            f.facts.rule.clone().unwrap_or_else(|| "this controller does not know the word, and it cannot be written another way".to_owned()),
            f.facts.hint.clone().unwrap_or_else(|| "write the program out without it".to_owned()),
        ),
        Code::OutsideTravel => {
            let axis = f.facts.axis.clone().unwrap_or_default();
            let remedy = match f.facts.shift {
                Some(s) => format!("set the work zero {} mm further in {axis}, or move the drawing", plain(s)),
                None => "no work zero fits this program on this machine: move or split the drawing".to_owned(),
            };
            (format!("the machine runs {measured} mm past the end of its travel in {axis} and loses its position"), remedy)
        }
        Code::OutsideSheet => (
            format!("the bit's edge cuts {measured} mm outside the sheet, where stops and clamps may stand"),
            "move the drawing onto the sheet, or sign that nothing stands there".to_owned(),
        ),
        Code::BedBite => (
            format!("the bit cuts {measured} mm into the waste board (allowed {limit} mm) and may reach a fastener"),
            "measure the sheet again, or write the program for this thickness".to_owned(),
        ),
        Code::NotThrough => (
            format!("the cut ends at {measured} mm and the sheet is {limit} mm thick: the parts do not come free"),
            "measure the sheet again, or write the program for this thickness".to_owned(),
        ),
        Code::RapidInMaterial => (
            format!("a rapid move goes through {measured} mm of uncut wood and breaks the bit"),
            "raise the safe height in the drawing program, or mend the order of the moves".to_owned(),
        ),
        Code::SpindleOff => (
            "the bit is driven into the wood without turning and breaks".to_owned(),
            "put M3 with a speed before the first cut".to_owned(),
        ),
        Code::NoFeed => (
            "the controller has no feed to cut with and stops here, or uses one nobody chose".to_owned(),
            "put an F word on the first cutting move".to_owned(),
        ),
        Code::PlungeEntry => (
            format!("{bit} cannot cut straight down; {measured} mm of plunge burns the wood and the bit"),
            "enter by a ramp of 2 to 5 degrees".to_owned(),
        ),
        Code::SteepRamp => (
            format!("the ramp falls at {measured} degrees (at most {limit})"),
            "make the ramp longer".to_owned(),
        ),
        Code::ShallowFirstPass => (
            format!("the first pass is {measured} mm deep, the up-cutting tip {limit} mm: the top face tears"),
            "make the first pass deeper than the up-cutting tip".to_owned(),
        ),
        Code::PassTooDeep => (
            format!("a pass of {measured} mm is deeper than {bit} takes ({limit} mm): it bends, burns or breaks"),
            "split the depth into more passes".to_owned(),
        ),
        Code::ChipLoadLow | Code::ChipLoadHigh => chip_load(f, &measured, &bit),
        Code::PartLoose => part_loose(f, &measured),
        Code::WeakTabs => weak_tabs(f, &measured, &limit),
        Code::EndsOverSheet => (
            "the program ends with the bit over the sheet, in the way of hands".to_owned(),
            "end the program away from the sheet".to_owned(),
        ),
        Code::FeedUntried => (
            format!("a feed of {measured} mm/min is faster than this machine has proved itself at ({limit})"),
            "slow the feed, or sign a first try".to_owned(),
        ),
        Code::WeakHolddown => (
            format!("the fasteners hold {measured} N and {limit} N are needed, safety included: the sheet can move or lift"),
            "add fasteners, take longer ones, or cut shallower passes".to_owned(),
        ),
        Code::FastenerInPath => {
            let fastener = f.facts.fastener.as_deref().unwrap_or("a fastener");
            let means = match f.measured {
                Some(air) if air < 0.0 => {
                    format!("the bit runs {} mm into {fastener}: bits of both can fly", plain(-air))
                }
                _ => format!("the bit comes within {measured} mm of {fastener} (air wanted: {limit} mm)"),
            };
            (means, "move the fastener, or the cut".to_owned())
        }
        Code::WrongBit => (
            format!("the program calls for T{measured}, the card's bit {bit} is T{limit}"),
            "name the right bit on the card, or write the program for it".to_owned(),
        ),
        Code::BitDue => (
            format!("{bit} will have cut {measured} m and is due for a look at {limit} m"),
            "look at the edge, or take a fresh bit".to_owned(),
        ),
        Code::SuspectUnits => (
            "the program's numbers fit the sheet only when read in the other unit: the machine would run 25.4 times too far or too little".to_owned(),
            "put the right unit word (G20 inch, G21 mm) at the top of the program".to_owned(),
        ),
        Code::NoEnd => (
            "the program does not say where it ends; a cut-off file looks the same".to_owned(),
            "put M2 or M30 at the end, and close an opening % with another".to_owned(),
        ),
    };
    (means, remedy)
}

fn part_loose(f: &Finding, measured: &str) -> (String, String) {
    let piece = f.facts.piece.as_ref().map_or_else(|| "a piece".to_owned(), |name| format!("the {name}"));
    let where_on = f.facts.goes_on.as_ref().map_or_else(String::new, |line| format!(" ({line})"));
    (
        format!(
            "{piece} of {measured} mm2 has nothing left holding it while cutting goes on beside it{where_on}: it can be thrown"
        ),
        "leave tabs, cut it last, or put a fastener into it".to_owned(),
    )
}

fn weak_tabs(f: &Finding, measured: &str, limit: &str) -> (String, String) {
    let piece = f.facts.piece.as_ref().map_or_else(|| "a piece".to_owned(), |name| format!("the {name}"));
    match f.facts.rule.as_deref() {
        Some("height") => (
            format!(
                "the lowest tab of {piece} is {measured} mm high, at least {limit} mm are wanted: it may break in the cut"
            ),
            "make the tabs higher".to_owned(),
        ),
        Some("width") => (
            format!(
                "the narrowest tab of {piece} is {measured} mm wide, at least {limit} mm are wanted: it may break in the cut"
            ),
            "make the tabs wider".to_owned(),
        ),
        Some("number") => (
            format!("{piece} hangs on {measured} tabs, at least {limit} are wanted: it may turn into the bit"),
            "add tabs".to_owned(),
        ),
        Some("gap") => (
            format!(
                "two tabs of {piece} stand {measured} mm apart, at most {limit} mm are wanted: it springs between them"
            ),
            "add a tab between them".to_owned(),
        ),
        _ => (
            format!(
                "the tabs of {piece} hold {measured} N by estimate and {limit} N are wanted: they may break in the cut"
            ),
            "make the tabs higher, wider or more".to_owned(),
        ),
    }
}

fn chip_load(f: &Finding, measured: &str, bit: &str) -> (String, String) {
    let [least, most] = f.facts.range.unwrap_or([0.0, 0.0]);
    let at = f.facts.rpm.map(|r| format!(" at {} rpm", plain(r))).unwrap_or_default();
    let from = f
        .facts
        .nearest_diameter
        .map(|d| format!("; the range is that of the nearest listed bit, {} mm", plain(d)))
        .unwrap_or_default();
    if f.code == Code::ChipLoadLow {
        (
            format!(
                "each tooth takes {measured} mm{at}, least {}: the edge rubs and heats instead of cutting{from}",
                plain(least)
            ),
            "raise the feed or turn the spindle slower".to_owned(),
        )
    } else {
        (
            format!("each tooth takes {measured} mm{at}, most {}: {bit} bends or breaks{from}", plain(most)),
            "lower the feed or turn the spindle faster".to_owned(),
        )
    }
}
