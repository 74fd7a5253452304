//! The installation's secret: one random value, from which every other key is derived.

use std::{fs, io::Write, os::unix::fs::OpenOptionsExt, path::Path};

use anyhow::{Context, bail};
use sha2::{Digest, Sha256};

/// Bytes of randomness in a secret.
const LENGTH: usize = 32;

/// A secret that never prints itself.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret([u8; LENGTH]);

impl std::fmt::Debug for Secret {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("Secret(..)")
    }
}

impl Secret {
    /// A new random secret.
    pub fn generate() -> anyhow::Result<Self> {
        let mut bytes = [0; LENGTH];
        getrandom::fill(&mut bytes).map_err(|error| anyhow::anyhow!("no randomness: {error}"))?;
        Ok(Self(bytes))
    }

    /// Reads a secret as 64 hexadecimal digits.
    pub fn from_hex(text: &str) -> anyhow::Result<Self> {
        let text = text.trim();
        if text.len() != 2 * LENGTH || !text.is_ascii() {
            bail!("a secret is {} hexadecimal digits", 2 * LENGTH);
        }
        let mut bytes = [0; LENGTH];
        for (byte, pair) in bytes.iter_mut().zip(text.as_bytes().chunks(2)) {
            let pair = std::str::from_utf8(pair)?;
            *byte = u8::from_str_radix(pair, 16).context("a secret holds hexadecimal digits only")?;
        }
        Ok(Self(bytes))
    }

    /// Reads the secret from a file, or makes the file when there is none.
    ///
    /// A file that others may read is refused: it would let them sign badges.
    pub fn from_file(path: &Path) -> anyhow::Result<Self> {
        match fs::read_to_string(path) {
            Ok(text) => {
                use std::os::unix::fs::PermissionsExt;
                let mode = fs::metadata(path)?.permissions().mode();
                if mode & 0o077 != 0 {
                    bail!("others may read {}: run `chmod 600` on it", path.display());
                }
                Self::from_hex(&text).with_context(|| format!("{} holds no secret", path.display()))
            }
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Self::create(path),
            Err(error) => Err(error).with_context(|| format!("{} cannot be read", path.display())),
        }
    }

    fn create(path: &Path) -> anyhow::Result<Self> {
        let secret = Self::generate()?;
        let hex: String = secret.0.iter().map(|byte| format!("{byte:02x}")).collect();
        let mut file = fs::OpenOptions::new()
            .write(true)
            .create_new(true)
            .mode(0o600)
            .open(path)
            .with_context(|| format!("{} cannot be made", path.display()))?;
        writeln!(file, "{hex}")?;
        file.sync_all()?;
        Ok(secret)
    }

    /// A key for one purpose. Keys of different purposes tell nothing about each other.
    #[must_use]
    pub fn key_for(&self, purpose: &str) -> [u8; 32] {
        Sha256::new()
            .chain_update(self.0)
            .chain_update([0])
            .chain_update(purpose.as_bytes())
            .finalize()
            .into()
    }
}
