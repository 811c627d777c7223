//! A device that was let in: where its server is, its own secret, the shop's key. And the questions by which it gets there.
//!
//! Refuses to know where this is kept; whoever keeps it keeps it as a secret.

use crate::exchange::{Question, Trouble};
use crate::pairing::PairingCode;
use book::{DeviceId, Key, bytes_from_hex};
use core::fmt;
use serde::{Deserialize, Serialize};
use serde_json::json;
use zeroize::Zeroize;

/// What a device that was let in keeps.
#[derive(Clone, PartialEq, Eq)]
pub struct Member {
    /// The server's address, such as `https://shop.example`.
    pub server: String,
    /// Its role there, as a word.
    pub role: String,
    /// Its own secret.
    pub secret: [u8; 32],
    /// The shop's key.
    pub shop: Key,
}

impl Drop for Member {
    fn drop(&mut self) {
        self.secret.zeroize();
    }
}

impl fmt::Debug for Member {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Member({}, {})", self.server, self.role)
    }
}

/// As it is kept.
#[derive(Serialize, Deserialize)]
struct Kept {
    server: String,
    role: String,
    secret: String,
    shop: String,
}

impl Member {
    /// Writes it down.
    #[must_use]
    pub fn to_text(&self) -> String {
        let hex = |bytes: &[u8; 32]| base16ct::lower::encode_string(bytes);
        let (server, role) = (self.server.clone(), self.role.clone());
        let kept = Kept { server, role, secret: hex(&self.secret), shop: hex(self.shop.bytes()) };
        // Four texts always have a text.
        serde_json::to_string(&kept).unwrap_or_default()
    }

    /// Reads it; `None` if it is no such text.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let kept: Kept = serde_json::from_str(text).ok()?;
        let (secret, shop) = (bytes_from_hex(&kept.secret)?, Key::from_random(bytes_from_hex(&kept.shop)?));
        Some(Self { server: kept.server, role: kept.role, secret, shop })
    }

    /// What is shown with every question, as the value of `authorization`.
    #[must_use]
    pub fn shown(&self, device: DeviceId) -> String {
        format!("Bearer {device}.{}", base16ct::lower::encode_string(&self.secret))
    }

    /// Asks the server to await a new device of a role under a fresh code. The nonce must be fresh.
    #[must_use]
    pub fn await_question(&self, code: &PairingCode, role: &str, nonce: [u8; 24]) -> Option<Question> {
        let sealed = base16ct::lower::encode_string(&code.seal(&self.shop, nonce)?);
        let locator = base16ct::lower::encode_string(&code.locator());
        let body = json!({ "role": role, "locator": locator, "sealed": sealed }).to_string().into_bytes();
        Some(Question { path: "devices/1/await".to_owned(), body })
    }
}

/// Asks which devices were let in.
#[must_use]
pub fn devices_question() -> Question {
    Question { path: "devices/1/list".to_owned(), body: Vec::new() }
}

/// Asks who saw and changed what.
#[must_use]
pub fn seen_question() -> Question {
    Question { path: "devices/1/seen".to_owned(), body: Vec::new() }
}

/// Has a device shut out, by its name in the book.
#[must_use]
pub fn revoke_question(device: &str) -> Question {
    let body = json!({ "device": device }).to_string().into_bytes();
    Question { path: "devices/1/revoke".to_owned(), body }
}

/// A device that is being let in.
#[derive(Clone, PartialEq, Eq)]
pub struct Newcomer {
    /// The server's address as typed.
    server: String,
    code: PairingCode,
    secret: [u8; 32],
}

impl fmt::Debug for Newcomer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Newcomer({})", self.server)
    }
}

impl Newcomer {
    /// Takes the server's address and the code as typed, and a fresh secret of its own.
    ///
    /// # Errors
    /// In words: an address that is none or speaks no TLS, or a letter that no code has.
    pub fn new(server: &str, code: &str, secret: [u8; 32]) -> Result<Self, String> {
        let server = server.trim().trim_end_matches('/');
        let own = ["http://127.0.0.1", "http://localhost", "http://[::1]"];
        let safe = server.starts_with("https://") || own.iter().any(|start| is_at(server, start));
        if !safe || server.contains(char::is_whitespace) {
            return Err(format!("`{server}` is no address to trust; write it as `https://NAME`"));
        }
        let code = PairingCode::read(code).map_err(|bad| bad.to_string())?;
        Ok(Self { server: server.to_owned(), code, secret })
    }

    /// The server's address.
    #[must_use]
    pub fn server(&self) -> &str {
        &self.server
    }

    /// Asks to be let in under a name that people know the device by.
    #[must_use]
    pub fn question(&self, device: DeviceId, name: &str) -> Question {
        let hex = base16ct::lower::encode_string;
        let (locator, secret) = (hex(&self.code.locator()), hex(&self.secret));
        let body = json!({ "locator": locator, "device": device, "name": name, "secret": secret });
        Question { path: "devices/1/pair".to_owned(), body: body.to_string().into_bytes() }
    }

    /// Hears that it is let in. The first device of a shop gets no key and makes the `fresh` one the shop's.
    ///
    /// # Errors
    /// [`Trouble::Unreadable`] if the answer is none, or its key does not open with the code.
    pub fn heard(self, answer: &[u8], fresh: Key) -> Result<Member, Trouble> {
        #[derive(Deserialize)]
        struct LetIn {
            role: String,
            sealed: String,
        }
        let said: LetIn = serde_json::from_slice(answer).map_err(|_| Trouble::Unreadable)?;
        let shop = if said.sealed.is_empty() {
            fresh
        } else {
            let sealed = base16ct::lower::decode_vec(&said.sealed).map_err(|_| Trouble::Unreadable)?;
            self.code.open(&sealed).ok_or(Trouble::Unreadable)?
        };
        Ok(Member { server: self.server, role: said.role, secret: self.secret, shop })
    }
}

/// The address is that one, with or without a port.
fn is_at(server: &str, start: &str) -> bool {
    server.strip_prefix(start).is_some_and(|rest| rest.is_empty() || rest.starts_with(':'))
}
