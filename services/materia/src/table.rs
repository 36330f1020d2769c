//! Reading one CSV file row by row, with refusals that name file, line, field and cure.

use crate::error::Error;
use crate::source::{DateIs, Source, Status};
use rust_decimal::Decimal;
use std::collections::{HashMap, HashSet};
use std::fmt::Display;
use std::str::FromStr;

/// One CSV file, its headings checked.
pub(crate) struct Table {
    file: &'static str,
    columns: &'static [&'static str],
    rows: Vec<(u64, csv::StringRecord)>,
}

/// One row of a table.
#[derive(Clone, Copy)]
pub(crate) struct Row<'t> {
    table: &'t Table,
    line: u64,
    record: &'t csv::StringRecord,
}

impl Table {
    pub(crate) fn read(
        file: &'static str,
        text: &str,
        columns: &'static [&'static str],
    ) -> Result<Self, Error> {
        let whole = |line, problem: String, cure: String| Error {
            file: file.to_owned(),
            line,
            field: None,
            problem,
            cure,
        };
        let broken = |error: csv::Error| {
            let line = error.position().map(csv::Position::line);
            whole(
                line,
                format!("the row cannot be read ({error})"),
                format!(
                    "Give every row {} fields, separated by commas, with quotes around a comma",
                    columns.len()
                ),
            )
        };
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
        let headings = reader.headers().map_err(broken)?;
        if headings.iter().ne(columns.iter().copied()) {
            return Err(whole(
                Some(1),
                format!("the headings are {:?}", headings.iter().collect::<Vec<_>>().join(",")),
                format!("Make the first line {:?}", columns.join(",")),
            ));
        }
        let rows = reader
            .records()
            .map(|record| {
                let record = record.map_err(broken)?;
                Ok((record.position().map_or(0, csv::Position::line), record))
            })
            .collect::<Result<Vec<_>, Error>>()?;
        Ok(Self { file, columns, rows })
    }

    pub(crate) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|(line, record)| Row { table: self, line: *line, record })
    }
}

impl<'t> Row<'t> {
    /// The refusal of one field of this row.
    pub(crate) fn refuse(self, field: &str, problem: impl Into<String>, cure: impl Into<String>) -> Error {
        Error {
            file: self.table.file.to_owned(),
            line: Some(self.line),
            field: Some(field.to_owned()),
            problem: problem.into(),
            cure: cure.into(),
        }
    }

    /// The field's text; an empty one is none.
    pub(crate) fn optional(self, field: &str) -> Option<&'t str> {
        let at = self.table.columns.iter().position(|column| *column == field)?;
        self.record.get(at).filter(|text| !text.is_empty())
    }

    pub(crate) fn text(self, field: &str) -> Result<&'t str, Error> {
        self.optional(field).ok_or_else(|| self.refuse(field, "the field is empty", "Fill it in"))
    }

    pub(crate) fn string(self, field: &str) -> Result<String, Error> {
        self.text(field).map(str::to_owned)
    }

    pub(crate) fn optional_string(self, field: &str) -> Option<String> {
        self.optional(field).map(str::to_owned)
    }

    /// The items of a list separated by semicolons.
    pub(crate) fn items(self, field: &str) -> impl Iterator<Item = &'t str> {
        self.optional(field).unwrap_or("").split(';').map(str::trim).filter(|item| !item.is_empty())
    }

    pub(crate) fn list(self, field: &str) -> Vec<String> {
        self.items(field).map(str::to_owned).collect()
    }

    /// A required word or other parsed value, whose own error tells what is accepted.
    pub(crate) fn parsed<T: FromStr<Err: Display>>(self, field: &str) -> Result<T, Error> {
        self.parse(field, self.text(field)?)
    }

    pub(crate) fn optional_parsed<T: FromStr<Err: Display>>(self, field: &str) -> Result<Option<T>, Error> {
        self.optional(field).map(|text| self.parse(field, text)).transpose()
    }

    pub(crate) fn parsed_list<T: FromStr<Err: Display>>(self, field: &str) -> Result<Vec<T>, Error> {
        self.items(field).map(|item| self.parse(field, item)).collect()
    }

    fn parse<T: FromStr<Err: Display>>(self, field: &str, text: &str) -> Result<T, Error> {
        text.parse().map_err(|error: T::Err| {
            self.refuse(field, format!("{text:?} is not accepted"), error.to_string())
        })
    }

    pub(crate) fn yes_or_no(self, field: &str) -> Result<bool, Error> {
        match self.text(field)? {
            "yes" => Ok(true),
            "no" => Ok(false),
            other => Err(self.refuse(field, format!("{other:?} is not accepted"), "Write yes or no")),
        }
    }

    /// A number that is not negative, in plain digits.
    pub(crate) fn optional_number(self, field: &str) -> Result<Option<Decimal>, Error> {
        let Some(text) = self.optional(field) else { return Ok(None) };
        let plain = text.chars().all(|c| c.is_ascii_digit() || c == '.');
        match Decimal::from_str_exact(text) {
            Ok(number) if plain => Ok(Some(number)),
            _ => Err(self.refuse(
                field,
                format!("{text:?} is not a plain number"),
                "Write digits with at most one point, without sign or unit",
            )),
        }
    }

    /// A whole day, like 2023-11-01.
    pub(crate) fn optional_day(self, field: &str) -> Result<Option<String>, Error> {
        match self.optional(field) {
            Some(text) if text.len() != 10 || !is_date(text) => {
                Err(self.refuse(field, format!("{text:?} is not a day"), "Write a day such as 2024-05-13"))
            }
            other => Ok(other.map(str::to_owned)),
        }
    }

    /// A temperature in °C, which alone may be negative.
    pub(crate) fn optional_celsius(self, field: &str) -> Result<Option<Decimal>, Error> {
        let Some(text) = self.optional(field) else { return Ok(None) };
        match Decimal::from_str_exact(text) {
            Ok(number) if number >= Decimal::from(-100) && number <= Decimal::from(400) => Ok(Some(number)),
            _ => Err(self.refuse(
                field,
                format!("{text:?} is not a temperature"),
                "Write degrees Celsius between -100 and 400",
            )),
        }
    }

    /// A key made of small letters, digits and hyphens.
    pub(crate) fn key(self, field: &str, taken: &mut HashSet<String>) -> Result<String, Error> {
        let text = self.text(field)?;
        if !text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-') {
            return Err(self.refuse(
                field,
                format!("{text:?} is not a key"),
                "Use small letters, digits and hyphens",
            ));
        }
        if !taken.insert(text.to_owned()) {
            return Err(self.refuse(
                field,
                format!("{text:?} stands in an earlier row too"),
                "Give each row a key of its own",
            ));
        }
        Ok(text.to_owned())
    }

    /// A reference to a row of another file.
    pub(crate) fn refers<'k>(self, field: &str, key: &'k str, to: &Keys) -> Result<&'k str, Error> {
        if to.keys.contains(key) {
            return Ok(key);
        }
        Err(self.refuse(
            field,
            format!("{key:?} is not in {}", to.file),
            format!("Write a key from {0}, or add a row to {0}", to.file),
        ))
    }

    /// A required reference.
    pub(crate) fn reference(self, field: &str, to: &Keys) -> Result<String, Error> {
        self.refers(field, self.text(field)?, to).map(str::to_owned)
    }

    /// A list of references.
    pub(crate) fn references(self, field: &str, to: &Keys) -> Result<Vec<String>, Error> {
        self.items(field).map(|key| self.refers(field, key, to).map(str::to_owned)).collect()
    }
}

