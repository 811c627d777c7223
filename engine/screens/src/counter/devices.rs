//! The shop's server and its devices: letting this one in, exchanging, letting others in and shutting them out, and the words
//! that unlock what is kept here. What needs a network or a cipher is asked of the shell; what came of it is handed in.

use crate::screen::{Field, Fields, Setting};
use book::DeviceId;
use call::Refused;

/// What the shell knows of the server and of this device.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sharing {
    /// Where the app came from: where its server most likely is.
    pub origin: String,
    /// The server's address and this device's role there, once it was let in.
    pub member: Option<(String, String)>,
    /// What came of the last exchange or question, in words.
    pub said: Option<String>,
    /// A code that lets one more device in.
    pub code: Option<String>,
    /// The devices that were let in, as the server listed them last.
    pub devices: Vec<DeviceLine>,
    /// Words are asked for before anything kept here can be read.
    pub unlock_set: bool,
    /// What came of the last trial of the place that keeps the book.
    pub trial: Option<String>,
}

/// A device as the server lists it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeviceLine {
    /// Its name in the book.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Its role.
    pub role: String,
    /// It was shut out.
    pub shut_out: bool,
}

/// What the shell is asked to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ShareAsk {
    /// Have this device let in.
    Pair {
        /// The server's address.
        server: String,
        /// The code as typed.
        code: String,
        /// What people call this device.
        name: String,
    },
    /// Exchange the book.
    Exchange,
    /// Await a new device of this role.
    Await(String),
    /// List the devices.
    Devices,
    /// Shut a device out.
    Revoke(String),
    /// Try whether the place that keeps the book keeps what it is told to.
    Trial,
    /// Ask for these words from now on before anything kept here can be read; none for no words.
    Unlock(String),
}

/// What was typed so far.
#[derive(Debug, Default)]
pub(super) struct Draft {
    code: String,
    name: String,
}

/// Least letters of the words that unlock.
const LEAST_WORDS: usize = 6;

fn field(id: &str, say: &str, value: &str, note: &str, set: Setting) -> Field {
    Field::new(id, say, value.to_owned(), note, set)
}

/// Gives the fields.
pub(super) fn fields(draft: &Draft, of: &Sharing, own: DeviceId) -> Vec<Fields> {
    let mut groups = match &of.member {
        None => vec![let_in(draft, of)],
        Some((server, role)) => member(server, role, of, own),
    };
    let note = "asked for when the app is opened; whoever finds the phone reads nothing of the book without them. Nobody \
                can bring them back: a phone whose words are lost is let in anew, and fetches the book from the server.";
    let say = if of.unlock_set { "other words, or none" } else { "words that unlock this phone" };
    groups.push(Fields {
        title: "What keeps the book".to_owned(),
        note: of.trial.clone(),
        fields: vec![field("trial", "try whether this phone keeps what it is told to", "", "", Setting::Act)],
    });
    groups.push(Fields {
        title: "Unlock".to_owned(),
        note: Some(note.to_owned()),
        fields: vec![field(
            "unlock",
            say,
            "",
            if of.unlock_set { "some are set" } else { "six letters or more" },
            Setting::Words,
        )],
    });
    groups
}

fn let_in(draft: &Draft, of: &Sharing) -> Fields {
    let fields = vec![
        // A page speaks to the address it came from and to no other.
        field("server", "its address", &of.origin, "where this app came from", Setting::Shown),
        field(
            "code",
            "the code",
            &draft.code,
            "shown on a device of the shop, or by the server for the first",
            Setting::Words,
        ),
        field("name", "what this phone is called", &draft.name, "such as Kim's phone", Setting::Words),
        field("pair", "let this phone in", "", "", Setting::Act),
    ];
    let note = of.said.clone().unwrap_or_else(|| {
        "With a server of the shop's own every phone holds the same book. Until then nothing leaves this phone."
            .to_owned()
    });
    Fields { title: "The shop's server".to_owned(), note: Some(note), fields }
}

fn member(server: &str, role: &str, of: &Sharing, own: DeviceId) -> Vec<Fields> {
    let note = of.said.clone().unwrap_or_else(|| "not exchanged since the app was opened".to_owned());
    let mut groups = vec![Fields {
        title: "The shop's server".to_owned(),
        note: Some(note),
        fields: vec![field("exchange", "exchange now", "", &format!("{server}, as {role}"), Setting::Act)],
    }];
    let admits: &[&str] = match role {
        "owner" => &["technician", "office", "owner"],
        "office" => &["technician"],
        _ => &[],
    };
    if !admits.is_empty() {
        let awaits = |role: &&str| {
            field(&format!("await/{role}"), &format!("a code for a new phone: {role}"), "", "", Setting::Act)
        };
        // The code stands first and by itself: it is read off this screen letter by letter.
        let code = of.code.as_ref().map(|code| {
            let note = "type this on the new phone within ten minutes; it works once; show it to nobody else";
            field("new-code", code, "", note, Setting::Shown)
        });
        let fields = code.into_iter().chain(admits.iter().map(awaits)).collect();
        groups.push(Fields { title: "Let a phone in".to_owned(), note: None, fields });
    }
    let mut fields = vec![field("devices", "list the devices", "", "", Setting::Act)];
    fields.extend(of.devices.iter().map(|line| {
        let (say, own) = (format!("{}, {}", line.name, line.role), line.id == own.to_string());
        if own || line.shut_out || !admits.contains(&line.role.as_str()) {
            let standing = if line.shut_out { "shut out" } else { "in" };
            let standing = if own { "this phone" } else { standing };
            field(&format!("device/{}", line.id), &say, standing, "", Setting::Shown)
        } else {
            field(&format!("revoke/{}", line.id), &format!("shut out: {say}"), "", "a lost phone", Setting::Act)
        }
    }));
    groups.push(Fields { title: "Devices".to_owned(), note: None, fields });
    groups
}

/// Takes what was typed; gives what the shell is to do, if anything.
pub(super) fn set(draft: &mut Draft, of: &Sharing, id: &str, value: &str) -> Result<Option<ShareAsk>, Refused> {
    let value = value.trim();
    match id {
        "code" => value.clone_into(&mut draft.code),
        "name" => value.clone_into(&mut draft.name),
        "pair" => {
            let server = of.origin.clone();
            let name = if draft.name.is_empty() { "a phone".to_owned() } else { draft.name.clone() };
            // Said here, where the letter can be looked at, before anything is sent.
            sync::Newcomer::new(&server, &draft.code, [0; 32]).map_err(|say| Refused::new(say, "look once more"))?;
            return Ok(Some(ShareAsk::Pair { server, code: core::mem::take(&mut draft.code), name }));
        }
        "exchange" => return Ok(Some(ShareAsk::Exchange)),
        "devices" => return Ok(Some(ShareAsk::Devices)),
        "trial" => return Ok(Some(ShareAsk::Trial)),
        "unlock" => {
            if !value.is_empty() && value.chars().count() < LEAST_WORDS {
                return Err(Refused::new("these words are too short", "take six letters or more, or none"));
            }
            return Ok(Some(ShareAsk::Unlock(value.to_owned())));
        }
        _ => {
            let unknown = || Refused::new(format!("there is no `{id}` here"), "take one that is listed");
            return match id.split_once('/') {
                Some(("await", role)) => Ok(Some(ShareAsk::Await(role.to_owned()))),
                Some(("revoke", device)) => Ok(Some(ShareAsk::Revoke(device.to_owned()))),
                _ => Err(unknown()),
            };
        }
    }
    Ok(None)
}
