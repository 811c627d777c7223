//! Whom a TLS connection trusts.

use std::fs;
use std::path::Path;
use std::sync::Arc;

use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};

/// Makes TLS that trusts the authorities in a PEM file, or with none those that vouch for web servers.
///
/// # Errors
/// The file cannot be read or has no certificate in it; in words that name it.
pub fn trusting(authorities: Option<&Path>) -> Result<ClientConfig, String> {
    let mut roots = RootCertStore { roots: webpki_roots::TLS_SERVER_ROOTS.to_vec() };
    if let Some(file) = authorities {
        let failed = |why: String| format!("the authorities in {}: {why}", file.display());
        let text = fs::read(file).map_err(|error| failed(error.to_string()))?;
        roots = RootCertStore::empty();
        for certificate in CertificateDer::pem_slice_iter(&text) {
            let certificate = certificate.map_err(|error| failed(error.to_string()))?;
            roots.add(certificate).map_err(|error| failed(error.to_string()))?;
        }
        if roots.is_empty() {
            return Err(failed("there is no certificate in it; give a PEM file".to_owned()));
        }
    }
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let versions = ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions();
    let versions = versions.map_err(|error| error.to_string())?;
    Ok(versions.with_root_certificates(roots).with_no_client_auth())
}
