//! One actor who calls the server.

use std::time::Duration;

use serde_json::{Value, json};
use ureq::{Agent, Body, http::Response};

use super::{examples, operations};

/// Longer than the server may take to say that it is busy.
const PATIENCE: Duration = Duration::from_secs(60);

/// Somebody who calls the server, signed in or not. Every answer that is a failure is checked to be problem
/// details with a code that its operation declares.
#[derive(Clone)]
pub struct Client {
    pub(super) base: String,
    agent: Agent,
    pub(super) headers: Vec<(String, String)>,
}

/// What came back.
#[derive(Debug)]
pub struct Reply {
    /// The HTTP status.
    pub status: u16,
    /// The headers, names in lower case.
    pub headers: Vec<(String, String)>,
    /// The body as it came.
    pub body: Vec<u8>,
}

impl Client {
    /// Nobody in particular.
    #[must_use]
    pub fn new(base: String) -> Self {
        Self::with_redirects(base, 10)
    }

    /// Nobody in particular, who looks at where they are sent on to instead of going there.
    #[must_use]
    pub fn without_following(base: String) -> Self {
        Self::with_redirects(base, 0)
    }

    fn with_redirects(base: String, most: u32) -> Self {
        let agent = Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(most)
            .max_redirects_will_error(most > 0)
            .timeout_global(Some(PATIENCE))
            .build()
            .new_agent();
        Self { base, agent, headers: Vec::new() }
    }

    /// The same actor at another server.
    #[must_use]
    pub fn at(&self, base: &str) -> Self {
        Self { base: base.to_owned(), ..self.clone() }
    }

    /// The same actor with one more header on every request.
    #[must_use]
    pub fn with_header(&self, name: &str, value: &str) -> Self {
        let mut other = self.clone();
        other.headers.push((name.to_owned(), value.to_owned()));
        other
    }

    /// A device with its token.
    #[must_use]
    pub fn with_token(&self, token: &str) -> Self {
        self.with_header("authorization", &format!("Bearer {token}"))
    }

    /// Signs in and keeps the cookie.
    #[must_use]
    pub fn sign_in(&self, username: &str, password: &str) -> Self {
        let reply = self.post("/api/v1/sessions", &json!({ "username": username, "password": password }));
        assert_eq!(reply.status, 201, "signing in: {}", reply.text());
        let cookie = reply.header("set-cookie").expect("a cookie");
        let pair = cookie.split(';').next().unwrap_or_default().to_owned();
        self.with_header("cookie", &pair)
    }

    /// GET.
    pub fn get(&self, path: &str) -> Reply {
        self.send("GET", path, &[], None)
    }

    /// DELETE.
    pub fn delete(&self, path: &str) -> Reply {
        self.send("DELETE", path, &[], None)
    }

    /// POST of JSON.
    pub fn post(&self, path: &str, body: &Value) -> Reply {
        self.send("POST", path, &[("content-type", "application/json")], Some(body.to_string().as_bytes()))
    }

    /// PATCH of JSON on top of a version.
    pub fn patch(&self, path: &str, version: i64, body: &Value) -> Reply {
        let version = format!("\"{version}\"");
        let headers = [("content-type", "application/json"), ("if-match", version.as_str())];
        self.send("PATCH", path, &headers, Some(body.to_string().as_bytes()))
    }

    /// Any request at all.
    pub fn send(&self, method: &str, path: &str, headers: &[(&str, &str)], body: Option<&[u8]>) -> Reply {
        self.try_send(method, path, headers, body).unwrap_or_else(|error| panic!("{method} {path}: {error}"))
    }

    /// POST of JSON to a server that may be gone; nothing when it is.
    #[must_use]
    pub fn try_post(&self, path: &str, body: &Value) -> Option<Reply> {
        let headers = [("content-type", "application/json")];
        self.try_send("POST", path, &headers, Some(body.to_string().as_bytes())).ok()
    }

    fn try_send(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<&[u8]>,
    ) -> Result<Reply, ureq::Error> {
        let mut request = ureq::http::Request::builder().method(method).uri(format!("{}{path}", self.base));
        for (name, value) in &self.headers {
            request = request.header(name, value);
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let sent = match body {
            Some(body) => self.agent.run(request.body(body)?),
            None => self.agent.run(request.body(())?),
        };
        let reply = Reply::read(sent?, method, path)?;
        examples::record(method, path, body, &reply);
        Ok(reply)
    }
}

impl Reply {
    fn read(mut response: Response<Body>, method: &str, path: &str) -> Result<Self, ureq::Error> {
        let headers = response
            .headers()
            .iter()
            .map(|(name, value)| {
                (name.as_str().to_owned(), String::from_utf8_lossy(value.as_bytes()).into_owned())
            })
            .collect();
        let endless = response.headers().get("content-type").is_some_and(|kind| kind == "text/event-stream");
        let body = match endless {
            true => super::stream::first_block(response.body_mut().as_reader())?,
            false => response.body_mut().with_config().limit(u64::MAX).read_to_vec()?,
        };
        let reply = Self { status: response.status().as_u16(), headers, body };
        if reply.status >= 400 {
            reply.assert_problem(method, path);
        }
        Ok(reply)
    }

    /// RFC 9457 s.3: nothing but problem details leaves the server on failure, and they say what they must.
    fn assert_problem(&self, method: &str, path: &str) {
        let told = format!("{method} {path}: {} {}", self.status, self.text());
        assert_eq!(self.header("content-type"), Some("application/problem+json"), "{told}");
        let body = self.json();
        assert_eq!(body["status"], u64::from(self.status), "{told}");
        for member in ["type", "title", "detail", "code", "request_id"] {
            assert!(body[member].as_str().is_some_and(|text| !text.is_empty()), "no {member}: {told}");
        }
        assert_eq!(body["request_id"].as_str(), self.header("x-request-id"), "{told}");
        operations::assert_declared(method, path, self);
    }

    /// The first header of this name.
    #[must_use]
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(found, _)| found == name).map(|(_, value)| value.as_str())
    }

    /// The body as text.
    #[must_use]
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The body as JSON.
    #[must_use]
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|error| panic!("no JSON ({error}): {}", self.text()))
    }

    /// The body, when the status is the expected one.
    pub fn ok(self, status: u16) -> Value {
        assert_eq!(self.status, status, "{}", self.text());
        if self.body.is_empty() { Value::Null } else { self.json() }
    }

    /// The problem, when the request was refused with this status and code.
    pub fn refused(self, status: u16, code: &str) -> Value {
        assert_eq!(self.status, status, "expected {code}: {}", self.text());
        let body = self.json();
        assert_eq!(body["code"], code, "{body}");
        body
    }
}
