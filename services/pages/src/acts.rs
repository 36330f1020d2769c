//! A batch as a row of acts: weigh each line, do each step, measure, weigh what came out. What was written stands with the
//! act that it belongs to.

use wire::bench::{BatchRecord, Entry, EntryKind, Finding, FindingKind, LineAid};
use wire::figure::Figure;
use wire::holds::HoldRelease;
use wire::ids::EntryId;

use crate::figures::{self, Shown, Sum, brief, heat, on_one_balance, spelled, why};
use crate::frame::Frame;
use crate::texts::{t, t1, t2, t3};

/// What kind of act it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Weigh,
    Step,
    Ph,
    WaterActivity,
    Yield,
}

/// How what was written stands to what was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Mark {
    /// Nothing is written.
    Ring,
    /// As asked, within what is allowed, or not judged.
    Level,
    Over,
    Under,
}

impl Mark {
    /// The path of the beam; empty for the ring.
    pub(crate) const fn path(self) -> &'static str {
        match self {
            Self::Ring => "",
            Self::Level => "M-16 0H16",
            Self::Over => "M-15-8 15 8",
            Self::Under => "M-15 8 15-8",
        }
    }
}

/// An entry as it stands in a record.
#[derive(Clone, Debug)]
pub(crate) struct Written {
    pub(crate) id: EntryId,
    pub(crate) number: u32,
    /// The amount, temperature, pH or note.
    pub(crate) words: String,
    /// Lot and date, or what was seen.
    pub(crate) lot: String,
    pub(crate) at: String,
    /// Set when the cautions had changed.
    pub(crate) mark: String,
    /// Why it is outside the tolerance, and who authorised that.
    pub(crate) deviation: Option<(String, String)>,
    /// What this one corrected: what stood there, and why.
    pub(crate) instead: Vec<(String, String)>,
}

/// One act.
#[derive(Clone, Debug)]
pub(crate) struct Act {
    pub(crate) id: String,
    pub(crate) kind: Kind,
    pub(crate) line: String,
    pub(crate) step: u32,
    /// The material, or what is done.
    pub(crate) title: String,
    /// The weight, or the temperature.
    pub(crate) asked: Shown,
    /// What is said of it: "at most", or a household measure.
    pub(crate) beside: String,
    pub(crate) hold: bool,
    /// Who released the hold, and when.
    pub(crate) released: String,
    /// Whether it may be done before those above it.
    pub(crate) any_order: bool,
    /// Whether it is done only where something goes wrong.
    pub(crate) rescue: bool,
    /// The range within tolerance, or the bounds of a temperature.
    pub(crate) low: String,
    pub(crate) high: String,
    pub(crate) percent: String,
    pub(crate) aid: LineAid,
    /// Weighed in part, and asked for again.
    pub(crate) asks_rest: bool,
    /// How long a step takes, where its words say so.
    pub(crate) minutes: u32,
    /// Entries that count, in order.
    pub(crate) written: Vec<Written>,
    pub(crate) mark: Mark,
    /// How far off, in words.
    pub(crate) deviation: String,
    pub(crate) findings: Vec<String>,
    /// What the deviation does to the product.
    pub(crate) effect: String,
    pub(crate) note: String,
    /// How to weigh what the balance cannot: the figures of an aliquot, in the order in which they are done.
    pub(crate) aliquot: Vec<Sum>,
}

impl Act {
    pub(crate) fn is_written(&self) -> bool {
        !self.written.is_empty()
    }

    pub(crate) fn is_weigh(&self) -> bool {
        self.kind == Kind::Weigh
    }

    pub(crate) fn is_step(&self) -> bool {
        self.kind == Kind::Step
    }

    /// A hold that is done and that nobody has released.
    pub(crate) fn waits(&self) -> bool {
        self.hold && self.is_written() && self.released.is_empty()
    }

    /// Measured where it says something, or done where something goes wrong: it is offered, not asked for.
    pub(crate) const fn is_offered(&self) -> bool {
        self.rescue || self.is_reading()
    }

    /// A pH or a water activity.
    pub(crate) const fn is_reading(&self) -> bool {
        matches!(self.kind, Kind::Ph | Kind::WaterActivity)
    }

    /// Weighings and what came out are weights.
    pub(crate) fn is_weight(&self) -> bool {
        matches!(self.kind, Kind::Weigh | Kind::Yield)
    }

    /// A step that asks for a pH, which is written in a place of its own.
    pub(crate) fn asks_ph(&self) -> bool {
        self.is_step() && self.title.split(|c: char| !c.is_alphanumeric()).any(|word| word == "pH")
    }

