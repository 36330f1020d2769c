//! What all pages share: the beam, the places, who is signed in, the sheet and the clinic's notice. And how a page writes
//! dates.

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use chrono_tz::Tz;
use clinic::people::PageVisitor;
use wire::people::Role;

use crate::assets;
use crate::texts;

/// One of the places that a person goes to.
pub(crate) struct Place {
    pub(crate) address: &'static str,
    pub(crate) name: String,
    pub(crate) current: bool,
}

/// The frame of one page.
pub(crate) struct Frame {
    /// The title, which also names the browser's window.
    pub(crate) title: String,
    /// Where *Stillroom* leads.
    pub(crate) home: &'static str,
    pub(crate) places: Vec<Place>,
    /// The name of whoever is signed in.
    pub(crate) name: Option<String>,
    pub(crate) notice: String,
    /// The script modules that the page needs.
    pub(crate) modules: Vec<&'static str>,
    /// As wide as a desk needs.
    pub(crate) desk: bool,
    /// With room left of the pillar for figures that stand by their decimal points.
    pub(crate) figures: bool,
    zone: Tz,
    today: NaiveDate,
}

const STUDENT: &[(&str, &str)] = &[
    ("/today", "place-today"),
    ("/formulas", "place-formulas"),
    ("/batches", "place-batches"),
    ("/shelf", "place-shelf"),
    ("/calculators", "place-calculators"),
];
const INSTRUCTOR: &[(&str, &str)] = &[
    ("/queue", "place-queue"),
    ("/assignments", "place-classes"),
    ("/formulas", "place-formulas"),
    ("/batches", "place-batches"),
    ("/shelf", "place-shelf"),
    ("/materials", "place-materials"),
    ("/calculators", "place-calculators"),
];
const ADMINISTRATOR: &[(&str, &str)] = &[
    ("/people", "place-people"),
    ("/libraries", "place-libraries"),
    ("/shelf", "place-shelf"),
    ("/policy", "place-policy"),
    ("/api-clients", "place-api-clients"),
    ("/events", "place-events"),
];

/// The first page of a role: what its reader does next.
pub(crate) const fn home(role: Role) -> &'static str {
    match role {
        Role::Student => "/today",
        Role::Instructor => "/queue",
        Role::Administrator => "/people",
    }
}

impl Frame {
    /// For a person who is signed in, on the page with this path.
    pub(crate) fn of(who: &PageVisitor, path: &str, title: String, now: DateTime<Utc>) -> Self {
        let places = match who.person.role {
            Role::Student => STUDENT,
            Role::Instructor => INSTRUCTOR,
            Role::Administrator => ADMINISTRATOR,
        };
        let begins = |address: &str| path == address || path.starts_with(&format!("{address}/"));
        let zone = who.policy.time_zone.parse().unwrap_or(Tz::UTC);
        Self {
            title,
            home: home(who.person.role),
            places: places
                .iter()
                .map(|(address, name)| Place { address, name: word_of_place(name), current: begins(address) })
                .collect(),
            name: Some(who.person.name.clone()),
            notice: who.policy.notice.clone(),
            modules: Vec::new(),
            desk: false,
            figures: false,
            zone,
            today: now.with_timezone(&zone).date_naive(),
        }
    }

    /// For whoever is not signed in.
    pub(crate) fn anybody(title: String, now: DateTime<Utc>) -> Self {
        Self {
            title,
            home: "/",
            places: Vec::new(),
            name: None,
            notice: texts::t("notice-anybody"),
            modules: Vec::new(),
            desk: false,
            figures: false,
            zone: Tz::UTC,
            today: now.date_naive(),
        }
    }

    /// The same with a script module.
    pub(crate) fn with(mut self, module: &'static str) -> Self {
        self.modules.push(module);
        self
    }

    /// The same, as wide as a desk needs.
    pub(crate) fn on_desk(mut self) -> Self {
        self.desk = true;
        self
    }

    /// The same with a wider left pan.
    pub(crate) fn with_figures(mut self) -> Self {
        self.figures = true;
        self
    }

    /// A text by its name. Templates call these.
    pub(crate) fn t(&self, id: &str) -> String {
        texts::t(id)
    }

    pub(crate) fn t1(&self, id: &str, a: impl ToString) -> String {
        texts::t1(id, a.to_string())
    }

    pub(crate) fn t2(&self, id: &str, a: impl ToString, b: impl ToString) -> String {
        texts::t2(id, a.to_string(), b.to_string())
    }

    pub(crate) fn t3(&self, id: &str, a: impl ToString, b: impl ToString, c: impl ToString) -> String {
        texts::t3(id, a.to_string(), b.to_string(), c.to_string())
    }

    /// A text that counts something.
    pub(crate) fn count(&self, id: &str, number: impl ToString) -> String {
        texts::t1(id, number.to_string().parse::<i64>().unwrap_or_default())
    }

    /// The address of a file of ours.
    pub(crate) fn file(&self, name: &str) -> String {
        assets::address(name)
    }

    /// The day of the clinic.
    pub(crate) const fn today(&self) -> NaiveDate {
        self.today
    }

    /// A day, such as "28 November 2026".
    pub(crate) fn day(&self, day: &NaiveDate) -> String {
        texts::t3(
            "date",
            i64::from(day.day()),
            texts::t(MONTHS[usize::try_from(day.month0()).unwrap_or(0) % 12]),
            day.year().to_string(),
        )
    }

    /// A day without its year, such as "28 Nov".
    pub(crate) fn short_day(&self, day: &NaiveDate) -> String {
        let month: String =
            texts::t(MONTHS[usize::try_from(day.month0()).unwrap_or(0) % 12]).chars().take(3).collect();
        texts::t2("date-short", i64::from(day.day()), month)
    }

    /// The day of an instant, in the clinic's time zone.
    pub(crate) fn day_of(&self, at: &DateTime<Utc>) -> NaiveDate {
        at.with_timezone(&self.zone).date_naive()
    }

    /// The time of day, such as "16:19".
    pub(crate) fn time(&self, at: &DateTime<Utc>) -> String {
        at.with_timezone(&self.zone).format("%H:%M").to_string()
    }

    /// When: today's without the day, another year's with it.
    pub(crate) fn when(&self, at: &DateTime<Utc>) -> String {
        let day = self.day_of(at);
        if day == self.today {
            return texts::t1("when-today", self.time(at));
        }
        texts::t2("when-then", self.day(&day), self.time(at))
    }

    /// When, for the left pan: "today", or the day.
    pub(crate) fn since(&self, at: &DateTime<Utc>) -> String {
        let day = self.day_of(at);
        if day == self.today { texts::t("today-word") } else { self.short_day(&day) }
    }
}

fn word_of_place(name: &str) -> String {
    // word("place")
    texts::t(name)
}

// word("month")
const MONTHS: [&str; 12] = [
    "month-january",
    "month-february",
    "month-march",
    "month-april",
    "month-may",
    "month-june",
    "month-july",
    "month-august",
    "month-september",
    "month-october",
    "month-november",
    "month-december",
];
