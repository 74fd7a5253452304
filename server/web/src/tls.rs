//! TLS by certificate files, and the plain address that only leads on to the encrypted one.

use std::{path::PathBuf, sync::Arc};

use actix_web::{
    App, HttpRequest, HttpResponse, HttpServer,
    http::{Method, header},
    middleware::from_fn,
    web::{self, Data},
};
use anyhow::Context;
use rustls::{
    ServerConfig,
    crypto::aws_lc_rs,
    pki_types::{CertificateDer, PrivateKeyDer, pem::PemObject},
};
use sellion_rules::refusal::{Code, Refusal};
use std::net::SocketAddr;

use crate::{envelope, problem::Problem};

/// The files by which the server proves who it is.
#[derive(Debug, Clone)]
pub struct Tls {
    /// The certificate and, below it, those that vouch for it, as PEM.
    pub certificate: PathBuf,
    /// Its private key, as PEM.
    pub key: PathBuf,
}

impl Tls {
    /// What the listener needs; every mistake in the files is told now.
    pub(crate) fn read(&self) -> anyhow::Result<ServerConfig> {
        let (certificate, key) = (self.certificate.display(), self.key.display());
        let chain = CertificateDer::pem_file_iter(&self.certificate)
            .with_context(|| format!("the certificate {certificate} cannot be read"))?
            .collect::<Result<Vec<_>, _>>()
            .with_context(|| format!("{certificate} holds something that is no certificate in PEM"))?;
        anyhow::ensure!(!chain.is_empty(), "{certificate} holds no certificate in PEM");
        let private = PrivateKeyDer::from_pem_file(&self.key)
            .with_context(|| format!("{key} is not there, or holds no private key in PEM"))?;
        ServerConfig::builder_with_provider(Arc::new(aws_lc_rs::default_provider()))
            .with_safe_default_protocol_versions()
            .context("TLS cannot be set up")?
            .with_no_client_auth()
            .with_single_cert(chain, private)
            .with_context(|| format!("the key {key} does not belong to the certificate {certificate}"))
    }
}

/// Listens without TLS and sends browsers on; what was not only read is refused, because it has travelled in clear.
pub(crate) fn redirect(
    from: SocketAddr,
    to_port: u16,
) -> anyhow::Result<(SocketAddr, actix_web::dev::Server)> {
    let server = HttpServer::new(move || {
        App::new()
            .app_data(Data::new(to_port))
            .default_service(web::to(lead_on))
            .wrap(from_fn(envelope::around))
    })
    .workers(1)
    .disable_signals()
    .bind(from)
    .with_context(|| format!("cannot listen on {from}: is another server running there?"))?;
    let address = *server.addrs().first().context("nothing listens for those to send on")?;
    Ok((address, server.run()))
}

async fn lead_on(request: HttpRequest, to_port: Data<u16>) -> Result<HttpResponse, Problem> {
    if request.method() != Method::GET {
        let sentence = "This address takes nothing: use the one that begins with https.";
        return Err(Refusal::new(Code::TlsRequired, sentence).into());
    }
    let info = request.connection_info();
    let to = format!("https://{}{}", authority(info.host(), **to_port), request.uri());
    Ok(HttpResponse::PermanentRedirect().insert_header((header::LOCATION, to)).finish())
}

/// The host that was asked, with the port where TLS is spoken.
fn authority(host: &str, port: u16) -> String {
    // The brackets of an IPv6 address hold colons that begin no port.
    let name = match host.rsplit_once(':') {
        Some((name, digits)) if digits.bytes().all(|byte| byte.is_ascii_digit()) => name,
        _ => host,
    };
    if port == 443 { name.to_owned() } else { format!("{name}:{port}") }
}

#[cfg(test)]
mod tests {
    use super::authority;

    #[test]
    fn the_way_on_keeps_the_name_and_changes_the_port() {
        assert_eq!(authority("sellion.example:8710", 8711), "sellion.example:8711");
        assert_eq!(authority("sellion.example", 443), "sellion.example");
        assert_eq!(authority("[::1]:80", 8711), "[::1]:8711");
        assert_eq!(authority("[::1]", 443), "[::1]");
    }
}
