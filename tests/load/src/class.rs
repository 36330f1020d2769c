//! A class of students, each with a session, an acknowledged recipe and a batch of their own on the bench.

use std::io::{Error, Result};
use std::net::SocketAddr;

use serde_json::{Value, json};

use crate::clinic::Account;
use crate::http::{self, Answer, Connection};

/// The formula that everybody makes. It nests another, so that nothing about it is the easy case.
const FORMULA: &str = "Household calendula cream";

/// The list that a student looks at first.
pub(crate) const LIST: &str = "/v1/formulas?limit=50";

/// A student at work.
pub(crate) struct Student {
    token: String,
    /// The cookie of a session on the pages.
    cookie: String,
    batch: String,
}

/// What a class makes, and who is in it.
pub(crate) struct Class {
    address: SocketAddr,
    formula: String,
    revision: String,
    /// In the order of their seats.
    pub(crate) students: Vec<Student>,
}

/// A caller with a session, on a connection of its own.
struct Caller {
    address: SocketAddr,
    connection: Connection,
    token: String,
    /// How many keys this caller used.
    keys: u32,
}

impl Caller {
    async fn sign_in(address: SocketAddr, account: &Account) -> Result<Self> {
        let mut connection = Connection::open(address).await?;
        let answer = connection.exchange(&account.sign_in(address)).await?;
        let token = text(&value(&answer, 201, "signing in")?["access_token"])?;
        Ok(Self { address, connection, token, keys: 0 })
    }

    async fn get(&mut self, path: &str) -> Result<Value> {
        let request = http::get(self.address, path, &self.token);
        value(&self.connection.exchange(&request).await?, 200, path)
    }

    async fn post(&mut self, path: &str, body: &Value) -> Result<Value> {
        self.keys += 1;
        let key = format!("class-{}", self.keys);
        let request = http::create(self.address, path, &self.token, &key, body);
        value(&self.connection.exchange(&request).await?, 201, path)
    }

    async fn put(&mut self, path: &str) -> Result<()> {
        let request = http::put(self.address, path, &self.token);
        let status = self.connection.exchange(&request).await?.status;
        if status == 204 { Ok(()) } else { Err(Error::other(format!("{path}: {status}"))) }
    }
}

fn value(answer: &Answer<'_>, expected: u16, what: &str) -> Result<Value> {
    if answer.status == expected {
        return Ok(serde_json::from_slice(answer.body)?);
    }
    let said = String::from_utf8_lossy(answer.body);
    Err(Error::other(format!("{what}: {} instead of {expected}: {said}", answer.status)))
}

fn text(value: &Value) -> Result<String> {
    value.as_str().map(str::to_owned).ok_or_else(|| Error::other("an answer lacks what was looked for"))
}

/// Invites as many students as there are seats, lets them acknowledge one formula, and opens a batch for each.
pub(crate) async fn gather(
    address: SocketAddr,
    administrator: &Account,
    instructor: &Account,
    seats: usize,
) -> Result<Class> {
    let mut administrator = Caller::sign_in(address, administrator).await?;
    let mut instructor = Caller::sign_in(address, instructor).await?;
    let (formula, revision) = found(&mut instructor).await?;
    // Everybody reads everything, the large library too.
    let libraries = instructor.get("/v1/libraries?limit=100").await?;
    let libraries = libraries["items"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|one| text(&one["id"]))
        .collect::<Result<Vec<_>>>()?;
    let mut students = Vec::new();
    for seat in 0..seats {
        let account = invited(&mut administrator, seat).await?;
        let mut student = Caller::sign_in(address, &account).await?;
        let me = text(&student.get("/v1/me").await?["person"]["id"])?;
        for library in &libraries {
            instructor.put(&format!("/v1/libraries/{library}/members/{me}")).await?;
        }
        let form = http::sign_in_form(address, &account.name, &account.password);
        let cookie = student.connection.session(&form).await?;
        students.push(at_work(student, cookie, &revision).await?);
    }
    Ok(Class { address, formula, revision, students })
}

