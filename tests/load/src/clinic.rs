//! The clinic that is read from: its students sign in, a recipe that is open to one of them, and the long list.

use std::io::{Error, Result};
use std::net::SocketAddr;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::http::{self, Connection};

/// Somebody with a password, out of what the demo printed.
pub(crate) struct Account {
    name: String,
    password: String,
}

/// The demo's accounts, out of lines with a name, a role and a password: a student who reads, and everybody else.
pub(crate) fn accounts(demo: &str) -> Option<(Account, Vec<Account>)> {
    let mut reader = None;
    let mut others = Vec::new();
    for line in demo.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        let [name, role @ ("student" | "instructor" | "administrator"), password] = words.as_slice() else {
            continue;
        };
        let account = Account { name: (*name).to_owned(), password: (*password).to_owned() };
        if *role == "student" && reader.is_none() {
            reader = Some(account);
        } else {
            others.push(account);
        }
    }
    Some((reader?, others)).filter(|(_, others)| !others.is_empty())
}

impl Account {
    /// The request that signs this account in.
    pub(crate) fn sign_in(&self, address: SocketAddr) -> Vec<u8> {
        let body = json!({ "sign_in_name": self.name, "password": self.password });
        http::post(address, "/v1/sessions", &body)
    }
}

/// Sends one request and reads the JSON of its answer, if that has the status.
async fn ask(connection: &mut Connection, request: &[u8], expected: u16) -> Result<Option<Value>> {
    let answer = connection.exchange(request).await?;
    if answer.status != expected {
        return Ok(None);
    }
    Ok(Some(serde_json::from_slice(answer.body)?))
}

/// Signs an account in `times` times, one session each; answers the access tokens.
pub(crate) async fn tokens(address: SocketAddr, account: &Account, times: usize) -> Result<Vec<String>> {
    let mut connection = Connection::open(address).await?;
    let mut tokens = Vec::new();
    for _ in 0..times {
        let opened = ask(&mut connection, &account.sign_in(address), 201).await?;
        let token = opened.as_ref().and_then(|opened| opened["access_token"].as_str());
        tokens.push(token.ok_or_else(|| Error::other("a student could not sign in"))?.to_owned());
    }
    Ok(tokens)
}

/// The address of the first recipe in the list that is open to a token, with its length in bytes.
pub(crate) async fn open_recipe(address: SocketAddr, token: &str) -> Result<(String, usize)> {
    let mut connection = Connection::open(address).await?;
    let list = ask(&mut connection, &http::get(address, "/v1/formulas?limit=100", token), 200).await?;
    let revisions = list.as_ref().and_then(|list| list["items"].as_array()).into_iter().flatten();
    for revision in revisions.filter_map(|formula| formula["approved_revision"].as_str()) {
        let path = format!("/v1/revisions/{revision}/recipe");
        let answer = connection.exchange(&http::get(address, &path, token)).await?;
        if answer.status == 200 {
            return Ok((path, answer.body.len()));
        }
    }
    Err(Error::other("no recipe in the list is open to the student"))
}

/// The bytes of a recipe, to see that two services answer the same.
pub(crate) async fn bytes(address: SocketAddr, path: &str, token: &str) -> Result<Vec<u8>> {
    let mut connection = Connection::open(address).await?;
    Ok(connection.exchange(&http::get(address, path, token)).await?.body.to_vec())
}

/// How long the first and a deep page take, by turns on one connection: (first, deep).
///
/// # Errors
/// When the list ends before the deep page.
pub(crate) async fn pages(
    address: SocketAddr,
    token: &str,
    deep: usize,
    times: usize,
) -> Result<Vec<(Duration, Duration)>> {
    let mut connection = Connection::open(address).await?;
    let mut path = "/v1/formulas".to_owned();
    let first = http::get(address, &path, token);
    for _ in 1..deep {
        let page = ask(&mut connection, &http::get(address, &path, token), 200).await?;
        let next = page.as_ref().and_then(|page| page["next"].as_str());
        path = format!("/v1/formulas?after={}", next.ok_or_else(|| Error::other("the list is too short"))?);
    }
    let deep = http::get(address, &path, token);
    let mut taken = Vec::new();
    for _ in 0..times {
        let mut each = [Duration::ZERO; 2];
        for (request, taken) in [&first, &deep].into_iter().zip(&mut each) {
            let begun = Instant::now();
            if connection.exchange(request).await?.status != 200 {
                return Err(Error::other("a page was refused"));
            }
            *taken = begun.elapsed();
        }
        taken.push((each[0], each[1]));
    }
    Ok(taken)
}

/// How long a search for a misspelt name takes among the materials, in seconds, each time it is asked.
pub(crate) async fn searches(address: SocketAddr, token: &str, times: usize) -> Result<Vec<f64>> {
    let mut connection = Connection::open(address).await?;
    let request = http::get(address, "/v1/materials?search=calandula%20oficinalis", token);
    let found = ask(&mut connection, &request, 200).await?;
    if found.as_ref().and_then(|found| found["items"].as_array()).is_none_or(Vec::is_empty) {
        return Err(Error::other("the search found nothing"));
    }
    let mut taken = Vec::new();
    for _ in 0..times {
        let begun = Instant::now();
        if connection.exchange(&request).await?.status != 200 {
            return Err(Error::other("a search was refused"));
        }
        taken.push(begun.elapsed().as_secs_f64());
    }
    Ok(taken)
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_student_reads_and_everybody_else_signs_in() {
        let demo = "Demo accounts (shown once):\n  a.b  administrator  x-1\n  c.d  student  y-2\n  e.f  student  z-3\n";
        let (reader, others) = super::accounts(demo).unwrap();
        assert_eq!((reader.name.as_str(), reader.password.as_str()), ("c.d", "y-2"));
        assert_eq!(others.iter().map(|one| one.name.as_str()).collect::<Vec<_>>(), ["a.b", "e.f"]);
        assert!(super::accounts("nothing").is_none());
    }
}
