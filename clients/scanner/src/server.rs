//! The server, as a gate calls it: a pack to fetch, scans to deliver.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::time::Duration;

use anyhow::{Context as _, bail, ensure};
use chrono::{DateTime, Utc};
use sellion_badge::KeyRing;
use serde_json::{Value, json};
use ureq::Agent;
use ureq::http::{Response, header};
use ureq::tls::{PemItem, RootCerts, TlsConfig, parse_pem};
use uuid::Uuid;

use crate::queue::{Scan, What};

/// The header in which the server says that a pack is current.
const CURRENT: &str = "sellion-pack-current";
/// A server that does not answer in this time is as good as none: the gate goes on alone.
const CONNECT: Duration = Duration::from_secs(3);
/// A pack of a hundred thousand badges comes over a slow line in this time.
const WHOLE: Duration = Duration::from_secs(60);
/// A scan's answer.
const SCAN: Duration = Duration::from_secs(10);
/// The longest pack that is taken.
const PACK_MAX: u64 = 256 << 20;

/// A token with which a gate signs in. Shown nowhere.
#[derive(Clone)]
pub struct Token(String);

impl Token {
    /// The token in a text, as somebody stored it.
    ///
    /// # Errors
    /// There is none in it.
    pub fn of(text: &str) -> anyhow::Result<Self> {
        let token = text.trim();
        let plain = !token.is_empty() && token.bytes().all(|byte| byte.is_ascii_graphic());
        ensure!(
            plain,
            "there is no device token in it: store what the server showed when the device was added"
        );
        Ok(Self(token.to_owned()))
    }

    /// The token in a file that nobody but its owner can read.
    ///
    /// # Errors
    /// The file is not there, is open to others, or holds no token.
    pub fn read(path: &Path) -> anyhow::Result<Self> {
        let shown = path.display();
        let text = fs::read_to_string(path).with_context(|| format!("cannot read the token file {shown}"))?;
        let mode = fs::metadata(path)?.permissions().mode();
        ensure!(mode & 0o077 == 0, "others can read the token file {shown}: chmod 600 {shown}");
        Self::of(&text).with_context(|| format!("the token file {shown}"))
    }
}

/// What came of asking for a pack.
#[derive(Debug)]
pub enum Fetched {
    /// The pack held is current.
    Same {
        /// The server's word for it.
        current: String,
    },
    /// Another pack.
    New {
        /// The pack.
        text: String,
        /// The server's word that it is current.
        current: String,
    },
}

/// What came of delivering a scan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// The server has it.
    Stored,
    /// The server will never take it.
    Refused(String),
}

/// The server.
#[derive(Clone)]
pub struct Server {
    agent: Agent,
    base: String,
    token: Token,
}

impl Server {
    /// A server by its address.
    ///
    /// # Errors
    /// The address is none, or the file with the hospital's own certificate authority cannot be read.
    pub fn at(base: &str, token: Token, authority: Option<&Path>) -> anyhow::Result<Self> {
        let base = base.trim_end_matches('/').to_owned();
        let is_address = base.starts_with("http://") || base.starts_with("https://");
        ensure!(is_address, "the server's address begins with https:// (or http://): {base}");
        let agent = Agent::config_builder()
            .http_status_as_error(false)
            .timeout_connect(Some(CONNECT))
            .tls_config(tls(authority)?)
            .build()
            .new_agent();
        Ok(Self { agent, base, token })
    }

    /// Asks for the gate's pack; `content` is what the pack held says.
    ///
    /// # Errors
    /// The server is not reached, or refuses.
    pub fn fetch(&self, content: Option<&str>) -> anyhow::Result<Fetched> {
        let mut request = self.get("/api/v1/gate_pack");
        if let Some(content) = content {
            request = request.header(header::IF_NONE_MATCH, format!("\"{content}\""));
        }
        let mut response = request.call().with_context(|| format!("{} does not answer", self.base))?;
        let current =
            response.headers().get(CURRENT).and_then(|value| value.to_str().ok()).map(str::to_owned);
        match response.status().as_u16() {
            200 => {
                let text = response.body_mut().with_config().limit(PACK_MAX).read_to_string();
                let text = text.context("the pack did not come whole")?;
                Ok(Fetched::New { text, current: current.context(not_ours())? })
            }
            304 => Ok(Fetched::Same { current: current.context(not_ours())? }),
            _ => bail!("the server gives no pack: {}", problem(&mut response)),
        }
    }