/// The formula and its approved revision.
async fn found(instructor: &mut Caller) -> Result<(String, String)> {
    let mut path = "/v1/formulas?limit=100&approved=true".to_owned();
    loop {
        let list = instructor.get(&path).await?;
        let items = list["items"].as_array().into_iter().flatten();
        if let Some(found) = items.into_iter().find(|one| one["title"] == FORMULA) {
            return Ok((text(&found["id"])?, text(&found["approved_revision"])?));
        }
        path = format!("/v1/formulas?limit=100&approved=true&after={}", text(&list["next"])?);
    }
}

async fn invited(administrator: &mut Caller, seat: usize) -> Result<Account> {
    let name = format!("seat.{seat}");
    let invite = json!({ "sign_in_name": name, "name": format!("Seat {seat}"), "role": "student" });
    let code = text(&administrator.post("/v1/invitations", &invite).await?["code"])?;
    let password = format!("the long phrase of seat {seat}");
    let body = json!({ "code": code, "password": password });
    let request = http::post(administrator.address, "/v1/one-time-codes/use", &body);
    let status = administrator.connection.exchange(&request).await?.status;
    if status != 204 {
        return Err(Error::other(format!("a code was refused: {status}")));
    }
    Ok(Account { name, password })
}

async fn at_work(mut student: Caller, cookie: String, revision: &str) -> Result<Student> {
    let set = student.get(&format!("/v1/revisions/{revision}/cautions")).await?;
    let each: Vec<&Value> = set["cautions"]
        .as_array()
        .into_iter()
        .flatten()
        .filter(|caution| caution["level"] == "contraindication")
        .map(|caution| &caution["key"])
        .collect();
    let read = json!({ "caution_set": set["digest"], "contraindications": each });
    student.post(&format!("/v1/revisions/{revision}/acknowledgements"), &read).await?;
    student.get(&format!("/v1/revisions/{revision}/recipe")).await?;
    let new = json!({ "revision": revision,
        "make_for": { "containers": 12, "fill": "30 g", "transfer_loss": "4 %", "readability": "0.1 g" } });
    let batch = text(&student.post("/v1/batches", &new).await?["id"])?;
    // A record as it looks on the bench: some lines weighed, a temperature, an observation.
    for entry in [
        json!({ "kind": "weighing", "line": "1.1", "quantity": "168.7 g", "lot": "IO-7", "lot_expires": "2027-03", "reason_later": true }),
        json!({ "kind": "weighing", "line": "1.2", "quantity": "37.5 g", "lot": "BW-3", "reason_later": true }),
        json!({ "kind": "temperature", "step": 1, "quantity": "68 C" }),
        json!({ "kind": "observation", "note": "Melted clear." }),
    ] {
        student.post(&format!("/v1/batches/{batch}/entries"), &entry).await?;
    }
    Ok(Student { token: student.token, cookie, batch })
}

/// The quantities that a class asks for: no two requests of a round ask for the same.
const QUANTITIES: usize = 97;

impl Class {
    /// For each student one request, sent over and over.
    fn each(&self, path: impl Fn(&Student) -> String) -> Vec<Vec<Vec<u8>>> {
        let get = |student: &Student| vec![http::get(self.address, &path(student), &student.token)];
        self.students.iter().map(get).collect()
    }

    /// The recipe in the formula's own quantity.
    pub(crate) fn own_quantity(&self) -> Vec<Vec<Vec<u8>>> {
        self.each(|_| self.recipe())
    }

    /// The recipe with its explanations and the date of a day of making: what its page shows.
    pub(crate) fn explained(&self) -> Vec<Vec<Vec<u8>>> {
        self.each(|_| format!("{}?explain=true&made_on=2026-11-29", self.recipe()))
    }

