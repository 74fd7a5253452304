//! The screens: what `npm run build` made in clients/web, as a part of the program.
//!
//! Files under /assets carry a digest in their name and never change; everything else is asked for again each time.
//! Whoever has an older index asks for parts that are gone: they get a 404, and the screens offer to load the new ones.

use std::{borrow::Cow, sync::OnceLock};

use actix_web::{
    HttpRequest, HttpResponse,
    http::{
        StatusCode,
        header::{self, AcceptEncoding, ContentEncoding, Encoding, Header, HeaderValue},
    },
    web::{Path, ServiceConfig, resource},
};
use rust_embed::RustEmbed;

use crate::words::hex;

/// Debug builds read the folder at run time, so that the screens can be built anew beside a running server.
#[derive(RustEmbed)]
#[folder = "../../clients/web/dist"]
#[allow_missing = true]
struct Files;

const INDEX: &str = "index.html";

/// What pages may load and run: files of this server, and the WebAssembly that reads codes from the camera. No inline
/// script, no third party, and nobody may frame a screen.
const POLICY: &str = "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; \
    img-src 'self' data: blob:; media-src 'self' blob:; font-src 'self'; connect-src 'self'; worker-src 'self'; \
    manifest-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";
/// The camera reads badges; nothing else of the device is needed.
const DEVICE_POLICY: &str = "camera=(self), microphone=(), geolocation=(), payment=(), usb=()";

const FOREVER: &str = "public, max-age=31536000, immutable";
const ASK_AGAIN: &str = "no-cache";

/// What stands at the address of the screens in a program that was built without them.
const MISSING: &str = "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>Sellion</title>\
    <h1>This program was built without its screens</h1>\
    <p>The server and its API work: see <a href=\"/docs/\">/docs</a>. For the screens, run <code>npm ci</code> and \
    <code>npm run build</code> in <code>clients/web</code> (Node 20.19 or later), then build the program again.</p></html>\n";

pub(crate) fn configure(config: &mut ServiceConfig) {
    // An address of a screen has no dot in its last part: what has one is a file, and is there or not.
    for path in ["/", "/screens", "/screens/{screen:(?:[^/]*/)*[^/.]*}"] {
        config.service(resource(path).get(index));
    }
    config.service(resource("/assets/{name}").get(asset));
    config.service(resource("/{name:[a-zA-Z0-9_-]+\\.[a-zA-Z0-9_.-]+}").get(file));
}

async fn index(request: HttpRequest) -> HttpResponse {
    match Files::get(INDEX) {
        Some(_) => answer(&request, INDEX, ASK_AGAIN),
        None => HttpResponse::Ok().content_type("text/html; charset=utf-8").body(MISSING),
    }
}

async fn asset(request: HttpRequest, name: Path<String>) -> HttpResponse {
    answer(&request, &format!("assets/{name}"), FOREVER)
}

async fn file(request: HttpRequest, name: Path<String>) -> HttpResponse {
    answer(&request, &name, ASK_AGAIN)
}

/// A file, in the smallest form that the client takes.
fn answer(request: &HttpRequest, name: &str, cache: &'static str) -> HttpResponse {
    let (stored, encoding) = match accepted(request) {
        Some((ending, encoding)) => match Files::get(&format!("{name}{ending}")) {
            Some(stored) => (Some(stored), Some(encoding)),
            None => (Files::get(name), None),
        },
        None => (Files::get(name), None),
    };
    let Some(stored) = stored else { return HttpResponse::NotFound().finish() };
    // Over the bytes that are sent, so each form has a tag of its own (RFC 9110 s.8.8.3.3).
    let tag = format!("\"{}\"", hex(&stored.metadata.sha256_hash()[..16]));
    let unchanged = request.headers().get(header::IF_NONE_MATCH).is_some_and(|tags| {
        tags.to_str().is_ok_and(|tags| tags.split(',').any(|one| one.trim().trim_start_matches("W/") == tag))
    });
    let mut response = HttpResponse::build(if unchanged { StatusCode::NOT_MODIFIED } else { StatusCode::OK });
    response
        .insert_header((header::ETAG, tag))
        .insert_header((header::CACHE_CONTROL, cache))
        .insert_header((header::VARY, "accept-encoding"))
        .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
        .insert_header(("permissions-policy", DEVICE_POLICY))
        .insert_header(("cross-origin-opener-policy", "same-origin"))
        .insert_header(("cross-origin-resource-policy", "same-origin"));
    if unchanged {
        return response.finish();
    }
    if let Some(encoding) = encoding {
        response.insert_header(encoding);
    }
    response.content_type(media_type(name));
    match stored.data {
        Cow::Borrowed(bytes) => response.body(bytes),
        Cow::Owned(bytes) => response.body(bytes),
    }
}

/// The best compressed form that the client takes, with the ending under which it is stored.
fn accepted(request: &HttpRequest) -> Option<(&'static str, ContentEncoding)> {
    let header = AcceptEncoding::parse(request).ok()?;
    let takes = |encoding: &Encoding| header.negotiate([encoding, &Encoding::identity()].into_iter());
    let forms = [
        (Encoding::brotli(), ".br", ContentEncoding::Brotli),
        (Encoding::gzip(), ".gz", ContentEncoding::Gzip),
    ];
    forms
        .into_iter()
        .find(|(encoding, _, _)| takes(encoding).as_ref() == Some(encoding))
        .map(|(_, ending, form)| (ending, form))
}

fn media_type(name: &str) -> &'static str {
    let ending = name.rsplit('.').next().unwrap_or_default();
    match ending {
        "html" => "text/html; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "woff2" => "font/woff2",
        "wasm" => "application/wasm",
        "json" => "application/json",
        "webmanifest" => "application/manifest+json",
        _ => "application/octet-stream",
    }
}

/// Which build of the screens is in the program: the name of its entry, which changes with every part of it. Sent with
/// every answer, so that screens that stayed open learn of a newer build.
pub(crate) fn build() -> Option<HeaderValue> {
    static BUILD: OnceLock<Option<HeaderValue>> = OnceLock::new();
    if cfg!(debug_assertions) {
        // The folder may have been built anew meanwhile.
        return entry();
    }
    BUILD.get_or_init(entry).clone()
}

fn entry() -> Option<HeaderValue> {
    let index = Files::get(INDEX)?;
    let text = std::str::from_utf8(&index.data).ok()?;
    let (_, after) = text.split_once("<script type=\"module\"")?;
    let (_, after) = after.split_once("src=\"/assets/")?;
    HeaderValue::from_str(after.split_once('"')?.0).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_have_their_media_types() {
        // IANA's registry of media types; RFC 9239 for JavaScript.
        assert_eq!(media_type("assets/index-abc.js"), "text/javascript; charset=utf-8");
        assert_eq!(media_type("manifest.webmanifest"), "application/manifest+json");
        assert_eq!(media_type("assets/reader.wasm"), "application/wasm");
    }
}
