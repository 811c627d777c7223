//! The checklist as the file writes it.

use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct File {
    pub(super) checklist: u32,
    pub(super) machine: String,
    #[serde(default)]
    #[expect(dead_code, reason = "free text for who reads the file")]
    note: String,
    #[serde(default)]
    pub(super) complaint: Vec<Complaint>,
    #[serde(default)]
    pub(super) step: BTreeMap<String, Step>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Complaint {
    #[expect(dead_code, reason = "for who reads the file")]
    id: String,
    #[expect(dead_code, reason = "for who reads the file")]
    say: String,
    pub(super) when: Vec<Condition>,
    pub(super) start: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Condition {
    pub(super) observe: String,
    pub(super) state: String,
    pub(super) is: Vec<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Step {
    pub(super) read: Option<Read>,
    pub(super) look: Option<String>,
    pub(super) r#try: Option<String>,
    pub(super) repair: Option<String>,
    pub(super) refer: Option<String>,
    #[serde(default)]
    pub(super) go: Vec<Branch>,
    #[serde(rename = "else")]
    pub(super) otherwise: Option<String>,
    pub(super) helped: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Read {
    pub(super) ohms: Option<[String; 2]>,
    pub(super) volts: Option<[String; 2]>,
    pub(super) state: String,
    #[serde(default)]
    pub(super) lift: Vec<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Branch {
    pub(super) above: Option<f64>,
    pub(super) below: Option<f64>,
    pub(super) shows: Option<String>,
    pub(super) observe: Option<String>,
    #[serde(default)]
    pub(super) is: Vec<String>,
    pub(super) to: String,
}