    /// The keys that the server publishes.
    ///
    /// # Errors
    /// The server is not reached, or publishes none.
    pub fn keys(&self) -> anyhow::Result<KeyRing> {
        let mut response = self
            .get("/.well-known/jwks.json")
            .call()
            .with_context(|| format!("{} does not answer", self.base))?;
        let text = response.body_mut().read_to_string().context("the keys did not come whole")?;
        KeyRing::from_jwks(&text).context("what the server publishes as its keys is none")
    }

    /// Delivers a scan.
    ///
    /// # Errors
    /// The server is not reached, has no time, or does not know this device: try again later.
    pub fn deliver(&self, gate: Uuid, scan: &Scan, happened_at: DateTime<Utc>) -> anyhow::Result<Outcome> {
        let mut response = self
            .agent
            .post(format!("{}/api/v1/gates/{gate}/scans", self.base))
            .config()
            .timeout_global(Some(SCAN))
            .build()
            .header(header::AUTHORIZATION, self.bearer())
            .send_json(body(scan, happened_at))
            .with_context(|| format!("{} does not answer", self.base))?;
        match response.status().as_u16() {
            200 | 201 => Ok(Outcome::Stored),
            // What is wrong with the scan itself will be wrong tomorrow.
            400 | 409 | 422 => Ok(Outcome::Refused(code(&mut response))),
            _ => bail!("the server does not take scans now: {}", problem(&mut response)),
        }
    }

    fn get(&self, path: &str) -> ureq::RequestBuilder<ureq::typestate::WithoutBody> {
        self.agent
            .get(format!("{}{path}", self.base))
            .config()
            .timeout_global(Some(WHOLE))
            .build()
            .header(header::AUTHORIZATION, self.bearer())
    }

    fn bearer(&self) -> String {
        format!("Bearer {}", self.token.0)
    }
}

/// Trust in the usual authorities, or in those of a file alone.
fn tls(authority: Option<&Path>) -> anyhow::Result<TlsConfig> {
    let Some(path) = authority else { return Ok(TlsConfig::default()) };
    let shown = path.display();
    let text = fs::read(path).with_context(|| format!("cannot read the certificates in {shown}"))?;
    let mut certificates = Vec::new();
    for item in parse_pem(&text) {
        if let PemItem::Certificate(certificate) = item.with_context(|| format!("{shown} is no PEM"))? {
            certificates.push(certificate);
        }
    }
    ensure!(!certificates.is_empty(), "there is no certificate in {shown}");
    Ok(TlsConfig::builder().root_certs(RootCerts::new_with_certs(&certificates)).build())
}

/// The scan as the server takes it: with the answer that was given.
fn body(scan: &Scan, happened_at: DateTime<Utc>) -> Value {
    let mut body = json!({
        "id": scan.id,
        "happened_at": happened_at,
        "given": { "answer": scan.answer, "known_at": scan.known_at, "clock_showed": scan.read_at.wall },
    });
    match &scan.what {
        What::Code(text) => body["code"] = json!(text),
        What::Serial(text) => body["serial"] = json!(text),
    }
    body
}

fn not_ours() -> &'static str {
    "the answer carries no word that the pack is current: this is no Sellion server, or an older one"
}

/// What the server says is wrong (RFC 9457), in one line.
fn problem(response: &mut Response<ureq::Body>) -> String {
    let status = response.status();
    let told: Option<Value> = response.body_mut().read_json().ok();
    let detail = told.as_ref().and_then(|told| told["detail"].as_str()).unwrap_or_default();
    let hint = match status.as_u16() {
        401 => " The device token has ended or was taken away: have the device added anew.",
        403 => " The token is not one of a gate.",
        _ => "",
    };
    format!("{status} {detail}{hint}")
}

fn code(response: &mut Response<ureq::Body>) -> String {
    let told: Option<Value> = response.body_mut().read_json().ok();
    let code = told.as_ref().and_then(|told| told["code"].as_str());
    code.unwrap_or("refused").to_owned()
}
