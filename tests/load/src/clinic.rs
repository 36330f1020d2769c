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

/// The students among the demo's accounts: lines with a name, the role and the password.
pub(crate) fn students(demo: &str) -> Vec<Account> {
    demo.lines()
        .filter_map(|line| match line.split_whitespace().collect::<Vec<_>>().as_slice() {
            [name, "student", password] => {
                Some(Account { name: (*name).to_owned(), password: (*password).to_owned() })
            }
            _ => None,
        })
        .collect()
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