    /// Each student's own batch record with its explanations: what the bench shows.
    pub(crate) fn explained_records(&self) -> Vec<Vec<Vec<u8>>> {
        self.each(|student| format!("/v1/batches/{}?explain=true", student.batch))
    }

    /// The page of the recipe in the formula's own quantity.
    pub(crate) fn recipe_pages(&self) -> Vec<Vec<Vec<u8>>> {
        self.each_page(|_| format!("/revisions/{}/recipe?way=own", self.revision))
    }

    /// Each student's bench, with the next act.
    pub(crate) fn benches(&self) -> Vec<Vec<Vec<u8>>> {
        self.each_page(|student| format!("/batches/{}/bench", student.batch))
    }

    fn each_page(&self, path: impl Fn(&Student) -> String) -> Vec<Vec<Vec<u8>>> {
        let get = |student: &Student| vec![http::page(self.address, &path(student), &student.cookie)];
        self.students.iter().map(get).collect()
    }

    /// The address of the recipe.
    pub(crate) fn recipe(&self) -> String {
        format!("/v1/revisions/{}/recipe", self.revision)
    }

    /// The token of the first student.
    pub(crate) fn token(&self) -> &str {
        self.students.first().map_or("", |student| student.token.as_str())
    }

    /// The recipe for jars, with a loss, on a balance: each student asks for other quantities all the time.
    pub(crate) fn asked_quantities(&self) -> Vec<Vec<Vec<u8>>> {
        let asks = |(seat, student): (usize, &Student)| {
            let ask = |n: usize| {
                let (jars, tenths) = (2 + (seat * 7 + n) % 60, 200 + (seat * 31 + n * 13) % 400);
                let fill = format!("{}.{}", tenths / 10, tenths % 10);
                let path = format!(
                    "{}?containers={jars}&fill={fill}%20g&transfer_loss=4%20%25&readability=0.1%20g",
                    self.recipe()
                );
                http::get(self.address, &path, &student.token)
            };
            (0..QUANTITIES).map(ask).collect()
        };
        self.students.iter().enumerate().map(asks).collect()
    }

    /// The first page of formulas.
    pub(crate) fn list(&self) -> Vec<Vec<Vec<u8>>> {
        self.each(|_| LIST.to_owned())
    }

    /// The formula with its revisions.
    pub(crate) fn formula(&self) -> Vec<Vec<Vec<u8>>> {
        self.each(|_| format!("/v1/formulas/{}", self.formula))
    }

    /// The caution set.
    pub(crate) fn cautions(&self) -> Vec<Vec<Vec<u8>>> {
        self.each(|_| format!("/v1/revisions/{}/cautions", self.revision))
    }

    /// Each student's own batch record.
    pub(crate) fn records(&self) -> Vec<Vec<Vec<u8>>> {
        self.each(|student| format!("/v1/batches/{}", student.batch))
    }

    /// What is asked with the tag of what is there already.
    pub(crate) async fn unchanged(&self, path: &str) -> Result<Vec<Vec<Vec<u8>>>> {
        let mut connection = Connection::open(self.address).await?;
        let tag = connection.tag(&http::get(self.address, path, self.token())).await?;
        let ask = |student: &Student| vec![http::get_if_changed(self.address, path, &student.token, &tag)];
        Ok(self.students.iter().map(ask).collect())
    }

    /// A weighing by each of so many students into their own record.
    pub(crate) fn weighings(&self, writers: usize) -> Vec<Vec<Vec<u8>>> {
        let body = json!({ "kind": "weighing", "line": "1.1", "quantity": "168.7 g", "lot": "IO-7", "reason_later": true });
        let weigh = |student: &Student| {
            let path = format!("/v1/batches/{}/entries", student.batch);
            vec![http::create(self.address, &path, &student.token, http::EACH_ITS_OWN, &body)]
        };
        self.students.iter().take(writers).map(weigh).collect()
    }
}
