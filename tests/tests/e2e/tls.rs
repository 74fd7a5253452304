//! TLS with certificate files, spoken by a client that is not ours (rustls), with a certificate made for the test.

use std::{
    fs,
    io::{Read, Write},
    net::{SocketAddr, TcpStream},
    path::Path,
    sync::Arc,
};

use rustls::{
    ClientConfig, ClientConnection, RootCertStore, StreamOwned,
    crypto::aws_lc_rs,
    pki_types::{CertificateDer, ServerName},
};
use sellion_rules::roles::Role;
use sellion_tests::harness::{Client, Hospital, PASSWORD};
use sellion_web::Tls;
use serde_json::json;

struct Files {
    _folder: tempfile::TempDir,
    tls: Tls,
    certificate: CertificateDer<'static>,
}

fn write(path: &Path, text: &str) {
    fs::write(path, text).unwrap();
}

/// A certificate for `localhost` that vouches for itself.
fn files() -> Files {
    let folder = tempfile::tempdir().unwrap();
    let made = rcgen::generate_simple_self_signed(vec!["localhost".to_owned()]).unwrap();
    let tls = Tls { certificate: folder.path().join("certificate.pem"), key: folder.path().join("key.pem") };
    write(&tls.certificate, &made.cert.pem());
    write(&tls.key, &made.signing_key.serialize_pem());
    Files { certificate: made.cert.der().clone(), tls, _folder: folder }
}

/// Sends one request over TLS and returns all that came back.
fn ask(address: SocketAddr, trusted: CertificateDer<'static>, request: &str) -> String {
    let mut roots = RootCertStore::empty();
    roots.add(trusted).unwrap();
    let config = ClientConfig::builder_with_provider(Arc::new(aws_lc_rs::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    let name = ServerName::try_from("localhost").unwrap();
    let connection = ClientConnection::new(Arc::new(config), name).unwrap();
    let mut stream = StreamOwned::new(connection, TcpStream::connect(address).unwrap());
    stream.write_all(request.as_bytes()).unwrap();
    let mut answer = String::new();
    // A server that closes without the farewell of TLS has still said everything.
    let _ = stream.read_to_string(&mut answer);
    answer
}

#[test]
fn a_server_with_a_certificate_speaks_tls_and_lets_the_cookie_travel_by_it_only() {
    let hospital = Hospital::open();
    let files = files();
    let server = hospital.tls_server(files.tls.clone());
    let username = hospital.db_user(hospital.site_id, &[Role::Tester]);
    let body = json!({ "username": username, "password": PASSWORD }).to_string();
    let request = format!(
        "POST /api/v1/sessions HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\n\
         content-type: application/json\r\ncontent-length: {}\r\n\r\n{body}",
        body.len()
    );
    let answer = ask(server.address(), files.certificate, &request);
    assert!(answer.starts_with("HTTP/1.1 201"), "{answer}");
    let cookie = answer.lines().find(|line| line.to_lowercase().starts_with("set-cookie")).unwrap();
    assert!(cookie.contains("Secure") && cookie.contains("HttpOnly"), "{cookie}");

    // The same port takes nothing in clear.
    let mut plain = TcpStream::connect(server.address()).unwrap();
    plain.write_all(b"GET /health/live HTTP/1.1\r\nhost: localhost\r\n\r\n").unwrap();
    let mut answer = Vec::new();
    let _ = plain.read_to_end(&mut answer);
    assert!(!answer.starts_with(b"HTTP/1.1 200"), "{}", String::from_utf8_lossy(&answer));
}

#[test]
fn whoever_asks_without_tls_is_sent_on_when_reading_and_refused_otherwise() {
    let hospital = Hospital::open();
    let server = hospital.tls_server(files().tls);
    let browser = Client::without_following(server.redirect_base());
    let reply = browser.get("/screens/check-in?x=1");
    assert_eq!(reply.status, 308, "RFC 9110 s.15.4.9");
    let port = server.address().port();
    let expected = format!("https://127.0.0.1:{port}/screens/check-in?x=1");
    assert_eq!(reply.header("location"), Some(expected.as_str()));
    let reply = browser.post("/api/v1/sessions", &json!({ "username": "ada", "password": "in clear" }));
    assert_eq!(reply.status, 403);
    assert_eq!(reply.json()["code"], "tls_required");
}

#[test]
fn files_that_cannot_serve_are_told_at_the_start() {
    let hospital = Hospital::open();
    let (good, other) = (files(), files());
    let missing = Tls { certificate: "nowhere.pem".into(), ..good.tls.clone() };
    let swapped = Tls { key: good.tls.certificate.clone(), ..good.tls.clone() };
    let strange = Tls { key: other.tls.key.clone(), ..good.tls.clone() };
    for (tls, expected) in [
        (missing, "nowhere.pem cannot be read"),
        (swapped, "holds no private key"),
        (strange, "does not belong to the certificate"),
    ] {
        let error = hospital.refused_tls(tls);
        assert!(error.contains(expected), "{error}");
    }
}