/// The keys of one file, to check references against.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Keys {
    pub(crate) file: &'static str,
    pub(crate) keys: HashSet<String>,
}

/// The sources that the other files refer to.
pub(crate) struct Sources(HashMap<String, Source>);

impl Sources {
    pub(crate) fn read(text: &str) -> Result<Self, Error> {
        let table = Table::read("sources.csv", text, &["key", "text", "date", "date_is"])?;
        let mut taken = HashSet::new();
        let mut sources = HashMap::new();
        for row in table.rows() {
            let date = row.string("date")?;
            if !is_date(&date) {
                return Err(row.refuse(
                    "date",
                    format!("{date:?} is not a date"),
                    "Write 2024, 2024-05 or 2024-05-13",
                ));
            }
            let source =
                Source { text: row.string("text")?, date, date_is: row.parsed::<DateIs>("date_is")? };
            sources.insert(row.key("key", &mut taken)?, source);
        }
        Ok(Self(sources))
    }

    /// Source and status of a row, from its columns `source`, `place` and `status`.
    pub(crate) fn of(&self, row: Row<'_>) -> Result<(Source, Status), Error> {
        let key = row.optional("source").ok_or_else(|| {
            row.refuse(
                "source",
                "the row has no source",
                "Write a key from sources.csv, or common-practice or from-memory if there is no source",
            )
        })?;
        let found = self.0.get(key).ok_or_else(|| {
            row.refuse(
                "source",
                format!("{key:?} is not in sources.csv"),
                "Add the source to sources.csv first",
            )
        })?;
        let status = row.parsed::<Status>("status")?;
        let fits = match key {
            "from-memory" => status == Status::FromMemory,
            "common-practice" => status == Status::CommonPractice,
            _ => status != Status::CommonPractice,
        };
        if !fits {
            return Err(row.refuse(
                "status",
                format!("{status} does not fit the source {key:?}"),
                "from-memory is from_memory, common-practice is common_practice, a named source is verified, \
                 secondary or from_memory",
            ));
        }
        let text = match row.optional("place") {
            Some(place) => format!("{}, {place}", found.text),
            None => found.text.clone(),
        };
        Ok((Source { text, ..found.clone() }, status))
    }
}

fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let number = |part: &str, digits: usize, most: u32| {
        part.len() == digits && part.parse::<u32>().is_ok_and(|number| (1..=most).contains(&number))
    };
    match parts.as_slice() {
        [year] => number(year, 4, 2100),
        [year, month] => number(year, 4, 2100) && number(month, 2, 12),
        [year, month, day] => number(year, 4, 2100) && number(month, 2, 12) && number(day, 2, 31),
        _ => false,
    }
}
