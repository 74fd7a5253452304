//! The screens as the server hands them out. Where they were not built, the page that says so stands in their place.

use std::path::Path;

use sellion_rules::roles::Role;
use sellion_tests::harness::{Client, Hospital};

/// The name of the entry in the built index, or none when the screens were not built.
fn entry() -> Option<String> {
    let index = Path::new(env!("CARGO_MANIFEST_DIR")).join("../clients/web/dist/index.html");
    let text = std::fs::read_to_string(index).ok()?;
    let (_, after) = text.split_once("src=\"/assets/")?;
    after.split_once('"').map(|(name, _)| name.to_owned())
}

fn plain(nobody: &Client, path: &str) -> sellion_tests::harness::Reply {
    nobody.send("GET", path, &[("accept-encoding", "identity")], None)
}

#[test]
fn every_address_of_a_screen_leads_to_the_screens_and_no_other_address_does() {
    let hospital = Hospital::open();
    let nobody = hospital.nobody();
    for path in ["/", "/screens", "/screens/check-in", "/screens/people/019cd6c2-8c00-7000-8000-000000000002"]
    {
        let page = plain(&nobody, path);
        assert_eq!(page.status, 200, "{path}");
        assert_eq!(page.header("content-type"), Some("text/html; charset=utf-8"));
        assert!(page.text().contains("<title>Sellion</title>"), "{path}");
        if entry().is_none() {
            assert!(page.text().contains("npm run build"), "how to get the screens");
        }
    }
    for path in [
        "/api",
        "/api/v1",
        "/api/v1/nothing",
        "/screens/old.js",
        "/assets/gone-abc123.js",
        "/nothing.js",
        "/x",
    ] {
        nobody.get(path).refused(404, "unknown_path");
    }
    for path in ["/assets/..%2f..%2fCargo.toml", "/..%2fpackage.json", "/assets/%2e%2e/index.html"] {
        assert_eq!(nobody.get(path).status, 404, "{path}");
    }
    nobody.post("/", &serde_json::json!({})).refused(405, "method_not_allowed");
}

#[test]
fn built_files_are_kept_for_ever_and_the_index_is_asked_for_each_time() {
    let Some(entry) = entry() else {
        // Without the screens there is nothing to keep; the test above looks at the page in their place.
        return;
    };
    let hospital = Hospital::open();
    let nobody = hospital.nobody();
    let index = plain(&nobody, "/");
    assert_eq!(index.header("cache-control"), Some("no-cache"), "RFC 9111 s.5.2.2.4");
    let policy = index.header("content-security-policy").unwrap().to_owned();
    for part in [
        "default-src 'self'",
        "script-src 'self' 'wasm-unsafe-eval'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    ] {
        assert!(policy.contains(part), "{policy}");
    }
    assert!(!policy.contains("unsafe-inline") && !policy.contains("http"), "{policy}");
    assert_eq!(index.header("x-content-type-options"), Some("nosniff"));
    assert!(index.header("permissions-policy").unwrap().contains("camera=(self)"));

    let tag = index.header("etag").unwrap().to_owned();
    let again = nobody.send("GET", "/", &[("accept-encoding", "identity"), ("if-none-match", &tag)], None);
    assert_eq!((again.status, again.body.len()), (304, 0), "RFC 9110 s.13.1.2");

    let path = format!("/assets/{entry}");
    let whole = plain(&nobody, &path);
    assert_eq!(whole.header("cache-control"), Some("public, max-age=31536000, immutable"), "RFC 8246");
    assert_eq!(whole.header("content-type"), Some("text/javascript; charset=utf-8"), "RFC 9239");
    assert_eq!(whole.header("content-encoding"), None);
    for (accepts, encoding) in [("br, gzip", "br"), ("gzip", "gzip"), ("br;q=0, gzip", "gzip")] {
        let packed = nobody.send("HEAD", &path, &[("accept-encoding", accepts)], None);
        assert_eq!(packed.header("content-encoding"), Some(encoding), "{accepts}: RFC 9110 s.12.5.3");
        assert_eq!(packed.header("vary"), Some("accept-encoding"));
        assert_ne!(packed.header("etag"), whole.header("etag"), "each form has a tag of its own");
    }

    // Every answer names the build, so that screens that stayed open learn of a newer one.
    let session = hospital.signed_in(Role::Tester).get("/api/v1/sessions/current");
    assert_eq!(session.header("sellion-screens"), Some(entry.as_str()));
}