    pub(crate) const fn unit(&self) -> &'static str {
        match self.kind {
            Kind::Weigh | Kind::Yield => "g",
            Kind::Step => "°C",
            Kind::Ph | Kind::WaterActivity => "",
        }
    }

    pub(crate) const fn word(&self) -> &'static str {
        match self.kind {
            Kind::Weigh => "weighing",
            Kind::Step => "step_done",
            Kind::Ph => "ph",
            Kind::WaterActivity => "water_activity",
            Kind::Yield => "yield",
        }
    }

    /// The step by which + and − move what is typed.
    pub(crate) fn by(&self) -> String {
        match self.kind {
            Kind::Step => "1".to_owned(),
            Kind::Ph => "0.1".to_owned(),
            Kind::WaterActivity => "0.01".to_owned(),
            Kind::Weigh | Kind::Yield => match self.asked.number.split_once('.') {
                Some((_, behind)) => format!("0.{}1", "0".repeat(behind.len().saturating_sub(1))),
                None => "1".to_owned(),
            },
        }
    }

    /// What is read aloud.
    pub(crate) fn aloud(&self) -> String {
        match self.kind {
            Kind::Weigh => t2("aloud-weigh", self.asked.number.clone(), self.title.clone()),
            Kind::Step => format!("{}. {} {}", self.title, self.asked.whole(), self.beside),
            Kind::Ph | Kind::WaterActivity | Kind::Yield => self.title.clone(),
        }
    }

    /// The sentence before anything was typed.
    pub(crate) fn range(&self) -> String {
        match self.kind {
            Kind::Weigh if !self.low.is_empty() && self.low == self.high => {
                t2("range-same", self.low.clone(), self.percent.clone())
            }
            Kind::Weigh if !self.low.is_empty() => {
                t3("range-says", self.low.clone(), self.high.clone(), self.percent.clone())
            }
            Kind::Step if self.asked.known() && !self.asked.number.is_empty() => t("heat-says"),
            Kind::Step => t("step-says"),
            Kind::Ph => t("ph-says"),
            Kind::WaterActivity => t("activity-says"),
            Kind::Yield => t("yield-says"),
            Kind::Weigh => String::new(),
        }
    }
}

fn words(entry: &Entry) -> String {
    entry.quantity.as_deref().or(entry.note.as_deref()).map(spelled).unwrap_or_default()
}

fn written(frame: &Frame, entry: &Entry, record: &BatchRecord) -> Written {
    let all = &record.entries;
    let lot = match (&entry.lot, &entry.lot_expires) {
        (Some(lot), Some(until)) => t2("lot-until", lot.clone(), until.clone()),
        (Some(lot), None) => t1("lot-is", lot.clone()),
        _ if entry.kind == EntryKind::Weighing => t("lot-none"),
        _ => entry.note.clone().filter(|_| entry.quantity.is_some()).unwrap_or_default(),
    };
    let mut instead = Vec::new();
    let mut newer = entry;
    while let Some(old) = newer.corrects.and_then(|id| all.iter().find(|entry| entry.id == id)) {
        let was = match (&old.lot, entry.kind == EntryKind::Weighing) {
            (Some(lot), _) => format!("{}, {}", words(old), t1("lot-is", lot.clone())),
            (None, true) => format!("{}, {}", words(old), t("lot-none")),
            (None, false) => words(old),
        };
        instead.push((was, newer.reason.clone().unwrap_or_default()));
        newer = old;
    }
    Written {
        id: entry.id,
        number: entry.number,
        words: words(entry),
        lot,
        at: frame.when(&entry.at),
        mark: entry.mark.clone().unwrap_or_default(),
        deviation: entry.deviation.clone().map(|reason| (reason, authorised(frame, entry, record))),
        instead,
    }
}

fn minutes(text: &str) -> u32 {
    let words: Vec<&str> = text.split([' ', '\u{a0}']).collect();
    for pair in words.windows(2) {
        if let [number, unit] = pair
            && let Ok(number) = number.parse::<u32>()
        {
            if unit.starts_with("minute") {
                return number;
            }
            if unit.starts_with("hour") {
                return number.saturating_mul(60);
            }
        }
    }
    0
}

fn beam(figure: Option<&Figure>) -> Mark {
    match figure.and_then(|figure| figure.exact.as_deref().or(figure.value.as_deref())) {
        Some(value) if value.starts_with('-') => Mark::Under,
        Some(_) => Mark::Over,
        None => Mark::Level,
    }
}

/// Whether a deviation awaits authorisation: a weighing does while its line is outside the tolerance.
pub(crate) fn awaits(entry: &Entry, record: &BatchRecord) -> bool {
    let off = |one: &Finding| one.kind == FindingKind::OutOfTolerance && one.line == entry.line;
    entry.authorised.is_none() && (entry.kind != EntryKind::Weighing || record.findings.iter().any(off))
}

