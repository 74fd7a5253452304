//! One signed-in actor of the demonstration, calling the server over HTTP like any other client.

use std::sync::{
    Arc,
    atomic::{AtomicU64, Ordering},
};

use anyhow::{Context, bail};
use serde_json::{Value, json};
use ureq::Agent;

/// Somebody who calls the server. Every request counts.
#[derive(Clone)]
pub(super) struct Api {
    base: String,
    agent: Agent,
    header: Option<(&'static str, String)>,
    /// The version of what is changed.
    version: Option<i64>,
    requests: Arc<AtomicU64>,
}

/// An answer: its status and its body.
pub(super) struct Answer {
    pub(super) status: u16,
    pub(super) body: Vec<u8>,
}

impl Answer {
    /// The body as JSON.
    pub(super) fn json(&self) -> anyhow::Result<Value> {
        serde_json::from_slice(&self.body).context("the server's answer is no JSON")
    }

    /// The code of a refusal; nothing when the request was not refused.
    pub(super) fn refusal(&self) -> Option<String> {
        if self.status < 400 {
            return None;
        }
        self.json().ok()?["code"].as_str().map(str::to_owned)
    }
}

impl Api {
    pub(super) fn new(base: String) -> Self {
        let agent = Agent::config_builder().http_status_as_error(false).build().new_agent();
        Self { base, agent, header: None, version: None, requests: Arc::default() }
    }

    /// Requests made so far, by this actor and all that came from it.
    pub(super) fn requests(&self) -> u64 {
        self.requests.load(Ordering::Relaxed)
    }

    /// The same server, as somebody who signed in.
    pub(super) fn sign_in(&self, username: &str, password: &str) -> anyhow::Result<Self> {
        let body = json!({ "username": username, "password": password });
        let request = ureq::http::Request::post(format!("{}/api/v1/sessions", self.base))
            .header("content-type", "application/json")
            .body(body.to_string())?;
        self.requests.fetch_add(1, Ordering::Relaxed);
        let response = self.agent.run(request).context("the server does not answer")?;
        let cookie = response.headers().get("set-cookie").and_then(|value| value.to_str().ok());
        let pair = cookie.and_then(|cookie| cookie.split(';').next()).map(str::to_owned);
        let pair = pair.with_context(|| format!("{username} could not sign in ({})", response.status()))?;
        Ok(Self { header: Some(("cookie", pair)), ..self.clone() })
    }

    /// The same server, as a device with its token.
    pub(super) fn with_token(&self, token: &str) -> Self {
        Self { header: Some(("authorization", format!("Bearer {token}"))), ..self.clone() }
    }

    /// GET, expecting success.
    pub(super) fn get(&self, path: &str) -> anyhow::Result<Value> {
        let answer = self.send("GET", path, "application/json", None)?;
        self.expect(path, answer)?.json()
    }

    /// POST, expecting success.
    pub(super) fn post(&self, path: &str, body: &Value) -> anyhow::Result<Value> {
        let answer = self.try_post(path, body)?;
        self.expect(path, answer)?.json()
    }

    /// PATCH of the version that was read, expecting success.
    pub(super) fn patch(&self, path: &str, version: i64, body: &Value) -> anyhow::Result<Value> {
        let with_version = Self { version: Some(version), ..self.clone() };
        let answer =
            with_version.send("PATCH", path, "application/json", Some(body.to_string().as_bytes()))?;
        self.expect(path, answer)?.json()
    }

    /// POST, where a refusal is an answer like any other.
    pub(super) fn try_post(&self, path: &str, body: &Value) -> anyhow::Result<Answer> {
        self.send("POST", path, "application/json", Some(body.to_string().as_bytes()))
    }

    /// POST of something that is not JSON, for something that need not be.
    pub(super) fn post_bytes(&self, path: &str, content_type: &str, body: &[u8]) -> anyhow::Result<Vec<u8>> {
        let answer = self.send("POST", path, content_type, Some(body))?;
        Ok(self.expect(path, answer)?.body)
    }

    /// Every item of a list, page by page.
    pub(super) fn list(&self, path: &str) -> anyhow::Result<Vec<Value>> {
        let mut items = Vec::new();
        let joint = if path.contains('?') { '&' } else { '?' };
        let mut page = self.get(&format!("{path}{joint}limit=500"))?;
        loop {
            if let Some(found) = page["items"].as_array_mut() {
                items.append(found);
            }
            let Some(next) = page["next"].as_str() else { return Ok(items) };
            page = self.get(&format!("{path}{joint}limit=500&cursor={next}"))?;
        }
    }

    fn expect(&self, path: &str, answer: Answer) -> anyhow::Result<Answer> {
        if answer.status >= 400 {
            let words = answer.json().map(|body| body["detail"].to_string()).unwrap_or_default();
            bail!("{path} was refused: {} {words}", answer.refusal().unwrap_or_default());
        }
        Ok(answer)
    }

    fn send(
        &self,
        method: &str,
        path: &str,
        content_type: &str,
        body: Option<&[u8]>,
    ) -> anyhow::Result<Answer> {
        let mut request = ureq::http::Request::builder().method(method).uri(format!("{}{path}", self.base));
        if let Some((name, value)) = &self.header {
            request = request.header(*name, value);
        }
        if let Some(version) = self.version {
            request = request.header("if-match", format!("\"{version}\""));
        }
        self.requests.fetch_add(1, Ordering::Relaxed);
        let sent = match body {
            Some(body) => self.agent.run(request.header("content-type", content_type).body(body)?),
            None => self.agent.run(request.body(())?),
        };
        let mut response = sent.with_context(|| format!("{method} {path}: the server does not answer"))?;
        let status = response.status().as_u16();
        let body = response.body_mut().with_config().limit(u64::MAX).read_to_vec()?;
        Ok(Answer { status, body })
    }
}