/// Who authorised a deviation, and when; or that it awaits this, or does not by now.
pub(crate) fn authorised(frame: &Frame, entry: &Entry, record: &BatchRecord) -> String {
    let Some(one) = &entry.authorised else {
        return if awaits(entry, record) { t("deviation-open") } else { t("deviation-right") };
    };
    let by = t2("who-when", one.by_name.clone().unwrap_or_default(), frame.when(&one.at));
    match one.note {
        Some(_) => t1("deviation-authorised-own", by),
        None => t1("deviation-authorised", by),
    }
}

/// Who released a hold, and when.
fn released(frame: &Frame, release: &HoldRelease) -> String {
    let by = t2("who-when", release.by_name.clone().unwrap_or_default(), frame.when(&release.at));
    match release.note {
        Some(_) => t1("hold-released-own", by),
        None => t1("hold-released", by),
    }
}

/// The acts of a batch, in the order in which they are done.
pub(crate) fn acts(frame: &Frame, record: &BatchRecord, aids: &[LineAid]) -> Vec<Act> {
    let live = |kind: EntryKind| {
        let all = &record.entries;
        all.iter().filter(move |entry| entry.kind == kind && entry.corrected_by.is_none())
    };
    let show = |entry: &Entry| written(frame, entry, record);
    let found = |of: &dyn Fn(&Finding) -> bool| -> Vec<&Finding> {
        record.findings.iter().filter(|finding| of(finding)).collect()
    };
    let told =
        |findings: &[&Finding]| findings.iter().map(|finding| spelled(&finding.sentence)).collect::<Vec<_>>();
    let empty = |id: String, kind: Kind, title: String| Act {
        id,
        kind,
        line: String::new(),
        step: 0,
        title,
        asked: Shown::default(),
        beside: String::new(),
        hold: false,
        released: String::new(),
        any_order: false,
        rescue: false,
        low: String::new(),
        high: String::new(),
        percent: String::new(),
        aid: LineAid::default(),
        asks_rest: false,
        minutes: 0,
        written: Vec::new(),
        mark: Mark::Ring,
        deviation: String::new(),
        findings: Vec::new(),
        effect: String::new(),
        note: String::new(),
        aliquot: Vec::new(),
    };
    let mut acts = Vec::new();
    for line in record.recipe.phases.iter().flat_map(|phase| &phase.lines) {
        let mut act = empty(format!("w-{}", line.line), Kind::Weigh, line.name.clone());
        act.line.clone_from(&line.line);
        act.asked = figures::shown(&line.weigh);
        act.beside = line.measure.as_ref().map(|figure| figures::shown(figure).whole()).unwrap_or_default();
        act.note = line.weighing_note.as_deref().map(spelled).unwrap_or_default();
        act.aliquot = line.aliquot.iter().filter_map(|figure| why(figure).pop()).collect();
        act.aid = aids.iter().find(|aid| aid.line == line.line).cloned().unwrap_or_default();
        act.low = act.aid.low.clone().unwrap_or_default();
        act.high = act.aid.high.clone().unwrap_or_default();
        act.percent = act.aid.percent.clone().unwrap_or_default();
        act.written = live(EntryKind::Weighing)
            .filter(|entry| entry.line.as_deref() == Some(&line.line))
            .map(show)
            .collect();
        if act.is_written() {
            let begins = format!("{} ", line.line);
            let deviation = record
                .as_made
                .as_ref()
                .and_then(|made| made.deviations.iter().find(|figure| figure.name.starts_with(&begins)));
            // The sentence says how far, and then by what; how far is what is read here.
            let said = deviation.and_then(|figure| figure.sentence.as_deref()).unwrap_or_default();
            act.deviation = brief(&spelled(said.split(": ").next().unwrap_or_default()));
            let of_line = found(&|finding| finding.line.as_deref() == Some(&line.line));
            let out = of_line.iter().any(|finding| finding.kind == FindingKind::OutOfTolerance);
            act.mark = if out { beam(deviation) } else { Mark::Level };
            // What is allowed stands beside the deviation; the rest are sentences of their own.
            let others: Vec<&Finding> =
                of_line.into_iter().filter(|finding| finding.kind != FindingKind::OutOfTolerance).collect();
            act.findings = told(&others);
            if out && !act.low.is_empty() {
                let allowed = t3("allowed-says", act.percent.clone(), act.low.clone(), act.high.clone());
                act.findings.insert(0, format!("{}. {allowed}", act.deviation));
                act.deviation.clear();
            }
        }
        acts.push(act);
    }
    on_one_balance(&mut acts.iter_mut().map(|act| &mut act.asked).collect::<Vec<_>>());
    for (i, step) in record.recipe.method.iter().enumerate() {
        let number = u32::try_from(i + 1).unwrap_or(0);
        let mut act = empty(format!("s-{number}"), Kind::Step, spelled(&step.do_));
        act.step = number;
        act.hold = step.hold;
        act.any_order = step.any_order;
        act.rescue = step.rescue;
        let release = record.hold_releases.iter().find(|release| release.step == number);
        act.released = release.map(|release| released(frame, release)).unwrap_or_default();
        act.minutes = minutes(&step.do_);
        if let Some(text) = &step.temperature {
            let (degrees, beside) = heat(text);
            let number = degrees.split('\u{a0}').next().unwrap_or_default().to_owned();
            if text.contains("at most") || !text.contains("at least") {
                act.high.clone_from(&number);
            }
            if text.contains("at least") {
                act.low.clone_from(&number);
            }
            act.asked = Shown { number, unit: "°C".into(), ..Shown::default() };
            act.beside = beside;
        }
        let of_step = |entry: &&Entry| entry.step == Some(number);
        let done: Vec<Written> = live(EntryKind::StepDone).filter(of_step).map(show).collect();
        let heats: Vec<Written> = live(EntryKind::Temperature).filter(of_step).map(show).collect();
        let seen: Vec<Written> = live(EntryKind::Observation).filter(of_step).map(show).collect();
        if !done.is_empty() {
            act.mark = Mark::Level;
            let of_step = found(&|finding| finding.step == Some(number));
            let off =
                [FindingKind::Temperature, FindingKind::StepOrder, FindingKind::TooFast, FindingKind::Hold];
            if of_step.iter().any(|finding| off.contains(&finding.kind)) {
                act.mark = Mark::Over;
            }
            act.findings = told(&of_step);
            act.written = heats.into_iter().chain(seen).chain(done).collect();
        }
        acts.push(act);
    }
    let offered = [
        ("ph", Kind::Ph, t("act-ph"), EntryKind::Ph),
        ("activity", Kind::WaterActivity, t("act-activity"), EntryKind::WaterActivity),
    ];
    for (id, kind, title, entries) in offered {
        let mut act = empty(id.into(), kind, title);
        act.written = live(entries).map(show).collect();
        if act.is_written() {
            act.mark = Mark::Level;
        }
        acts.push(act);
    }
    let mut came = empty("yield".into(), Kind::Yield, t("act-yield"));
    came.written = live(EntryKind::Yield).map(show).collect();
    if let Some(expected) = record.recipe.figures.iter().find(|figure| figure.name == "net") {
        came.asked = figures::shown(expected);
    }
    if came.is_written() {
        let of_yield = found(&|finding| matches!(finding.kind, FindingKind::Yield | FindingKind::YieldLow));
        came.mark = match of_yield.first().map(|finding| finding.kind) {
            None => Mark::Level,
            Some(FindingKind::YieldLow) => Mark::Under,
            Some(_) => Mark::Over,
        };
        came.findings = told(&of_yield);
    }
    acts.push(came);
    acts
}

/// What is found of the checks before the start: it belongs to no act.
pub(crate) fn checks(record: &BatchRecord) -> Vec<String> {
    let of_checks = record.findings.iter().filter(|finding| finding.kind == FindingKind::Check);
    of_checks.map(|finding| spelled(&finding.sentence)).collect()
}

/// The first act that nothing was written of, but for what is only offered.
pub(crate) fn next(acts: &[Act]) -> Option<&Act> {
    acts.iter().find(|act| act.asks_rest || !act.is_written() && !act.is_offered())
}

/// The adjustment that was proposed last.
fn proposed(record: &BatchRecord) -> Option<&Entry> {
    record.entries.iter().rfind(|entry| entry.kind == EntryKind::Adjustment)
}

/// Of lines that were weighed in part: asks for the rest, where it is not the weight of before that is corrected. A batch that was
/// adjusted leads to them again, since it asks for more than it did.
pub(crate) fn rest(record: &BatchRecord, acts: &mut [Act], adds: bool) {
    let adjusted = proposed(record).is_some_and(|entry| entry.authorised.is_some());
    for act in acts.iter_mut().filter(|_| adds) {
        let Some(rest) = act.aid.rest.clone() else { continue };
        act.note = t2("rest-says", rest.weighed, act.asked.whole());
        act.beside.clear();
        act.asked.number = rest.more;
        (act.low, act.high) = (rest.low, rest.high);
        act.asks_rest = adjusted;
    }
}

/// That a larger batch could correct it, where it could; or that one was proposed and waits. Empty otherwise.
pub(crate) fn too_much(record: &BatchRecord, adjustable: bool) -> String {
    if proposed(record).is_some_and(|entry| entry.authorised.is_none()) {
        return t("adjust-waits-here");
    }
    if adjustable { t("adjust-here") } else { String::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_says_how_long_it_takes() {
        assert_eq!(minutes("Warm it for 10 minutes, stirring"), 10);
        assert_eq!(minutes("Leave it for 2 hours"), 120);
        assert_eq!(minutes("Stir until it has set"), 0);
    }
}
